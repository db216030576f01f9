//! An RS-485 line branches, or its terminators are not at its two ends.
//!
//! ## On site
//!
//! The line works with two devices and fails with ten, or only at the higher speeds, or only on some days.
//!
//! ## Why
//!
//! A pulse that runs into an open end comes back. Terminators at the two ends swallow it; a branch is one more end,
//! and a third terminator is one load too many.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   A1: {type: bus-device, settings: {BUS: {terminator: on}}}
//!   A2: {type: bus-device, settings: {BUS: {terminator: on}}}   # in the middle of the line
//!   A3: {type: bus-device}
//! ```
//!
//! ## Cure
//!
//! Run the cable from device to device, and switch the terminators on at the first and the last, nowhere else.
//!
//! ## Limits
//!
//! A line of which one leg is open or lands elsewhere is an error, and its shape is not judged; that is told of audio and
//! other signal pairs too. A leg of a bus that is one conductor with a pole of a source, or one of audio with a plus, is told
//! alone, unless some part on it is fed by it. Joined legs are told by `swapped-pair` alone. Resistors that pull a leg to a
//! supply are no ends of the line. The order follows from the cores of the first leg. A terminator is a setting `terminator: on` or a
//! resistor between the two legs. Stubs of a metre or so work at low speed; the program does not weigh them.
//!
//! ## Sources
//!
//! TIA-485-A: one line, 120 Ω at both ends.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, Landings, NetId};
use crate::diagnostic::Severity;
use crate::netlist::{DeviceId, Form, Job, Kind, Meaning, Part, PartId, TerminalId};

use super::far_ends::other_ends;
use super::lines::{held, pairs};
use super::report::{Report, listed};
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let mut lines: Lines = BTreeMap::new();
    for (id, part) in job.part_ids() {
        if let Kind::SignalPair(pair) = &part.kind
            && pair.kind == "rs485"
        {
            let mut legs = [circuit.net_of(pair.a), circuit.net_of(pair.b)];
            if legs[0] == legs[1] {
                continue;
            }
            legs.sort();
            lines.entry(legs).or_default().push((id, part));
        }
    }
    let held = held(job, circuit);
    tell_held(job, circuit, landings, &held, report);
    tell_parted(job, circuit, landings, report);
    tell_lone_legs(job, circuit, landings, &held, report);
    let lies_on = |legs: &[NetId; 2], nets: &BTreeSet<NetId>| legs.iter().any(|leg| nets.contains(leg));
    let poles: BTreeSet<NetId> = held.keys().copied().collect();
    let spoilt: BTreeSet<NetId> =
        lines.keys().filter(|legs| lies_on(legs, &poles)).flatten().copied().collect();
    lines.retain(|legs, _| !lies_on(legs, &spoilt));
    let halves = half_joined(&lines);
    for (one, other) in &halves {
        tell_half_joined(job, circuit, landings, [&lines[one], &lines[other]], report);
    }
    let broken: BTreeSet<&[NetId; 2]> = halves.iter().flat_map(|(one, other)| [one, other]).collect();
    for (legs, parts) in lines.iter().filter(|(legs, parts)| parts.len() > 1 && !broken.contains(legs)) {
        let line = Line::of(job, circuit, landings, *legs);
        let name = |id: &DeviceId| job.device(*id).name.as_str();
        if let Some((branch, next)) = line.next.iter().find(|(_, next)| next.len() > 2) {
            let next: Vec<&str> = next.iter().map(name).collect();
            let message = format!(
                "the bus branches at {}, to {}: pulses come back from the open ends and spoil others",
                name(branch),
                listed(&next)
            );
            let fix = "run the cable from device to device in one line";
            report.find(message, fix).at(job.device(*branch).place, "").about(*branch);
            continue;
        }
        let terminators = line.terminators(job, parts);
        let ends: Vec<DeviceId> =
            line.next.iter().filter(|(_, next)| next.len() == 1).map(|(id, _)| *id).collect();
        if ends.len() == 2 && terminators == ends {
            continue;
        }
        let list = |ids: &[DeviceId]| listed(&ids.iter().map(name).collect::<Vec<_>>());
        let have =
            if terminators.is_empty() { "nowhere".to_owned() } else { format!("at {}", list(&terminators)) };
        let message = if ends.is_empty() {
            format!(
                "the bus runs in a ring and is terminated {have}: it has no ends, and pulses run round in it"
            )
        } else {
            format!(
                "the bus ends at {} and is terminated {have}: pulses come back from the open ends",
                list(&ends)
            )
        };
        let fix = if ends.is_empty() {
            "open the ring at one device and terminate the two ends".to_owned()
        } else {
            format!("switch the terminators on at {} and nowhere else", list(&ends))
        };
        let wrong = terminators.iter().find(|id| !ends.contains(id));
        let missing = ends.iter().find(|id| !terminators.contains(id));
        let first = parts.first().map(|(_, part)| part.device);
        let Some(at) = wrong.or(missing).copied().or(terminators.first().copied()).or(first) else {
            continue;
        };
        report.find(message, fix).at(job.device(at).place, "").about(at);
    }
}

/// Tells of legs that are one conductor with a pole of a source, once for each such conductor.
fn tell_held(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    held: &BTreeMap<NetId, TerminalId>,
    report: &mut Report,
) {
    let mut on: BTreeMap<NetId, Vec<[TerminalId; 2]>> = BTreeMap::new();
    // Where a core of a part landed on a leg that is told already, and comes right with it.
    let astray: BTreeSet<NetId> = pairs(job)
        .filter(|(id, _)| report.is_named_gap(*id))
        .flat_map(|(_, pair)| [pair.a, pair.b].map(|leg| circuit.net_of(leg)))
        .collect();
    for (id, pair) in pairs(job) {
        for [leg, mate] in [[pair.a, pair.b], [pair.b, pair.a]] {
            if astray.contains(&circuit.net_of(leg)) {
                continue;
            }
            if held.contains_key(&circuit.net_of(leg)) && !job.part(id).existing {
                on.entry(circuit.net_of(leg)).or_default().push([leg, mate]);
            }
        }
    }
    for (net, legs) in on {
        let Some(&[leg, mate]) = legs.first() else { continue };
        let (at, pole) = (job.label(leg), job.label(held[&net]));
        let (message, fix) = match goes_on(job, circuit, mate, net) {
            Some(line) => {
                let line = job.label(line);
                (
                    format!(
                        "{at} lies on {pole} and not on {line}: the line is whole on one leg only, and nothing passes"
                    ),
                    format!("bring {at} to {line} along the same cable, and to nothing else"),
                )
            }
            None => (
                format!("{at} is joined to {pole}: that holds the line, and nothing on it is heard"),
                format!("take off what joins {at} and {pole}"),
            ),
        };
        let draft = report.find(message, fix).severity(Severity::Error);
        draft.at(telling::landing(job, landings, leg), "").about(leg);
    }
}

/// The leg that belongs together with one that lies on `net`, where the other legs of the two pairs are joined.
fn goes_on(job: &Job, circuit: &Circuit, mate: TerminalId, net: NetId) -> Option<TerminalId> {
    let line = circuit.net_of(mate);
    pairs(job).find_map(|(_, pair)| {
        let [a, b] = [pair.a, pair.b];
        let goes_on =
            |kept, other| kept != mate && circuit.net_of(kept) == line && circuit.net_of(other) != net;
        if goes_on(a, b) { Some(b) } else { goes_on(b, a).then_some(a) }
    })
}

/// A pair that shares either leg with pairs, and both with none.
struct Parted {
    legs: [TerminalId; 2],
    /// The pairs on the other end of each leg.
    with: [Vec<PartId>; 2],
}

/// Tells of pairs that are no bus and of which one leg leads to one pair and the other to another.
fn tell_parted(job: &Job, circuit: &Circuit, landings: &Landings, report: &mut Report) {
    let mut on: BTreeMap<(NetId, &str), Vec<PartId>> = BTreeMap::new();
    for (id, pair) in pairs(job).filter(|(_, pair)| pair.kind != "rs485") {
        for leg in [pair.a, pair.b] {
            on.entry((circuit.net_of(leg), &pair.kind)).or_default().push(id);
        }
    }
    let parted: BTreeMap<PartId, Parted> = pairs(job)
        .filter_map(|(id, pair)| {
            let legs = [pair.a, pair.b];
            let with = legs.map(|leg| {
                let all = on.get(&(circuit.net_of(leg), pair.kind.as_str())).into_iter().flatten();
                all.copied().filter(|other| *other != id).collect::<Vec<_>>()
            });
            let apart = with.iter().all(|with| !with.is_empty())
                && !with[0].iter().any(|other| with[1].contains(other))
                && legs.iter().all(|leg| job.parts_on(*leg).count() == 1);
            apart.then_some((id, Parted { legs, with }))
        })
        .collect();
    let mut told: BTreeSet<PartId> = BTreeSet::new();
    for (id, pair) in &parted {
        if !told.insert(*id) {
            continue;
        }
        let crossed = parted.iter().find_map(|(other, beside)| {
            let leg = crossed_with(job, pair, beside)?;
            (other != id && job.part(*other).device == job.part(*id).device).then_some((*other, leg))
        });
        let [a, b] = pair.legs.map(|leg| job.label(leg));
        let names =
            [0, 1].map(|n| pair.with[n].first().map_or("", |part| &*job.device(job.part(*part).device).name));
        let message = format!(
            "the legs of one pair part: {a} leads to {} and {b} to {}, and nothing passes",
            names[0], names[1]
        );
        let fix = crossed
            .and_then(|(_, [own, beside])| {
                let what = [own, beside].map(|leg| telling::landed(job, landings, leg));
                let [own, beside] = [own, beside].map(|leg| job.label(leg));
                let [Some(one), Some(other)] = what else { return None };
                Some(format!("exchange {one} at {own} and {other} at {beside}"))
            })
            .unwrap_or_else(|| format!("lead {a} and {b} along one cable to the two legs of one part"));
        report
            .find(message, fix)
            .severity(Severity::Error)
            .at(telling::landing(job, landings, pair.legs[0]), "")
            .at(telling::landing(job, landings, pair.legs[1]), "")
            .about(pair.legs[0])
            .about(pair.legs[1]);
        told.extend(pair.with.iter().flatten().copied());
        if let Some((other, _)) = crossed {
            told.insert(other);
            told.extend(parted[&other].with.iter().flatten().copied());
        }
    }
}

/// The legs of two pairs of one device that have changed places: each leads to where the other one's mate leads.
fn crossed_with(job: &Job, one: &Parted, other: &Parted) -> Option<[TerminalId; 2]> {
    let leads = |a: &[PartId], b: &[PartId]| {
        a.iter().any(|a| b.iter().any(|b| a == b || job.part(*a).device == job.part(*b).device))
    };
    [(0, 0), (1, 1), (0, 1), (1, 0)].into_iter().find_map(|(n, m)| {
        let crossed = leads(&one.with[n], &other.with[1 - m]) && leads(&one.with[1 - n], &other.with[m]);
        crossed.then_some([one.legs[n], other.legs[m]])
    })
}

/// The signal pairs of the job, by the two conductors that their legs are on.
type Lines<'j> = BTreeMap<[NetId; 2], Vec<(PartId, &'j Part)>>;

/// Lines that have one leg in common and the other not: one leg of the cable is open, or lands elsewhere.
fn half_joined(lines: &Lines) -> Vec<([NetId; 2], [NetId; 2])> {
    let mut by_leg: BTreeMap<NetId, Vec<[NetId; 2]>> = BTreeMap::new();
    for legs in lines.keys() {
        for leg in legs {
            by_leg.entry(*leg).or_default().push(*legs);
        }
    }
    let mut halves: Vec<_> = by_leg
        .into_values()
        .flat_map(|sharing| sharing.windows(2).map(|two| (two[0], two[1])).collect::<Vec<_>>())
        .collect();
    halves.dedup();
    halves
}

/// Tells which legs of two devices are joined and which are not.
fn tell_half_joined(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    [one, other]: [&[(PartId, &Part)]; 2],
    report: &mut Report,
) {
    let pairs = |parts: &[(PartId, &Part)]| -> Vec<[TerminalId; 2]> {
        let pair = |(_, part): &(PartId, &Part)| match &part.kind {
            Kind::SignalPair(pair) => Some([pair.a, pair.b]),
            _ => None,
        };
        parts.iter().filter_map(pair).collect()
    };
    let joined = |a: TerminalId, b: TerminalId| circuit.net_of(a) == circuit.net_of(b);
    let meet = |near: &[TerminalId; 2], far: &[TerminalId; 2]| {
        near.iter().enumerate().find_map(|(n, a)| far.iter().position(|b| joined(*a, *b)).map(|f| (n, f)))
    };
    let (near, far) = (pairs(one), pairs(other));
    // Two that one cable joins on the whole leg come first: it is their cable that lost the other.
    let cabled = near.iter().find_map(|near| {
        let next: Vec<TerminalId> = near
            .iter()
            .flat_map(|leg| landings.on(*leg))
            .flat_map(|landing| other_ends(job, *landing))
            .collect();
        let far =
            far.iter().find(|far| far.iter().any(|leg| next.contains(leg)) && meet(near, far).is_some())?;
        Some((*near, *far))
    });
    let Some((near, far)) = cabled.or_else(|| near.first().copied().zip(far.first().copied())) else {
        return;
    };
    let Some((kept, partner)) = meet(&near, &far) else { return };
    let (lost, missing) = (near[1 - kept], far[1 - partner]);
    let does = ("bus", "the two do not hear each other");
    tell_lost(job, landings, does, [near[kept], far[partner]], [lost, missing], report);
}

/// Tells that two pairs are joined on the leg that was `kept` and not on the other.
fn tell_lost(
    job: &Job,
    landings: &Landings,
    (line, so): (&str, &str),
    kept: [TerminalId; 2],
    [lost, missing]: [TerminalId; 2],
    report: &mut Report,
) {
    let [near, far] = kept.map(|leg| job.label(leg));
    let [open, other] = [lost, missing].map(|leg| job.label(leg));
    let message = format!(
        "the {line} is whole on one leg only: {near} and {far} are joined, {open} and {other} are not, and {so}"
    );
    report
        .find(message, format!("join {open} and {other} along the same cable"))
        .severity(Severity::Error)
        .at(telling::landing(job, landings, missing), "")
        .at(telling::landing(job, landings, lost), "")
        .about(missing)
        .about(lost);
}

/// Tells of pairs that are no bus and of which one leg is joined to another device's pair while the other leads nowhere. A
/// leg that several parts of a device share says nothing of either.
fn tell_lone_legs(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    held: &BTreeMap<NetId, TerminalId>,
    report: &mut Report,
) {
    let alone = |leg: TerminalId| {
        let device = job.terminal(leg).device;
        circuit.terminals_of(circuit.net_of(leg)).iter().all(|other| job.terminal(*other).device == device)
    };
    let pairs = job.parts.iter().filter_map(|part| match &part.kind {
        Kind::SignalPair(pair) => Some(pair),
        _ => None,
    });
    let shorted: BTreeSet<NetId> = pairs
        .map(|pair| [pair.a, pair.b].map(|leg| circuit.net_of(leg)))
        .filter(|legs| legs[0] == legs[1])
        .map(|legs| legs[0])
        .collect();
    let mut lone: BTreeMap<(NetId, &str), Vec<[TerminalId; 2]>> = BTreeMap::new();
    let mut whole: BTreeMap<(NetId, &str), [TerminalId; 2]> = BTreeMap::new();
    for part in &job.parts {
        let Kind::SignalPair(pair) = &part.kind else { continue };
        for [kept, lost] in [[pair.a, pair.b], [pair.b, pair.a]] {
            let line = (circuit.net_of(kept), pair.kind.as_str());
            if pair.kind == "rs485"
                || shorted.contains(&line.0)
                || alone(kept)
                || job.parts_on(kept).count() > 1
                || job.unused(lost).is_some()
            {
                continue;
            }
            if alone(lost) {
                lone.entry(line).or_default().push([kept, lost]);
            } else if !held.contains_key(&circuit.net_of(lost)) {
                whole.entry(line).or_insert([kept, lost]);
            }
        }
    }
    for (line, open) in &lone {
        let Some((&near, rest)) = open.split_first() else { continue };
        let Some(&far) = rest.first().or_else(|| whole.get(line)) else { continue };
        let does = ("pair", "nothing passes");
        tell_lost(job, landings, does, [near[0], far[0]], [near[1], far[1]], report);
    }
}

/// Which device is cabled to which on the first leg, and the resistors between the legs.
struct Line {
    next: BTreeMap<DeviceId, BTreeSet<DeviceId>>,
    /// Devices that bear a resistor between the legs, by the device that the resistor stands at.
    resistors: Vec<DeviceId>,
}

impl Line {
    fn of(job: &Job, circuit: &Circuit, landings: &Landings, legs: [NetId; 2]) -> Self {
        let across: BTreeSet<DeviceId> = job
            .parts
            .iter()
            .filter(|part| match &part.kind {
                Kind::Resistor(resistor) => {
                    let mut ends = resistor.between.map(|end| circuit.net_of(end));
                    ends.sort();
                    ends == legs
                }
                _ => false,
            })
            .map(|part| part.device)
            .collect();
        // A resistor that lifts or pulls a leg is no end of the line either.
        let hangs = |at: &TerminalId| {
            let mut parts = job.parts_on(*at).map(|(_, part)| &part.kind).peekable();
            job.device(job.terminal(*at).device).form == Form::Box
                && parts.peek().is_some()
                && parts.all(|kind| matches!(kind, Kind::Resistor(_)))
        };
        let hanging = circuit.terminals_of(legs[0]).iter().filter(|at| hangs(at));
        let lone: BTreeSet<DeviceId> =
            hanging.map(|at| job.terminal(*at).device).chain(across.iter().copied()).collect();
        let mut next: BTreeMap<DeviceId, BTreeSet<DeviceId>> = BTreeMap::new();
        let mut at_resistor: BTreeMap<DeviceId, DeviceId> = BTreeMap::new();
        for &terminal in circuit.terminals_of(legs[0]) {
            let own = job.terminal(terminal).device;
            let near = landings.on(terminal).iter().flat_map(|landing| other_ends(job, *landing));
            for other in near.map(|t| job.terminal(t).device).filter(|other| *other != own) {
                match (lone.contains(&own), lone.contains(&other)) {
                    (true, _) => {
                        at_resistor.entry(own).or_insert(other);
                    }
                    (false, true) => {}
                    (false, false) => {
                        next.entry(own).or_default().insert(other);
                    }
                }
            }
        }
        // A resistor inside a device of the line stands at that device.
        let resistors = across.iter().map(|own| at_resistor.get(own).copied().unwrap_or(*own)).collect();
        Self { next, resistors }
    }

    /// The devices at which the line is terminated, in order.
    fn terminators(&self, job: &Job, parts: &[(PartId, &Part)]) -> Vec<DeviceId> {
        let switched = parts.iter().filter(|(id, part)| {
            job.device(part.device).settings.iter().any(|setting| {
                setting.meaning == Meaning::Terminator(true) && setting.part.is_none_or(|about| about == *id)
            })
        });
        let mut all: Vec<DeviceId> =
            switched.map(|(_, part)| part.device).chain(self.resistors.iter().copied()).collect();
        all.sort();
        all
    }
}
