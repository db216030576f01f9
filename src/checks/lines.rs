//! The lines of signal pairs: which pairs share conductors, and what else lies on these.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, NetId};
use crate::netlist::{Job, Kind, PartId, Pole, SignalPair, TerminalId};

/// The signal pairs of a job.
pub(super) fn pairs(job: &Job) -> impl Iterator<Item = (PartId, &SignalPair)> {
    job.part_ids().filter_map(|(id, part)| match &part.kind {
        Kind::SignalPair(pair) => Some((id, &**pair)),
        _ => None,
    })
}

/// The conductors of legs that lie on a pole of a source, each with that pole, where no part of a device says that the line
/// is fed so: any pole on a leg of an RS-485 line, plus on one of audio. The other kinds may well bring power.
pub(super) fn held(job: &Job, circuit: &Circuit) -> BTreeMap<NetId, TerminalId> {
    let sources = job.parts.iter().filter_map(|part| match &part.kind {
        Kind::Source(source) => Some([(source.plus, Pole::Plus), (source.minus, Pole::Minus)]),
        _ => None,
    });
    let poles: BTreeMap<u32, (TerminalId, Pole)> =
        sources.flatten().map(|(at, pole)| (circuit.past_fuses(at), (at, pole))).collect();
    let (mut held, mut fed) = (BTreeMap::new(), BTreeSet::new());
    for (_, pair) in pairs(job) {
        for leg in [pair.a, pair.b] {
            let Some((at, pole)) = poles.get(&circuit.past_fuses(leg)) else { continue };
            let net = circuit.net_of(leg);
            if job.parts_on(leg).count() > 1 {
                fed.insert(net);
            } else if pair.kind == "rs485" || pair.kind == "audio" && *pole == Pole::Plus {
                held.insert(net, *at);
            }
        }
    }
    held.retain(|net, _| !fed.contains(net));
    held
}

/// The pairs that share one leg with another pair and both with none: their line is broken or lands elsewhere.
pub(super) fn half(job: &Job, circuit: &Circuit) -> BTreeSet<PartId> {
    let legs = |pair: &SignalPair| {
        let mut legs = [pair.a, pair.b].map(|leg| circuit.net_of(leg));
        legs.sort_unstable();
        legs
    };
    let mut lines: BTreeMap<[NetId; 2], usize> = BTreeMap::new();
    let mut on: BTreeMap<NetId, usize> = BTreeMap::new();
    for (_, pair) in pairs(job) {
        let legs = legs(pair);
        *lines.entry(legs).or_default() += 1;
        legs.iter().for_each(|leg| *on.entry(*leg).or_default() += 1);
    }
    let alone = |legs: [NetId; 2]| lines.get(&legs) == Some(&1);
    let shares = |leg: NetId| on.get(&leg).is_some_and(|pairs| *pairs > 1);
    let half = pairs(job).filter(|(_, pair)| alone(legs(pair)) && legs(pair).into_iter().any(shares));
    half.map(|(id, _)| id).collect()
}
