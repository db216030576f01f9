//! One fault in the wiring, to be found by its complaint and by readings.
//!
//! The sheet lists every cause of which the same is seen, and points where the leads of a meter can go. The trainer tells
//! what the meter shows there; the trainee strikes out the causes that the reading clears. Right strikes earn, wrong ones
//! lose, and how many readings were taken does not count.

use super::dice::Dice;
use crate::circuit::Circuit;
use crate::documents::faults::{self, Chart, Fault, Group, Meter, Point, Scene, told_apart};
use crate::documents::stand::Probe;
use crate::netlist::Job;

/// A sheet has at least so many points, where the job has as many.
const POINTS: usize = 10;

/// A complaint, and everything that can be behind it.
pub struct Bench<'a> {
    job: &'a Job,
    group: &'a Group,
    conditions: Vec<String>,
    meter: Meter,
}

/// One of the causes as the truth: which readings there are, and what each clears.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnosis {
    /// What is seen.
    pub complaint: String,
    /// What can be behind it, in words.
    pub causes: Vec<String>,
    /// The fault that is in the job.
    pub fault: Fault,
    /// Its number among the causes, and those of the causes that no reading tells from it.
    pub alike: Vec<usize>,
    /// The points of the sheet.
    pub readings: Vec<Reading>,
    /// The readings that lead to the fault, each splitting what is left: their numbers among the readings.
    pub path: Vec<usize>,
}

/// A reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Where the leads go.
    pub point: Point,
    /// `F1:2 to G1:V-`.
    pub at: String,
    /// `at rest`.
    pub when: String,
    /// What the sound job gives, in volts.
    pub right: f64,
    /// What the meter shows, in volts.
    pub shows: f64,
    /// The causes that it clears.
    pub clears: Vec<usize>,
}

impl<'a> Bench<'a> {
    /// A group of the chart of a job.
    #[must_use]
    pub fn of(job: &'a Job, circuit: &Circuit, group: &'a Group) -> Self {
        let scene = Scene::of(job, circuit);
        let meter = Meter::of(&scene, job, circuit, &group.faults);
        Self { job, group, conditions: scene.conditions.clone(), meter }
    }

    fn clears(&self, truth: usize, point: Point) -> Vec<usize> {
        let shows = self.meter.with(truth, point);
        let clear = |cause: &usize| told_apart(self.meter.with(*cause, point), shows);
        (0..self.group.faults.len()).filter(clear).collect()
    }

    /// The exercise whose fault is one of the group, by its number; `None` if there is none of that number.
    #[must_use]
    pub fn diagnosis(&self, truth: usize, dice: &mut Dice) -> Option<Diagnosis> {
        let fault = *self.group.faults.get(truth)?;
        let mut left: Vec<usize> = (0..self.group.faults.len()).collect();
        let mut path: Vec<Point> = Vec::new();
        let mut take = |point: Point, left: &mut Vec<usize>| {
            let clears = self.clears(truth, point);
            let before = left.len();
            left.retain(|cause| !clears.contains(cause));
            if left.len() < before {
                path.push(point);
            }
        };
        // Down the chart's own tree, and whatever reading still clears something after it.
        let mut at = (!self.group.readings.is_empty()).then_some(0);
        while let Some(reading) = at.and_then(|number| self.group.readings.get(number)) {
            if let Probe::Volts(plus, minus) = reading.probe {
                take(Point { condition: reading.condition, at: plus, against: minus }, &mut left);
            }
            at = reading.bands.iter().find(|band| band.faults.contains(&truth)).and_then(|band| band.next);
        }
        for point in self.meter.points() {
            take(*point, &mut left);
        }
        let mut points = path.clone();
        let others = self.meter.points().iter().filter(|point| !path.contains(point)).copied().collect();
        points.extend(dice.shuffled(others).into_iter().take(POINTS.saturating_sub(path.len()).max(4)));
        points.sort_unstable();
        let readings: Vec<Reading> = points.iter().map(|point| self.reading(truth, *point)).collect();
        Some(Diagnosis {
            complaint: self.group.complaint.clone(),
            causes: self.group.causes.clone(),
            fault,
            alike: left,
            path: path.iter().filter_map(|step| points.iter().position(|point| point == step)).collect(),
            readings,
        })
    }

    fn reading(&self, truth: usize, point: Point) -> Reading {
        Reading {
            point,
            at: format!("{} to {}", self.job.label(point.at), self.job.label(point.against)),
            when: self.conditions.get(point.condition).cloned().unwrap_or_default(),
            right: self.meter.sound(point),
            shows: self.meter.with(truth, point),
            clears: self.clears(truth, point),
        }
    }
}

/// A fault of the chart that makes an exercise: something is seen of it, and a reading tells its cause from others.
/// `None` if there is none.
#[must_use]
pub fn chosen<'c>(chart: &'c Chart, dice: &mut Dice) -> Option<(&'c Group, usize)> {
    let fit = |readings: usize| {
        let seen = chart.groups.iter().filter(|group| group.complaint != faults::UNSEEN);
        let groups = seen.filter(move |group| group.readings.len() >= readings);
        groups.flat_map(|group| (0..group.faults.len()).map(move |truth| (group, truth))).collect::<Vec<_>>()
    };
    [2, 1].into_iter().find_map(|readings| dice.one(&fit(readings)).copied())
}

/// The letter of a cause: A to Z, then AA, AB …
#[must_use]
pub fn letter(number: usize) -> String {
    let own = char::from(b'A' + u8::try_from(number % 26).unwrap_or(0));
    match number / 26 {
        0 => own.to_string(),
        more => format!("{}{own}", letter(more - 1)),
    }
}

/// The letters of some causes: `A, C and D`.
#[must_use]
pub fn letters(causes: &[usize]) -> Vec<String> {
    causes.iter().map(|cause| letter(*cause)).collect()
}

/// A reading's value as a meter shows it.
#[must_use]
pub fn volts(value: f64) -> String {
    format!("{} V", if value.abs() < 0.005 { 0.0 } else { (value * 10.0).round() / 10.0 + 0.0 })
}
