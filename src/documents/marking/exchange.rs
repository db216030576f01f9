//! Terminals that may be exchanged because the model works the same.
//!
//! What may be tried is read off the data sheets: two terminals of one entry, or two entries of one kind terminal by
//! terminal. Whether it makes a difference is not read off anything: the model is rewired so and solved, state by state,
//! and the rules are run over it. What the solver cannot see (a device without sections) is watched from outside.

use std::collections::BTreeMap;
use std::mem::{Discriminant, discriminant};
use std::sync::{Mutex, PoisonError};

use super::joins::{Ground, Sorting, Wires, distance, meet};
use crate::checks;
use crate::circuit::solve::{Ask, Solver, settle};
use crate::circuit::{Circuit, MovedBy, MoverId, State};
use crate::netlist::{DeviceId, End, Form, Job, Kind, PartId, TerminalId};

/// Pairs of points that change places together.
pub type Exchange = Vec<(usize, usize)>;

/// So many world movers are put into every combination; of more, each alone and all together.
const COMBINED: usize = 4;
/// No more outside points than these are watched; beyond, nothing may be exchanged.
const WATCHED: usize = 60;
/// So many pairs of exchanges are tried at most when no single one helps.
const PAIRS: usize = 4_000;

/// The exchanges of one model; what was found out is kept for the next answer.
pub struct Exchanges<'a> {
    ground: &'a Ground<'a>,
    circuit: &'a Circuit,
    states: Vec<State>,
    watched: Vec<TerminalId>,
    plain: Behaviour,
    known: Mutex<BTreeMap<Exchange, bool>>,
}

/// What the job does in every state that was looked at, and how many findings each rule brings.
#[derive(PartialEq)]
struct Behaviour {
    values: Vec<Option<i64>>,
    findings: BTreeMap<&'static str, usize>,
}

impl<'a> Exchanges<'a> {
    /// Solves the model as it is.
    #[must_use]
    pub fn of(ground: &'a Ground<'a>, circuit: &'a Circuit) -> Self {
        let plain = Behaviour { values: Vec::new(), findings: BTreeMap::new() };
        let watched = watched(ground.model);
        let states = states(circuit);
        let known = Mutex::new(BTreeMap::new());
        let mut exchanges = Self { ground, circuit, states, watched, plain, known };
        exchanges.plain = exchanges.behaviour(ground.model, circuit);
        exchanges
    }

    /// Exchanges that bring an answer nearer to the model, and the answer's wires after them.
    #[must_use]
    pub fn nearest(&self, wires: &Wires, model: &Sorting) -> (Wires, Vec<Exchange>) {
        let (mut now, mut taken) = (wires.clone(), Vec::new());
        let mut away = distance(&self.ground.sorted(&now), model);
        while away > 0 {
            let Some((next, exchanges)) = self.step(&now, model, away) else { break };
            away = distance(&self.ground.sorted(&next), model);
            now = next;
            taken.extend(exchanges);
        }
        let together: Exchange = taken.iter().flatten().copied().collect();
        // Each keeps the behaviour by itself; all of them together must too.
        if taken.len() > 1 && !self.allowed(&together) { (wires.clone(), Vec::new()) } else { (now, taken) }
    }

    /// The best single exchange, or the first pair of them, that brings the answer nearer.
    fn step(&self, wires: &Wires, model: &Sorting, away: usize) -> Option<(Wires, Vec<Exchange>)> {
        let all: Vec<Exchange> =
            self.differing(wires, model).into_iter().flat_map(|device| self.candidates(device)).collect();
        let after = |wires: &Wires, exchange: &Exchange| {
            let next = exchanged(wires, exchange);
            let left = distance(&self.ground.sorted(&next), model);
            (left, next)
        };
        let mut single: Vec<(usize, Wires, &Exchange)> = all
            .iter()
            .map(|exchange| {
                let (left, next) = after(wires, exchange);
                (left, next, exchange)
            })
            .filter(|(left, ..)| *left < away)
            .collect();
        single.sort_by_key(|(left, ..)| *left);
        if let Some((_, next, exchange)) = single.into_iter().find(|(.., e)| self.allowed(e)) {
            return Some((next, vec![exchange.clone()]));
        }
        if all.len() * all.len() / 2 > PAIRS {
            return None;
        }
        for (n, first) in all.iter().enumerate() {
            let half = exchanged(wires, first);
            for second in &all[n + 1..] {
                let (left, next) = after(&half, second);
                if left < away && self.allowed(first) && self.allowed(second) {
                    return Some((next, vec![first.clone(), second.clone()]));
                }
            }
        }
        None
    }

    /// The devices with a terminal that the answer joins otherwise than the model.
    fn differing(&self, wires: &Wires, model: &Sorting) -> Vec<DeviceId> {
        let sorted = self.ground.sorted(wires);
        let both = meet(&sorted, model);
        let count = |sorting: &Sorting| {
            let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
            sorting.iter().for_each(|number| *counts.entry(*number).or_default() += 1);
            counts
        };
        let (in_answer, in_model, in_both) = (count(&sorted), count(model), count(&both));
        let same = |point: usize| {
            let of =
                |counts: &BTreeMap<usize, usize>, sorting: &Sorting| counts.get(&sorting[point]).copied();
            let shared = of(&in_both, &both);
            shared == of(&in_answer, &sorted) && shared == of(&in_model, model)
        };
        let devices = self.ground.model.device_ids();
        devices
            .filter(|(_, device)| device.form == Form::Box)
            .map(|(id, _)| id)
            .filter(|id| self.ground.points_of(*id).any(|point| !same(point)))
            .collect()
    }

    /// What may be tried on a device.
    fn candidates(&self, device: DeviceId) -> Vec<Exchange> {
        let job = self.ground.model;
        let parts: Vec<(Discriminant<Kind>, Vec<usize>)> = job
            .device(device)
            .parts
            .iter()
            .map(|part| &job.part(PartId(part)).kind)
            .filter(|kind| !matches!(kind, Kind::Bridge(_)))
            .map(|kind| {
                let points = kind.terminals().into_iter().filter_map(|t| self.ground.point(job, t));
                (discriminant(kind), points.collect())
            })
            .collect();
        let mut all = Vec::new();
        for (n, (kind, points)) in parts.iter().enumerate() {
            for (i, a) in points.iter().enumerate() {
                all.extend(points[i + 1..].iter().map(|b| vec![(*a, *b)]));
            }
            for (other, with) in &parts[n + 1..] {
                if kind == other && points.len() == with.len() {
                    let pairs = points.iter().copied().zip(with.iter().copied());
                    let pairs: Exchange = pairs.filter(|(a, b)| a != b).collect();
                    if pairs.len() > 1 {
                        all.push(pairs);
                    }
                }
            }
        }
        all
    }

    /// Whether the model, rewired so, does in every state what it does as it is.
    fn allowed(&self, exchange: &Exchange) -> bool {
        if self.watched.len() > WATCHED {
            return false;
        }
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = known().get(exchange) {
            return *known;
        }
        let job = self.rewired(exchange);
        let same = self.behaviour(&job, &Circuit::of(&job)) == self.plain;
        known().insert(exchange.clone(), same);
        same
    }

    /// The model with what lands on the terminals of an exchange changed over.
    fn rewired(&self, exchange: &Exchange) -> Job {
        let mut job = self.ground.model.clone();
        for (a, b) in exchange {
            let [a, b] = [*a, *b].map(|point| self.ground.terminals[point]);
            let turned = |terminal: TerminalId| match terminal {
                t if t == a => b,
                t if t == b => a,
                t => t,
            };
            for end in job.cores.iter_mut().flat_map(|core| &mut core.ends) {
                if let End::Terminal(terminal) = end.to {
                    end.to = End::Terminal(turned(terminal));
                }
            }
            for link in &mut job.links {
                link.ends = link.ends.map(turned);
            }
            let [first, second] = [a, b].map(|t| job.unused.remove(&t));
            job.unused.extend(second.map(|unused| (a, unused)));
            job.unused.extend(first.map(|unused| (b, unused)));
        }
        job
    }

    fn behaviour(&self, job: &Job, circuit: &Circuit) -> Behaviour {
        let mut findings: BTreeMap<&'static str, usize> = BTreeMap::new();
        for finding in checks::untried(job, circuit) {
            *findings.entry(finding.rule).or_default() += 1;
        }
        let solver = Solver::of(job);
        let mut values = Vec::new();
        for state in &self.states {
            let idle = |_| false;
            let settled = settle(job, self.circuit, &solver, state, &Ask::new(&idle));
            values.push(Some(i64::from(settled.chatter.is_empty())));
            let operated =
                |part: PartId| self.circuit.mover_of(part).is_some_and(|m| settled.state.operated(m));
            self.look(job, &solver, &Ask::new(&operated), &mut values);
        }
        Behaviour { values, findings }
    }

    /// What every part shows in one state.
    fn look(&self, job: &Job, solver: &Solver, ask: &Ask, values: &mut Vec<Option<i64>>) {
        let solution = solver.solve(ask);
        let ohms = |a, b| fine(solver.ohms(a, b, ask).map(|ohms| ohms.0));
        for (id, part) in job.part_ids() {
            match &part.kind {
                Kind::Load(load) => {
                    let volts = solution.between(load.plus, load.minus).map(|volts| volts.0);
                    values.push(fine(volts.map(|v| if load.polarised { v } else { v.abs() })));
                }
                Kind::Coil(coil) => {
                    let volts = solution.between(coil.plus, coil.minus).map(|volts| volts.0);
                    values.push(fine(volts.map(|v| if coil.polarised { v } else { v.abs() })));
                }
                Kind::Input(_) => values.push(Some(i64::from(solution.active(id)))),
                Kind::DryInput(dry) => values.push(ohms(dry.between[0], dry.between[1])),
                Kind::Supervised(watched) => values.push(ohms(watched.at, watched.common)),
                Kind::Source(_) | Kind::Fuse(_) => {
                    values.push(fine(solution.part_amps(id).map(|amps| amps.0.abs())));
                }
                _ => {}
            }
        }
        for (n, a) in self.watched.iter().enumerate() {
            values.extend(self.watched[n + 1..].iter().map(|b| ohms(*a, *b)));
            values.extend(job.parts.iter().filter_map(|part| match &part.kind {
                Kind::Source(source) => Some(fine(solution.between(*a, source.minus).map(|v| v.0))),
                _ => None,
            }));
        }
    }
}

/// The wires of an answer with the terminals of an exchange changed over.
#[must_use]
pub fn exchanged(wires: &Wires, exchange: &Exchange) -> Wires {
    let mut wires = wires.clone();
    for (a, b) in exchange {
        wires.swap(*a, *b);
    }
    wires
}

/// A value to a hundred-thousandth.
fn fine(value: Option<f64>) -> Option<i64> {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "volts, amps and ohms of a job are far below 2^63 / 1e5"
    )]
    value.map(|value| (value * 1e5).round() as i64)
}

/// What the solver does not look into: the terminals of devices without sections and the legs of signals.
fn watched(job: &Job) -> Vec<TerminalId> {
    let mut all: Vec<TerminalId> = Vec::new();
    for device in &job.devices {
        if device.form == Form::Box && device.parts.is_empty() {
            all.extend(device.terminals.iter().map(TerminalId));
        }
    }
    for part in &job.parts {
        if matches!(part.kind, Kind::SignalPair(_) | Kind::Analogue(_) | Kind::Screen(_) | Kind::Earth(_)) {
            all.extend(part.kind.terminals());
        }
    }
    let wired = |terminal: &TerminalId| {
        job.cores.iter().flat_map(|core| &core.ends).any(|end| end.to.terminal() == Some(*terminal))
            || job.links.iter().any(|link| link.ends.contains(terminal))
    };
    all.retain(wired);
    all.sort_unstable();
    all.dedup();
    all
}

/// The states in which behaviour is compared, coils not yet settled.
fn states(circuit: &Circuit) -> Vec<State> {
    let world: Vec<MoverId> = (0..)
        .map(MoverId)
        .zip(circuit.movers())
        .filter(|(_, mover)| mover.by == MovedBy::World)
        .map(|(id, _)| id)
        .collect();
    let rest = circuit.unpowered();
    let moved = |which: &[MoverId]| {
        which.iter().fold(rest.clone(), |state, mover| {
            let operated = !rest.operated(*mover);
            circuit.put(&state, *mover, operated)
        })
    };
    if world.len() <= COMBINED {
        return (0..1_usize << world.len())
            .map(|bits| {
                let which = world.iter().enumerate().filter(|(n, _)| bits >> n & 1 == 1);
                moved(&which.map(|(_, mover)| *mover).collect::<Vec<_>>())
            })
            .collect();
    }
    let mut states = vec![rest.clone()];
    states.extend(world.iter().map(|mover| moved(&[*mover])));
    states.push(moved(&world));
    states
}
