//! Small changes whose worth only the drawing shows.
//!
//! Before: an order whose chords cross as little as the search could do. After: one that is drawn with no more crossings,
//! and mostly fewer. Orders that count alike are not drawn alike: where two cores of a cable may change places at either
//! end, at one of them their upright pieces go round in a circle, so that one is split and crosses more. So the order of a
//! cable's cores is tried that fits one end and the one that fits the other, and of two neighbours in a column, in a cable
//! or on a terminal either before the other; what is drawn best stays.

use super::Planner;
use super::followed::Followed;
use super::order::Ordered;
use super::{Air, place, route};

/// The most drawings that are made for one order, times the square of its strands: that is about how long each takes.
/// Jobs of a sheet need less than all of it.
const MOST: usize = 1_000_000;

impl Planner<'_> {
    /// The order with the small changes that make its drawing better; what devices ask of it is kept, and so is the order of
    /// an earlier drawing.
    pub(super) fn polished(&self, ordered: Ordered) -> Ordered {
        let mut best = ordered;
        if !self.minds_paper() || self.search.keeps_to_another() {
            return best;
        }
        let unmet = best.unmet(self.job, &self.share).len();
        let mut followed = self.look(&best);
        let mut left = MOST / best.ranked.graph.strands.len().max(1).pow(2);
        let mut changed = true;
        while changed && followed.crossings > 0 {
            changed = false;
            for change in best.small_changes() {
                let Some(other) = best.with_small(change).filter(|_| left > 0) else { continue };
                left -= 1;
                let now = self.look(&other);
                if now < followed && other.unmet(self.job, &self.share).len() <= unmet {
                    (best, followed) = (other, now);
                    changed = true;
                }
            }
        }
        best
    }

    /// How an order is drawn.
    pub(super) fn look(&self, ordered: &Ordered) -> Followed {
        let placed = place::place(self.job, ordered.clone(), Air::default(), None);
        let routed = route::route(self.job, placed);
        Followed::of(routed.lines.iter().map(Vec::as_slice))
    }
}
