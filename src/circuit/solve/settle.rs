//! Coils that follow the volts they get, and entries that follow an input, until everything stands still.

use crate::netlist::{Coil, Job, Kind};

use super::super::Circuit;
use super::super::movers::{MovedBy, Mover, MoverId, State};
use super::{Ask, Solution, Solver};

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

/// Lets every coil follow its solved volts and every entry that an input drives that input, one change at a time, from
/// a given state in which the world stands already. `ask` gives the conditions; its `operated` is not looked at.
///
/// `circuit` says what moves together; its wiring is not looked at, so that a job with a fault in it can be settled with
/// the circuit of the sound one.
#[must_use]
pub fn settle(job: &Job, circuit: &Circuit, solver: &Solver, state: &State, ask: &Ask) -> Settled {
    let mut state = state.clone();
    let mut seen: Vec<State> = vec![state.clone()];
    let mut changes: Vec<MoverId> = Vec::new();
    let followers: Vec<(MoverId, &Mover)> =
        (0..).map(MoverId).zip(circuit.movers()).filter(|(_, mover)| mover.by != MovedBy::World).collect();
    if followers.is_empty() {
        return Settled { state, chatter: Vec::new() };
    }
    loop {
        let now = state.clone();
        let operated = |part| circuit.mover_of(part).is_some_and(|mover| now.operated(mover));
        let solution = solver.solve(&Ask { operated: &operated, ..*ask });
        let change = followers.iter().find_map(|(id, mover)| change(job, &solution, &now, *id, mover));
        let Some(change) = change else { return Settled { state, chatter: Vec::new() } };
        state.set(change.mover, change.operated);
        if let Some(fed) = change.fed {
            state.feed(change.mover, fed);
        }
        changes.push(change.mover);
        if let Some(before) = seen.iter().position(|earlier| *earlier == state) {
            return Settled { state, chatter: changes.split_off(before) };
        }
        seen.push(state.clone());
    }
}

/// What a mover does next.
struct Change {
    mover: MoverId,
    operated: bool,
    /// For a latching coil: whether it is fed now.
    fed: Option<bool>,
}

/// What a mover does under the volts of a solution; `None` if it stays.
fn change(job: &Job, solution: &Solution, now: &State, id: MoverId, mover: &Mover) -> Option<Change> {
    let is = now.operated(id);
    match mover.by {
        MovedBy::World => None,
        MovedBy::Coil(coil) => {
            let Kind::Coil(coil) = &job.part(coil).kind else { return None };
            let volts = solution.between(coil.plus, coil.minus).map_or(0.0, |volts| volts.0);
            if let Some(reset) = mover.reset {
                let Kind::Coil(reset) = &job.part(reset).kind else { return None };
                let volts_of =
                    |coil: &Coil| solution.between(coil.plus, coil.minus).map_or(0.0, |volts| volts.0);
                let (set, reset) = (pulled(coil, volts, false), pulled(reset, volts_of(reset), false));
                return (set != reset && set != is).then_some(Change { mover: id, operated: set, fed: None });
            }
            if mover.latching {
                let was = now.fed().binary_search(&id).is_ok();
                let fed = pulled(coil, volts, was);
                let operated = if fed { !is } else { is };
                return (fed != was).then_some(Change { mover: id, operated, fed: Some(fed) });
            }
            let operated = pulled(coil, volts, is);
            (operated != is).then_some(Change { mover: id, operated, fed: None })
        }
        MovedBy::Input(input) => {
            let operated = solution.active(input);
            (operated != is).then_some(Change { mover: id, operated, fed: None })
        }
    }
}

/// Whether a coil is pulled in at those volts.
fn pulled(coil: &Coil, volts: f64, is: bool) -> bool {
    let volts = if coil.polarised { volts } else { volts.abs() };
    let (pulls, drops) =
        coil.volts.map_or((PULLS_IN, PULLS_IN), |rated| (rated.range.low.0, DROPS_OUT * rated.nominal.0));
    if is { volts >= drops } else { volts >= pulls }
}
