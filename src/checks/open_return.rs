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
//! Land the core that is left loose, or find what is missing on the way back to the source that the other pole comes from;
//! never past the contact or fuse that belongs on that way.
//!
//! ## Limits
//!
//! It is told of loads and coils that no state feeds, one pole of which some state joins to a source while no state puts
//! the other on a pole of any. A change of the wiring that the fix names was tried: on a copy of the job nothing is wrong after
//! it that was not before, and it leads past no contact and no fuse. Where none was found, and a fuse, a contact or a supply
//! close by has nothing on one side, the fix names that as the likely gap. Parts that are `existing` are not asked for. What a relay that watches one supply joins to
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
use crate::netlist::{Job, PartId, Pole, TerminalId};

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
        let fix = astray(job, circuit, landings, open, &wanted, report).or_else(|| {
            let mut missing = || gap(job, circuit, dead, spot, report);
            if only_holds_itself(job, circuit, dead.part) {
                missing().or_else(|| never_closes(job, circuit, dead.part))
            } else {
                never_closes(job, circuit, dead.part).or_else(missing)
            }
        });
        let fix = fix.unwrap_or_else(|| {
            let mut poles = wanted.iter().filter_map(|pole| telling::pole(job, *pole));
            let pole = match (poles.next(), poles.next()) {
                (Some(pole), None) => job.label(pole),
                _ => format!("the other pole of the source that {other_end} is on"),
            };
            format!("find what is missing between {} and {pole}", job.label(spot.unwrap_or(open)))
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
