//! The order to start from: a walk over the tree that a job nearly is.

use std::collections::BTreeMap;

use super::FEW;
use super::order::Ordered;

/// What is numbered at a device, one after the other.
#[derive(Clone, Copy)]
enum Step {
    /// What lies along the strand of that end, and the device that hangs there.
    Along(usize),
    /// The lane of a strand that passes over the device to its other side.
    Over(usize),
    /// The device.
    Itself,
}

/// Numbers for the items from a walk over the devices, depth first: what is left of a device from the top, the device,
/// what is right of it. What lies along a strand takes the number of the end that is nearer. A strand that passes over
/// a device to its other side does so as the first of all, right above it.
pub(super) fn walk(o: &Ordered) -> Vec<usize> {
    let mut keys = vec![usize::MAX; o.items.len()];
    let mut number = 0;
    let graph = &o.ranked.graph;
    let few = graph.nodes.len() <= FEW;
    let mut seen = vec![false; graph.nodes.len()];
    for root in graph.roots.iter().copied() {
        if std::mem::replace(&mut seen[root], true) {
            continue;
        }
        let mut stack = vec![(root, steps(o, root).into_iter())];
        while let Some((n, rest)) = stack.last_mut() {
            let n = *n;
            let Some(step) = rest.next() else {
                stack.pop();
                continue;
            };
            let mut take = |item: usize| {
                if keys[item] == usize::MAX {
                    keys[item] = number;
                    number += 1;
                }
            };
            let end = match step {
                Step::Along(end) => end,
                Step::Over(lane) => {
                    take(lane);
                    continue;
                }
                Step::Itself => {
                    take(n);
                    continue;
                }
            };
            let passed = passed(o, end);
            let far = passed.last().copied().filter(|i| graph.parents.get(*i) == Some(&Some(n)) && !seen[*i]);
            let half = passed.len().div_ceil(2);
            for (i, item) in passed.iter().enumerate() {
                let mine = i < half || (few && far.is_none());
                if mine && *item >= graph.nodes.len() {
                    take(*item);
                }
            }
            if let Some(far) = far {
                seen[far] = true;
                stack.push((far, steps(o, far).into_iter()));
            }
        }
    }
    for key in &mut keys {
        if *key == usize::MAX {
            *key = number;
            number += 1;
        }
    }
    keys
}

/// The items from an end of a strand to its other end.
fn passed(o: &Ordered, end: usize) -> Vec<usize> {
    let chain = &o.chains[o.ends[end].strand];
    let item = |e: &usize| o.ends[*e].item;
    if chain.first() == Some(&end) {
        chain.iter().skip(1).step_by(2).map(item).collect()
    } else {
        chain.iter().rev().skip(1).step_by(2).map(item).collect()
    }
}

/// What is numbered at a device.
fn steps(o: &Ordered, n: usize) -> Vec<Step> {
    let graph = &o.ranked.graph;
    let [left, right] = &o.items[n].ends;
    let bundle = |end: &usize| graph.strands[o.ends[*end].strand].bundle;
    let mut lanes = Vec::new();
    let mut over = Vec::new();
    if graph.nodes.len() > FEW {
        for end in left.iter().chain(right) {
            let passed = passed(o, *end);
            if let (Some(lane), Some(far)) = (passed.first(), passed.last())
                && o.items[*lane].layer == o.items[n].layer
                && graph.parents.get(*far) == Some(&Some(n))
            {
                lanes.push(*lane);
                over.extend(bundle(end));
            }
        }
    }
    let goes_over = |end: &&usize| bundle(end).is_some_and(|b| over.contains(&b));
    let first = left.iter().filter(goes_over);
    let then = left.iter().filter(|end| !goes_over(end));
    let before = first.chain(then).copied().map(Step::Along);
    let over = lanes.iter().rev().copied().map(Step::Over);
    before.chain(over).chain([Step::Itself]).chain(right.iter().copied().map(Step::Along)).collect()
}

impl Ordered {
    /// Sorts all layers by the items' numbers, the items of a location together at the mean of its devices' numbers.
    pub(super) fn sort_layers(&mut self, keys: &[usize], wanted: Option<&[usize]>) {
        let graph = &self.ranked.graph;
        let mut sums = vec![(0_usize, 0_usize); graph.places.len()];
        for (n, node) in graph.nodes.iter().enumerate() {
            for place in graph.path_to(node.place) {
                sums[*place].0 += keys[n];
                sums[*place].1 += 1;
            }
        }
        let mut of: Vec<usize> = sums.iter().map(|(sum, count)| 1000 * sum / count.max(&1)).collect();
        if let Some(wanted) = wanted {
            // The numbers of brothers are dealt out anew in the wanted order.
            let mut families: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
            for (p, place) in graph.places.iter().enumerate().skip(1) {
                families.entry(place.parent).or_default().push(p);
            }
            for mut brothers in families.into_values() {
                let mut numbers: Vec<usize> = brothers.iter().map(|p| of[*p]).collect();
                numbers.sort_unstable();
                brothers.sort_by_key(|p| (wanted[*p], *p));
                for (p, number) in brothers.into_iter().zip(numbers) {
                    of[p] = number;
                }
            }
        }
        let of_place = |p: &usize| (of[*p], 1 + *p);
        let path = |item: usize| {
            let outer = graph.path_to(self.items[item].place).iter().skip(1).map(of_place);
            outer.chain([(1000 * keys[item], 0)])
        };
        for layer in &mut self.layers {
            layer.sort_unstable_by(|a, b| path(*a).cmp(path(*b)).then(a.cmp(b)));
        }
        self.place_keys = of;
    }
}
