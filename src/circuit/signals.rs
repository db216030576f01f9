//! What an input sees.

use crate::netlist::PartId;
use crate::netlist::{Active, Input, Pole};

use super::graph::Need;
use super::needs::both;
use super::ways::{Finder, Level, PoleOf};

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
        for level in &at.ways {
            let mut found: Vec<(usize, usize, PoleOf, PoleOf, &Vec<Need>)> = Vec::new();
            let together: Vec<Option<Vec<Need>>> =
                common.ways.iter().map(|base| both(&level.needs, &base.needs)).collect();
            for (b, (base, needs)) in common.ways.iter().zip(&together).enumerate() {
                let Some(needs) = needs else { continue };
                // That the input and its common are on one kind of pole is said once, whichever source's it is.
                let mut alike: Option<(usize, PoleOf, PoleOf)> = None;
                for &its in base.poles.iter() {
                    for pole in beside(finder, its) {
                        let Ok(n) = level.poles.binary_search(&pole) else { continue };
                        if pole.1 != its.1 {
                            found.push((n, b, pole, its, needs));
                        } else if alike.is_none_or(|(before, ..)| n < before) {
                            alike = Some((n, pole, its));
                        }
                    }
                }
                found.extend(alike.map(|(n, pole, its)| (n, b, pole, its, needs)));
            }
            found.sort_by_key(|(n, b, ..)| (*n, *b));
            for (_, _, pole, its, needs) in found {
                let way = Switched { pole, common: its, needs: needs.clone(), parts: level.parts.clone() };
                let active = active(input.active, pole.1, its.1);
                if active { signal.active.push(way) } else { signal.inactive.push(way) }
            }
        }
        let soft = finder.soft_poles_of_input(input.at);
        let decides = |its: PoleOf| {
            let near = beside(finder, its);
            near.into_iter()
                .any(|pole| active(input.active, pole.1, its.1) && soft.binary_search(&pole).is_ok())
        };
        signal.soft = !soft.is_empty()
            && common.ways.iter().flat_map(|level| level.poles.iter()).any(|its| decides(*its));
        signal.at = at.ways;
        signal.common = common.ways;
        for levels in [&mut signal.at, &mut signal.common] {
            levels.shrink_to_fit();
        }
        for ways in [&mut signal.active, &mut signal.inactive] {
            ways.shrink_to_fit();
        }
        signal
    }
}

/// The poles of the source of a pole and of those in series with it, as seen from there: the pluses at or above its
/// own, the minuses at or below its own.
fn beside(finder: &Finder, (source, _): PoleOf) -> Vec<PoleOf> {
    let towards = |pole| finder.in_series(source, pole).into_iter().map(move |other| (other, pole));
    towards(Pole::Plus).chain(towards(Pole::Minus)).collect()
}

fn active(active: Active, side: Pole, common: Pole) -> bool {
    match active {
        Active::Low => side == Pole::Minus,
        Active::High => side == Pole::Plus,
        Active::Either => side == common.opposite(),
    }
}
