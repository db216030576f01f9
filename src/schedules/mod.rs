//! Terminal, cable and other tables as data.
//!
//! A schedule is a list of rows first; [`Table`] is the same with columns and cells for whoever writes it out. Rows stand
//! in the order of the job file. Sheet and zone come from a lookup that is handed in, since no drawing is known here.

mod cables;
mod conductors;
mod functions;
mod markers;
mod parts;
mod supplies;
mod table;
mod terminals;

use std::collections::BTreeMap;

use crate::diagnostic::Subject;
use crate::netlist::{DeviceId, TerminalId};

pub use cables::{CableRow, cables};
pub use conductors::Conductors;
pub use markers::{MarkerRow, markers, markers_table};
pub use parts::{ALLOWANCE, PartRow, parts, parts_table};
pub use supplies::{SupplyRow, supplies, supplies_table};
pub use table::{Cell, Column, Table, cables_table, terminals_table};
pub use terminals::{Landing, State, TerminalRow, terminals};

/// Where something stands on the drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// The number of the sheet, from 1.
    pub sheet: u32,
    /// The zone in it, such as `B3`.
    pub zone: String,
}

/// Where devices and cables stand on the drawing; empty when nothing was drawn.
#[derive(Clone, Debug, Default)]
pub struct Spots {
    /// By device, cable, terminal of a part of a device that stands apart from its first part, or core with a loose end.
    pub of: BTreeMap<Subject, Spot>,
}

impl Spots {
    fn get(&self, subject: impl Into<Subject>) -> Option<Spot> {
        self.of.get(&subject.into()).cloned()
    }

    fn of_terminal(&self, terminal: TerminalId, device: DeviceId) -> Option<Spot> {
        self.get(terminal).or_else(|| self.get(device))
    }
}
