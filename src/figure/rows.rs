//! The landings of a device: which terminal stands on which side in which row.

use super::{Landing, Side, Sides};
use crate::netlist::{DeviceId, Form, Job, TerminalId};

/// Modules from the top of the outline to the first landing.
const TOP: i32 = 2;
/// Modules from the last landing of a terminal to the first of the next.
const PITCH: i32 = 3;
/// Modules between the landings of one terminal.
const AGAIN: i32 = 2;

/// A terminal on a side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Row {
    pub terminal: TerminalId,
    pub side: Side,
    /// The row of the first landing, in modules from the top of the outline.
    pub first: i32,
    /// The row of the last landing.
    pub last: i32,
}

impl Row {
    /// The rows of its landings.
    pub fn landings(&self) -> impl Iterator<Item = i32> + use<> {
        (self.first..=self.last).step_by(AGAIN as usize)
    }
}

/// All terminals of a device that land, side by side in printed order.
#[derive(Clone, Debug)]
pub(super) struct Rows {
    pub form: Form,
    pub rows: Vec<Row>,
}

/// Stands the terminals in rows.
pub(super) fn rows(job: &Job, device: DeviceId, sides: &Sides) -> Rows {
    let entry = job.device(device);
    let mut rows = Vec::new();
    let terminals = entry.terminals.iter().map(TerminalId);
    match entry.form {
        Form::Box => {
            let mut next = [TOP; 2];
            let mut landed: Vec<_> = terminals.zip(&sides.of).collect();
            if sides.upturned {
                landed.reverse();
            }
            for (terminal, (side, count)) in landed {
                if *count == 0 {
                    continue;
                }
                let first = next[*side as usize];
                let last = first + AGAIN * extra(*count);
                next[*side as usize] = last + PITCH;
                rows.push(Row { terminal, side: *side, first, last });
            }
        }
        Form::Splice | Form::Strip => {
            // A way keeps one row on both sides, so its deeper side pushes the next way down.
            let mut next = if entry.form == Form::Splice { 1 } else { TOP };
            for (terminal, both) in terminals.zip(sides.of.chunks(2)) {
                if both.iter().all(|(_, count)| *count == 0) {
                    continue;
                }
                let first = next;
                for (side, count) in both {
                    let last = first + AGAIN * extra(*count);
                    next = next.max(last + PITCH);
                    if *count > 0 {
                        rows.push(Row { terminal, side: *side, first, last });
                    }
                }
            }
        }
    }
    Rows { form: entry.form, rows }
}

/// Landings beyond the first.
fn extra(count: u32) -> i32 {
    i32::try_from(count.saturating_sub(1)).unwrap_or(i32::MAX / 8)
}

impl Rows {
    /// The landings, for an outline of that width.
    pub fn landings(&self, w: i32) -> Vec<Landing> {
        let mut landings = Vec::new();
        for row in &self.rows {
            let x = if row.side == Side::Left { 0 } else { w };
            let landing = |y| Landing { terminal: row.terminal, side: row.side, x, y };
            landings.extend(row.landings().map(landing));
        }
        landings
    }

    /// The lowest row of all; 0 when nothing lands.
    pub fn lowest(&self) -> i32 {
        self.rows.iter().map(|r| r.last).max().unwrap_or(0)
    }

    /// The row of a terminal; its first one where it stands on both sides.
    pub fn of(&self, terminal: TerminalId) -> Option<&Row> {
        self.rows.iter().find(|r| r.terminal == terminal)
    }
}
