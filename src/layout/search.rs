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
/// Trials times strands.
const EFFORT: usize = 6000;

/// Searches.
pub(super) fn search(job: &Job, mut ranking: Ranking, options: &Options) -> Ordered {
    let mut known = Known::default();
    let mut trial = |ranking: &Ranking| {
        let ordered = order::order(job, ranking.ranked(), &mut known);
        let (w, h) = ordered.size();
        let paper = f64::from(w).max(f64::from(h) * options.aspect);
        let cost = ranking.cost() + CROSSING * ordered.crossings() as f64 + PAPER * paper;
        (cost, ordered)
    };
    let (mut cost, mut best) = trial(&ranking);
    let strands = job.cores.len() + job.links.len();
    let mut left = EFFORT / strands.max(1);
    let units = ranking.unit_count();
    loop {
        let mut changed = false;
        for n in 0..2 * job.devices.len() + units {
            if left == 0 {
                return best;
            }
            let before: Choice = ranking.choice.clone();
            if n < 2 * job.devices.len() {
                ranking.shift(n / 2, if n % 2 == 0 { 1 } else { -1 });
            } else {
                ranking.flip(n - 2 * job.devices.len());
            }
            left -= 1;
            let (now, ordered) = trial(&ranking);
            if now + 1e-6 < cost {
                (cost, best) = (now, ordered);
                changed = true;
            } else {
                ranking.choice = before;
            }
        }
        if !changed {
            return best;
        }
    }
}
