//! A flying lead is neither wired nor made safe.
//!
//! ## On site
//!
//! The lead hangs loose in the box with a bare end. When it touches another one, the part does something that nobody
//! asked for, or it is damaged.
//!
//! ## Why
//!
//! A screw terminal can stay empty. A lead cannot: its end is bare copper and it moves.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   K1:
//!     type: relay-module
//!     unused: {COM2: taped, NO2: taped}
//! ```
//!
//! The module has a lead IN2 as well, and nothing is said of it.
//!
//! ## Cure
//!
//! Tape, sleeve, cap or park the lead and say so under `unused:`, as in `unused: {IN2: taped}`.
//!
//! ## Limits
//!
//! An aerial is left whole and free and is not asked for here. A lead of a part that is `existing: true` is taken as
//! wired outside this job.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind, TerminalId};

use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let exempt = exempt(job);
    for (id, terminal) in job.terminal_ids() {
        let Some(colour) = &terminal.lead else { continue };
        let unused = job.unused(id);
        let safe = unused.is_some_and(|unused| unused.way.is_some());
        if safe || exempt[id.index()] || landings.wired(id) {
            continue;
        }
        let label = job.label(id);
        let message =
            format!("the {colour} lead {label} hangs loose with a bare end and can touch another one");
        let fix = format!("tape, sleeve, cap or park it and say so: `unused: {{{}: taped}}`", terminal.name);
        let place = unused.map_or(job.device(terminal.device).place, |unused| unused.place);
        report.find(message, fix).at(place, "").about(id);
    }
}

/// Aerials, and the terminals of parts that are wired outside this job.
fn exempt(job: &Job) -> Vec<bool> {
    let mut exempt = vec![false; job.terminals.len()];
    for part in &job.parts {
        if let Kind::Aerial(terminal) = part.kind {
            exempt[terminal.index()] = true;
        } else if part.existing {
            part.kind.terminals().iter().for_each(|t: &TerminalId| exempt[t.index()] = true);
        }
    }
    exempt
}
