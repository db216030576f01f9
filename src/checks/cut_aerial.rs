//! An aerial is cut, extended or joined to something.
//!
//! ## On site
//!
//! The receiver goes deaf: the hand-held transmitter works beside the box and nowhere else.
//!
//! ## Why
//!
//! The length of an aerial is part of the radio. Tape round it does little harm, but whoever tapes an end has cut or
//! folded it, and a core joined to it makes it longer.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   K1: {type: relay-module, unused: {ANT: taped}}
//! ```
//!
//! ## Cure
//!
//! Leave the aerial as it came, whole and free, and say nothing of it under `unused:`. An aerial terminal may be
//! joined to the terminal of an outside aerial and to nothing else.
//!
//! ## Limits
//!
//! A lead that was cut shows only on site.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{Circuit, Landing};
use crate::netlist::{End, Job, Kind, TerminalId};

use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let aerials: Vec<TerminalId> = job.parts.iter().filter_map(|part| aerial(&part.kind)).collect();
    for &id in &aerials {
        let terminal = job.terminal(id);
        let label = job.label(id);
        if let Some((unused, way)) = job.unused(id).and_then(|unused| Some((unused, unused.way?))) {
            let message =
                format!("{label} is an aerial and is {}: the receiver will hardly hear", way.word());
            let fix = format!("leave it whole and free, and take {} out of `unused:`", terminal.name);
            report.find(message, fix).at(unused.place, "").about(id);
        }
        for landing in landings.on(id) {
            let (place, other, by) = match *landing {
                Landing::Core(core, end) => {
                    let other = match job.core(core).ends[usize::from(1 - end)].to {
                        End::Terminal(other) => Some(other),
                        End::Safe(_) | End::Bare | End::Spare => None,
                    };
                    (job.core(core).ends[usize::from(end)].place, other, job.core_label(core))
                }
                Landing::Link(link) => {
                    let link = &job.links[link.index()];
                    (link.place, link.ends.into_iter().find(|end| *end != id), "a link".to_owned())
                }
            };
            if other.is_some_and(|other| aerials.contains(&other)) {
                continue;
            }
            let to = other.map_or(String::new(), |other| format!(" to {}", job.label(other)));
            let message =
                format!("{label} is an aerial and is joined{to} by {by}: the receiver will hardly hear");
            let fix = format!(
                "leave {label} whole and free; move the conductor to the terminal that it was meant for"
            );
            report.find(message, fix).at(place, "").about(id);
        }
    }
}

fn aerial(kind: &Kind) -> Option<TerminalId> {
    match kind {
        Kind::Aerial(terminal) => Some(*terminal),
        _ => None,
    }
}
