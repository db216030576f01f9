//! The two legs of a signal pair are crossed or joined.
//!
//! ## On site
//!
//! What lies beyond the crossing does not answer, and may keep the whole line from working.
//!
//! ## Why
//!
//! A bus or an audio line tells its state by which leg is the more positive. Crossed legs say the opposite.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1:
//!     type: utp-4pair
//!     cores:
//!       white-blue: [A1.A, A2.B]
//!       blue:       [A1.B, A2.A]
//! ```
//!
//! ## Cure
//!
//! Exchange the two cores at one end of the cable, or correct the file if the legs are right on site.
//!
//! ## Limits
//!
//! Makers do not agree on which leg is A. Measure the idle line: the more positive wire is the same leg on every
//! device. Legs of a pair that is not `polarised` may be exchanged, but not joined. Pairs of different `kind` are not
//! compared. A line whose legs are joined is told once, at its first device.
//!
//! ## Sources
//!
//! TIA-485-A: when idle, one leg is positive to the other by at least 0.2 V. The naming differs between makers.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, NetId};
use crate::netlist::{CoreId, End, Job, PartId, SignalPair, TerminalId};

use super::lines::pairs;
use super::report::{Report, listed};
use super::telling::landing;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let pairs: Vec<(PartId, &SignalPair)> = pairs(job).collect();
    let mut on: BTreeMap<(NetId, &str), Vec<(usize, bool)>> = BTreeMap::new();
    let mut shorted: BTreeSet<NetId> = BTreeSet::new();
    for (n, (_, pair)) in pairs.iter().enumerate() {
        let [a, b] = [pair.a, pair.b].map(|leg| circuit.net_of(leg));
        if a == b {
            if !shorted.insert(a) {
                continue;
            }
            let does = if pair.kind == "audio" { "nothing on it plays" } else { "nothing on it answers" };
            let message = format!(
                "{} and {} are joined: the line is shorted and {does}",
                job.label(pair.a),
                job.label(pair.b)
            );
            let fix = "take off the core or link that joins the two legs, and land it on its own leg";
            report.find(message, fix).at(landing(job, landings, pair.b), "").about(pair.a).about(pair.b);
            continue;
        }
        if !pair.polarised {
            continue;
        }
        on.entry((a, &pair.kind)).or_default().push((n, false));
        on.entry((b, &pair.kind)).or_default().push((n, true));
    }
    for Crossing { pairs: crossed, cores } in crossings(job, &pairs, &crossed(pairs.len(), &on)) {
        let Some((leg, other)) = crossed.iter().find_map(|n| {
            let pair = pairs[*n].1;
            [(pair.a, true), (pair.b, false)].into_iter().find_map(|(leg, second)| {
                let meets = on.get(&(circuit.net_of(leg), pair.kind.as_str()))?;
                let (m, _) =
                    meets.iter().find(|(m, is_second)| !crossed.contains(m) && *is_second == second)?;
                Some((leg, if second { pairs[*m].1.b } else { pairs[*m].1.a }))
            })
        }) else {
            continue;
        };
        let names: Vec<&str> =
            crossed.iter().map(|n| job.device(job.terminal(pairs[*n].1.a).device).name.as_str()).collect();
        let audio = crossed.first().is_some_and(|n| pairs[*n].1.kind == "audio");
        let does = match (audio, names.len()) {
            (true, 1) => "plays against the others",
            (true, _) => "play against the others",
            (false, 1) => "does not answer",
            (false, _) => "do not answer",
        };
        let message = format!(
            "{} is joined to {}: the legs are crossed and {} {does}",
            job.label(leg),
            job.label(other),
            listed(&names)
        );
        let fix = match cores[..] {
            [a, b] if names.len() > 1 => {
                format!(
                    "exchange {} and {} at one end, and nothing else",
                    job.core_label(a),
                    job.core_label(b)
                )
            }
            _ => {
                let legs = crossed.first().map_or([leg, other], |n| [pairs[*n].1.a, pairs[*n].1.b]);
                let [a, b] = legs.map(|leg| job.label(leg));
                format!("exchange the two cores at {a} and {b}")
            }
        };
        let legs = crossed.iter().flat_map(|n| [pairs[*n].1.a, pairs[*n].1.b]);
        let first = legs.clone().map(|leg| landing(job, landings, leg)).min_by_key(|at| at.start);
        let report = report.find(message, fix).at(first.unwrap_or_else(|| landing(job, landings, leg)), "");
        legs.for_each(|leg| {
            report.about(leg);
        });
    }
}

/// Pairs that stand the other way round, and are joined straight to each other.
struct Crossing {
    /// Their numbers, in order.
    pairs: Vec<usize>,
    /// The cores that cross the legs between one of them and a pair that stands right.
    cores: Vec<CoreId>,
}

fn crossings(job: &Job, pairs: &[(PartId, &SignalPair)], crossed: &[usize]) -> Vec<Crossing> {
    let mut leg_of: BTreeMap<TerminalId, (usize, bool)> = BTreeMap::new();
    for (n, (_, pair)) in pairs.iter().enumerate() {
        leg_of.extend([(pair.a, (n, false)), (pair.b, (n, true))]);
    }
    let mut found: Vec<Crossing> =
        crossed.iter().map(|n| Crossing { pairs: vec![*n], cores: Vec::new() }).collect();
    for (id, core) in job.core_ids() {
        let on = core.ends.map(|end| match end.to {
            End::Terminal(terminal) => leg_of.get(&terminal).copied(),
            End::Safe(_) | End::Bare | End::Spare => None,
        });
        let [Some((m, first)), Some((n, second))] = on else { continue };
        let of = |found: &[Crossing], pair| found.iter().position(|c| c.pairs.contains(&pair));
        match (of(&found, m), of(&found, n)) {
            (Some(a), Some(b)) if a != b && first == second => {
                let Crossing { pairs, cores } = found.remove(a.max(b));
                found[a.min(b)].pairs.extend(pairs);
                found[a.min(b)].cores.extend(cores);
            }
            (Some(at), None) | (None, Some(at)) if first != second => found[at].cores.push(id),
            _ => {}
        }
    }
    for crossing in &mut found {
        crossing.pairs.sort_unstable();
    }
    found
}

/// The pairs that stand the other way round than most on their line; of two halves, the one without the first.
fn crossed(count: usize, on: &BTreeMap<(NetId, &str), Vec<(usize, bool)>>) -> Vec<usize> {
    let mut turned: Vec<Option<bool>> = vec![None; count];
    let mut all = Vec::new();
    for start in 0..count {
        if turned[start].is_some() {
            continue;
        }
        turned[start] = Some(false);
        let mut line = vec![(start, false)];
        let mut next = 0;
        while let Some(&(at, way)) = line.get(next) {
            next += 1;
            for meets in on.values() {
                let Some((_, own)) = meets.iter().find(|(n, _)| *n == at) else { continue };
                for (other, leg) in meets {
                    if turned[*other].is_none() {
                        let way = way != (own != leg);
                        turned[*other] = Some(way);
                        line.push((*other, way));
                    }
                }
            }
        }
        let (crossed, straight): (Vec<_>, Vec<_>) = line.into_iter().partition(|(_, way)| *way);
        let fewer = if crossed.len() <= straight.len() { crossed } else { straight };
        all.extend(fewer.into_iter().map(|(n, _)| n));
    }
    all.sort_unstable();
    all
}
