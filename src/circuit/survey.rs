//! The worst of every state: the highest amps and the lowest volts, each with its state.
//!
//! Each conductor system is solved in its reachable states, at the nominal volts of its sources and, where these are
//! stated, at their lowest and highest. States in which a source is shorted are left out. A system is solved for a
//! limited amount of work ([`WORK`], [`EACH`]); where that does not suffice the states nearest to rest and those
//! furthest from it are solved, and the system counts as sampled: its worst state may be worse than what was found.

use std::collections::{BTreeMap, BTreeSet};

use crate::netlist::{CoreId, Current, Job, Kind, PartId, Pole, TerminalId};
use crate::units::{Amps, Quantity, Volts};

use crate::source::small;

use super::solve::{Ask, DIODE_DROP, LOOP_MOST, Mains, Solution, Solver, Trouble, source_volts};
use super::{Circuit, Feed, MoverId, State, Way};

/// How many parts and cores are solved for one system, all its states together.
const WORK: usize = 6_000;

/// The same for all systems of a job together, for each part and core of it; every system has its share, so that the time
/// grows with the job and not with the number of states in each of its panels.
const EACH: usize = 6;

/// The same for the systems of a small job, which nobody waits for: eight of them have all the work that one may take.
const WORK_OF_FEW: usize = 8 * WORK;

/// The largest value of a quantity, and where it was found.
#[derive(Clone, Debug)]
pub struct Worst<Q> {
    /// The value.
    pub value: Q,
    /// The state.
    pub state: State,
}

/// How a load or coil fares in its worst states.
#[derive(Clone, Debug)]
pub struct Fed {
    /// The lowest volts that it gets while something feeds it, the sources at their lowest.
    pub lowest: Worst<Volts>,
    /// The most that is lost on the way to it, the sources at their nominal volts.
    pub lost: Option<Loss>,
}

/// What is lost on the way to a part; a diode's 0.7 V is not counted. There is none where every way to it leads through
/// other loads or resistors.
#[derive(Clone, Debug)]
pub struct Loss {
    /// The volts.
    pub volts: Volts,
    /// The way that feeds it, by its number in [`Circuit::feeds`].
    way: u32,
    /// The state.
    pub state: State,
}

impl Loss {
    /// The source that feeds a part so, and those in series with it.
    #[must_use]
    pub fn from<'c>(&self, circuit: &'c Circuit, part: PartId) -> &'c [PartId] {
        circuit.feeds(part).ways.get(self.way as usize).map_or(&[], |feed| &feed.sources)
    }
}

/// A source that drives current into another through conductors and diodes alone, and the state in which it does.
#[derive(Clone, Debug)]
pub struct Driven {
    /// The one that gives.
    pub from: PartId,
    /// The one that takes.
    pub into: PartId,
    /// The state.
    pub state: State,
}

/// A battery that stands the wrong way round among the sources in series with it.
#[derive(Clone, Debug)]
pub struct Turned {
    /// The battery.
    pub battery: PartId,
    /// The sources that lead from its plus round to its minus.
    pub others: Vec<PartId>,
}

/// The worst of every state.
#[derive(Clone, Debug, Default)]
pub struct Survey {
    cores: Vec<Option<Worst<Amps>>>,
    parts: Vec<Option<Worst<Amps>>>,
    open: BTreeMap<PartId, Worst<Volts>>,
    /// By terminal, like `sampled`.
    unstated: Vec<bool>,
    highest: BTreeMap<PartId, Worst<Volts>>,
    fed: BTreeMap<PartId, Fed>,
    starved: BTreeMap<PartId, Loss>,
    sampled: Vec<bool>,
    troubles: Vec<Trouble>,
    driven: Vec<Driven>,
    turned: Vec<Turned>,
}

impl Survey {
    /// The highest amps in a core, either way; `None` where it belongs to no system with a source.
    #[must_use]
    pub fn core(&self, core: CoreId) -> Option<&Worst<Amps>> {
        self.cores.get(core.index())?.as_ref()
    }

    /// The highest amps through a part, either way; a source's as it delivers them.
    #[must_use]
    pub fn part(&self, part: PartId) -> Option<&Worst<Amps>> {
        self.parts.get(part.index())?.as_ref()
    }

    /// The highest volts across a contact or output while it is open.
    #[must_use]
    pub fn open(&self, part: PartId) -> Option<&Worst<Volts>> {
        self.open.get(&part)
    }

    /// The highest volts that a load, coil or input gets by way of resistors or other parts, the sources at their
    /// nominal volts.
    #[must_use]
    pub fn highest(&self, part: PartId) -> Option<&Worst<Volts>> {
        self.highest.get(&part)
    }

    /// Whether something on the system of a terminal draws current and does not say how much.
    #[must_use]
    pub fn unstated(&self, terminal: TerminalId) -> bool {
        self.unstated.get(terminal.index()).copied().unwrap_or(false)
    }

    /// How a load or coil fares in the states that feed it by hard paths, or, if there are none such, by soft ones;
    /// `None` where none does.
    #[must_use]
    pub fn fed(&self, part: PartId) -> Option<&Fed> {
        self.fed.get(&part)
    }

    /// What is lost on the way to a load or coil when it gets its lowest volts, where it states its range and they are below it.
    #[must_use]
    pub fn starved(&self, part: PartId) -> Option<&Loss> {
        self.starved.get(&part)
    }

    /// Whether not every state of the system of a terminal was solved.
    #[must_use]
    pub fn sampled(&self, terminal: TerminalId) -> bool {
        self.sampled.get(terminal.index()).copied().unwrap_or(false)
    }

    /// What could not be solved in some state, each once.
    #[must_use]
    pub fn troubles(&self) -> &[Trouble] {
        &self.troubles
    }

    /// The sources that drive current into others, each pair once. States in which one does are left out of all else.
    #[must_use]
    pub fn driven(&self) -> &[Driven] {
        &self.driven
    }

    /// The batteries that stand the wrong way round in their string. What hangs together with one is left out of all else.
    #[must_use]
    pub fn turned(&self) -> &[Turned] {
        &self.turned
    }

    pub(super) fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut survey = Self {
            turned: turned(job, circuit),
            cores: vec![None; job.cores.len()],
            parts: vec![None; job.parts.len()],
            unstated: vec![false; job.terminals.len()],
            sampled: vec![false; job.terminals.len()],
            ..Self::default()
        };
        for_each_system(job, |solver, at, work| {
            if survey.turned.iter().any(|turned| solver.parts_around(at).contains(&turned.battery)) {
                return;
            }
            let draws_unknown = |id: &PartId| {
                let kind = &job.part(*id).kind;
                kind.is_silent() && (matches!(kind, Kind::Resistor(_)) || !circuit.feeds(*id).ways.is_empty())
                    || matches!(kind, Kind::Analogue(end) if end.is_silent())
            };
            if solver.parts_around(at).iter().any(draws_unknown) {
                mark(&mut survey.unstated, solver.terminals_around(at));
            }
            let complete = for_each_solution(job, circuit, solver, at, work, &mut |solution, case| {
                let pair = driven(job, circuit, solver.parts_around(at), solution, case.state);
                if let Some((from, into)) = pair {
                    if !survey.driven.iter().any(|driven| (driven.from, driven.into) == (from, into)) {
                        survey.driven.push(Driven { from, into, state: case.state.clone() });
                    }
                    return;
                }
                survey.currents(solver, at, job, solution, case.state);
                survey.volts(solver.parts_around(at), job, circuit, solution, case);
                for trouble in solution.troubles() {
                    if !survey.troubles.contains(trouble) {
                        survey.troubles.push(trouble.clone());
                    }
                }
            });
            if !complete {
                mark(&mut survey.sampled, solver.terminals_around(at));
            }
        });
        survey
    }

    fn currents(&mut self, solver: &Solver, at: TerminalId, job: &Job, solution: &Solution, state: &State) {
        let [core_amps, part_amps] = solution.amps_around(at);
        for (core, amps) in solver.cores_around(at).iter().zip(core_amps) {
            if let Some(amps) = amps.get() {
                keep(&mut self.cores[core.index()], Amps(amps.abs()), state);
            }
        }
        for (part, amps) in solver.parts_around(at).iter().zip(part_amps) {
            let Some(amps) = amps.get() else { continue };
            let kind = &job.part(*part).kind;
            let source = matches!(kind, Kind::Source(_));
            keep(&mut self.parts[part.index()], Amps(if source { amps } else { amps.abs() }), state);
            for [a, b] in gaps(kind).into_iter().flatten() {
                if amps == 0.0
                    && let Some(volts) = solution.between(a, b)
                {
                    keep_in(&mut self.open, *part, Volts(volts.0.abs()), state);
                }
            }
        }
    }

    fn volts(&mut self, parts: &[PartId], job: &Job, circuit: &Circuit, solution: &Solution, case: &Case) {
        let &Case { state, mains, reversed_ac, .. } = case;
        // In AC a way that a diode lets through feeds in one half of the wave only.
        let in_this_half = |feed: &Feed| {
            let ac = feed.sources.iter().any(
                |id| matches!(&job.part(*id).kind, Kind::Source(source) if source.current == Current::Ac),
            );
            !ac || (feed.pole == Pole::Minus) == reversed_ac
        };
        for &id in parts {
            let (plus, minus, polarised, rated) = match &job.part(id).kind {
                Kind::Load(load) => (load.plus, load.minus, load.polarised, load.volts),
                Kind::Coil(coil) => (coil.plus, coil.minus, coil.polarised, coil.volts),
                Kind::Input(input) => {
                    if let Some(volts) = solution.between(input.at, input.common)
                        && mains == Mains::Nominal
                        && softly(job, circuit, id).is_some()
                        && !circuit.signal(id).is_some_and(|signal| {
                            signal
                                .active
                                .iter()
                                .chain(&signal.inactive)
                                .any(|w| circuit.holds(&w.needs, state))
                        })
                    {
                        keep_in(&mut self.highest, id, Volts(volts.0.abs()), state);
                    }
                    continue;
                }
                _ => continue,
            };
            let Some(volts) = solution.between(plus, minus) else { continue };
            let least = rated.map_or(f64::NEG_INFINITY, |rated| rated.range.low.0);
            if mains == Mains::Nominal {
                self.by_other_parts(circuit, id, Volts(volts.0.abs()), state);
            }
            let volts = if polarised { volts.0 } else { volts.0.abs() };
            let ways = &circuit.feeds(id).ways;
            let hard = ways.iter().any(|feed| feed.hard);
            let feeding: Vec<_> = ways
                .iter()
                .enumerate()
                .filter(|(_, feed)| feed.hard == hard && (feed.forward || !polarised))
                .filter(|(_, feed)| circuit.holds(&feed.needs, state) && in_this_half(feed))
                .filter(|(_, feed)| feed.hard || circuit.unbridged(job, id, feed, state))
                .filter(|(_, feed)| {
                    feed.sources.iter().all(|s| solution.part_amps(*s).is_some_and(|amps| amps.0.abs() > 0.0))
                })
                .collect();
            if feeding.is_empty() {
                continue;
            }
            // What is lost is counted from the source that loses least on its way.
            let lost = feeding
                .iter()
                .filter(|(_, feed)| feed.hard)
                .filter_map(|(way, feed)| {
                    Some((given(job, &feed.sources, mains)? - kept(job, &feed.parts) - volts, *way))
                })
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let worst = |value| Worst { value: Volts(value), state: state.clone() };
            let loss = |(lost, way)| Loss { volts: Volts(lost), way: small(way), state: state.clone() };
            let low = if case.has_low { Mains::Low } else { Mains::Nominal };
            let none = || Fed { lowest: worst(f64::INFINITY), lost: None };
            let fed = self.fed.entry(id).or_insert_with(none);
            if mains == low && volts < fed.lowest.value.0 - 1e-9 {
                fed.lowest = worst(volts);
                match lost.filter(|_| volts < least) {
                    Some(lost) => self.starved.insert(id, loss(lost)),
                    None => self.starved.remove(&id),
                };
            }
            if let Some(lost) = lost.filter(|_| mains == Mains::Nominal)
                && fed.lost.as_ref().is_none_or(|before| lost.0 > before.volts.0 + 1e-9)
            {
                fed.lost = Some(loss(lost));
            }
        }
    }
}

impl Survey {
    /// Keeps the volts of a load or coil in a state in which only ways through resistors or other parts feed it.
    fn by_other_parts(&mut self, circuit: &Circuit, id: PartId, volts: Volts, state: &State) {
        let mut hard = false;
        let mut soft = false;
        for feed in circuit.feeds(id).ways.iter().filter(|feed| circuit.holds(&feed.needs, state)) {
            hard |= feed.hard;
            soft |= !feed.hard;
        }
        if soft && !hard {
            keep_in(&mut self.highest, id, volts, state);
        }
    }
}

/// Less than so many amps into a source are no mistake: our own figure.
const DRIVEN: f64 = 0.05;

/// So much of the highest volts in a ring of sources may be left over where all stand right, for a charger gives more than its
/// battery: our own figure.
const LEFT_OVER: f64 = 0.2;

/// A source that drives current into another in a state, with no load on the way. A charger that charges a battery is right.
fn driven(
    job: &Job,
    circuit: &Circuit,
    parts: &[PartId],
    solution: &Solution,
    state: &State,
) -> Option<(PartId, PartId)> {
    let sources = || {
        parts.iter().filter_map(|id| match &job.part(*id).kind {
            Kind::Source(source) if source.current == Current::Dc => {
                Some((*id, source, solution.part_amps(*id)?.0))
            }
            _ => None,
        })
    };
    sources().filter(|(_, _, amps)| *amps < -DRIVEN).find_map(|(into, takes, _)| {
        let (from, ..) = sources().filter(|(_, _, amps)| *amps > DRIVEN).find(|(_, gives, _)| {
            !(gives.charges && takes.battery)
                && circuit.path(job, state, Way::Hard, gives.plus, takes.plus).is_some()
        })?;
        Some((from, into))
    })
}

/// The batteries without which, were they turned, the volts in a ring of sources would cancel out.
fn turned(job: &Job, circuit: &Circuit) -> Vec<Turned> {
    struct Link {
        id: PartId,
        plus: u32,
        minus: u32,
        volts: f64,
        battery: bool,
    }
    let links: Vec<Link> = job
        .part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::Source(source) if source.current == Current::Dc => Some(Link {
                id,
                plus: circuit.past_fuses(source.plus),
                minus: circuit.past_fuses(source.minus),
                volts: source.volts?.0,
                battery: source.battery,
            }),
            _ => None,
        })
        .collect();
    let mut found: Vec<Turned> = Vec::new();
    for battery in links.iter().filter(|link| link.battery && link.plus != link.minus) {
        // By node: the link by which it was first come to and the node before it.
        let mut seen: BTreeMap<u32, Option<(&Link, u32)>> = BTreeMap::from([(battery.plus, None)]);
        let mut queue = std::collections::VecDeque::from([battery.plus]);
        while let Some(here) = queue.pop_front() {
            for link in links.iter().filter(|link| link.id != battery.id) {
                let next = match here {
                    _ if here == link.plus => link.minus,
                    _ if here == link.minus => link.plus,
                    _ => continue,
                };
                seen.entry(next).or_insert_with(|| {
                    queue.push_back(next);
                    Some((link, here))
                });
            }
        }
        let (mut at, mut sum, mut highest, mut others) =
            (battery.minus, battery.volts, battery.volts, Vec::new());
        while let Some(Some((link, before))) = seen.get(&at) {
            sum += if link.plus == at { link.volts } else { -link.volts };
            highest = highest.max(link.volts);
            others.push(link.id);
            at = *before;
        }
        let left_over = LEFT_OVER * highest;
        if others.len() > 1 && sum.abs() > left_over && (sum - 2.0 * battery.volts).abs() <= left_over {
            others.reverse();
            found.push(Turned { battery: battery.id, others });
        }
    }
    // Where it might as well be another of the same ring, neither is named.
    let alone = |turned: &Turned| {
        !found
            .iter()
            .any(|other| turned.others.contains(&other.battery) && other.others.contains(&turned.battery))
    };
    found.iter().filter(|turned| alone(turned)).cloned().collect()
}

/// What a system is solved for.
pub(super) struct Case<'s> {
    pub(super) state: &'s State,
    pub(super) mains: Mains,
    /// Whether it is solved at the lowest volts of its sources too.
    has_low: bool,
    reversed_ac: bool,
}

/// Each system with a source, by the plus of the first, and how much work may be spent on it.
pub(super) fn for_each_system(job: &Job, mut see: impl FnMut(&Solver, TerminalId, usize)) {
    let solver = Solver::of(job);
    let mut known = BTreeSet::new();
    let mut systems = Vec::new();
    for part in &job.parts {
        if let Kind::Source(source) = &part.kind
            && known.insert(solver.system_of(source.plus))
        {
            systems.push(source.plus);
        }
    }
    let all = WORK_OF_FEW.max(EACH * (job.parts.len() + job.cores.len()));
    let work = WORK.min(all / systems.len().max(1));
    for at in systems {
        see(&solver, at, work);
        solver.forget(at);
    }
}

/// Each solution of a system in its reachable states; says whether these are all.
pub(super) fn for_each_solution(
    job: &Job,
    circuit: &Circuit,
    solver: &Solver,
    at: TerminalId,
    work: usize,
    see: &mut dyn FnMut(&Solution, &Case),
) -> bool {
    let parts = solver.parts_around(at);
    // A contact that feeds no load, such as one on an input, changes no current worth counting.
    let mut movers: Vec<MoverId> = parts
        .iter()
        .flat_map(|id| &circuit.feeds(*id).ways)
        .flat_map(|feed| &feed.needs)
        .map(|need| need.mover)
        .collect();
    movers.extend(parts.iter().filter_map(|id| softly(job, circuit, *id)).flatten());
    movers.sort_unstable();
    movers.dedup();
    let most = (work / (1 + parts.len() + solver.cores_around(at).len())).max(4);
    let (mut states, mut complete) = circuit.few_states(&movers, most);
    if states.len() > most {
        states.drain(most / 2..states.len() - most / 2);
        complete = false;
    }
    let sources: Vec<_> = parts
        .iter()
        .filter_map(|id| match &job.part(*id).kind {
            Kind::Source(source) => Some(source),
            _ => None,
        })
        .collect();
    let has_low = sources.iter().any(|s| s.low.is_some());
    let mut levels = vec![Mains::Nominal];
    levels.extend(has_low.then_some(Mains::Low));
    levels.extend(sources.iter().any(|s| s.high.is_some()).then_some(Mains::High));
    let waves: &[bool] =
        if sources.iter().any(|s| s.current == Current::Ac) { &[false, true] } else { &[false] };
    for state in &states {
        let shorted = |way: &super::ShortWay| {
            solver.system_of(way.between[0]) == solver.system_of(at) && circuit.holds(&way.needs, state)
        };
        if circuit.shorts().ways.iter().any(shorted) {
            continue;
        }
        let operated = |id: PartId| circuit.mover_of(id).is_some_and(|mover| state.operated(mover));
        let plain = Ask { loops: LOOP_MOST, ..Ask::new(&operated) };
        for turn in 0..solver.turns(at, &plain) {
            for (mains, reversed_ac) in levels.iter().flat_map(|m| waves.iter().map(|w| (*m, *w))) {
                let solution = solver.solve_around(at, &Ask { turn, mains, reversed_ac, ..plain });
                see(&solution, &Case { state, mains, has_low, reversed_ac });
            }
        }
    }
    complete
}

/// The movers that decide what an input with stated volts sees by way of a resistor, load or coil; `None` for another
/// part.
fn softly(job: &Job, circuit: &Circuit, id: PartId) -> Option<Vec<MoverId>> {
    let Kind::Input(input) = &job.part(id).kind else { return None };
    input.volts?;
    let signal = circuit.signal(id).filter(|signal| signal.soft)?;
    let ways = signal.active.iter().chain(&signal.inactive);
    Some(ways.flat_map(|way| &way.needs).map(|need| need.mover).collect())
}

/// Keeps a value if it is larger than the one before; a state nearer to rest wins where they are alike.
pub(super) fn keep<Q: Copy + Quantity>(worst: &mut Option<Worst<Q>>, value: Q, state: &State) {
    if worst.as_ref().is_none_or(|worst| value.value() > worst.value.value() + 1e-9) {
        *worst = Some(Worst { value, state: state.clone() });
    }
}

/// The same for a value that few parts have.
fn keep_in(all: &mut BTreeMap<PartId, Worst<Volts>>, part: PartId, volts: Volts, state: &State) {
    match all.get_mut(&part) {
        Some(worst) if volts.0 <= worst.value.0 + 1e-9 => {}
        _ => {
            all.insert(part, Worst { value: volts, state: state.clone() });
        }
    }
}

fn mark(all: &mut [bool], terminals: &[TerminalId]) {
    for terminal in terminals {
        all[terminal.index()] = true;
    }
}

/// The gaps across which a part may be open.
fn gaps(kind: &Kind) -> [Option<[TerminalId; 2]>; 2] {
    match kind {
        Kind::Contact(contact) => {
            [contact.no, contact.nc].map(|throw| throw.map(|throw| [contact.common, throw]))
        }
        Kind::Output(output) => [Some([output.at, output.common]), None],
        _ => [None, None],
    }
}

/// The volts that sources in series hold together.
fn given(job: &Job, sources: &[PartId], mains: Mains) -> Option<f64> {
    sources
        .iter()
        .map(|id| match &job.part(*id).kind {
            Kind::Source(source) => source_volts(source, mains),
            _ => None,
        })
        .sum()
}

/// What diodes and two-wire sensors on the way keep by their nature.
fn kept(job: &Job, parts: &[PartId]) -> f64 {
    parts
        .iter()
        .map(|id| match &job.part(*id).kind {
            Kind::Diode(_) => DIODE_DROP,
            Kind::TwoWire(sensor) => sensor.drop.map_or(0.0, |drop| drop.0),
            _ => 0.0,
        })
        .sum()
}
