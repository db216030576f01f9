//! A screen meets earth at two or more bonds.
//!
//! ## On site
//!
//! Hum on an audio line, a jumping reading on an analogue one: the difference between the two earths flows through the
//! screen.
//!
//! ## Why
//!
//! Earth is not at the same volts in two places. A screen that joins them carries current and couples it into the cores
//! inside.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1:
//!     type: screened-2x0.22
//!     cores:
//!       drain: [A1.SCR, A2.SCR]
//! ```
//!
//! ## Cure
//!
//! Take the drain off at one end and tape it. Where the job asks for both ends, say `screens: both-ends` under `job:`.
//!
//! ## Limits
//!
//! Which is right depends on the signal: one end suits low frequencies, both ends suit radio frequencies and surges.
//! The makers' papers differ, so it is a rule of the job and never an error.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::{Job, ScreenRule};

use super::report::{Report, listed};
use super::screens::{cables, screens};

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    if job.info.screens == ScreenRule::BothEnds {
        return;
    }
    for screen in screens(job, circuit).iter().filter(|screen| screen.bonds.len() > 1) {
        let Some(&drain) = screen.drains.first() else { continue };
        let bonds: Vec<String> = screen.bonds.iter().map(|bond| job.label(*bond)).collect();
        let bonds: Vec<&str> = bonds.iter().map(String::as_str).collect();
        let message = format!(
            "the screen of {} meets earth at {}: the difference between the earths will flow through it",
            cables(job, screen),
            listed(&bonds)
        );
        let fix = "take the drain off at one end and tape it, or say `screens: both-ends` under `job:`";
        let finding = report.find(message, fix).at(job.core(drain).place, "");
        screen.drains.iter().for_each(|drain| {
            finding.about(*drain);
        });
    }
}
