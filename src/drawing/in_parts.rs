//! A drawing of several diagrams: an index, with notes and schedule as far as there is room, the diagrams with references
//! between them, then what is left of notes and schedule.

use super::index::{self, Entry};
use super::paper::Paper;
use super::references::References;
use super::sheets::{BETWEEN, GUTTER, Key, Matter, Page, modules, origin};
use super::spots;
use super::table::{self, Table};
use crate::layout::Layout;
use crate::netlist::SheetSize;
use crate::scene::{Group, M, Point, Rect, Sheet};

/// The paper of the diagrams when the job asks for none.
const PAPER: &str = "A3";

/// The paper on which a job is drawn that no single sheet holds.
#[must_use]
pub fn paper(asked: SheetSize) -> Option<Paper> {
    let name = match asked {
        SheetSize::Auto | SheetSize::A3 => PAPER,
        SheetSize::A4 => "A4",
    };
    Paper::standard().find(|paper| paper.name == name)
}

impl Matter<'_> {
    /// The modules to the right and downwards that a sheet offers a diagram.
    fn room(&self, paper: &Paper) -> (i32, i32) {
        modules(self.body(paper))
    }

    /// The same of a paper and all larger ones.
    pub fn rooms(&self, paper: &Paper) -> Vec<(i32, i32)> {
        Paper::standard().skip_while(|p| p.name != paper.name).map(|paper| self.room(&paper)).collect()
    }

    /// The finished sheets of diagrams that belong together, and what could not be done as the job asked.
    pub fn in_parts(&self, paper: &Paper) -> (Vec<Sheet>, Vec<String>) {
        const INDEX: &str = "Index of sheets";
        let kind = self.document_type();
        let papers: Vec<(Paper, Rect)> =
            self.layouts().iter().map(|layout| self.paper_for(layout, paper)).collect();
        let body = self.body(paper);
        // How long the index is does not depend on the numbers that it tells.
        let first = index::pages(&self.entries(1), body).len() + 1;
        let placed: Vec<(usize, &Layout, Point)> = (first..)
            .zip(self.layouts().iter().zip(&papers))
            .map(|(number, (layout, (_, area)))| (number, layout, origin(layout, *area)))
            .collect();
        let references = References::new(papers.iter().map(|(paper, _)| paper).zip(placed.iter().copied()));
        let diagrams: Vec<Group> = placed
            .iter()
            .zip(&papers)
            .map(|((number, layout, _), (paper, area))| {
                let foot = self.foot_groups(paper, kind, (*number, *number));
                self.diagram(layout, *area, &foot, &references)
            })
            .collect();
        let stand = (1..).zip(&papers).zip(&diagrams).map(|((n, (paper, _)), diagram)| {
            (n + first as u32 - 1, paper.size, std::slice::from_ref(diagram))
        });
        let spots = spots::spots_on(self.job(), stand);
        let table = table::table(&table::lines(self.job(), self.circuit(), &spots));
        let mut index = index::pages(&self.entries(first), body);
        let (front, following) = index.pop().map(|page| self.with_index(paper, page, &table)).unzip();
        let following = following.unwrap_or_default();
        let count = first - 1 + diagrams.len() + following.len();
        let mut sheets: Vec<Sheet> = Vec::with_capacity(count);
        for page in index {
            sheets.push(self.bordered(paper, INDEX, (sheets.len() + 1, count), vec![page.group]));
        }
        if let Some((front, content)) = front {
            sheets.push(self.bordered(paper, front, (sheets.len() + 1, count), content));
        }
        for (diagram, (paper, _)) in diagrams.into_iter().zip(&papers) {
            let found = self.found_here(paper, &diagram);
            let content = std::iter::once(diagram).chain(found).collect();
            sheets.push(self.bordered(paper, kind, (sheets.len() + 1, count), content));
        }
        self.follow(&mut sheets, paper, following, count);
        let larger = |(n, (own, _)): (usize, &(Paper, Rect))| {
            (own.name != paper.name).then(|| {
                let sheet = first + n;
                format!(
                    "the diagram of sheet {sheet} does not fit on {}; it is drawn on {}",
                    paper.name, own.name
                )
            })
        };
        let unmet = self.layouts().iter().flat_map(|layout| layout.unmet.iter().cloned());
        let remarks = papers.iter().enumerate().filter_map(larger).chain(unmet).collect();
        (sheets, remarks)
    }

    /// The last page of the index with what else finds room on it, and the pages after the diagrams: few notes stand under
    /// the index, and then the schedule begins beside it.
    fn with_index(
        &self,
        paper: &Paper,
        index: index::Page,
        table: &Table,
    ) -> ((&'static str, Vec<Group>), Vec<Page>) {
        let body = self.body(paper);
        let y = index.end + BETWEEN;
        let whole = Rect { y, h: body.bottom() - y, ..body };
        let left = index.right + GUTTER;
        let narrow = Rect { w: index.right - body.x, ..whole };
        let mut content = vec![index.group];
        let beside = (left + table.width <= body.right()).then(|| self.notes_in(narrow)).flatten();
        if let Some(notes) = beside {
            content.push(notes);
            let mut pages = self.pages(paper, Some(left), None, Some(table)).into_iter();
            content.extend(pages.next().iter().flat_map(Page::groups));
            return (("Index, notes and schedule", content), pages.collect());
        }
        match self.notes_in(whole) {
            Some(notes) => {
                content.push(notes);
                (("Index of sheets and notes", content), self.pages(paper, None, None, Some(table)))
            }
            None => (("Index of sheets", content), self.pages(paper, None, Some(Key::Here), Some(table))),
        }
    }

    /// The paper for a diagram and the room on it: the one given, or a larger one if it has to be.
    fn paper_for(&self, layout: &Layout, paper: &Paper) -> (Paper, Rect) {
        let fits = |paper: &Paper| {
            let room = self.room(paper);
            layout.size.0 <= room.0 && layout.size.1 <= room.1
        };
        let larger = Paper::standard().skip_while(|p| p.name != paper.name).find(fits);
        let own = larger.unwrap_or_else(|| {
            let (_, top) = self.small_foot(paper);
            let foot = paper.size.1 - top;
            Paper::beyond(f64::from(layout.size.0 + 2) * M, f64::from(layout.size.1 + 2) * M + foot)
        });
        let body = self.body(&own);
        (own, body)
    }

    /// What the index says of each diagram, the first of which is on that sheet.
    fn entries(&self, first: usize) -> Vec<Entry> {
        index::entries(self.job(), self.layouts(), first)
    }
}
