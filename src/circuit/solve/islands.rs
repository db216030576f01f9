//! One system in one state: its islands, their references, their volts and amps.

use std::collections::BTreeMap;

use petgraph::unionfind::UnionFind;

use crate::netlist::{PartId, TerminalId};

use super::law::Law;
use super::linear::Grid;
use super::parts::{Element, Owner, What};
use super::piecewise::{Branch, potentials};
use super::{Solver, Trouble};

/// The volts by which sources joined without resistance may differ and still count as equal.
const ALIKE: f64 = 1e-9;

/// Amps below this are the leakage of parts that block, and count as none.
const NONE: f64 = 1e-9;

/// The solution of one system. All lists follow the system's own.
#[derive(Clone, Debug, Default)]
pub(super) struct Solved {
    pub(super) volts: Vec<Option<f64>>,
    pub(super) island: Vec<usize>,
    pub(super) core_amps: Vec<Option<f64>>,
    pub(super) part_amps: Vec<Option<f64>>,
    pub(super) troubles: Vec<Trouble>,
    pub(super) floating: Vec<TerminalId>,
}

/// Terminals tied together by conductors without resistance and by sources, each with its volts above the first.
struct Places {
    parent: Vec<usize>,
    above: Vec<f64>,
}

impl Places {
    fn of(terminals: usize) -> Self {
        Self { parent: (0..terminals).collect(), above: vec![0.0; terminals] }
    }

    /// The first of the place, and the volts above it.
    fn find(&mut self, terminal: usize) -> (usize, f64) {
        let mut way = Vec::new();
        let mut at = terminal;
        while self.parent[at] != at {
            way.push(at);
            at = self.parent[at];
        }
        let mut above = 0.0;
        for step in way.into_iter().rev() {
            above += self.above[step];
            self.above[step] = above;
            self.parent[step] = at;
        }
        (at, above)
    }

    /// Holds `a` so many volts above `b`; false if they already stand otherwise.
    fn hold(&mut self, a: usize, b: usize, volts: f64) -> bool {
        let ((a, a_above), (b, b_above)) = (self.find(a), self.find(b));
        if a == b {
            return (a_above - b_above - volts).abs() <= ALIKE;
        }
        let (low, high, above) =
            if a < b { (a, b, a_above - volts - b_above) } else { (b, a, b_above + volts - a_above) };
        self.parent[high] = low;
        self.above[high] = above;
        true
    }
}

/// An element, its ends by the system's own numbers.
struct Local<'e> {
    a: usize,
    b: usize,
    element: &'e Element,
}

impl Solved {
    pub(super) fn of(solver: &Solver, at: usize, elements: &[Element]) -> Self {
        let terminals = &solver.systems[at].terminals;
        let locals: Vec<Local> = elements
            .iter()
            .map(|e| Local { a: solver.local(e.a), b: solver.local(e.b), element: e })
            .collect();
        let mut places = Places::of(terminals.len());
        for local in locals.iter().filter(|local| matches!(local.element.what, What::Join)) {
            places.hold(local.a, local.b, 0.0);
        }
        let mut conflicts: Vec<(usize, PartId)> = Vec::new();
        for local in &locals {
            if let (What::Volts(volts), Owner::Part(id)) = (local.element.what, local.element.owner)
                && !places.hold(local.a, local.b, volts)
            {
                conflicts.push((local.a, id));
            }
        }
        let found: Vec<(usize, f64)> = (0..terminals.len()).map(|t| places.find(t)).collect();
        let mut held = UnionFind::<usize>::new(terminals.len());
        for (t, (first, _)) in found.iter().enumerate() {
            held.union(t, *first);
        }
        for local in &locals {
            held.union(local.a, local.b);
        }
        let mut solved = Self::default();
        // By what holds together: whether it could be solved.
        let mut broken: BTreeMap<usize, Vec<PartId>> = BTreeMap::new();
        for (terminal, id) in conflicts {
            broken.entry(held.find(terminal)).or_default().push(id);
        }
        for sources in broken.values() {
            solved.troubles.push(Trouble::Contradiction(sources.clone()));
        }
        let mut above: Vec<Option<f64>> = vec![None; terminals.len()];
        // By place: its number among the unknowns of what holds together; the first one there is the reference.
        let mut number: Vec<Option<usize>> = vec![None; terminals.len()];
        for (whole, branches) in gather(&locals, &found, &held) {
            if broken.contains_key(&whole) {
                continue;
            }
            let members = branches.members;
            for (n, member) in members.iter().skip(1).enumerate() {
                number[*member] = Some(n);
            }
            let listed: Vec<Branch> = branches
                .list
                .iter()
                .map(|&(a, b, lift, law)| Branch { a: number[a], b: number[b], lift, law })
                .collect();
            match potentials(members.len().saturating_sub(1), &listed) {
                Some(volts) => {
                    for (n, first) in members.iter().enumerate() {
                        above[*first] = Some(if n == 0 { 0.0 } else { volts[n - 1] });
                    }
                }
                None => {
                    solved.troubles.push(Trouble::NotFound(terminals[whole]));
                    broken.insert(whole, Vec::new());
                }
            }
        }
        let volts: Vec<Option<f64>> = (0..terminals.len())
            .map(|t| {
                if broken.contains_key(&held.find(t)) {
                    return None;
                }
                let (first, lift) = found[t];
                Some(above[first].unwrap_or(0.0) + lift)
            })
            .collect();
        let amps = amps(&locals, &volts, &found);
        solved.record(solver, at, &locals, &amps);
        solved.refer(solver, at, &locals, volts);
        solved
    }

    /// Writes the amps down by core and part.
    fn record(&mut self, solver: &Solver, at: usize, locals: &[Local<'_>], amps: &[Option<f64>]) {
        let system = &solver.systems[at];
        self.core_amps = vec![Some(0.0); system.cores.len()];
        self.part_amps = vec![Some(0.0); system.parts.len()];
        for (local, amps) in locals.iter().zip(amps) {
            // Through a source current runs from its minus to its plus.
            let sign = if matches!(local.element.what, What::Volts(_)) { -1.0 } else { 1.0 };
            let amps = amps.map(|amps| if amps.abs() < NONE { 0.0 } else { sign * amps });
            match local.element.owner {
                Owner::Core(id) => {
                    if let Ok(n) = system.cores.binary_search(&id) {
                        self.core_amps[n] = amps;
                    }
                }
                Owner::Part(id) => {
                    if let Ok(n) = system.parts.binary_search(&id) {
                        self.part_amps[n] = amps;
                    }
                }
                Owner::Link(_) => {}
            }
        }
    }

    /// Parts the system into what conducting parts hold together, and measures each from its own reference.
    fn refer(&mut self, solver: &Solver, at: usize, locals: &[Local<'_>], mut volts: Vec<Option<f64>>) {
        let terminals = &solver.systems[at].terminals;
        let mut held = UnionFind::<usize>::new(terminals.len());
        for local in locals {
            let conducts = match local.element.what {
                What::Join | What::Volts(_) => true,
                What::Law(law) => match (volts[local.a], volts[local.b]) {
                    (Some(a), Some(b)) => law.conducts(a - b),
                    _ => true,
                },
            };
            if conducts {
                held.union(local.a, local.b);
            }
        }
        let mut reference: BTreeMap<usize, f64> = BTreeMap::new();
        let mut sourced: BTreeMap<usize, bool> = BTreeMap::new();
        for local in locals {
            if matches!(local.element.what, What::Volts(_)) {
                sourced.insert(held.find(local.a), true);
                if let Some(minus) = volts[local.b] {
                    reference.entry(held.find(local.b)).or_insert(minus);
                }
            }
        }
        self.island = (0..terminals.len()).map(|t| held.find(t)).collect();
        for (volts, island) in volts.iter_mut().zip(&self.island) {
            *volts = match (*volts, reference.get(island)) {
                (Some(volts), Some(reference)) => Some(volts - reference),
                _ => None,
            };
        }
        let mut told = BTreeMap::new();
        for local in locals {
            if let (What::Law(law), Owner::Part(_)) = (local.element.what, local.element.owner)
                && !matches!(law, Law::OneWay { .. })
            {
                for end in [local.a, local.b] {
                    let island = self.island[end];
                    if !sourced.contains_key(&island) && told.insert(island, ()).is_none() {
                        self.floating.push(terminals[end]);
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
    elements: &[Element],
    a: TerminalId,
    b: TerminalId,
) -> Option<f64> {
    let terminals = solver.systems[at].terminals.len();
    let (a, b) = (solver.local(a), solver.local(b));
    let mut places = Places::of(terminals);
    for element in elements.iter().filter(|element| matches!(element.what, What::Join)) {
        places.hold(solver.local(element.a), solver.local(element.b), 0.0);
    }
    let mut joined = UnionFind::<usize>::new(terminals);
    let mut ties = Vec::new();
    for element in elements {
        let ends = [element.a, element.b].map(|end| places.find(solver.local(end)).0);
        joined.union(ends[0], ends[1]);
        if let What::Law(law) = element.what {
            ties.push((ends, law.line(0.0).0));
        }
    }
    let (from, to) = (places.find(a).0, places.find(b).0);
    if from == to {
        return Some(0.0);
    }
    let mut number: BTreeMap<usize, usize> = BTreeMap::new();
    for place in (0..terminals).filter(|place| *place != to && joined.equiv(*place, to)) {
        let next = number.len();
        if places.find(place).0 == place {
            number.insert(place, next);
        }
    }
    let at = *number.get(&from)?;
    let mut grid = Grid::new(number.len());
    for ([a, b], siemens) in ties.into_iter().filter(|(ends, _)| joined.equiv(ends[0], to)) {
        grid.tie(number.get(&a).copied(), number.get(&b).copied(), siemens);
    }
    let mut inflow = vec![0.0; number.len()];
    inflow[at] = 1.0;
    grid.solve(&inflow)?.get(at).copied()
}

/// What holds together: its places, and the branches between them.
#[derive(Default)]
struct Whole {
    members: Vec<usize>,
    list: Vec<(usize, usize, f64, Law)>,
}

fn gather(locals: &[Local<'_>], found: &[(usize, f64)], held: &UnionFind<usize>) -> BTreeMap<usize, Whole> {
    let mut wholes: BTreeMap<usize, Whole> = BTreeMap::new();
    for (t, (first, _)) in found.iter().enumerate() {
        if t == *first {
            wholes.entry(held.find(t)).or_default().members.push(t);
        }
    }
    for local in locals {
        if let What::Law(law) = local.element.what {
            let ((a, a_above), (b, b_above)) = (found[local.a], found[local.b]);
            if a != b {
                wholes.entry(held.find(a)).or_default().list.push((a, b, a_above - b_above, law));
            }
        }
    }
    wholes
}

/// The amps of every element from `a` to `b`. Where conductors without resistance, and sources, form rings, their shares
/// are those that equal resistances would give.
fn amps(locals: &[Local<'_>], volts: &[Option<f64>], found: &[(usize, f64)]) -> Vec<Option<f64>> {
    let number: Vec<Option<usize>> = {
        let mut count = 0;
        (0..volts.len())
            .map(|t| {
                (found[t].0 != t && volts[t].is_some()).then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect()
    };
    let mut grid = Grid::new(number.iter().flatten().count());
    let mut inflow = vec![0.0; number.iter().flatten().count()];
    let mut amps: Vec<Option<f64>> = Vec::with_capacity(locals.len());
    for local in locals {
        amps.push(match (local.element.what, volts[local.a], volts[local.b]) {
            (What::Law(law), Some(a), Some(b)) => {
                let amps = law.amps(a - b);
                if let Some(a) = number[local.a] {
                    inflow[a] -= amps;
                }
                if let Some(b) = number[local.b] {
                    inflow[b] += amps;
                }
                Some(if law.conducts(a - b) { amps } else { 0.0 })
            }
            _ => None,
        });
        if !matches!(local.element.what, What::Law(_)) && volts[local.a].is_some() {
            grid.tie(number[local.a], number[local.b], 1.0);
        }
    }
    let Some(shares) = grid.solve(&inflow) else { return amps };
    for (local, amps) in locals.iter().zip(&mut amps) {
        if !matches!(local.element.what, What::Law(_)) && volts[local.a].is_some() {
            let at = |t: usize| number[t].map_or(0.0, |n| shares[n]);
            *amps = Some(at(local.a) - at(local.b));
        }
    }
    amps
}
