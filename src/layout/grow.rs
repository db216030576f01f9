//! What the tree that a job nearly is grows from, and how far it is from there.
//!
//! A change of one wire shall not turn a branch round: so what hangs together has a head of its own, a splice that has lost
//! its feed stays beside the one whose cores run with its own, and a wire that alone joins two devices is a long way.

use super::FEW;
use super::collect::Graph;
use crate::netlist::Form;

/// So many devices make what they hang on, and nothing else leads to, the head of a tree of its own.
const HEADED: usize = 5;

/// So much longer is the way against the direction of a strand.
const AGAINST: usize = 2;
/// So much longer is the way over a strand that alone joins two devices.
const ALONE: usize = 2;

/// What the tree grows from: first all supplies, and of a large job the heads of whatever hangs together, at once; then one
/// after the other whatever they do not reach.
pub(super) fn roots(graph: &Graph) -> Vec<Vec<usize>> {
    let count = graph.nodes.len();
    let starts =
        |n: usize| -> i32 { graph.nodes[n].ends.iter().map(|(_, e)| if *e == 0 { 1 } else { -1 }).sum() };
    let led_to =
        |n: usize| graph.nodes[n].form == Form::Splice || graph.nodes[n].ends.iter().any(|(_, e)| *e == 1);
    let (mut first, mut rest): (Vec<usize>, Vec<usize>) = (0..count).partition(|n| graph.nodes[*n].source);
    rest.sort_by_key(|n| (count > FEW && led_to(*n), -starts(*n), *n));
    if count > FEW {
        let mut seen = vec![false; count];
        for n in &first {
            led(graph, *n, &mut seen);
        }
        for n in rest.iter().copied().filter(|n| !led_to(*n)) {
            if led(graph, n, &mut seen) >= HEADED {
                first.push(n);
            }
        }
    }
    std::iter::once(first).chain(rest.into_iter().map(|n| vec![n])).collect()
}

/// How many devices there are that the wires of one lead to, and the wires of those, not seen before.
fn led(graph: &Graph, from: usize, seen: &mut [bool]) -> usize {
    let mut stack = vec![from];
    let mut count = 0;
    while let Some(n) = stack.pop() {
        if std::mem::replace(&mut seen[n], true) {
            continue;
        }
        count += 1;
        let near = graph.nodes[n].ends.iter().filter(|(_, e)| *e == 0);
        stack.extend(near.filter_map(|(s, _)| graph.strands[*s].ends[1].map(|joint| joint.node)));
    }
    count
}

/// The splices from which cables lead on together with cores from a splice. What hangs on both stays where it is if one of
/// them has no feed.
pub(super) fn beside(graph: &Graph, n: usize) -> Vec<usize> {
    let is_splice = |n: usize| graph.nodes[n].form == Form::Splice && graph.nodes[n].away.is_none();
    if !is_splice(n) {
        return Vec::new();
    }
    let cores = graph.nodes[n].ends.iter().filter_map(|(s, e)| Some((graph.strands[*s].bundle?, *s, *e)));
    let others = cores.flat_map(|(b, s, e)| {
        let turned = graph.strands[s].turned;
        let same_end = move |other: &usize| e ^ usize::from(graph.strands[*other].turned != turned);
        graph.bundles[b].strands.iter().filter_map(move |other| graph.strands[*other].ends[same_end(other)])
    });
    others.map(|joint| joint.node).filter(|other| *other != n && is_splice(*other)).collect()
}

/// How long the way over a strand is. In a large job a strand against the direction in which it is written makes it longer,
/// and so does one that alone joins two devices, as no feed does: one wire between two branches leaves both as they are.
pub(super) struct Lengths {
    /// The pairs of devices that one strand joins, sorted; none in a job that is not large.
    alone: Vec<(usize, usize)>,
    large: bool,
}

impl Lengths {
    /// Of a job.
    pub fn of(graph: &Graph) -> Self {
        let large = graph.nodes.len() > FEW;
        let mut alone = Vec::new();
        if large {
            let is_box = |n: usize| graph.nodes[n].form != Form::Splice;
            let pairs = graph.strands.iter().filter_map(|strand| match strand.ends {
                [Some(a), Some(b)] if is_box(a.node) && is_box(b.node) => Some(pair(a.node, b.node)),
                _ => None,
            });
            let mut pairs: Vec<(usize, usize)> = pairs.collect();
            pairs.sort_unstable();
            alone = pairs.chunk_by(|a, b| a == b).filter(|same| same.len() == 1).flatten().copied().collect();
        }
        Self { alone, large }
    }

    /// Over a strand from the device on that end of it to the one on the other end.
    pub fn of_step(&self, from: usize, to: usize, end: usize) -> usize {
        let against = self.large && end == 1;
        let alone = self.alone.binary_search(&pair(from, to)).is_ok();
        1 + AGAINST * usize::from(against) + ALONE * usize::from(alone)
    }
}

fn pair(a: usize, b: usize) -> (usize, usize) {
    (a.min(b), a.max(b))
}
