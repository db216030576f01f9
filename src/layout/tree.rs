//! Columns from the tree that a job nearly is, with room for what hangs on the feed side of a device.
//!
//! A controller takes its feed and its sensors on one side. If its sensors stood in the column that the feed comes from,
//! every feed would cross the cores of every sensor on its way. So a device stands as many columns farther from its
//! parent as what hangs on the side towards the parent needs, and the feed passes between the sensors.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::FEW;
use super::collect::Graph;
use super::grow::{Lengths, beside, roots};
use crate::figure::Side;
use crate::netlist::Form;

/// What is known of a device in the tree.
#[derive(Clone, Copy)]
struct Place {
    parent: Option<usize>,
    /// 1 where it stands right of its parent, -1 where it stands left.
    towards: i32,
    /// Columns that are needed between it and its parent.
    back: i32,
    /// Columns that are needed beyond it.
    beyond: i32,
}

/// The column of each device. `side` tells on which side an end of a strand lands, if that is settled. In a job that is
/// not searched for better columns the children of a device that lead on stand in one, as far away as the one that needs
/// most room.
pub(super) fn columns(graph: &Graph, side: impl Fn(usize, usize) -> Option<Side>) -> Vec<i32> {
    let (mut tree, order) = spread(graph, side);
    for n in order.iter().rev().copied() {
        let Some(parent) = tree[n].parent else { continue };
        let needed = 1 + tree[n].back + tree[n].beyond;
        if tree[n].towards == tree[parent].towards {
            tree[parent].beyond = tree[parent].beyond.max(needed);
        } else {
            tree[parent].back = tree[parent].back.max(needed);
        }
    }
    if graph.nodes.len() > FEW {
        stand_in_line(graph, &mut tree);
    }
    let mut column = vec![0; tree.len()];
    for n in order {
        let at = tree[n];
        if let Some(parent) = at.parent {
            column[n] = column[parent] + at.towards * (1 + at.back);
        }
    }
    column
}

/// Gives all children of a device that stand on one side of it and lead on the same room.
fn stand_in_line(graph: &Graph, tree: &mut [Place]) {
    let slot = |at: &Place| at.parent.map(|parent| (parent, usize::from(at.towards > 0)));
    let leads_on: Vec<bool> = (0..tree.len()).map(|n| graph.neighbours(n).len() > 1).collect();
    let mut most = vec![[0; 2]; tree.len()];
    for (at, _) in tree.iter().zip(&leads_on).filter(|(_, on)| **on) {
        if let Some((parent, side)) = slot(at) {
            most[parent][side] = most[parent][side].max(at.back);
        }
    }
    for (at, _) in tree.iter_mut().zip(&leads_on).filter(|(_, on)| **on) {
        if let Some((parent, side)) = slot(at) {
            at.back = most[parent][side];
        }
    }
}

/// The device through which each is reached from the supplies, and those that are reached through none.
pub(super) fn parents(graph: &Graph) -> (Vec<Option<usize>>, Vec<usize>) {
    let (tree, order) = spread(graph, |_, _| None);
    let roots = order.into_iter().filter(|n| tree[*n].parent.is_none()).collect();
    (tree.into_iter().map(|at| at.parent).collect(), roots)
}

/// The devices in the order in which they are reached from the supplies.
pub(super) fn reached(graph: &Graph) -> Vec<usize> {
    spread(graph, |_, _| None).1
}

/// A number for each device, in the order of a walk over the tree: a device, then all that hangs on it, first to last.
pub(super) fn walked(graph: &Graph) -> Vec<usize> {
    let reached = reached(graph);
    // How many devices hang on each, itself counted.
    let mut size = vec![1; graph.nodes.len()];
    for n in reached.iter().rev() {
        if let Some(parent) = graph.parents[*n] {
            size[parent] += size[*n];
        }
    }
    let (mut number, mut next) = (vec![0; size.len()], 0);
    // What the next child of each gets.
    let mut free = vec![0; size.len()];
    for n in reached {
        let from = graph.parents[n].map_or(&mut next, |parent| &mut free[parent]);
        number[n] = *from;
        *from += size[n];
        free[n] = number[n] + 1;
    }
    number
}

/// The tree of shortest ways from the supplies, and its devices in the order in which they are reached.
fn spread(graph: &Graph, side: impl Fn(usize, usize) -> Option<Side>) -> (Vec<Place>, Vec<usize>) {
    let count = graph.nodes.len();
    let lengths = Lengths::of(graph);
    let mut tree = vec![Place { parent: None, towards: 1, back: 0, beyond: 0 }; count];
    let mut way = vec![usize::MAX; count];
    let mut place = vec![usize::MAX; count];
    let mut twin: Vec<Option<usize>> = vec![None; count];
    let mut order: Vec<usize> = Vec::with_capacity(count);
    for roots in roots(graph) {
        // By the length of the way, then first come, first served.
        let mut queue: BinaryHeap<Reverse<(usize, usize, usize)>> = BinaryHeap::new();
        let mut came = 0..;
        let mut come = |queue: &mut BinaryHeap<_>, length: usize, n: usize| {
            queue.extend(came.next().map(|number| Reverse((length, number, n))));
        };
        for root in roots {
            if way[root] == usize::MAX {
                way[root] = 0;
                come(&mut queue, 0, root);
            }
        }
        while let Some(Reverse((length, _, n))) = queue.pop() {
            if place[n] != usize::MAX {
                continue;
            }
            place[n] = order.len();
            order.push(n);
            for other in beside(graph, n) {
                if way[other] == usize::MAX {
                    (way[other], twin[other]) = (length, Some(n));
                    come(&mut queue, length, other);
                }
            }
            for (s, e) in &graph.nodes[n].ends {
                let Some(far) = graph.strands[*s].ends[1 - e].map(|j| j.node) else { continue };
                let length = length + lengths.of_step(n, far, *e);
                if place[far] == usize::MAX && length < way[far] {
                    (way[far], twin[far]) = (length, None);
                    come(&mut queue, length, far);
                }
            }
        }
    }
    for n in order.iter().copied() {
        if let Some(twin) = twin[n] {
            tree[n] = tree[twin];
            continue;
        }
        let nearer = graph.nodes[n].ends.iter().filter_map(|(s, e)| {
            let far = graph.strands[*s].ends[1 - e]?;
            // Power comes through splices and strips rather than from a brother.
            let brother = count > FEW && graph.nodes[far.node].form == Form::Box;
            let key = (brother, place[far.node], far.terminal, *s, *e);
            let length = way[far.node].checked_add(lengths.of_step(far.node, n, 1 - *e))?;
            (length == way[n] && place[far.node] < place[n]).then_some((key, far.node))
        });
        let Some(((.., s, e), parent)) = nearer.min() else { continue };
        tree[n].parent = Some(parent);
        tree[n].towards = match side(s, 1 - e) {
            Some(Side::Right) => 1,
            Some(Side::Left) => -1,
            None => tree[parent].towards,
        };
    }
    (tree, order)
}
