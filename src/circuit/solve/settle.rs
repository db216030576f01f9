//! Coils that follow the volts they get, until everything stands still.

use crate::netlist::{Coil, Job, Kind, PartId};

use super::super::Circuit;
use super::super::movers::{MovedBy, MoverId, State};
use super::{Ask, Solver};

/// A coil drops out below this share of its nominal volts. IEC 61810-1 asks a DC relay to let go at no less than 5 %;
/// makers print 10 %. Between that and its range a coil stays as it is.
const DROPS_OUT: f64 = 0.1;

/// The volts at which a coil without rated volts pulls in.
const PULLS_IN: f64 = 1.0;

/// How it ended.
#[derive(Clone, Debug)]
pub struct Settled {
    /// The state in which everything stands still, or the last one of the cycle.
    pub state: State,
    /// If nothing stands still: the movers that change over and over, in the order of one cycle.
    pub chatter: Vec<MoverId>,
}

/// Lets every coil follow its solved volts, one change at a time, from a given state in which the world stands
/// already. `ask` gives the conditions; its `operated` is not looked at.
#[must_use]
pub fn settle(job: &Job, circuit: &Circuit, solver: &Solver, state: &State, ask: &Ask) -> Settled {
    let mut state = state.clone();
    let mut seen: Vec<State> = vec![state.clone()];
    let mut changes: Vec<MoverId> = Vec::new();
    let coils: Vec<(MoverId, PartId)> = (0..)
        .map(MoverId)
        .zip(circuit.movers())
        .filter_map(|(id, mover)| match mover.by {
            MovedBy::Coil(coil) if !mover.latching => Some((id, coil)),
            _ => None,
        })
        .collect();
    loop {
        let now = state.clone();
        let operated = |part: PartId| circuit.mover_of(part).is_some_and(|mover| now.operated(mover));
        let solution = solver.solve(&Ask { operated: &operated, ..*ask });
        let change = coils.iter().find_map(|&(mover, id)| {
            let Kind::Coil(coil) = &job.part(id).kind else { return None };
            let volts = solution.between(coil.plus, coil.minus).map_or(0.0, |volts| volts.0);
            let is = now.operated(mover);
            (pulled(coil, volts, is) != is).then_some((mover, !is))
        });
        let Some((mover, to)) = change else { return Settled { state, chatter: Vec::new() } };
        state.set(mover, to);
        changes.push(mover);
        if let Some(before) = seen.iter().position(|earlier| *earlier == state) {
            return Settled { state, chatter: changes.split_off(before) };
        }
        seen.push(state.clone());
    }
}

/// Whether a coil is pulled in at those volts.
fn pulled(coil: &Coil, volts: f64, is: bool) -> bool {
    let volts = if coil.polarised { volts } else { volts.abs() };
    let (pulls, drops) =
        coil.volts.map_or((PULLS_IN, PULLS_IN), |rated| (rated.range.low.0, DROPS_OUT * rated.nominal.0));
    if is { volts >= drops } else { volts >= pulls }
}
