//! A source is shorted.
//!
//! ## On site
//!
//! The fuse blows, the supply shuts down, or a core or contact burns: as soon as the contacts stand as the finding
//! says, plus and 0 V are one conductor.
//!
//! ## Why
//!
//! Nothing but copper and closed contacts lies on the path that the finding names, so nothing limits the current. With a
//! battery it is hundreds of amps.
//!
//! ## Example
//!
//! ```yaml
//! links: [[S1.14, G1.V-]]
//! cables:
//!   W1: {type: single-0.75, cores: {red: [G1.V+, S1.13]}}     # S1 is push-button-no
//! ```
//!
//! ## Cure
//!
//! Open the path at the hop that should not be there. A contact must have its load behind it before the path goes back
//! to the other pole.
//!
//! ## Limits
//!
//! A state counts when a walk gets there from everything at rest, one button, switch or sensor at a time, coils following
//! after each. Diodes count forward only from plus to minus; with AC both ways. Two sources joined like pole to like pole
//! are told by `parallel-supplies`. A short that only the coils' own logic keeps away is told by `relies-on-interlock`, one
//! through a suppressor diode that stands the wrong way round by `reversed-diode`. A conductor is taken for sound: what
//! happens if one chafes is not looked at. A load that is `existing` and that no source of the job reaches is taken to be
//! fed from outside; its two ends on one conductor short what feeds it. What one conductor in the wrong place shorts, be it
//! several sources by several ways, is told once. Where moving one, or exchanging two, was tried on a copy of the job and
//! cures it, the fix says so; else the finding guesses from the parts that would be right without it.
//!
//! ## Sources
//!
//! IEC 60364-4-43 on protection against short-circuit currents. The condition itself is common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, Hop, Landings, Path, Reachable, ShortWay, Through};
use crate::netlist::{Job, Kind, PartId, TerminalId};
use crate::source::Place;

use super::culprit::{culprit, sides};
use super::far_ends::other_ends;
use super::lost_feed::{Rails, names};
use super::report::Report;
use super::reversed_diode::{polarised, turned};
use super::reversed_polarity::{exchange, exchange_source};
use super::telling;

/// For so many shorts the conductor that stands wrong is looked for; whoever has more begins with the first.
const CLOSELY: usize = 100;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let shorts = circuit.shorts();
    if !shorts.complete
        && let Some(short) = shorts.ways.first()
    {
        let missing = "the contacts make too many ways between the poles to follow them all";
        report
            .not_checked(missing, "split the job, or measure between the poles before power is put on")
            .at(job.part(short.sources[0]).place, "")
            .about(job.part(short.sources[0]).device);
    }
    outside(job, circuit, landings, report);
    let backwards = report.turned_sources(job, circuit);
    let mut told: Vec<&ShortWay> = Vec::new();
    let mut culprits: BTreeSet<Through> = BTreeSet::new();
    for (short, reached) in in_order(job, circuit) {
        if matches!(reached, Reachable::No) || told_already(&told, short) {
            continue;
        }
        let [from, to] = short.between;
        let followed = circuit.follow(job, &short.needs, &short.parts, from, to);
        let closely = followed.as_ref().filter(|_| told.len() < CLOSELY);
        let wrong = closely.and_then(|path| culprit(job, circuit, landings, path)).copied();
        // One conductor in the wrong place can short several sources, by several ways.
        if !wrong.is_none_or(|wrong| culprits.insert(wrong.through)) {
            continue;
        }
        if let Some(wrong) = &wrong {
            report.shorted_by(sides(job, circuit, landings, wrong));
        }
        told.push(short);
        let assumed = matches!(reached, Reachable::Assumed(_));
        let state = reached.state().and_then(|state| circuit.when(&short.needs, &state));
        let names = telling::sources(job, &short.sources);
        let verb = if short.sources.len() == 1 { "is" } else { "are" };
        let path = telling::hops(job, circuit, &short.needs, &short.parts, Some(from), to);
        let message = format!(
            "{names} {verb} shorted{}, and all that hangs there goes dead: {path}",
            telling::clause(state.as_deref())
        );
        let turned = turned_part(job, circuit, short).map(|(part, [plus, minus])| {
            let exchange = exchange(job, landings, plus, minus);
            format!(
                "{exchange}: {} is fed the wrong way round, and the diode across it conducts",
                job.part_label(part)
            )
        });
        // One of several in a ring that feeds all its parts the wrong way round is what is turned.
        let ring = if told.len() < CLOSELY { short.sources.as_slice() } else { &[] };
        let against = against_the_rest(job, circuit, landings, ring);
        let at_source = || {
            let ring = short.sources.iter().filter(|_| short.sources.len() > 1);
            let feeds = ring.copied().find_map(|source| exchange_source(job, landings, &backwards, source));
            feeds.or_else(|| {
                let (source, [plus, minus]) = against?;
                let name = job.part_label(source);
                Some(format!("{}: {name} stands the wrong way round", exchange(job, landings, plus, minus)))
            })
        };
        let fix = turned.or_else(at_source).unwrap_or_else(|| match (&wrong, short.needs.is_empty()) {
            (Some(wrong), true) => {
                format!("take {} off this path: it is on the wrong pole", conductor(job, wrong))
            }
            (None, true) => followed
                .as_ref()
                .and_then(|path| misled(job, circuit, path))
                .unwrap_or_else(|| "take this path apart: one end of it is on the wrong pole".to_owned()),
            (Some(wrong), false) => format!(
                "lead this path through the load that it is for, or take {} off it",
                conductor(job, wrong)
            ),
            (None, false) => {
                "lead this path through the load that it is for, or take one of its ends off".to_owned()
            }
        });
        let source = job.part(short.sources[0]).device;
        let draft = report.find(message, fix);
        if let Some((_, [plus, _])) = against {
            draft.at(telling::landing(job, landings, plus), "");
        }
        for place in places(job, circuit, landings, short, wrong) {
            draft.at(place, "");
        }
        draft.about(source);
        for part in &short.parts {
            draft.about(job.part(*part).device);
        }
        if let Some(state) = state {
            draft.when(state);
        }
        if assumed {
            let missing =
                format!("{names}: too many contacts hang together to follow every order of operating them");
            report
                .not_checked(missing, "check by hand whether the state in the finding can come about")
                .at(job.part(short.sources[0]).place, "")
                .about(source);
        }
    }
}

/// The one of several sources in a ring whose poles lie where all else wants the other one, and its poles: what else has a
/// polarity there, and a battery's own fuse, say so.
fn against_the_rest(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    ring: &[PartId],
) -> Option<(PartId, [TerminalId; 2])> {
    if ring.len() < 2 {
        return None;
    }
    let mut wanted: BTreeMap<u32, [bool; 2]> = BTreeMap::new();
    for (id, part) in job.part_ids().filter(|(id, _)| !ring.contains(id)) {
        let ends = match &part.kind {
            Kind::Source(source) => Some([source.plus, source.minus]),
            kind => kind.load_ends().filter(|_| polarised(job, id)),
        };
        for (n, end) in ends.into_iter().flatten().enumerate() {
            wanted.entry(circuit.past_fuses(end)).or_default()[n] = true;
        }
    }
    let fused = |at: TerminalId| {
        let far =
            landings.on(at).iter().flat_map(|landing| other_ends(job, *landing)).filter(|end| *end != at);
        far.flat_map(|end| job.parts_on(end)).any(|(_, part)| matches!(part.kind, Kind::Fuse(_)))
    };
    let turned = |source: &PartId| {
        let Kind::Source(poles) = &job.part(*source).kind else { return None };
        let [at_plus, at_minus] = [poles.plus, poles.minus]
            .map(|pole| wanted.get(&circuit.past_fuses(pole)).copied().unwrap_or_default());
        let wrong = at_plus[1] || at_minus[0];
        let right = at_plus[0] || at_minus[1];
        let fuse = poles.battery && fused(poles.minus) && !fused(poles.plus);
        (!right && (wrong || fuse)).then_some((*source, [poles.plus, poles.minus]))
    };
    let mut turned = ring.iter().filter_map(turned);
    turned.next().filter(|_| turned.next().is_none())
}

/// What to do where loads hang on one conductor that has no feed, and the path of a short brings that feed somewhere else: its
/// first conductor past the last fuse or contact, if they want plus, else its last.
fn misled(job: &Job, circuit: &Circuit, path: &Path) -> Option<String> {
    let rails = Rails::of(job, circuit);
    let (ends, plus) = rails.only_one(job)?;
    let spot = rails.spot(job, circuit, &ends)?;
    let through_part = |hop: &Hop| matches!(hop.through, Through::Part(_));
    let mut last = path.hops.rsplit(through_part).find(|run| !run.is_empty())?.iter();
    let hop = if plus { last.next() } else { last.next_back() }?;
    let stays = if plus { hop.from } else { hop.to };
    let (from, to) = (if plus { hop.to } else { hop.from }, spot);
    let named = names(job, ends.iter().flat_map(|end| job.parts_on(*end).map(|(id, _)| id)));
    Some(format!(
        "move {}, which comes from {}, from {} to {}: {named} lack it there",
        match hop.through {
            Through::Core(core) => job.core_label(core),
            _ => "the link".to_owned(),
        },
        job.label(stays),
        job.label(from),
        job.label(to),
    ))
}

/// Tells of what is fed from outside this job and has both its ends on one conductor here: what feeds it is shorted.
fn outside(job: &Job, circuit: &Circuit, landings: &Landings, report: &mut Report) {
    let sources = job.parts.iter().filter_map(|part| match &part.kind {
        Kind::Source(source) => Some([source.plus, source.minus]),
        _ => None,
    });
    let poles: BTreeSet<u32> = sources.flatten().map(|pole| circuit.past_fuses(pole)).collect();
    for (id, part) in job.part_ids().filter(|(_, part)| part.existing) {
        let Some([plus, minus]) = job.part(id).kind.load_ends() else { continue };
        if circuit.net_of(plus) != circuit.net_of(minus) || poles.contains(&circuit.past_fuses(plus)) {
            continue;
        }
        let [one, other] = [plus, minus].map(|end| job.label(end));
        let message = format!(
            "{one} and {other} are one conductor: what feeds {} from outside this job is shorted",
            job.part_label(id)
        );
        report
            .find(message, format!("take off what joins {one} and {other}"))
            .at(telling::landing(job, landings, minus), "")
            .at(telling::landing(job, landings, plus), "")
            .about(part.device);
    }
}

/// The shorts that are told here, those that come about most easily first, each with the word on whether its state can
/// be reached. A short through a diode that stands the wrong way round across its load is told by `reversed-diode`; two outputs
/// at one terminal are one push-pull output, which never pulls both ways at once.
pub(super) fn in_order<'c>(job: &Job, circuit: &'c Circuit) -> Vec<(&'c ShortWay, Reachable)> {
    let diodes: Vec<PartId> = turned(job, circuit).into_iter().map(|(diode, ..)| diode).collect();
    let shorts = circuit.shorts().ways.iter().filter(|short| {
        !short.parts.iter().any(|part| diodes.contains(part)) && !both_ways_at_once(job, &short.parts)
    });
    let mut all: Vec<(&ShortWay, Reachable)> =
        shorts.map(|short| (short, circuit.reachable(&short.needs))).collect();
    let effort = |reached: &Reachable| match reached {
        Reachable::Yes(state) | Reachable::Assumed(state) => state.moved().len(),
        Reachable::No => usize::MAX,
    };
    all.sort_by_key(|(short, reached)| {
        (effort(reached), short.sources.len(), short.needs.len(), short.parts.len())
    });
    all
}

/// A part with a polarity across which a diode of a short lies as it should, and the part's plus and minus: it is the part
/// that is fed the wrong way round.
fn turned_part(job: &Job, circuit: &Circuit, short: &ShortWay) -> Option<(PartId, [TerminalId; 2])> {
    short.parts.iter().find_map(|part| {
        let Kind::Diode(diode) = &job.part(*part).kind else { return None };
        circuit.between(job, diode.anode, diode.cathode).into_iter().find_map(|load| {
            let [plus, minus] = job.part(load).kind.load_ends()?;
            let stands_right = circuit.joined_past_fuses(plus, diode.cathode);
            (polarised(job, load) && stands_right).then_some((load, [plus, minus]))
        })
    })
}

/// Whether two outputs at one terminal are on together on a way.
fn both_ways_at_once(job: &Job, parts: &[PartId]) -> bool {
    let outputs: Vec<_> = parts
        .iter()
        .filter_map(|part| match &job.part(*part).kind {
            Kind::Output(output) => Some(output.at),
            _ => None,
        })
        .collect();
    outputs.iter().enumerate().any(|(n, at)| outputs[..n].contains(at))
}

/// Whether a short shares what makes it with one that was told: its source, and a contact or a path that is always
/// there.
pub(super) fn told_already(told: &[&ShortWay], short: &ShortWay) -> bool {
    told.iter().any(|before| {
        before.sources.iter().any(|s| short.sources.contains(s))
            && (before.needs.is_empty()
                || short.needs.is_empty()
                || before.parts.iter().any(|part| short.parts.contains(part))
                || before.needs.iter().any(|need| short.needs.iter().any(|n| n.mover == need.mover)))
    })
}

/// A conductor as one would point at it: `W2 red`; `the link between X1:1 and X1:2`.
fn conductor(job: &Job, hop: &Hop) -> String {
    match hop.through {
        Through::Core(core) => job.core_label(core),
        _ => format!("the link between {} and {}", job.label(hop.from), job.label(hop.to)),
    }
}

/// The places of a short in the file: the conductor that stands wrong, else where the last one lands, then every device on it.
pub(super) fn places(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    short: &ShortWay,
    wrong: Option<Hop>,
) -> Vec<Place> {
    let [from, to] = short.between;
    let path = circuit.follow(job, &short.needs, &short.parts, from, to);
    let first = wrong.or_else(|| path.and_then(|path| path.hops.last().copied()));
    let mut places = vec![match first {
        Some(hop) => match hop.through {
            Through::Core(core) => {
                let ends = job.core(core).ends;
                ends[usize::from(ends[0].to.terminal() != Some(hop.from))].place
            }
            Through::Link(link) => job.links[link.index()].place,
            Through::Part(_) => telling::landing(job, landings, hop.from),
        },
        None => job.part(short.sources[0]).place,
    }];
    for part in &short.parts {
        let place = job.device(job.part(*part).device).place;
        if matches!(
            job.part(*part).kind,
            Kind::Contact(_) | Kind::Output(_) | Kind::TwoWire(_) | Kind::Diode(_)
        ) && !places.contains(&place)
        {
            places.push(place);
        }
    }
    places
}
