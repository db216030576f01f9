//! The most that each cable loses: worked out only for those who ask for it, as the survey is.

use std::collections::BTreeSet;

use crate::netlist::{CableId, CoreId, Job};
use crate::units::{Celsius, Volts};

use super::survey::{Worst, for_each_solution, for_each_system, keep};
use super::{Circuit, State};

/// What a cable loses there and back.
#[derive(Clone, Debug)]
pub struct CableLoss {
    /// The drops of its outgoing and its return core together.
    pub volts: Volts,
    /// The states of the two drops; fewer where only one core, or none, carries current.
    pub states: Vec<State>,
}

/// The largest drops of all states.
#[derive(Clone, Debug)]
pub struct Losses {
    /// By core that belongs to a system with a source: what it loses from its near end to the far one, and the other way.
    cores: Vec<Option<[Option<Worst<Volts>>; 2]>>,
    /// Cores that carry current and whose resistance is not known.
    unknown: BTreeSet<CoreId>,
}

impl Losses {
    pub(super) fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut losses = Self { cores: vec![None; job.cores.len()], unknown: BTreeSet::new() };
        for_each_system(job, |solver, at, work| {
            let cores = solver.cores_around(at);
            for_each_solution(job, circuit, solver, at, work, &mut |solution, case| {
                let [amps, _] = solution.amps_around(at);
                for (core, amps) in cores.iter().zip(amps) {
                    let Some(amps) = amps.get() else { continue };
                    let lost = losses.cores[core.index()].get_or_insert_default();
                    match solver.core_ohms(*core, Celsius(20.0)).map(|ohms| amps * ohms.0) {
                        Some(volts) => {
                            keep(&mut lost[usize::from(volts < 0.0)], Volts(volts.abs()), case.state);
                        }
                        None if amps.abs() > 1e-9 => {
                            losses.unknown.insert(*core);
                        }
                        None => {}
                    }
                }
            });
        });
        losses
    }

    /// The most that a cable loses in one outgoing and one return core, each in its worst state; `None` where the
    /// resistance of a core that carries current is not known, or no source is on any of its cores.
    #[must_use]
    pub fn cable(&self, job: &Job, cable: CableId) -> Option<CableLoss> {
        let cores: Vec<CoreId> = job.cable(cable).cores.iter().map(CoreId).collect();
        if cores.iter().any(|core| self.unknown.contains(core)) {
            return None;
        }
        let both = |core: &CoreId| self.cores.get(core.index())?.as_ref();
        let lost = |core: &CoreId, back: bool| both(core)?[usize::from(back)].as_ref();
        let mut best: Option<CableLoss> = None;
        for there in &cores {
            let out = lost(there, false);
            let back = cores
                .iter()
                .filter(|core| *core != there)
                .filter_map(|core| lost(core, true))
                .reduce(|a, b| if b.value > a.value { b } else { a });
            for both in [vec![out, back], vec![lost(there, true)]] {
                let both: Vec<_> = both.into_iter().flatten().filter(|worst| worst.value.0 > 0.0).collect();
                let volts = Volts(both.iter().map(|worst| worst.value.0).sum());
                if best.as_ref().is_none_or(|before| volts.0 > before.volts.0 + 1e-12) {
                    best = Some(CableLoss { volts, states: both.iter().map(|w| w.state.clone()).collect() });
                }
            }
        }
        best.filter(|_| cores.iter().any(|core| both(core).is_some()))
    }
}
