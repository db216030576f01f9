//! The supply budget: one row a source, for whoever chooses supplies and batteries.

use super::{Cell, Column, Table};
use crate::circuit::solve::{Ask, LOOP_MOST, Solver};
use crate::circuit::{Circuit, State, Way};
use crate::netlist::{Analogue, Current, Job, Kind, PartId, Source};
use crate::units::{Amps, Volts};

/// One row of the supply budget.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplyRow {
    /// The source, by its device's label; `G1.OUT2` where its device has several.
    pub source: String,
    /// Its nominal volts.
    pub volts: Option<Volts>,
    /// What it is made for.
    pub rated: Option<Amps>,
    /// What it gives in its worst state; `None` where what a load draws is not stated.
    pub worst: Option<Amps>,
    /// The worst state in words; `at least, …` where not all states could be worked out.
    pub state: String,
    /// What draws it then, each load with its amps.
    pub loads: String,
    /// For a battery with stated ampere-hours: how many hours it carries the worst state.
    pub hours: Option<f64>,
}

/// The supply budget of a job, in the order of the job file.
#[must_use]
pub fn supplies(job: &Job, circuit: &Circuit) -> Vec<SupplyRow> {
    let solver = Solver::of(job);
    job.part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::Source(source) => Some(row(job, circuit, &solver, id, source)),
            _ => None,
        })
        .collect()
}

fn row(job: &Job, circuit: &Circuit, solver: &Solver, id: PartId, source: &Source) -> SupplyRow {
    let survey = circuit.survey(job);
    let found = survey.part(id).filter(|_| !survey.unstated(source.plus));
    let state = found.map(|worst| {
        let words = circuit.words(&worst.state);
        if survey.sampled(source.plus) { format!("at least, {words}") } else { words }
    });
    let worst = found.map(|worst| Amps(worst.value.0.max(0.0)));
    let hours = worst.zip(source.ah).filter(|(amps, _)| amps.0 > 1e-6).map(|(amps, ah)| ah.0 / amps.0);
    SupplyRow {
        source: name(job, id, |kind| matches!(kind, Kind::Source(_))),
        volts: source.volts,
        rated: source.amps,
        worst,
        state: state.unwrap_or_default(),
        loads: found.map(|worst| loads(job, circuit, solver, id, source, &worst.state)).unwrap_or_default(),
        hours,
    }
}

/// The loads and coils that a source feeds in a state, each with its amps.
fn loads(
    job: &Job,
    circuit: &Circuit,
    solver: &Solver,
    id: PartId,
    source: &Source,
    state: &State,
) -> String {
    let operated = |part: PartId| circuit.mover_of(part).is_some_and(|mover| state.operated(mover));
    let plain = Ask { loops: LOOP_MOST, ..Ask::new(&operated) };
    // Of sources that share their loads the one that is asked about carries them.
    let solutions: Vec<_> = (0..solver.turns(source.plus, &plain))
        .flat_map(|turn| {
            let waves = if source.current == Current::Ac { &[false, true][..] } else { &[false] };
            waves.iter().map(move |reversed_ac| (turn, *reversed_ac))
        })
        .map(|(turn, reversed_ac)| solver.solve_around(source.plus, &Ask { turn, reversed_ac, ..plain }))
        .collect();
    let amps =
        |solution: &crate::circuit::solve::Solution, part| solution.part_amps(part).map_or(0.0, |a| a.0);
    let Some(solution) = solutions.iter().max_by(|a, b| amps(a, id).total_cmp(&amps(b, id))) else {
        return String::new();
    };
    let feeds = |part: PartId| {
        circuit.feeds(part).ways.iter().any(|f| f.sources.contains(&id) && circuit.holds(&f.needs, state))
    };
    let named: Vec<String> = solver
        .parts_around(source.plus)
        .iter()
        .filter(|part| match &job.part(**part).kind {
            Kind::Load(_) | Kind::Coil(_) => feeds(**part),
            Kind::Analogue(end) => {
                end.draws_from_loop() && feeds_loop(job, circuit, solver, source, end, state)
            }
            _ => false,
        })
        .map(|part| (*part, amps(solution, *part).abs()))
        .filter(|(_, amps)| *amps > 1e-6)
        .map(|(part, amps)| {
            let draws = |kind: &Kind| match kind {
                Kind::Load(_) | Kind::Coil(_) => true,
                Kind::Analogue(end) => end.draws_from_loop(),
                _ => false,
            };
            // In amps whatever they are, as the column beside it.
            format!("{} {} A", name(job, part, draws), (amps * 1000.0).round() / 1000.0)
        })
        .collect();
    named.join(", ")
}

/// Whether a source drives the loop of a 4–20 mA transmitter: it is on its plus, or the input is, and no other source is
/// there.
fn feeds_loop(
    job: &Job,
    circuit: &Circuit,
    solver: &Solver,
    source: &Source,
    end: &Analogue,
    state: &State,
) -> bool {
    let leads = |from, to| circuit.path(job, state, Way::Hard, from, to).is_some();
    let other =
        |part: &PartId| matches!(&job.part(*part).kind, Kind::Source(other) if other.plus != source.plus);
    leads(source.plus, end.plus)
        || leads(end.minus, source.minus) && !solver.parts_around(source.plus).iter().any(other)
}

/// A part by its device's label, with its own name where the device has several of the kind.
fn name(job: &Job, id: PartId, alike: impl Fn(&Kind) -> bool) -> String {
    let part = job.part(id);
    let device = job.device(part.device);
    let count = device.parts.iter().filter(|p| alike(&job.part(PartId(*p)).kind)).count();
    if count > 1 { format!("{}.{}", device.name, part.name) } else { device.name.to_string() }
}

const COLUMNS: &[Column] = &[
    Column::text("source", "Source"),
    Column::number("volts", "Volts"),
    Column::number("amps_rated", "Rated A"),
    Column::number("amps_worst", "Worst A"),
    Column::number("percent", "%"),
    Column::text("state", "Worst state"),
    Column::text("loads", "What draws it"),
    Column::number("hours", "Hours"),
];

/// The supply budget as a table.
#[must_use]
pub fn supplies_table(rows: &[SupplyRow]) -> Table {
    let figure = |value: Option<f64>| value.map_or(Cell::Blank, Cell::Number);
    let rows = rows.iter().map(|row| {
        let share = row.worst.zip(row.rated).filter(|(_, rated)| rated.0 > 0.0);
        vec![
            Cell::Text(row.source.clone()),
            figure(row.volts.map(|v| v.0)),
            figure(row.rated.map(|a| a.0)),
            figure(row.worst.map(|a| a.0)),
            figure(share.map(|(worst, rated)| 100.0 * worst.0 / rated.0)),
            Cell::Text(row.state.clone()),
            Cell::Text(row.loads.clone()),
            figure(row.hours),
        ]
    });
    Table { columns: COLUMNS, rows: rows.collect() }
}
