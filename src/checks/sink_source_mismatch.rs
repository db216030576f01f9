//! An input is switched to the pole that it does not answer to.
//!
//! ## On site
//!
//! The sensor works, its output switches, and the input never operates, or is on all the time.
//!
//! ## Why
//!
//! An active-low input operates when it is joined to 0 V, by an NPN (sinking) output or a contact to 0 V. An active-high
//! one wants plus, from a PNP (sourcing) output or a contact to plus. The other kind does nothing.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: single-0.5, cores: {black: [B1.BK, K1.IN1]}}    # B1 is sensor-pnp, IN1 is active low
//! ```
//!
//! ## Cure
//!
//! Use the sensor's other version, move the contact to the other pole, or, where the input's common can be chosen, put it
//! on the other pole.
//!
//! ## Limits
//!
//! It is told only where no state gives the input its active level. Where all that a source feeds stands the wrong way round, that
//! is told instead.
//!
//! ## Sources
//!
//! IEC 61131-2 for sinking and sourcing inputs; IEC 60947-5-2 for NPN and PNP outputs.

use crate::circuit::Circuit;
use crate::netlist::{Active, Job, Kind, Pole};

use super::fed::{common_starves, made_active};
use super::report::Report;
use super::reversed_polarity::on_turned;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let (landings, turned) = (circuit.landings(), report.turned_sources(job, circuit));
    for (id, part) in job.part_ids() {
        let Kind::Input(input) = &part.kind else { continue };
        let Some(signal) = circuit.signal(id) else { continue };
        if signal.soft
            || made_active(job, circuit, signal)
            || on_turned(signal, &turned)
            || common_starves(job, circuit, job.part(id).device, input.common)
        {
            continue;
        }
        let wrong = signal
            .inactive
            .iter()
            .find_map(|way| circuit.sound(&way.needs, input.at).state().map(|state| (way, state)));
        let Some((way, state)) = wrong else { continue };
        let at = job.label(input.at);
        let level = telling::level(input.active);
        let output = way.parts.iter().find_map(|part| match &job.part(*part).kind {
            Kind::Output(output) => Some((*part, output)),
            _ => None,
        });
        let other = if way.pole.1 == Pole::Plus { "0 V" } else { "plus" };
        let pole = telling::pole(job, way.pole).map(|t| job.label(t)).unwrap_or_default();
        let (who, fix) = match output {
            // The sensor is of the right kind and stands on the wrong pole.
            Some((part, output)) if output.drives != way.pole.1 => (
                format!("{} hands {pole} on to it", telling::part(job, part)),
                format!("bring {} to {other}", job.label(output.common)),
            ),
            Some((part, output)) => {
                let (is, wanted) = match output.drives {
                    Pole::Minus => ("NPN and joins it to 0 V", "a PNP sensor"),
                    Pole::Plus => ("PNP and joins it to plus", "an NPN sensor"),
                };
                (
                    format!("{} is {is}", telling::part(job, part)),
                    format!("use {wanted} here, or an input that answers to it"),
                )
            }
            None => (
                format!("what switches it joins it to {pole}"),
                match input.active {
                    Active::Either => {
                        let common = job.label(input.common);
                        format!("bring the far side of its contact, or its common {common}, to {other}")
                    }
                    _ => format!("bring the far side of its contact to {other}"),
                },
            ),
        };
        let words = circuit.when(&way.needs, &state);
        let draft = report.find(format!("{at} operates on {level}, but {who}: it never operates"), fix);
        draft.at(telling::landing(job, landings, input.at), "");
        for part in &way.parts {
            draft.at(job.device(job.part(*part).device).place, "");
        }
        draft.about(input.at).of(id);
        if let Some(words) = words {
            draft.when(words);
        }
    }
}
