//! A contact switches more volts or amps than it is made for.
//!
//! ## On site
//!
//! It burns, and one day it welds: the lock stays open, the motor does not stop.
//!
//! ## Why
//!
//! A contact breaks the whole current each time it opens. Direct current does not pass through zero, so a contact takes
//! far less of it than the AC figure on its case promises.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   K1: {type: relay, volts: 12 V, amps: 40 mA}     # its contact: 28 V 5 A
//!   M1: {type: motor, volts: 12 V, amps: 8 A}       # switched by K1
//! ```
//!
//! ## Cure
//!
//! Use a relay or contactor whose contact is made for this current, and let the small contact switch its coil.
//!
//! ## Limits
//!
//! The rating that the data sheet gives is compared with the steady current and the volts across the open contact. Inrush and
//! the larger wear by coils are for the choice of the rating: take the maker's DC-13 figure for locks and coils.
//!
//! ## Sources
//!
//! IEC 60947-5-1 for the utilisation categories. The rest is common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind};
use crate::units::Volts;

use super::report::Report;
use super::supply_overload::{Sums, milliamps, tell_sampled, tell_unstated};
use super::telling;
use super::wrong_voltage::too_high;

/// What an input draws through a contact is no load of it, in amps.
const LITTLE: f64 = 0.02;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    tell_unstated(job, circuit, report);
    let (survey, sums) = (circuit.survey(job), Sums::of(job, circuit));
    let high = too_high(job, circuit, report);
    let mut sampled = Vec::new();
    for (id, part) in job.part_ids() {
        let (volts, amps) = match &part.kind {
            Kind::Contact(contact) => (contact.volts, contact.amps),
            Kind::Output(output) => (output.volts, output.amps),
            _ => continue,
        };
        let name = job.part_label(id);
        let too_many_amps = survey
            .part(id)
            .and_then(|worst| Some((worst, amps?)))
            .filter(|(worst, rated)| worst.value.0 > rated.0 * (1.0 + 1e-6))
            .map(|(worst, rated)| {
                (format!("{} and is made for {rated}", milliamps(worst.value)), &worst.state)
            });
        let too_many_volts = survey
            .open(id)
            .and_then(|worst| Some((worst, volts?)))
            .filter(|(worst, rated)| worst.value.0 > rated.0 * (1.0 + 1e-6))
            .map(|(worst, rated)| {
                let volts = Volts((worst.value.0 * 10.0).round() / 10.0);
                (format!("{volts} and is made for {rated}"), &worst.state)
            });
        let Some((what, state)) = too_many_amps.or(too_many_volts) else {
            let place = job.device(part.device).place;
            let carries = survey.part(id).is_some_and(|worst| worst.value.0 > LITTLE);
            let Some(rated) = amps else {
                if carries {
                    let fix = "write `amps:` for it in its data sheet";
                    report.not_checked(format!("{name} has no amps"), fix).at(place, "").about(part.device);
                }
                continue;
            };
            let ends = part.kind.terminals();
            if ends.first().is_some_and(|at| survey.sampled(*at)) && sums.through(circuit, &ends) > rated.0 {
                sampled.push(id);
            }
            continue;
        };
        let state = telling::at(circuit, state);
        let message = format!(
            "{name} switches {what}{}: the contact will burn or weld",
            telling::clause(state.as_deref())
        );
        let draft =
            report.find(message, "let it switch a relay that is made for this, or choose a stronger part");
        draft.at(job.device(part.device).place, "").about(part.device);
        draft.follows = high.iter().any(|(_, feed)| feed.parts.contains(&id));
        if let Some(state) = state {
            draft.when(state);
        }
    }
    tell_sampled(job, circuit, &sampled, "can have to switch", report);
}
