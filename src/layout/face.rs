//! Sides of terminals in a large job, from the tree that it nearly is.
//!
//! What feeds a device comes from its back, and leaves that share a terminal with the feed stand there too; all else is
//! in front. Two things are turned over because they would cross much:
//!
//! - Of several leaves at the back, each crosses with its own wires what the others share with the feed. The wires of the
//!   first, if they land above all else, pass over the device to its front.
//! - A cable across the tree, to a device that is neither parent nor child, comes to the lower of the two from above and
//!   would cross all that is in front of it there. Where only leaves are, those that land below the back's last wire go
//!   to the back as well.

use super::collect::Graph;
use super::rank::{Ranking, other};
use super::tree;
use crate::figure::Side;
use crate::netlist::Form;

/// Where a unit of a device leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// To what feeds the device, or to a leaf that shares a terminal with that.
    Back,
    /// To what hangs on the device.
    Front,
    /// Across the tree.
    Across,
}

/// The tree, as far as sides need it.
struct Facing<'a> {
    graph: &'a Graph,
    /// How far each device is from its root.
    level: Vec<usize>,
    /// The number of each device on a walk over the tree.
    walked: Vec<usize>,
}

impl Ranking {
    /// Puts what feeds a device on the side towards it, and all else on the other side.
    pub(super) fn face_along_tree(&mut self) {
        let graph = self.graph();
        let reached = tree::reached(&graph);
        let mut level = vec![0; graph.nodes.len()];
        for n in &reached {
            level[*n] = graph.parents[*n].map_or(0, |parent: usize| level[parent] + 1);
        }
        let facing = Facing { graph: &graph, level, walked: tree::walked(&graph) };
        // The side on which the parent of a device stands.
        let mut back = vec![Side::Left; graph.nodes.len()];
        for n in reached {
            // The other ends of each unit's wires.
            let far: Vec<Vec<usize>> = self.units_of(n).iter().map(|u| self.far(&graph, *u)).collect();
            let at_back = facing.at_back(n, &far);
            // What shares the feed stands at the back, wherever its other wires go: so that is settled last.
            for (i, u) in self.units_of(n).to_vec().into_iter().enumerate().rev() {
                self.choice.side[u] = if at_back[i] { back[n] } else { other(back[n]) };
                for child in far[i].iter().filter(|m| graph.parents[**m] == Some(n)) {
                    back[*child] = other(self.choice.side[u]);
                }
            }
        }
    }

    /// The devices to which the wires of a unit lead.
    fn far(&self, graph: &Graph, unit: usize) -> Vec<usize> {
        let far = |(s, e): &(usize, usize)| graph.strands[*s].ends[1 - *e].map(|joint| joint.node);
        self.ends_of(unit).iter().filter_map(far).collect()
    }
}

impl Facing<'_> {
    /// Which units of a device are at its back.
    fn at_back(&self, n: usize, far: &[Vec<usize>]) -> Vec<bool> {
        let ways = self.ways(n, far);
        let of = |way: Way| far.iter().zip(&ways).filter(move |(_, w)| **w == way).flat_map(|(far, _)| far);
        let joined_from_above = of(Way::Across).any(|m| self.walked[*m] < self.walked[n]);
        let room = joined_from_above && of(Way::Front).all(|m| self.is_leaf(*m));
        let last = ways.iter().rposition(|way| *way == Way::Back);
        let at_back = |(i, way): (usize, &Way)| match way {
            Way::Back => true,
            Way::Front => room && Some(i) > last,
            Way::Across => false,
        };
        ways.iter().enumerate().map(at_back).collect()
    }

    /// Where each unit of a device leads.
    fn ways(&self, n: usize, far: &[Vec<usize>]) -> Vec<Way> {
        let parent = self.graph.parents[n];
        let is_child = |m: usize| self.graph.parents[m] == Some(n);
        let is_box = |m: usize| self.graph.nodes[m].form == Form::Box;
        let feeds = |m: &usize| parent == Some(*m) || (!is_box(*m) && self.level[*m] < self.level[n]);
        let fed = |far: &Vec<usize>| far.iter().any(feeds);
        let mut beside: Vec<usize> = far
            .iter()
            .filter(|far| fed(far))
            .flatten()
            .copied()
            .filter(|m| is_child(*m) && self.is_leaf(*m))
            .collect();
        beside.sort_unstable();
        beside.dedup();
        // The one whose own wires go over the device.
        let first = far.iter().find(|far| !fed(far) && !far.is_empty());
        let over = first.and_then(|far| far.first()).filter(|m| beside.len() > 1 && beside.contains(m));
        let across = |m: &usize| *m != n && !is_child(*m) && is_box(*m) && self.graph.parents[*m].is_some();
        let way = |far: &Vec<usize>| {
            if fed(far) || far.iter().any(|m| beside.contains(m) && Some(m) != over) {
                Way::Back
            } else if parent.is_some() && far.iter().any(across) {
                Way::Across
            } else {
                Way::Front
            }
        };
        far.iter().map(way).collect()
    }

    /// Whether a device has wires to one other only.
    fn is_leaf(&self, n: usize) -> bool {
        self.graph.neighbours(n).len() == 1
    }
}
