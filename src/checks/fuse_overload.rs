//! A fuse carries more than it is made for.
//!
//! ## On site
//!
//! It blows when everything is on, or after some hot weeks, and somebody puts a larger one in.
//!
//! ## Why
//!
//! What flows in the worst state must be no more than the fuse's amps, and these no more than the core behind it takes.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   F1: {type: fuse, amps: 0.5 A}
//!   Y1: {type: strike, volts: 12 V, amps: 0.6 A}
//! ```
//!
//! ## Cure
//!
//! Take the next size of fuse if the cores behind it stand it, or divide the loads over two fuses.
//!
//! ## Limits
//!
//! The currents are those of the data sheets; inrush is not among them. Where a system has too many states to solve them
//! all and its loads together exceed the fuse, the rule says that it did not check.
//!
//! ## Sources
//!
//! IEC 60364-4-43, 433.1: the design current is at most the rated current of the protective device.

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind};

use super::report::Report;
use super::supply_overload::{Sums, milliamps, tell_sampled, tell_unstated};
use super::telling;
use super::wrong_voltage::too_high;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    if job.parts.iter().any(|part| matches!(part.kind, Kind::Fuse(_))) {
        tell_unstated(job, circuit, report);
    }
    let (survey, sums) = (circuit.survey(job), Sums::of(job, circuit));
    let high = too_high(job, circuit, report);
    let mut sampled = Vec::new();
    for (id, part) in job.part_ids() {
        let Kind::Fuse(fuse) = &part.kind else { continue };
        let Some(worst) = survey.part(id).filter(|worst| worst.value.0 > 1e-6) else { continue };
        let name = job.part_label(id);
        let place = job.device(part.device).place;
        let Some(rated) = fuse.amps else {
            let fix = "write `amps:` for it, as it is marked";
            report.not_checked(format!("{name} has no amps"), fix).at(place, "").about(part.device);
            continue;
        };
        if worst.value.0 <= rated.0 * (1.0 + 1e-6) {
            let at = fuse.between[0];
            if survey.sampled(at) && sums.around(circuit, at) > rated.0 {
                sampled.push(id);
            }
            continue;
        }
        let state = telling::at(circuit, &worst.state);
        let most = milliamps(worst.value);
        let most = if most.0 > rated.0 { most.to_string() } else { format!("a little more than {rated}") };
        let message = format!(
            "{name} is {rated} and {most} flow through it{}: it will blow",
            telling::clause(state.as_deref())
        );
        let draft =
            report.find(message, "divide the loads, or take a larger fuse if the cores behind it stand it");
        draft.at(place, "").about(part.device);
        draft.follows = high.iter().any(|(part, feed)| {
            let on_way = feed.sources.iter().chain(&feed.parts).chain([part]);
            let mut terminals = on_way.flat_map(|part| job.part(*part).kind.terminals());
            terminals.any(|at| circuit.joined_past_fuses(at, fuse.between[0]))
        });
        if let Some(state) = state {
            draft.when(state);
        }
    }
    tell_sampled(job, circuit, &sampled, "can have to carry", report);
}
