//! An input is set for the other kind of contact.
//!
//! ## On site
//!
//! Everything works the wrong way about: the gate thinks that it is open when it is shut, the alarm rings when the door
//! closes.
//!
//! ## Why
//!
//! The setting says what the input expects at rest. The wiring gives the opposite: a make contact where a break contact was
//! meant, or the core on NC instead of NO.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   K1: {type: relay-module, settings: {IN1: {contact: normally-open}}}
//! cables:
//!   W2: {type: twin-0.5, cores: {red: [K1.IN1, B1.COM], black: [X1, B1.NC]}}
//! ```
//!
//! ## Cure
//!
//! Move the core to the other throw, or change the setting.
//!
//! ## Limits
//!
//! At rest means that nothing is operated, apart from devices with `rest: operated`. Where only a resistor leads to
//! the active level the volts decide, if the input's data sheet gives any.
//! An input that never reaches its active
//! level is told by `floating-input`.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::cell::LazyCell;

use crate::circuit::solve::{Ask, Solver};
use crate::circuit::{Circuit, Need, Way};
use crate::netlist::{Contact, Contacting, Job, Kind, PartId, TerminalId};

use super::operates::operates;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let rest = circuit.at_rest();
    let solver = LazyCell::new(|| Solver::of(job));
    let operated = |part| circuit.mover_of(part).is_some_and(|mover| rest.operated(mover));
    let volts = |a, b| {
        let solved = solver.solve_around(a, &Ask::new(&operated));
        solved.between(a, b).map_or(0.0, |volts| volts.0)
    };
    for (id, part) in job.part_ids() {
        let Some((expected, setting)) = telling::expected_contact(job, id) else { continue };
        let (at, ways, at_rest) = match &part.kind {
            Kind::Input(input) => {
                let Some(signal) = circuit.signal(id) else { continue };
                let ways = signal
                    .active
                    .iter()
                    .map(|way| (way.needs.clone(), way.parts.clone()))
                    .collect::<Vec<_>>();
                (input.at, ways, operates(circuit, id, input, &rest, || volts(input.at, input.common)))
            }
            Kind::DryInput(dry) => {
                let ways = circuit.joins(dry.between[0], dry.between[1]).ways;
                let at_rest = ways.iter().any(|(needs, _)| circuit.holds(needs, &rest));
                (dry.between[0], ways, Some(at_rest))
            }
            _ => continue,
        };
        let Some(at_rest) = at_rest else { continue };
        let sound = |needs: &[Need]| circuit.sound(needs, at).state().is_some();
        let possible = ways.iter().any(|(needs, _)| sound(needs))
            || comes_about_when_lost(job, circuit, id)
            || (at_rest && sound(&[]) && held_by_resistor(job, circuit, id, at));
        let wanted = expected == Contacting::NormallyClosed;
        if at_rest == wanted || !possible {
            continue;
        }
        let name = job.label(at);
        let (is, set) = match expected {
            Contacting::NormallyOpen => ("operates already at rest", "normally-open"),
            Contacting::NormallyClosed => ("does not operate at rest", "normally-closed"),
        };
        // The contact by which it is active at rest, or by which it is not.
        let blamed = ways.iter().filter(|(needs, _)| sound(needs)).find_map(|(needs, parts)| {
            let decides = |part: &&PartId| {
                let mover = circuit.mover_of(**part);
                let need = needs.iter().find(|need| Some(need.mover) == mover);
                need.is_some_and(|need| at_rest || need.operated != rest.operated(need.mover))
            };
            (at_rest == circuit.holds(needs, &rest)).then(|| parts.iter().find(decides)).flatten()
        });
        let fix = match blamed.map(|contact| (job.part_label(*contact), &job.part(*contact).kind)) {
            Some((name, Kind::Contact(Contact { no: Some(_), nc: Some(_), .. }))) => {
                format!("use the other throw of {name}")
            }
            Some((name, Kind::Contact(_))) => format!("put a {set} contact in place of {name}"),
            _ => format!("lead it through a {set} contact"),
        };
        report
            .find(
                format!("{name} {is}, but it is set for a {set} contact: it will work the wrong way about"),
                format!("{fix}, or change the setting"),
            )
            .at(telling::landing(job, landings, at), "")
            .at(setting, "the setting")
            .about(at)
            .of(id)
            .when("at rest");
    }
}

/// Whether an input gets its active level, or a dry input is closed, while a source is lost and only then.
fn comes_about_when_lost(job: &Job, circuit: &Circuit, id: PartId) -> bool {
    let only = |needs: &[Need], by: &[PartId]| {
        circuit.reachable(needs).state().is_none() && circuit.when_lost(job, needs, by).is_some()
    };
    match &job.part(id).kind {
        Kind::Input(_) => circuit.signal(id).is_some_and(|signal| {
            signal.active.iter().any(|way| only(&way.needs, &[way.pole.0, way.common.0]))
        }),
        Kind::DryInput(dry) => {
            circuit.joins(dry.between[0], dry.between[1]).ways.iter().any(|(needs, _)| only(needs, &[]))
        }
        _ => false,
    }
}

/// Whether a pole is joined to an input at rest by resistors alone. What comes by way of a load or coil is another
/// mistake's consequence.
fn held_by_resistor(job: &Job, circuit: &Circuit, id: PartId, at: TerminalId) -> bool {
    let rest = circuit.at_rest();
    circuit.soft_poles(at, id).into_iter().filter_map(|pole| telling::pole(job, pole)).any(|pole| {
        circuit.path(job, &rest, Way::Soft, at, pole).is_some_and(|path| {
            path.parts().all(|part| !matches!(job.part(part).kind, Kind::Load(_) | Kind::Coil(_)))
        })
    })
}
