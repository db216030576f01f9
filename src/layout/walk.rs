//! The order to start from: a walk over the tree that a job nearly is.

use std::collections::BTreeMap;

use super::FEW;
use super::order::Ordered;

/// Numbers for the items from a walk over the devices, depth first: what is left of a device from the top, the device,
/// what is right of it. What lies along a strand takes the number of the end that is nearer.
pub(super) fn walk(o: &Ordered) -> Vec<usize> {
    let mut keys = vec![usize::MAX; o.items.len()];
    let mut number = 0;
    let graph = &o.ranked.graph;
    let few = graph.nodes.len() <= FEW;
    let mut seen = vec![false; graph.nodes.len()];
    for root in graph.roots.iter().copied() {
        if seen[root] {
            continue;
        }
        seen[root] = true;
        let mut stack = vec![(root, 0_usize)];
        while let Some((n, at)) = stack.pop() {
            let [left, right] = &o.items[n].ends;
            if at == left.len() {
                keys[n] = number;
                number += 1;
            }
            let all = left.len() + right.len();
            if at > all {
                continue;
            }
            stack.push((n, at + 1));
            let Some(end) = (if at < left.len() { left.get(at) } else { right.get(at - left.len()) }) else {
                continue;
            };
            let chain = &o.chains[o.ends[*end].strand];
            let forwards = chain.first() == Some(end);
            let along: Vec<usize> =
                if forwards { chain.clone() } else { chain.iter().rev().copied().collect() };
            let passed: Vec<usize> = along.iter().skip(1).step_by(2).map(|e| o.ends[*e].item).collect();
            let far = passed.last().copied().filter(|i| graph.parents.get(*i) == Some(&Some(n)) && !seen[*i]);
            let half = passed.len().div_ceil(2);
            for (i, item) in passed.iter().enumerate() {
                let mine = i < half || (few && far.is_none());
                if mine && *item >= graph.nodes.len() && keys[*item] == usize::MAX {
                    keys[*item] = number;
                    number += 1;
                }
            }
            if let Some(far) = far {
                seen[far] = true;
                stack.push((far, 0));
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
            let mut path: Vec<(usize, usize)> =
                graph.path_to(self.items[item].place).iter().skip(1).map(of_place).collect();
            path.push((1000 * keys[item], 0));
            path
        };
        let paths: Vec<_> = (0..self.items.len()).map(path).collect();
        for layer in &mut self.layers {
            layer.sort_by(|a, b| paths[*a].cmp(&paths[*b]).then(a.cmp(b)));
        }
        self.place_keys = of;
    }
}
