//! One pole of a part is wired, the other leads nowhere.
//!
//! ## On site
//!
//! The part stays dead though one core measures right: there is no way back to the source.
//!
//! ## Why
//!
//! Current flows only round a whole circuit. A core that was cut, forgotten or landed one terminal too far leaves it open.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1:
//!     type: twin-0.5
//!     cores: {red: [G1.V+, H1.V+], black: [H1.V-, taped]}
//! ```
//!
//! ## Cure
//!
//! Bring the open pole back to the source that the other comes from.
//!
//! ## Limits
//!
//! It is told of loads and coils that no state feeds, one pole of which some state joins to a source while no state puts
//! the other on a pole of any. Where a fuse, a contact or a supply close by has nothing on one side, the fix names it as the
//! likely gap. Parts that are `existing` are not asked for. What a relay that watches one supply joins to
//! another while the first is lost counts as fed.
//!
//! Parts that hang on one conductor without a source are one finding, and so is what stays dead because their relays do. Where
//! several of them meet there and have one kind of pole on all other sides, no way through one another counts as feeding.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::Circuit;
use crate::netlist::{Core, CoreId, DeviceId, Job, PartId, Pole, StateWord, TerminalId};

use super::astray::astray;
use super::closing::{never_closes, only_holds_itself};
use super::fed::{Starved, starved, tell_unknown};
use super::loose::gap;
use super::lost_feed::{POINTED_AT, Rails, groups, names};
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    tell_unknown(job, circuit, report);
    let starved = starved(job, circuit);
    if starved.is_empty() {
        return;
    }
    let rails = Rails::of(job, circuit);
    let (loose, switched) = (left_loose(job), switched(job));
    for group in groups(job, circuit, &starved, &open_end) {
        let Some(&(first, open)) = group.hanging.first() else { continue };
        let dead = &starved[first];
        let other = dead.ends[usize::from(dead.ends[0] == open)];
        let ends: Vec<TerminalId> = group.hanging.iter().map(|(_, end)| *end).collect();
        let spot = rails.spot(job, circuit, &ends);
        let [open_end, other_end] = [open, other].map(|end| job.label(end));
        let hanging = names(job, group.hanging.iter().map(|(n, _)| starved[*n].part));
        let behind = names(job, group.behind.iter().map(|n| starved[*n].part));
        let behind = match (behind.is_empty(), ends.len()) {
            (true, _) => String::new(),
            (false, 1) => format!("; with it {behind}"),
            (false, _) => format!("; with them {behind}"),
        };
        let message = match (ends.len(), spot) {
            (1, _) => format!(
                "{hanging} stays dead: {open_end} leads back to no source, though {other_end} is on one{behind}"
            ),
            (_, Some(spot)) => format!(
                "{hanging} stay dead: {}, by which they would be fed, is on no source{behind}",
                job.label(spot)
            ),
            (_, None) => format!(
                "{hanging} stay dead: {open_end} and all that it is joined to lead back to no source{behind}"
            ),
        };
        let wanted = wanted(circuit, &starved, &group.hanging);
        let at = spot.unwrap_or(open);
        let fix = astray(job, circuit, landings, open, &wanted, report)
            .or_else(|| rails.move_to(job, circuit, landings, at, &wanted))
            .or_else(|| {
                let mut missing = || gap(job, circuit, dead, spot, report);
                if only_holds_itself(job, circuit, dead.part) {
                    missing().or_else(|| never_closes(job, circuit, dead.part))
                } else {
                    never_closes(job, circuit, dead.part).or_else(missing)
                }
            })
            .or_else(|| land_loose(job, circuit, &loose, open, &wanted))
            .or_else(|| rails.link_to(job, circuit, at, &wanted))
            .unwrap_or_else(|| {
                let named = |id: PartId| [None, Some(id)].map(|part| (job.part(id).device, part));
                let is_switched = |id| named(id).iter().any(|named| switched.contains(named));
                let by = if group.hanging.iter().any(|(n, _)| is_switched(starved[*n].part)) {
                    ", by way of what is to switch it"
                } else {
                    ""
                };
                format!("{}{by}", bring(job, at, other, &wanted))
            });
        let draft = report.find(message, fix);
        draft.at(telling::landing(job, landings, open), "leads nowhere");
        draft.at(telling::landing(job, landings, other), "").about(open);
        for &(n, end) in group.hanging.iter().skip(1).take(POINTED_AT) {
            draft.at(telling::landing(job, landings, end), "").about(job.part(starved[n].part).device);
        }
        for n in group.hanging.iter().map(|(n, _)| n).chain(&group.behind) {
            draft.about(job.part(starved[*n].part).device).of(starved[*n].part);
        }
    }
}

/// What some line of cause and effect wants dead, so that something is to switch it.
fn switched(job: &Job) -> BTreeSet<(DeviceId, Option<PartId>)> {
    let effects = job.cause_and_effect.iter().flat_map(|line| &line.then);
    let off = effects.filter(|effect| matches!(effect.state, StateWord::Dead | StateWord::AtRest));
    off.map(|effect| (effect.device, effect.part)).collect()
}

/// The end of a part that leads nowhere, where the other is on a source.
pub(super) fn open_end(starved: &Starved) -> Option<TerminalId> {
    let open = match (starved.reaches, starved.hard) {
        ([true, _], [_, false]) if starved.hard[0] || !starved.reaches[1] => 1,
        ([_, true], [false, _]) if starved.hard[1] || !starved.reaches[0] => 0,
        _ => return None,
    };
    Some(starved.ends[open])
}

/// The poles that what hangs on a lost feed wants: the opposite ones of those that its other ends are on.
fn wanted(
    circuit: &Circuit,
    starved: &[Starved],
    hanging: &[(usize, TerminalId)],
) -> BTreeSet<(PartId, Pole)> {
    let others = hanging.iter().map(|(n, open)| {
        let ends = starved[*n].ends;
        ends[usize::from(ends[0] == *open)]
    });
    let poles: Vec<(PartId, Pole)> =
        others.take(POINTED_AT).flat_map(|end| circuit.hard_poles(end)).collect();
    let has = |pole| poles.iter().any(|(_, its)| *its == pole);
    // Ends on both poles leave open which one is wanted.
    if has(Pole::Plus) == has(Pole::Minus) {
        return BTreeSet::new();
    }
    poles.into_iter().map(|(source, pole)| (source, pole.opposite())).collect()
}

/// A core of which one end is on a terminal and the other, as named, on none.
struct Loose {
    core: CoreId,
    at: TerminalId,
    end: &'static str,
}

fn left_loose(job: &Job) -> Vec<Loose> {
    let one_ended = |(core, is): (CoreId, &Core)| match is.ends.map(|end| end.to.terminal()) {
        [Some(at), None] => Some(Loose { core, at, end: "far" }),
        [None, Some(at)] => Some(Loose { core, at, end: "near" }),
        _ => None,
    };
    job.core_ids().filter_map(one_ended).collect()
}

/// What to do where a core comes from the open end, or from a pole that is wanted, and is left loose at its other end.
fn land_loose(
    job: &Job,
    circuit: &Circuit,
    loose: &[Loose],
    open: TerminalId,
    wanted: &BTreeSet<(PartId, Pole)>,
) -> Option<String> {
    let poles: Vec<TerminalId> = wanted.iter().filter_map(|pole| telling::pole(job, *pole)).collect();
    let [pole] = poles[..] else { return None };
    let (lost, live) = (circuit.net_of(open), circuit.past_fuses(pole));
    let only = |leads: &dyn Fn(TerminalId) -> bool| {
        let mut all = loose.iter().filter(|loose| leads(loose.at));
        all.next().filter(|_| all.next().is_none())
    };
    let (loose, to) = match only(&|at| circuit.net_of(at) == lost) {
        Some(loose) => (loose, pole),
        None => (only(&|at| circuit.past_fuses(at) == live)?, open),
    };
    let (core, end, to) = (job.core_label(loose.core), loose.end, job.label(to));
    Some(format!("land the {end} end of {core}, which is left loose, on {to}"))
}

fn bring(job: &Job, spot: TerminalId, other: TerminalId, wanted: &BTreeSet<(PartId, Pole)>) -> String {
    let mut poles = wanted.iter().filter_map(|pole| telling::pole(job, *pole));
    match (poles.next(), poles.next()) {
        (Some(pole), None) => format!("bring {} to {}", job.label(spot), job.label(pole)),
        _ => format!(
            "bring {} to the other pole of the source that {} is on",
            job.label(spot),
            job.label(other)
        ),
    }
}
