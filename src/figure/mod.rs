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
pub use words::listed;

/// A side of a device's outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// What layout decides about a device before its figure is made: for each of its terminals, in printed order, the side
/// and how many landings it needs (one per conductor, at least one where the terminal shall be drawn).
///
/// A splice and each way of a strip is one terminal with two sides: it has two entries, left then right, and either
/// may be 0.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sides {
    /// One entry a terminal; two, left then right, a terminal of a splice or strip.
    pub of: Vec<(Side, u32)>,
    /// Whether the terminals stand from the bottom: a loose part with two leads lies either way up.
    pub upturned: bool,
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
    /// The device; of flags the one whose conductors they bear.
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
    /// The designation.
    pub name: String,
    /// The title beside it.
    pub title: Option<String>,
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
    let title = entry.title.as_deref().filter(|title| !title.trim().is_empty());
    Figure {
        device,
        w: inner.w,
        h: inner.h,
        landings: rows.landings(inner.w),
        inside: inner.pen.shapes(),
        margin: [0, 0, 0, inner.below],
        title_at: Point { x: 0.0, y: -0.5 * M },
        name: entry.name.to_string(),
        title: title.map(str::to_owned),
    }
}

/// Modules from landing to landing where conductors go on to other sheets.
const FLAG_PITCH: i32 = 2;
/// Modules that the flag of such a conductor is long; it holds sheet and zone.
pub const FLAG: i32 = 5;

/// Flags one below the other at which so many conductors end that come from the left and so many from the right.
#[must_use]
pub fn flags(device: DeviceId, left: u32, right: u32) -> Figure {
    let of = |side: Side, count: u32| {
        let x = if side == Side::Left { 0 } else { FLAG };
        let rows = (0..i32::try_from(count).unwrap_or(0)).map(|n| 1 + FLAG_PITCH * n);
        rows.map(move |y| Landing { terminal: TerminalId(0), side, x, y })
    };
    // A flag takes the whole width, so what comes from the right stands below what comes from the left.
    let mut landings: Vec<Landing> = of(Side::Left, left).collect();
    let below = FLAG_PITCH * i32::try_from(left).unwrap_or(0);
    landings.extend(of(Side::Right, right).map(|landing| Landing { y: landing.y + below, ..landing }));
    let last = landings.last().map_or(0, |landing| landing.y);
    Figure {
        device,
        w: FLAG,
        h: last + 1,
        landings,
        inside: Vec::new(),
        margin: [0; 4],
        title_at: Point::default(),
        name: String::new(),
        title: None,
    }
}

impl Figure {
    /// The same for a part of a device, the first of it being number 1; its title says so.
    #[must_use]
    pub fn in_part(mut self, part: Option<(usize, usize)>) -> Self {
        if let Some((number, count)) = part {
            let words = format!("part {number} of {count}");
            self.title = Some(self.title.map_or_else(|| words.clone(), |title| format!("{title}, {words}")));
        }
        self
    }

    /// The width of the designation and, beside it, the title, in millimetres.
    #[must_use]
    pub fn title_width(&self) -> f64 {
        let name = lettering::width(&self.name, Height::H3_5, true);
        self.title.as_ref().map_or(name, |t| name + M / 2.0 + lettering::width(t, Height::H1_8, false))
    }
}
