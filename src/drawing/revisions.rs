//! Changes on a finished diagram: a cloud round what was changed, a numbered triangle beside it, and the kind of change
//! in words; what was removed stands struck through where it used to land.

use super::Drawing;
use super::flags::{CLEAR, RINGS, free, obstacles};
use super::named::{Named, Part};
use crate::diagnostic::Subject;
use crate::lettering::{self, Height};
use crate::netlist::{CableId, CoreId, DeviceId, Job, TerminalId};
use crate::places::Taken;
use crate::scene::{Anchor, Dash, Fill, Group, Item, Piece, Point, Rect, Role, Shape, Sheet, Text, Width};

/// One change to be shown.
#[derive(Clone, Debug, PartialEq)]
pub struct Revision {
    /// Its number in the list of changes.
    pub number: usize,
    /// `ADDED`, `REMOVED` …
    pub tag: String,
    /// What is written struck through, for a thing that is gone.
    pub struck: Option<String>,
    /// What it is about, or where that used to land; `None` if that is not on the drawing.
    pub subject: Option<Subject>,
    /// The change in a sentence.
    pub text: String,
}

/// The chord of a cloud's arcs.
const ARC: f64 = 3.0;
/// From what is clouded to the cloud.
const AROUND: f64 = 0.6;
/// The side of a triangle.
const SIDE: f64 = 5.2;

/// Puts the changes on the diagrams. Conductors and their labels stay as they are.
pub fn revise(drawing: &mut Drawing, job: &Job, revisions: &[Revision]) {
    for sheet in &mut drawing.sheets {
        revise_sheet(sheet, job, revisions);
    }
}

fn revise_sheet(sheet: &mut Sheet, job: &Job, revisions: &[Revision]) {
    let area = Rect { x: 0.0, y: 0.0, w: sheet.size.0, h: sheet.size.1 }.grown(-10.0);
    let tables: Vec<Rect> = sheet
        .content
        .iter()
        .filter(|group| !matches!(group.role, Role::Diagram | Role::Border))
        .filter_map(bounds)
        .collect();
    let Some(diagram) = sheet.content.iter_mut().find(|group| group.role == Role::Diagram) else { return };
    let named = Named::of(diagram);
    let mut taken = Taken::of(obstacles(diagram).into_iter().chain(tables));
    let mut clouded: Vec<Rect> = Vec::new();
    let mut added = Vec::new();
    for revision in revisions {
        let Some(rect) = revision.subject.and_then(|subject| target(&named, job, subject)) else { continue };
        let cloud = rect.grown(AROUND);
        let mut group = Group::new(Role::Flag(revision.number));
        if !clouded.contains(&cloud) {
            group.shape(outline(cloud));
            clouded.push(cloud);
        }
        let struck = revision.struck.as_deref().unwrap_or_default();
        let tag = lettering::width(&revision.tag, Height::H1_8, true);
        let width = SIDE
            + 1.0
            + tag
            + if struck.is_empty() { 0.0 } else { 1.2 + lettering::width(struck, Height::H1_8, false) };
        let beside = Point { x: cloud.right(), y: cloud.y };
        let around =
            |at: Point| Rect { x: at.x - width / 2.0, y: at.y - SIDE / 2.0, w: width, h: SIDE }.grown(CLEAR);
        if let Some(at) = free(&around, beside, &taken, area, RINGS) {
            label(&mut group, revision, Point { x: at.x - width / 2.0, y: at.y });
            taken.take(Rect { x: at.x - width / 2.0, y: at.y - SIDE / 2.0, w: width, h: SIDE });
        }
        added.push(group);
    }
    diagram.items.extend(added.into_iter().map(Item::Group));
}

/// The triangle with its number, the tag, and what is struck through, from their left end at mid height.
fn label(group: &mut Group, revision: &Revision, at: Point) {
    let base = at.y + SIDE / 2.0;
    let corners = [
        Piece::Move(Point { x: at.x, y: base }),
        Piece::Line(Point { x: at.x + SIDE, y: base }),
        Piece::Line(Point { x: at.x + SIDE / 2.0, y: at.y - SIDE / 2.0 }),
        Piece::Close,
    ];
    group.shape(Shape::Path {
        pieces: corners.to_vec(),
        width: Some(Width::Normal),
        dash: Dash::Solid,
        fill: Fill::White,
    });
    let number = Text::new(&revision.number.to_string(), at.x + SIDE / 2.0, base - 0.6, Height::H1_8);
    group.text(number.bold().anchored(Anchor::Middle));
    let y = at.y + Height::H1_8.mm() / 2.0;
    let tag = Text::new(&revision.tag, at.x + SIDE + 1.0, y, Height::H1_8).bold();
    let after = tag.at.x + tag.width() + 1.2;
    group.text(tag);
    if let Some(struck) = &revision.struck {
        let words = Text::new(struck, after, y, Height::H1_8);
        let right = after + words.width();
        group.text(words);
        group.shape(Shape::line(&[Point { x: after, y: at.y }, Point { x: right, y: at.y }], Width::Normal));
    }
}

/// A cloud: arcs that bulge outwards all round.
fn outline(rect: Rect) -> Shape {
    let corners = [
        Point { x: rect.x, y: rect.y },
        Point { x: rect.right(), y: rect.y },
        Point { x: rect.right(), y: rect.bottom() },
        Point { x: rect.x, y: rect.bottom() },
    ];
    let mut pieces = vec![Piece::Move(corners[0])];
    for (n, from) in corners.iter().enumerate() {
        let to = corners[(n + 1) % corners.len()];
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        let arcs = (dx.hypot(dy) / ARC).round().max(1.0);
        let mut i = 1.0;
        while i <= arcs {
            let share = i / arcs;
            pieces.push(Piece::Arc {
                radius: dx.hypot(dy) / arcs * 0.6,
                large: false,
                clockwise: true,
                to: Point { x: from.x + dx * share, y: from.y + dy * share },
            });
            i += 1.0;
        }
    }
    Shape::Path { pieces, width: Some(Width::Normal), dash: Dash::Solid, fill: Fill::None }
}

/// The box of what a change is about.
fn target(named: &Named<'_>, job: &Job, subject: Subject) -> Option<Rect> {
    match subject {
        Subject::Device(i) => {
            // A cloud round its outline would strike through its title and through the codes of its cores.
            let name = &job.device(DeviceId(i)).name;
            named.find(Part::Label(name)).or_else(|| named.find(Part::Device(name)))
        }
        Subject::Terminal(i) => {
            let terminal = job.terminal(TerminalId(i));
            let owner = &job.device(terminal.device).name;
            let landing = named.find(Part::Landing(owner, &terminal.name));
            landing.or_else(|| target(named, job, Subject::from(terminal.device)))
        }
        Subject::Cable(i) => {
            let name = &job.cable(CableId(i)).name;
            named.find(Part::Label(name)).or_else(|| named.find(Part::Sheath(name)))
        }
        Subject::Core(i) => {
            let core = job.core(CoreId(i));
            let name = format!("{}.{}", job.cable(core.cable).name, core.name);
            named.find(Part::Label(&name)).or_else(|| target(named, job, Subject::from(core.cable)))
        }
    }
}

/// The box around everything in a group.
fn bounds(group: &Group) -> Option<Rect> {
    let own = group.shapes().filter_map(Shape::bounds);
    own.chain(group.groups().filter_map(bounds)).reduce(|a, b| a.with(&b))
}
