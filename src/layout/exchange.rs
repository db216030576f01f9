//! Whole locations that change places.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use super::order::{LONG, Ordered};

impl Ordered {
    /// Lets neighbouring locations change places as long as that saves crossings.
    pub(super) fn exchange_places(&mut self) {
        let graph = Rc::clone(&self.ranked.graph);
        let mut crossings = self.crossings();
        for _ in 0..3 {
            let mut changed = false;
            for a in 1..graph.places.len() {
                for b in a + 1..graph.places.len() {
                    let (p, q) = (self.spans[a], self.spans[b]);
                    if graph.places[a].parent != graph.places[b].parent
                        || p.1 < q.0
                        || q.1 < p.0
                        || crossings == 0
                    {
                        continue;
                    }
                    let before = (self.layers.clone(), self.ends.clone());
                    let rows: Vec<_> = self.items.iter().map(|i| (i.rows.clone(), i.ends.clone())).collect();
                    self.exchange(a, b);
                    let fits = self.agree();
                    if fits {
                        self.improve(LONG);
                    }
                    let now = self.crossings();
                    if fits && now < crossings {
                        crossings = now;
                        changed = true;
                        self.place_keys.swap(a, b);
                        continue;
                    }
                    (self.layers, self.ends) = before;
                    for (item, (rows, ends)) in self.items.iter_mut().zip(rows) {
                        (item.rows, item.ends) = (rows, ends);
                    }
                }
            }
            if !changed {
                break;
            }
        }
    }

    /// Whether locations stand in one order in all layers.
    fn agree(&self) -> bool {
        let graph = &self.ranked.graph;
        let mut below: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); graph.places.len()];
        for layer in &self.layers {
            let mut last: BTreeMap<usize, usize> = BTreeMap::new();
            for item in layer {
                for pair in graph.path_to(self.items[*item].place).windows(2) {
                    let &[parent, place] = pair else { continue };
                    if let Some(above) = last.insert(parent, place)
                        && above != place
                    {
                        below[above].insert(place);
                    }
                }
            }
        }
        let mut above = vec![0_usize; below.len()];
        below.iter().flatten().for_each(|p| above[*p] += 1);
        let mut free: Vec<usize> = (0..above.len()).filter(|p| above[*p] == 0).collect();
        let mut done = 0;
        while let Some(p) = free.pop() {
            done += 1;
            for q in &below[p] {
                above[*q] -= 1;
                if above[*q] == 0 {
                    free.push(*q);
                }
            }
        }
        done == above.len()
    }

    /// Puts the items of one location where those of another are and the other way round, in every layer.
    fn exchange(&mut self, a: usize, b: usize) {
        let graph = &self.ranked.graph;
        for layer in &mut self.layers {
            let of = |item: &usize| {
                let path = graph.path_to(self.items[*item].place);
                if path.contains(&a) { 1 } else { 2 * usize::from(path.contains(&b)) }
            };
            let kinds: Vec<usize> = layer.iter().map(of).collect();
            let (Some(first), Some(last)) =
                (kinds.iter().position(|k| *k > 0), kinds.iter().rposition(|k| *k > 0))
            else {
                continue;
            };
            let upper = kinds[first];
            let pick = |wanted: usize| {
                let within = layer.iter().zip(&kinds).skip(first).take(last + 1 - first);
                within.filter(move |(_, k)| **k == wanted).map(|(i, _)| *i)
            };
            let run: Vec<usize> = pick(3 - upper).chain(pick(0)).chain(pick(upper)).collect();
            layer.splice(first..=last, run);
        }
    }
}
