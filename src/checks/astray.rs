//! A part that lacks a pole while a signal's terminal of the same device is on it: its core landed there, or the two cores have
//! changed places.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing, Landings};
use crate::netlist::{Job, Kind, PartId, Pole, TerminalId};

use super::far_ends::{other_ends, reach};
use super::report::Report;
use super::telling;

/// What to exchange or to move so that `open` comes to one of the poles that it wants.
pub(super) fn astray(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    open: TerminalId,
    wanted: &BTreeSet<(PartId, Pole)>,
    report: &mut Report,
) -> Option<String> {
    let poles = wanted.iter().filter_map(|pole| telling::pole(job, *pole));
    let poles: BTreeSet<u32> = poles.map(|at| circuit.past_fuses(at)).collect();
    let device = job.device(job.terminal(open).device);
    let signals = device.parts.iter().map(PartId).flat_map(|id| {
        let ends = match &job.part(id).kind {
            Kind::Analogue(end) => vec![end.plus],
            Kind::Output(output) => vec![output.at],
            Kind::SignalPair(pair) => vec![pair.a, pair.b],
            _ => Vec::new(),
        };
        ends.into_iter().map(move |at| (id, at))
    });
    let (signal, other) = signals
        .filter(|(_, at)| *at != open && job.parts_on(*at).count() == 1)
        .find(|(_, at)| poles.contains(&circuit.past_fuses(*at)))?;
    let from_pole =
        *landings.on(other).iter().max_by_key(|landing| leads_past(job, landings, other, **landing))?;
    let what = telling::conductor(job, from_pole);
    let [to, from] = [open, other].map(|at| job.label(at));
    let fix = match telling::landed(job, landings, open) {
        Some(here) => format!("exchange {here} at {to} and {what} at {from}"),
        None => format!("move {what} from {from} to {to}"),
    };
    report.names_gap([signal]);
    Some(fix)
}

/// Whether a conductor leads from a terminal to a pole or a fuse without coming back to it.
fn leads_past(job: &Job, landings: &Landings, from: TerminalId, landing: Landing) -> bool {
    let far: Vec<TerminalId> = other_ends(job, landing).into_iter().filter(|end| *end != from).collect();
    let reached = reach(job, landings, &far, &|at| at == from);
    reached
        .iter()
        .filter(|at| **at != from)
        .any(|at| job.parts_on(*at).any(|(_, part)| matches!(part.kind, Kind::Source(_) | Kind::Fuse(_))))
}
