//! Volts reach an input that wants a volt-free contact.
//!
//! ## On site
//!
//! The input's electronics are destroyed, or it operates by itself.
//!
//! ## Why
//!
//! A dry input brings its own small volts to find out whether a contact is closed. Any other source on either side of it
//! drives current into its electronics.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W3: {type: twin-0.5, cores: {red: [K1.NO1, A1.3], black: [G1.V-, A1.4]}}    # A1.3 and A1.4 are dry
//! ```
//!
//! ## Cure
//!
//! Bring both cores of the input to a contact that nothing else is wired to.
//!
//! ## Limits
//!
//! A pole that the device's own `bridges` tie to one side is the device's own and is not told, unless a conductor brings it
//! to that side itself. Only hard paths count; what
//! a resistor or load may bring is not looked at.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landings, PoleOf};
use crate::netlist::{DryInput, Job, Kind, PartId, TerminalId};

use super::far_ends::{other_ends, reach};
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let turned = report.told_by("reversed-polarity");
    for (id, part) in job.part_ids() {
        let Kind::DryInput(dry) = &part.kind else { continue };
        let own = own_poles(job, circuit, landings, id, dry);
        let wrong = dry.between.iter().find_map(|&side| {
            let mut levels = circuit.levels(side).ways;
            levels.sort_by_key(|level| level.needs.len());
            levels.into_iter().find_map(|level| {
                let pole = *level.poles.iter().find(|pole| !own.contains(pole))?;
                let state = circuit.sound(&level.needs, side).state()?;
                Some((side, level, pole, state))
            })
        });
        let Some((side, level, pole, state)) = wrong else { continue };
        let words = circuit.when(&level.needs, &state);
        let from = telling::pole(job, pole);
        let path = telling::hops(job, circuit, &level.needs, &level.parts, from, side);
        let message = format!(
            "{} wants a volt-free contact, but {} reaches it{}: {path}",
            job.part_label(id),
            from.map(|t| job.label(t)).unwrap_or_default(),
            telling::clause(words.as_deref()),
        );
        let draft = report
            .find(message, format!("bring {} to a contact that nothing else is wired to", job.label(side)));
        draft
            .at(telling::landing(job, landings, side), "")
            .at(job.part(pole.0).place, "")
            .about(side)
            .about(job.part(pole.0).device)
            .of(id);
        draft.follows = on_turned_load(job, dry, &turned);
        if let Some(words) = words {
            draft.when(words);
        }
    }
}

/// Whether a side of an input is bridged to a load that is fed the wrong way round: what reaches it comes of that.
fn on_turned_load(job: &Job, dry: &DryInput, turned: &BTreeSet<PartId>) -> bool {
    let bridged =
        dry.between.iter().flat_map(|side| job.parts_on(*side)).filter_map(|(_, part)| match &part.kind {
            Kind::Bridge(joined) => Some(joined.iter()),
            _ => None,
        });
    bridged.flatten().flat_map(|at| job.parts_on(*at)).any(|(id, _)| turned.contains(&id))
}

/// The poles that the device itself ties to one of the two sides, by way of another terminal that is wired or bears a
/// source; those apart that a conductor on the side itself brings.
fn own_poles(job: &Job, circuit: &Circuit, landings: &Landings, id: PartId, dry: &DryInput) -> Vec<PoleOf> {
    let device = job.device(job.part(id).device);
    let mut poles = Vec::new();
    for other in device.parts.iter().filter_map(|p| job.parts.get(p as usize)) {
        let Kind::Bridge(joined) = &other.kind else { continue };
        if !dry.between.iter().any(|side| joined.contains(side)) {
            continue;
        }
        let outside = |side: bool| {
            let near = joined.iter().filter(|t| dry.between.contains(t) == side);
            let far: Vec<TerminalId> = near
                .flat_map(|t| landings.on(*t))
                .flat_map(|landing| other_ends(job, *landing))
                .filter(|t| !joined.contains(t))
                .collect();
            reach(job, landings, &far, &|t| joined.contains(&t))
        };
        let (on_side, on_others) = (outside(true), outside(false));
        let brought = |pole: &PoleOf| {
            telling::pole(job, *pole).is_some_and(|at| on_side.contains(&at) && !on_others.contains(&at))
        };
        for terminal in joined.iter().filter(|t| !dry.between.contains(t)) {
            let bears = device.parts.iter().filter_map(|p| job.parts.get(p as usize)).any(|part| {
                matches!(&part.kind, Kind::Source(source) if [source.plus, source.minus].contains(terminal))
            });
            if bears || landings.wired(*terminal) {
                for level in circuit.levels(*terminal).ways {
                    poles.extend(level.poles.iter().copied().filter(|pole| bears || !brought(pole)));
                }
            }
        }
    }
    poles
}
