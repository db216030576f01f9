//! Conductors that no source reaches, however the contacts stand.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::unionfind::UnionFind;

use crate::netlist::{Job, Kind, Pole};

use super::graph::{Carries, Edge, Graph};
use super::nets::Node;

/// What contacts and diodes join to what, however they stand, and where no source is among it.
pub(super) struct Lost {
    /// By node: the number of all that is joined to it, if no source is among that.
    joined: Vec<Option<Node>>,
    /// By such a number: whether several loads there meet one another and, on all other sides, one kind of pole only.
    one_sided: BTreeMap<Node, bool>,
}

/// What is known of several such conductors that loads join to each other.
#[derive(Clone, Copy, Default)]
struct Cluster {
    plus: bool,
    minus: bool,
    loads: usize,
    /// Whether something on it is fed outside this job.
    outside: bool,
}

impl Lost {
    pub(super) fn of(job: &Job, graph: &Graph, poles: impl Iterator<Item = (Node, Pole)>) -> Self {
        let soft = || graph.edges.iter().filter(|edge| edge.soft());
        // A diode across a load feeds nothing.
        let pair = |edge: &Edge| (edge.a.min(edge.b), edge.a.max(edge.b));
        let loaded: BTreeSet<(Node, Node)> = soft().map(pair).collect();
        let mut joined = UnionFind::<Node>::new(graph.nodes());
        for edge in &graph.edges {
            let joins = match edge.carries {
                Carries::When(_) => true,
                Carries::Forward => !loaded.contains(&pair(edge)),
                _ => false,
            };
            if joins {
                joined.union(edge.a, edge.b);
            }
        }
        let joined = joined.into_labeling();
        let number = |node: Node| joined[node as usize];
        let mut live = vec![[false; 2]; joined.len()];
        for (node, pole) in poles {
            live[number(node) as usize][usize::from(pole == Pole::Minus)] = true;
        }
        let live = |number: Node| live[number as usize];
        let dead = |node: Node| live(number(node)) == [false; 2];
        let mut clusters = UnionFind::<Node>::new(joined.len());
        for edge in soft().filter(|edge| dead(edge.a) && dead(edge.b)) {
            clusters.union(number(edge.a), number(edge.b));
        }
        let mut known: BTreeMap<Node, Cluster> = BTreeMap::new();
        for edge in soft() {
            let (here, there) = if dead(edge.a) { (edge.a, edge.b) } else { (edge.b, edge.a) };
            if !dead(here) {
                continue;
            }
            let cluster = known.entry(clusters.find(number(here))).or_default();
            let part = job.part(edge.part);
            cluster.loads += usize::from(!matches!(part.kind, Kind::Resistor(_)));
            cluster.outside |= part.existing;
            let [plus, minus] = live(number(there));
            cluster.plus |= plus;
            cluster.minus |= minus;
        }
        let one_sided = |n: Node| {
            known
                .get(&clusters.find(n))
                .is_some_and(|cluster| cluster.loads > 1 && !cluster.outside && cluster.plus != cluster.minus)
        };
        Self {
            one_sided: soft()
                .flat_map(|edge| [edge.a, edge.b])
                .filter(|node| dead(*node))
                .map(|node| (number(node), one_sided(number(node))))
                .collect(),
            joined: joined.iter().map(|n| (live(*n) == [false; 2]).then_some(*n)).collect(),
        }
    }

    /// The number of all that is joined to a node, if no source is among that.
    pub(super) fn feed(&self, node: Node) -> Option<Node> {
        self.joined.get(node as usize).copied().flatten()
    }

    /// Whether what is joined to a node lies on no source and leads, through several loads, to one kind of pole only.
    pub(super) fn one_sided(&self, node: Node) -> bool {
        self.feed(node).is_some_and(|n| self.one_sided.get(&n).is_some_and(|one_sided| *one_sided))
    }
}
