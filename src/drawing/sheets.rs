//! Which paper, and what stands where on it.
//!
//! The diagram stands on the first sheet whatever happens; its terminal schedule stands under it or beside it when there
//! is room, else on sheets of its own. The smallest paper that holds everything is taken.

use std::cell::OnceCell;

use super::column::{self, Column, Row};
use super::diagram;
use super::flags;
use super::notes::{self, Flagged, Listed};
use super::paper::Paper;
use super::references::References;
use super::table::{self, Table};
use super::title_block::Block;
use crate::circuit::Circuit;
use crate::layout::Layout;
use crate::netlist::{Job, SheetSize};
use crate::places::Taken;
use crate::scene::{Group, M, Point, Rect, Role, Sheet};
use crate::schedules::Spots;

/// Space between the parts of a sheet.
pub(super) const BETWEEN: f64 = 4.0;
/// Space between two columns.
pub(super) const GUTTER: f64 = 7.0;
/// The narrowest useful column of notes.
const NARROW: f64 = 95.0;
/// The largest share of a sheet's height that notes may take below the diagram.
const MOST_FOOT: f64 = 0.42;
/// So many sizes of paper may hold a whole diagram, up to A2: a larger print is not to be had on site, and sheets of A3
/// with references are read sooner.
const WHOLE: usize = 3;
/// What the foot of a sheet beyond A0 may need.
const FOOT_BEYOND: f64 = 210.0;
/// How often a sheet that is made to measure is made a fifth higher.
const ATTEMPTS: usize = 60;
/// The height of the heading over the schedule.
const HEADING: f64 = 5.0;

/// Everything that the sheets are made from.
pub struct Matter<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    layouts: &'a [Layout],
    /// What each of them takes of a sheet, once that was asked for.
    taken: Vec<OnceCell<Taken>>,
    flagged: Flagged<'a>,
    listed: Vec<Listed<'a>>,
    stamp: Option<String>,
    table: Table,
}

/// The notes at the foot of a sheet.
struct Foot {
    notes: Columns,
    top: f64,
    notes_follow: bool,
}

/// Columns side by side, each with its top left corner.
pub(super) type Columns = Vec<(Point, Column)>;

/// A page of notes and schedule.
#[derive(Default)]
pub struct Page {
    notes: Columns,
    schedule: Columns,
}

impl Page {
    /// The kind of document that it is.
    fn kind(&self) -> &'static str {
        match (self.notes.is_empty(), self.schedule.is_empty()) {
            (_, true) => "Notes",
            (true, false) => "Terminal schedule",
            (false, false) => "Notes and terminal schedule",
        }
    }

    /// What stands on it.
    pub(super) fn groups(&self) -> impl Iterator<Item = Group> {
        let parts = [(Role::Notes, &self.notes), (Role::Table("terminals"), &self.schedule)];
        let filled = parts.into_iter().filter(|(_, columns)| !columns.is_empty());
        filled.map(|(role, columns)| columns_group(role, columns))
    }
}

/// Pages that are filled from the left.
struct Pages {
    body: Rect,
    pages: Vec<Page>,
    /// Where the last of them is free.
    left: f64,
}

impl Pages {
    /// Puts a column beside the one before, or on a new page.
    fn put(&mut self, width: f64, column: Column, of: impl FnOnce(&mut Page) -> &mut Columns) {
        if self.pages.is_empty() || self.left + width > self.body.right() + 0.001 {
            self.pages.push(Page::default());
            self.left = self.body.x;
        }
        if let Some(page) = self.pages.last_mut() {
            of(page).push((Point { x: self.left, y: self.body.y }, column));
        }
        self.left += width + GUTTER;
    }
}

/// Where the colour key stands: with the notes of a following sheet, or on another one.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Key {
    Here,
    Elsewhere,
}

/// The first sheet: where its diagram may stand, and the columns on it.
struct Plan<'a> {
    layout: &'a Layout,
    area: Rect,
    notes: Columns,
    schedule: Option<Columns>,
    /// Whether the notes beyond the cautions have to go to a sheet of their own.
    notes_follow: bool,
}

impl<'a> Matter<'a> {
    /// The matter of a job that was laid out in one or several ways.
    pub fn new(job: &'a Job, circuit: &'a Circuit, layouts: &'a [Layout], flagged: Flagged<'a>) -> Self {
        let table = table::table(&table::lines(job, circuit, &Spots::default()));
        Self {
            job,
            circuit,
            layouts,
            taken: layouts.iter().map(|_| OnceCell::new()).collect(),
            flagged,
            listed: notes::listed(flagged.findings),
            stamp: flagged.stamp(),
            table,
        }
    }

    pub(super) fn job(&self) -> &'a Job {
        self.job
    }

    /// The type of the document that its diagrams are.
    pub(super) fn document_type(&self) -> &'static str {
        self.flagged.by.document_type()
    }

    pub(super) fn circuit(&self) -> &'a Circuit {
        self.circuit
    }

    pub(super) fn layouts(&self) -> &'a [Layout] {
        self.layouts
    }

    /// Whether one sheet that an office printer takes holds everything.
    pub fn fits_on_one(&self) -> bool {
        Paper::standard().take(2).any(|paper| self.plan(&paper, true).is_some())
    }

    /// The finished sheets with the whole diagram on the first, and what could not be done as the job asks; `None` if no
    /// sheet holds it.
    pub fn sheets(&self) -> Option<(Vec<Sheet>, Vec<String>)> {
        let mut tries: Vec<(Paper, bool)> = Vec::new();
        for paper in self.whole_papers() {
            tries.push((paper.clone(), true));
            tries.push((paper, false));
        }
        // A diagram that is small enough for A4 still gets A3 if its schedule then fits beside it.
        if tries.len() > 2 {
            tries.swap(1, 2);
        }
        let found =
            tries.into_iter().find_map(|(paper, together)| Some((self.plan(&paper, together)?, paper)));
        found.map(|(plan, paper)| {
            let unmet = plan.layout.unmet.clone();
            (self.finish(&paper, plan), unmet)
        })
    }

    /// The papers that may hold a whole diagram, smallest first.
    fn whole_papers(&self) -> impl Iterator<Item = Paper> {
        let asked = match self.job.info.sheet {
            SheetSize::Auto => None,
            SheetSize::A4 => Some("A4"),
            SheetSize::A3 => Some("A3"),
        };
        Paper::standard().take(WHOLE).filter(move |paper| asked.is_none_or(|asked| paper.name == asked))
    }

    /// The modules to the right and downwards that a whole diagram may have at most.
    pub fn largest_room(&self) -> Option<(i32, i32)> {
        let paper = self.whole_papers().last()?;
        let foot = self.foot(&paper, true).or_else(|| self.foot(&paper, false))?;
        let room = paper.room();
        Some(modules(Rect { h: foot.top - BETWEEN - room.y, ..room }))
    }

    /// Everything on one sheet: the smallest standard one that holds it, else one made to measure; and what could not be
    /// done as the job asks.
    pub fn one_sheet(&self) -> (Vec<Sheet>, Vec<String>) {
        let Some(layout) = self.layouts.iter().min_by_key(|l| i64::from(l.size.0) * i64::from(l.size.1))
        else {
            return Default::default();
        };
        let (w, h) = diagram_size(layout);
        let heights = std::iter::successors(Some(FOOT_BEYOND), |more| Some(more * 1.2));
        let to_measure = heights.map(|more| Paper::beyond(w, h + more)).take(ATTEMPTS);
        Paper::standard()
            .chain(to_measure)
            .find_map(|paper| {
                let plan = self.plan(&paper, true)?;
                let unmet = plan.layout.unmet.clone();
                Some((self.finish(&paper, plan), unmet))
            })
            .unwrap_or_default()
    }

    /// Everything on one sheet if `together`, else all but the schedule: of the layouts that fit the one with the
    /// least to follow, in the place where it has most room.
    fn plan(&self, paper: &Paper, together: bool) -> Option<Plan<'a>> {
        let room = paper.room();
        let foot =
            self.foot(paper, true).or_else(|| if together { None } else { self.foot(paper, false) })?;
        let above = Rect { h: foot.top - BETWEEN - room.y, ..room };
        if !self.layouts.iter().any(|layout| slack(layout, above).is_some()) {
            return None;
        }
        let mut places: Vec<(Rect, Option<Columns>)> = Vec::new();
        if together {
            places.extend(self.below(above).into_iter().chain(self.beside(above)).map(|(r, c)| (r, Some(c))));
        } else {
            places.push((above, None));
        }
        let fits = self.layouts.iter().flat_map(|layout| {
            places.iter().filter_map(move |place| {
                slack(layout, place.0).map(|(w, h)| {
                    let room = (w / room.w).min(h / room.h);
                    ((layout.followed.effort(), -room), (layout, place))
                })
            })
        });
        let best = fits.min_by(|((a, x), _), ((b, y), _)| a.cmp(b).then(x.total_cmp(y)));
        let (layout, area, schedule) = match best {
            Some((_, (layout, (area, schedule)))) => (layout, *area, schedule.clone()),
            None if together => self.in_a_corner(above)?,
            None => return None,
        };
        Some(Plan { layout, area, schedule, notes: foot.notes, notes_follow: foot.notes_follow })
    }

    /// The schedule in a corner that the diagram leaves empty, and the diagram in the opposite one: of the layouts that
    /// leave such a corner the one that is read best.
    fn in_a_corner(&self, above: Rect) -> Option<(&'a Layout, Rect, Option<Columns>)> {
        let all = self.layouts.iter().zip(&self.taken);
        let fitting = all.filter(|(layout, _)| slack(layout, above).is_some());
        let found = fitting.filter_map(|(layout, taken)| {
            let taken = taken.get_or_init(|| self.taken_by(layout));
            let (area, columns) = self.corner_of(layout, taken, above)?;
            Some((layout, area, Some(columns)))
        });
        found.min_by_key(|(layout, ..)| layout.followed.effort())
    }

    /// What a diagram takes whose top left corner is the origin.
    fn taken_by(&self, layout: &Layout) -> Taken {
        let drawn = diagram::diagram(self.job, layout, Point::default(), &References::default());
        let frames = layout.frames.iter().map(|frame| frame.rect);
        Taken::of(flags::obstacles(&drawn).into_iter().chain(frames))
    }

    fn corner_of(&self, layout: &Layout, taken: &Taken, above: Rect) -> Option<(Rect, Columns)> {
        let (w, h) = diagram_size(layout);
        let table = &self.table;
        let most = ((above.w + GUTTER) / (table.width + GUTTER)).floor() as usize;
        for count in 1..=most {
            let Some(columns) = column::balance(&table.rows, &table.head, count, above.h - HEADING) else {
                continue;
            };
            let width = columns.len() as f64 * (table.width + GUTTER) - GUTTER;
            let height = HEADING + columns.iter().map(|c| column::height(c)).fold(0.0, f64::max);
            for (right, low) in [(true, false), (false, true), (true, true), (false, false)] {
                let x = if right { above.right() - width } else { above.x };
                let y = if low { above.bottom() - height } else { above.y };
                let area = Rect {
                    x: on_grid(if right { above.x } else { above.right() - w - M }),
                    y: on_grid(if low { above.y } else { above.bottom() - h - M }),
                    w,
                    h,
                };
                let block = Rect { x: x - area.x, y: y - area.y, w: width, h: height }.grown(BETWEEN);
                if above.holds(&area) && taken.is_free(block) {
                    return Some((area, self.side_by_side(columns, Point { x, y })));
                }
            }
        }
        None
    }

    /// The schedule in columns across the sheet, under the diagram.
    fn below(&self, above: Rect) -> Option<(Rect, Columns)> {
        let table = &self.table;
        let count = (((above.w + GUTTER) / (table.width + GUTTER)).floor() as usize).max(1);
        let columns = column::balance(&table.rows, &table.head, count, above.h)?;
        let height = HEADING + columns.iter().map(|c| column::height(c)).fold(0.0, f64::max);
        let top = above.bottom() - height;
        let area = Rect { h: top - BETWEEN - above.y, ..above };
        Some((area, self.side_by_side(columns, Point { x: above.x, y: top })))
    }

    /// The schedule in one or more columns at the right of the diagram.
    fn beside(&self, above: Rect) -> Option<(Rect, Columns)> {
        let table = &self.table;
        let columns = column::deal(table.rows.clone(), &table.head, above.h - HEADING);
        if columns.iter().any(|c| column::height(c) > above.h - HEADING + 0.001) {
            return None;
        }
        let width = columns.len() as f64 * (table.width + GUTTER) - GUTTER;
        let area = Rect { w: above.w - width - 2.0 * BETWEEN, ..above };
        Some((area, self.side_by_side(columns, Point { x: above.right() - width, y: above.y })))
    }

    /// Columns of the schedule under their heading.
    fn side_by_side(&self, columns: Vec<Column>, corner: Point) -> Columns {
        let step = self.table.width + GUTTER;
        let place = |(i, mut column): (usize, Column)| {
            let first = if i == 0 { column::heading("Terminal schedule") } else { column::gap(HEADING) };
            column.insert(0, Row { height: HEADING, ..first });
            (Point { x: corner.x + i as f64 * step, y: corner.y }, column)
        };
        columns.into_iter().enumerate().map(place).collect()
    }

    /// What stands at the foot of a sheet beside its title block.
    fn foot(&self, paper: &Paper, all_notes: bool) -> Option<Foot> {
        let room = beside_block(paper);
        let block_height = self.block(paper, "", (1, 1)).draw(Point::default(), title_width(paper)).1.h;
        let (count, each) = note_columns(room);
        let rows = self.note_rows(each, all_notes);
        let most = (room.h * MOST_FOOT).max(block_height);
        let beside = column::deal(rows.clone(), &[], block_height - 2.0).len();
        let columns = column::balance(&rows, &[], beside.min(count), block_height)
            .or_else(|| column::balance(&rows, &[], count, most))?;
        let height = columns.iter().map(|c| column::height(c)).fold(block_height - 2.0, f64::max);
        let top = room.bottom() - 2.0 - height;
        let place = |(i, column)| (Point { x: room.x + i as f64 * (each + GUTTER), y: top }, column);
        let notes = columns.into_iter().enumerate().map(place).collect();
        Some(Foot { notes, top, notes_follow: !all_notes })
    }

    /// The notes under their heading, with or without what may stand on another sheet.
    fn note_rows(&self, width: f64, all: bool) -> Vec<Row> {
        let mut rows = vec![column::heading("Notes")];
        rows.extend(notes::cautions(width));
        if all {
            rows.extend(notes::notes(self.job, self.flagged.by, width));
            rows.extend(self.finding_rows(width));
        } else {
            rows.extend(column::paragraph(
                "More notes and the findings are on the next sheet.",
                false,
                width,
                0.0,
            ));
        }
        rows.extend(self.colour_key(width));
        rows.extend(notes::last_note(self.flagged, width));
        rows
    }

    fn colour_key(&self, width: f64) -> Vec<Row> {
        let leads = self.layouts.iter().flat_map(|layout| &layout.leads);
        notes::colour_key(self.job, leads, width)
    }

    fn finding_rows(&self, width: f64) -> Vec<Row> {
        if self.listed.is_empty() {
            return Vec::new();
        }
        let before = Row { keep: true, ..column::gap(1.4) };
        let mut rows = vec![before, column::heading(self.flagged.head())];
        rows.extend(notes::findings(self.job, self.flagged.by, &self.listed, width));
        rows
    }

    pub(super) fn block<'b>(
        &'b self,
        paper: &'b Paper,
        document_type: &'b str,
        sheet: (usize, usize),
    ) -> Block<'b> {
        Block { info: &self.job.info, document_type, sheet, size: &paper.name, stamp: self.stamp.as_deref() }
    }

    /// Draws what was planned.
    fn finish(&self, paper: &Paper, plan: Plan<'_>) -> Vec<Sheet> {
        let kind = self.document_type();
        let (small, following) = self.following(&plan, paper);
        let count = 1 + following.len();
        let mut first = Vec::new();
        if let Some(schedule) = &plan.schedule {
            first.push(columns_group(Role::Table("terminals"), schedule));
        }
        first.push(columns_group(Role::Notes, &plan.notes));
        first.push(self.block(paper, kind, (1, count)).draw(corner(paper), title_width(paper)).0);
        let diagram = self.diagram(plan.layout, plan.area, &first, &References::default());
        first.push(diagram);
        first.insert(0, paper.border(&first));
        let mut sheets = vec![self.sheet(paper, kind, first)];
        self.follow(&mut sheets, &small, following, count);
        sheets
    }

    /// Adds the pages that follow the diagrams.
    pub(super) fn follow(&self, sheets: &mut Vec<Sheet>, paper: &Paper, following: Vec<Page>, count: usize) {
        for page in following {
            let content = page.groups().collect();
            sheets.push(self.bordered(paper, page.kind(), (sheets.len() + 1, count), content));
        }
    }

    /// A sheet with cautions and title block at its foot.
    pub(super) fn bordered(
        &self,
        paper: &Paper,
        kind: &str,
        number: (usize, usize),
        mut content: Vec<Group>,
    ) -> Sheet {
        content.extend(self.foot_groups(paper, kind, number));
        content.insert(0, paper.border(&content));
        self.sheet(paper, kind, content)
    }

    /// The cautions at the foot of a sheet and its title block.
    pub(super) fn foot_groups(&self, paper: &Paper, kind: &str, number: (usize, usize)) -> [Group; 2] {
        let (foot, _) = self.small_foot(paper);
        let block = self.block(paper, kind, number).draw(corner(paper), title_width(paper)).0;
        [columns_group(Role::Notes, &foot), block]
    }

    /// The pages after the first. Tables are read at the bench: they are A4 if that is enough, and A3 at most.
    fn following(&self, plan: &Plan<'_>, first: &Paper) -> (Paper, Vec<Page>) {
        let smaller = Paper::standard().take_while(|p| p.size.0 <= first.size.0).take(2);
        let table = plan.schedule.is_none().then_some(&self.table);
        let kinds = usize::from(plan.notes_follow) + usize::from(table.is_some());
        let pages = |paper: &Paper| {
            let notes = plan.notes_follow.then_some(Key::Elsewhere);
            self.pages(paper, None, notes, table)
        };
        let mut tried: Vec<(Paper, Vec<Page>)> = smaller.map(|p| (p.clone(), pages(&p))).collect();
        let at = tried.iter().position(|(_, following)| following.len() <= kinds);
        let at = at.unwrap_or(tried.len().saturating_sub(1));
        if at < tried.len() { tried.swap_remove(at) } else { (first.clone(), Vec::new()) }
    }

    /// What cautions and title block leave of a following sheet.
    pub(super) fn body(&self, paper: &Paper) -> Rect {
        let room = paper.room();
        let (_, top) = self.small_foot(paper);
        Rect { h: top - BETWEEN - room.y, ..room }
    }

    /// Notes and schedule on pages of that paper, as far as they do not stand with a diagram: notes, then the schedule,
    /// which takes what the notes leave free. The first page may be another one that is free from there to the right.
    pub(super) fn pages(
        &self,
        paper: &Paper,
        free_from: Option<f64>,
        notes: Option<Key>,
        schedule: Option<&Table>,
    ) -> Vec<Page> {
        let first = free_from.map(|_| Page::default());
        let mut pages = Pages {
            body: self.body(paper),
            pages: first.into_iter().collect(),
            left: free_from.unwrap_or_default(),
        };
        if let Some(key) = notes {
            let (_, width) = note_columns(pages.body);
            for column in column::deal(self.following_notes(width, key), &[], pages.body.h) {
                pages.put(width, column, |page| &mut page.notes);
            }
        }
        if let Some(table) = schedule {
            for column in column::deal(table.rows.clone(), &table.head, pages.body.h) {
                pages.put(table.width, column, |page| &mut page.schedule);
            }
        }
        pages.pages
    }

    /// All that stands on a following sheet in words, in the fewest columns that an area holds; `None` if it holds them not.
    pub(super) fn notes_in(&self, area: Rect) -> Option<Group> {
        notes_in_columns(&self.following_notes(note_columns(area).1, Key::Here), area)
    }

    /// The notes and findings of a following sheet, under their headings.
    fn following_notes(&self, width: f64, key: Key) -> Vec<Row> {
        let mut rows = vec![column::heading("Notes")];
        rows.extend(notes::notes(self.job, self.flagged.by, width));
        rows.extend(self.finding_rows(width));
        if key == Key::Here {
            rows.extend(self.colour_key(width));
        }
        rows
    }

    /// The cautions at the foot of a following sheet, and where they begin.
    pub(super) fn small_foot(&self, paper: &Paper) -> (Columns, f64) {
        let room = beside_block(paper);
        let block_height = self.block(paper, "", (1, 1)).draw(Point::default(), title_width(paper)).1.h;
        let mut rows = notes::cautions(room.w);
        rows.extend(notes::last_note(self.flagged, room.w));
        let height = column::height(&rows).max(block_height - 2.0);
        let top = room.bottom() - 2.0 - height;
        (vec![(Point { x: room.x, y: top }, rows)], top)
    }

    /// The findings whose flags stand in a diagram, as far as there is room for them under the cautions at its foot.
    pub(super) fn found_here(&self, paper: &Paper, diagram: &Group) -> Option<Group> {
        let flagged = |number| diagram.groups().any(|group| group.role == Role::Flag(number));
        let here = self.listed.iter().filter(|l| l.number.is_some_and(flagged));
        let mut here: Vec<Listed> = here.map(|l| Listed { number: l.number, finding: l.finding }).collect();
        let (foot, top) = self.small_foot(paper);
        let above = foot.iter().map(|(_, rows)| column::height(rows)).fold(0.0, f64::max) + HEADING / 2.0;
        let room = beside_block(paper);
        let area = Rect { y: top + above, h: room.bottom() - 2.0 - top - above, ..room };
        let (_, width) = note_columns(area);
        let all = here.len();
        while !here.is_empty() {
            let mut rows = vec![column::heading(self.flagged.head())];
            rows.extend(notes::findings(self.job, self.flagged.by, &here, width));
            if here.len() < all {
                rows.extend(column::paragraph("The others are listed with the index.", false, width, 0.0));
            }
            if let Some(list) = notes_in_columns(&rows, area) {
                return Some(list);
            }
            here.pop();
        }
        None
    }

    /// The diagram in the middle of its area, on the grid, with the flags of the findings, which keep clear of
    /// what stands beside it.
    pub(super) fn diagram(
        &self,
        layout: &Layout,
        area: Rect,
        beside: &[Group],
        references: &References,
    ) -> Group {
        let mut group = diagram::diagram(self.job, layout, origin(layout, area), references);
        flags::place(&mut group, self.job, &self.listed, area, beside);
        group
    }

    pub(super) fn sheet(&self, paper: &Paper, kind: &str, content: Vec<Group>) -> Sheet {
        let info = &self.job.info;
        let number = info.number.as_ref().map(|n| format!("{n}, ")).unwrap_or_default();
        let found = self.stamp.as_ref().map(|s| format!(" {s}.")).unwrap_or_default();
        let (devices, cables) = (self.job.devices.len(), self.job.cables.len());
        Sheet {
            size: paper.size,
            title: format!("{}: {kind}", info.title),
            description: format!("{number}{kind} of {devices} devices and {cables} cables.{found}"),
            content,
        }
    }
}

/// The top left corner of a diagram in the middle of an area, on the grid.
pub(super) fn origin(layout: &Layout, area: Rect) -> Point {
    let (w, h) = slack(layout, area).unwrap_or_default();
    let half = |slack: f64| (slack / 2.0 / M).floor().max(0.0) * M;
    Point { x: on_grid(area.x) + half(w), y: on_grid(area.y) + half(h) }
}

fn diagram_size(layout: &Layout) -> (f64, f64) {
    (f64::from(layout.size.0) * M, f64::from(layout.size.1) * M)
}

/// How much room a diagram leaves in an area, if it fits there on the grid.
fn slack(layout: &Layout, area: Rect) -> Option<(f64, f64)> {
    let (w, h) = diagram_size(layout);
    let slack = (area.right() - on_grid(area.x) - w, area.bottom() - on_grid(area.y) - h);
    (slack.0 >= -0.001 && slack.1 >= -0.001).then_some(slack)
}

/// The whole modules of an area to the right and downwards; one may be lost at its corner, as a diagram stands on the grid.
pub(super) fn modules(area: Rect) -> (i32, i32) {
    let whole = |mm: f64| (mm / M).floor() as i32 - 1;
    (whole(area.w), whole(area.h))
}

/// The next grid line at or after a coordinate.
fn on_grid(v: f64) -> f64 {
    (v / M).ceil() * M
}

/// The width of the title block: at most 180 mm (ISO 7200), on A4 as much as leaves the notes room.
pub(super) fn title_width(paper: &Paper) -> f64 {
    if paper.size.0 < 400.0 { 136.0 } else { 180.0 }
}

/// The lower right corner of the frame, where the title block stands.
pub(super) fn corner(paper: &Paper) -> Point {
    let frame = paper.frame();
    Point { x: frame.right(), y: frame.bottom() }
}

pub(super) fn columns_group(role: Role, columns: &Columns) -> Group {
    let mut group = Group::new(role);
    for (at, column) in columns {
        for shape in column::placed(column, *at) {
            group.shape(shape);
        }
    }
    group
}

/// The room of a sheet left of its title block.
fn beside_block(paper: &Paper) -> Rect {
    let room = paper.room();
    Rect { w: paper.frame().right() - title_width(paper) - BETWEEN - room.x, ..room }
}

/// Rows in the fewest columns of notes that an area holds; `None` if it holds them not.
fn notes_in_columns(rows: &[Row], area: Rect) -> Option<Group> {
    let (most, width) = note_columns(area);
    let columns = (1..=most).find_map(|count| column::balance(rows, &[], count, area.h))?;
    let place = |(i, column)| (Point { x: area.x + i as f64 * (width + GUTTER), y: area.y }, column);
    Some(columns_group(Role::Notes, &columns.into_iter().enumerate().map(place).collect()))
}

/// How many columns of notes an area is wide, and how wide each is.
fn note_columns(area: Rect) -> (usize, f64) {
    let count = (((area.w + GUTTER) / (NARROW + GUTTER)).floor() as usize).max(1);
    (count, (area.w + GUTTER) / count as f64 - GUTTER)
}
