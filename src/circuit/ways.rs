//! The ways in which parts are fed, sources are shorted and terminals reach a pole.

use std::collections::{BTreeMap, BTreeSet};
use std::iter;
use std::sync::Arc;

use petgraph::unionfind::UnionFind;

use crate::netlist::{Job, Kind, Lists, PartId, Pole, TerminalId};

use super::blocks::Blocks;
use super::graph::{Carries, Edge, EdgeId, Graph, Need};
use super::lost::Lost;
use super::movers::MoverId;
use super::nets::{Nets, Node};
use super::quick::Set;
use super::walk::{Leg, Walk};

/// One way in which a load or coil is fed.
#[derive(Clone, Debug, PartialEq)]
pub struct Feed {
    /// The source, and those in series with it.
    pub sources: Box<[PartId]>,
    /// The pole from which the current sets out: plus, or in AC either.
    pub pole: Pole,
    /// Whether it enters by the part's plus (or its first terminal).
    pub forward: bool,
    /// Whether nothing but hard paths lies between the source and the part.
    pub hard: bool,
    /// What it needs.
    pub needs: Box<[Need]>,
    /// The parts that it goes through besides, in order from the source's pole: contacts, diodes, outputs, sensors,
    /// resistors, other loads and sources in series. Fuses are not among them.
    pub parts: Box<[PartId]>,
}

/// One way in which a source is shorted.
#[derive(Clone, Debug, PartialEq)]
pub struct ShortWay {
    /// The sources round which it goes; the first one's plus is where it begins.
    pub sources: Vec<PartId>,
    /// What it needs; nothing if it is always there.
    pub needs: Vec<Need>,
    /// The parts that it goes through, fuses apart.
    pub parts: Vec<PartId>,
    /// Where it begins and ends: the poles of the first source.
    pub between: [TerminalId; 2],
}

/// A pole of a source.
pub type PoleOf = (PartId, Pole);

/// One way in which a terminal is on a hard path to poles.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// The poles that are one conductor (fuses apart) at its end, in the order of the job. All ways there share them.
    pub poles: Arc<[PoleOf]>,
    /// What it needs.
    pub needs: Vec<Need>,
    /// The parts that it goes through, from the terminal to the poles.
    pub parts: Vec<PartId>,
}

/// What was found, and whether that is all.
#[derive(Clone, Debug, Default)]
pub struct All<T> {
    /// The least demanding ways.
    pub ways: Vec<T>,
    /// Whether the search was complete.
    pub complete: bool,
}

/// A source as the searches see it.
struct Origin {
    part: PartId,
    edge: EdgeId,
    plus: Node,
    minus: Node,
    terminals: [TerminalId; 2],
    ac: bool,
}

impl Origin {
    fn node(&self, pole: Pole) -> Node {
        if pole == Pole::Plus { self.plus } else { self.minus }
    }
}

/// What a walk to a pole goes by: the blocks seen from there, and the poles that it is after.
struct Goal {
    blocks: Blocks,
    poles: Arc<[PoleOf]>,
}

/// More sources than this in one block, and only those whose poles bound a part's branch are tried for it.
const MANY_SOURCES: usize = 24;

/// The searches of one job.
pub(super) struct Finder {
    graph: Graph,
    node: Arc<[Node]>,
    origins: Vec<Origin>,
    /// By node: the poles there, as numbers of origins.
    poles: BTreeMap<Node, Vec<(usize, Pole)>>,
    /// By node: what belongs together by any path at all.
    system: Vec<u32>,
    /// By edge: its block. What feeds a part lies on a ring with it, and so in its block.
    block: Vec<Option<u32>>,
    /// By block: the sources in it.
    in_block: BTreeMap<u32, Vec<usize>>,
    /// By node and pole: the sources whose other pole is there, on top of which sources with that pole there stand.
    stacked: BTreeMap<(Node, Pole), Vec<usize>>,
    /// By node: what hangs together without the poles.
    branch: Vec<u32>,
    /// By pole node: the nodes that reach it with a soft edge on the way and no other pole.
    softened: BTreeMap<Node, Vec<Node>>,
    /// By branch: the nodes with poles at its edge, in order.
    bounds: Lists<Node>,
    soft_blocks: BTreeMap<(usize, Pole, bool), Blocks>,
    /// By pole node, and whether the walk there goes against the current; with the poles that such a walk is after.
    hard_blocks: BTreeMap<(Node, bool), Goal>,
    /// By node: the pole nodes that it might reach by hard paths.
    hard_poles: Lists<Node>,
}

impl Finder {
    pub(super) fn of(job: &Job, nets: &Nets, graph: Graph) -> Self {
        let origins: Vec<Origin> = (0..)
            .zip(&graph.edges)
            .filter_map(|(edge, e)| match (e.carries, &job.part(e.part).kind) {
                (Carries::Source { ac }, Kind::Source(source)) => Some(Origin {
                    part: e.part,
                    edge,
                    plus: e.a,
                    minus: e.b,
                    terminals: [source.plus, source.minus],
                    ac,
                }),
                _ => None,
            })
            .collect();
        let mut poles: BTreeMap<Node, Vec<(usize, Pole)>> = BTreeMap::new();
        for (n, origin) in origins.iter().enumerate() {
            poles.entry(origin.plus).or_default().push((n, Pole::Plus));
            poles.entry(origin.minus).or_default().push((n, Pole::Minus));
        }
        let mut systems = UnionFind::<u32>::new(nets.nodes);
        let mut branches = UnionFind::<u32>::new(nets.nodes);
        for edge in &graph.edges {
            systems.union(edge.a, edge.b);
            if !poles.contains_key(&edge.a) && !poles.contains_key(&edge.b) {
                branches.union(edge.a, edge.b);
            }
        }
        let system = systems.into_labeling();
        let branch = branches.into_labeling();
        let block = Blocks::numbers(&graph);
        let mut in_block: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        let mut stacked: BTreeMap<(Node, Pole), Vec<usize>> = BTreeMap::new();
        for (n, origin) in origins.iter().enumerate() {
            if let Some(block) = block[origin.edge as usize] {
                in_block.entry(block).or_default().push(n);
            }
        }
        for (node, here) in &poles {
            let has = |pole| here.iter().any(|(_, its)| *its == pole);
            for (n, its) in here.iter().filter(|(_, its)| has((*its).opposite())) {
                stacked.entry((*node, (*its).opposite())).or_default().push(*n);
            }
        }
        let both_ways = graph.edges.iter().flat_map(|edge| [(edge.a, edge.b), (edge.b, edge.a)]);
        let at_pole = both_ways.filter(|(_, there)| poles.contains_key(there));
        let bounds =
            sorted(graph.nodes(), at_pole.map(|(here, pole)| (branch[here as usize], pole)).collect());
        let mut hard_blocks = BTreeMap::new();
        let mut hard_poles: Vec<(Node, Node)> = Vec::new();
        let hard = |id: EdgeId| !matches!(graph.edge(id).carries, Carries::Soft | Carries::Source { .. });
        for (&root, here) in &poles {
            // Past the other pole of a source nothing leads here but a short of that source.
            let across = here.iter().map(|(n, pole)| origins[*n].node((*pole).opposite()));
            let across: Set<Node> = across.filter(|other| *other != root).collect();
            for against in [true, false] {
                // A diode lets a plus through on one way only, so each kind of pole is looked for with its own.
                let wanted = if against { Pole::Plus } else { Pole::Minus };
                let after: Arc<[PoleOf]> = here
                    .iter()
                    .filter(|(n, pole)| *pole == wanted || origins[*n].ac)
                    .map(|(n, pole)| (origins[*n].part, *pole))
                    .collect();
                if after.is_empty() {
                    continue;
                }
                let leads = |id: EdgeId| {
                    let edge = graph.edge(id);
                    hard(id) && !across.contains(&edge.a) && !across.contains(&edge.b)
                };
                let blocks = Blocks::towards(&graph, root, None, against, &leads);
                hard_poles.extend(blocks.nodes().into_iter().map(|node| (node, root)));
                hard_blocks.insert((root, against), Goal { blocks, poles: after });
            }
        }
        let hard_poles = sorted(graph.nodes(), hard_poles);
        let softened = poles.keys().map(|pole| (*pole, softened(&graph, *pole, &poles))).collect();
        Self {
            node: Arc::clone(&nets.node),
            origins,
            poles,
            system,
            block,
            in_block,
            stacked,
            branch,
            softened,
            bounds,
            soft_blocks: BTreeMap::new(),
            hard_blocks,
            hard_poles,
            graph,
        }
    }

    fn parts(&self, edges: &[EdgeId]) -> Vec<PartId> {
        edges.iter().map(|id| self.graph.edge(*id).part).collect()
    }

    fn blocks(&mut self, origin: usize, pole: Pole, against: bool) -> &Blocks {
        let (o, graph, block) = (&self.origins[origin], &self.graph, &self.block);
        self.soft_blocks.entry((origin, pole, against)).or_insert_with(|| {
            let other = o.node(pole.opposite());
            let allowed = |id: EdgeId| id != o.edge && block[id as usize] == block[o.edge as usize];
            Blocks::towards(graph, o.node(pole), Some(other), against, &allowed)
        })
    }

    /// The sources that might feed a part between two nodes.
    fn candidates(&self, part: PartId, ends: [Node; 2]) -> Vec<usize> {
        // Edges stand in the order of their parts.
        let edge = self.graph.edges.partition_point(|edge| edge.part < part);
        let block = self.block.get(edge).copied().flatten();
        let Some(all) = block.and_then(|block| self.in_block.get(&block)) else { return Vec::new() };
        if all.len() <= MANY_SOURCES {
            return all.clone();
        }
        let mut near: BTreeSet<Node> = BTreeSet::new();
        for end in ends {
            if self.poles.contains_key(&end) {
                near.insert(end);
            } else {
                near.extend(self.bounds.get(self.branch[end as usize] as usize));
            }
        }
        // Only one pole of a source is looked up by way of the node that fewest share.
        let few: BTreeSet<usize> = near
            .iter()
            .filter(|node| self.poles.get(node).is_some_and(|p| p.len() <= MANY_SOURCES))
            .flat_map(|node| self.poles.get(node).into_iter().flatten().map(|p| p.0))
            .collect();
        few.into_iter().collect()
    }

    /// The ways in which a load or coil between two terminals is fed.
    pub(super) fn feeds(
        &mut self,
        job: &Job,
        part: PartId,
        plus: TerminalId,
        minus: TerminalId,
    ) -> All<Feed> {
        let ends = [self.node[plus.index()], self.node[minus.index()]];
        let mut all = All { ways: Vec::new(), complete: true };
        if ends[0] == ends[1] {
            return all;
        }
        // An output is on only while its device is fed, so it feeds no load of its own device.
        let mut without = vec![part];
        without.extend(
            job.device(job.part(part).device)
                .parts
                .iter()
                .map(PartId)
                .filter(|own| matches!(job.part(*own).kind, Kind::Output(_) | Kind::TwoWire(_))),
        );
        for origin in self.candidates(part, ends) {
            let o = &self.origins[origin];
            if o.plus == o.minus {
                continue;
            }
            let poles = if o.ac { &[Pole::Plus, Pole::Minus][..] } else { &[Pole::Plus] };
            for &pole in poles {
                for forward in [true, false] {
                    let (near, far) = if forward { (ends[0], ends[1]) } else { (ends[1], ends[0]) };
                    self.feed(&without, origin, pole, forward, [near, far], &mut all);
                }
            }
        }
        let mut seen = BTreeSet::new();
        all.ways.retain(|feed| {
            let mut sources = feed.sources.clone();
            sources.sort_unstable();
            seen.insert((sources, feed.forward, feed.hard, feed.needs.clone()))
        });
        all.ways.shrink_to_fit();
        all
    }

    /// Adds the ways from one pole of a source in by `ends[0]`, out by `ends[1]`, to its other pole.
    fn feed(
        &mut self,
        without: &[PartId],
        origin: usize,
        pole: Pole,
        forward: bool,
        ends: [Node; 2],
        all: &mut All<Feed>,
    ) {
        let back = pole.opposite();
        let o = &self.origins[origin];
        let (source, from, to) = (o.part, o.node(pole), o.node(back));
        if ends[0] == to || ends[1] == from {
            return;
        }
        let mut legs = Vec::new();
        let leaves = pole;
        for (end, goal, pole, against) in [(ends[0], from, pole, true), (ends[1], to, back, false)] {
            // Sources in series add up; two whose like poles meet take from each other.
            let ac_by = Some(if against { leaves } else { leaves.opposite() });
            let mut allowed = Vec::new();
            if end != goal {
                let blocks = self.blocks(origin, pole, against);
                if !blocks.reaches(end) {
                    return;
                }
                allowed = blocks.between(end);
                allowed.retain(|id| !without.contains(&self.graph.edge(*id).part));
            }
            legs.push(Leg { from: end, to: goal, allowed, against, ac_by });
        }
        let (found, complete) = Walk::all(&self.graph, legs, &[], true);
        all.complete &= complete;
        for way in found {
            let mut at = ends[0];
            let mut first = 0;
            while at != from && first < way.edges.len() {
                at = self.graph.edge(way.edges[first]).other(at);
                first += 1;
            }
            let mut edges = way.edges;
            edges[..first].reverse();
            let mut sources = vec![source];
            sources.extend(self.sources(&edges));
            let (sources, needs, parts) = (sources.into(), way.needs.into(), self.parts(&edges).into());
            all.ways.push(Feed { sources, pole, forward, hard: !way.soft, needs, parts });
        }
    }

    fn sources(&self, edges: &[EdgeId]) -> Vec<PartId> {
        let source = |id: &&EdgeId| matches!(self.graph.edge(**id).carries, Carries::Source { .. });
        edges.iter().filter(source).map(|id| self.graph.edge(*id).part).collect()
    }

    /// The ways in which a terminal is on a hard path to poles: with the current on its way to a minus, against it
    /// on its way to a plus, either for AC.
    pub(super) fn levels(&self, terminal: TerminalId) -> All<Level> {
        let from = self.node[terminal.index()];
        let mut all = All { ways: Vec::new(), complete: true };
        for &goal in self.hard_poles.get(from as usize) {
            for against in [true, false] {
                let Some(Goal { blocks, poles }) = self.hard_blocks.get(&(goal, against)) else { continue };
                if !blocks.reaches(from) {
                    continue;
                }
                let leg = Leg { from, to: goal, allowed: blocks.between(from), against, ac_by: None };
                let (found, complete) = Walk::all(&self.graph, vec![leg], &[], false);
                all.complete &= complete;
                for way in found {
                    let parts = self.parts(&way.edges);
                    all.ways.push(Level { poles: poles.clone(), needs: way.needs, parts });
                }
            }
        }
        all
    }

    /// The poles that a terminal might reach by paths with a resistor, load or coil on them, whatever the positions
    /// of the movers; never past another pole, nor through the part `without`.
    pub(super) fn soft_poles(&self, terminal: TerminalId, without: PartId) -> Vec<PoleOf> {
        let nodes: Vec<Node> = self.softly(terminal, without).collect();
        let poles = nodes.iter().filter_map(|node| self.poles.get(node)).flatten();
        let mut found: Vec<PoleOf> = poles.map(|(o, pole)| (self.origins[*o].part, *pole)).collect();
        found.sort_unstable();
        found.dedup();
        found
    }

    /// Whether there is any such pole.
    pub(super) fn has_soft_pole(&self, terminal: TerminalId, without: PartId) -> bool {
        self.softly(terminal, without).next().is_some()
    }

    /// The nodes of those poles, as the paths come to them: each way is followed to its end before the next is begun, so that
    /// the first pole is soon found where thousands of ways begin at one node.
    fn softly(&self, terminal: TerminalId, without: PartId) -> impl Iterator<Item = Node> {
        let from = self.node[terminal.index()];
        let mut seen = BTreeSet::from([(from, false)]);
        let begun = |node: Node, soft: bool| (node, soft, self.graph.at(node).iter());
        let mut path: Vec<_> =
            (!self.poles.contains_key(&from)).then(|| begun(from, false)).into_iter().collect();
        iter::from_fn(move || {
            while let Some((node, soft, edges)) = path.last_mut() {
                let Some(id) = edges.next() else {
                    path.pop();
                    continue;
                };
                let edge = self.graph.edge(*id);
                let (next, soft) = (edge.other(*node), *soft || edge.soft());
                if edge.part == without || !seen.insert((next, soft)) {
                    continue;
                }
                if !self.poles.contains_key(&next) {
                    path.push(begun(next, soft));
                } else if soft {
                    return Some(next);
                }
            }
            None
        })
    }

    /// The poles that an input's terminal might reach with a resistor, load or coil on the way, never past another
    /// pole, sorted. Looked up, so that thousands of inputs on one rail cost no search each.
    pub(super) fn soft_poles_of_input(&self, terminal: TerminalId) -> Vec<PoleOf> {
        let node = self.node[terminal.index()];
        let bounds = self.bounds.get(self.branch[node as usize] as usize);
        let mut found: Vec<PoleOf> = bounds
            .iter()
            .filter(|pole| self.softened.get(pole).is_some_and(|nodes| nodes.binary_search(&node).is_ok()))
            .filter_map(|pole| self.poles.get(pole))
            .flatten()
            .map(|(o, pole)| (self.origins[*o].part, *pole))
            .collect();
        found.sort_unstable();
        found
    }

    /// The parts of soft edges between the nodes of two terminals.
    pub(super) fn soft_between(&self, a: TerminalId, b: TerminalId) -> Vec<PartId> {
        let (a, b) = (self.node[a.index()], self.node[b.index()]);
        let few = if self.graph.at(a).len() <= self.graph.at(b).len() { a } else { b };
        let between = |edge: &&Edge| {
            edge.soft() && a != b && [edge.a, edge.b].contains(&a) && [edge.a, edge.b].contains(&b)
        };
        self.graph
            .at(few)
            .iter()
            .map(|id| self.graph.edge(*id))
            .filter(between)
            .map(|edge| edge.part)
            .collect()
    }

    /// The nodes that hang together with a terminal by any path that passes no pole, nor the part `without`.
    pub(super) fn around(&self, terminal: TerminalId, without: PartId) -> BTreeSet<Node> {
        let from = self.node[terminal.index()];
        let mut seen = BTreeSet::from([from]);
        let mut queue = vec![from];
        while let Some(node) = queue.pop() {
            if self.poles.contains_key(&node) {
                continue;
            }
            for &id in self.graph.at(node) {
                let edge = self.graph.edge(id);
                let next = edge.other(node);
                if edge.part != without && seen.insert(next) {
                    queue.push(next);
                }
            }
        }
        seen
    }

    /// The movers of what hangs together with a terminal by any path that passes no pole, nor the part `without`.
    pub(super) fn movers_around(&self, terminal: TerminalId, without: PartId) -> BTreeSet<MoverId> {
        let around = self.around(terminal, without);
        let edges =
            around.iter().filter(|node| !self.poles.contains_key(node)).flat_map(|node| self.graph.at(*node));
        edges.filter_map(|id| self.graph.edge(*id).need()).map(|need| need.mover).collect()
    }

    /// The sources whose plus lies above that of `source` (itself first), or whose minus lies below its minus: those
    /// in series with it.
    pub(super) fn in_series(&self, source: PartId, pole: Pole) -> Vec<PartId> {
        let mut all = vec![source];
        let mut next = 0;
        while let Some(&at) = all.get(next) {
            next += 1;
            let Ok(origin) = self.origins.binary_search_by_key(&at, |o| o.part) else { continue };
            let o = &self.origins[origin];
            for other in self.stacked.get(&(o.node(pole), pole)).into_iter().flatten() {
                let part = self.origins[*other].part;
                if !all.contains(&part) {
                    all.push(part);
                }
            }
        }
        all
    }

    /// The ways in which two terminals are joined by a path without a diode.
    pub(super) fn joins(&self, a: TerminalId, b: TerminalId) -> All<(Vec<Need>, Vec<PartId>)> {
        let (from, to) = (self.node[a.index()], self.node[b.index()]);
        let plain = |id: EdgeId| matches!(self.graph.edge(id).carries, Carries::When(_));
        let blocks = Blocks::of(&self.graph, to, None, &plain);
        if !blocks.reaches(from) {
            return All { ways: Vec::new(), complete: true };
        }
        let leg = Leg { from, to, allowed: blocks.between(from), against: false, ac_by: None };
        let (found, complete) = Walk::all(&self.graph, vec![leg], &[], false);
        let ways = found.into_iter().map(|way| (way.needs, self.parts(&way.edges))).collect();
        All { ways, complete }
    }

    /// All ways in which sources are shorted.
    pub(super) fn shorts(&self) -> All<ShortWay> {
        let mut all = All { ways: Vec::new(), complete: true };
        let mut joined = UnionFind::<u32>::new(self.graph.nodes());
        for edge in
            self.graph.edges.iter().filter(|e| matches!(e.carries, Carries::When(_) | Carries::Forward))
        {
            joined.union(edge.a, edge.b);
        }
        let loops = Loops::of(self, &joined);
        for (n, origin) in self.origins.iter().enumerate() {
            if origin.plus == origin.minus {
                all.ways.push(self.short(origin, false, Vec::new(), Vec::new()));
                continue;
            }
            if !loops.holds(n) {
                continue;
            }
            let hard = |id: EdgeId| {
                !self.graph.edge(id).soft() && self.block[id as usize] == self.block[origin.edge as usize]
            };
            let blocks = Blocks::of(&self.graph, origin.plus, None, &hard);
            let allowed = blocks.around(&self.graph, origin.edge);
            for reversed in if origin.ac { &[false, true][..] } else { &[false] } {
                let (from, to) =
                    if *reversed { (origin.minus, origin.plus) } else { (origin.plus, origin.minus) };
                // Round a loop the sources add up; like poles on like poles are none.
                let ac_by = Some(if *reversed { Pole::Plus } else { Pole::Minus });
                let leg = Leg { from, to, allowed: allowed.clone(), against: false, ac_by };
                let (found, complete) = Walk::all(&self.graph, vec![leg], &[], false);
                all.complete &= complete;
                all.ways.extend(found.into_iter().map(|f| self.short(origin, *reversed, f.edges, f.needs)));
            }
        }
        // Round a loop every source on it finds the same way, and in AC both directions do.
        let mut seen = BTreeSet::new();
        all.ways.retain(|way| {
            let mut sources = way.sources.clone();
            sources.sort_unstable();
            seen.insert((sources, way.needs.clone()))
        });
        all
    }

    fn short(&self, origin: &Origin, reversed: bool, edges: Vec<EdgeId>, needs: Vec<Need>) -> ShortWay {
        let mut sources = vec![origin.part];
        sources.extend(self.sources(&edges));
        let [plus, minus] = origin.terminals;
        let between = if reversed { [minus, plus] } else { [plus, minus] };
        ShortWay { sources, needs, parts: self.parts(&edges), between }
    }

    /// Gives back what only building needs.
    pub(super) fn shrink(&mut self) {
        self.soft_blocks = BTreeMap::new();
    }

    /// What hangs together with some terminals without the poles, those apart that are poles themselves.
    pub(super) fn branches(&self, ends: &[TerminalId]) -> BTreeSet<u32> {
        let nodes = ends.iter().map(|end| self.node[end.index()]);
        nodes.filter(|node| !self.poles.contains_key(node)).map(|node| self.branch[node as usize]).collect()
    }

    /// Whether hard paths might lead from some terminals to poles that are not one conductor.
    pub(super) fn joins_poles(&self, ends: &[TerminalId]) -> bool {
        let nodes = ends.iter().map(|end| self.node[end.index()]);
        let mut reached = nodes.flat_map(|node| self.hard_poles.get(node as usize));
        let Some(first) = reached.next() else { return false };
        reached.any(|other| other != first)
    }

    /// The conductors that no source reaches.
    pub(super) fn lost(&self, job: &Job) -> Lost {
        let poles = self.poles.iter().flat_map(|(node, here)| here.iter().map(|(_, pole)| (*node, *pole)));
        Lost::of(job, &self.graph, poles)
    }

    /// The number of the system that a terminal belongs to: what hangs together by any path at all.
    pub(super) fn system(&self, terminal: TerminalId) -> u32 {
        self.system[self.node[terminal.index()] as usize]
    }
}

/// Some nodes for each of so many things, those of one in order and each once.
fn sorted(count: usize, mut nodes: Vec<(u32, Node)>) -> Lists<Node> {
    nodes.sort_unstable();
    nodes.dedup();
    Lists::of(count, nodes.iter().map(|&(thing, node)| (thing as usize, node)))
}

/// The nodes, in order, that reach a pole with a soft edge on the way and no other pole.
fn softened(graph: &Graph, pole: Node, poles: &BTreeMap<Node, Vec<(usize, Pole)>>) -> Vec<Node> {
    let mut seen = Set::from_iter([(pole, false)]);
    let mut queue = vec![(pole, false)];
    while let Some((node, soft)) = queue.pop() {
        for &id in graph.at(node) {
            let edge = graph.edge(id);
            let next = (edge.other(node), soft || edge.soft());
            if !poles.contains_key(&next.0) && seen.insert(next) {
                queue.push(next);
            }
        }
    }
    let mut softened: Vec<Node> = seen.into_iter().filter(|(_, soft)| *soft).map(|(node, _)| node).collect();
    softened.sort_unstable();
    softened
}

/// Which sources lie on a loop of hard paths and sources, the movers standing as they like.
struct Loops {
    looped: Vec<bool>,
}

impl Loops {
    fn of(finder: &Finder, joined: &UnionFind<u32>) -> Self {
        // Peeling off places with one source leaves what may lie on a loop; a few bridges between loops stay in.
        let ends: Vec<[Node; 2]> =
            finder.origins.iter().map(|o| [joined.find(o.plus), joined.find(o.minus)]).collect();
        let mut degree: BTreeMap<Node, usize> = BTreeMap::new();
        for end in ends.iter().flatten() {
            *degree.entry(*end).or_default() += 1;
        }
        let mut at: BTreeMap<Node, Vec<usize>> = BTreeMap::new();
        for (n, pair) in ends.iter().enumerate() {
            for end in pair {
                at.entry(*end).or_default().push(n);
            }
        }
        let mut looped = vec![true; ends.len()];
        let mut queue: Vec<Node> = degree.iter().filter(|(_, d)| **d == 1).map(|(end, _)| *end).collect();
        while let Some(place) = queue.pop() {
            for &n in at.get(&place).into_iter().flatten() {
                if !looped[n] || ends[n][0] == ends[n][1] {
                    continue;
                }
                looped[n] = false;
                for end in ends[n] {
                    if let Some(d) = degree.get_mut(&end) {
                        *d -= 1;
                        if *d == 1 {
                            queue.push(end);
                        }
                    }
                }
            }
        }
        Self { looped }
    }

    fn holds(&self, origin: usize) -> bool {
        self.looped[origin]
    }
}
