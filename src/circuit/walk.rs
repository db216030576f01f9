//! Every way through the graph that needs no mover to stand two ways at once.

use crate::netlist::Pole;

use super::graph::{EdgeId, Graph, Need};
use super::needs::within;
use super::nets::Node;
use super::quick::Map;

/// A stretch of a way: from a node to a node over the allowed edges.
pub(super) struct Leg {
    pub(super) from: Node,
    pub(super) to: Node,
    pub(super) allowed: Vec<EdgeId>,
    /// Whether the walk goes against the current.
    pub(super) against: bool,
    /// The pole by which it enters AC sources; either where none is given.
    pub(super) ac_by: Option<Pole>,
}

/// A way: its edges in order, and what it needs.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub(super) edges: Vec<EdgeId>,
    pub(super) needs: Vec<Need>,
    pub(super) soft: bool,
}

/// How many steps one search may take, and how long a way may be. Beyond it the search says that it is not complete.
const STEPS: usize = 20_000;
const LONGEST: usize = 1_500;

/// One search over one or two legs that share no node.
pub(super) struct Walk<'g> {
    graph: &'g Graph,
    legs: Vec<Leg>,
    /// For each leg, the allowed edges at each node: hard ones first, then those that need a mover, then soft ones. A
    /// rail of thousands of edges costs nothing where only a few of them lead anywhere.
    ways: Vec<Map<Node, Vec<EdgeId>>>,
    soft: bool,
    taken: Vec<EdgeId>,
    visited: Vec<Node>,
    needs: Vec<Need>,
    steps: usize,
    found: Vec<Found>,
    complete: bool,
}

impl<'g> Walk<'g> {
    /// All ways over the legs in turn, the least demanding kept; and whether the search was complete. Hard ways come
    /// first; soft ones are looked for when `soft`, and only those that need less than a hard one.
    pub(super) fn all(graph: &'g Graph, legs: Vec<Leg>, keep_off: &[Node], soft: bool) -> (Vec<Found>, bool) {
        let mut visited = keep_off.to_vec();
        for leg in &legs {
            if leg.from == leg.to {
                visited.push(leg.from);
            }
        }
        let ways = legs.iter().map(|leg| ways(graph, &leg.allowed)).collect();
        let mut walk = Walk {
            graph,
            legs,
            ways,
            soft: false,
            taken: Vec::new(),
            visited,
            needs: Vec::new(),
            steps: 0,
            found: Vec::new(),
            complete: true,
        };
        walk.start(0);
        if soft {
            walk.soft = true;
            walk.steps = 0;
            walk.start(0);
        }
        (walk.found, walk.complete)
    }

    fn start(&mut self, leg: usize) {
        let Some(next) = self.legs.get(leg) else { return self.record() };
        let (from, to) = (next.from, next.to);
        if from == to {
            return self.start(leg + 1);
        }
        if self.visited.contains(&from) {
            return;
        }
        self.visited.push(from);
        self.step(leg, from);
        self.visited.pop();
    }

    fn step(&mut self, leg: usize, node: Node) {
        self.steps += 1;
        if self.steps > STEPS || self.taken.len() > LONGEST {
            self.complete = false;
            return;
        }
        if node == self.legs[leg].to {
            return self.start(leg + 1);
        }
        if self.told() {
            return;
        }
        for at in 0..self.ways[leg].get(&node).map_or(0, Vec::len) {
            let Some(&id) = self.ways[leg].get(&node).and_then(|ways| ways.get(at)) else { break };
            let edge = self.graph.edge(id);
            let next = edge.other(node);
            if (edge.soft() && !self.soft)
                || !edge.passes(node, self.legs[leg].against)
                || self.legs[leg].ac_by.is_some_and(|pole| !edge.enters_by(node, pole))
                || self.visited.contains(&next)
            {
                continue;
            }
            let Some(added) = self.want(edge.need()) else { continue };
            self.taken.push(id);
            self.visited.push(next);
            self.step(leg, next);
            self.visited.pop();
            self.taken.pop();
            if let Some(at) = added {
                self.needs.remove(at);
            }
        }
    }

    /// Adds a need and says where; `None` if its mover must already stand the other way.
    fn want(&mut self, need: Option<Need>) -> Option<Option<usize>> {
        let Some(need) = need else { return Some(None) };
        match self.needs.binary_search_by_key(&need.mover, |n| n.mover) {
            Ok(at) if self.needs[at].operated == need.operated => Some(None),
            Ok(_) => None,
            Err(at) => {
                self.needs.insert(at, need);
                Some(Some(at))
            }
        }
    }

    /// Whether all that can still be found here needs as much as something found before.
    fn told(&self) -> bool {
        let soft = self.taken.iter().any(|id| self.graph.edge(*id).soft());
        self.found.iter().any(|f| (!f.soft || soft) && within(&f.needs, &self.needs))
    }

    fn record(&mut self) {
        let soft = self.taken.iter().any(|id| self.graph.edge(*id).soft());
        if (self.soft && !soft) || self.told() {
            return;
        }
        self.found.push(Found { edges: self.taken.clone(), needs: self.needs.clone(), soft });
    }
}

/// The edges at each node, in the order in which they are tried.
fn ways(graph: &Graph, allowed: &[EdgeId]) -> Map<Node, Vec<EdgeId>> {
    let rank = |id: &EdgeId| {
        let edge = graph.edge(*id);
        if edge.soft() { 2 } else { u8::from(edge.need().is_some()) }
    };
    let mut order = allowed.to_vec();
    order.sort_by_key(rank);
    let mut at: Map<Node, Vec<EdgeId>> = Map::default();
    for id in order {
        let edge = graph.edge(id);
        if edge.a != edge.b {
            at.entry(edge.a).or_default().push(id);
            at.entry(edge.b).or_default().push(id);
        }
    }
    at
}
