//! The gap in which the bundle of each cable lies, and which of its ends is on the left.
//!
//! Before: columns and sides. After: a gap for each cable. It lies between what the cable joins, not in the frame of a
//! location that it only leads out of. A cable that joins two devices on the same side would cross all that the lower of
//! them has there above it; so it goes round behind that, where the way is worth it.

use super::collect::{Bundle, Graph};
use super::tree;
use crate::figure::Side;

/// The gap of each bundle, and which of its ends is on the left.
pub(super) fn gaps(
    graph: &Graph,
    column: &[usize],
    columns: usize,
    side: &[[Side; 2]],
    searched: bool,
) -> (Vec<usize>, Vec<usize>, usize) {
    let spans = spans(graph, column);
    // In a job that is searched the sides are changed instead.
    let around = (!searched).then(|| (reach(graph, column), tree::walked(graph)));
    let mut load = vec![0_usize; columns + 1];
    let mut inside_count = 0;
    let mut gap = Vec::with_capacity(graph.bundles.len());
    let mut left_end = Vec::with_capacity(graph.bundles.len());
    for bundle in &graph.bundles {
        let mut exits: [Vec<usize>; 2] = [Vec::new(), Vec::new()];
        let mut across = [0_usize; 2];
        let places = graph.locations(bundle);
        for s in &bundle.strands {
            for (e, face) in side[*s].iter().enumerate() {
                if let Some(joint) = graph.strands[*s].ends[e] {
                    let (at, facing_left) = (column[joint.node], *face == Side::Left);
                    let end = e ^ usize::from(graph.strands[*s].turned);
                    exits[end].push(facing(at, *face));
                    across[end] += 2 * at + usize::from(!facing_left);
                }
            }
        }
        let left = match (exits[0].len(), exits[1].len()) {
            // The end on terminals takes the side that its device is on.
            (0, 0) => 0,
            (0, _) => usize::from(across[1] % 2 == 1),
            (_, 0) => usize::from(across[0] % 2 == 0),
            (near, far) => usize::from(across[0] * far > across[1] * near),
        };
        let all = || exits.iter().flatten().copied();
        let (mut low, mut high) = (all().min().unwrap_or(0), all().max().unwrap_or(0));
        let holds = |place: usize, g: usize| place == 0 || (spans[place].0 < g && g <= spans[place].1);
        if let Some((reach, walked)) = &around
            && let Some(behind) = behind(graph, column, reach, walked, side, bundle)
            && places.iter().all(|p| *p == places[0] && holds(*p, behind))
        {
            (low, high) = (behind, behind);
        }
        let common = places.iter().copied().reduce(|a, b| graph.common_place(a, b)).unwrap_or(0);
        let cost = |g: usize| {
            let back = exits[left].iter().filter(|n| **n > g).count()
                + exits[1 - left].iter().filter(|n| **n < g).count();
            // Better not inside the frame of a location that the cable leaves.
            let inside = places.iter().any(|p| {
                graph.path_to(*p).iter().any(|l| {
                    *l != 0 && *l != common && {
                        let (from, to) = spans[*l];
                        from < g && g <= to && !graph.path_to(common).contains(l)
                    }
                })
            });
            (back, inside, load[g])
        };
        let best = (low..=high).min_by_key(|g| (cost(*g), columns - g)).unwrap_or(0);
        inside_count += usize::from(cost(best).1);
        load[best] += 1;
        gap.push(best);
        left_end.push(left);
    }
    (gap, left_end, inside_count)
}

/// How far to the left and right what hangs on each device reaches.
fn reach(graph: &Graph, column: &[usize]) -> Vec<[usize; 2]> {
    let mut reach: Vec<[usize; 2]> = column.iter().map(|c| [*c, *c]).collect();
    for n in tree::reached(graph).into_iter().rev() {
        if let Some(parent) = graph.parents[n] {
            let [left, right] = reach[n];
            let [from, to] = reach[parent];
            reach[parent] = [from.min(left), to.max(right)];
        }
    }
    reach
}

/// The gap behind all that stands on the side of two devices on which a cable joins them, if the way round it is worth
/// the crossings that it saves.
fn behind(
    graph: &Graph,
    column: &[usize],
    reach: &[[usize; 2]],
    walked: &[usize],
    side: &[[Side; 2]],
    bundle: &Bundle,
) -> Option<usize> {
    let mut faces = Vec::new();
    for s in &bundle.strands {
        let [Some(a), Some(b)] = graph.strands[*s].ends else { return None };
        faces.push(((a.node, side[*s][0]), (b.node, side[*s][1])));
    }
    let &(a, b) = faces.first()?;
    if a.1 != b.1 || a.0 == b.0 || faces.len() < 2 || faces.iter().any(|f| *f != (a, b) && *f != (b, a)) {
        return None;
    }
    // How many strands a device has above and below the cable on that side.
    let beside = |node: usize| {
        let on = |(s, e): &&(usize, usize)| side[*s][*e] == a.1;
        let of_cable = |(s, _): &(usize, usize)| bundle.strands.contains(s);
        let ends = graph.nodes[node].ends.iter().filter(on);
        let above = ends.clone().position(of_cable).unwrap_or(0);
        (above, ends.rev().position(of_cable).unwrap_or(0))
    };
    let (upper, lower) = if walked[a.0] < walked[b.0] { (a.0, b.0) } else { (b.0, a.0) };
    let crossed = beside(upper).1 + beside(lower).0;
    let [p, q] = [a.0, b.0].map(|node| reach[node][a.1 as usize]);
    let behind = if a.1 == Side::Right { p.max(q) } else { p.min(q) };
    let passed = behind.abs_diff(column[a.0]) + behind.abs_diff(column[b.0]);
    (crossed > passed && passed > 0).then(|| facing(behind, a.1))
}

/// The first and last column of each location.
pub(super) fn spans(graph: &Graph, column: &[usize]) -> Vec<(usize, usize)> {
    let mut spans = vec![(usize::MAX, 0); graph.places.len()];
    for (n, node) in graph.nodes.iter().enumerate() {
        for place in graph.path_to(node.place) {
            let (from, to) = spans[*place];
            spans[*place] = (from.min(column[n]), to.max(column[n]));
        }
    }
    spans
}

/// The gap that a device's side faces.
pub(super) fn facing(column: usize, side: Side) -> usize {
    column + usize::from(side == Side::Right)
}
