//! A terminal is listed as unused, and something lands on it.
//!
//! ## On site
//!
//! The papers say that the terminal is empty. Whoever trusts them looks for the fault elsewhere, or tapes up a core that is live.
//!
//! ## Why
//!
//! `unused:` says that a terminal stays without a core. With a core, link or part on it one of the two is out of date.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   K1: {type: relay, volts: 24 V, amps: 40 mA, unused: [14]}
//! links: [[K1.14, H1.1]]
//! ```
//!
//! ## Cure
//!
//! Take the terminal out of `unused:`, or take off what lands on it.
//!
//! ## Limits
//!
//! It is a note, for the wiring itself is checked as it stands; but a load all of whose terminals are listed as unused is asked
//! for nothing. An aerial is told by `cut-aerial`.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind};

use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for (id, terminal) in job.terminal_ids() {
        let aerial = || job.parts_on(id).any(|(_, part)| matches!(part.kind, Kind::Aerial(_)));
        if job.unused(id).is_none() || !landings.wired(id) || aerial() {
            continue;
        }
        let (label, device) = (job.label(id), &job.device(terminal.device).name);
        let what = telling::landed(job, landings, id).unwrap_or_default();
        let message = format!(
            "{label} is listed under `unused:`, and {what} lands on it: one of the two is out of date"
        );
        let fix = format!("take {label} out of `unused:` of {device}, or take {what} off it");
        report.find(message, fix).at(telling::landing(job, landings, id), "").about(id);
    }
}
