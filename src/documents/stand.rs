//! The job with its world put into a condition and solved: what a meter shows there.

use std::sync::{Arc, OnceLock};

use crate::circuit::solve::{Ask, LOOP, Mains, Solution, Solver, settle};
use crate::circuit::{Circuit, Deed, MovedBy, MoverId, State};
use crate::netlist::{CauseLine, Condition, Current, Job, Kind, PartId, TerminalId};
use crate::units::Amps;

/// A job ready to be put into conditions. The job may have a fault in it that the circuit does not know of: of the
/// circuit only what moves together is used.
pub struct Stand<'a> {
    /// The job.
    pub job: &'a Job,
    circuit: &'a Circuit,
    solver: Arc<Solver<'a>>,
    /// Fuses that have blown and supplies that gave up, in whatever condition.
    lost: Vec<PartId>,
    rest: OnceLock<Pose>,
}

/// A condition of the world, and how the circuit stands in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Pose {
    /// The position of every contact, output and sensor.
    pub state: State,
    /// The sources that are off, and the fuses that have blown.
    pub off: Vec<PartId>,
    /// Whether everything came to stand still.
    pub still: bool,
    /// `at rest`, `with B1 operated and G2 off`.
    pub words: String,
}

/// Where the leads of a meter go, and what it is set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Probe {
    /// Volts of the first terminal against the second.
    Volts(TerminalId, TerminalId),
    /// Ohms between two terminals, all power off.
    Ohms(TerminalId, TerminalId),
    /// Amps through a fuse or out of a source.
    Amps(PartId),
}

/// A value with the lowest and highest that the stated limits of the sources make of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// At nominal volts.
    pub expect: f64,
    /// The lowest.
    pub low: f64,
    /// The highest.
    pub high: f64,
}

impl<'a> Stand<'a> {
    /// Makes a job ready.
    #[must_use]
    pub fn of(job: &'a Job, circuit: &'a Circuit) -> Self {
        Self { job, circuit, solver: Arc::new(Solver::of(job)), lost: Vec::new(), rest: OnceLock::new() }
    }

    /// The same job after some of its fuses have blown and supplies given up.
    #[must_use]
    pub fn without(&self, lost: &[PartId]) -> Self {
        let solver = Arc::clone(&self.solver);
        Self { job: self.job, circuit: self.circuit, solver, lost: lost.to_vec(), rest: OnceLock::new() }
    }

    /// The solver of the job.
    #[must_use]
    pub fn solver(&self) -> &Solver<'a> {
        &self.solver
    }

    /// Everything at rest, all sources on.
    #[must_use]
    pub fn rest(&self) -> Pose {
        let worked_out = || {
            let mut pose = Pose {
                state: self.circuit.unpowered(),
                off: self.lost.clone(),
                still: true,
                words: "at rest".to_owned(),
            };
            self.settle(&mut pose);
            pose
        };
        self.rest.get_or_init(worked_out).clone()
    }

    /// Everything at rest, all power off: no coil holds its contacts.
    #[must_use]
    pub fn unpowered(&self) -> Pose {
        let sources = self.job.part_ids().map(|(id, _)| id).filter(|id| is_source(self.job, *id));
        Pose {
            state: self.circuit.unpowered(),
            off: sources.collect(),
            still: true,
            words: "everything at rest".to_owned(),
        }
    }

    /// The job in a state of the circuit, all sources on.
    #[must_use]
    pub fn in_state(&self, state: State) -> Pose {
        let words = self.circuit.words(&state);
        Pose { state, off: Vec::new(), still: true, words }
    }

    /// The condition that a line of cause and effect asks for; `None` if part of it cannot be brought about by itself.
    #[must_use]
    pub fn cause(&self, line: &CauseLine) -> Option<Pose> {
        let mut pose = self.rest();
        for cause in line.first.iter().chain(&line.when) {
            if !self.put(&mut pose, cause) {
                return None;
            }
        }
        pose.words = self.job.cause_words(line);
        Some(pose)
    }

    /// The same condition of the world, for a job that may have got a fault: what follows is worked out again.
    #[must_use]
    pub fn again(&self, pose: &Pose) -> Pose {
        let powered = |(id, _): (PartId, _)| is_source(self.job, id) && !pose.off.contains(&id);
        if !self.job.part_ids().any(powered) {
            // Nothing follows: what a coil would move stands as it was held by hand.
            return pose.clone();
        }
        let mut state = self.circuit.unpowered();
        for (id, mover) in (0..).map(MoverId).zip(self.circuit.movers()) {
            if mover.by == MovedBy::World {
                state = self.circuit.put(&state, id, pose.state.operated(id));
            }
        }
        let mut again = Pose { state, off: pose.off.clone(), still: true, words: pose.words.clone() };
        self.settle(&mut again);
        again
    }

    /// Brings one condition about and lets everything follow.
    fn put(&self, pose: &mut Pose, cause: &Condition) -> bool {
        match self.circuit.deed(self.job, cause) {
            None => return false,
            Some(Deed::Switch(sources, on)) => {
                pose.off.retain(|id| self.lost.contains(id) || !sources.contains(id));
                if !on {
                    pose.off.extend(sources);
                }
                self.settle(pose);
            }
            Some(Deed::Move(movers, operated)) => {
                for mover in movers {
                    pose.state = self.circuit.put(&pose.state, mover, operated);
                    self.settle(pose);
                }
            }
        }
        true
    }

    fn settle(&self, pose: &mut Pose) {
        let idle = |_| false;
        let ask = Ask { off: &pose.off, ..Ask::new(&idle) };
        let settled = settle(self.job, self.circuit, &self.solver, &pose.state, &ask);
        pose.still &= settled.chatter.is_empty();
        pose.state = settled.state;
    }

    /// Looks at the whole job in a condition.
    pub fn look<T>(&self, pose: &Pose, look: impl FnOnce(&Solution) -> T) -> T {
        self.look_with(pose, LOOP[1], 0, look)
    }

    /// The same with the transmitters of all 4–20 mA loops at a current, in the turn of one of the sources that carry the
    /// loads one at a time.
    pub fn look_with<T>(
        &self,
        pose: &Pose,
        loops: Amps,
        turn: usize,
        look: impl FnOnce(&Solution) -> T,
    ) -> T {
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| pose.state.operated(m));
        look(&self.solver.solve(&Ask { off: &pose.off, loops, turn, ..Ask::new(&operated) }))
    }

    /// In how many turns to look at the whole job in a condition so that a charger and what it charges each carry the loads
    /// once.
    #[must_use]
    pub fn turns(&self, pose: &Pose) -> usize {
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| pose.state.operated(m));
        let ask = Ask { off: &pose.off, ..Ask::new(&operated) };
        let turns = self.charging().map(|(_, at)| self.solver.turns(at, &ask));
        turns.max().unwrap_or(1)
    }

    /// The sources that hang together with a terminal and carry the loads in a turn, see [`Solver::on_turn`].
    #[must_use]
    pub fn on_turn(&self, pose: &Pose, turn: usize, at: TerminalId) -> Vec<PartId> {
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| pose.state.operated(m));
        self.solver.on_turn(at, &Ask { off: &pose.off, turn, ..Ask::new(&operated) })
    }

    /// The chargers that share the loads with what they charge: with them off that carries the loads alone.
    #[must_use]
    pub fn chargers(&self) -> Vec<PartId> {
        let rest = self.rest();
        let charging: Vec<PartId> = self.charging().map(|(id, _)| id).collect();
        let shares = |(id, at): &(PartId, TerminalId)| {
            let turns: Vec<Vec<PartId>> =
                (0..self.turns(&rest)).map(|turn| self.on_turn(&rest, turn, *at)).collect();
            let without = |on: &Vec<PartId>| !on.is_empty() && !on.iter().any(|on| charging.contains(on));
            turns.iter().any(|on| on.contains(id)) && turns.iter().any(without)
        };
        self.charging().filter(shares).map(|(id, _)| id).collect()
    }

    /// The sources that charge others, with their plus.
    fn charging(&self) -> impl Iterator<Item = (PartId, TerminalId)> {
        self.job.part_ids().filter_map(|(id, part)| match &part.kind {
            Kind::Source(source) if source.charges => Some((id, source.plus)),
            _ => None,
        })
    }

    /// What a meter shows: volts and amps of an AC circuit without sign. `None` where nothing holds the points, and for
    /// ohms where they are not joined.
    #[must_use]
    pub fn read(&self, pose: &Pose, probe: Probe) -> Option<f64> {
        self.spread(pose, probe).map(|spread| spread.expect)
    }

    /// The same, with the lowest and the highest that the stated limits of the sources allow, whichever of those that
    /// carry the loads one at a time does.
    #[must_use]
    pub fn spread(&self, pose: &Pose, probe: Probe) -> Option<Spread> {
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| pose.state.operated(m));
        let plain = Ask { off: &pose.off, ..Ask::new(&operated) };
        if let Probe::Ohms(a, b) = probe {
            let ohms = self.ohms(pose, a, b)?;
            return Some(Spread { expect: ohms, low: ohms, high: ohms });
        }
        let at = match probe {
            Probe::Volts(a, _) | Probe::Ohms(a, _) => a,
            Probe::Amps(part) => *self.job.part(part).kind.terminals().first()?,
        };
        let ac = self.is_ac(at);
        let value = |mains, turn| {
            let solution = self.solver.solve_around(at, &Ask { mains, turn, ..plain });
            let value = match probe {
                Probe::Volts(a, b) => solution.between(a, b)?.0,
                Probe::Amps(part) => solution.part_amps(part)?.0,
                Probe::Ohms(..) => return None,
            };
            Some(if ac || matches!(probe, Probe::Amps(_)) { value.abs() } else { value })
        };
        let expect = value(Mains::Nominal, 0)?;
        let mut spread = Spread { expect, low: expect, high: expect };
        for turn in 0..self.solver.turns(at, &plain) {
            for mains in [Mains::Low, Mains::Nominal, Mains::High] {
                if let Some(value) = value(mains, turn) {
                    spread.low = spread.low.min(value);
                    spread.high = spread.high.max(value);
                }
            }
        }
        Some(spread)
    }

    /// Whether sources that carry the loads one at a time, a charger and its battery, hang together with a terminal.
    #[must_use]
    pub fn is_shared(&self, pose: &Pose, at: TerminalId) -> bool {
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| pose.state.operated(m));
        self.solver.turns(at, &Ask { off: &pose.off, ..Ask::new(&operated) }) > 1
    }

    /// The ohms between two terminals, all power off; `None` where they are not joined.
    #[must_use]
    pub fn ohms(&self, pose: &Pose, a: TerminalId, b: TerminalId) -> Option<f64> {
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| pose.state.operated(m));
        self.solver.ohms(a, b, &Ask::new(&operated)).map(|ohms| ohms.0)
    }

    /// Whether a source of alternating current hangs together with a terminal.
    #[must_use]
    pub fn is_ac(&self, at: TerminalId) -> bool {
        self.solver.parts_around(at).iter().any(
            |id| matches!(&self.job.part(*id).kind, Kind::Source(source) if source.current == Current::Ac),
        )
    }
}

/// Whether a part is a source.
fn is_source(job: &Job, id: PartId) -> bool {
    matches!(job.part(id).kind, Kind::Source(_))
}
