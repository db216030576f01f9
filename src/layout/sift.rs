//! Items, rows and landings that change places as long as that saves crossings.
//!
//! This is where a search spends its time: a trial sorts everything once. So where an end is met on the way round a
//! channel's border is one number, and what is looked up of a layer lies in one vector that serves for all layers.

use std::ops::Range;

use super::order::{End, Ordered, What, partner};
use crate::figure::Side;

/// Bits of a number that say the place in a layer or on a border.
const BITS: u32 = 30;

/// Where an end is met on the way round a channel's border: first in which part of the way, then which item and landing.
pub(super) fn met_at(part: u64, rank: usize, slot: usize) -> u64 {
    (part << (2 * BITS)) | ((rank as u64) << BITS) | slot as u64
}

/// The same where the way leads up.
pub(super) fn met_upwards(part: u64, rank: usize, slot: usize) -> u64 {
    const LAST: usize = (1 << BITS) - 1;
    met_at(part, LAST - rank, LAST - slot)
}

/// Pairs of which the first is met before the second; both in order.
fn in_turn(first: &[u64], second: &[u64]) -> usize {
    if first.last() < second.first() {
        return first.len() * second.len();
    }
    let (mut passed, mut pairs) = (0, 0);
    for x in second {
        while first.get(passed).is_some_and(|y| y < x) {
            passed += 1;
        }
        pairs += passed;
    }
    pairs
}

/// The far ends of the chords on one border of an item, but for those on the item itself: where they are met, in order.
#[derive(Clone, Debug, Default)]
struct Fan {
    /// Those on the other border of the channel.
    across: Range<usize>,
    /// Those on the same border, where the chord turns back.
    back: Range<usize>,
}

/// A small change of an order.
#[derive(Clone, Copy, Debug)]
pub(super) enum Small {
    /// The cores of a cable in the order that fits its left (0) or right (1) end.
    Cable(usize, usize),
    /// The strand in a row of an item before the one above it, as far as they run side by side.
    Rows(usize, usize),
    /// The landing at a place on the left (0) or right (1) of a device before the one above it, on the same terminal.
    Landings(usize, usize, usize),
    /// The item at a place in a layer before the one above it.
    Neighbours(usize, usize),
}

/// Where two strands are neighbours: in a row of an item and the next, or on two landings of one terminal in this order.
#[derive(Clone, Copy, Debug)]
enum Beside {
    Rows(usize, usize),
    Landings(usize, usize),
}

/// The fans of the items of one layer.
#[derive(Default)]
struct Fans {
    /// Where the far ends are met.
    met: Vec<u64>,
    of: Vec<[Fan; 2]>,
    /// Whether any chord turns back, so that what is met changes with the order of the layer.
    turning: bool,
}

impl Fans {
    /// Looks a layer up anew.
    fn look(&mut self, o: &Ordered, rank: &[usize], layer: usize) {
        self.met.clear();
        self.of.resize(o.items.len(), Default::default());
        self.turning = false;
        for item in &o.layers[layer] {
            for side in [Side::Left, Side::Right] {
                let far = |e: &usize| Some(&o.ends[partner(*e)]).filter(|e| e.item != *item);
                let ends = &o.items[*item].ends[side as usize];
                let start = self.met.len();
                let across = ends.iter().filter_map(far).filter(|e| e.side != side);
                self.met.extend(across.map(|e| met_upwards(0, rank[e.item], e.slot)));
                let middle = self.met.len();
                let back = ends.iter().filter_map(far).filter(|e| e.side == side);
                self.met.extend(back.map(|e| met_at(0, rank[e.item], e.slot)));
                self.met[start..middle].sort_unstable();
                self.met[middle..].sort_unstable();
                let fan = Fan { across: start..middle, back: middle..self.met.len() };
                self.turning |= !fan.back.is_empty();
                self.of[*item][side as usize] = fan;
            }
        }
    }

    /// Crossings more on one border of two items, each given with its place in the layer, if `upper` changes from above
    /// `lower` to below it, all else as it is. A chord from an item to itself crosses none of them.
    fn gain(&self, side: Side, upper: (usize, usize), lower: (usize, usize)) -> i64 {
        let [a, b] = [upper, lower].map(|(item, _)| &self.of[item][side as usize]);
        if a.across.is_empty() && a.back.is_empty() || b.across.is_empty() && b.back.is_empty() {
            return 0;
        }
        let [a_across, b_across] = [a, b].map(|fan| &self.met[fan.across.clone()]);
        // No two chords end on one point, so that each pair crosses in just one of the two orders.
        let more = |pairs: usize, before: usize| pairs as i64 - 2 * before as i64;
        let across = more(a_across.len() * b_across.len(), in_turn(a_across, b_across));
        if a.back.is_empty() && b.back.is_empty() {
            return across;
        }
        // On the way round from below both: down to the end of the border, up on the other, down again from its top.
        let places = [upper.1, lower.1];
        let below = met_at(0, upper.1.max(lower.1) + 1, 0);
        let parts = |fan: &Fan| {
            let back = &self.met[fan.back.clone()];
            let (above, under) = back.split_at(back.partition_point(|met| *met < below));
            let between = |met: &u64| {
                places.iter().any(|place| (met_at(0, *place, 0)..met_at(0, place + 1, 0)).contains(met))
            };
            let above: Vec<u64> = above.iter().copied().filter(|met| !between(met)).collect();
            (under, above)
        };
        let ((a_under, a_above), (b_under, b_above)) = (parts(a), parts(b));
        let [a_back, b_back] = [a_under.len() + a_above.len(), b_under.len() + b_above.len()];
        let pairs = a_back * b_back + a_back * b_across.len() + a_across.len() * b_back;
        let before = a_under.len() * (b_across.len() + b_above.len())
            + a_across.len() * b_above.len()
            + in_turn(a_under, b_under)
            + in_turn(&a_above, &b_above);
        across + more(pairs, before)
    }
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
    fn met(&self, rank: &[usize], below: usize, side: Side, end: usize) -> u64 {
        let End { item, side: at, slot, .. } = self.ends[end];
        if at != side {
            met_upwards(2, rank[item], slot)
        } else {
            met_at(if rank[item] > below { 1 } else { 3 }, rank[item], slot)
        }
    }

    /// Whether the chords of two ends that are neighbours on one border cross, the first above the second.
    fn crosses(&self, rank: &[usize], upper: usize, lower: usize) -> bool {
        let End { item, side, slot, .. } = self.ends[lower];
        let met = |end: usize| {
            let far = partner(end);
            let End { item: i, side: s, slot: at, .. } = self.ends[far];
            if i == item && s == side {
                // On the same border: below comes first on the way round, above last.
                return met_at(if at > slot { 0 } else { 4 }, 0, at);
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
        self.exchange_rows(item, |order, ends| {
            let gain = |(a, b): (usize, usize)| if order.crosses(rank, a, b) { 1 } else { -1 };
            ends.into_iter().flatten().map(gain).sum::<i32>() > 0
        })
    }

    /// Lets neighbouring strands of an item that land at both ends change places, as far as they run side by side, as long as
    /// that is worth while for their ends on the left and on the right; says whether any did.
    fn exchange_rows(
        &mut self,
        item: usize,
        worth: impl Fn(&Self, [Option<(usize, usize)>; 2]) -> bool,
    ) -> bool {
        let mut changed = false;
        for _ in 0..self.items[item].rows.len() {
            let mut swapped = false;
            for i in 1..self.items[item].rows.len() {
                let landed = [i - 1, i].iter().all(|row| !self.is_loose(self.items[item].rows[*row]));
                if landed && worth(self, self.along((item, i - 1), |_| ())) {
                    self.swap_along(item, i - 1);
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

    /// What small changes there are.
    pub(super) fn small_changes(&self) -> Vec<Small> {
        let mut all = Vec::new();
        for (n, item) in self.items.iter().enumerate() {
            match item.what {
                What::Bundle(_) if item.rows.len() > 1 => {
                    all.extend([0, 1].map(|side| Small::Cable(n, side)));
                    all.extend((1..item.rows.len()).map(|row| Small::Rows(n, row)));
                }
                What::Device(_) => {
                    for (side, border) in item.ends.iter().enumerate() {
                        all.extend((1..border.len()).map(|at| Small::Landings(n, side, at)));
                    }
                }
                What::Bundle(_) | What::Turned | What::Lane => {}
            }
        }
        for (layer, items) in self.layers.iter().enumerate() {
            all.extend((1..items.len()).map(|at| Small::Neighbours(layer, at)));
        }
        all
    }

    /// The order with a small change, if it is one and its chords cross no more for it.
    pub(super) fn with_small(&self, change: Small) -> Option<Self> {
        let mut other = self.clone();
        let changed = match change {
            Small::Cable(item, side) => other.fit_to(item, side),
            Small::Rows(item, row) => {
                let landed = [row - 1, row].iter().all(|row| !self.is_loose(self.items[item].rows[*row]));
                if landed {
                    other.swap_along(item, row - 1);
                }
                landed
            }
            Small::Landings(item, side, at) => {
                let [a, b] = [at - 1, at].map(|at| other.items[item].ends[side][at]);
                let together = other.ends[a].terminal == other.ends[b].terminal;
                if together {
                    other.swap_ends(item, side, a, b);
                }
                together
            }
            Small::Neighbours(layer, at) => {
                let [upper, lower] = [at - 1, at].map(|at| other.layers[layer][at]);
                let together = other.items[upper].place == other.items[lower].place;
                if together {
                    other.layers[layer].swap(at - 1, at);
                    other.sort_rows();
                }
                together
            }
        };
        (changed && other.crossings() <= self.crossings()).then_some(other)
    }

    /// Puts the cores of a cable in the order in which they do not cross at one of its ends; says whether that is another.
    fn fit_to(&mut self, item: usize, side: usize) -> bool {
        let rank = self.places_in_layers();
        self.exchange_rows(item, |order, ends| ends[side].is_some_and(|(a, b)| order.crosses(&rank, a, b)))
    }

    /// Whether an end of a strand lands nowhere: its row stays at the edge of its cable.
    pub(super) fn is_loose(&self, strand: usize) -> bool {
        self.ranked.graph.strands[strand].ends.iter().any(Option::is_none)
    }

    /// Goes along where two strands run side by side, this way up, that are neighbours in a row of an item and the next. On
    /// the left and on the right their ends where they part or land on two terminals.
    fn along(
        &self,
        (item, row): (usize, usize),
        mut each: impl FnMut(Beside),
    ) -> [Option<(usize, usize)>; 2] {
        let (a, b) = (self.items[item].rows[row], self.items[item].rows[row + 1]);
        let upper = |item: usize| {
            let rows = &self.items[item].rows;
            let above = rows.iter().position(|s| *s == a)?;
            (rows.get(above + 1) == Some(&b)).then_some(above)
        };
        each(Beside::Rows(item, row));
        [0, 1].map(|side| {
            let (mut item, mut row) = (item, row);
            loop {
                let pair = self.end_of_row(item, side, row).zip(self.end_of_row(item, side, row + 1))?;
                let (c, d) = (partner(pair.0), partner(pair.1));
                let (upper_end, lower_end) = (self.ends[c], self.ends[d]);
                let End { item: next, side: facing, .. } = upper_end;
                if next != lower_end.item || facing != lower_end.side || facing as usize == side {
                    return Some(pair);
                }
                if matches!(self.items[next].what, What::Device(_)) {
                    let one =
                        upper_end.terminal == lower_end.terminal && upper_end.slot + 1 == lower_end.slot;
                    if one {
                        each(Beside::Landings(c, d));
                    }
                    return (!one).then_some(pair);
                }
                let Some(on) = upper(next) else { return Some(pair) };
                each(Beside::Rows(next, on));
                (item, row) = (next, on);
            }
        })
    }

    /// Lets two strands change places all the way that they run side by side.
    fn swap_along(&mut self, item: usize, row: usize) {
        let mut beside = Vec::new();
        self.along((item, row), |here| beside.push(here));
        for here in beside {
            match here {
                Beside::Rows(item, row) => self.swap_rows(item, row),
                Beside::Landings(a, b) => {
                    let End { item, side, .. } = self.ends[a];
                    self.swap_ends(item, side as usize, a, b);
                }
            }
        }
    }

    /// Lets two neighbouring rows of an item change places.
    fn swap_rows(&mut self, item: usize, row: usize) {
        let pairs =
            [0, 1].map(|side| self.end_of_row(item, side, row).zip(self.end_of_row(item, side, row + 1)));
        self.items[item].rows.swap(row, row + 1);
        for (side, pair) in pairs.into_iter().enumerate() {
            if let Some((a, b)) = pair {
                self.swap_ends(item, side, a, b);
            }
        }
    }

    /// The end on a border of an item of the strand in its row of that number.
    fn end_of_row(&self, item: usize, side: usize, row: usize) -> Option<usize> {
        let (strand, border) = (self.items[item].rows[row], &self.items[item].ends[side]);
        let is = |e: &usize| self.ends[*e].strand == strand;
        // Mostly all strands have an end on both borders.
        border.get(row).copied().filter(is).or_else(|| border.iter().copied().find(is))
    }

    /// Lets two ends on one border change places.
    fn swap_ends(&mut self, item: usize, side: usize, a: usize, b: usize) {
        let (at_a, at_b) = (self.ends[a].slot, self.ends[b].slot);
        self.items[item].ends[side].swap(at_a, at_b);
        (self.ends[a].slot, self.ends[b].slot) = (at_b, at_a);
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
                        self.swap_ends(item, side, a, b);
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

    /// Moves single items over their neighbours of the same location to where their chords cross least.
    fn sift_all(&mut self) -> bool {
        const REACH: usize = 8;
        let mut rank = self.places_in_layers();
        let mut any = false;
        let mut fans = Fans::default();
        let mut waiting: Vec<usize> = Vec::new();
        for layer in 0..self.layers.len() {
            fans.look(self, &rank, layer);
            waiting.clone_from(&self.layers[layer]);
            for item in waiting.iter().copied() {
                let at = rank[item];
                let mut best = (0_i64, at);
                for up in [true, false] {
                    let mut sum = 0;
                    let mut i = at;
                    while let Some(last) =
                        step(i, up).and_then(|next| self.end_of_step(&self.layers[layer], item, next, up))
                    {
                        while i != last {
                            i = if up { i - 1 } else { i + 1 };
                            let q = self.layers[layer][i];
                            let (upper, lower) = if up { ((q, i), (item, at)) } else { ((item, at), (q, i)) };
                            sum += fans.gain(Side::Left, upper, lower) + fans.gain(Side::Right, upper, lower);
                        }
                        if sum < best.0 {
                            best = (sum, i);
                        }
                        if i.abs_diff(at) > REACH {
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
                    if fans.turning {
                        fans.look(self, &rank, layer);
                    }
                    any = true;
                }
            }
        }
        any
    }

    /// The last place that `item` passes in one step that leads over a place of its layer: that place, or the end of all of
    /// a location there; `None` at the edge of its own location.
    fn end_of_step(&self, layer: &[usize], item: usize, over: usize, up: bool) -> Option<usize> {
        let graph = &self.ranked.graph;
        let mine = self.items[item].place;
        let depth = graph.path_to(mine).len();
        // The location in its own that holds what stands at a place, if any does; `None` outside its own.
        let within = |at: usize| {
            let path = graph.path_to(self.items[*layer.get(at)?].place);
            (path.get(depth - 1) == Some(&mine)).then(|| path.get(depth))
        };
        let block = within(over)?;
        let mut last = over;
        if block.is_some() {
            while let Some(next) = step(last, up).filter(|next| within(*next) == Some(block)) {
                last = next;
            }
        }
        Some(last)
    }
}

/// The place above or below.
fn step(at: usize, up: bool) -> Option<usize> {
    if up { at.checked_sub(1) } else { Some(at + 1) }
}
