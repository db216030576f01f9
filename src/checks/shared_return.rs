//! Other circuits shift the 0 V of an input, an analogue signal or a bus through a core that they share.
//!
//! ## On site
//!
//! The reading jumps when the lock pulls in; an input switches by itself while the motor runs; the bus loses telegrams
//! at night, when the lamps are on.
//!
//! ## Why
//!
//! A signal is measured against its return. Where that core also carries the current of a lamp or a lock, its drop
//! stands between the two ends and is read as part of the signal.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: alarm-4x0.22, length: 40 m, cores: {black: [X1, X2], red: taped, blue: taped, white: taped}}
//! ```
//!
//! 40 m of this core have 3.6 Ω. With a lock of 0.5 A behind X2 its far end stands 1.8 V above 0 V, and so does every input
//! whose common is there.
//!
//! ## Cure
//!
//! Give the signal a return core of its own, straight from the supply; or feed the heavy load over its own pair.
//!
//! ## Limits
//!
//! More than 1 V is told for inputs and buses, more than 0.1 V for 4–20 mA and 0–10 V. The supply of the signal's own device
//! counts as another circuit. The return of a bus is held to be the 0 V of the supplies of its devices; that of an audio
//! pair is its second leg. The drop is worked out in the states in which the cores on the way carry most.
//!
//! ## Sources
//!
//! IEEE 525: no return shared by low-level signals and power. The two limits are our own.

use std::collections::BTreeMap;

use crate::circuit::solve::{Ask, Solution, Solver};
use crate::circuit::{Circuit, NetId, Path, State, Through, Way};
use crate::netlist::{Active, AnalogueKind, AnalogueRole, CoreId, Job, Kind, PartId, Pole, TerminalId};
use crate::units::{Amps, Celsius, Volts};

use super::loop_supply::unknown;
use super::report::{Report, listed};
use super::supply_overload::{Sums, milliamps};
use super::telling;

/// What an input or a bus may be shifted by.
const DIGITAL: f64 = 1.0;
/// What a 4–20 mA or 0–10 V signal may be shifted by.
const ANALOGUE: f64 = 0.1;

/// The core that shifts a signal most.
struct Shift {
    at: TerminalId,
    volts: f64,
    amps: f64,
    state: State,
}

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let returns = returns(job, circuit);
    if returns.is_empty() {
        return;
    }
    let (solver, landings) = (Solver::of(job), circuit.landings());
    let (drops, sums) = (drops(job, circuit, &solver), Sums::of(job, circuit));
    let mut solved = Solved { circuit, solver: &solver, near: None, by_state: BTreeMap::new() };
    let mut shifts: BTreeMap<CoreId, Vec<Shift>> = BTreeMap::new();
    for signal in &returns {
        let near = |at: TerminalId| drops.get(&circuit.net_of(at)).copied().unwrap_or_default();
        let survey = circuit.survey(job);
        let most = near(signal.from) + near(signal.to) + near(signal.ground);
        if most.volts <= signal.limit && !most.unknown && !survey.sampled(signal.to) {
            continue;
        }
        let Some(path) = circuit.path(job, &signal.state, Way::Closed, signal.from, signal.to) else {
            continue;
        };
        for core in path.cores() {
            let carries = survey.core(core).is_some_and(|worst| worst.value.0 > 1e-3);
            if carries && let Some((missing, fix)) = unknown(job, &solver, core) {
                let cable = job.core(core).cable;
                report.not_checked(missing, fix).at(job.cable(cable).place, "").about(cable);
            }
        }
        match worst(job, &mut solved, signal, &path) {
            Some((core, shift)) => shifts.entry(core).or_default().push(shift),
            None => sampled(job, circuit, &solver, &sums, signal, &path, report),
        }
    }
    for (core, shifts) in shifts {
        let Some(most) = shifts.iter().max_by(|a, b| a.volts.total_cmp(&b.volts)) else { continue };
        let mut names: Vec<String> = shifts.iter().map(|shift| job.label(shift.at)).collect();
        names.dedup();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let when = telling::at(circuit, &most.state);
        let message = format!(
            "{} is the return of {} and carries {} of other circuits{}: they read {} of it",
            job.core_label(core),
            listed(&names),
            milliamps(Amps(most.amps)),
            telling::clause(when.as_deref()),
            Volts((most.volts * 100.0).round() / 100.0)
        );
        let fix = "give the signal a return core of its own, or the load its own pair";
        let draft = report.find(message, fix);
        draft.at(job.core(core).place, "").about(core);
        for shift in &shifts {
            draft.at(telling::landing(job, landings, shift.at), "").about(shift.at);
        }
        if let Some(when) = when {
            draft.when(when);
        }
    }
}

/// The way on which a signal is measured: from where its far side stands to where it is read.
struct Return {
    /// The signal's own terminal, by which it is told.
    at: TerminalId,
    /// Its part, whose own current does not count.
    part: PartId,
    from: TerminalId,
    to: TerminalId,
    /// A terminal of the 0 V between the two.
    ground: TerminalId,
    limit: f64,
    /// A state in which the way is closed.
    state: State,
}

fn returns(job: &Job, circuit: &Circuit) -> Vec<Return> {
    let mut all = Vec::new();
    let mut lines: BTreeMap<NetId, Vec<PartId>> = BTreeMap::new();
    let mut grounds: BTreeMap<NetId, TerminalId> = BTreeMap::new();
    for part in &job.parts {
        if let Kind::Source(source) = &part.kind {
            grounds.entry(circuit.net_of(source.minus)).or_insert(source.minus);
        }
    }
    let add = |all: &mut Vec<Return>, part, at, [from, to, ground]: [TerminalId; 3], limit, state| {
        all.push(Return { at, part, from, to, ground, limit, state });
    };
    for (id, part) in job.part_ids() {
        match &part.kind {
            Kind::Input(input) => {
                let ways = circuit.signal(id).map_or(&[][..], |signal| &signal.active);
                let mut poles = Vec::new();
                for way in ways {
                    let Some(ground) = telling::pole(job, way.common).filter(|_| !poles.contains(&way.pole))
                    else {
                        continue;
                    };
                    poles.push(way.pole);
                    let Some(state) = circuit.sound(&way.needs, input.common).state() else { continue };
                    let from = if input.active == Active::Low && way.pole.1 == Pole::Minus {
                        input.at
                    } else {
                        ground
                    };
                    add(&mut all, id, input.at, [from, input.common, ground], DIGITAL, state);
                }
            }
            Kind::Analogue(end) if end.kind == AnalogueKind::Volts => {
                lines.entry(circuit.net_of(end.plus)).or_default().push(id);
            }
            Kind::Analogue(end)
                if end.drives_self != Some(true) && end.role == Some(AnalogueRole::Receiver) =>
            {
                if let Some(&ground) = grounds.get(&circuit.net_of(end.minus)) {
                    add(&mut all, id, end.plus, [ground, end.minus, ground], ANALOGUE, circuit.at_rest());
                }
            }
            Kind::SignalPair(pair) if pair.kind != "audio" => {
                lines.entry(circuit.net_of(pair.a)).or_default().push(id);
            }
            _ => {}
        }
    }
    for line in lines.values() {
        // A 0–10 V line is measured from its command, a bus from its first device.
        let first = line.iter().copied().find(|id| is_command(job, *id)).or(line.first().copied());
        for &id in line {
            let Some(first) = first.filter(|first| *first != id) else { continue };
            let (Some(from), Some(to)) = (zero(job, first), zero(job, id)) else { continue };
            let (at, limit) = match &job.part(id).kind {
                Kind::Analogue(end) => (end.plus, ANALOGUE),
                Kind::SignalPair(pair) => (pair.a, DIGITAL),
                _ => continue,
            };
            add(&mut all, id, at, [from, to, to], limit, circuit.at_rest());
        }
    }
    all
}

fn is_command(job: &Job, id: PartId) -> bool {
    matches!(&job.part(id).kind, Kind::Analogue(end) if end.role == Some(AnalogueRole::Command))
}

/// The 0 V against which a 0–10 V end or a bus device measures; `None` where a bus device has not exactly one supply.
fn zero(job: &Job, id: PartId) -> Option<TerminalId> {
    if let Kind::Analogue(end) = &job.part(id).kind {
        return Some(end.minus);
    }
    let mut supplies =
        job.device(job.part(id).device).parts.iter().filter_map(|part| match &job.part(PartId(part)).kind {
            Kind::Load(load) if load.polarised => Some(load.minus),
            _ => None,
        });
    let one = supplies.next()?;
    supplies.next().is_none().then_some(one)
}

/// What all cores of one conductor can drop together at most.
#[derive(Clone, Copy, Default)]
struct Most {
    volts: f64,
    /// Whether a core with current is of unknown resistance.
    unknown: bool,
}

impl std::ops::Add for Most {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self { volts: self.volts + other.volts, unknown: self.unknown || other.unknown }
    }
}

fn drops(job: &Job, circuit: &Circuit, solver: &Solver) -> BTreeMap<NetId, Most> {
    let mut most: BTreeMap<NetId, Most> = BTreeMap::new();
    for (id, core) in job.core_ids() {
        let Some(worst) = circuit.survey(job).core(id).filter(|worst| worst.value.0 > 1e-3) else { continue };
        let Some(near) = core.ends[0].to.terminal() else { continue };
        let drop = match solver.core_ohms(id, Celsius(20.0)) {
            Some(ohms) => Most { volts: worst.value.0 * ohms.0, unknown: false },
            None => Most { volts: 0.0, unknown: true },
        };
        let sum = most.entry(circuit.net_of(near)).or_default();
        *sum = *sum + drop;
    }
    most
}

/// The solutions of one system, for many signals have their worst in the same few states.
struct Solved<'a> {
    circuit: &'a Circuit,
    solver: &'a Solver<'a>,
    /// A terminal of it.
    near: Option<TerminalId>,
    by_state: BTreeMap<State, Solution<'a>>,
}

impl<'a> Solved<'a> {
    fn around(&mut self, at: TerminalId, state: &State) -> &Solution<'a> {
        let system = |at| self.solver.system_of(at);
        if let Some(before) = self.near.replace(at).filter(|before| system(*before) != system(at)) {
            self.by_state.clear();
            self.solver.forget(before);
        }
        let (circuit, solver) = (self.circuit, self.solver);
        self.by_state.entry(state.clone()).or_insert_with(|| {
            let operated = |part: PartId| circuit.mover_of(part).is_some_and(|mover| state.operated(mover));
            solver.solve_around(at, &Ask::new(&operated))
        })
    }
}

/// The largest shift of a signal that is beyond its limit, and the core that has most part in it.
fn worst(job: &Job, solved: &mut Solved, signal: &Return, path: &Path) -> Option<(CoreId, Shift)> {
    let (circuit, solver) = (solved.circuit, solved.solver);
    let mut states: Vec<&State> = Vec::new();
    for core in path.cores() {
        if let Some(worst) = circuit.survey(job).core(core)
            && !states.contains(&&worst.state)
        {
            states.push(&worst.state);
        }
    }
    let mut found: Option<(CoreId, Shift)> = None;
    for state in states {
        let solution = solved.around(signal.to, state);
        let own = solution.part_amps(signal.part).map_or(0.0, |amps| amps.0.abs());
        let (mut sum, mut ohms) = (0.0, 0.0);
        let mut heaviest: Option<(CoreId, f64, f64)> = None;
        for hop in &path.hops {
            let Through::Core(core) = hop.through else { continue };
            let (Some(drop), Some(amps)) = (solution.core_drop(core), solution.core_amps(core)) else {
                continue;
            };
            let with = job.core(core).ends[0].to.terminal() == Some(hop.from);
            sum += if with { drop.0 } else { -drop.0 };
            ohms += solver.core_ohms(core, Celsius(20.0)).map_or(0.0, |ohms| ohms.0);
            if heaviest.is_none_or(|(_, most, _)| drop.0.abs() > most) {
                heaviest = Some((core, drop.0.abs(), amps.0.abs()));
            }
        }
        let volts = sum.abs() - own * ohms;
        if let Some((core, _, amps)) = heaviest
            && volts > signal.limit + 1e-6
            && found.as_ref().is_none_or(|(_, before)| volts > before.volts + 1e-9)
        {
            let amps = (amps - own).max(0.0);
            found = Some((core, Shift { at: signal.at, volts, amps, state: state.clone() }));
        }
    }
    found
}

/// Says of a signal whose circuit has too many states that it was not looked at, if all loads together could shift it.
#[allow(clippy::too_many_arguments, reason = "one signal, all that it is measured by")]
fn sampled(
    job: &Job,
    circuit: &Circuit,
    solver: &Solver,
    sums: &Sums,
    signal: &Return,
    path: &Path,
    report: &mut Report,
) {
    if !circuit.survey(job).sampled(signal.to) {
        return;
    }
    let ohms: f64 =
        path.cores().filter_map(|core| solver.core_ohms(core, Celsius(20.0))).map(|ohms| ohms.0).sum();
    if ohms * sums.around(circuit, signal.to) <= signal.limit {
        return;
    }
    let source = job
        .part_ids()
        .find(|(_, part)| matches!(&part.kind, Kind::Source(s) if circuit.same_system(s.minus, signal.to)));
    if let Some((source, part)) = source {
        let name = job.part_label(source);
        let missing = format!("the circuit of {name} has too many states to work all of them out");
        let fix = "measure the 0 V of its inputs against its own with everything on";
        report.not_checked(missing, fix).at(job.device(part.device).place, "").about(part.device);
    }
}
