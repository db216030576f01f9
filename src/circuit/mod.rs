//! The job as a circuit: connectivity, reachable states, paths and the solver.
//!
//! Terms: a *net* is one conductor (cores, links, bridges). A *hard path* goes through conductors, closed contacts,
//! fuses, forward diodes, outputs and sensors that are on; a *soft path* through resistors, loads and coils besides. A
//! *mover* is what moves contacts together. A *state* gives every mover a position; it is *reachable* if a walk gets
//! there from all at rest, one world mover at a time, coils settling after each.

#![allow(dead_code, reason = "until the searches land")]

mod graph;
mod movers;
mod nets;
mod trace;

pub use graph::Need;
pub use movers::{MovedBy, Mover, MoverId, State};
pub use nets::NetId;
pub use trace::{Hop, Path, Through, Way};

use crate::netlist::{Job, PartId, TerminalId};

/// The circuit of one job.
pub struct Circuit {
    nets: nets::Nets,
    joints: trace::Joints,
    movers: Vec<Mover>,
    mover_of: Vec<Option<MoverId>>,
    graph: graph::Graph,
    rest: State,
}

impl Circuit {
    /// The circuit of a job.
    #[must_use]
    pub fn of(job: &Job) -> Self {
        let nets = nets::Nets::of(job);
        let (movers, mover_of) = movers::collect(job);
        let graph = graph::Graph::of(job, &nets, &mover_of);
        let rest = State {
            rest: movers.iter().map(|mover| mover.rest_operated).collect(),
            moved: Vec::new(),
            fed: Vec::new(),
        };
        Self { nets, joints: trace::Joints::of(job), movers, mover_of, graph, rest }
    }

    /// The conductor that a terminal is part of.
    #[must_use]
    pub fn net_of(&self, terminal: TerminalId) -> NetId {
        self.nets.net[terminal.index()]
    }

    /// Whether conductors and fuses join two terminals.
    #[must_use]
    pub fn joined_past_fuses(&self, a: TerminalId, b: TerminalId) -> bool {
        self.nets.node[a.index()] == self.nets.node[b.index()]
    }

    /// The terminals of a conductor, in the order of the job.
    #[must_use]
    pub fn terminals_of(&self, net: NetId) -> &[TerminalId] {
        self.nets.members.get(net.index()).map_or(&[], Vec::as_slice)
    }

    /// How many conductors there are; they are numbered from 0 in the order of their first terminal.
    #[must_use]
    pub fn net_count(&self) -> usize {
        self.nets.members.len()
    }

    /// All movers: index by [`MoverId`].
    #[must_use]
    pub fn movers(&self) -> &[Mover] {
        &self.movers
    }

    /// The mover of a contact, output or two-wire sensor.
    #[must_use]
    pub fn mover_of(&self, part: PartId) -> Option<MoverId> {
        self.mover_of.get(part.index()).copied().flatten()
    }

    /// The state in which everything is at rest and the coils have settled.
    #[must_use]
    pub fn at_rest(&self) -> State {
        self.rest.clone()
    }

    /// The shortest path from one terminal to another in a state, if there is one. With [`Way::Hard`] it goes with
    /// the current, so diodes count from anode to cathode.
    #[must_use]
    pub fn path(&self, job: &Job, state: &State, way: Way, from: TerminalId, to: TerminalId) -> Option<Path> {
        trace::path(job, self, state, way, from, &|at| at == to, &|_| false)
    }

    /// The state in words, as an installer would say it: `with B1 operated and K1 operated`; `at rest`.
    #[must_use]
    pub fn words(&self, state: &State) -> String {
        if state.at_rest() {
            return "at rest".to_owned();
        }
        let words: Vec<String> = state
            .moved()
            .iter()
            .map(|&mover| {
                let name = self.movers.get(mover.index()).map_or("", |m| m.name.as_str());
                format!("{name} {}", if state.operated(mover) { "operated" } else { "not operated" })
            })
            .collect();
        match words.as_slice() {
            [] => "at rest".to_owned(),
            [one] => format!("with {one}"),
            [first @ .., last] => format!("with {} and {last}", first.join(", ")),
        }
    }
}
