//! A supply must give more than it can.
//!
//! ## On site
//!
//! The supply folds back, hiccups or blows its fuse, most likely when everything operates at once.
//!
//! ## Why
//!
//! A supply near its limit runs hot and has nothing left for a lock's inrush, a cold lamp or a part that is added next
//! year. Above 80 per cent it is a warning.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   G1: {type: dc-supply, volts: 12 V, amps: 1 A}
//!   Y1: {type: strike, volts: 12 V, amps: 0.6 A}
//!   Y2: {type: strike, volts: 12 V, amps: 0.6 A}
//! ```
//!
//! ## Cure
//!
//! Take a supply of at least 1.25 times the worst load, or move a load to another supply.
//!
//! ## Limits
//!
//! The currents are those of the data sheets; inrush is not among them. Where a system has too many states to solve
//! them all, the sum of all its loads stands for the worst one.
//!
//! ## Sources
//!
//! 1.25 times the load: common practice of access-control makers.

use crate::circuit::Circuit;
use crate::diagnostic::Severity;
use crate::netlist::{Draw, Job, Kind, PartId};
use crate::units::{Amps, Share};

use super::report::Report;
use super::telling;

/// The share of its amps above which a supply is near its limit.
const NEAR: f64 = 0.8;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    tell_unstated(job, circuit, report);
    let survey = circuit.survey(job);
    for (id, part) in job.part_ids() {
        let Kind::Source(source) = &part.kind else { continue };
        let Some(worst) = survey.part(id).filter(|worst| worst.value.0 > 1e-6) else { continue };
        let name = telling::part(job, id);
        let device = job.device(part.device);
        let Some(rated) = source.amps else {
            report
                .not_checked(format!("{name} has no amps"), "write `amps:` for it, as its label says")
                .at(device.place, "")
                .about(part.device);
            continue;
        };
        if survey.sampled(source.plus) && worst.value.0 <= rated.0 * NEAR {
            if sum_around(job, circuit, id) > rated.0 * NEAR {
                report
                    .not_checked(
                        format!("the circuit of {name} has too many states to work all of them out"),
                        "add up the currents of all that can be on at once by hand",
                    )
                    .at(device.place, "")
                    .about(part.device);
            }
            continue;
        }
        let share = worst.value.0 / rated.0;
        if share <= NEAR + 1e-6 {
            continue;
        }
        let state = telling::at(circuit, &worst.state);
        let over = share > 1.0 + 1e-6;
        let message = format!(
            "{name} must give {}{}, {} of its {rated}{}",
            milliamps(worst.value),
            telling::clause(state.as_deref()),
            Share((share * 100.0).round() / 100.0),
            if over { ": it will fold back or fail" } else { ": there is little left for inrush" }
        );
        let fix = format!(
            "use a supply of at least {}, or move a load to another",
            milliamps(Amps(1.25 * worst.value.0))
        );
        let draft = report.find(message, fix);
        draft.at(device.place, "").about(part.device);
        if !over {
            draft.severity(Severity::Warning);
        }
        if let Some(state) = state {
            draft.when(state);
        }
    }
}

/// Says of fed loads and coils that do not say what they draw that their amps are missing from the sum.
pub(super) fn tell_unstated(job: &Job, circuit: &Circuit, report: &mut Report) {
    for (id, part) in job.part_ids() {
        let silent = match &part.kind {
            Kind::Load(load) => load.draw.is_none(),
            Kind::Coil(coil) => coil.draw.is_none(),
            _ => false,
        };
        if silent && !circuit.feeds(id).ways.is_empty() {
            let missing = format!("{} has no amps", telling::part(job, id));
            let fix = "write `amps:`, `ohms:` or `watts:` for it, as its label says";
            report.not_checked(missing, fix).at(job.device(part.device).place, "").about(part.device);
        }
    }
}

/// Amps to the milliampere.
pub(super) fn milliamps(amps: Amps) -> Amps {
    Amps((amps.0 * 1000.0).round() / 1000.0)
}

/// What all loads and coils on the conductor system of a source draw together.
pub(super) fn sum_around(job: &Job, circuit: &Circuit, source: PartId) -> f64 {
    let Some(at) = job.part(source).kind.terminals().first().copied() else { return 0.0 };
    job.parts
        .iter()
        .filter_map(|part| match &part.kind {
            Kind::Load(load) => Some((load.plus, load.draw?, load.volts)),
            Kind::Coil(coil) => Some((coil.plus, coil.draw?, coil.volts)),
            _ => None,
        })
        .filter(|(end, ..)| circuit.same_system(*end, at))
        .map(|(_, draw, rated)| match (draw, rated) {
            (Draw::Amps(amps), _) => amps.0,
            (Draw::Ohms(ohms), Some(rated)) => rated.range.high.0 / ohms.0.max(1e-6),
            (Draw::Watts(watts), Some(rated)) => {
                watts.0 * rated.range.high.0 / rated.nominal.0.powi(2).max(1e-6)
            }
            _ => f64::INFINITY,
        })
        .sum()
}
