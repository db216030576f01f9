//! The solver: volts at every terminal and amps in every core, contact and part, for one state.
//!
//! The nodes are the terminals. Every conductor, closed contact, fuse and source has a small resistance at the least
//! ([`LEAST`]), so that the current in it is known; at ten amps that is a tenth of a millivolt. Nodes that hang together make
//! an island. An island with a source that is on is solved by itself, measured against the minus of its first source;
//! the others have no volts.
//!
//! Diodes, sensors and loads that draw a fixed current are pieces of straight lines: each stands in one of a few
//! regimes, and the island is solved again until no part has left its regime.

use std::collections::BTreeMap;

use petgraph::unionfind::UnionFind;
use rsparse::data::Sprs;

use super::{Circuit, State, Through};
use crate::netlist::{Active, Core, Current, Draw, End, Input, Job, Kind, LinkId, PartId, Pull, TerminalId};
use crate::units::{Celsius, Ohms, Rated, Volts};

/// The resistance of a conductor, contact, fuse or source when nothing larger is known, in ohms.
pub const LEAST: f64 = 1e-5;
/// What a diode keeps when it conducts, in volts: a convention of the program.
pub const DIODE: f64 = 0.7;
/// What holds an input at its inactive level, in ohms: the program's own default.
pub const PULL: f64 = 100_000.0;
/// Change of copper's resistance for a kelvin, from 20 °C (IEC 60028).
pub const COPPER: f64 = 0.003_93;
/// Keeps nodes that every part has let go from being undefined, in siemens.
const LEAK: f64 = 1e-10;
/// Below so many volts a part with a fixed current and no stated range counts as a resistor.
const FLOOR: f64 = 0.5;
/// For so many rounds all parts that leave their regime change together.
const TOGETHER: usize = 30;
/// The share of the largest current by which the sum at a node may be off.
const RESIDUAL: f64 = 1e-6;

/// Which of a source's volts are taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Supply {
    /// The lowest that is stated, else the nominal.
    Low,
    /// The nominal.
    Nominal,
    /// The highest that is stated, else the nominal.
    High,
}

/// What is asked of the solver beside the state of the movers.
#[derive(Clone, Copy, Debug)]
pub struct Terms<'a> {
    /// The sources' volts.
    pub supply: Supply,
    /// The conductors' temperature.
    pub at: Celsius,
    /// Sources that are off: open between their poles.
    pub off: &'a [PartId],
}

impl Default for Terms<'_> {
    fn default() -> Self {
        Self { supply: Supply::Nominal, at: Celsius(20.0), off: &[] }
    }
}

/// The volts and amps of one state.
#[derive(Clone, Debug, Default)]
pub struct Solution {
    volts: Vec<Option<f64>>,
    island: Vec<usize>,
    amps: BTreeMap<Through, f64>,
    /// The parts of islands that could not be solved, and why.
    pub unsolved: Vec<(PartId, Unsolved)>,
}

/// Why an island could not be solved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unsolved {
    /// A part went from regime to regime without an end.
    NoRest,
    /// The sums of the currents did not come out.
    Inexact,
}

impl Solution {
    /// The volts from `from` (plus) to `to`, in one island and reached by a source; `None` otherwise.
    #[must_use]
    pub fn volts(&self, from: TerminalId, to: TerminalId) -> Option<Volts> {
        if self.island.get(from.index()) != self.island.get(to.index()) {
            return None;
        }
        match (self.volts.get(from.index()), self.volts.get(to.index())) {
            (Some(Some(from)), Some(Some(to))) => Some(Volts(from - to)),
            _ => None,
        }
    }

    /// The amps through something: a core from near to far end, a link from its first to its second end, a part from
    /// plus to minus (a source from minus to plus inside), from common to throw, from anode to cathode, or from its
    /// first to its second terminal. 0 where nothing flows.
    #[must_use]
    pub fn amps(&self, through: Through) -> f64 {
        self.amps.get(&through).copied().unwrap_or(0.0)
    }
}

impl Core {
    /// Its resistance from end to end at a temperature, if type and length are known.
    #[must_use]
    pub fn ohms(&self, job: &Job, at: Celsius) -> Option<Ohms> {
        let cable = job.cable(self.cable);
        let (per_km, length) = (cable.ohm_per_km?, cable.length?);
        Some(Ohms(per_km.value.0 * length.0 / 1000.0 * (1.0 + COPPER * (at.0 - 20.0))))
    }
}

/// Something between two nodes.
#[derive(Clone, Copy, Debug)]
struct Branch {
    what: Option<Through>,
    a: usize,
    b: usize,
    law: Law,
}

/// How the current from `a` to `b` follows the volts from `a` to `b`.
#[derive(Clone, Copy, Debug)]
enum Law {
    /// Siemens.
    Conducts(f64),
    /// A source: it lifts `a` above `b` by so many volts.
    Lifts(f64),
    /// Conducts one way, keeping so many volts.
    Keeps(f64),
    /// Conducts so many siemens up to `from` volts and draws a fixed current above; one way only if `polarised`.
    Draws { siemens: f64, from: f64, polarised: bool },
    /// A current source, for tests of resistance.
    Drives(f64),
}

/// On which piece of its line a part stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Regime {
    Off,
    On,
    /// A fixed current the other way round.
    Back,
    /// In proportion.
    Sloped,
}

impl Circuit {
    /// The volts and amps of a state.
    #[must_use]
    pub fn solve(&self, job: &Job, state: &State, terms: &Terms<'_>) -> Solution {
        let branches = self.branches(job, state, terms);
        solve(job.terminals.len(), &branches)
    }

    /// The resistance between two terminals in a state, all sources off; `None` if nothing joins them. Diodes count as
    /// open.
    #[must_use]
    pub fn ohms(&self, job: &Job, state: &State, a: TerminalId, b: TerminalId, at: Celsius) -> Option<Ohms> {
        let sources: Vec<PartId> = job
            .part_ids()
            .filter(|(_, part)| matches!(part.kind, Kind::Source(_)))
            .map(|(id, _)| id)
            .collect();
        let terms = Terms { off: &sources, at, ..Terms::default() };
        let mut branches = self.branches(job, state, &terms);
        branches.retain(|branch| matches!(branch.law, Law::Conducts(g) if g > 1.5 / PULL));
        if !joined(job.terminals.len(), &branches, a.index(), b.index()) {
            return None;
        }
        branches.push(Branch { what: None, a: b.index(), b: a.index(), law: Law::Drives(1.0) });
        solve(job.terminals.len(), &branches).volts(a, b).map(|volts| Ohms(volts.0))
    }

    fn branches(&self, job: &Job, state: &State, terms: &Terms<'_>) -> Vec<Branch> {
        let mut branches = Vec::new();
        let mut add = |what, a: TerminalId, b: TerminalId, law| {
            branches.push(Branch { what, a: a.index(), b: b.index(), law });
        };
        let joint = Law::Conducts(1.0 / LEAST);
        for (id, core) in job.core_ids() {
            if let [End::Terminal(a), End::Terminal(b)] = [core.ends[0].to, core.ends[1].to] {
                let ohms = core.ohms(job, terms.at).map_or(LEAST, |ohms| ohms.0.max(LEAST));
                add(Some(Through::Core(id)), a, b, Law::Conducts(1.0 / ohms));
            }
        }
        for (id, link) in (0..).map(LinkId).zip(&job.links) {
            add(Some(Through::Link(id)), link.ends[0], link.ends[1], joint);
        }
        for (id, part) in job.part_ids() {
            let what = Some(Through::Part(id));
            let operated = self.mover_of(id).is_some_and(|mover| state.operated(mover));
            match &part.kind {
                Kind::Source(source) => {
                    let volts = match terms.supply {
                        Supply::Low => source.low.or(source.volts),
                        Supply::Nominal => source.volts,
                        Supply::High => source.high.or(source.volts),
                    };
                    if let (Some(volts), false) = (volts, terms.off.contains(&id)) {
                        add(what, source.plus, source.minus, Law::Lifts(volts.0));
                    }
                }
                Kind::Load(load) => {
                    if let Some(law) = draws(load.draw, load.volts, load.polarised) {
                        add(what, load.plus, load.minus, law);
                    }
                }
                Kind::Coil(coil) => {
                    if let Some(law) = draws(coil.draw, coil.volts, coil.polarised) {
                        add(what, coil.plus, coil.minus, law);
                    }
                }
                Kind::Contact(contact) => {
                    if let Some(throw) = if operated { contact.no } else { contact.nc } {
                        add(what, contact.common, throw, joint);
                    }
                }
                Kind::Output(output) if operated => add(what, output.at, output.common, joint),
                Kind::Fuse(fuse) => add(what, fuse.between[0], fuse.between[1], joint),
                Kind::Bridge(terminals) => {
                    for pair in terminals.windows(2) {
                        add(None, pair[0], pair[1], joint);
                    }
                }
                Kind::Resistor(resistor) => {
                    if let Some(ohms) = resistor.ohms {
                        let law = Law::Conducts(1.0 / ohms.0.max(LEAST));
                        add(what, resistor.between[0], resistor.between[1], law);
                    }
                }
                Kind::Diode(diode) => add(what, diode.anode, diode.cathode, Law::Keeps(DIODE)),
                Kind::TwoWire(sensor) => {
                    let drop = sensor.drop.map_or(0.0, |drop| drop.0);
                    let leak = sensor.leak.map_or(0.0, |leak| leak.0);
                    if operated {
                        add(what, sensor.plus, sensor.minus, Law::Keeps(drop));
                    } else if leak > 0.0 {
                        let from = drop.max(FLOOR);
                        let law = Law::Draws { siemens: leak / from, from, polarised: true };
                        add(what, sensor.plus, sensor.minus, law);
                    }
                }
                Kind::Analogue(analogue) => {
                    if let Some(ohms) = analogue.ohms {
                        add(what, analogue.plus, analogue.minus, Law::Conducts(1.0 / ohms.0.max(LEAST)));
                    }
                }
                Kind::Input(input) => {
                    if let Some(pole) = self.pull(job, input) {
                        add(None, input.at, pole, Law::Conducts(1.0 / PULL));
                    }
                }
                _ => {}
            }
        }
        if job.parts.iter().any(|part| matches!(&part.kind, Kind::Source(s) if s.current == Current::Ac)) {
            pass_alternating(job, &mut branches);
        }
        branches
    }

    /// Where the pull of an input leads: its common, or the plus of the source that its common belongs to.
    fn pull(&self, job: &Job, input: &Input) -> Option<TerminalId> {
        let up = match (input.pull, input.active) {
            (Pull::None, _) => return None,
            (Pull::Up, _) => true,
            (Pull::Down, _) => false,
        };
        // With the common at plus, the inactive level of an active-low input is the common itself.
        if !up {
            return Some(input.common);
        }
        job.parts
            .iter()
            .filter_map(|part| match &part.kind {
                Kind::Source(source) => Some(source),
                _ => None,
            })
            .find(|source| {
                self.joined_past_fuses(source.minus, input.common)
                    || (input.active == Active::Low && self.joined_past_fuses(source.plus, input.common))
            })
            .map(|source| source.plus)
    }
}

/// How a load or coil draws; `None` when it is not known.
fn draws(draw: Option<Draw>, volts: Option<Rated>, polarised: bool) -> Option<Law> {
    // A polarised part takes nothing the wrong way round.
    let linear = |ohms: f64| Law::Draws { siemens: 1.0 / ohms, from: f64::INFINITY, polarised };
    Some(match draw? {
        Draw::Amps(amps) => {
            let from = volts.map_or(FLOOR, |volts| volts.range.low.0.max(FLOOR));
            Law::Draws { siemens: amps.0 / from, from, polarised }
        }
        Draw::Ohms(ohms) => linear(ohms.0.max(LEAST)),
        Draw::Watts(watts) => linear((volts?.nominal.0.powi(2) / watts.0).max(LEAST)),
    })
}

/// In circuits of AC sources volts and amps are magnitudes, and diodes let both halves pass.
fn pass_alternating(job: &Job, branches: &mut [Branch]) {
    let mut sets = UnionFind::<usize>::new(job.terminals.len());
    for branch in branches.iter() {
        sets.union(branch.a, branch.b);
    }
    let alternating: Vec<usize> = job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            Kind::Source(source) if source.current == Current::Ac => Some(sets.find(source.plus.index())),
            _ => None,
        })
        .collect();
    for branch in branches {
        if alternating.contains(&sets.find(branch.a)) {
            match branch.law {
                Law::Keeps(_) => branch.law = Law::Conducts(1.0 / LEAST),
                Law::Draws { siemens, from, .. } => {
                    branch.law = Law::Draws { siemens, from, polarised: false };
                }
                _ => {}
            }
        }
    }
}

fn joined(nodes: usize, branches: &[Branch], a: usize, b: usize) -> bool {
    let mut sets = UnionFind::<usize>::new(nodes);
    for branch in branches {
        sets.union(branch.a, branch.b);
    }
    sets.equiv(a, b)
}

/// Solves island by island.
fn solve(nodes: usize, branches: &[Branch]) -> Solution {
    let mut sets = UnionFind::<usize>::new(nodes);
    for branch in branches {
        sets.union(branch.a, branch.b);
    }
    let island: Vec<usize> = (0..nodes).map(|node| sets.find(node)).collect();
    let mut solution = Solution { volts: vec![None; nodes], island, ..Solution::default() };
    let mut islands: BTreeMap<usize, Vec<Branch>> = BTreeMap::new();
    for branch in branches {
        if branch.a != branch.b {
            islands.entry(sets.find(branch.a)).or_default().push(*branch);
        }
    }
    for branches in islands.into_values() {
        let reference = branches.iter().find_map(|branch| match branch.law {
            Law::Lifts(_) => Some(branch.b),
            Law::Drives(_) => Some(branch.a),
            _ => None,
        });
        if let Some(reference) = reference {
            Island::of(&branches, reference).solve(&mut solution);
        }
    }
    solution
}

/// The matrix of these columns.
fn sparse(columns: &[BTreeMap<usize, f64>]) -> Sprs<f64> {
    let mut matrix = Sprs::new();
    matrix.m = columns.len();
    matrix.n = columns.len();
    matrix.p.clear();
    matrix.p.push(0);
    for column in columns {
        for (row, value) in column {
            matrix.i.push(*row);
            matrix.x.push(*value);
        }
        matrix.p.push(matrix.i.len().cast_signed());
    }
    matrix.nzmax = matrix.i.len();
    matrix
}

/// One island, its nodes numbered from 0, the reference left out.
struct Island<'b> {
    branches: &'b [Branch],
    reference: usize,
    number: BTreeMap<usize, usize>,
    regimes: Vec<Regime>,
}

impl<'b> Island<'b> {
    fn of(branches: &'b [Branch], reference: usize) -> Self {
        let mut number = BTreeMap::new();
        for branch in branches {
            for node in [branch.a, branch.b] {
                if node != reference {
                    let next = number.len();
                    number.entry(node).or_insert(next);
                }
            }
        }
        let regimes = branches
            .iter()
            .map(|branch| match branch.law {
                Law::Keeps(_) => Regime::Off,
                Law::Draws { .. } => Regime::Sloped,
                _ => Regime::On,
            })
            .collect();
        Self { branches, reference, number, regimes }
    }

    fn solve(mut self, solution: &mut Solution) {
        let tries = TOGETHER + 4 * self.branches.len();
        for round in 0..tries {
            let Some(volts) = self.volts() else { return self.give_up(solution, Unsolved::Inexact) };
            let at = |node: usize| self.number.get(&node).map_or(0.0, |n| volts[*n]);
            let mut leaving: Vec<(usize, f64, Regime)> = (0..self.branches.len())
                .filter_map(|n| {
                    let (past, next) = self.leaves(n, at(self.branches[n].a) - at(self.branches[n].b))?;
                    Some((n, past, next))
                })
                .collect();
            if leaving.is_empty() {
                return self.write(&volts, solution);
            }
            if round >= TOGETHER {
                // Changed together they chase each other: from here on only the one that is furthest off.
                leaving.sort_by(|x, y| y.1.total_cmp(&x.1).then(x.0.cmp(&y.0)));
                leaving.truncate(1);
            }
            for (n, _, next) in leaving {
                self.regimes[n] = next;
            }
        }
        self.give_up(solution, Unsolved::NoRest);
    }

    /// The regime to which branch `n` must go at these volts, and how far it is from its own.
    fn leaves(&self, n: usize, volts: f64) -> Option<(f64, Regime)> {
        const SLACK: f64 = 1e-9;
        let regime = self.regimes[n];
        let (past, next) = match self.branches[n].law {
            Law::Keeps(keep) if regime == Regime::Off => (volts - keep, Regime::On),
            Law::Keeps(keep) => (keep - volts, Regime::Off),
            Law::Draws { from, polarised, .. } => match regime {
                Regime::Sloped if polarised && volts < 0.0 => (-volts, Regime::Off),
                Regime::Sloped if volts > 0.0 => (volts - from, Regime::On),
                Regime::Sloped => (-volts - from, Regime::Back),
                Regime::On => (from - volts, Regime::Sloped),
                Regime::Back => (from + volts, Regime::Sloped),
                Regime::Off => (volts, Regime::Sloped),
            },
            _ => return None,
        };
        (past > SLACK * (1.0 + volts.abs())).then_some((past, next))
    }

    /// Siemens, and amps from `a` to `b` besides, of branch `n`.
    fn line(&self, n: usize) -> (f64, f64) {
        match (self.branches[n].law, self.regimes[n]) {
            (Law::Conducts(siemens), _) => (siemens, 0.0),
            (Law::Lifts(volts), _) => (1.0 / LEAST, -volts / LEAST),
            (Law::Drives(amps), _) => (0.0, amps),
            (Law::Keeps(keep), Regime::On) => (1.0 / LEAST, -keep / LEAST),
            (Law::Draws { siemens, .. }, Regime::Sloped) => (siemens, 0.0),
            (Law::Draws { siemens, from, .. }, Regime::On) => (0.0, siemens * from),
            (Law::Draws { siemens, from, .. }, Regime::Back) => (0.0, -siemens * from),
            _ => (0.0, 0.0),
        }
    }

    /// The volts of the nodes in the present regimes; `None` if the sums of currents do not come out.
    fn volts(&self) -> Option<Vec<f64>> {
        let nodes = self.number.len();
        let mut right = vec![0.0; nodes];
        let mut columns: Vec<BTreeMap<usize, f64>> =
            (0..nodes).map(|n| BTreeMap::from([(n, LEAK)])).collect();
        let mut largest: f64 = 1e-3;
        for (n, branch) in self.branches.iter().enumerate() {
            let (siemens, amps) = self.line(n);
            let ends = [self.number.get(&branch.a).copied(), self.number.get(&branch.b).copied()];
            largest = largest.max(amps.abs());
            for (end, sign) in ends.into_iter().zip([1.0, -1.0]) {
                if let Some(node) = end {
                    *columns[node].entry(node).or_default() += siemens;
                    right[node] -= sign * amps;
                }
            }
            if let [Some(a), Some(b)] = ends {
                *columns[a].entry(b).or_default() -= siemens;
                *columns[b].entry(a).or_default() -= siemens;
            }
        }
        let matrix = sparse(&columns);
        let mut volts = right.clone();
        rsparse::cholsol(&matrix, &mut volts, 0).ok()?;
        let wanted: Vec<f64> = right.iter().map(|amps| -amps).collect();
        let off = rsparse::gaxpy(&matrix, &volts, &wanted);
        off.iter().all(|amps| amps.abs() <= RESIDUAL * largest).then_some(volts)
    }

    /// Writes volts and amps; nodes that nothing holds any more stay without volts.
    fn write(&self, volts: &[f64], solution: &mut Solution) {
        let at = |node: usize| self.number.get(&node).map_or(0.0, |n| volts[*n]);
        let mut held = UnionFind::<usize>::new(self.number.len() + 1);
        let slot = |node: usize| self.number.get(&node).map_or(0, |n| n + 1);
        for (n, branch) in self.branches.iter().enumerate() {
            let (siemens, more) = self.line(n);
            let amps = siemens * (at(branch.a) - at(branch.b)) + more;
            if siemens > 0.0 || more != 0.0 {
                held.union(slot(branch.a), slot(branch.b));
            }
            if let Some(what) = branch.what {
                let source = matches!(branch.law, Law::Lifts(_));
                solution.amps.insert(what, if source { -amps } else { amps });
            }
        }
        for node in self.number.keys().chain([&self.reference]) {
            if held.equiv(0, slot(*node)) {
                solution.volts[*node] = Some(at(*node));
            }
        }
    }

    fn give_up(&self, solution: &mut Solution, why: Unsolved) {
        let parts = self.branches.iter().filter_map(|branch| match branch.what {
            Some(Through::Part(part)) => Some((part, why)),
            _ => None,
        });
        solution.unsolved.extend(parts);
    }
}
