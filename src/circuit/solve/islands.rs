//! One system in one state: its islands, their references, their volts and amps.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::unionfind::UnionFind;

use crate::netlist::{PartId, TerminalId};

use super::law::Law;
use super::linear::Grid;
use super::parts::{Element, Elements, Lies, Owner};
use super::piecewise::{Branch, Standing, potentials};
use super::{Solver, Trouble, small};

/// The volts by which sources joined without resistance may differ and still count as equal.
const ALIKE: f64 = 1e-9;

/// Amps below this are the leakage of parts that block, and count as none.
const NONE: f64 = 1e-9;

/// A figure that may not be known, in the room of one that is: a large system has a hundred thousand of them.
#[derive(Clone, Copy, Debug)]
pub(in crate::circuit) struct Maybe(f64);

impl Maybe {
    const UNKNOWN: Self = Self(f64::NAN);

    /// The figure, if it is known.
    pub(in crate::circuit) fn get(self) -> Option<f64> {
        (!self.0.is_nan()).then_some(self.0)
    }
}

/// The solution of one system. All lists follow the system's own.
#[derive(Clone, Debug, Default)]
pub(super) struct Solved {
    pub(super) volts: Vec<Maybe>,
    pub(super) island: Vec<u32>,
    pub(super) core_amps: Vec<Maybe>,
    pub(super) part_amps: Vec<Maybe>,
    pub(super) troubles: Vec<Trouble>,
    pub(super) floating: Vec<TerminalId>,
}

/// Terminals tied together by conductors without resistance and by sources, each with its volts above the first.
struct Places {
    parent: Vec<u32>,
    above: Vec<f64>,
}

impl Places {
    fn of(terminals: usize) -> Self {
        Self { parent: (0..small(terminals)).collect(), above: vec![0.0; terminals] }
    }

    /// The first of the place, and the volts above it.
    fn find(&mut self, terminal: u32) -> (u32, f64) {
        let mut way = Vec::new();
        let mut at = terminal;
        while self.parent[at as usize] != at {
            way.push(at);
            at = self.parent[at as usize];
        }
        let mut above = 0.0;
        for step in way.into_iter().rev() {
            above += self.above[step as usize];
            self.above[step as usize] = above;
            self.parent[step as usize] = at;
        }
        (at, above)
    }

    /// Holds `a` so many volts above `b`; false if they already stand otherwise.
    fn hold(&mut self, a: u32, b: u32, volts: f64) -> bool {
        let ((a, a_above), (b, b_above)) = (self.find(a), self.find(b));
        if a == b {
            return (a_above - b_above - volts).abs() <= ALIKE;
        }
        let (low, high, above) =
            if a < b { (a, b, a_above - volts - b_above) } else { (b, a, b_above + volts - a_above) };
        self.parent[high as usize] = low;
        self.above[high as usize] = above;
        true
    }

    /// The same, once all is held: every terminal then knows the first of its place.
    fn found(mut self) -> Found {
        for terminal in 0..small(self.parent.len()) {
            self.find(terminal);
        }
        Found(self)
    }
}

/// Places to which nothing is added any more.
struct Found(Places);

impl Found {
    /// The first of a terminal's place; it comes before the others.
    fn first(&self, terminal: u32) -> u32 {
        self.0.parent[terminal as usize]
    }

    /// The volts of each terminal above the first of its place.
    fn above(&self) -> &[f64] {
        &self.0.above
    }

    /// Puts the first of a place at so many volts, or where none are known at none.
    fn put(&mut self, first: u32, volts: Maybe) {
        self.0.above[first as usize] += volts.0;
    }

    /// The first of each terminal's place, and the volts of all, once every first was put at its own.
    fn volts(self) -> (Vec<u32>, Vec<Maybe>) {
        let Self(Places { parent, mut above }) = self;
        for (terminal, &first) in parent.iter().enumerate() {
            if first as usize != terminal {
                above[terminal] += above[first as usize];
            }
        }
        (parent, above.into_iter().map(Maybe).collect())
    }
}

impl Solved {
    /// The solution of these elements, and the elements. `again` gives the same once more: those of a large system take as much
    /// room as its equations, and need not stand beside them.
    pub(super) fn of(
        solver: &Solver,
        at: usize,
        elements: Elements,
        again: impl Fn() -> Elements,
    ) -> (Elements, Self) {
        let terminals = solver.systems.terminals.get(at);
        let mut places = Places::of(terminals.len());
        for element in elements.all.iter().filter(|element| matches!(element.what, Lies::Join)) {
            places.hold(element.a, element.b, 0.0);
        }
        let mut conflicts: Vec<(u32, PartId)> = Vec::new();
        for element in &elements.all {
            if let (Lies::Volts(volts), Owner::Part(id)) = (element.what, element.owner)
                && !places.hold(element.a, element.b, elements.volts(volts))
            {
                conflicts.push((element.a, id));
            }
        }
        let mut found = places.found();
        let (number, wholes) = gather(&elements.all, &found, &conflicts);
        let laws = elements.into_laws();
        let mut solved = Self::default();
        for whole in wholes.values().filter(|whole| !whole.conflicts.is_empty()) {
            solved.troubles.push(Trouble::Contradiction(whole.conflicts.clone()));
        }
        for (at, Whole { members, branches, conflicts }) in wholes {
            let sound = conflicts.is_empty();
            let standing = Standing { number: &number, above: found.above(), laws: &laws };
            match sound.then(|| potentials(members.len(), &branches, standing)).flatten() {
                Some(volts) => {
                    for (first, volts) in members.into_iter().zip(volts) {
                        found.put(first, Maybe(volts));
                    }
                }
                None => {
                    let not_found = terminals.get(at as usize).filter(|_| sound);
                    solved.troubles.extend(not_found.map(|at| Trouble::NotFound(*at)));
                    members.into_iter().for_each(|first| found.put(first, Maybe::UNKNOWN));
                }
            }
        }
        drop((number, laws));
        let (first, volts) = found.volts();
        let elements = again();
        solved.flow(solver, at, &elements, &volts, first);
        solved.refer(terminals, &elements, volts);
        (elements, solved)
    }

    /// The amps of every element from `a` to `b`, written down by core and part. Where conductors without resistance, and
    /// sources, form rings, their shares are those that equal resistances would give.
    fn flow(&mut self, solver: &Solver, at: usize, elements: &Elements, volts: &[Maybe], first: Vec<u32>) {
        self.core_amps = vec![Maybe(0.0); solver.systems.cores.get(at).len()];
        self.part_amps = vec![Maybe(0.0); solver.systems.parts.get(at).len()];
        // By terminal: its place in a grid of its own, in which the first of each place is the one that is known.
        let mut places = 0;
        let mut number = first;
        for (terminal, (volts, number)) in (0..).zip(volts.iter().zip(&mut number)) {
            let inner = volts.get().is_some() && *number != terminal;
            places += u32::from(inner);
            *number = if inner { places } else { 0 };
        }
        let ends = |element: &Element| [element.a, element.b].map(|end| end as usize);
        let lawless = |element: &&Element| !matches!(element.what, Lies::Law(_));
        let mut grid = Grid::new(places as usize + 1, elements.all.iter().filter(lawless).count());
        let mut inflow = vec![0.0; places as usize + 1];
        for element in &elements.all {
            let [a, b] = ends(element);
            let amps = match (element.what, volts[a].get(), volts[b].get()) {
                (Lies::Law(law), Some(from), Some(to)) => {
                    let law = elements.law(law);
                    let amps = law.amps(from - to);
                    inflow[number[a] as usize] -= amps;
                    inflow[number[b] as usize] += amps;
                    Some(if law.conducts(from - to) { amps } else { 0.0 })
                }
                (Lies::Law(_), ..) | (_, None, _) => None,
                _ => {
                    grid.tie(number[a], number[b], 1.0);
                    None
                }
            };
            self.record(solver, at, element, amps);
        }
        let Some(shares) = grid.solve(inflow) else { return };
        for element in elements.all.iter().filter(lawless) {
            let [a, b] = ends(element);
            if volts[a].get().is_some() {
                let amps = shares[number[a] as usize] - shares[number[b] as usize];
                self.record(solver, at, element, Some(amps));
            }
        }
    }

    /// Writes the amps of an element down by core or part.
    fn record(&mut self, solver: &Solver, at: usize, element: &Element, amps: Option<f64>) {
        // Through a source current runs from its minus to its plus.
        let sign = if matches!(element.what, Lies::Volts(_)) { -1.0 } else { 1.0 };
        let amps = amps.map(|amps| if amps.abs() < NONE { 0.0 } else { sign * amps });
        let systems = &solver.systems;
        let known = match element.owner {
            Owner::Core(id) => {
                let n = systems.cores.get(at).binary_search(&id);
                n.ok().and_then(|n| self.core_amps.get_mut(n))
            }
            Owner::Part(id) => {
                let n = systems.parts.get(at).binary_search(&id);
                n.ok().and_then(|n| self.part_amps.get_mut(n))
            }
            Owner::Link(_) => None,
        };
        if let Some(known) = known {
            *known = amps.map_or(Maybe::UNKNOWN, Maybe);
        }
    }

    /// Parts the system into what conducting parts hold together, and measures each from its own reference.
    fn refer(&mut self, terminals: &[TerminalId], elements: &Elements, mut volts: Vec<Maybe>) {
        let mut held = UnionFind::<u32>::new(terminals.len());
        let known = |terminal: u32, volts: &[Maybe]| volts[terminal as usize].get();
        for &Element { a, b, what, .. } in &elements.all {
            let conducts = match what {
                Lies::Join | Lies::Volts(_) => true,
                Lies::Law(law) => match (known(a, &volts), known(b, &volts)) {
                    (Some(a), Some(b)) => elements.law(law).conducts(a - b),
                    _ => true,
                },
            };
            if conducts {
                held.union(a, b);
            }
        }
        let mut reference: BTreeMap<u32, f64> = BTreeMap::new();
        let mut sourced: BTreeSet<u32> = BTreeSet::new();
        for element in elements.all.iter().filter(|element| matches!(element.what, Lies::Volts(_))) {
            sourced.insert(held.find(element.a));
            if let Some(volts) = known(element.b, &volts) {
                reference.entry(held.find(element.b)).or_insert(volts);
            }
        }
        self.island = (0..small(terminals.len())).map(|t| held.find(t)).collect();
        for (volts, island) in volts.iter_mut().zip(&self.island) {
            *volts = reference.get(island).map_or(Maybe::UNKNOWN, |reference| Maybe(volts.0 - reference));
        }
        let mut told = BTreeSet::new();
        for element in &elements.all {
            if let (Lies::Law(law), Owner::Part(_)) = (element.what, element.owner)
                && !matches!(elements.law(law), Law::OneWay { .. })
            {
                for end in [element.a, element.b] {
                    let island = self.island[end as usize];
                    if !sourced.contains(&island) && told.insert(island) {
                        self.floating.push(terminals[end as usize]);
                    }
                }
            }
        }
        self.volts = volts;
    }
}

/// The ohms that these elements, joins and resistances, make between two terminals of a system.
pub(super) fn ohms(
    solver: &Solver,
    at: usize,
    elements: &Elements,
    a: TerminalId,
    b: TerminalId,
) -> Option<f64> {
    let terminals = solver.systems.terminals.get(at).len();
    let (a, b) = (solver.local(a), solver.local(b));
    let mut places = Places::of(terminals);
    for element in elements.all.iter().filter(|element| matches!(element.what, Lies::Join)) {
        places.hold(element.a, element.b, 0.0);
    }
    let found = places.found();
    let mut joined = UnionFind::<u32>::new(terminals);
    let mut ties = Vec::new();
    for element in &elements.all {
        let ends = [element.a, element.b].map(|end| found.first(end));
        joined.union(ends[0], ends[1]);
        if let Lies::Law(law) = element.what {
            ties.push((ends, elements.law(law).line(0.0).0));
        }
    }
    let (from, to) = (found.first(a), found.first(b));
    if from == to {
        return Some(0.0);
    }
    // By place: its number in the grid, where the one to which the current goes is the known one.
    let mut number: BTreeMap<u32, u32> = BTreeMap::from([(to, 0)]);
    for place in (0..small(terminals)).filter(|place| joined.equiv(*place, to)) {
        let next = small(number.len());
        if found.first(place) == place {
            number.entry(place).or_insert(next);
        }
    }
    let at = *number.get(&from)? as usize;
    let mut grid = Grid::new(number.len(), ties.len());
    for ([a, b], siemens) in ties {
        if let (Some(a), Some(b)) = (number.get(&a), number.get(&b)) {
            grid.tie(*a, *b, siemens);
        }
    }
    let mut inflow = vec![0.0; number.len()];
    inflow[at] = 1.0;
    grid.solve(inflow)?.get(at).copied()
}

/// What holds together: its places, the first of which is the reference, and the parts between them.
#[derive(Default)]
struct Whole {
    members: Vec<u32>,
    branches: Vec<Branch>,
    /// The sources that cannot all hold their volts.
    conflicts: Vec<PartId>,
}

/// By terminal the number of its place in its whole, and all that hold together.
fn gather(
    elements: &[Element],
    found: &Found,
    conflicts: &[(u32, PartId)],
) -> (Vec<u32>, BTreeMap<u32, Whole>) {
    let terminals = small(found.above().len());
    let mut held = UnionFind::<u32>::new(terminals as usize);
    for t in 0..terminals {
        held.union(t, found.first(t));
    }
    for element in elements {
        held.union(element.a, element.b);
    }
    let mut wholes: BTreeMap<u32, Whole> = BTreeMap::new();
    let mut number: Vec<u32> = Vec::with_capacity(terminals as usize);
    for t in 0..terminals {
        let first = found.first(t);
        let at = if first == t {
            let members = &mut wholes.entry(held.find(t)).or_default().members;
            members.push(t);
            small(members.len() - 1)
        } else {
            number[first as usize]
        };
        number.push(at);
    }
    for element in elements {
        let first = found.first(element.a);
        if let Lies::Law(law) = element.what
            && first != found.first(element.b)
        {
            let branch = Branch { ends: [element.a, element.b], law };
            wholes.entry(held.find(first)).or_default().branches.push(branch);
        }
    }
    for (terminal, id) in conflicts {
        wholes.entry(held.find(*terminal)).or_default().conflicts.push(*id);
    }
    for Whole { members, branches, .. } in wholes.values_mut() {
        members.shrink_to_fit();
        branches.shrink_to_fit();
    }
    (number, wholes)
}
