//! A contact that stays closed holds an input that wants a pulse.
//!
//! ## On site
//!
//! The gate or drive takes the first command and then no other: it sees a button that nobody lets go of.
//!
//! ## Why
//!
//! An input declared `momentary` answers to a contact that closes and opens again within the time on its data sheet.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   K1: {type: relay-module, settings: {OUT1: {pulse: 10 s}}}    # A1 START wants 0.2 to 2 s
//! cables:
//!   W3: {type: twin-0.5, cores: {red: [K1.COM1, A1.3], black: [K1.NO1, A1.4]}}
//! ```
//!
//! ## Cure
//!
//! Set the output to a pulse of the right length and write it under `settings:`, or use a button that springs back.
//!
//! ## Limits
//!
//! Of the contacts in series on a path one that is operated for it and springs back is enough; a stop button, closed at rest,
//! is not. How long somebody holds a button is not known.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{Circuit, Need};
use crate::netlist::{Job, Kind, Meaning, PartId};
use crate::units::{Seconds, Span};

use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for (id, part) in job.part_ids() {
        let Kind::DryInput(dry) = &part.kind else { continue };
        let Some(range) = dry.momentary else { continue };
        let joins = circuit.joins(dry.between[0], dry.between[1]);
        let mut told: Vec<PartId> = Vec::new();
        for (needs, parts) in &joins.ways {
            let switches = || parts.iter().copied().filter(|p| circuit.mover_of(*p).is_some());
            let Some(first) = switches().next() else { continue };
            let lets_go = |contact| lets_go(job, circuit, contact, range);
            if told.contains(&first) || opens_again(circuit, needs, parts, &lets_go) {
                continue;
            }
            let Some(state) = circuit.sound(needs, dry.between[0]).state() else { continue };
            told.push(first);
            let (name, input) = (job.part_label(first), job.part_label(id));
            let setting = pulse(job, first);
            let message = match setting {
                Some((time, _)) => {
                    format!("{name} closes {input} for {time}, and {input} wants a pulse of {range}")
                }
                None => format!("{name} stays closed, and {input} wants a pulse of {range}"),
            };
            let fix = if setting.is_some() || is_set(job, first) {
                format!("set {name} to a pulse of {range} and write it under `settings:`")
            } else {
                format!(
                    "use a button that springs back, or a timer relay set to a pulse of {range}, written under its `settings:`"
                )
            };
            let draft = report.find(message, fix);
            let place = setting.map_or(job.device(job.part(first).device).place, |(_, place)| place);
            draft
                .at(place, "")
                .at(telling::landing(job, landings, dry.between[0]), "")
                .about(job.part(first).device)
                .about(dry.between[0]);
            if let Some(words) = circuit.when(needs, &state) {
                draft.when(words);
            }
        }
    }
}

/// Whether a contact belongs to a device that can be set: one that the circuit feeds as more than a plain coil.
fn is_set(job: &Job, contact: PartId) -> bool {
    let fed = |id: PartId| match &job.part(id).kind {
        Kind::Load(_) | Kind::Input(_) | Kind::DryInput(_) => true,
        Kind::Coil(coil) => coil.polarised,
        _ => false,
    };
    job.device(job.part(contact).device).parts.iter().map(PartId).any(fed)
}

/// Whether a way opens again by itself: a contact on it that must leave its rest for it springs back, or all of them do.
/// A break contact that stays closed at rest is no help to a switch in series with it.
fn opens_again(
    circuit: &Circuit,
    needs: &[Need],
    parts: &[PartId],
    springs_back: &dyn Fn(PartId) -> bool,
) -> bool {
    let rest = circuit.at_rest();
    let leaves_rest = |contact: PartId| {
        let need = needs.iter().find(|need| circuit.mover_of(contact) == Some(need.mover));
        need.is_some_and(|need| need.operated != rest.operated(need.mover))
    };
    let mut switches = parts.iter().copied().filter(|part| circuit.mover_of(*part).is_some()).peekable();
    if switches.peek().is_none() {
        return false;
    }
    let (spring, stay): (Vec<PartId>, Vec<PartId>) = switches.partition(|contact| springs_back(*contact));
    stay.is_empty() || spring.into_iter().any(leaves_rest)
}

/// Whether a contact opens again by itself within the range.
fn lets_go(job: &Job, circuit: &Circuit, contact: PartId, range: Span<Seconds>) -> bool {
    if let Some((time, _)) = pulse(job, contact) {
        return time >= range.low && time <= range.high;
    }
    springs_back(job, circuit, contact, 8)
}

/// Whether a contact is momentary, or moved by a coil that only momentary contacts feed. `depth` bounds relays that
/// feed relays.
fn springs_back(job: &Job, circuit: &Circuit, contact: PartId, depth: u8) -> bool {
    let Kind::Contact(is) = &job.part(contact).kind else { return false };
    if is.momentary {
        return true;
    }
    let Some(coil) = is.coil else { return false };
    let latching = matches!(&job.part(coil).kind, Kind::Coil(coil) if coil.latching);
    let feeds = &circuit.feeds(coil).ways;
    depth > 0
        && !latching
        && !feeds.is_empty()
        && feeds.iter().all(|feed| {
            circuit.reachable(&feed.needs).state().is_none()
                || opens_again(circuit, &feed.needs, &feed.parts, &|part| {
                    part != contact && springs_back(job, circuit, part, depth - 1)
                })
        })
}

/// The pulse that is set on a contact, or on the coil that moves it.
fn pulse(job: &Job, contact: PartId) -> Option<(Seconds, crate::source::Place)> {
    let coil = match &job.part(contact).kind {
        Kind::Contact(is) => is.coil,
        _ => None,
    };
    job.device(job.part(contact).device).settings.iter().find_map(|setting| match setting.meaning {
        Meaning::Pulse(time) if setting.part == Some(contact) || (coil.is_some() && setting.part == coil) => {
            Some((time, setting.place))
        }
        _ => None,
    })
}
