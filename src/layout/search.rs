//! From a first choice of columns and sides to a better one.
//!
//! A job that fits a sheet is small enough to put a choice in order and see what it is worth: turns and passages of
//! wires, crossings, and the size of paper that it needs. One unit or all of a device change sides, one device its column,
//! all that are alike theirs, or one location its columns at a time; what is better stays. That is done from every start,
//! and then from the best shaken up (iterated local search). Of a job beyond that only the starts are compared.
//!
//! The shape of the paper counts in one term only: all else is remembered for the next shape. Small paper is looked for
//! first; then, on the sheet that this needs, room costs nothing.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::earlier::{Earlier, Kept, kept};
use super::groups::{self, Guide};
use super::order::{self, Effort, Known, Ordered};
use super::rank::{Choice, Fold, Ranking};
use super::{FEW, Room, place};
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

/// A module beyond the room that a diagram must keep to costs so much more.
const MISSED: f64 = 4.0;

/// The least share of its paper that a better choice still needs, so that hopeless trials are left out.
const LEAST_PAPER: f64 = 0.8;

/// The paper that a diagram is meant for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Paper {
    /// So many times as wide as high.
    aspect: f64,
    /// Modules to the right and downwards, where the diagram must keep to them.
    room: Option<(f64, f64)>,
    /// So many modules of the width cost nothing more.
    free: f64,
}

impl Paper {
    /// Paper of any size.
    pub fn of(aspect: f64) -> Self {
        Self { aspect, room: None, free: 0.0 }
    }

    /// Paper that a diagram must keep to.
    pub fn within(aspect: f64, room: Room) -> Self {
        Self { room: Some((f64::from(room.0), f64::from(room.1))), ..Self::of(aspect) }
    }
}

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
    /// What the paper costs.
    fn paper(self, paper: Paper) -> f64 {
        let needed = self.width.max(self.height * paper.aspect).max(paper.free);
        let beyond: f64 = BEYOND.iter().map(|(from, more)| more * (needed - from).max(0.0)).sum();
        let missed = paper.room.map_or(0.0, |(width, height)| {
            (self.width - width).max(0.0) + (self.height - height).max(0.0) * paper.aspect
        });
        PAPER * needed + beyond + MISSED * missed + WIDE.1 * (self.width - WIDE.0).max(0.0)
    }

    /// The paper as a sheet that is large enough for this: what stays on it costs the same whatever room it takes.
    fn sheet(self, paper: Paper) -> Paper {
        let needed = self.width.max(self.height * paper.aspect);
        let sheet = BEYOND.iter().map(|(width, _)| *width).find(|width| *width >= needed);
        Paper { free: sheet.unwrap_or(needed), ..paper }
    }

    fn total(self, paper: Paper) -> f64 {
        self.cost + self.paper(paper)
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
    Mirror(usize),
    Face(usize, Side),
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

    /// Whether it keeps to an earlier drawing.
    pub fn keeps_to_another(&self) -> bool {
        self.kept.is_some()
    }

    /// Whether the shape of the paper changes anything: a job that no sheet holds is not judged by its paper.
    pub fn minds_paper(&self) -> bool {
        self.ranking.device_count() <= FEW
    }

    /// The best of the starts for some paper.
    pub fn first_of(&mut self, paper: Paper) -> Ordered {
        self.starts(paper).0.ordered
    }

    /// The orders found for some paper, the best first.
    pub fn found(&mut self, paper: Paper) -> Vec<Ordered> {
        if let Some(kept) = self.kept.clone() {
            let start = self.start(kept.choice.clone(), Some(&kept.guide));
            let changes = changes_of(&self.ranking, &kept.new);
            return vec![self.climb(start, Some(&kept.guide), &changes, (paper, usize::MAX)).ordered];
        }
        if !self.minds_paper() {
            return vec![self.first_of(paper)];
        }
        let changes = changes(&self.ranking);
        let (mut paper, mut found) = (paper, self.climbed(paper, &changes, usize::MAX));
        let shakes = SHAKES / self.ranking.device_count().max(1);
        for shake in 0..shakes {
            if found.first().is_none_or(|best| best.ordered.crossings() * CALM < self.ranking.strand_count())
            {
                break;
            }
            if shake == shakes / 2 {
                paper = found.first().map_or(paper, |best| best.weight.sheet(paper));
                best_first(&mut found, paper);
            }
            let Some(best) = found.first() else { break };
            let start = self.shaken(best.choice.clone(), &changes, shake);
            found.push(self.climb(start, None, &changes, (paper, usize::MAX)));
            best_first(&mut found, paper);
        }
        found.into_iter().map(|found| found.ordered).collect()
    }

    /// The best of what the starts lead to with at most so many trials from each.
    pub fn best_unshaken(&mut self, paper: Paper, trials: usize) -> Ordered {
        if !self.minds_paper() {
            return self.first_of(paper);
        }
        let changes = changes(&self.ranking);
        self.climbed(paper, &changes, trials).swap_remove(0).ordered
    }

    /// What the starts lead to, the best first.
    fn climbed(&mut self, paper: Paper, changes: &[Change], trials: usize) -> Vec<Found> {
        let (best, others) = self.starts(paper);
        let starts = std::iter::once(best).chain(others);
        let mut found: Vec<Found> =
            starts.map(|start| self.climb(start, None, changes, (paper, trials))).collect();
        best_first(&mut found, paper);
        found
    }

    /// A choice with some of its changes made in one go, others each time.
    fn shaken(&mut self, choice: Choice, changes: &[Change], time: usize) -> Found {
        self.ranking.choice = choice;
        for n in 1..=SHAKEN {
            let place = ((time * SHAKEN + n) as f64 * APART).fract();
            if let Some(change) = changes.get((place * changes.len() as f64) as usize) {
                self.change(*change);
            }
        }
        self.start(self.ranking.choice.clone(), None)
    }

    /// The best start, and the others.
    fn starts(&mut self, paper: Paper) -> (Found, Vec<Found>) {
        let mut best = self.start(self.first.clone(), None);
        let mut others: Vec<Found> = Vec::new();
        for (choice, guide) in self.others.clone() {
            let mut start = self.start(choice, guide.as_deref());
            if start.weight.total(paper) < best.weight.total(paper) {
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

    /// Puts the choice in order at a glance if it may beat a total for some paper; else
    /// only a weight that it has at least.
    fn glance(
        &mut self,
        keys: (Option<&[usize]>, Option<&Guide>),
        (paper, total): (Paper, f64),
    ) -> (Weight, Option<Ordered>) {
        let (mut weight, mut ordered) = self.unordered();
        if weight.total(paper) >= total {
            return (weight, None);
        }
        ordered.put_in_order(keys, Effort::Glance);
        weight.cost += CROSSING * ordered.crossings() as f64;
        if weight.total(paper) >= total {
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
        (paper, trials): (Paper, usize),
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
                let hopeless = self.ranking.cost() + LEAST_PAPER * weight.paper(paper) >= weight.total(paper);
                if self.ranking.choice != before && !hopeless {
                    left -= 1;
                    let key = (self.ranking.choice.clone(), best.place_keys.clone());
                    let known = self.weighed.get(&key).copied();
                    let worse = |w: Weight| w.total(paper) + 1e-6 >= weight.total(paper);
                    if !known.is_some_and(worse) {
                        let beat = (paper, weight.total(paper));
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
            if now.total(paper) < weight.total(paper) {
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
            Change::Mirror(n) => self.ranking.mirror(n),
            Change::Face(n, side) => self.ranking.face(n, side),
        }
    }
}

/// Puts the best first, and leaves out what is there already.
fn best_first(found: &mut Vec<Found>, paper: Paper) {
    found.sort_by(|a, b| a.weight.total(paper).total_cmp(&b.weight.total(paper)));
    found.dedup_by(|a, b| a.choice == b.choice);
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
    for n in (0..ranking.device_count()).filter(|n| ranking.units_of(*n).len() > 1) {
        all.push(Change::Mirror(n));
        all.extend([Side::Left, Side::Right].map(|side| Change::Face(n, side)));
    }
    all
}
