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
//! Sources in series add up: plus to minus, fuses between or not, contacts not followed. The limits hold in dry places. Wet places, pools and ships have lower ones, and local codes come first. Only sources
//! that the job lists are seen.
//!
//! ## Sources
//!
//! IEC 61140; IEC 60364: extra-low voltage up to 50 V AC and 120 V ripple-free DC.

use crate::circuit::Circuit;
use crate::netlist::{Current, Job, Kind, PartId, Source};
use crate::units::Volts;

use super::report::Report;
use super::telling;

/// Where extra-low voltage ends (IEC 61140): AC, r.m.s.
const AC: Volts = Volts(50.0);
/// Where extra-low voltage ends (IEC 61140): ripple-free DC.
const DC: Volts = Volts(120.0);

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    in_series(job, circuit, report);
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

/// Tells of sources that are each extra-low and together, one on top of the other, are not.
fn in_series(job: &Job, circuit: &Circuit, report: &mut Report) {
    let sources: Vec<(PartId, &Source)> = job.sources().collect();
    let on = |a: &Source, b: &Source| a.current == b.current && circuit.joined_past_fuses(a.plus, b.minus);
    let top = |source: &Source| !sources.iter().any(|(_, other)| on(source, other));
    // From each source that stands on no other upwards, the highest stack.
    for (id, bottom) in
        sources.iter().filter(|(_, source)| !sources.iter().any(|(_, other)| on(other, source)))
    {
        let mut stacks = vec![(vec![*id], *bottom, highest(bottom).map_or(0.0, |v| v.0))];
        while let Some((stack, source, volts)) = stacks.pop() {
            if top(source) {
                let alone = |id: &PartId| matches!(&job.part(*id).kind, Kind::Source(s) if above(s));
                if stack.len() > 1 && volts > limit(source.current).0 + 1e-9 && !stack.iter().any(alone) {
                    tell_stack(job, &stack, Volts(volts), source.current, report);
                    break;
                }
                continue;
            }
            for (next, other) in
                sources.iter().filter(|(next, other)| on(source, other) && !stack.contains(next))
            {
                let mut higher = stack.clone();
                higher.push(*next);
                stacks.push((higher, other, volts + highest(other).map_or(0.0, |v| v.0)));
            }
        }
    }
}

fn tell_stack(job: &Job, stack: &[PartId], volts: Volts, current: Current, report: &mut Report) {
    let (kind, limit) = if current == Current::Ac { ("AC", AC) } else { ("DC", DC) };
    let names = telling::sources(job, stack);
    let message = format!(
        "{names} give {volts} {kind}: above {limit} {kind} it can kill, and this tool is not made for it"
    );
    let draft =
        report.find(message, "stop and leave this circuit to a licensed person, or correct the volts");
    for id in stack {
        let part = job.part(*id);
        draft.at(part.place, "").about(part.device);
    }
}

fn above(source: &Source) -> bool {
    highest(source).is_some_and(|volts| volts > limit(source.current))
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
