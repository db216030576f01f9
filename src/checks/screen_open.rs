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
//! A drain that lies on a leg of a signal pair which another core leads on is told here too, wherever its other end is bonded. A
//! screen that is itself the return of a signal is not.
//!
//! A screen that meets earth once in a job that says `screens: both-ends` is a note. Only terminals that a data sheet lists
//! under `earths` or `screens` count. An `earth-bar` has one.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, NetId};
use crate::diagnostic::Severity;
use crate::netlist::{CoreId, Job, Kind, PartId, ScreenRule, TerminalId};

use super::report::Report;
use super::screens::{Screen, cables, screens};

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let broken: BTreeSet<NetId> =
        report.terminals_told_by("bus-shape").into_iter().map(|at| circuit.net_of(at)).collect();
    let unspoken: BTreeSet<CoreId> = report.cores_told_by("unterminated-core");
    for screen in &screens(job, circuit) {
        let Some(&drain) = screen.drains.first() else { continue };
        // An exchange of the drain with the leg itself is told by the pair.
        let on_leg = screen.on_leg.filter(|(_, leg)| !broken.contains(&circuit.net_of(*leg)));
        if let Some((drain, leg)) = on_leg {
            tell_on_leg(job, circuit, screen, drain, leg, report);
            continue;
        }
        let (message, fix, severity) = match (screen.bonds.as_slice(), job.info.screens) {
            ([], _) => (
                format!("the screen of {} meets no earth: it will not keep noise out", cables(job, screen)),
                "land the drain on an earth or screen terminal at one end",
                Severity::Warning,
            ),
            ([bond], ScreenRule::BothEnds) => (
                format!(
                    "the screen of {} meets earth at {} alone, and the job says `screens: both-ends`",
                    cables(job, screen),
                    job.label(*bond)
                ),
                "land its other end on an earth or screen terminal too, or say `screens: one-end`",
                Severity::Note,
            ),
            _ => continue,
        };
        let loose = screen.bonds.is_empty() && screen.drains.iter().any(|drain| unspoken.contains(drain));
        let finding = report.find(message, fix).severity(severity).at(job.core(drain).place, "");
        finding.follows = loose;
        screen.drains.iter().for_each(|drain| {
            finding.about(*drain);
        });
    }
}

/// Tells that a drain lies on a leg of the signal that it should shield.
fn tell_on_leg(
    job: &Job,
    circuit: &Circuit,
    screen: &Screen,
    drain: CoreId,
    leg: TerminalId,
    report: &mut Report,
) {
    let (core, at) = (job.core_label(drain), job.label(leg));
    let device = job.device(job.terminal(leg).device);
    let message =
        format!("{core} lies on {at}, a leg of a signal: what the screen catches goes into the signal");
    let free = device.parts.iter().map(PartId).find_map(|part| match job.part(part).kind {
        Kind::Screen(bond) if !circuit.landings().wired(bond) => Some(job.label(bond)),
        _ => None,
    });
    let fix = match free.filter(|_| screen.bonds.is_empty()) {
        Some(bond) => format!("move {core} from {at} to {bond}"),
        None if screen.bonds.is_empty() => {
            format!("take {core} off {at}, and land it on an earth or screen terminal at one end")
        }
        None => format!("take {core} off {at} and tape it"),
    };
    report.find(message, fix).at(job.core(drain).place, "").about(drain).about(leg);
}
