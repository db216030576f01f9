//! From a first choice of columns and sides to a better one.
//!
//! A job that fits a sheet is small enough to put a choice in order and see what it is worth: turns and passages of
//! wires, crossings, and the size of paper that it needs. One unit changes sides or one device its column at a time; what is better
//! stays. The number of trials is bounded by the size of the job, so that a large one costs no more than a small one.

use super::Options;
use super::order::{self, Known, Ordered};
use super::rank::{Choice, Ranking};
use crate::netlist::Job;

/// What a crossing costs, in wires that pass a column.
const CROSSING: f64 = 4.0;
/// What a module of paper costs: of the width, or of the height times the aspect, whichever is more.
const PAPER: f64 = 0.12;
/// What a cable costs that lies within the frame of a location that it leads out of.
const INSIDE: f64 = 4.0;
/// The most devices for which a second start is tried.
const FEW: usize = 60;
/// Trials times strands.
const EFFORT: usize = 2000;

/// The least share of its paper that a better choice still needs, so that hopeless trials are left out.
const LEAST_PAPER: f64 = 0.85;

/// Searches, from the columns as devices moved into them and from the mere distances.
pub(super) fn search(job: &Job, mut ranking: Ranking, options: &Options) -> Ordered {
    let mut known = Known::new(options.readings);
    let (cost, mut best) = climb(job, &mut ranking, options, &mut known);
    if job.devices.len() <= FEW
        && let Some(first) = ranking.first.take()
    {
        ranking.choice = first;
        let other = climb(job, &mut ranking, options, &mut known);
        if other.0 < cost {
            best = other.1;
        }
    }
    best
}

/// Changes one thing at a time for the better; gives what the last choice costs, and its order.
fn climb(job: &Job, ranking: &mut Ranking, options: &Options, known: &mut Known) -> (f64, Ordered) {
    let worth = |ranking: &Ranking, ordered: &Ordered| {
        let (w, h) = ordered.size();
        let paper = PAPER * f64::from(w).max(f64::from(h) * options.aspect);
        let counted = CROSSING * ordered.crossings() as f64 + INSIDE * ordered.ranked.inside as f64;
        let (turns, passed) = ordered.detours();
        (ranking.cost() + ranking.detour_cost(turns, passed) + counted + paper, paper)
    };
    let mut best = order::order(job, ranking.ranked(), known, None, true);
    let (mut cost, mut paper) = worth(ranking, &best);
    let strands = job.cores.len() + job.links.len();
    let mut left = EFFORT / strands.max(1);
    let units = ranking.unit_count();
    loop {
        let mut changed = false;
        for n in 0..2 * job.devices.len() + units {
            let before: Choice = ranking.choice.clone();
            if n < 2 * job.devices.len() {
                ranking.shift(n / 2, if n % 2 == 0 { 1 } else { -1 });
            } else {
                ranking.flip(n - 2 * job.devices.len());
            }
            if left > 0 && ranking.cost() + LEAST_PAPER * paper < cost {
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
