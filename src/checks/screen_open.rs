//! A screen meets no earth.
//!
//! ## On site
//!
//! The screen does nothing. It may even do harm: it passes noise on from one core to the next.
//!
//! ## Why
//!
//! A screen works by leading what it picks up to earth. With no bond there is no way out.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1:
//!     type: screened-2x0.22
//!     cores:
//!       drain: taped
//! ```
//!
//! ## Cure
//!
//! Land the drain on the earth or screen terminal of one device, usually at the end where the signal is received.
//!
//! ## Limits
//!
//! Only terminals that a data sheet lists under `earths` or `screens` count. An `earth-bar` has one.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::report::Report;
use super::screens::{cables, screens};

pub(super) fn run(job: &Job, _: &Circuit, report: &mut Report) {
    for screen in screens(job, report).iter().filter(|screen| screen.bonds.is_empty()) {
        let Some(&drain) = screen.drains.first() else { continue };
        let message =
            format!("the screen of {} meets no earth: it will not keep noise out", cables(job, screen));
        let fix = "land the drain on an earth or screen terminal at one end";
        let finding = report.find(message, fix).at(job.core(drain).place, "");
        screen.drains.iter().for_each(|drain| {
            finding.about(*drain);
        });
    }
}
