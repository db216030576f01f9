//! From the graph to columns and sides.
//!
//! Before: devices and strands. After: every device has a column from 0, every end of a strand a side of its device
//! (terminals that a symbol joins keep one side), and every cable the gap in which its bundle lies. Gap `g` is left of
//! column `g`.
//!
//! A job is nearly a tree that grows from its supplies, so columns start as distances from them. Then devices move and
//! terminals change sides one at a time as long as that saves wires that turn back or pass a column.

use std::collections::VecDeque;
use std::rc::Rc;

use super::alike::Alike;
use super::collect::Graph;
use super::gap::gaps;
use super::{FEW, across, grow, tree};
use crate::figure::Side;
use crate::netlist::Form;

/// The graph in columns.
#[derive(Clone, Debug)]
pub(super) struct Ranked {
    /// The graph.
    pub graph: Rc<Graph>,
    /// The column of each device.
    pub column: Vec<usize>,
    /// How many columns there are; at least one.
    pub columns: usize,
    /// The side on which each end of each strand lands.
    pub side: Vec<[Side; 2]>,
    /// The side of each terminal of each device, in printed order; of no meaning for splices and strips.
    pub terminal_side: Vec<Vec<Side>>,
    /// The gap of each bundle.
    pub gap: Vec<usize>,
    /// Which end of each bundle (0 near, 1 far) is on its left.
    pub left_end: Vec<usize>,
    /// How many bundles lie within the frame of a location that they lead out of.
    pub inside: usize,
    /// Whether the terminals of a device with two leads stand the other way round.
    pub upturned: Vec<bool>,
}

/// What one turn back of a core costs, counted in wires that pass a column.
const TURN: f64 = 7.0;
/// The same of a link, which needs no room for a cable.
const TURN_OF_LINK: f64 = 4.0;
/// A wire that passes a column.
const PASS: f64 = 1.0;
/// A wire that leads power from right to left.
const AGAINST: f64 = 4.0;
/// The same to a device that has wires to one other device only.
const AGAINST_TO_LEAF: f64 = 0.4;
/// A terminal that is not on the side that its figure prefers.
const UNLIKED: f64 = 0.6;
/// Two conductors on one side of a strip's way.
const CROWDED: f64 = 3.0;
/// Two terminals of a device on which one cable lands, on different sides, counted at each of them; or a core that leads to
/// no other device, on another side than one of its cable.
const PARTED: f64 = 3.0;
/// A device in another column, or terminals on another side, than most that are like it.
const UNLIKE: f64 = 1.0;

/// Ends that change sides together: a group of a device, or one end on a splice or strip.
#[derive(Debug)]
pub(super) struct Unit {
    pub node: usize,
    pub ends: Vec<(usize, usize)>,
    pub terminals: Vec<usize>,
    /// What its terminals cost on the left and on the right.
    unliked: [f64; 2],
    /// The other units on the same way of a strip.
    beside: Vec<usize>,
    /// The other units of the device on which a cable lands that lands on this one; on a strip or splice only where the
    /// core here leads to no other device.
    with: Vec<usize>,
}

impl Unit {
    /// Before it is known what is beside it.
    fn new(node: usize, ends: Vec<(usize, usize)>, terminals: Vec<usize>, unliked: [f64; 2]) -> Self {
        Self { node, ends, terminals, unliked, beside: Vec::new(), with: Vec::new() }
    }
}

/// Columns and sides in the making.
#[derive(Debug)]
pub(super) struct Ranking {
    graph: Rc<Graph>,
    pub(super) units: Vec<Unit>,
    pub(super) unit_of: Vec<[usize; 2]>,
    pub(super) units_of: Vec<Vec<usize>>,
    pub(super) alike: Alike,
    /// Whether better columns and sides are searched for than the choice has at first.
    pub(super) searched: bool,
    /// The end of each strand that is nearer to the supplies, and what it costs if that is right of the other.
    flow: Vec<(usize, f64)>,
    /// What else may be started from: the mere distances, columns in which room is left for what hangs on the feed side of a
    /// device, and of a large job both with its locations side by side.
    pub starts: Vec<Choice>,
    /// What is chosen.
    pub choice: Choice,
}

/// The column of each device and the side of each unit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Choice {
    pub column: Vec<i32>,
    pub side: Vec<Side>,
}

/// What can be done with the columns of a location.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fold {
    /// All in its first column.
    First,
    /// All in its last column.
    Last,
    /// The last column becomes the first.
    Reverse,
}

/// Ranks.
pub(super) fn rank(graph: Graph) -> Ranking {
    let mut ranking = Ranking::start(graph);
    ranking.choose_all_sides();
    let distances = ranking.choice.clone();
    if ranking.device_count() > FEW {
        ranking.face_along_tree();
        ranking.start_from_tree();
        ranking.choice = distances;
        ranking.add_bands();
    } else {
        ranking.starts.push(distances.clone());
        ranking.start_from_tree();
        ranking.choice = distances;
        ranking.climb();
        let climbed = ranking.choice.clone();
        ranking.settle_alike();
        ranking.starts.push(ranking.choice.clone());
        ranking.choice = climbed;
    }
    ranking
}

impl Ranking {
    fn start(graph: Graph) -> Self {
        let column = distances(&graph);
        let mut side: Vec<Side> = Vec::new();
        let leaf: Vec<bool> = (0..graph.nodes.len()).map(|n| graph.neighbours(n).len() == 1).collect();
        let flow = graph.strands.iter().map(|strand| {
            let [Some(a), Some(b)] = strand.ends else { return (0, 0.0) };
            let nearer = usize::from(column[a.node] > column[b.node]);
            let far = if nearer == 0 { b.node } else { a.node };
            (nearer, if leaf[far] { AGAINST_TO_LEAF } else { AGAINST })
        });
        let flow = flow.collect();
        let mut units: Vec<Unit> = Vec::new();
        let mut unit_of = vec![[usize::MAX; 2]; graph.strands.len()];
        let mut units_of = vec![Vec::new(); graph.nodes.len()];
        for (n, node) in graph.nodes.iter().enumerate() {
            let terminal = |(s, e): &(usize, usize)| graph.strands[*s].ends[*e].map_or(0, |j| j.terminal);
            let mut add = |unit: Unit, on: Side| {
                for (s, e) in &unit.ends {
                    unit_of[*s][*e] = units.len();
                }
                units_of[n].push(units.len());
                units.push(unit);
                side.push(on);
            };
            if node.form == Form::Box {
                // Of a large job a device of which nothing is known turns as its wires want.
                let free = node.plain && graph.nodes.len() > FEW;
                for group in &node.pref.groups {
                    let ends = node.ends.iter().filter(|e| group.contains(&terminal(e))).copied().collect();
                    let side = group.first().map_or(Side::Left, |t| node.pref.sides[*t]);
                    let unliked = [Side::Left, Side::Right].map(|side| {
                        let other = |t: &&usize| node.pref.sides[**t] != side;
                        let count = if free { 0 } else { group.iter().filter(other).count() };
                        UNLIKED * count as f64 / (group.len().max(1) as f64).sqrt()
                    });
                    add(Unit::new(n, ends, group.clone(), unliked), side);
                }
            } else if node.away.is_some() {
                // The flags of one cable point one way, but for those at its other end.
                for which in [0, 1] {
                    let of = |(s, e): &&(usize, usize)| e ^ usize::from(graph.strands[*s].turned) == which;
                    let ends: Vec<_> = node.ends.iter().filter(of).copied().collect();
                    if !ends.is_empty() {
                        add(Unit::new(n, ends, Vec::new(), [0.0; 2]), Side::Left);
                    }
                }
            } else {
                for end in &node.ends {
                    add(Unit::new(n, vec![*end], Vec::new(), [0.0; 2]), Side::Left);
                }
            }
        }
        for (n, on_strip) in units_of.iter().enumerate().filter(|(n, _)| graph.nodes[*n].form == Form::Strip)
        {
            // A strip has one unit for each end on it.
            let ends = || on_strip.iter().zip(&graph.nodes[n].ends);
            let way = |(s, e): &(usize, usize)| graph.strands[*s].ends[*e];
            for (u, end) in ends() {
                let beside = ends().filter(|(other, of)| *other != u && way(of) == way(end));
                units[*u].beside = beside.map(|(other, _)| *other).collect();
            }
        }
        if graph.nodes.len() <= FEW {
            join_by_cable(&graph, &mut units, &units_of);
        }
        Self {
            alike: Alike::of(&graph, &units),
            searched: graph.nodes.len() <= FEW,
            graph: Rc::new(graph),
            units,
            unit_of,
            units_of,
            flow,
            starts: Vec::new(),
            choice: Choice { column, side },
        }
    }

    /// Adds a start with the columns of the tree.
    fn start_from_tree(&mut self) {
        self.choice.column = tree::columns(&self.graph, |s, e| self.side_of(s, e));
        if self.device_count() > FEW {
            self.choose_free_sides();
        } else {
            self.choose_all_sides();
        }
        self.starts.push(self.choice.clone());
    }

    /// Chooses sides on splices and strips, where any will do.
    fn choose_free_sides(&mut self) {
        let free: Vec<usize> =
            (0..self.units.len()).filter(|u| self.units[*u].terminals.is_empty()).collect();
        self.choose_sides_of(&free);
    }

    /// Chooses the sides of some units, as those of all others are.
    pub(super) fn choose_sides_of(&mut self, units: &[usize]) {
        for _ in 0..4 {
            for u in units {
                self.choose_side(*u);
            }
        }
    }

    /// Moves devices and changes sides as long as that is for the better.
    fn climb(&mut self) {
        for _ in 0..8 {
            let moved = self.move_devices();
            self.choose_all_sides();
            if !moved {
                break;
            }
        }
    }

    /// The units of a device.
    pub(super) fn units_of(&self, node: usize) -> &[usize] {
        &self.units_of[node]
    }

    /// The ends of a unit: (strand, end).
    pub(super) fn ends_of(&self, unit: usize) -> &[(usize, usize)] {
        &self.units[unit].ends
    }

    /// Adds starts in which outermost locations stand side by side, for a job whose locations are not moved one by one.
    fn add_bands(&mut self) {
        let first = self.choice.clone();
        let mut all = self.starts.clone();
        all.push(first.clone());
        for start in all {
            self.choice = start;
            let banded = self.banded();
            self.starts.extend(banded);
        }
        self.choice = first;
    }

    /// The choice with outermost locations side by side, if that changes it.
    pub(super) fn banded(&mut self) -> Option<Choice> {
        self.choice.column = self.in_bands()?;
        self.choose_all_sides();
        Some(self.choice.clone())
    }

    /// Columns in which outermost locations that are equally far from the supplies share a band, in whose first column each
    /// location begins, so that nothing has to pass one to reach another; `None` where there is one band only.
    fn in_bands(&self) -> Option<Vec<i32>> {
        let graph = &self.graph;
        let outer = |n: usize| graph.path_to(graph.nodes[n].place).get(1).copied().unwrap_or(0);
        let mut beside: Vec<Vec<usize>> = vec![Vec::new(); graph.places.len()];
        for strand in &graph.strands {
            let [Some(a), Some(b)] = strand.ends else { continue };
            let (a, b) = (outer(a.node), outer(b.node));
            if a != b {
                beside[a].push(b);
                beside[b].push(a);
            }
        }
        let mut band: Vec<Option<usize>> = vec![None; graph.places.len()];
        let mut queue: VecDeque<usize> = VecDeque::new();
        for place in (0..graph.nodes.len()).filter(|n| graph.nodes[*n].source).map(outer) {
            if band[place].is_none() {
                band[place] = Some(0);
                queue.push_back(place);
            }
        }
        while let Some(place) = queue.pop_front() {
            let next = band[place].map(|band| band + 1);
            for other in &beside[place] {
                if band[*other].is_none() {
                    band[*other] = next;
                    queue.push_back(*other);
                }
            }
        }
        let of = |n: usize| band[outer(n)].unwrap_or(0);
        let bands = (0..graph.nodes.len()).map(of).max().unwrap_or(0) + 1;
        if bands < 2 {
            return None;
        }
        let mut spans = vec![(i32::MAX, i32::MIN); graph.places.len()];
        for (n, column) in self.choice.column.iter().enumerate() {
            let (from, to) = &mut spans[graph.nodes[n].place];
            (*from, *to) = ((*from).min(*column), (*to).max(*column));
        }
        let mut width = vec![0; bands];
        for n in 0..graph.nodes.len() {
            let (from, to) = spans[graph.nodes[n].place];
            width[of(n)] = width[of(n)].max(to - from + 1);
        }
        let first = |band: usize| width[..band].iter().sum::<i32>();
        let column = |(n, column): (usize, &i32)| first(of(n)) + column - spans[graph.nodes[n].place].0;
        Some(self.choice.column.iter().enumerate().map(column).collect())
    }

    /// The side on which a strand's end lands; `None` on a splice or a strip, where any will do.
    fn side_of(&self, s: usize, e: usize) -> Option<Side> {
        let unit = self.unit_of[s][e];
        let free = self.units.get(unit).is_none_or(|u| u.terminals.is_empty());
        (!free).then(|| self.choice.side[unit])
    }

    /// What a strand costs as its two ends stand now.
    fn strand_cost(&self, s: usize) -> f64 {
        let strand = &self.graph.strands[s];
        let [Some(a), Some(b)] = strand.ends else { return 0.0 };
        let sides = self.unit_of[s].map(|u| self.choice.side[u]);
        let columns = [self.choice.column[a.node], self.choice.column[b.node]];
        let (nearer, price) = self.flow[s];
        let against = if columns[nearer] > columns[1 - nearer] { price } else { 0.0 };
        let turn = if strand.bundle.is_some() { TURN } else { TURN_OF_LINK };
        let (turns, passed) = detours(columns, sides);
        against + turn * f64::from(turns) + PASS * f64::from(passed)
    }

    fn unit_cost(&self, u: usize) -> f64 {
        let (unit, side) = (&self.units[u], self.choice.side[u]);
        let crowd = unit.beside.iter().filter(|other| self.choice.side[**other] == side).count();
        let parted = unit.with.iter().filter(|other| self.choice.side[**other] != side).count();
        unit.unliked[side as usize] + CROWDED * crowd as f64 + PARTED * parted as f64
    }

    fn side_cost(&self, u: usize) -> f64 {
        self.unit_cost(u) + self.units[u].ends.iter().map(|(s, _)| self.strand_cost(*s)).sum::<f64>()
    }

    /// Puts a unit on the cheaper side; says whether that changed anything.
    fn choose_side(&mut self, u: usize) -> bool {
        let was = self.choice.side[u];
        let before = self.side_cost(u);
        self.choice.side[u] = other(was);
        if self.side_cost(u) + 1e-9 < before {
            return true;
        }
        self.choice.side[u] = was;
        false
    }

    fn choose_all_sides(&mut self) {
        for _ in 0..6 {
            let mut changed = false;
            for u in 0..self.units.len() {
                changed |= self.choose_side(u);
            }
            // Two ends of one wire that would both have to change.
            for s in 0..self.graph.strands.len() {
                let [a, b] = self.unit_of[s];
                if a == usize::MAX || b == usize::MAX || a == b {
                    continue;
                }
                let shared = |r: &Self| -> f64 {
                    let both = r.units[a].ends.iter().chain(&r.units[b].ends);
                    let mut strands: Vec<usize> = both.map(|(s, _)| *s).collect();
                    strands.sort_unstable();
                    strands.dedup();
                    let wires: f64 = strands.iter().map(|s| r.strand_cost(*s)).sum();
                    wires + r.unit_cost(a) + r.unit_cost(b)
                };
                if self.strand_cost(s) < TURN_OF_LINK {
                    continue;
                }
                let before = shared(self);
                self.choice.side[a] = other(self.choice.side[a]);
                self.choice.side[b] = other(self.choice.side[b]);
                if shared(self) + 1e-9 < before {
                    changed = true;
                } else {
                    self.choice.side[a] = other(self.choice.side[a]);
                    self.choice.side[b] = other(self.choice.side[b]);
                }
            }
            if !changed {
                break;
            }
        }
    }

    /// Tries other columns for each device; says whether any moved.
    fn move_devices(&mut self) -> bool {
        let mut moved = false;
        for n in 0..self.graph.nodes.len() {
            let mut near: Vec<usize> = self.units_of[n].clone();
            let mut tries = vec![self.choice.column[n] - 1, self.choice.column[n] + 1];
            for (s, e) in &self.graph.nodes[n].ends {
                let far = self.unit_of[*s][1 - *e];
                if far != usize::MAX {
                    near.push(far);
                    let column = self.choice.column[self.units[far].node];
                    tries.extend([column - 1, column, column + 1]);
                }
            }
            near.sort_unstable();
            near.dedup();
            tries.sort_unstable();
            tries.dedup();
            let ends = near.iter().flat_map(|u| &self.units[*u].ends);
            let mut strands: Vec<usize> = ends.map(|(s, _)| *s).collect();
            strands.sort_unstable();
            strands.dedup();
            let total = |r: &Self| -> f64 {
                let wires: f64 = strands.iter().map(|s| r.strand_cost(*s)).sum();
                wires + near.iter().map(|u| r.unit_cost(*u)).sum::<f64>()
            };
            let (home, sides): (i32, Vec<Side>) =
                (self.choice.column[n], near.iter().map(|u| self.choice.side[*u]).collect());
            let mut best = (total(self), home, sides.clone());
            for to in tries {
                if to == home {
                    continue;
                }
                self.choice.column[n] = to;
                for _ in 0..2 {
                    for u in &near {
                        self.choose_side(*u);
                    }
                }
                let cost = total(self);
                if cost + 1e-9 < best.0 {
                    best = (cost, to, near.iter().map(|u| self.choice.side[*u]).collect());
                }
                for (u, side) in near.iter().zip(&sides) {
                    self.choice.side[*u] = *side;
                }
            }
            moved |= best.1 != home;
            self.choice.column[n] = best.1;
            for (u, side) in near.iter().zip(&best.2) {
                self.choice.side[*u] = *side;
            }
        }
        moved
    }

    /// What it all costs.
    pub fn cost(&self) -> f64 {
        let wires: f64 = (0..self.graph.strands.len()).map(|s| self.strand_cost(s)).sum();
        let units: f64 = (0..self.units.len()).map(|u| self.unit_cost(u)).sum();
        wires + units + UNLIKE * self.unlike() as f64
    }

    /// What turns and passages cost beyond what the columns make needful.
    pub fn detour_cost(&self, turns: usize, passed: usize) -> f64 {
        let needful = self.graph.strands.iter().enumerate().filter_map(|(s, strand)| {
            let [Some(a), Some(b)] = strand.ends else { return None };
            let columns = [self.choice.column[a.node], self.choice.column[b.node]];
            Some(detours(columns, self.unit_of[s].map(|u| self.choice.side[u])))
        });
        let (t, p) = needful.fold((0, 0), |sum, d| (sum.0 + d.0, sum.1 + d.1));
        let more = |counted: usize, needful: i32| (counted as f64 - f64::from(needful)).max(0.0);
        TURN * more(turns, t) + PASS * more(passed, p)
    }

    /// How many units there are.
    pub fn unit_count(&self) -> usize {
        self.units.len()
    }

    /// Puts a unit on its other side and lets the far ends of its wires follow.
    pub fn flip(&mut self, u: usize) {
        self.choice.side[u] = other(self.choice.side[u]);
        for (s, e) in self.units[u].ends.clone() {
            let far = self.unit_of[s][1 - e];
            if far != usize::MAX && far != u {
                self.choose_side(far);
            }
        }
    }

    /// Moves a device by so many columns and lets the sides follow.
    pub fn shift(&mut self, node: usize, by: i32) {
        self.follow(&[node], |column| column + by);
    }

    /// Puts all terminals of a device on their other sides and lets the far ends of its wires follow.
    pub fn mirror(&mut self, node: usize) {
        for u in self.units_of[node].clone() {
            self.choice.side[u] = other(self.choice.side[u]);
        }
        self.follow_far(node);
    }

    /// Puts all terminals of a device on one side and lets the far ends of its wires follow.
    pub fn face(&mut self, node: usize, side: Side) {
        for u in self.units_of[node].clone() {
            self.choice.side[u] = side;
        }
        self.follow_far(node);
    }

    /// Lets the far ends of a device's wires follow.
    fn follow_far(&mut self, node: usize) {
        for (s, e) in self.graph.nodes[node].ends.clone() {
            let far = self.unit_of[s][1 - e];
            if far != usize::MAX && self.units[far].node != node {
                self.choose_side(far);
            }
        }
    }

    /// Moves all devices of a location by so many columns and lets the sides follow.
    pub fn shift_place(&mut self, place: usize, by: i32) {
        let within = |n: &usize| self.graph.path_to(self.graph.nodes[*n].place).contains(&place);
        let moved: Vec<usize> = (0..self.graph.nodes.len()).filter(within).collect();
        self.follow(&moved, |column| column + by);
    }

    /// Puts all devices of a location in its first (or last) column, or its columns in the reverse order.
    pub fn fold_place(&mut self, place: usize, fold: Fold) {
        let within = |n: &usize| self.graph.path_to(self.graph.nodes[*n].place).contains(&place);
        let moved: Vec<usize> = (0..self.graph.nodes.len()).filter(within).collect();
        let columns = || moved.iter().map(|n| self.choice.column[*n]);
        let (first, last) = (columns().min().unwrap_or(0), columns().max().unwrap_or(0));
        self.follow(&moved, |column| match fold {
            Fold::First => first,
            Fold::Last => last,
            Fold::Reverse => first + last - column,
        });
    }

    pub(super) fn follow(&mut self, moved: &[usize], to: impl Fn(i32) -> i32) {
        let mut near: Vec<usize> = Vec::new();
        for n in moved {
            self.choice.column[*n] = to(self.choice.column[*n]);
            near.extend(&self.units_of[*n]);
            for (s, e) in &self.graph.nodes[*n].ends {
                near.extend(Some(self.unit_of[*s][1 - *e]).filter(|u| *u != usize::MAX));
            }
        }
        near.sort_unstable();
        near.dedup();
        for _ in 0..2 {
            for u in &near {
                self.choose_side(*u);
            }
        }
    }

    /// Puts a terminal, and those that a symbol joins to it, on a side, and lets the far ends of its wires follow.
    pub(super) fn hold(&mut self, node: usize, terminal: usize, side: Side) {
        let Some(u) =
            self.units_of[node].iter().copied().find(|u| self.units[*u].terminals.contains(&terminal))
        else {
            return;
        };
        if self.choice.side[u] != side {
            self.flip(u);
        }
    }

    /// The graph.
    pub(super) fn graph(&self) -> Rc<Graph> {
        Rc::clone(&self.graph)
    }

    /// How many locations there are, the root counted.
    pub fn place_count(&self) -> usize {
        self.graph.places.len()
    }

    /// How many conductors there are.
    pub fn strand_count(&self) -> usize {
        self.graph.strands.len()
    }

    /// How many devices and flags there are.
    pub fn device_count(&self) -> usize {
        self.graph.nodes.len()
    }

    /// Hands the choice on.
    pub fn ranked(&self) -> Ranked {
        let (column, columns) = self.tidy_columns();
        let graph = Rc::clone(&self.graph);
        let mut side = vec![[Side::Left; 2]; graph.strands.len()];
        let mut terminal_side: Vec<Vec<Side>> = graph.nodes.iter().map(|n| n.pref.sides.clone()).collect();
        for (unit, chosen) in self.units.iter().zip(&self.choice.side) {
            for (s, e) in &unit.ends {
                side[*s][*e] = *chosen;
            }
            for t in &unit.terminals {
                terminal_side[unit.node][*t] = *chosen;
            }
        }
        let (gap, left_end, inside) = gaps(&graph, &column, columns, &side, self.searched);
        let upturned =
            (0..graph.nodes.len()).map(|n| across::lies_upturned(&graph, &graph.hosts, &side, n)).collect();
        Ranked { column, columns, side, terminal_side, gap, left_end, inside, upturned, graph }
    }

    /// Columns from 0 without an empty one between.
    fn tidy_columns(&self) -> (Vec<usize>, usize) {
        let mut used: Vec<i32> = self.choice.column.clone();
        used.sort_unstable();
        used.dedup();
        let column = self.choice.column.iter().map(|c| used.partition_point(|u| u < c)).collect();
        (column, used.len().max(1))
    }
}

/// Tells the units of each box on which one cable lands of each other, and those of strips and splices whose core leads to no
/// other device of the others of its cable.
fn join_by_cable(graph: &Graph, units: &mut [Unit], units_of: &[Vec<usize>]) {
    for (node, own) in graph.nodes.iter().zip(units_of).filter(|(node, _)| node.away.is_none()) {
        let bundles = |u: usize| units[u].ends.iter().filter_map(|(s, _)| graph.strands[*s].bundle);
        let of: Vec<Vec<usize>> = own.iter().map(|u| bundles(*u).collect()).collect();
        let loose = |(s, e): &(usize, usize)| graph.strands[*s].ends[1 - *e].is_none();
        let counts: Vec<bool> =
            own.iter().map(|u| node.form == Form::Box || units[*u].ends.iter().all(loose)).collect();
        for ((u, bundles), _) in own.iter().zip(&of).zip(counts).filter(|(_, counts)| *counts) {
            let shared = |(_, theirs): &(&usize, &Vec<usize>)| theirs.iter().any(|b| bundles.contains(b));
            units[*u].with = own.iter().zip(&of).filter(shared).map(|(v, _)| *v).filter(|v| v != u).collect();
        }
    }
}

pub(super) fn other(side: Side) -> Side {
    match side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    }
}

/// How often a wire turns back and how many columns it passes between two columns, leaving on these sides.
fn detours(columns: [i32; 2], sides: [Side; 2]) -> (i32, i32) {
    let [a, b] = columns;
    match sides {
        [Side::Right, Side::Left] if b > a => (0, b - a - 1),
        [Side::Left, Side::Right] if a > b => (0, a - b - 1),
        [Side::Right, Side::Left] | [Side::Left, Side::Right] => (2, (a - b).abs() + 1),
        [Side::Left, Side::Left] | [Side::Right, Side::Right] => (1, (a - b).abs()),
    }
}

/// Distances from the supplies; where a piece has none, from the device that most cables start from.
fn distances(graph: &Graph) -> Vec<i32> {
    let count = graph.nodes.len();
    let mut distance = vec![i32::MAX; count];
    let neighbours = |n: usize| {
        let far = |(s, e): &(usize, usize)| graph.strands[*s].ends[1 - *e].map(|j| j.node);
        graph.nodes[n].ends.iter().filter_map(far)
    };
    let spread = |roots: Vec<usize>, distance: &mut Vec<i32>| {
        let mut queue: VecDeque<usize> = roots.into();
        for r in &queue {
            distance[*r] = 0;
        }
        while let Some(n) = queue.pop_front() {
            for m in neighbours(n) {
                if distance[m] == i32::MAX {
                    distance[m] = distance[n] + 1;
                    queue.push_back(m);
                }
            }
        }
    };
    for roots in grow::roots(graph) {
        let new = roots.into_iter().filter(|n| distance[*n] == i32::MAX).collect();
        spread(new, &mut distance);
    }
    distance
}
