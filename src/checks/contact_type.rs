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
//! At rest means that nothing is operated, apart from devices with `rest: operated`. An input that never reaches its active
//! level is told by `floating-input`.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{Circuit, Need};
use crate::netlist::{Contacting, Job, Kind, TerminalId};

use super::landings::Landings;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = Landings::of(job);
    let rest = circuit.at_rest();
    for (id, part) in job.part_ids() {
        let Some((expected, setting)) = telling::expected_contact(job, id) else { continue };
        let (at, ways, unsure): (TerminalId, Vec<Vec<Need>>, bool) = match &part.kind {
            Kind::Input(input) => {
                let Some(signal) = circuit.signal(id) else { continue };
                let ways = signal.active.iter().map(|way| way.needs.clone()).collect();
                (input.at, ways, signal.soft)
            }
            Kind::DryInput(dry) => {
                let joins = circuit.joins(dry.between[0], dry.between[1]);
                (dry.between[0], joins.ways.into_iter().map(|way| way.0).collect(), false)
            }
            _ => continue,
        };
        let at_rest = ways.iter().any(|needs| circuit.holds(needs, &rest));
        let possible = ways.iter().any(|needs| circuit.sound(needs, at).state().is_some());
        let wanted = expected == Contacting::NormallyClosed;
        if at_rest == wanted || !possible || (unsure && !at_rest) {
            continue;
        }
        let name = job.label(at);
        let (is, set) = match expected {
            Contacting::NormallyOpen => ("operates already at rest", "normally-open"),
            Contacting::NormallyClosed => ("does not operate at rest", "normally-closed"),
        };
        let core = telling::landed(job, &landings, at)
            .map(|core| format!(" that {core} leads to"))
            .unwrap_or_default();
        report
            .find(
                format!("{name} {is}, but it is set for a {set} contact: it will work the wrong way about"),
                format!("use the other throw of the contact{core}, or change the setting"),
            )
            .at(telling::landing(job, &landings, at), "")
            .at(setting, "the setting")
            .about(at)
            .of(id)
            .when("at rest");
    }
}
