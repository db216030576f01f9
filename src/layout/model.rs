//! The placed diagram. Grid points count in modules of 2.5 mm from the diagram's top left corner, y downwards.

use crate::figure::Figure;
use crate::lettering::Height;
use crate::netlist::{CableId, CoreId, LinkId, TerminalId};
use crate::scene::{Anchor, Point, Rect};

/// A point on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct GridPoint {
    /// To the right.
    pub x: i32,
    /// Downwards.
    pub y: i32,
}

/// A whole diagram.
#[derive(Clone, Debug)]
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

/// A core or link from end to end.
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
}

/// A cable's outline from where the sheath ends to where it ends.
#[derive(Clone, Debug)]
pub struct Sheath {
    /// The cable.
    pub cable: CableId,
    /// The outline, in millimetres.
    pub outline: Rect,
    /// The square label across it, in millimetres; its text is among the labels.
    pub tag: Rect,
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
