//! The two legs of a signal pair are crossed or joined.
//!
//! ## On site
//!
//! The device on the far side of the crossing does not answer, and may keep the whole line from working.
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
//! device. A pair that is not `polarised` is left alone, and pairs of different `kind` are not compared.
//!
//! ## Sources
//!
//! TIA-485-A: when idle, one leg is positive to the other by at least 0.2 V. The naming differs between makers.

use std::collections::BTreeMap;

use crate::circuit::{Circuit, NetId};
use crate::netlist::{Job, Kind, PartId, SignalPair};

use super::landings::Landings;
use super::report::Report;
use super::telling::landing;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = Landings::of(job);
    let pairs: Vec<(PartId, &SignalPair)> = job
        .part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::SignalPair(pair) if pair.polarised => Some((id, pair)),
            _ => None,
        })
        .collect();
    let mut on: BTreeMap<(NetId, &str), Vec<(usize, bool)>> = BTreeMap::new();
    for (n, (_, pair)) in pairs.iter().enumerate() {
        let [a, b] = [pair.a, pair.b].map(|leg| circuit.net_of(leg));
        if a == b {
            let message = format!(
                "{} and {} are joined: the line is shorted and nothing on it answers",
                job.label(pair.a),
                job.label(pair.b)
            );
            let fix = "take one of the two cores off and land it on its own leg";
            report.find(message, fix).at(landing(job, &landings, pair.b), "").about(pair.a).about(pair.b);
            continue;
        }
        on.entry((a, &pair.kind)).or_default().push((n, false));
        on.entry((b, &pair.kind)).or_default().push((n, true));
    }
    for n in crossed(pairs.len(), &on) {
        let (_, pair) = pairs[n];
        let Some((leg, other)) = [(pair.a, true), (pair.b, false)].into_iter().find_map(|(leg, second)| {
            let meets = on.get(&(circuit.net_of(leg), pair.kind.as_str()))?;
            let (m, _) = meets.iter().find(|(m, is_second)| *m != n && *is_second == second)?;
            Some((leg, if second { pairs[*m].1.b } else { pairs[*m].1.a }))
        }) else {
            continue;
        };
        let device = &job.device(job.terminal(leg).device).name;
        let message = format!(
            "{} is joined to {}: the legs are crossed and {device} does not answer",
            job.label(leg),
            job.label(other)
        );
        let fix = format!("exchange the two cores at {} and {}", job.label(pair.a), job.label(pair.b));
        let first =
            [pair.a, pair.b].map(|leg| landing(job, &landings, leg)).into_iter().min_by_key(|at| at.start);
        let at = first.unwrap_or(job.terminal(leg).place);
        report.find(message, fix).at(at, "").about(pair.a).about(pair.b);
    }
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
