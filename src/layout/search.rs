//! From a first choice of columns and sides to a better one.
//!
//! A job that fits a sheet is small enough to put a choice in order and see what it is worth: turns and passages of
//! wires, crossings, and the size of paper that it needs. One unit changes sides, one device its column, all that are
//! alike theirs, or one location its columns at a time; what is better stays. That is done from every start, and then from
//! the best shaken up (iterated local search). Of a job beyond that only the starts are compared.
//!
//! The shape of the paper counts in one term only: all else is remembered for the next shape.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::earlier::{Earlier, Kept, kept};
use super::groups::{self, Guide};
use super::order::{self, Effort, Known, Ordered};
use super::rank::{Choice, Fold, Ranking};
use super::{FEW, place};
use crate::figure::{Readings, Side};
use crate::netlist::Job;

/// What a crossing costs, in wires that pass a column.
const CROSSING: f64 = 8.0;
/// What a wire costs that turns back, where mere starts are compared.
const TURN_SEEN: f64 = 8.0;
/// What a module of paper costs: of the width, or of the height times the aspect, whichever is more.
const PAPER: f64 = 0.15;
/// Beyond so many modules (what A4, A3 and A2 hold) a module costs so much more.
const BEYOND: [(f64, f64); 3] = [(103.0, 0.1), (152.0, 0.4), (218.0, 1.0)];
/// A module of the width beyond about what A1 holds, frames and labels besides, costs so much more.
const WIDE: (f64, f64) = (290.0, 2.0);
/// What a cable costs that lies within the frame of a location that it leads out of.
const INSIDE: f64 = 12.0;
/// The most trials from one start times strands.
const EFFORT: usize = 64_000;
/// How often the best is changed in so many ways at once and that is started from, times devices.
const SHAKES: usize = 240;
const SHAKEN: usize = 4;
/// A job with fewer crossings than one for so many conductors is not shaken.
const CALM: usize = 8;
/// Of two changes made in one go, how much of the list of all lies between them: the golden section, so that none are near
/// each other.
const APART: f64 = 0.618;

/// The least share of its paper that a better choice still needs, so that hopeless trials are left out.
const LEAST_PAPER: f64 = 0.8;

/// A job on its way to an order, for one shape of paper after the other.
#[derive(Debug)]
pub(super) struct Search<'a> {
    job: &'a Job,
    ranking: Ranking,
    first: Choice,
    /// The others, each with what guides the order.
    others: Vec<(Choice, Option<Rc<Guide>>)>,
    /// What an earlier drawing says; nothing else is tried then.
    kept: Option<Rc<Kept>>,
    known: Known<'a>,
    /// What was found of the choices that were put in order, each with the order of locations that it was held to.
    weighed: BTreeMap<(Choice, Vec<usize>), Weight>,
}

/// What an order is worth whatever the paper, and the paper that it needs, in modules.
#[derive(Clone, Copy, Debug)]
struct Weight {
    cost: f64,
    width: f64,
    /// 0 where the choice was no good at any height.
    height: f64,
}

impl Weight {
    /// What the paper costs if it is so many times as wide as high.
    fn paper(self, aspect: f64) -> f64 {
        let needed = self.width.max(self.height * aspect);
        let beyond: f64 = BEYOND.iter().map(|(from, more)| more * (needed - from).max(0.0)).sum();
        PAPER * needed + beyond + WIDE.1 * (self.width - WIDE.0).max(0.0)
    }

    fn total(self, aspect: f64) -> f64 {
        self.cost + self.paper(aspect)
    }
}

/// A choice in order.
struct Found {
    choice: Choice,
    weight: Weight,
    ordered: Ordered,
}

/// What may be changed in one go.
#[derive(Clone, Copy, Debug)]
enum Change {
    Place(usize, i32),
    Fold(usize, Fold),
    StandAlike(usize, i32),
    ShiftAlike(usize, i32),
    FaceAlike(usize, Side),
    Device(usize, i32),
    Unit(usize),
}

impl<'a> Search<'a> {
    /// Nothing tried yet.
    pub fn new(job: &'a Job, mut ranking: Ranking, readings: Option<&'a Readings>) -> Self {
        let first = ranking.choice.clone();
        let mut others: Vec<(Choice, Option<Rc<Guide>>)> =
            std::mem::take(&mut ranking.starts).into_iter().map(|start| (start, None)).collect();
        if let Some((found, guide)) = groups::choice(job, &ranking) {
            let guide = Some(Rc::new(guide));
            others.push((found.clone(), guide.clone()));
            ranking.choice = found;
            others.extend(ranking.banded().map(|banded| (banded, guide)));
        }
        Self {
            job,
            ranking,
            first,
            others,
            kept: None,
            known: Known::new(readings),
            weighed: BTreeMap::new(),
        }
    }

    /// Keeps to an earlier drawing.
    pub fn keep(&mut self, earlier: &Earlier) {
        self.kept = Some(Rc::new(kept(self.job, &mut self.ranking, earlier)));
    }

    /// Whether the shape of the paper changes anything: a job that no sheet holds is not judged by its paper.
    pub fn minds_paper(&self) -> bool {
        self.ranking.device_count() <= FEW
    }

    /// The best of the starts for paper that is so many times as wide as high.
    pub fn first_of(&mut self, aspect: f64) -> Ordered {
        self.starts(aspect).0.ordered
    }

    /// The best order found for paper that is so many times as wide as high.
    pub fn best(&mut self, aspect: f64) -> Ordered {
        if let Some(kept) = self.kept.clone() {
            let start = self.start(kept.choice.clone(), Some(&kept.guide));
            let changes = changes_of(&self.ranking, &kept.new);
            return self.climb(start, Some(&kept.guide), &changes, (aspect, usize::MAX)).ordered;
        }
        if !self.minds_paper() {
            return self.first_of(aspect);
        }
        let changes = changes(&self.ranking);
        let mut best = self.climbed(aspect, &changes, usize::MAX);
        for shake in 0..SHAKES / self.ranking.device_count().max(1) {
            if best.ordered.crossings() * CALM < self.ranking.strand_count() {
                break;
            }
            let start = self.shaken(&best, &changes, shake);
            let other = self.climb(start, None, &changes, (aspect, usize::MAX));
            if other.weight.total(aspect) < best.weight.total(aspect) {
                best = other;
            }
        }
        best.ordered
    }

    /// The best of what the starts lead to with at most so many trials from each.
    pub fn best_unshaken(&mut self, aspect: f64, trials: usize) -> Ordered {
        if !self.minds_paper() {
            return self.first_of(aspect);
        }
        let changes = changes(&self.ranking);
        self.climbed(aspect, &changes, trials).ordered
    }

    /// The best of what the starts lead to.
    fn climbed(&mut self, aspect: f64, changes: &[Change], trials: usize) -> Found {
        let (best, others) = self.starts(aspect);
        let mut found = self.climb(best, None, changes, (aspect, trials));
        for start in others {
            let other = self.climb(start, None, changes, (aspect, trials));
            if other.weight.total(aspect) < found.weight.total(aspect) {
                found = other;
            }
        }
        found
    }

    /// A choice with some of its changes made in one go, others each time.
    fn shaken(&mut self, found: &Found, changes: &[Change], time: usize) -> Found {
        self.ranking.choice.clone_from(&found.choice);
        for n in 1..=SHAKEN {
            let place = ((time * SHAKEN + n) as f64 * APART).fract();
            if let Some(change) = changes.get((place * changes.len() as f64) as usize) {
                self.change(*change);
            }
        }
        self.start(self.ranking.choice.clone(), None)
    }

    /// The best start, and the others.
    fn starts(&mut self, aspect: f64) -> (Found, Vec<Found>) {
        let mut best = self.start(self.first.clone(), None);
        let mut others: Vec<Found> = Vec::new();
        for (choice, guide) in self.others.clone() {
            let mut start = self.start(choice, guide.as_deref());
            if start.weight.total(aspect) < best.weight.total(aspect) {
                std::mem::swap(&mut best, &mut start);
            }
            others.push(start);
        }
        (best, others)
    }

    fn start(&mut self, choice: Choice, guide: Option<&Guide>) -> Found {
        self.ranking.choice.clone_from(&choice);
        let grouped = self.others.iter().any(|(_, guide)| guide.is_some());
        self.ranking.searched = self.minds_paper() || (guide.is_some() && grouped);
        self.ranking.seat_companions();
        let effort = if self.minds_paper() { Effort::Exchange } else { Effort::Sift };
        let (weight, ordered) = self.in_order((None, guide), effort);
        Found { choice: self.ranking.choice.clone(), weight, ordered }
    }

    /// What the choice weighs at least, whatever its order, and what is to be put in order.
    fn unordered(&mut self) -> (Weight, Ordered) {
        self.ranking.obey();
        let ordered = order::unordered(self.job, self.ranking.ranked(), &mut self.known);
        let (turns, passed) = ordered.detours();
        let (ways, width) = if self.minds_paper() {
            (self.ranking.cost() + self.ranking.detour_cost(turns, passed), f64::from(ordered.width()))
        } else {
            (TURN_SEEN * turns as f64 + passed as f64, 0.0)
        };
        let cost = ways + INSIDE * ordered.ranked.inside as f64;
        (Weight { cost, width, height: 0.0 }, ordered)
    }

    /// Puts the choice in order, and weighs it.
    fn in_order(&mut self, keys: (Option<&[usize]>, Option<&Guide>), effort: Effort) -> (Weight, Ordered) {
        let (mut weight, mut ordered) = self.unordered();
        ordered.put_in_order(keys, effort);
        weight.cost += CROSSING * ordered.crossings() as f64;
        if self.minds_paper() {
            weight.height = f64::from(place::least_height(self.job, &ordered));
        }
        (weight, ordered)
    }

    /// Puts the choice in order at a glance if it may beat a total for paper that is so many times as wide as high; else
    /// only a weight that it has at least.
    fn glance(
        &mut self,
        keys: (Option<&[usize]>, Option<&Guide>),
        (aspect, total): (f64, f64),
    ) -> (Weight, Option<Ordered>) {
        let (mut weight, mut ordered) = self.unordered();
        if weight.total(aspect) >= total {
            return (weight, None);
        }
        ordered.put_in_order(keys, Effort::Glance);
        weight.cost += CROSSING * ordered.crossings() as f64;
        if weight.total(aspect) >= total {
            return (weight, None);
        }
        weight.height = f64::from(place::least_height(self.job, &ordered));
        (weight, Some(ordered))
    }

    /// Changes one thing at a time for the better.
    fn climb(
        &mut self,
        start: Found,
        guide: Option<&Guide>,
        changes: &[Change],
        (aspect, trials): (f64, usize),
    ) -> Found {
        let Found { choice, mut weight, ordered: mut best } = start;
        self.ranking.choice = choice;
        let strands = self.ranking.strand_count();
        let mut left = trials.min(EFFORT / strands.max(1));
        loop {
            let mut changed = false;
            for change in changes.iter().copied() {
                if left == 0 {
                    break;
                }
                let before: Choice = self.ranking.choice.clone();
                self.change(change);
                self.ranking.seat_companions();
                let hopeless =
                    self.ranking.cost() + LEAST_PAPER * weight.paper(aspect) >= weight.total(aspect);
                if self.ranking.choice != before && !hopeless {
                    left -= 1;
                    let key = (self.ranking.choice.clone(), best.place_keys.clone());
                    let known = self.weighed.get(&key).copied();
                    let worse = |w: Weight| w.total(aspect) + 1e-6 >= weight.total(aspect);
                    if !known.is_some_and(worse) {
                        let beat = (aspect, weight.total(aspect));
                        let (now, ordered) = self.glance((Some(&best.place_keys), guide), beat);
                        self.weighed.insert(key, now);
                        if let Some(ordered) = ordered.filter(|_| !worse(now)) {
                            (weight, best) = (now, ordered);
                            changed = true;
                            continue;
                        }
                    }
                }
                self.ranking.choice = before;
            }
            if !changed {
                break;
            }
            let (now, ordered) = self.in_order((Some(&best.place_keys), guide), Effort::Exchange);
            if now.total(aspect) < weight.total(aspect) {
                (weight, best) = (now, ordered);
            }
        }
        Found { choice: self.ranking.choice.clone(), weight, ordered: best }
    }

    fn change(&mut self, change: Change) {
        match change {
            Change::Place(p, by) => self.ranking.shift_place(p, by),
            Change::Fold(p, fold) => self.ranking.fold_place(p, fold),
            Change::StandAlike(set, by) => self.ranking.stand_alike(set, by),
            Change::ShiftAlike(set, by) => self.ranking.shift_alike(set, by),
            Change::FaceAlike(set, side) => self.ranking.face_alike(set, side),
            Change::Device(n, by) => self.ranking.shift(n, by),
            Change::Unit(u) => self.ranking.flip(u),
        }
    }
}

/// What may be changed of some devices alone. Beside the next columns those will do in which something of the same location
/// stands.
fn changes_of(ranking: &Ranking, devices: &[usize]) -> Vec<Change> {
    let graph = ranking.graph();
    let of = |n: &usize| {
        let (place, column) = (graph.nodes[*n].place, &ranking.choice.column);
        let mates = (0..graph.nodes.len()).filter(|m| place != 0 && graph.nodes[*m].place == place);
        let mut steps: Vec<i32> = mates.map(|m| column[m] - column[*n]).chain([1, -1]).collect();
        steps.sort_unstable_by_key(|by| (by.abs(), *by));
        steps.dedup();
        let moved: Vec<Change> = steps.into_iter().map(|by| Change::Device(*n, by)).collect();
        moved.into_iter().chain(ranking.units_of(*n).iter().copied().map(Change::Unit))
    };
    devices.iter().flat_map(of).collect()
}

/// What may be changed, the like of a kind at once before one by one.
fn changes(ranking: &Ranking) -> Vec<Change> {
    let mut all = Vec::new();
    for p in 1..ranking.place_count() {
        all.extend([-2, -1, 1, 2].map(|by| Change::Place(p, by)));
        all.extend([Fold::First, Fold::Last, Fold::Reverse].map(|fold| Change::Fold(p, fold)));
    }
    for set in 0..ranking.alike.devices.len() {
        all.extend([0, 1, -1].map(|by| Change::StandAlike(set, by)));
        all.extend([1, -1].map(|by| Change::ShiftAlike(set, by)));
    }
    for set in 0..ranking.alike.units.len() {
        all.extend([Side::Left, Side::Right].map(|side| Change::FaceAlike(set, side)));
    }
    for n in 0..ranking.device_count() {
        all.extend([1, -1, 2, -2].map(|by| Change::Device(n, by)));
    }
    all.extend((0..ranking.unit_count()).map(Change::Unit));
    all
}
