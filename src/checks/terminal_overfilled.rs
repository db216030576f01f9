//! More conductors in a terminal than it takes, or a size that does not fit it.
//!
//! ## On site
//!
//! The clamp holds one conductor and pinches the other. It looks sound, tests sound and fails when the box is closed
//! or the temperature changes.
//!
//! ## Why
//!
//! A terminal is made for one conductor unless its maker says more. Two of different size are never held alike.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: single-0.75, cores: {black: [G1.V-, H1.V-]}}
//!   W2: {type: single-0.75, cores: {black: [G1.V-, H2.V-]}}
//!   W3: {type: single-0.75, cores: {black: [G1.V-, H3.V-]}}
//! ```
//!
//! ## Cure
//!
//! Bring the conductors together in a splice or on a terminal strip, and lead one on from there. Where the part does
//! take more, say so in its data sheet: `terminals: {V-: {conductors: 3}}`.
//!
//! ## Limits
//!
//! Where the data sheet is silent, two conductors are a note and three a warning. A way of a strip takes one conductor
//! on each side; the links of a strip are not counted, and a part that lies `across:` two terminals is not. A twin
//! ferrule counts as the two conductors in it. Sizes are told as they are stated, by area or by gauge.
//!
//! ## Sources
//!
//! IEC 60204-1, clause 13.1.1 (14.1.1 in older editions): one conductor to a terminal unless it is made for more.

use crate::circuit::{Circuit, Landing};
use crate::diagnostic::Severity;
use crate::netlist::{CoreId, Form, Job, TerminalId};
use crate::source::Place;
use crate::units::{self, SquareMm};

use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for (id, terminal) in job.terminal_ids() {
        let form = job.device(terminal.device).form;
        let on = landings.on(id);
        count(job, id, form, on, report);
        size(job, id, on, report);
    }
}

fn count(job: &Job, id: TerminalId, form: Form, on: &[Landing], report: &mut Report) {
    let places: Vec<Place> = on.iter().filter_map(|landing| conductor(job, form, *landing)).collect();
    let limit = job.terminal(id).conductors.or((form == Form::Strip).then_some(2));
    let most = limit.map_or(1, |limit| limit as usize);
    let Some(&last) = places.last().filter(|_| places.len() > most) else { return };
    if limit.is_none() && form == Form::Splice {
        return;
    }
    let label = job.label(id);
    let n = places.len();
    let (message, severity) = match limit {
        Some(1) => {
            (format!("{label} takes one conductor and {n} are in it: one will work loose"), Severity::Warning)
        }
        Some(most) => (
            format!("{label} takes {most} conductors and {n} are in it: one will work loose"),
            Severity::Warning,
        ),
        None if n == 2 => (
            format!("{label} has 2 conductors in it; its data sheet does not say that it takes them"),
            Severity::Note,
        ),
        None => (
            format!(
                "{label} has {n} conductors in it, and its data sheet does not say that it takes more than one"
            ),
            Severity::Warning,
        ),
    };
    let mut fix = match form {
        Form::Strip => {
            let strip = &job.device(job.terminal(id).device).name;
            format!("land what is too many on further ways of {strip}, and link those to this one")
        }
        _ => format!("join them in a splice and lead one on to {label}"),
    };
    if limit.is_none() {
        fix.push_str(", or state `conductors:` in its data sheet if it takes them");
    }
    report.find(message, fix).severity(severity).at(last, "").about(id);
}

/// Where the conductor stands in the file, if the landing is one.
fn conductor(job: &Job, form: Form, landing: Landing) -> Option<Place> {
    match landing {
        Landing::Core(core, end) => Some(job.core(core).ends[usize::from(end)].place),
        Landing::Link(link) => {
            let link = &job.links[link.index()];
            (link.across.is_none() && form != Form::Strip).then_some(link.place)
        }
    }
}

fn size(job: &Job, id: TerminalId, on: &[Landing], report: &mut Report) {
    let Some(fits) = job.terminal(id).fits else { return };
    let cores: Vec<(CoreId, usize)> = on
        .iter()
        .filter_map(|landing| match *landing {
            Landing::Core(core, end) => Some((core, usize::from(end))),
            Landing::Link(_) => None,
        })
        .collect();
    for (core, end) in cores {
        let label = job.label(id);
        let cable = job.cable(job.core(core).cable);
        let place = job.core(core).ends[end].place;
        let Some(area) = cable.area else {
            report
                .not_checked(
                    format!("{} has no conductor size", cable.name),
                    "state `area:` in its cable data",
                )
                .at(cable.place, "")
                .about(job.core(core).cable);
            continue;
        };
        if area < fits.low || area > fits.high {
            let core = job.core_label(core);
            let [area, low, high] = written([area, fits.low, fits.high]);
            let message = format!(
                "{core} is {area} and {label} takes {low} to {high}: it will not be held as it should"
            );
            report
                .find(message, "use a conductor that fits, or a terminal that takes it")
                .at(place, "")
                .about(id);
        }
    }
}

/// Sizes as they are stated, by gauge or by area. Where both come up, a gauge has its area beside it.
fn written(sizes: [SquareMm; 3]) -> [String; 3] {
    let mixed = sizes.iter().any(|size| units::gauge_of(*size).is_none());
    sizes.map(|size| match units::gauge_of(size) {
        Some(gauge) if mixed => format!("{gauge} AWG ({size})"),
        Some(gauge) => format!("{gauge} AWG"),
        None => size.to_string(),
    })
}
