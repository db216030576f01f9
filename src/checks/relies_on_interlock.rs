//! Only the coils' own logic keeps a short away.
//!
//! ## On site
//!
//! All is well while every contact follows its coil at once. If one welds, or lags while the other pulls in, the supply
//! is shorted.
//!
//! ## Why
//!
//! Two contactors that lock each other out are common practice, and right. But the lock is made of the same contacts that
//! wear out: the fuse is the last defence, and it must be there.
//!
//! ## Example
//!
//! Two relays that reverse a motor, each coil fed through a break contact of the other:
//!
//! ```yaml
//! cables:
//!   W5: {type: single-0.75, cores: {red: [S1.14, K2.12]}}
//!   W6: {type: single-0.75, cores: {red: [K2.11, K1.A1]}}
//! ```
//!
//! ## Cure
//!
//! Nothing needs to change where a fuse stands in the path. A mechanical interlock, or changeover contacts that cannot
//! close both ways at once, take the risk away.
//!
//! ## Limits
//!
//! It is a note. Only combinations of contact positions are looked at, never the times at which they change.
//!
//! ## Sources
//!
//! IEC 60204-1 on interlocking of contactors that reverse a motor.

use crate::circuit::{Circuit, Reachable, ShortWay};
use crate::netlist::{Job, Kind};

use super::report::Report;
use super::short_circuit::{in_order, places, told_already};
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let ways = in_order(job, circuit);
    let mut told: Vec<&ShortWay> = ways
        .iter()
        .filter(|(_, reached)| !matches!(reached, Reachable::No))
        .map(|(short, _)| *short)
        .collect();
    for (short, reached) in ways {
        if !matches!(reached, Reachable::No) || told_already(&told, short) {
            continue;
        }
        told.push(short);
        let movers: Vec<String> = short
            .needs
            .iter()
            .map(|need| {
                let name = &circuit.movers()[need.mover.index()].name;
                format!("{name} {}", if need.operated { "operated" } else { "at rest" })
            })
            .collect();
        let state = match movers.as_slice() {
            [first @ .., last] if !first.is_empty() => format!("with {} and {last}", first.join(", ")),
            _ => format!("with {}", movers.concat()),
        };
        let names = telling::sources(job, &short.sources);
        let [from, to] = short.between;
        let path = telling::hops(job, circuit, &short.needs, &short.parts, Some(from), to);
        let followed = circuit.follow(job, &short.needs, &short.parts, from, to);
        let fuse = followed
            .iter()
            .flat_map(|path| path.parts())
            .find(|part| matches!(job.part(*part).kind, Kind::Fuse(_)));
        let fix = match fuse {
            Some(fuse) => {
                let fuse = job.part_label(fuse);
                format!("{fuse} blows then; where that is not enough, use a mechanical interlock")
            }
            None => "put a fuse into this path, or use a mechanical interlock".to_owned(),
        };
        let message = format!(
            "{state} {names} would be shorted: {path}. Only the coils' own logic keeps that away; a contact that welds \
             or lags brings it about"
        );
        let draft = report.find(message, fix);
        for place in places(job, circuit, landings, short, None) {
            draft.at(place, "");
        }
        draft.about(job.part(short.sources[0]).device).when(state);
        for part in &short.parts {
            draft.about(job.part(*part).device);
        }
    }
}
