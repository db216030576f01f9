//! An input and what switches it belong to two sources without a common conductor.
//!
//! ## On site
//!
//! The sensor's lamp changes, the volts are there against its own 0 V, and the input never operates.
//!
//! ## Why
//!
//! An input measures against its own common. A source that has no conductor in common with it gives it nothing to measure.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: single-0.5, cores: {black: [G1.V-, K1.0V]}}
//!   W2: {type: single-0.5, cores: {blue: [G2.V-, B1.BU]}}       # B1 is sensor-npn on K1's input
//! ```
//!
//! ## Cure
//!
//! Join the 0 V of the two supplies at one point, feed both parts from one supply, or put a relay contact between.
//!
//! ## Limits
//!
//! It is told only where a pole of the other source reaches the input by a hard path in some state, and no state gives
//! it its active level.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{Circuit, Level, PoleOf};
use crate::netlist::{Job, Kind, PartId, Pole};

use super::fed::{common_starves, made_active};
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for (id, part) in job.part_ids() {
        let Kind::Input(input) = &part.kind else { continue };
        let Some(signal) = circuit.signal(id) else { continue };
        if made_active(job, circuit, signal)
            || common_starves(job, circuit, job.part(id).device, input.common)
        {
            continue;
        }
        let poles = |levels: &[Level]| -> Vec<PoleOf> {
            levels.iter().flat_map(|level| level.poles.iter().copied()).collect()
        };
        let own = poles(&signal.common);
        let foreign = signal.at.iter().find_map(|level| {
            let state = circuit.sound(&level.needs, input.at).state()?;
            let apart = |pole: &&PoleOf| !own.iter().any(|base| joined(job, circuit, pole.0, base.0));
            level.poles.iter().find(apart).map(|pole| (level, *pole, state))
        });
        let (Some((level, pole, state)), Some(base)) = (foreign, own.first()) else { continue };
        let (at, common) = (job.label(input.at), job.label(input.common));
        let (switching, measuring) = (job.part_label(pole.0), job.part_label(base.0));
        let words = circuit.when(&level.needs, &state);
        let message = format!(
            "{at} cannot see {switching}: its common {common} is on {measuring}, and no conductor joins the two sources"
        );
        let fix = format!(
            "join the 0 V of {switching} and {measuring} at one point, or switch {at} by a relay contact"
        );
        let draft = report.find(message, fix);
        draft
            .at(telling::landing(job, landings, input.at), "")
            .at(job.part(pole.0).place, "")
            .at(job.part(base.0).place, "")
            .about(input.at)
            .about(input.common)
            .of(id);
        if let Some(words) = words {
            draft.when(words);
        }
    }
}

/// Whether a conductor, or a contact that can close, joins any pole of one source to any of the other.
fn joined(job: &Job, circuit: &Circuit, a: PartId, b: PartId) -> bool {
    a == b
        || [Pole::Plus, Pole::Minus].into_iter().any(|x| {
            [Pole::Plus, Pole::Minus].into_iter().any(|y| {
                let (Some(x), Some(y)) = (telling::pole(job, (a, x)), telling::pole(job, (b, y))) else {
                    return false;
                };
                circuit.joins(x, y).ways.iter().any(|(needs, _)| circuit.reachable(needs).state().is_some())
            })
        })
}
