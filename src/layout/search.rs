//! From a first choice of columns and sides to a better one.
//!
//! A job that fits a sheet is small enough to put a choice in order and see what it is worth: turns and passages of
//! wires, crossings, and the size of paper that it needs. One unit changes sides, one device its column, or one location
//! its columns at a time; what is better stays. Of a job beyond that only the starts are compared.

use super::Options;
use super::order::{self, Known, Ordered};
use super::place;
use super::rank::{Choice, Fold, Ranking};
use crate::netlist::Job;

/// What a crossing costs, in wires that pass a column.
const CROSSING: f64 = 4.0;
/// What a module of paper costs: of the width, or of the height times the aspect, whichever is more.
const PAPER: f64 = 0.12;
/// Beyond so many modules (what A4 and A3 hold) a module costs so much more.
const BEYOND: [(f64, f64); 2] = [(103.0, 0.1), (152.0, 0.4)];
/// What a cable costs that lies within the frame of a location that it leads out of.
const INSIDE: f64 = 4.0;
/// The most devices of a job that is searched.
const FEW: usize = 60;
/// The most trials from one start, and trials times strands.
const TRIALS: usize = 150;
const EFFORT: usize = 8_000;

/// The least share of its paper that a better choice still needs, so that hopeless trials are left out.
const LEAST_PAPER: f64 = 0.8;

/// Searches from every start.
pub(super) fn search(job: &Job, mut ranking: Ranking, options: &Options) -> Ordered {
    let mut known = Known::new(options.readings);
    let starts = std::mem::take(&mut ranking.starts);
    let (mut cost, mut best) = climb(job, &mut ranking, options, &mut known);
    for start in starts {
        ranking.choice = start;
        let other = climb(job, &mut ranking, options, &mut known);
        if other.0 < cost {
            (cost, best) = other;
        }
    }
    best
}

/// What may be changed in one go.
#[derive(Clone, Copy, Debug)]
enum Change {
    Place(usize, i32),
    Fold(usize, Fold),
    Device(usize, i32),
    Unit(usize),
}

fn changes(ranking: &Ranking) -> Vec<Change> {
    let mut all = Vec::new();
    for p in 1..ranking.place_count() {
        all.extend([-2, -1, 1, 2].map(|by| Change::Place(p, by)));
        all.extend([Fold::First, Fold::Last, Fold::Reverse].map(|fold| Change::Fold(p, fold)));
    }
    for n in ranking.by_rank() {
        all.extend([1, -1].map(|by| Change::Device(n, by)));
    }
    all.extend((0..ranking.unit_count()).map(Change::Unit));
    all
}

/// What the paper costs that an order needs; a job that no sheet holds is not judged by it.
fn paper(job: &Job, ordered: &Ordered, options: &Options) -> f64 {
    if job.devices.len() > FEW {
        return 0.0;
    }
    let width = f64::from(ordered.width());
    let needed = width.max(f64::from(place::least_height(job, ordered)) * options.aspect);
    PAPER * needed + BEYOND.iter().map(|(from, more)| more * (needed - from).max(0.0)).sum::<f64>()
}

/// Changes one thing at a time for the better; gives what the last choice costs, and its order.
fn climb(job: &Job, ranking: &mut Ranking, options: &Options, known: &mut Known) -> (f64, Ordered) {
    let worth = |ranking: &Ranking, ordered: &Ordered| {
        let paper = paper(job, ordered, options);
        let counted = CROSSING * ordered.crossings() as f64 + INSIDE * ordered.ranked.inside as f64;
        let (turns, passed) = ordered.detours();
        (ranking.cost() + ranking.detour_cost(turns, passed) + counted + paper, paper)
    };
    let mut best = order::order(job, ranking.ranked(), known, None, true);
    let (mut cost, mut paper) = worth(ranking, &best);
    if job.devices.len() > FEW {
        return (cost, best);
    }
    let strands = job.cores.len() + job.links.len();
    let mut left = TRIALS.min(EFFORT / strands.max(1));
    let changes = changes(ranking);
    loop {
        let mut changed = false;
        for change in changes.iter().copied() {
            if left == 0 {
                break;
            }
            let before: Choice = ranking.choice.clone();
            match change {
                Change::Place(p, by) => ranking.shift_place(p, by),
                Change::Fold(p, fold) => ranking.fold_place(p, fold),
                Change::Device(n, by) => ranking.shift(n, by),
                Change::Unit(u) => ranking.flip(u),
            }
            if ranking.choice != before && ranking.cost() + LEAST_PAPER * paper < cost {
                left -= 1;
                let ordered = order::order(job, ranking.ranked(), known, Some(&best.place_keys), false);
                let now = worth(ranking, &ordered);
                if now.0 + 1e-6 < cost {
                    ((cost, paper), best) = (now, ordered);
                    changed = true;
                    continue;
                }
            }
            ranking.choice = before;
        }
        if !changed {
            break;
        }
        let ordered = order::order(job, ranking.ranked(), known, Some(&best.place_keys), true);
        let now = worth(ranking, &ordered);
        if now.0 < cost {
            ((cost, paper), best) = (now, ordered);
        }
    }
    (cost, best)
}
