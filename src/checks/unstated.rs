//! Parts that do not say the figure on which their current depends, and the note of what waits for it.

use std::collections::BTreeMap;

use crate::circuit::{Circuit, PoleOf};
use crate::netlist::{Job, Kind, PartId, TerminalId};

use super::report::Report;

/// The silent parts through which current may flow.
pub(super) fn all<'j>(job: &'j Job, circuit: &'j Circuit) -> impl Iterator<Item = PartId> + 'j {
    let carries = |id: PartId| match &job.part(id).kind {
        Kind::Resistor(resistor) => {
            let [a, b] = resistor.between.map(|end| poles(circuit, end, id));
            a.iter().any(|pole| b.iter().any(|other| other != pole))
        }
        _ => !circuit.feeds(id).ways.is_empty(),
    };
    job.part_ids().map(|(id, _)| id).filter(move |id| job.part(*id).kind.is_silent() && carries(*id))
}

/// The poles to which a terminal leads by any way but through the part.
fn poles(circuit: &Circuit, at: TerminalId, without: PartId) -> Vec<PoleOf> {
    let levels = circuit.levels(at).ways;
    let hard =
        levels.iter().filter(|level| !level.parts.contains(&without)).flat_map(|level| level.poles.iter());
    hard.copied().chain(circuit.soft_poles(at, without)).collect()
}

/// What such a part keeps to itself: `H1 has no amps`.
pub(super) fn missing(job: &Job, id: PartId) -> String {
    let figure = if matches!(job.part(id).kind, Kind::Resistor(_)) { "ohms" } else { "amps" };
    format!("{} has no {figure}", job.part_label(id))
}

/// Says that the rule at work could not look at what depends on a silent part.
pub(super) fn tell(job: &Job, id: PartId, report: &mut Report) {
    let fix = match job.part(id).kind {
        Kind::Resistor(_) => "write `ohms:` for it, as it is marked",
        _ => "write `amps:`, `ohms:` or `watts:` for it, as its label says",
    };
    let device = job.part(id).device;
    report.not_checked(missing(job, id), fix).at(job.device(device).place, "").about(device);
}

/// The silent parts of a job by what hangs together without the poles of sources.
pub(super) struct Branches(BTreeMap<u32, Vec<PartId>>);

impl Branches {
    pub(super) fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut branches: BTreeMap<u32, Vec<PartId>> = BTreeMap::new();
        for id in all(job, circuit) {
            for branch in circuit.branches(&job.part(id).kind.terminals()) {
                branches.entry(branch).or_default().push(id);
            }
        }
        Self(branches)
    }

    /// Those on which the volts between some terminals depend.
    pub(super) fn around(&self, circuit: &Circuit, ends: &[TerminalId]) -> Vec<PartId> {
        let mut parts: Vec<PartId> = circuit
            .branches(ends)
            .iter()
            .filter_map(|branch| self.0.get(branch))
            .flatten()
            .copied()
            .collect();
        parts.sort_unstable();
        parts.dedup();
        parts
    }
}
