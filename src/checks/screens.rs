//! Where the screens of a job meet earth.

use std::collections::BTreeSet;

use crate::netlist::{CableId, CoreId, Job, Kind, TerminalId};

use super::far_ends::{reach, reach_by};
use super::lines::pairs;
use super::standing::{Standing, is_bond};
use crate::circuit::{Circuit, Landing};

/// Drains that are joined, and their bonds.
pub(super) struct Screen {
    /// The drains, in the order of the file.
    pub(super) drains: Vec<CoreId>,
    /// The bonds to earth that they meet, in the order of the job.
    pub(super) bonds: Vec<TerminalId>,
    /// A drain's end that lies on a leg of a signal pair, and the leg.
    pub(super) on_leg: Option<(CoreId, TerminalId)>,
}

/// Every screen of the job. Two that meet only at a bond are two screens.
pub(super) fn screens(job: &Job, circuit: &Circuit) -> Vec<Screen> {
    let landings = circuit.landings();
    let standing = Standing::of(job);
    let legs: BTreeSet<TerminalId> = pairs(job).flat_map(|(_, pair)| [pair.a, pair.b]).collect();
    let drains: BTreeSet<CoreId> = job.cables.iter().filter_map(|cable| cable.drain()).collect();
    let bond = |terminal: TerminalId| standing.on(terminal).iter().any(|part| is_bond(&job.part(*part).kind));
    let is_pole = |at: TerminalId| {
        job.parts_on(at).any(|(_, part)| matches!(part.kind, Kind::Source(_) | Kind::Fuse(_)))
    };
    let mut all: Vec<(Vec<TerminalId>, Screen)> = Vec::new();
    for cable in &job.cables {
        let Some(drain) = cable.drain() else { continue };
        let ends: Vec<TerminalId> = job.core(drain).ends.iter().filter_map(|end| end.to.terminal()).collect();
        let reached = reach(job, landings, &ends, &bond);
        // A leg that another core leads on is no return by way of the screen; one that is earthed of itself may be.
        let on_leg = ends.iter().find_map(|end| {
            let beside = reach_by(job, landings, &[*end], &bond, &|core| !drains.contains(&core));
            let leg = beside.iter().copied().find(|at| legs.contains(at))?;
            let leads_on = beside.iter().flat_map(|at| landings.on(*at)).any(|landing| match landing {
                Landing::Core(core, _) => !drains.contains(core),
                Landing::Link(_) => false,
            });
            let earthed = beside.iter().any(|at| bond(*at) || is_pole(*at));
            (leads_on && !earthed).then_some((drain, leg))
        });
        let inside = |at: &&TerminalId| !bond(**at);
        let known =
            all.iter_mut().find(|(other, _)| reached.iter().filter(inside).any(|at| other.contains(at)));
        match known {
            Some((_, screen)) => {
                screen.drains.push(drain);
                screen.on_leg = screen.on_leg.or(on_leg);
            }
            None => {
                let bonds = reached.iter().copied().filter(|at| bond(*at)).collect();
                all.push((reached, Screen { drains: vec![drain], bonds, on_leg }));
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
