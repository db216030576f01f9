//! A supervised loop shows its panel a resistance that means nothing, or not what it should at rest.
//!
//! ## On site
//!
//! The zone cannot be set, or it stays quiet while a lid is open.
//!
//! ## Why
//!
//! The panel tells rest, alarm and tamper by ohms. The resistors, the contacts and the cable there and back must add up to one of
//! the values that it knows, and at rest to that of rest.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   R1: {type: resistor, ohms: 2.2 kΩ}       # in a loop whose panel wants 4.7 kΩ at rest
//! ```
//!
//! ## Cure
//!
//! Fit the resistors that the panel's manual asks for, at the far end of the loop, and close every joint in it.
//!
//! ## Limits
//!
//! Cores are taken at 20 °C; one whose length is not stated counts as 0 Ω. A loop that shows a short below 100 Ω counts as
//! shorted (from memory).
//!
//! ## Sources
//!
//! Two alarm panels' manuals: resistors within 10 per cent, cable included.

use std::collections::{BTreeSet, VecDeque};

use crate::circuit::solve::{Ask, Solver};
use crate::circuit::{Circuit, MoverId};
use crate::netlist::{Job, Kind, Lists, LoopValue, PartId, Supervised};

use super::report::Report;
use super::{telling, unstated};

/// So many ohms of a loop at the most are its cable's. From memory: what panels allow.
const OF_CABLE: f64 = 100.0;

/// Below this part of its least resistor a loop is joined before its resistors.
const BEFORE: f64 = 0.5;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    if !job.parts.iter().any(|part| matches!(part.kind, Kind::Supervised(_))) {
        return;
    }
    let (solver, landings, loops) = (Solver::of(job), circuit.landings(), Loops::of(job, circuit));
    for (id, part) in job.part_ids() {
        let Kind::Supervised(watched) = &part.kind else { continue };
        let wired = landings.wired(watched.at) || (landings.wired(watched.common) && alone(job, id, watched));
        if part.existing || !wired || circuit.dark_end(watched.at, id).is_some() {
            continue;
        }
        let name = job.part_label(id);
        if [watched.rest, watched.alarm, watched.tamper].iter().all(Option::is_none) {
            let missing = format!("{name} does not say what it wants to see");
            let fix = "write `rest:`, `alarm:` or `tamper:` of it, as its manual says";
            report.not_checked(missing, fix).at(job.device(part.device).place, "").about(part.device);
            continue;
        }
        let contacts = loops.parts(job, circuit, watched);
        if let Some(silent) = contacts.iter().find(|part| job.part(**part).kind.is_silent()) {
            unstated::tell(job, *silent, report);
            continue;
        }
        let movers: BTreeSet<MoverId> = contacts.iter().filter_map(|id| circuit.mover_of(*id)).collect();
        let (states, complete) = circuit.states(&Vec::from_iter(movers));
        for state in states {
            let operated = |part: PartId| circuit.mover_of(part).is_some_and(|m| state.operated(m));
            let ohms = solver.ohms(watched.at, watched.common, &Ask::new(&operated)).map(|ohms| ohms.0);
            let known = if state.at_rest() {
                watched.rest.is_none_or(|value| watched.shows(value, ohms))
            } else {
                [watched.rest, watched.alarm, watched.tamper]
                    .into_iter()
                    .flatten()
                    .any(|value| watched.shows(value, ohms))
            };
            if known {
                continue;
            }
            let sees = ohms.map_or("an open loop".to_owned(), |ohms| format!("{:.0} Ω", ohms));
            let wants = match watched.rest {
                Some(LoopValue::Ohms(ohms)) if state.at_rest() => format!("wants {ohms} there at rest"),
                _ => "knows no such value".to_owned(),
            };
            let when = telling::at(circuit, &state);
            let message = format!("{name} sees {sees}{} and {wants}", telling::clause(when.as_deref()));
            let wrong = wrong_resistor(job, watched, &contacts, ohms).filter(|_| state.at_rest());
            let wrong =
                wrong.or_else(|| long_cable(job, watched, &contacts, ohms).filter(|_| state.at_rest()));
            let fix = wrong.unwrap_or_else(|| cure(job, watched, state.at_rest(), ohms));
            let draft = report.find(message, fix);
            draft.at(telling::landing(job, landings, watched.at), "").about(watched.at).about(watched.common);
            if let Some(when) = when {
                draft.when(when);
            }
            break;
        }
        if !complete {
            let missing = format!("the loop of {name} has too many states to work all of them out");
            let fix = "measure it in each of them";
            report.not_checked(missing, fix).at(job.device(part.device).place, "").about(part.device);
        }
    }
}

/// What to fit where the loop shows just the one resistor that it has besides those that a contact closes over, and that is no
/// resistor of the loop's.
fn wrong_resistor(job: &Job, watched: &Supervised, parts: &[PartId], ohms: Option<f64>) -> Option<String> {
    let (Some(LoopValue::Ohms(wanted)), Some(seen)) = (watched.rest, ohms) else { return None };
    let mut alike = parts.iter().filter_map(|id| match &job.part(*id).kind {
        Kind::Resistor(resistor) => {
            let own = resistor.ohms?;
            let cable = seen - own.0;
            (-1e-6..=OF_CABLE).contains(&cable).then_some((*id, own))
        }
        _ => None,
    });
    let (id, own) = alike.next()?;
    let name = job.part_label(id);
    alike.next().is_none().then(|| format!("fit {wanted} as {name}, which has {own}"))
}

/// What to do where the one resistor of a loop is right and the ohms of its cable are too many.
fn long_cable(job: &Job, watched: &Supervised, parts: &[PartId], ohms: Option<f64>) -> Option<String> {
    let (rest, seen) = (watched.rest?, ohms?);
    let mut resistors = parts.iter().filter_map(|id| match &job.part(*id).kind {
        Kind::Resistor(resistor) => Some((*id, resistor.ohms?)),
        _ => None,
    });
    let (id, own) = resistors.next().filter(|_| resistors.next().is_none())?;
    (watched.shows(rest, Some(own.0)) && seen > own.0).then(|| {
        let name = job.part_label(id);
        format!(
            "use a larger cable, or a shorter way: {name} is right, and the cable adds {:.0} Ω",
            seen - own.0
        )
    })
}

/// What to look for in a loop of so many ohms: an open joint, something that joins it before its resistors, or wrong
/// resistors.
fn cure(job: &Job, watched: &Supervised, at_rest: bool, ohms: Option<f64>) -> String {
    let values = [watched.rest, watched.alarm, watched.tamper].into_iter().flatten();
    let least =
        values.filter_map(|value| if let LoopValue::Ohms(ohms) = value { Some(ohms.0) } else { None });
    let least = least.fold(f64::INFINITY, f64::min);
    let [at, common] = [watched.at, watched.common].map(|end| job.label(end));
    match ohms.filter(|_| at_rest) {
        None if at_rest => {
            format!("follow the loop from {at} to {common} and close the joint or contact that is open")
        }
        Some(ohms) if least.is_finite() && ohms < BEFORE * least => format!(
            "find what joins {at} and {common} before the resistors, a bridge, exchanged cores or a closed contact, and take it away"
        ),
        _ => "fit the resistors that its manual asks for, where it asks for them".to_owned(),
    }
}

/// Whether no other loop of the device shares this one's common, so that a core on the common is this loop's.
fn alone(job: &Job, id: PartId, watched: &Supervised) -> bool {
    job.part_ids().all(|(other, part)| {
        other == id || !matches!(&part.kind, Kind::Supervised(beside) if beside.common == watched.common)
    })
}

/// The contacts and resistors at each conductor, for following loops.
pub(super) struct Loops(Lists<PartId>);

impl Loops {
    pub(super) fn of(job: &Job, circuit: &Circuit) -> Self {
        let joining =
            job.part_ids().filter(|(_, part)| matches!(part.kind, Kind::Contact(_) | Kind::Resistor(_)));
        let at = joining.flat_map(|(id, part)| {
            part.kind.terminals().into_iter().map(move |t| (circuit.net_of(t).index(), id))
        });
        Self(Lists::of(circuit.net_count(), at))
    }

    /// The contacts and resistors in a loop, in the order from its terminal to its common.
    pub(super) fn parts(&self, job: &Job, circuit: &Circuit, watched: &Supervised) -> Vec<PartId> {
        let (start, end) = (circuit.net_of(watched.at), circuit.net_of(watched.common));
        let mut seen = BTreeSet::from([start]);
        let mut queue = VecDeque::from([start]);
        let mut parts = Vec::new();
        while let Some(net) = queue.pop_front() {
            for part in self.0.get(net.index()) {
                if !parts.contains(part) {
                    parts.push(*part);
                }
                let nets = job.part(*part).kind.terminals().into_iter().map(|t| circuit.net_of(t));
                queue.extend(nets.filter(|next| *next != end && seen.insert(*next)));
            }
        }
        parts
    }
}
