//! Whether a load or coil is ever fed, for the rules that tell why not.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Feed, Signal};
use crate::netlist::{Current, DeviceId, Job, Kind, PartId, TerminalId};

use super::report::Report;
use super::telling;

/// A load or coil that no state feeds.
pub(super) struct Starved {
    pub(super) part: PartId,
    pub(super) ends: [TerminalId; 2],
    /// Whether each end is on a path to a pole in some state.
    pub(super) reaches: [bool; 2],
    /// Whether that path is hard.
    pub(super) hard: [bool; 2],
}

/// The loads and coils that this job asks for and that no state feeds, those apart of which nothing can be said.
pub(super) fn starved(job: &Job, circuit: &Circuit) -> Vec<Starved> {
    job.part_ids().filter_map(|(id, _)| starves(job, circuit, id)).collect()
}

/// Whether a load or coil is fed in no state.
pub(super) fn starves(job: &Job, circuit: &Circuit, id: PartId) -> Option<Starved> {
    let ends = job.part(id).kind.load_ends()?;
    let feeds = circuit.feeds(id);
    let never = !job.part(id).existing
        && !telling::unused(job, id)
        && feeds.complete
        && (circuit.fed_by_the_lost(job, ends)
            || !feeds.ways.iter().any(|feed| comes_about(job, circuit, feed)))
        && circuit.sound(&[], ends[0]).state().is_some()
        && dark(circuit, id, ends).is_none();
    never.then(|| {
        let hard = ends.map(|end| {
            circuit.levels(end).ways.iter().any(|level| circuit.sound(&level.needs, end).state().is_some())
        });
        let reaches = [0, 1].map(|n| hard[n] || circuit.has_soft_pole(ends[n], id));
        Starved { part: id, ends, reaches, hard }
    })
}

/// Whether a way of feeding something comes about in some state, be it that in which another source is lost.
pub(super) fn comes_about(job: &Job, circuit: &Circuit, feed: &Feed) -> bool {
    circuit.reachable(&feed.needs).state().is_some()
        || circuit.when_lost(job, &feed.needs, &feed.sources).is_some()
}

/// Whether a source gives DC.
pub(super) fn is_dc(job: &Job, source: PartId) -> bool {
    matches!(&job.part(source).kind, Kind::Source(source) if source.current == Current::Dc)
}

/// Whether diodes make DC of what a way lets through.
pub(super) fn rectified(job: &Job, feed: &Feed) -> bool {
    feed.parts.iter().any(|part| matches!(job.part(*part).kind, Kind::Diode(_)))
}

/// Whether some way of giving an input its active level comes about in some state, be it that in which another source is
/// lost.
pub(super) fn made_active(job: &Job, circuit: &Circuit, signal: &Signal) -> bool {
    signal.active.iter().any(|way| {
        circuit.reachable(&way.needs).state().is_some()
            || circuit.when_lost(job, &way.needs, &[way.pole.0, way.common.0]).is_some()
    })
}

/// Whether two terminals are joined in some state, be it that in which a source is lost, or too many ways lead from one to the
/// other to say no.
pub(super) fn closes(job: &Job, circuit: &Circuit, [a, b]: [TerminalId; 2]) -> bool {
    let joins = circuit.joins(a, b);
    !joins.complete
        || joins.ways.iter().any(|(needs, _)| {
            circuit.reachable(needs).state().is_some() || circuit.when_lost(job, needs, &[]).is_some()
        })
}

/// Whether some of these ways in are the one way round and some the other, so that nothing with a polarity may lie across
/// the part.
pub(super) fn both_ways<'c>(mut feeds: impl Iterator<Item = &'c Feed> + Clone) -> bool {
    feeds.clone().any(|feed| feed.forward) && feeds.any(|feed| !feed.forward)
}

fn dark(circuit: &Circuit, id: PartId, ends: [TerminalId; 2]) -> Option<TerminalId> {
    ends.iter().find_map(|end| circuit.dark_end(*end, id))
}

/// Says of the loads and coils that might be fed by what is not known that they were not checked.
pub(super) fn tell_unknown(job: &Job, circuit: &Circuit, report: &mut Report) {
    for (id, part) in job.part_ids() {
        let Some(ends) = job.part(id).kind.load_ends() else { continue };
        let feeds = circuit.feeds(id);
        if part.existing || telling::unused(job, id) || feeds.ways.iter().any(|f| f.hard) {
            continue;
        }
        let (missing, fix) = if let Some(end) = dark(circuit, id, ends) {
            (
                format!(
                    "{} is wired to {}, and what lies behind that is not known",
                    job.part_label(id),
                    job.label(end)
                ),
                "give that device sections that say what lies between its terminals",
            )
        } else if !feeds.complete {
            (
                format!("too many ways lead to {} to follow them all", job.part_label(id)),
                "measure its volts in each state",
            )
        } else {
            continue;
        };
        report.not_checked(missing, fix).at(job.device(part.device).place, "").about(part.device);
    }
}

/// Whether the supply of the device that an input or a signal belongs to is at fault where its common lies: then the
/// input says nothing new.
pub(super) fn common_starves(job: &Job, circuit: &Circuit, device: DeviceId, common: TerminalId) -> bool {
    job.device(device).parts.iter().map(PartId).any(|id| {
        matches!(job.part(id).kind, Kind::Load(_) | Kind::Coil(_))
            && job
                .part(id)
                .kind
                .load_ends()
                .is_some_and(|ends| ends.iter().any(|e| circuit.joined_past_fuses(*e, common)))
            && starves(job, circuit, id).is_some()
    })
}

/// Whether one of these parts, which are fed the wrong way round, is of the device that an input belongs to and lies on its
/// common: then the common lies on the wrong pole with it, and the input says nothing new.
pub(super) fn common_turned(
    job: &Job,
    circuit: &Circuit,
    reversed: &BTreeSet<PartId>,
    device: DeviceId,
    common: TerminalId,
) -> bool {
    let lies_on_it =
        |[a, b]: [TerminalId; 2]| [a, b].into_iter().any(|end| circuit.joined_past_fuses(end, common));
    job.device(device)
        .parts
        .iter()
        .map(PartId)
        .any(|id| reversed.contains(&id) && job.part(id).kind.load_ends().is_some_and(lies_on_it))
}
