//! A part comes on by way of another circuit while its own source is off.
//!
//! ## On site
//!
//! The fuse is out and the lamp still glows; the relay holds though its supply is switched off. Somebody works on what he
//! takes for dead.
//!
//! ## Why
//!
//! Where a load, a coil or a resistor joins two circuits, current finds a way through it, backwards into the circuit whose
//! source is off, and through whatever hangs there.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W7: {type: twin-0.75, length: 2 m, cores: {red: [F1.2, H2.V+], black: [F2.2, H2.V-]}}    # a lamp between two pluses
//! ```
//!
//! ## Cure
//!
//! Keep the two circuits apart: a second pole for each, a relay between, or diodes in both pluses.
//!
//! ## Limits
//!
//! A load or coil counts as on from half of its nominal volts upwards (from 1 V where it states none), an input from the end
//! of its 0 state. Inputs that answer to 0 V are not looked at. A source that is off counts as open; what a real one lets
//! through backwards is not known.
//!
//! ## Sources
//!
//! IEC 61131-2 for the 0 state of inputs. The rest is common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::solve::{Ask, Solver, input_limits, settle};
use crate::circuit::{Circuit, Feed, MovedBy, MoverId, State};
use crate::netlist::{Active, Job, Kind, PartId, Pole, TerminalId};
use crate::units::Volts;

use super::report::{Report, listed};
use super::telling;

/// At most so many parts and cores are solved for one source, all its states together.
const WORK: usize = 20_000;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let owned = owned(job, circuit);
    if owned.is_empty() {
        return;
    }
    let (solver, landings) = (Solver::of(job), circuit.landings());
    for (source, parts) in owned {
        let Some(at) = telling::pole(job, (source, Pole::Plus)) else { continue };
        let own = Own { source, at, parts };
        let name = job.part_label(source);
        let (found, complete) = own.fed(job, circuit, &solver);
        let Some(On { state, on }) = found else {
            if !complete {
                let missing = format!("the circuit of {name} has too many states to work all of them out");
                let fix = "measure it with its supply off and everything else on";
                let device = job.part(source).device;
                report.not_checked(missing, fix).at(job.device(device).place, "").about(device);
            }
            continue;
        };
        let Some(&(first, volts)) = on.first() else { continue };
        let names: Vec<String> = on.iter().map(|(part, _)| said(job, *part)).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let when = telling::at(circuit, &state);
        let by = other_way(circuit, first, source)
            .map(|feed| {
                let sources = telling::sources(job, &feed.sources);
                format!(" by {sources}: {}", telling::feed_in(job, circuit, first, feed))
            })
            .unwrap_or_default();
        let message = format!(
            "with {name} off{} {} {} on, at {}{by}",
            telling::clause(when.as_deref()),
            listed(&names),
            if names.len() == 1 { "stays" } else { "stay" },
            Volts((volts * 10.0).round() / 10.0),
        );
        let fix =
            "keep the two circuits apart: a pole for each, a relay between them, or diodes in both pluses";
        let draft = report.find(message, fix);
        for (part, _) in &on {
            let Some(end) = job.part(*part).kind.terminals().first().copied() else { continue };
            draft.at(telling::landing(job, landings, end), "").about(end);
        }
        draft.at(job.device(job.part(source).device).place, "");
        if let Some(when) = when {
            draft.when(when);
        }
    }
}

/// A load or coil by its device, an input by its terminal.
fn said(job: &Job, part: PartId) -> String {
    match &job.part(part).kind {
        Kind::Input(input) => job.label(input.at),
        _ => job.part_label(part),
    }
}

/// What is on while a source is off: the parts with their volts, and the state.
struct On {
    state: State,
    on: Vec<(PartId, f64)>,
}

/// What only one source reaches by hard paths, where others come near by soft ones.
struct Own {
    source: PartId,
    at: TerminalId,
    parts: Vec<PartId>,
}

/// By source: the parts that only it reaches by hard paths, and others may by soft ones.
fn owned(job: &Job, circuit: &Circuit) -> BTreeMap<PartId, Vec<PartId>> {
    let mut owned: BTreeMap<PartId, Vec<PartId>> = BTreeMap::new();
    let bridged = bridged(job, circuit);
    for (id, part) in job.part_ids() {
        match &part.kind {
            Kind::Load(_) | Kind::Coil(_) => {
                for source in only(circuit, id) {
                    if other_way(circuit, id, source).is_some() {
                        owned.entry(source).or_default().push(id);
                    }
                }
            }
            Kind::Input(input) if input.active != Active::Low => {
                let active = circuit.signal(id).map_or(&[][..], |signal| &signal.active);
                let Some(source) = active.first().map(|way| way.pole.0) else { continue };
                let plus = |(other, pole): &(PartId, Pole)| *other != source && *pole == Pole::Plus;
                if active.iter().all(|way| way.pole.0 == source)
                    && (bridged.contains(&source) || circuit.soft_poles(input.at, id).iter().any(plus))
                {
                    owned.entry(source).or_default().push(id);
                }
            }
            _ => {}
        }
    }
    owned
}

/// The sources between whose plus and another's a load, coil or resistor lies.
fn bridged(job: &Job, circuit: &Circuit) -> BTreeSet<PartId> {
    let mut pluses: BTreeMap<u32, Vec<PartId>> = BTreeMap::new();
    for (id, part) in job.part_ids() {
        if let Kind::Source(source) = &part.kind {
            pluses.entry(circuit.past_fuses(source.plus)).or_default().push(id);
        }
    }
    let mut bridged = BTreeSet::new();
    for part in &job.parts {
        let Some(ends) = part.kind.soft_ends() else { continue };
        if let [Some(a), Some(b)] = ends.map(|end| pluses.get(&circuit.past_fuses(end)))
            && a != b
        {
            bridged.extend(a.iter().chain(b));
        }
    }
    bridged
}

impl Own {
    /// The first state in which any of them is on with the source off, and which, with their volts; and whether all
    /// states were looked at.
    fn fed(&self, job: &Job, circuit: &Circuit, solver: &Solver) -> (Option<On>, bool) {
        let mut movers: BTreeSet<MoverId> = BTreeSet::new();
        for &part in &self.parts {
            let feeds = circuit.feeds(part).ways.iter().flat_map(|feed| &feed.needs);
            let active = circuit.signal(part).into_iter().flat_map(|signal| &signal.active);
            movers.extend(feeds.chain(active.flat_map(|way| &way.needs)).map(|need| need.mover));
        }
        let (mut states, mut complete) = circuit.states(&Vec::from_iter(movers));
        let size = 1 + solver.parts_around(self.at).len() + solver.cores_around(self.at).len();
        let most = (WORK / size).max(4);
        complete &= states.len() <= most;
        states.truncate(most);
        let around = solver.parts_around(self.at);
        let coils = circuit
            .movers()
            .iter()
            .any(|mover| matches!(mover.by, MovedBy::Coil(coil) if around.binary_search(&coil).is_ok()));
        let off = [self.source];
        for state in states {
            let shorted =
                circuit.shorts().ways.iter().any(|way| {
                    circuit.same_system(way.between[0], self.at) && circuit.holds(&way.needs, &state)
                });
            if shorted {
                continue;
            }
            let nothing = |_: PartId| false;
            let ask = Ask { off: &off, ..Ask::new(&nothing) };
            let state = if coils { settle(job, circuit, solver, &state, &ask).state } else { state };
            let operated = |part: PartId| circuit.mover_of(part).is_some_and(|mover| state.operated(mover));
            let solution = solver.solve_around(self.at, &Ask { operated: &operated, ..ask });
            let on: Vec<(PartId, f64)> = self
                .parts
                .iter()
                .filter_map(|&part| {
                    let (plus, minus, from, polarised) = threshold(job, part)?;
                    let volts = solution.between(plus, minus)?.0;
                    let volts = if polarised { volts } else { volts.abs() };
                    (volts > from + 1e-3).then_some((part, volts))
                })
                .collect();
            if !on.is_empty() {
                return (Some(On { state, on }), complete);
            }
        }
        (None, complete)
    }
}

/// Where a part is measured, from what volts it counts as on, and whether only one way round.
fn threshold(job: &Job, part: PartId) -> Option<(TerminalId, TerminalId, f64, bool)> {
    let half = |rated: Option<crate::units::Rated>| rated.map_or(1.0, |rated| rated.nominal.0 / 2.0);
    match &job.part(part).kind {
        Kind::Load(load) => Some((load.plus, load.minus, half(load.volts), load.polarised)),
        Kind::Coil(coil) => Some((coil.plus, coil.minus, half(coil.volts), coil.polarised)),
        Kind::Input(input) => {
            let (ends, _) = input_limits(input)?;
            Some((input.at, input.common, ends, input.active == Active::High))
        }
        _ => None,
    }
}

/// The sources without which no hard path reaches a load or coil.
fn only(circuit: &Circuit, part: PartId) -> Vec<PartId> {
    let mut hard = circuit.feeds(part).ways.iter().filter(|feed| feed.hard);
    let Some(first) = hard.next() else { return Vec::new() };
    let mut sources = first.sources.to_vec();
    for feed in hard {
        sources.retain(|source| feed.sources.contains(source));
    }
    sources
}

/// A soft way to a load or coil that does without a source.
fn other_way(circuit: &Circuit, part: PartId, source: PartId) -> Option<&Feed> {
    circuit.feeds(part).ways.iter().find(|feed| !feed.hard && !feed.sources.contains(&source))
}
