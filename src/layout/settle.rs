//! Values with least distances between them, at a small sum of weighted differences.
//!
//! That sum is convex, and which values should move together by a step is a minimum cut; steps of halving size find the
//! minimum (steepest descent for L-natural-convex functions, K. Murota, "Discrete Convex Analysis", SIAM 2003). Of many
//! values a window moves at a time: what is above it stays, what is below it moves as one.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::ops::Range;

use super::cut::{Cut, ENDLESS};

/// How many values are moved at a time,
const WINDOW: usize = 60;
/// where there are more than so many.
const FEW: usize = 600;
/// The largest step that they move by in one go.
const STEP: i32 = 16;

/// Values, their least distances and what pulls them together.
#[derive(Debug)]
pub(super) struct System {
    /// The values.
    pub y: Vec<i32>,
    /// `y[b] - y[a]` is at least so much.
    pub least: Vec<(usize, usize, i32)>,
    /// `weight * |y[a] + offset - y[b]|`.
    pub terms: Vec<(usize, usize, i32, i64)>,
}

impl System {
    /// So many values, and nothing between them.
    pub fn new(values: usize) -> Self {
        Self { y: vec![0; values], least: Vec::new(), terms: Vec::new() }
    }

    /// Keeps the second value so much above the first.
    pub fn keep(&mut self, least: (usize, usize, i32)) {
        self.least.push(least);
    }

    /// Pulls two values to that difference, by that weight.
    pub fn pull(&mut self, term: (usize, usize, i32, i64)) {
        self.terms.push(term);
    }

    /// The lowest values that keep all distances.
    pub fn lowest(&mut self) {
        let order = self.order(&vec![0; self.y.len()]);
        let before = self.before();
        for v in order {
            self.y[v] = self.bound(v, &before);
        }
    }

    /// Puts the values down where the sum is small: in the order of their numbers as far as the distances allow, one part of
    /// them after the other, each settled together with the one before; at last each part between its neighbours.
    pub fn settle(&mut self, numbers: &[usize]) {
        // Terms of one pair stand together, so that they are one arc of a cut.
        self.terms.sort_unstable();
        let order = self.order(numbers);
        let count = order.len();
        let mut place = vec![0; count];
        for (i, v) in order.iter().enumerate() {
            place[*v] = i;
        }
        let before = self.before();
        let pulls = Index::of(count, self.terms.iter().flat_map(|(a, b, ..)| [*a, *b]));
        let (distances, terms) = self.touching(&place);
        let near = [&distances, &terms];
        let mut down = 0;
        while down < count {
            let to = (down + WINDOW / 2).min(count);
            for v in &order[down..to] {
                self.y[*v] = self.bound(*v, &before).max(self.pulled(*v, &place, &pulls));
            }
            self.settle_window(&order[..to], &place, near, down.saturating_sub(WINDOW / 2)..to, 0);
            down = to;
        }
        let window = if count <= FEW { count } else { WINDOW };
        // What no window has reached yet has moved by so much; it is told so when its window comes.
        let (mut reached, mut below) = (0, 0);
        for from in (0..count).step_by(window.div_ceil(2).max(1)) {
            let to = (from + window).min(count);
            for v in &order[reached..to] {
                self.y[*v] += below;
            }
            reached = to;
            below = self.settle_window(&order, &place, near, from..to, below);
        }
    }

    /// The distances and the terms that have to do with each half of a window.
    fn touching(&self, place: &[usize]) -> (Touching, Touching) {
        let halves = place.len().div_ceil(WINDOW / 2);
        let half = |v: usize| place[v] / (WINDOW / 2);
        let between = |(a, b): (usize, usize)| (half(a).min(half(b)), half(a).max(half(b)));
        let distances = self.least.iter().map(|(a, b, _)| between((*a, *b)));
        let terms = self.terms.iter().map(|(a, b, ..)| between((*a, *b)));
        (Touching::of(halves, distances), Touching::of(halves, terms))
    }

    /// The order of lower numbers first as far as the distances allow.
    fn order(&self, numbers: &[usize]) -> Vec<usize> {
        let count = self.y.len();
        let after = Index::of(count, self.least.iter().map(|(a, ..)| *a));
        let mut before = vec![0_usize; count];
        for (_, b, _) in &self.least {
            before[*b] += 1;
        }
        let free = (0..count).filter(|v| before[*v] == 0);
        let mut ready: BinaryHeap<_> = free.map(|v| Reverse((numbers[v], v))).collect();
        let mut order = Vec::with_capacity(count);
        while let Some(Reverse((_, v))) = ready.pop() {
            order.push(v);
            for i in after.at(v) {
                let (_, b, _) = self.least[i];
                before[b] -= 1;
                if before[b] == 0 {
                    ready.push(Reverse((numbers[b], b)));
                }
            }
        }
        order
    }

    /// The distances by the value above which they keep another.
    fn before(&self) -> Index {
        Index::of(self.y.len(), self.least.iter().map(|(_, b, _)| *b))
    }

    /// The lowest place that those before a value leave it.
    fn bound(&self, v: usize, before: &Index) -> i32 {
        let least = before.at(v).map(|i| self.y[self.least[i].0] + self.least[i].2);
        least.max().unwrap_or(0)
    }

    /// Where those that stand already pull a value.
    fn pulled(&self, v: usize, place: &[usize], pulls: &Index) -> i32 {
        let wanted = pulls.at(v).filter_map(|end| {
            let (a, b, offset, weight) = self.terms[end / 2];
            let (other, row) = if end % 2 == 0 { (b, self.y[b] - offset) } else { (a, self.y[a] + offset) };
            (place[other] < place[v]).then_some((row, weight))
        });
        median(&mut wanted.collect::<Vec<_>>()).unwrap_or(i32::MIN)
    }

    /// Moves the values of a part of the order, and all after them as one: these stand lower than is written by so much, and
    /// by the returned figure afterwards.
    fn settle_window(
        &mut self,
        order: &[usize],
        place: &[usize],
        [distances, terms]: [&Touching; 2],
        part: Range<usize>,
        lower: i32,
    ) -> i32 {
        let window = &order[part.clone()];
        let (fixed, below) = (window.len(), window.len() + 1);
        // The number of a value within the window, and what is added to that.
        let within = |v: usize| match place[v] {
            p if p < part.start => Some((fixed, self.y[v])),
            p if p < part.end => Some((p - part.start, 0)),
            p if p < order.len() => Some((below, self.y[v] + lower)),
            _ => None,
        };
        let mut moved = Self::new(window.len() + 2);
        for (y, v) in moved.y.iter_mut().zip(window) {
            *y = self.y[*v];
        }
        let halves = part.start / (WINDOW / 2)..part.end.div_ceil(WINDOW / 2);
        for (a, b, least) in distances.at(halves.clone()).map(|i| self.least[i]) {
            let (Some((a, more)), Some((b, less))) = (within(a), within(b)) else { continue };
            if a != b {
                moved.keep((a, b, least + more - less));
            }
        }
        for (a, b, offset, weight) in terms.at(halves).map(|i| self.terms[i]) {
            let (Some((a, more)), Some((b, less))) = (within(a), within(b)) else { continue };
            let offset = offset + more - less;
            if a != b {
                moved.pull(if a < b { (a, b, offset, weight) } else { (b, a, -offset, weight) });
            }
        }
        moved.terms.sort_unstable();
        moved.descend(STEP);
        let still = moved.y[fixed];
        for (v, y) in window.iter().zip(&moved.y) {
            self.y[*v] = y - still;
        }
        lower + moved.y[below] - still
    }

    /// Steps down to the least sum, with steps up to so much at first.
    fn descend(&mut self, most: i32) {
        let mut step = 1 << most.ilog2();
        while step > 0 {
            // As often up and down as that helps.
            let (mut still, mut by) = (0, step);
            while still < 2 {
                still = if self.shift(by) { 0 } else { still + 1 };
                by = -by;
            }
            step /= 2;
        }
    }

    /// Moves the set of values by a step that lessens the sum most; says whether there was any.
    fn shift(&mut self, step: i32) -> bool {
        let mut cut = Cut::new(self.y.len(), self.terms.len() + self.least.len());
        let mut gain = vec![0_i64; self.y.len()];
        for pair in self.terms.chunk_by(|p, q| (p.0, p.1) == (q.0, q.1)) {
            let Some(&(a, b, ..)) = pair.first() else { continue };
            let mut parted = 0;
            for &(_, _, offset, weight) in pair {
                let apart = self.y[a] + offset - self.y[b];
                let now = i64::from(apart.abs());
                let first = weight * (i64::from((apart + step).abs()) - now);
                let second = weight * (i64::from((apart - step).abs()) - now);
                gain[a] += first;
                gain[b] -= first;
                parted += first + second;
            }
            cut.arc(b, a, parted);
        }
        for &(a, b, least) in &self.least {
            let slack = self.y[b] - self.y[a] - least;
            if slack < step.abs() {
                if step > 0 { cut.arc(a, b, ENDLESS) } else { cut.arc(b, a, ENDLESS) }
            }
        }
        let Some(moving) = cut.least(gain) else { return false };
        for (y, moves) in self.y.iter_mut().zip(&moving) {
            if *moves {
                *y += step;
            }
        }
        true
    }
}

/// The value up to which half of the weight lies.
fn median(wanted: &mut [(i32, i64)]) -> Option<i32> {
    wanted.sort_unstable();
    let all: i64 = wanted.iter().map(|(_, weight)| weight).sum();
    let mut sum = 0;
    let half = wanted.iter().find(|(_, weight)| {
        sum += weight;
        2 * sum >= all
    });
    half.map(|(row, _)| *row)
}

/// The entries of a list that belong to each value, together.
pub(super) struct Index {
    entries: Vec<usize>,
    first: Vec<usize>,
}

impl Index {
    pub fn of(values: usize, owners: impl Iterator<Item = usize> + Clone) -> Self {
        let mut first = vec![0; values + 1];
        for v in owners.clone() {
            first[v + 1] += 1;
        }
        for v in 0..values {
            first[v + 1] += first[v];
        }
        let mut next = first.clone();
        let mut entries = vec![0; first[values]];
        for (entry, v) in owners.enumerate() {
            entries[next[v]] = entry;
            next[v] += 1;
        }
        Self { entries, first }
    }

    pub fn at(&self, value: usize) -> impl Iterator<Item = usize> + '_ {
        self.entries[self.first[value]..self.first[value + 1]].iter().copied()
    }
}

/// The entries of a list that reach into each part of the order, or over it.
struct Touching {
    /// The number of each entry, and whether it begins there.
    parts: Vec<Vec<(usize, bool)>>,
}

impl Touching {
    fn of(parts: usize, spans: impl Iterator<Item = (usize, usize)>) -> Self {
        let mut touching = Self { parts: vec![Vec::new(); parts] };
        for (entry, (from, to)) in spans.enumerate() {
            for part in from..=to {
                touching.parts[part].push((entry, part == from));
            }
        }
        touching
    }

    /// The entries of some parts, each once.
    fn at(&self, parts: Range<usize>) -> impl Iterator<Item = usize> + '_ {
        let first = parts.start;
        let of = move |part: usize| {
            let mine = self.parts[part].iter();
            mine.filter(move |(_, begins)| *begins || part == first).map(|(entry, _)| *entry)
        };
        parts.flat_map(of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sum(y: &[i32], terms: &[(usize, usize, i32, i64)]) -> i64 {
        terms.iter().map(|(a, b, offset, weight)| weight * i64::from((y[*a] + offset - y[*b]).abs())).sum()
    }

    /// The least sum of any values from 0 to 7.
    fn by_trial(system: &System) -> i64 {
        let count = system.y.len();
        let all = (0..8_usize.pow(count as u32))
            .map(|n| -> Vec<i32> { (0..count).map(|v| (n / 8_usize.pow(v as u32) % 8) as i32).collect() });
        let kept = all.filter(|y| system.least.iter().all(|(a, b, least)| y[*b] - y[*a] >= *least));
        kept.map(|y| sum(&y, &system.terms)).min().unwrap_or(i64::MAX)
    }

    #[test]
    fn nothing_stands_better_than_what_has_settled() {
        let mut seed = 7_u64;
        let mut next = |below: u64| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) % below
        };
        for _ in 0..60 {
            let mut system = System::new(5);
            for b in 1..5 {
                for a in 0..b {
                    if next(3) == 0 {
                        system.keep((a, b, next(2) as i32 + 1));
                    }
                    if next(2) == 0 {
                        system.pull((a, b, next(5) as i32 - 2, next(4) as i64 + 1));
                    }
                }
            }
            let least = by_trial(&system);
            system.settle(&[0, 1, 2, 3, 4]);
            assert!(system.least.iter().all(|(a, b, least)| system.y[*b] - system.y[*a] >= *least));
            assert_eq!(sum(&system.y, &system.terms), least, "{system:?}");
        }
    }

    #[test]
    fn many_values_keep_their_distances_and_are_straight_where_they_can_be() {
        let mut system = System::new(2000);
        // Two stacks side by side, the second the closer one; each value pulls its neighbour to its own row.
        for i in 1..1000 {
            system.keep((2 * (i - 1), 2 * i, 3));
            system.keep((2 * i - 1, 2 * i + 1, 2));
        }
        for i in 0..1000 {
            system.pull((2 * i, 2 * i + 1, 0, 1));
        }
        system.settle(&(0..2000).collect::<Vec<_>>());
        assert!(system.least.iter().all(|(a, b, least)| system.y[*b] - system.y[*a] >= *least));
        assert_eq!(sum(&system.y, &system.terms), 0);
    }
}
