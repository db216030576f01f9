//! A device as it is drawn: its outline, its terminals as landings in printed order on the sides that were chosen, and
//! inside it the symbols of what lies between them.

use crate::netlist::{DeviceId, TerminalId};
use crate::scene::{Point, Shape};

/// A side of a device's outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// What layout decides about a device before its figure is made: for each of its terminals, in printed order, the side
/// and how many landings it needs (one per conductor, at least one).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sides {
    /// One entry a terminal.
    pub of: Vec<(Side, u32)>,
}

/// A point on the outline where one conductor lands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Landing {
    /// The terminal.
    pub terminal: TerminalId,
    /// The side on which it stands.
    pub side: Side,
    /// From the figure's left edge, in grid modules: 0 or the figure's width.
    pub x: i32,
    /// From the figure's top edge, in grid modules.
    pub y: i32,
}

/// A device as it is drawn, measured from the top left corner of its outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The device.
    pub device: DeviceId,
    /// Width of the outline in grid modules.
    pub w: i32,
    /// Height of the outline in grid modules.
    pub h: i32,
    /// The landings: terminals in printed order on each side from the top, 3 modules from the last landing of one to
    /// the first of the next, the landings of one terminal 2 modules apart.
    pub landings: Vec<Landing>,
    /// Everything drawn inside the outline and below it (symbols, terminal lettering, text, an aerial), in millimetres
    /// from the top left corner; the outline and the landing circles themselves are not among it.
    pub inside: Vec<Shape>,
    /// What stands outside the outline and must be kept free, beside the designation: left, top, right, bottom, in
    /// grid modules. An aerial needs room below.
    pub margin: [i32; 4],
    /// The baseline point of the designation and title above the outline, in millimetres from the top left corner.
    pub title_at: Point,
    /// The width of the designation with its title beside it, in millimetres.
    pub title_width: f64,
}
