//! A device as it is drawn: its outline, its terminals as landings in printed order on the sides that were chosen, and
//! inside it the symbols of what lies between them.
//!
//! [`default_sides`] says where terminals would like to stand, layout decides, [`design`] draws.

mod band;
mod choose;
mod flank;
pub mod graphic;
mod inner;
mod links;
mod pen;
mod point;
mod rows;
mod sides;
mod slots;
mod words;

use std::collections::BTreeMap;

use crate::lettering::{self, Height};
use crate::netlist::{DeviceId, Job, TerminalId};
use crate::scene::{M, Point, Shape};

pub use sides::{Preference, default_sides};

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
///
/// A splice and each way of a strip is one terminal with two sides: it has two entries, left then right, and either
/// may be 0. An aerial lands only as often as it is asked to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sides {
    /// One entry a terminal; two, left then right, a terminal of a splice or strip.
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

/// What a meter shall show at the devices where the circuit is solved: a line each, `V+ to V- reads 12 V`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Readings(pub BTreeMap<DeviceId, Vec<String>>);

impl Readings {
    /// The lines of a device.
    #[must_use]
    pub fn at(&self, device: DeviceId) -> &[String] {
        self.0.get(&device).map_or(&[], Vec::as_slice)
    }
}

/// Makes the figure of a device with its terminals on the sides that layout chose, and the readings to expect in it.
#[must_use]
pub fn design(job: &Job, device: DeviceId, sides: &Sides, readings: &[String]) -> Figure {
    let rows = rows::rows(job, device, sides);
    let inner = inner::inner(job, device, &rows, readings);
    let entry = job.device(device);
    let title_width = title_width(&entry.name, entry.title.as_deref());
    Figure {
        device,
        w: inner.w,
        h: inner.h,
        landings: rows.landings(inner.w),
        inside: inner.pen.shapes(),
        margin: [0, 0, 0, inner.below],
        title_at: Point { x: 0.0, y: -0.5 * M },
        title_width,
    }
}

/// The width of the designation and, beside it, the title, in millimetres.
fn title_width(name: &str, title: Option<&str>) -> f64 {
    let name = lettering::width(name, Height::H3_5, true);
    title.map_or(name, |t| name + M / 2.0 + lettering::width(t, Height::H1_8, false))
}
