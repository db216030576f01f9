//! The placed diagram. Grid points count in modules of 2.5 mm from the diagram's top left corner, y downwards.

use std::cmp::Reverse;

use super::followed::Followed;
use crate::figure::{self, Figure};
use crate::lettering::Height;
use crate::netlist::{CableId, CoreId, End, Job, LinkId, TerminalId};
use crate::scene::{Anchor, M, Point, Rect};

/// A point on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct GridPoint {
    /// To the right.
    pub x: i32,
    /// Downwards.
    pub y: i32,
}

/// A whole diagram.
#[derive(Clone, Debug, Default)]
pub struct Layout {
    /// Width and height of everything in it, labels and frames included, in modules.
    pub size: (i32, i32),
    /// The devices.
    pub devices: Vec<Placed>,
    /// The cores and links.
    pub wires: Vec<Wire>,
    /// The cables.
    pub sheaths: Vec<Sheath>,
    /// Unused flying leads, each a short stub outside its device.
    pub leads: Vec<Lead>,
    /// The frames of the locations, outer before inner.
    pub frames: Vec<Frame>,
    /// Every text outside devices.
    pub labels: Vec<Label>,
    /// What devices asked of the layout and did not get, each in a sentence.
    pub unmet: Vec<String>,
    /// What a reader has to follow in it; a spare core counts no more where it goes on with its sheath.
    pub followed: Followed,
}

impl Layout {
    /// Takes in another diagram, moved by so many modules.
    pub(super) fn take_in(&mut self, other: Self, by: (i32, i32)) {
        let (devices, wires) = (self.devices.len(), self.wires.len());
        let (sheaths, leads, frames) = (self.sheaths.len(), self.leads.len(), self.frames.len());
        let (dx, dy) = (f64::from(by.0) * M, f64::from(by.1) * M);
        let moved = |p: GridPoint| GridPoint { x: p.x + by.0, y: p.y + by.1 };
        self.devices.extend(other.devices.into_iter().map(|d| Placed { at: moved(d.at), ..d }));
        self.wires.extend(other.wires.into_iter().map(|wire| Wire {
            ends: wire.ends.map(|end| match end {
                WireEnd::Landing(device, landing) => WireEnd::Landing(device + devices, landing),
                WireEnd::Loose | WireEnd::Away => end,
            }),
            points: wire.points.into_iter().map(moved).collect(),
            ..wire
        }));
        self.sheaths.extend(other.sheaths.into_iter().map(|sheath| sheath.moved(dx, dy)));
        self.leads.extend(other.leads.into_iter().map(|l| Lead { points: l.points.map(moved), ..l }));
        self.frames.extend(other.frames.into_iter().map(|f| Frame { rect: f.rect.moved(dx, dy), ..f }));
        self.labels.extend(other.labels.into_iter().map(|label| Label {
            of: match label.of {
                LabelOf::Device(i) => LabelOf::Device(i + devices),
                LabelOf::WireEnd(i, e) => LabelOf::WireEnd(i + wires, e),
                LabelOf::LooseEnd(i, e) => LabelOf::LooseEnd(i + wires, e),
                LabelOf::Tag(i) => LabelOf::Tag(i + sheaths),
                LabelOf::MakeUp(i) => LabelOf::MakeUp(i + sheaths),
                LabelOf::Lead(i) => LabelOf::Lead(i + leads),
                LabelOf::Frame(i) => LabelOf::Frame(i + frames),
            },
            at: Point { x: label.at.x + dx, y: label.at.y + dy },
            ink: label.ink.moved(dx, dy),
            ..label
        }));
        self.unmet.extend(other.unmet);
        self.followed = self.followed.with(other.followed);
        self.size = (self.size.0.max(other.size.0 + by.0), self.size.1.max(other.size.1 + by.1));
    }
}

/// A device in its place.
#[derive(Clone, Debug)]
pub struct Placed {
    /// Its drawing.
    pub figure: Figure,
    /// The top left corner of its outline.
    pub at: GridPoint,
}

/// What a wire is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Conductor {
    /// A core of a cable.
    Core(CoreId),
    /// A jumper.
    Link(LinkId),
}

impl Conductor {
    /// Where its two ends go, near end first.
    #[must_use]
    pub fn ends(self, job: &Job) -> [End; 2] {
        match self {
            Self::Core(id) => job.core(id).ends.map(|end| end.to),
            Self::Link(id) => job.links[id.index()].ends.map(End::Terminal),
        }
    }

    /// The terminals beside which its two ends stand: their own. An end that lands nowhere is where its cable ends, at a
    /// terminal of the device on which most cores of the cable land at that end; `None` where none does.
    #[must_use]
    pub(super) fn seats(self, job: &Job) -> [Option<TerminalId>; 2] {
        let mut seats = self.ends(job).map(End::terminal);
        let Self::Core(id) = self else { return seats };
        let cores = || job.cable(job.core(id).cable).cores.iter().map(CoreId);
        for (end, seat) in seats.iter_mut().enumerate().filter(|(_, seat)| seat.is_none()) {
            let landed = || cores().filter_map(|core| job.core(core).ends[end].to.terminal());
            let device = |terminal: TerminalId| job.terminal(terminal).device;
            let beside = |terminal: &TerminalId| landed().filter(|t| device(*t) == device(*terminal)).count();
            *seat = landed().max_by_key(|terminal| (beside(terminal), Reverse(*terminal)));
        }
        seats
    }

    /// The names of its cable and of itself in the file; a link has no cable and bears the names of its terminals.
    #[must_use]
    pub fn names(self, job: &Job) -> (String, String) {
        match self {
            Self::Core(id) => {
                let core = job.core(id);
                (job.cable(core.cable).name.to_string(), core.name.to_string())
            }
            Self::Link(id) => {
                let ends = job.links.get(id.index()).map(|link| link.ends.map(|end| job.written(end)));
                (String::new(), ends.map(|ends| ends.join(" ")).unwrap_or_default())
            }
        }
    }
}

/// A core or link from end to end, or from its end on this sheet to a flag.
#[derive(Clone, Debug)]
pub struct Wire {
    /// What it is.
    pub conductor: Conductor,
    /// Near end and far end.
    pub ends: [WireEnd; 2],
    /// From the near end to the far end; only level and upright pieces.
    pub points: Vec<GridPoint>,
}

/// How a wire ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WireEnd {
    /// On a landing: the index in [`Layout::devices`] and the index in that figure's landings.
    Landing(usize, usize),
    /// With an insulated-end sign or a BARE box beyond its last point.
    Loose,
    /// On a flag: it goes on elsewhere.
    Away,
}

/// Modules that a flag is long.
pub const FLAG: i32 = figure::FLAG;

/// A cable's outline from where the sheath ends to where it ends.
#[derive(Clone, Debug)]
pub struct Sheath {
    /// The cable.
    pub cable: CableId,
    /// Its level part, in millimetres; of no height where the cable has one core.
    pub level: Rect,
    /// The parts with which it goes on round corners from the left and from the right end, outwards, in millimetres. Each
    /// shares the corner with the one before.
    pub legs: [Vec<Rect>; 2],
    /// The square label across it, in millimetres; its text is among the labels.
    pub tag: Rect,
}

impl Sheath {
    /// All its parts from its left end to its right end.
    #[must_use]
    pub fn parts(&self) -> Vec<Rect> {
        let [left, right] = &self.legs;
        left.iter().rev().chain([&self.level]).chain(right).copied().collect()
    }

    /// The line around all of it.
    #[must_use]
    pub fn outline(&self) -> Vec<Point> {
        let parts = self.parts();
        let level = |i: usize| i % 2 == self.legs[0].len() % 2;
        let middle = |r: &Rect| Point { x: f64::midpoint(r.x, r.right()), y: f64::midpoint(r.y, r.bottom()) };
        // Whether a part goes to the right or downwards, from its first end to its last.
        let onwards = |i: usize| {
            let (from, to) = match (parts.get(i + 1), i.checked_sub(1).and_then(|i| parts.get(i))) {
                (Some(next), _) => (&parts[i], next),
                (None, Some(before)) => (before, &parts[i]),
                (None, None) => return true,
            };
            if level(i) { middle(from).x < middle(to).x } else { middle(from).y < middle(to).y }
        };
        // The coordinate of a part's edge that is on the left of its way, or on the right.
        let edge = |i: usize, left: bool| {
            let part = &parts[i];
            match (level(i), onwards(i) == left) {
                (true, true) => part.y,
                (true, false) => part.bottom(),
                (false, true) => part.right(),
                (false, false) => part.x,
            }
        };
        // The coordinate of a part's first or last end.
        let tip = |i: usize, last: bool| {
            let part = &parts[i];
            match (level(i), onwards(i) == last) {
                (true, true) => part.right(),
                (true, false) => part.x,
                (false, true) => part.bottom(),
                (false, false) => part.y,
            }
        };
        let at = |i: usize, along: f64, across: f64| {
            if level(i) { Point { x: along, y: across } } else { Point { x: across, y: along } }
        };
        let last = parts.len() - 1;
        let side = |left: bool| {
            let corners = (0..last).map(move |i| at(i, edge(i + 1, left), edge(i, left)));
            let first = at(0, tip(0, false), edge(0, left));
            [first].into_iter().chain(corners).chain([at(last, tip(last, true), edge(last, left))])
        };
        let back: Vec<Point> = side(false).collect();
        side(true).chain(back.into_iter().rev()).collect()
    }

    /// The same moved.
    pub(super) fn moved(self, dx: f64, dy: f64) -> Self {
        Self {
            level: self.level.moved(dx, dy),
            legs: self.legs.map(|legs| legs.iter().map(|leg| leg.moved(dx, dy)).collect()),
            tag: self.tag.moved(dx, dy),
            ..self
        }
    }
}

/// An unused flying lead.
#[derive(Clone, Debug)]
pub struct Lead {
    /// The terminal.
    pub terminal: TerminalId,
    /// From the landing to the insulated end.
    pub points: [GridPoint; 2],
}

/// The frame of a location.
#[derive(Clone, Debug)]
pub struct Frame {
    /// The location's path.
    pub location: Vec<String>,
    /// The frame, in millimetres.
    pub rect: Rect,
}

/// What a label belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LabelOf {
    /// The designation or title of a device: index in [`Layout::devices`].
    Device(usize),
    /// Code and far end at the near (0) or far (1) end of a wire: index in [`Layout::wires`].
    WireEnd(usize, usize),
    /// The word at a loose end of a wire (`taped`, `BARE`).
    LooseEnd(usize, usize),
    /// A sheath's tag: index in [`Layout::sheaths`].
    Tag(usize),
    /// A sheath's make-up, length or row of codes.
    MakeUp(usize),
    /// The word at an unused lead: index in [`Layout::leads`].
    Lead(usize),
    /// A frame's name: index in [`Layout::frames`].
    Frame(usize),
}

/// A text outside devices.
#[derive(Clone, Debug)]
pub struct Label {
    /// The words.
    pub text: String,
    /// What it belongs to.
    pub of: LabelOf,
    /// Baseline point, in millimetres.
    pub at: Point,
    /// Where the text hangs on it.
    pub anchor: Anchor,
    /// The height of a capital.
    pub height: Height,
    /// Bold.
    pub bold: bool,
    /// Turned a quarter to the left.
    pub upright: bool,
    /// The box of its ink, or of its frame if it has one, in millimetres.
    pub ink: Rect,
}
