//! A safety input is bridged or empty.
//!
//! ## On site
//!
//! The stop button, the edge or the light barrier does nothing. The drive crushes what is in its way.
//!
//! ## Why
//!
//! A link across a safety input is how a drive is tried out on the bench. It must not leave the bench.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   A1: {type: vent-drive}      # with dry_inputs: {STOP: {between: [5, 6], safety: true}}
//! links: [[A1.5, A1.6]]
//! ```
//!
//! ## Cure
//!
//! Do not hand over. Wire the safety device through its contact. Whoever is responsible for the drive must decide.
//!
//! ## Limits
//!
//! The check sees conductors and fuses. It cannot see whether the contact in between belongs to a fit safety device.
//! An input that is `existing: true` is left to those who wired it.
//!
//! ## Sources
//!
//! EN 12453 asks for tested safety devices on powered doors and gates. The rest is common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind};

use super::report::Report;
use super::telling::landing;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for part in job.parts.iter().filter(|part| !part.existing) {
        let Kind::DryInput(input) = &part.kind else { continue };
        if !input.safety {
            continue;
        }
        let [a, b] = input.between;
        let name = format!("{} {}", job.device(part.device).name, part.name);
        if circuit.joined_past_fuses(a, b) {
            let message = format!(
                "{} and {} are joined without a contact between: the safety input {name} does nothing",
                job.label(a),
                job.label(b)
            );
            let fix =
                "take the bridge out and wire the contact of the safety device; do not hand over before";
            report.find(message, fix).at(landing(job, landings, b), "").about(a).about(b);
        } else if let Some(empty) = input.between.into_iter().find(|side| !landings.wired(*side)) {
            let message =
                format!("nothing is on {}: the safety input {name} has no safety device", job.label(empty));
            let fix = "wire the contact of the safety device; do not hand over before";
            report.find(message, fix).at(job.device(part.device).place, "").about(empty);
        }
    }
}
