//! Columns from the tree that a job nearly is, with room for what hangs on the feed side of a device.
//!
//! A controller takes its feed and its sensors on one side. If its sensors stood in the column that the feed comes from,
//! every feed would cross the cores of every sensor on its way. So a device stands as many columns farther from its
//! parent as what hangs on the side towards the parent needs, and the feed passes between the sensors.

use std::collections::VecDeque;

use super::collect::Graph;
use crate::figure::Side;

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

/// The column of each device. `side` tells on which side an end of a strand lands, if that is settled.
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
    let mut column = vec![0; tree.len()];
    for n in order {
        let at = tree[n];
        if let Some(parent) = at.parent {
            column[n] = column[parent] + at.towards * (1 + at.back);
        }
    }
    column
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

/// The tree of shortest ways from the supplies, and its devices in the order in which they are reached.
fn spread(graph: &Graph, side: impl Fn(usize, usize) -> Option<Side>) -> (Vec<Place>, Vec<usize>) {
    let count = graph.nodes.len();
    let mut tree = vec![Place { parent: None, towards: 1, back: 0, beyond: 0 }; count];
    let mut seen = vec![false; count];
    let mut order: Vec<usize> = Vec::with_capacity(count);
    let starts =
        |n: usize| -> i32 { graph.nodes[n].ends.iter().map(|(_, e)| if *e == 0 { 1 } else { -1 }).sum() };
    let sources: Vec<usize> = (0..count).filter(|n| graph.nodes[*n].source).collect();
    let mut rest: Vec<usize> = (0..count).filter(|n| !graph.nodes[*n].source).collect();
    rest.sort_by_key(|n| -starts(*n));
    let groups = std::iter::once(sources).chain(rest.into_iter().map(|n| vec![n]));
    for roots in groups {
        let mut queue: VecDeque<usize> = VecDeque::new();
        for root in roots {
            if !std::mem::replace(&mut seen[root], true) {
                queue.push_back(root);
            }
        }
        while let Some(n) = queue.pop_front() {
            order.push(n);
            for (s, e) in &graph.nodes[n].ends {
                let Some(far) = graph.strands[*s].ends[1 - e].map(|j| j.node) else { continue };
                if std::mem::replace(&mut seen[far], true) {
                    continue;
                }
                tree[far].parent = Some(n);
                tree[far].towards = match (side(*s, *e), side(*s, 1 - e)) {
                    (Some(Side::Right), _) => 1,
                    (Some(Side::Left), _) => -1,
                    (None, _) => tree[n].towards,
                };
                queue.push_back(far);
            }
        }
    }
    (tree, order)
}
