//! A source is above extra-low voltage.
//!
//! ## On site
//!
//! It can kill. This tool is not made for such wiring and none of its other checks may be trusted for it.
//!
//! ## Why
//!
//! Extra-low voltage ends at 50 V AC and 120 V ripple-free DC. Above that, work is for a person who is licensed or
//! authorised for it, under the local code.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   T1: {type: ac-supply, volts: 110 V, amps: 2 A}
//! ```
//!
//! ## Cure
//!
//! Stop. Leave the circuit to a licensed person and take it out of the job, or correct the volts.
//!
//! ## Limits
//!
//! The limits hold in dry places. Wet places, pools and ships have lower ones, and local codes come first. Only sources
//! that the job lists are seen.
//!
//! ## Sources
//!
//! IEC 61140; IEC 60364: extra-low voltage up to 50 V AC and 120 V ripple-free DC.

use crate::circuit::Circuit;
use crate::netlist::{Current, Job, Kind, Source};
use crate::units::Volts;

use super::report::Report;

/// Where extra-low voltage ends (IEC 61140): AC, r.m.s.
const AC: Volts = Volts(50.0);
/// Where extra-low voltage ends (IEC 61140): ripple-free DC.
const DC: Volts = Volts(120.0);

pub(super) fn run(job: &Job, _: &Circuit, report: &mut Report) {
    for part in &job.parts {
        let Kind::Source(source) = &part.kind else { continue };
        let name = &job.device(part.device).name;
        match highest(source) {
            None => {
                report
                    .not_checked(
                        format!("{name} has no volts"),
                        format!("state the volts of {name}, as in `volts: 12 V`"),
                    )
                    .at(part.place, "")
                    .about(part.device);
            }
            Some(volts) if volts > limit(source.current) => {
                let (kind, limit) = match source.current {
                    Current::Ac => ("AC", AC),
                    Current::Dc => ("DC", DC),
                };
                let message = format!(
                    "{name} gives {volts} {kind}: above {limit} {kind} it can kill, and this tool is not made for it"
                );
                let fix = "stop and leave this circuit to a licensed person, or correct the volts";
                report.find(message, fix).at(part.place, "").about(part.device);
            }
            Some(_) => {}
        }
    }
}

/// The highest volts that a source is known to have.
pub(super) fn highest(source: &Source) -> Option<Volts> {
    [source.volts, source.high].into_iter().flatten().reduce(|a, b| if b > a { b } else { a })
}

/// Where extra-low voltage ends.
pub(super) fn limit(current: Current) -> Volts {
    match current {
        Current::Ac => AC,
        Current::Dc => DC,
    }
}
