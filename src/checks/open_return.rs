//! One pole of a part is wired, the other leads nowhere.
//!
//! ## On site
//!
//! The part stays dead though one core measures right: there is no way back to the source.
//!
//! ## Why
//!
//! Current flows only round a whole circuit. A core that was cut, forgotten or landed one terminal too far leaves it open.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1:
//!     type: twin-0.5
//!     cores: {red: [G1.V+, H1.V+], black: [H1.V-, taped]}
//! ```
//!
//! ## Cure
//!
//! Bring the open pole back to the source that the other comes from.
//!
//! ## Limits
//!
//! It is told of loads and coils that no state feeds, one pole of which some state joins to a source while no state puts
//! the other on a pole of any. Where a fuse, a contact or a supply close by has nothing on one side, the fix names it as the
//! likely gap. Parts that are `existing` are not asked for. What a relay that watches one supply joins to
//! another while the first is lost counts as fed.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::closing::never_closes;
use super::fed::{starved, tell_unknown};
use super::loose::gap;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    tell_unknown(job, circuit, report);
    for starved in starved(job, circuit) {
        let open = match (starved.reaches, starved.hard) {
            ([true, _], [_, false]) if starved.hard[0] || !starved.reaches[1] => 1,
            ([_, true], [false, _]) if starved.hard[1] || !starved.reaches[0] => 0,
            _ => continue,
        };
        let (open, other) = (starved.ends[open], starved.ends[1 - open]);
        let name = telling::part(job, starved.part);
        let [open_end, other_end] = [open, other].map(|end| job.label(end));
        let message =
            format!("{name} stays dead: {open_end} leads back to no source, though {other_end} is on one");
        let fix = never_closes(job, circuit, starved.part)
            .or_else(|| gap(job, circuit, &starved, report))
            .unwrap_or_else(|| {
                format!("bring {open_end} to the other pole of the source that {other_end} is on")
            });
        report
            .find(message, fix)
            .at(telling::landing(job, landings, open), "leads nowhere")
            .at(telling::landing(job, landings, other), "")
            .about(open)
            .of(starved.part);
    }
}
