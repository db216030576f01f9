//! A drawing of several diagrams: an index, the diagrams with references between them, then notes and schedule.

use super::index::{self, Entry};
use super::paper::Paper;
use super::references::References;
use super::sheets::{Matter, origin, page_count};
use crate::layout::Layout;
use crate::netlist::SheetSize;
use crate::scene::{M, Point, Rect, Sheet};

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
    pub fn room(&self, paper: &Paper) -> (i32, i32) {
        let body = self.body(paper);
        // The diagram stands on the grid, so that a module may be lost at its corner.
        let modules = |mm: f64| (mm / M).floor() as i32 - 1;
        (modules(body.w), modules(body.h))
    }

    /// The finished sheets of diagrams that belong together, and what could not be done as the job asked.
    pub fn in_parts(&self, paper: &Paper) -> (Vec<Sheet>, Vec<String>) {
        const DIAGRAM: &str = "Connection diagram";
        const INDEX: &str = "Index of sheets";
        let papers: Vec<(Paper, Rect)> =
            self.layouts().iter().map(|layout| self.paper_for(layout, paper)).collect();
        let following = self.pages(paper, true, true, true);
        let body = self.body(paper);
        // The index tells sheet numbers, and how long it is does not depend on them.
        let index_length = index::pages(&self.entries(1), body).len();
        let count = index_length + papers.len() + page_count(&following);
        let placed: Vec<(usize, &Layout, Point)> = self
            .layouts()
            .iter()
            .zip(&papers)
            .enumerate()
            .map(|(n, (layout, (_, area)))| (index_length + n + 1, layout, origin(layout, *area)))
            .collect();
        let zones = papers.iter().zip(&placed).map(|((paper, _), placed)| (paper, *placed));
        let references = References::new(zones);
        let mut sheets: Vec<Sheet> = Vec::with_capacity(count);
        for page in index::pages(&self.entries(index_length + 1), body) {
            sheets.push(self.bordered(paper, INDEX, (sheets.len() + 1, count), vec![page]));
        }
        for (layout, (paper, area)) in self.layouts().iter().zip(&papers) {
            let number = (sheets.len() + 1, count);
            let mut content: Vec<_> = self.foot_groups(paper, DIAGRAM, number).into();
            content.push(self.diagram(layout, *area, &content, &references));
            content.insert(0, paper.border(&content));
            sheets.push(self.sheet(paper, DIAGRAM, content));
        }
        self.follow(&mut sheets, paper, following, count);
        let larger = |(n, (own, _)): (usize, &(Paper, Rect))| {
            (own.name != paper.name).then(|| {
                let sheet = index_length + n + 1;
                format!("the diagram of sheet {sheet} does not fit on {}; it is drawn on {}", paper.name, own.name)
            })
        };
        let remarks = papers.iter().enumerate().filter_map(larger).collect();
        (sheets, remarks)
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
