//! The two legs of one signal run in different twisted pairs.
//!
//! ## On site
//!
//! The line works on the bench and fails on site, now and then, when a motor starts or the cable is long.
//!
//! ## Why
//!
//! Two wires that are twisted together pick up the same noise, and the receiver takes only the difference. Two wires
//! from different pairs pick up different noise, and each spoils the signal in its neighbour.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1:
//!     type: utp-4pair
//!     cores:
//!       white-blue: [A1.A, A2.A]
//!       white-orange: [A1.B, A2.B]
//! ```
//!
//! ## Cure
//!
//! Use the two cores of one pair: `white-blue` with `blue`.
//!
//! ## Limits
//!
//! Only cables whose data names the `pairs` are looked at.
//!
//! ## Sources
//!
//! ANSI/TIA-568: four pairs, each of a colour and its white. Common practice, no source, for the rest.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, NetId};
use crate::netlist::{CableId, CoreId, Job};

use super::lines::{half, held, pairs};
use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let mut told: BTreeSet<[CoreId; 2]> = BTreeSet::new();
    let (half, held) = (half(job, circuit), held(job, circuit));
    for (id, pair) in pairs(job) {
        // What is on such a leg does not carry the pair, whatever cores it runs in.
        if half.contains(&id) || [pair.a, pair.b].iter().any(|leg| held.contains_key(&circuit.net_of(*leg))) {
            continue;
        }
        let [a, b] = [pair.a, pair.b].map(|leg| in_pairs(job, circuit, circuit.net_of(leg)));
        for (cable, first, second) in split(job, &a, &b) {
            // Legs on one core are joined, which another rule tells.
            if first == second || !told.insert([first, second]) {
                continue;
            }
            let [one, other] = [pair.a, pair.b].map(|leg| job.label(leg));
            let message = format!(
                "{one} and {other} run in {} and {}, which are not twisted together: the line will pick up noise",
                job.core_label(first),
                job.core_label(second)
            );
            let fix = match mate(job, cable, first) {
                Some(mate) => format!(
                    "put both legs on one pair, {} with {}",
                    job.core(first).name,
                    job.core(mate).name
                ),
                None => "put both legs on the two cores of one pair".to_owned(),
            };
            report
                .find(message, fix)
                .at(job.core(second).place, "")
                .at(job.core(first).place, "")
                .about(second)
                .about(first);
        }
    }
}

/// The cores of cables with twisted pairs that carry a conductor.
fn in_pairs(job: &Job, circuit: &Circuit, net: NetId) -> Vec<CoreId> {
    let on = |id: &CoreId| {
        let core = job.core(*id);
        job.cable(core.cable).pairs().len() > 0
            && core.ends.iter().filter_map(|end| end.to.terminal()).any(|t| circuit.net_of(t) == net)
    };
    job.core_ids().map(|(id, _)| id).filter(on).collect()
}

/// Where the two legs part company: in one cable with no pair between them, or each in a cable of its own.
fn split(job: &Job, a: &[CoreId], b: &[CoreId]) -> Vec<(CableId, CoreId, CoreId)> {
    let cables = |cores: &[CoreId]| cores.iter().map(|c| job.core(*c).cable).collect::<BTreeSet<CableId>>();
    let (of_a, of_b) = (cables(a), cables(b));
    let first =
        |cores: &[CoreId], cable: CableId| cores.iter().copied().find(|c| job.core(*c).cable == cable);
    let mut all = Vec::new();
    for &cable in of_a.intersection(&of_b) {
        let twisted = a.iter().any(|core| mate(job, cable, *core).is_some_and(|mate| b.contains(&mate)));
        if let (false, Some(a), Some(b)) = (twisted, first(a, cable), first(b, cable)) {
            all.push((cable, a, b));
        }
    }
    let only_a = of_a.difference(&of_b).next();
    let only_b = of_b.difference(&of_a).next();
    if let (Some(&cable), Some(&other)) = (only_a, only_b)
        && let (Some(a), Some(b)) = (first(a, cable), first(b, other))
    {
        all.push((cable, a, b));
    }
    all
}

/// The core that is twisted with another.
fn mate(job: &Job, cable: CableId, core: CoreId) -> Option<CoreId> {
    job.cable(cable).pairs().find_map(|pair| match pair {
        [a, b] if a == core => Some(b),
        [a, b] if b == core => Some(a),
        _ => None,
    })
}
