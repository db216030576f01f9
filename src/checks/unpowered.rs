//! Nothing feeds a part, in no state.
//!
//! ## On site
//!
//! The lamp stays dark, the relay never pulls in, whatever is pressed.
//!
//! ## Why
//!
//! No path leads from a source's plus through the part to that source's minus, however the contacts stand.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: twin-0.5, cores: {red: [G1.V+, H1.V+], black: [G1.V+, H1.V-]}}
//! ```
//!
//! ## Cure
//!
//! Wire the part to both poles of one source. If it is fed outside this job, write `existing: true`; if it stays without
//! cores on purpose, list its terminals under `unused:`.
//!
//! ## Limits
//!
//! Where only one pole is on a source, `open-return` says so instead, and where the conductor of a short joins both ends of a
//! part `short-circuit` alone is told. What stays dead because a relay does, or for want of the same gap, is told with that. A
//! device that nothing reaches gets `unconnected-device` alone.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeMap;

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind, PartId, Pole, TerminalId};

use super::closing::never_closes;
use super::fed::starved;
use super::loose::gap;
use super::lost_feed::{POINTED_AT, groups, names};
use super::open_return::open_end;
use super::report::Report;
use super::reversed_diode::polarised;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let all = starved(job, circuit);
    if all.is_empty() {
        return;
    }
    // By finding: what stays dead for want of the gap that it names already.
    let mut same: BTreeMap<usize, Vec<PartId>> = BTreeMap::new();
    // Of what hangs on a lost feed `open-return` tells, and of all that stays dead behind that.
    for group in groups(job, circuit, &all, &open_end).into_iter().filter(|group| group.hanging.is_empty()) {
        let starved = &all[group.root];
        let behind: Vec<PartId> =
            group.behind.iter().filter(|n| **n != group.root).map(|n| all[*n].part).collect();
        let [plus, minus] = starved.ends;
        if report.joined_by_short([plus, minus]) {
            continue;
        }
        let name = job.part_label(starved.part);
        let why = if circuit.joined_past_fuses(plus, minus) {
            format!("{} and {} are one conductor", job.label(plus), job.label(minus))
        } else if starved.reaches == [false, false] {
            format!("neither {} nor {} is on a source", job.label(plus), job.label(minus))
        } else {
            let ways = &circuit.feeds(starved.part).ways;
            if ways.is_empty() {
                format!(
                    "{} and {} never come to the two poles of one source",
                    job.label(plus),
                    job.label(minus)
                )
            } else {
                "the coils' own logic never closes its path".to_owned()
            }
        };
        let named = never_closes(job, circuit, starved.part)
            .or_else(|| opposed(job, circuit, starved.ends))
            .or_else(|| gap(job, circuit, starved, None, report))
            .or_else(|| on_one_pole(job, circuit, starved.part, starved.ends));
        let fix = named.unwrap_or_else(|| {
            format!(
                "bring {} and {} to the two poles of one source; `existing: true` says that it is fed outside this job",
                job.label(plus),
                job.label(minus)
            )
        });
        if let Some(at) = report.same_gap() {
            same.entry(at).or_default().extend([starved.part].iter().chain(&behind));
            continue;
        }
        let with = match behind.is_empty() {
            true => String::new(),
            false => format!("; with it {} stay{} dead", names(job, behind.iter().copied()), s(behind.len())),
        };
        let draft = report.find(format!("nothing ever feeds {name}: {why}{with}"), fix);
        draft.follows = starved.ends.iter().any(|end| hands_on_wrong_pole(job, circuit, *end));
        draft
            .at(telling::landing(job, landings, plus), "")
            .at(telling::landing(job, landings, minus), "")
            .about(job.part(starved.part).device)
            .of(starved.part);
        for part in behind {
            draft.about(job.part(part).device).of(part);
        }
    }
    for (at, parts) in same {
        let told = names(job, parts.iter().copied());
        let Some(draft) = report.drafts().get_mut(at) else { continue };
        let message = &mut draft.finding.message;
        message.push_str(&format!("; {told} stay{} dead for the same reason", s(parts.len())));
        for &part in parts.iter().take(POINTED_AT) {
            if let Some([plus, _]) = job.part(part).kind.load_ends() {
                draft.at(telling::landing(job, landings, plus), "");
            }
        }
        for part in parts {
            draft.about(job.part(part).device).of(part);
        }
    }
}

/// The ending of a verb of which so many are the subject.
fn s(count: usize) -> &'static str {
    if count == 1 { "s" } else { "" }
}

/// Whether an output brings a terminal the pole that it is not made to switch to: that is told of the output.
fn hands_on_wrong_pole(job: &Job, circuit: &Circuit, at: TerminalId) -> bool {
    circuit.levels(at).ways.iter().any(|level| {
        level.parts.iter().any(|part| match &job.part(*part).kind {
            Kind::Output(output) => level.poles.iter().all(|(_, pole)| *pole != output.drives),
            _ => false,
        })
    })
}

/// What to turn where the ends lie on like poles of two sources whose other poles are joined: they stand against each other.
fn opposed(job: &Job, circuit: &Circuit, [plus, minus]: [TerminalId; 2]) -> Option<String> {
    let others = circuit.hard_poles(minus);
    let joined = |one: PartId, other: PartId, pole: Pole| {
        let [one, other] = [one, other].map(|source| telling::pole(job, (source, pole)));
        one.zip(other).is_some_and(|(one, other)| circuit.joined_past_fuses(one, other))
    };
    circuit.hard_poles(plus).into_iter().find_map(|(one, pole)| {
        let back = pole.opposite();
        let (other, _) =
            others.iter().find(|(other, its)| *other != one && *its == pole && joined(one, *other, back))?;
        let [one, other] = [one, *other].map(|source| job.part_label(source));
        Some(format!(
            "exchange what is on the two poles of {one} or of {other}: they stand against each other"
        ))
    })
}

/// Which end of a part with a polarity belongs on the other pole, where both lie on the same one.
fn on_one_pole(job: &Job, circuit: &Circuit, id: PartId, [plus, minus]: [TerminalId; 2]) -> Option<String> {
    let on: Vec<(PartId, Pole)> = [plus, minus].into_iter().flat_map(|end| circuit.hard_poles(end)).collect();
    let &(source, pole) = on.first()?;
    if !polarised(job, id) || on.iter().any(|other| *other != (source, pole)) {
        return None;
    }
    let (end, wanted) = if pole == Pole::Plus { (minus, Pole::Minus) } else { (plus, Pole::Plus) };
    let wanted = telling::pole(job, (source, wanted))?;
    Some(format!("find what is missing between {} and {}", job.label(end), job.label(wanted)))
}
