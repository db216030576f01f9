//! What an input sees.

use crate::netlist::PartId;
use crate::netlist::{Active, Input, Pole};

use super::graph::Need;
use super::needs::both;
use super::ways::{Finder, Level, PoleOf, opposite};

/// One way in which an input is switched.
#[derive(Clone, Debug, PartialEq)]
pub struct Switched {
    /// The pole that reaches the input.
    pub pole: PoleOf,
    /// The pole that its common is on.
    pub common: PoleOf,
    /// What it needs.
    pub needs: Vec<Need>,
    /// The parts between the input and the pole, in order.
    pub parts: Vec<PartId>,
}

/// What an input may see.
#[derive(Clone, Debug, Default)]
pub struct Signal {
    /// The hard paths from its terminal to poles.
    pub at: Vec<Level>,
    /// The hard paths from its common to poles.
    pub common: Vec<Level>,
    /// The ways that give it its active level.
    pub active: Vec<Switched>,
    /// The ways that put it on the other pole of a source that its common belongs to.
    pub inactive: Vec<Switched>,
    /// Whether it might be active by way of a resistor, load or coil: the volts decide.
    pub soft: bool,
    /// Whether the search was complete.
    pub complete: bool,
}

impl Signal {
    pub(super) fn of(finder: &Finder, input: &Input) -> Self {
        let at = finder.levels(input.at);
        let common = finder.levels(input.common);
        let mut signal = Self { complete: at.complete && common.complete, ..Self::default() };
        for (level, pole) in poles(&at.ways) {
            for (base, its) in poles(&common.ways) {
                let Some(needs) = both(&level.needs, &base.needs) else { continue };
                let Some(high) = side(finder, pole, its) else { continue };
                let active = active(input.active, high, its.1);
                let way = Switched { pole, common: its, needs, parts: level.parts.clone() };
                if active { signal.active.push(way) } else { signal.inactive.push(way) }
            }
        }
        let soft = finder.soft_poles_of_input(input.at);
        signal.soft = soft.iter().any(|&pole| {
            poles(&common.ways)
                .any(|(_, its)| side(finder, pole, its).is_some_and(|high| active(input.active, high, its.1)))
        });
        signal.at = at.ways;
        signal.common = common.ways;
        signal
    }
}

fn poles(levels: &[Level]) -> impl Iterator<Item = (&Level, PoleOf)> {
    levels.iter().flat_map(|level| level.poles.iter().map(move |pole| (level, *pole)))
}

/// Which side of the common's source a pole is: its plus or higher, its minus or lower, or of another source.
fn side(finder: &Finder, pole: PoleOf, common: PoleOf) -> Option<Pole> {
    [Pole::Plus, Pole::Minus]
        .into_iter()
        .find(|side| pole.1 == *side && finder.in_series(common.0, *side).contains(&pole.0))
}

fn active(active: Active, side: Pole, common: Pole) -> bool {
    match active {
        Active::Low => side == Pole::Minus,
        Active::High => side == Pole::Plus,
        Active::Either => side == opposite(common),
    }
}
