//! Items, rows and landings that change places as long as that saves crossings.

use std::cmp::Reverse;

use super::order::{End, Ordered, What, partner};
use crate::figure::Side;

/// Where the far ends of chords are met on the way round a channel's border.
type Far = Option<Vec<(Reverse<usize>, Reverse<usize>)>>;

/// Crossings more if the chords whose far ends are met at `a` change from above those at `b` to below them; both in order.
fn gain<T: Ord>(a: &[T], b: &[T]) -> i64 {
    let mut above = a.iter().peekable();
    let (mut passed, mut before) = (0, 0);
    for x in b {
        while above.next_if(|y| *y < x).is_some() {
            passed += 1;
        }
        before += passed;
    }
    // No two chords end on one point, so that each pair crosses in just one of the two orders.
    (a.len() * b.len()) as i64 - 2 * before
}

impl Ordered {
    /// Lets items, rows and landings change places until nothing is gained, at most so many times over.
    pub(super) fn improve(&mut self, rounds: usize) {
        for _ in 0..rounds {
            let mut changed = self.sort_rows();
            changed |= self.sift_all();
            if !changed {
                break;
            }
        }
    }

    /// Where an end is met on the way round the channel's border, starting below an item on that border.
    fn met(&self, rank: &[usize], below: usize, side: Side, end: usize) -> (u8, isize, isize) {
        let End { item, side: at, slot, .. } = self.ends[end];
        let (r, s) = (rank[item].cast_signed(), slot.cast_signed());
        if at != side {
            (1, -r, -s)
        } else if rank[item] > below {
            (0, r, s)
        } else {
            (2, r, s)
        }
    }

    /// Crossings more on one border of two items of a layer if `upper` changes from above `lower` to below it, all else as it
    /// is. A chord from an item to itself crosses none of them.
    fn gain_on(&self, rank: &[usize], side: Side, upper: usize, lower: usize) -> i64 {
        let below = rank[upper].max(rank[lower]);
        let met = |item: usize| {
            let far = self.items[item].ends[side as usize].iter().map(|e| partner(*e));
            let far = far.filter(|e| ![upper, lower].contains(&self.ends[*e].item));
            let mut met: Vec<_> = far.map(|e| self.met(rank, below, side, e)).collect();
            met.sort_unstable();
            met
        };
        if [upper, lower].iter().any(|i| self.items[*i].ends[side as usize].is_empty()) {
            return 0;
        }
        gain(&met(upper), &met(lower))
    }

    /// Whether the chords of two ends that are neighbours on one border cross, the first above the second.
    fn crosses(&self, rank: &[usize], upper: usize, lower: usize) -> bool {
        let End { item, side, slot, .. } = self.ends[lower];
        let met = |end: usize| {
            let far = partner(end);
            let End { item: i, side: s, slot: at, .. } = self.ends[far];
            if i == item && s == side {
                // On the same border: below comes first on the way round, above last.
                let at_signed = at.cast_signed();
                return if at > slot { (0, -1, at_signed) } else { (3, 0, at_signed) };
            }
            self.met(rank, rank[item], side, far)
        };
        met(upper) < met(lower)
    }

    /// Exchanges neighbouring rows of bundles and lanes, and landings of one terminal, as long as that saves crossings.
    fn sort_rows(&mut self) -> bool {
        let rank = self.places_in_layers();
        let mut any = false;
        for round in 0..6 {
            let mut changed = false;
            for item in 0..self.items.len() {
                changed |= match self.items[item].what {
                    What::Device(_) => self.sort_landings(&rank, item),
                    What::Bundle(_) | What::Turned | What::Lane => self.sort_item_rows(&rank, item),
                };
            }
            any |= changed && round > 0;
            if !changed {
                break;
            }
        }
        any
    }

    fn sort_item_rows(&mut self, rank: &[usize], item: usize) -> bool {
        let mut changed = false;
        for _ in 0..self.items[item].rows.len() {
            let mut swapped = false;
            for i in 1..self.items[item].rows.len() {
                let (a, b) = (self.items[item].rows[i - 1], self.items[item].rows[i]);
                let loose = |s: usize| self.ranked.graph.strands[s].ends.iter().any(Option::is_none);
                if loose(a) || loose(b) {
                    continue;
                }
                let mut gain = 0;
                for side in 0..2 {
                    let on = |s: usize| {
                        self.items[item].ends[side].iter().copied().find(|e| self.ends[*e].strand == s)
                    };
                    if let (Some(x), Some(y)) = (on(a), on(b)) {
                        gain += if self.crosses(rank, x, y) { 1 } else { -1 };
                    }
                }
                if gain > 0 {
                    self.items[item].rows.swap(i - 1, i);
                    self.set_slots(item);
                    swapped = true;
                }
            }
            changed |= swapped;
            if !swapped {
                break;
            }
        }
        changed
    }

    fn sort_landings(&mut self, rank: &[usize], item: usize) -> bool {
        let mut changed = false;
        for side in 0..2 {
            let count = self.items[item].ends[side].len();
            for _ in 0..count {
                let mut swapped = false;
                for i in 1..count {
                    let (a, b) = (self.items[item].ends[side][i - 1], self.items[item].ends[side][i]);
                    if self.ends[a].terminal == self.ends[b].terminal && self.crosses(rank, a, b) {
                        self.items[item].ends[side].swap(i - 1, i);
                        self.ends[a].slot = i;
                        self.ends[b].slot = i - 1;
                        swapped = true;
                    }
                }
                changed |= swapped;
                if !swapped {
                    break;
                }
            }
        }
        changed
    }

    /// Where the far ends of an item's chords are met on its left and right, in order; `None` where one turns back.
    fn far_ends(&self, rank: &[usize], item: usize) -> [Far; 2] {
        [Side::Left, Side::Right].map(|side| {
            let ends = self.items[item].ends[side as usize].iter().map(|e| &self.ends[partner(*e)]);
            let ends = ends.filter(|e| e.item != item);
            let met = |e: &End| (e.side != side).then(|| (Reverse(rank[e.item]), Reverse(e.slot)));
            let mut met = ends.map(met).collect::<Option<Vec<_>>>()?;
            met.sort_unstable();
            Some(met)
        })
    }

    /// Moves single items over their neighbours of the same location to where their chords cross least.
    fn sift_all(&mut self) -> bool {
        const REACH: usize = 8;
        let mut rank = self.places_in_layers();
        let mut any = false;
        let mut far: Vec<[Far; 2]> = vec![[None, None]; self.items.len()];
        for layer in 0..self.layers.len() {
            for item in &self.layers[layer] {
                far[*item] = self.far_ends(&rank, *item);
            }
            for item in self.layers[layer].clone() {
                let at = rank[item];
                let mut best = (0_i64, at);
                for up in [true, false] {
                    let mut sum = 0;
                    let mut i = at;
                    let mut passed = 0;
                    while let Some(q) = (if up { i.checked_sub(1) } else { Some(i + 1) })
                        .and_then(|j| self.layers[layer].get(j).copied())
                    {
                        let Some(run) = self.run_beside(layer, item, rank[q], up) else { break };
                        for q in run {
                            let (upper, lower) = if up { (q, item) } else { (item, q) };
                            sum += [Side::Left, Side::Right]
                                .map(|side| match (&far[upper][side as usize], &far[lower][side as usize]) {
                                    (Some(a), Some(b)) => gain(a, b),
                                    _ => self.gain_on(&rank, side, upper, lower),
                                })
                                .iter()
                                .sum::<i64>();
                            i = rank[q];
                            passed += 1;
                        }
                        if sum < best.0 {
                            best = (sum, i);
                        }
                        if passed > REACH {
                            break;
                        }
                    }
                }
                if best.1 != at {
                    let items = &mut self.layers[layer];
                    let moved = items.remove(at);
                    items.insert(best.1, moved);
                    for (i, item) in items.iter().enumerate() {
                        rank[*item] = i;
                    }
                    any = true;
                }
            }
        }
        any
    }

    /// The items that `item` passes in one step, nearest first: one neighbour, or all of a location beside it; `None`
    /// at the edge of its own location.
    fn run_beside(&self, layer: usize, item: usize, at: usize, up: bool) -> Option<Vec<usize>> {
        let graph = &self.ranked.graph;
        let mine = self.items[item].place;
        let within = |q: usize| {
            let path = graph.path_to(self.items[q].place);
            path.iter().position(|p| *p == mine).map(|i| path.get(i + 1).copied())
        };
        let first = self.layers[layer][at];
        let block = within(first)?;
        let Some(block) = block else { return Some(vec![first]) };
        let mut run = vec![first];
        let mut i = at;
        while let Some(q) =
            (if up { i.checked_sub(1) } else { Some(i + 1) }).and_then(|j| self.layers[layer].get(j).copied())
        {
            if within(q) != Some(Some(block)) {
                break;
            }
            run.push(q);
            i = if up { i - 1 } else { i + 1 };
        }
        Some(run)
    }
}
