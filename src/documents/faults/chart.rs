//! Groups of faults by what is seen, and the readings that tell them apart.

use std::collections::BTreeMap;

use super::super::spread::spread;
use super::super::stand::{Spread, Stand};
use super::effect::{Scene, Signature, Volts};
use super::meter::told_apart;
use super::{Fault, NEAR, NEAR_SHARE, Probe, faults};
use crate::circuit::Circuit;
use crate::circuit::solve::LOOP;
use crate::netlist::{Job, Kind, TerminalId};
use crate::schedules::{Cell, Column, Table};
use crate::source::small;

/// The chart of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// Its groups: in the order of their first fault, that of which nothing is seen last.
    pub groups: Vec<Group>,
}

/// Faults of which the same is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// What is seen.
    pub complaint: String,
    /// The readings; the first splits all the faults of the group, each other one a band of one before it.
    pub readings: Vec<Reading>,
    /// The faults.
    pub faults: Vec<Fault>,
    /// The faults in words, in the same order.
    pub causes: Vec<String>,
}

/// A reading, and what its value says.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// `F1:2 to G1:V-`.
    pub at: String,
    /// `at rest`, `with S1 operated`.
    pub when: String,
    /// The points.
    pub probe: Probe,
    /// The condition, as its number in the scene.
    pub condition: usize,
    /// What the sound job gives; of a charger and what it charges, with the first of them carrying the loads.
    pub expect: f64,
    /// The lowest and the highest that it gives, whichever of them does and however far a battery is charged.
    pub right: [f64; 2],
    /// The lowest that still counts as that.
    pub low: f64,
    /// The highest.
    pub high: f64,
    /// What other values say, lowest first.
    pub bands: Vec<Band>,
}

/// A band of values.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// From.
    pub low: f64,
    /// To.
    pub high: f64,
    /// The faults that are left, by their number in the group.
    pub faults: Vec<usize>,
    /// The reading that goes on from here, by its number in the group; `None` where nothing tells them apart.
    pub next: Option<usize>,
}

/// A fault of a group with its volts.
type Member = (Fault, Vec<Volts>);

/// A reading that can be taken: terminal and condition.
#[derive(Clone, Copy)]
struct Candidate {
    condition: usize,
    terminal: usize,
}

/// The chart of a job.
#[must_use]
pub fn chart(job: &Job, circuit: &Circuit) -> Chart {
    let scene = Scene::of(job, circuit);
    let references = references(job, circuit);
    let wired = wired(job);
    let Some((sound, sound_volts)) = scene.measured_charged(None, &references) else {
        return Chart { groups: Vec::new() };
    };
    let mut found: Vec<(Signature, Vec<Member>)> = Vec::new();
    let mut group_of: BTreeMap<Signature, usize> = BTreeMap::new();
    let faults = faults(job, circuit);
    let all = spread(&faults, |fault| scene.measured_charged(Some(*fault), &references));
    for (fault, measured) in faults.into_iter().zip(all) {
        let Some((signature, volts)) = measured else { continue };
        let at = *group_of.entry(signature).or_insert_with_key(|signature| {
            found.push((signature.clone(), Vec::new()));
            found.len() - 1
        });
        if let Some((_, members)) = found.get_mut(at) {
            members.push((fault, volts));
        }
    }
    found.sort_by_key(|(signature, _)| *signature == sound);
    let candidates: Vec<Candidate> = (0..scene.conditions.len())
        .flat_map(|condition| wired.iter().map(move |terminal| Candidate { condition, terminal: *terminal }))
        .collect();
    let groups = found.iter().map(|(signature, members)| {
        let splitter = Splitter { members, candidates: &candidates };
        let mut readings = Vec::new();
        splitter.split((0..members.len()).collect(), &mut readings);
        let name = |reading: Split| {
            let Candidate { condition, terminal } = reading.candidate;
            let at = TerminalId(small(terminal));
            let against = references.get(terminal).copied().flatten().unwrap_or(at);
            let Spread { expect, low, high } = value(&sound_volts, reading.candidate);
            let slack = |volts: f64| NEAR.max(NEAR_SHARE * volts.abs());
            Reading {
                at: format!("{} to {}", job.label(at), job.label(against)),
                when: scene.conditions.get(condition).cloned().unwrap_or_default(),
                probe: Probe::Volts(at, against),
                condition,
                expect,
                right: [low, high],
                low: low - slack(low),
                high: high + slack(high),
                bands: reading.bands,
            }
        };
        Group {
            complaint: scene.complaint(&sound, signature),
            readings: readings.into_iter().map(name).collect(),
            faults: members.iter().map(|(fault, _)| *fault).collect(),
            causes: members.iter().map(|(fault, _)| fault.words(job)).collect(),
        }
    });
    Chart { groups: groups.collect() }
}

/// For each terminal the minus of the first source that hangs together with it. There is none where the volts are not known
/// because they follow what a 4–20 mA transmitter measures.
pub(super) fn references(job: &Job, circuit: &Circuit) -> Vec<Option<TerminalId>> {
    let minus = |part: &crate::netlist::Part| match &part.kind {
        Kind::Source(source) => Some(source.minus),
        _ => None,
    };
    let sources: Vec<TerminalId> = job.parts.iter().filter_map(minus).collect();
    let mut references: Vec<Option<TerminalId>> = job
        .terminal_ids()
        .map(|(id, _)| sources.iter().copied().find(|minus| circuit.same_system(*minus, id)))
        .collect();
    let measures =
        |part: &crate::netlist::Part| matches!(&part.kind, Kind::Analogue(end) if end.draws_from_loop());
    if !job.parts.iter().any(measures) {
        return references;
    }
    let stand = Stand::of(job, circuit);
    let [least, most] = LOOP.map(|loops| {
        stand.look_with(&stand.rest(), loops, 0, |solution| {
            let read = job.terminal_ids().zip(&references).map(|((id, _), minus)| {
                minus.and_then(|minus| solution.between(id, minus)).map_or(0.0, |volts| volts.0)
            });
            read.collect::<Vec<f64>>()
        })
    });
    for (reference, (least, most)) in references.iter_mut().zip(least.into_iter().zip(most)) {
        if told_apart(least, most) {
            *reference = None;
        }
    }
    references
}

/// The terminals that something is joined to.
pub(super) fn wired(job: &Job) -> Vec<usize> {
    let mut on: Vec<usize> = job
        .cores
        .iter()
        .flat_map(|core| &core.ends)
        .filter_map(|end| end.to.terminal())
        .map(TerminalId::index)
        .collect();
    on.extend(job.links.iter().flat_map(|link| link.ends).map(TerminalId::index));
    on.sort_unstable();
    on.dedup();
    on
}

fn value(volts: &[Volts], at: Candidate) -> Spread {
    let value = volts.get(at.condition).and_then(|volts| volts.get(at.terminal)).copied();
    // What no hand meter shows is 0.
    let shown = |value: f64| if value.abs() < 5e-3 { 0.0 } else { value };
    value.map_or(Spread { expect: 0.0, low: 0.0, high: 0.0 }, |Spread { expect, low, high }| Spread {
        expect: shown(expect),
        low: shown(low),
        high: shown(high),
    })
}

struct Splitter<'a> {
    members: &'a [Member],
    candidates: &'a [Candidate],
}

/// A reading that splits.
struct Split {
    candidate: Candidate,
    bands: Vec<Band>,
}

impl Splitter<'_> {
    /// Splits faults by the reading that leaves the fewest in the largest band, and its bands in turn. Gives the number
    /// of the reading; `None` if none tells them apart.
    fn split(&self, faults: Vec<usize>, readings: &mut Vec<Split>) -> Option<usize> {
        if faults.len() < 2 {
            return None;
        }
        let mut best: Option<(usize, Candidate)> = None;
        let mut values: Vec<Spread> = Vec::new();
        for candidate in self.candidates {
            values.clear();
            values.extend(faults.iter().map(|fault| self.value(*fault, *candidate)));
            values.sort_unstable_by(lower);
            let largest = runs(&values).map(|run| run.len()).max().unwrap_or(0);
            if largest < best.as_ref().map_or(faults.len(), |(most, _)| *most) {
                best = Some((largest, *candidate));
            }
        }
        let (_, candidate) = best?;
        let mut order: Vec<(Spread, usize)> =
            faults.iter().map(|fault| (self.value(*fault, candidate), *fault)).collect();
        order.sort_by(|a, b| lower(&a.0, &b.0).then(a.1.cmp(&b.1)));
        let values: Vec<Spread> = order.iter().map(|(value, _)| *value).collect();
        let parts: Vec<std::ops::Range<usize>> = runs(&values).collect();
        let mut bands: Vec<Band> = Vec::new();
        for run in parts {
            let (Some(members), Some(span)) = (order.get(run.clone()), values.get(run)) else { continue };
            let low = span.first().map_or(0.0, |first| first.low);
            let high = span.iter().map(|read| read.high).reduce(f64::max).unwrap_or(low);
            let mut faults: Vec<usize> = members.iter().map(|(_, fault)| *fault).collect();
            faults.sort_unstable();
            bands.push(Band { low, high, faults, next: None });
        }
        widen(&mut bands);
        let number = readings.len();
        let left: Vec<Vec<usize>> = bands.iter().map(|band| band.faults.clone()).collect();
        readings.push(Split { candidate, bands });
        for (n, faults) in left.into_iter().enumerate() {
            let next = self.split(faults, readings);
            if let Some(band) = readings.get_mut(number).and_then(|split| split.bands.get_mut(n)) {
                band.next = next;
            }
        }
        Some(number)
    }

    fn value(&self, fault: usize, candidate: Candidate) -> Spread {
        value(self.members.get(fault).map_or(&[], |(_, volts)| volts), candidate)
    }
}

fn lower(a: &Spread, b: &Spread) -> std::cmp::Ordering {
    a.low.total_cmp(&b.low).then(a.high.total_cmp(&b.high))
}

/// Sorted values in runs that a hand meter tells apart: between two runs lies more than [`NEAR`] and [`NEAR_SHARE`].
fn runs(values: &[Spread]) -> impl Iterator<Item = std::ops::Range<usize>> {
    let (mut start, mut highest) = (0, f64::MIN);
    (0..values.len()).filter_map(move |n| {
        highest = values.get(n)?.high.max(highest);
        let next = values.get(n + 1).map(|next| next.low);
        let apart = next.is_none_or(|next| next - highest > NEAR.max(NEAR_SHARE * next.abs()));
        apart.then(|| {
            let run = start..n + 1;
            start = n + 1;
            run
        })
    })
}

/// Bands reach to the middle between them, and by half of [`NEAR`] at both ends.
fn widen(bands: &mut [Band]) {
    let edges: Vec<(f64, f64)> = bands.iter().map(|band| (band.low, band.high)).collect();
    for (n, band) in bands.iter_mut().enumerate() {
        let before = n.checked_sub(1).and_then(|n| edges.get(n));
        band.low = before.map_or(band.low - NEAR, |(_, high)| f64::midpoint(*high, band.low));
        let after = edges.get(n + 1);
        band.high = after.map_or(band.high + NEAR, |(low, _)| f64::midpoint(band.high, *low));
    }
}

const COLUMNS: &[Column] = &[
    Column::number("group", "Group").said_once(1),
    Column::text("complaint", "Complaint").said_once(1),
    Column::number("reading", "Reading").said_once(2),
    Column::text("at", "Measure").said_once(2),
    Column::text("when", "State").said_once(2),
    Column::number("expect", "Right").said_once(2),
    Column::number("low", "From V"),
    Column::number("high", "To V"),
    Column::text("cause", "Cause"),
];

/// The chart as a table: one row for each band of each reading.
#[must_use]
pub fn chart_table(chart: &Chart) -> Table {
    #[expect(clippy::cast_precision_loss, reason = "no chart has 2^52 rows")]
    let count = |n: usize| Cell::Number((n + 1) as f64);
    let words = |text: &str| Cell::Text(text.to_owned());
    let figure = |value: f64| Cell::Number(hundredths(value));
    let right = |reading: &Reading| match reading.expect_between() {
        Some([low, high]) => Cell::Text(format!("{low} to {high}")),
        None => figure(reading.expect),
    };
    let mut rows = Vec::new();
    for (n, group) in chart.groups.iter().enumerate() {
        if group.readings.is_empty() {
            let mut row = vec![count(n), words(&group.complaint), Cell::Blank, words(""), words("")];
            row.extend([Cell::Blank, Cell::Blank, Cell::Blank, words(&group.causes.join("; "))]);
            rows.push(row);
        }
        for (m, reading) in group.readings.iter().enumerate() {
            for band in &reading.bands {
                rows.push(vec![
                    count(n),
                    words(&group.complaint),
                    count(m),
                    words(&reading.at),
                    words(&reading.when),
                    right(reading),
                    figure(band.low),
                    figure(band.high),
                    words(&group.found(band)),
                ]);
            }
        }
    }
    Table { columns: COLUMNS, rows }
}

fn hundredths(volts: f64) -> f64 {
    (volts * 100.0).round() / 100.0 + 0.0
}

impl Reading {
    /// Between which volts the sound job reads, where a charger and what it charges differ there.
    #[must_use]
    pub fn expect_between(&self) -> Option<[f64; 2]> {
        let [low, high] = self.right;
        told_apart(low, high).then(|| self.right.map(hundredths))
    }
}

impl Group {
    /// What a band says: the next reading, or the causes.
    #[must_use]
    pub fn found(&self, band: &Band) -> String {
        if let Some(next) = band.next {
            return format!("go to reading {}", next + 1);
        }
        let causes: Vec<&str> =
            band.faults.iter().filter_map(|n| self.causes.get(*n)).map(String::as_str).collect();
        causes.join("; ")
    }
}
