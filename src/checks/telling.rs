//! How the rules of the circuit name things.

use crate::circuit::{Circuit, Feed, Landing, Landings, Need, State};
use crate::netlist::{Active, Contacting, Form, Job, Kind, Meaning, PartId, Pole, TerminalId};
use crate::source::Place;

/// The terminal of a pole of a source.
pub(super) fn pole(job: &Job, (source, pole): (PartId, Pole)) -> Option<TerminalId> {
    match (&job.part(source).kind, pole) {
        (Kind::Source(source), Pole::Plus) => Some(source.plus),
        (Kind::Source(source), Pole::Minus) => Some(source.minus),
        _ => None,
    }
}

/// Whether conductors lead from a terminal to another device than splices and strips.
pub(super) fn leads_out(job: &Job, circuit: &Circuit, at: TerminalId) -> bool {
    let own = job.terminal(at).device;
    circuit.terminals_of(circuit.net_of(at)).iter().any(|other| {
        let device = job.terminal(*other).device;
        device != own && job.device(device).form == Form::Box
    })
}

/// Where something lands on a terminal, else its device.
pub(super) fn landing(job: &Job, landings: &Landings, at: TerminalId) -> Place {
    match landings.on(at).first() {
        Some(Landing::Core(core, end)) => job.core(*core).ends[usize::from(*end)].place,
        Some(Landing::Link(link)) => job.links[link.index()].place,
        None => job.device(job.terminal(at).device).place,
    }
}

/// What lands on a terminal, by its label: `W2 red`; `the link`.
pub(super) fn landed(job: &Job, landings: &Landings, at: TerminalId) -> Option<String> {
    landings.on(at).first().map(|landing| conductor(job, *landing))
}

/// A conductor by its label.
pub(super) fn conductor(job: &Job, landing: Landing) -> String {
    match landing {
        Landing::Core(core, _) => job.core_label(core),
        Landing::Link(_) => "the link".to_owned(),
    }
}

/// The way from a source's pole into a part, hop by hop.
pub(super) fn feed_in(job: &Job, circuit: &Circuit, id: PartId, feed: &Feed) -> String {
    let Some([plus, minus]) = job.part(id).kind.load_ends() else { return String::new() };
    let enters = if feed.forward { plus } else { minus };
    let source = feed.sources.first().and_then(|source| pole(job, (*source, feed.pole)));
    hops(job, circuit, &feed.needs, &feed.parts, source, enters)
}

/// A way hop by hop; only its ends if it cannot be followed.
pub(super) fn hops(
    job: &Job,
    circuit: &Circuit,
    needs: &[Need],
    parts: &[PartId],
    from: Option<TerminalId>,
    to: TerminalId,
) -> String {
    let Some(from) = from else { return job.label(to) };
    match circuit.follow(job, needs, parts, from, to) {
        Some(path) if !path.hops.is_empty() => path.words(job),
        _ if from == to => job.label(to),
        _ => format!("{} to {}", job.label(from), job.label(to)),
    }
}

/// ` with B1 operated`, ready to follow a word; empty if it is always so.
pub(super) fn clause(state: Option<&str>) -> String {
    state.map(|state| format!(" {state}")).unwrap_or_default()
}

/// A state in which a way comes about with no source near `at` shorted, and the state in words: a reachable one, or one
/// in which a source other than those of the way is lost.
pub(super) fn comes_about(
    job: &Job,
    circuit: &Circuit,
    needs: &[Need],
    at: TerminalId,
    by: &[PartId],
) -> Option<(State, Option<String>)> {
    if let Some(state) = circuit.sound(needs, at).state() {
        let words = circuit.when(needs, &state);
        return Some((state, words));
    }
    let (lost, state) = circuit.sound_when_lost(job, needs, by, at)?;
    let lost = job.part_label(lost);
    let words = match self::at(circuit, &state) {
        Some(words) => format!("with {lost} off, {words}"),
        None => format!("with {lost} off"),
    };
    Some((state, Some(words)))
}

/// What a setting says of the contact that an input expects, and where.
pub(super) fn expected_contact(job: &Job, id: PartId) -> Option<(Contacting, Place)> {
    job.device(job.part(id).device).settings.iter().find_map(|setting| match setting.meaning {
        Meaning::Contact(contact) if setting.part == Some(id) => Some((contact, setting.place)),
        _ => None,
    })
}

/// The nominal volts of sources in series; the first whose volts are not stated instead.
pub(super) fn volts(job: &Job, sources: &[PartId]) -> Result<f64, PartId> {
    sources
        .iter()
        .map(|&id| match &job.part(id).kind {
            Kind::Source(source) => source.volts.map(|v| v.0).ok_or(id),
            _ => Err(id),
        })
        .sum()
}

/// Sources by their labels: `G1`; `G1 and G2 in series`.
pub(super) fn sources(job: &Job, ids: &[PartId]) -> String {
    let names: Vec<String> = ids.iter().map(|id| job.part_label(*id)).collect();
    match names.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{} and {last} in series", first.join(", ")),
        _ => names.concat(),
    }
}

/// What makes an input operate, in words.
pub(super) fn level(active: Active) -> &'static str {
    match active {
        Active::Low => "0 V",
        Active::High => "plus",
        Active::Either => "the pole that its common is not on",
    }
}

/// Whether all of a part's terminals are marked unused.
pub(super) fn unused(job: &Job, id: PartId) -> bool {
    job.part(id).kind.terminals().iter().all(|t| job.unused(*t).is_some())
}

/// A state in words; `None` at rest.
pub(super) fn at(circuit: &Circuit, state: &State) -> Option<String> {
    (!state.at_rest()).then(|| circuit.words(state))
}
