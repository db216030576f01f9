//! What a meter shows, at every point where its leads can go, with each of some faults.

use super::super::stand::Spread;
use super::chart::{references, wired};
use super::effect::{Scene, Volts};
use super::{Fault, NEAR, NEAR_SHARE};
use crate::circuit::Circuit;
use crate::netlist::{Job, TerminalId};

/// Where the leads of the meter go, and under which condition.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Point {
    /// The condition, as its number in the scene.
    pub condition: usize,
    /// Where the plus lead goes.
    pub at: TerminalId,
    /// Where the other one stays: the minus of the supply that hangs together with it.
    pub against: TerminalId,
}

/// A meter, and the job with each of some faults in it.
pub struct Meter {
    sound: Vec<Volts>,
    faulty: Vec<Vec<Volts>>,
    points: Vec<Point>,
}

impl Meter {
    /// Solves a job as it is and with each of the faults.
    #[must_use]
    pub fn of(scene: &Scene, job: &Job, circuit: &Circuit, faults: &[Fault]) -> Self {
        let references = references(job, circuit);
        let volts = |fault| scene.measured(fault, &references).map(|(_, volts)| volts).unwrap_or_default();
        let points = |condition: usize| {
            let references = &references;
            wired(job).into_iter().filter_map(move |terminal| {
                let against = references.get(terminal).copied().flatten()?;
                let at = TerminalId(u32::try_from(terminal).ok()?);
                (at != against).then_some(Point { condition, at, against })
            })
        };
        let (sound, faulty) =
            (volts(None), faults.iter().map(|fault| volts(Some(*fault))).collect::<Vec<_>>());
        // Where a charger and what it charges give different volts, nobody can say which of them a meter shows.
        let known = |point: &Point| {
            let all = std::iter::once(&sound).chain(&faulty);
            all.filter_map(|volts| spread(volts, *point)).all(|read| !told_apart(read.low, read.high))
        };
        let points = (0..scene.conditions.len()).flat_map(points).filter(known).collect();
        Self { sound, faulty, points }
    }

    /// Every reading that can be taken.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// What it shows in the sound job.
    #[must_use]
    pub fn sound(&self, point: Point) -> f64 {
        shown(&self.sound, point)
    }

    /// What it shows with a fault, by its number among those that were given.
    #[must_use]
    pub fn with(&self, fault: usize, point: Point) -> f64 {
        self.faulty.get(fault).map_or(0.0, |volts| shown(volts, point))
    }
}

fn spread(volts: &[Volts], point: Point) -> Option<Spread> {
    volts.get(point.condition)?.get(point.at.index()).copied()
}

/// What no hand meter shows is 0; the rest is shown to a hundredth of a volt.
fn shown(volts: &[Volts], point: Point) -> f64 {
    let value = spread(volts, point).map_or(0.0, |read| read.expect);
    (value * 100.0).round() / 100.0 + 0.0
}

/// Whether a hand meter tells two values apart.
#[must_use]
pub fn told_apart(a: f64, b: f64) -> bool {
    (a - b).abs() > NEAR.max(NEAR_SHARE * a.abs().max(b.abs()))
}
