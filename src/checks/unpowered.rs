//! Nothing feeds a part, in no state.
//!
//! ## On site
//!
//! The lamp stays dark, the relay never pulls in, whatever is pressed.
//!
//! ## Why
//!
//! No path leads from a source's plus through the part to that source's minus, however the contacts stand.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: twin-0.5, cores: {red: [G1.V+, H1.V+], black: [G1.V+, H1.V-]}}
//! ```
//!
//! ## Cure
//!
//! Wire the part to both poles of one source. If it is fed outside this job, write `existing: true`; if it stays without
//! cores on purpose, list its terminals under `unused:`.
//!
//! ## Limits
//!
//! Where only one pole is on a source, `open-return` says so instead, and where the conductor of a short joins both ends of a
//! part `short-circuit` alone is told. A device that nothing reaches gets
//! `unconnected-device` alone.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::closing::never_closes;
use super::fed::starved;
use super::loose::gap;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for starved in starved(job, circuit) {
        let [plus, minus] = starved.ends;
        if report.joined_by_short([plus, minus]) {
            continue;
        }
        let name = telling::part(job, starved.part);
        let why = if circuit.joined_past_fuses(plus, minus) {
            format!("{} and {} are one conductor", job.label(plus), job.label(minus))
        } else if starved.reaches == [false, false] {
            format!("neither {} nor {} is on a source", job.label(plus), job.label(minus))
        } else {
            let ways = &circuit.feeds(starved.part).ways;
            if ways.is_empty() {
                format!(
                    "{} and {} never come to the two poles of one source",
                    job.label(plus),
                    job.label(minus)
                )
            } else {
                "the coils' own logic never closes its path".to_owned()
            }
        };
        let named =
            never_closes(job, circuit, starved.part).or_else(|| gap(job, circuit, &starved, None, report));
        let fix = named.unwrap_or_else(|| {
            format!(
                "bring {} and {} to the two poles of one source; `existing: true` says that it is fed outside this job",
                job.label(plus),
                job.label(minus)
            )
        });
        report
            .find(format!("nothing ever feeds {name}: {why}"), fix)
            .at(telling::landing(job, landings, plus), "")
            .at(telling::landing(job, landings, minus), "")
            .about(job.part(starved.part).device)
            .of(starved.part);
    }
}
