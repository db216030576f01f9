//! Where the screens of a job meet earth.

use crate::netlist::{CableId, CoreId, Job, TerminalId};

use super::far_ends::reach;
use super::standing::{Standing, is_bond};
use crate::circuit::Circuit;

/// Drains that are joined, and their bonds.
pub(super) struct Screen {
    /// The drains, in the order of the file.
    pub(super) drains: Vec<CoreId>,
    /// The bonds to earth that they meet, in the order of the job.
    pub(super) bonds: Vec<TerminalId>,
}

/// Every screen of the job. Two that meet only at a bond are two screens.
pub(super) fn screens(job: &Job, circuit: &Circuit) -> Vec<Screen> {
    let landings = circuit.landings();
    let standing = Standing::of(job);
    let bond = |terminal: TerminalId| standing.on(terminal).iter().any(|part| is_bond(&job.part(*part).kind));
    let mut all: Vec<(Vec<TerminalId>, Screen)> = Vec::new();
    for cable in &job.cables {
        let Some(drain) = cable.drain() else { continue };
        let ends: Vec<TerminalId> = job.core(drain).ends.iter().filter_map(|end| end.to.terminal()).collect();
        let reached = reach(job, landings, &ends, &bond);
        let inside = |at: &&TerminalId| !bond(**at);
        let known =
            all.iter_mut().find(|(other, _)| reached.iter().filter(inside).any(|at| other.contains(at)));
        match known {
            Some((_, screen)) => screen.drains.push(drain),
            None => {
                let bonds = reached.iter().copied().filter(|at| bond(*at)).collect();
                all.push((reached, Screen { drains: vec![drain], bonds }));
            }
        }
    }
    all.into_iter().map(|(_, screen)| screen).collect()
}

/// The cables of the drains in words: `W1`, `W1 and W2`.
pub(super) fn cables(job: &Job, screen: &Screen) -> String {
    let names: Vec<&str> =
        screen.drains.iter().map(|d| cable(job, *d)).map(|id| job.cable(id).name.as_str()).collect();
    super::report::listed(&names)
}

fn cable(job: &Job, drain: CoreId) -> CableId {
    job.core(drain).cable
}
