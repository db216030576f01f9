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
//! An output is told whose common lies on the pole that it does not switch to, even where it switches no input.
//!
//! ## Sources
//!
//! IEC 61131-2 for sinking and sourcing inputs; IEC 60947-5-2 for NPN and PNP outputs.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, NetId};
use crate::netlist::{Active, Job, Kind, PartId, Pole};

use super::fed::{common_starves, common_turned, made_active};
use super::report::Report;
use super::reversed_polarity::on_turned;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let (landings, turned) = (circuit.landings(), report.turned_sources(job, circuit));
    let mut reversed = report.told_by("reversed-polarity");
    // What lies with both ends on one pole, or the wrong way round, says the same of the outputs beside it.
    reversed.extend(report.told_by("unpowered").into_iter().chain(report.told_by("open-return")).filter(
        |part| job.part(*part).kind.load_ends().is_some_and(|[a, b]| circuit.joined_past_fuses(a, b)),
    ));
    commons_on_wrong_poles(job, circuit, &reversed, report);
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
                format!("{} hands {pole} on to it", job.part_label(part)),
                format!("bring {} to {other}", job.label(output.common)),
            ),
            Some((part, output)) => {
                let (is, wanted) = match output.drives {
                    Pole::Minus => ("NPN and joins it to 0 V", "a PNP sensor"),
                    Pole::Plus => ("PNP and joins it to plus", "an NPN sensor"),
                };
                (
                    format!("{} is {is}", job.part_label(part)),
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
        // What its sensor hands on comes right when the sensor is turned, and its common when its own device is.
        draft.follows = common_turned(job, circuit, &reversed, job.part(id).device, input.common)
            || output.is_some_and(|(_, output)| {
                output.drives != way.pole.1
                    && job.parts_on(output.common).any(|(beside, _)| reversed.contains(&beside))
            });
        if let Some(words) = words {
            draft.when(words);
        }
    }
}

/// Tells of outputs whose common lies on the pole that they do not switch to, and on no other. Where one switches an input, that
/// tells so, and where its supply is turned, the supply.
fn commons_on_wrong_poles(job: &Job, circuit: &Circuit, reversed: &BTreeSet<PartId>, report: &mut Report) {
    let mut poles: BTreeMap<u32, Vec<(PartId, Pole)>> = BTreeMap::new();
    let mut inputs: BTreeSet<NetId> = BTreeSet::new();
    for (id, part) in job.part_ids() {
        match &part.kind {
            Kind::Source(source) => {
                for (at, pole) in [(source.plus, Pole::Plus), (source.minus, Pole::Minus)] {
                    poles.entry(circuit.past_fuses(at)).or_default().push((id, pole));
                }
            }
            Kind::Input(input) => {
                inputs.insert(circuit.net_of(input.at));
            }
            _ => {}
        }
    }
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let Kind::Output(output) = &part.kind else { continue };
        let on = poles.get(&circuit.past_fuses(output.common)).map_or(&[][..], Vec::as_slice);
        let told_elsewhere = inputs.contains(&circuit.net_of(output.at))
            || job.parts_on(output.common).any(|(beside, _)| reversed.contains(&beside));
        let Some(&has) = on.first().filter(|_| on.iter().all(|(_, pole)| *pole != output.drives)) else {
            continue;
        };
        if told_elsewhere || !circuit.landings().wired(output.at) {
            continue;
        }
        let to = if output.drives == Pole::Plus { "plus" } else { "0 V" };
        let [has, wanted] = [has, (has.0, output.drives)]
            .map(|pole| telling::pole(job, pole).map(|at| job.label(at)).unwrap_or_default());
        let (name, common) = (job.part_label(id), job.label(output.common));
        let message = format!("{name} switches to {to}, but {common}, from which it takes that, is on {has}");
        report
            .find(message, format!("bring {common} to {wanted}, or correct `drives:` in its data sheet"))
            .at(telling::landing(job, circuit.landings(), output.common), "")
            .about(output.common)
            .about(output.at);
    }
}
