//! A fuse or contact has both its sides on one conductor.
//!
//! ## On site
//!
//! The fuse never blows and the switch switches nothing, for a jumper or a core that landed one terminal too far leads round it.
//!
//! ## Why
//!
//! Current takes the way past the part. Bridges that were put in to try something out and stayed are the usual cause.
//!
//! ## Example
//!
//! ```yaml
//! links: [[S1.11, S1.12]]     # S1 is emergency-stop
//! ```
//!
//! ## Cure
//!
//! Take off the jumper, or land the core on the terminal that it was meant for.
//!
//! ## Limits
//!
//! A changeover contact is bypassed when both throws are one conductor, or when its only wired throw is one with its common.
//! What contacts of other devices lead round it is not looked at. Of several with their sides on one conductor the first is
//! told, and none at whose device an error stands. It is a note: what follows for the circuit is told by the rule for that.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing, Landings, NetId};
use crate::netlist::{Contact, Job, Kind, TerminalId};
use crate::source::Place;

use super::far_ends::other_ends;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let grave = report.graver_devices(job);
    let mut told: BTreeSet<NetId> = BTreeSet::new();
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let (sides, so) = match &part.kind {
            Kind::Fuse(fuse) => (joined(circuit, fuse.between), "protects nothing"),
            Kind::Contact(contact) => (round(circuit, landings, contact), "switches nothing"),
            _ => continue,
        };
        let Some([a, b]) = sides.filter(|_| !grave.contains(&part.device)) else { continue };
        if !told.insert(circuit.net_of(a)) {
            continue;
        }
        let [one, other] = [a, b].map(|side| job.label(side));
        let message = format!("{one} and {other} are one conductor: {} {so}", job.part_label(id));
        report
            .find(message, format!("take off what joins {one} and {other}"))
            .at(joint(job, landings, [a, b]), "")
            .about(b)
            .about(a);
    }
}

/// Where one conductor joins both sides, else where the second side is wired.
fn joint(job: &Job, landings: &Landings, [a, b]: [TerminalId; 2]) -> Place {
    let straight = landings.on(b).iter().find(|landing| other_ends(job, **landing).contains(&a));
    match straight {
        Some(Landing::Core(core, end)) => job.core(*core).ends[usize::from(*end)].place,
        Some(Landing::Link(link)) => job.links[link.index()].place,
        None => telling::landing(job, landings, b),
    }
}

fn joined(circuit: &Circuit, [a, b]: [TerminalId; 2]) -> Option<[TerminalId; 2]> {
    (circuit.net_of(a) == circuit.net_of(b)).then_some([a, b])
}

/// The two sides of a contact that are one conductor so that it makes no difference how it stands.
fn round(circuit: &Circuit, landings: &Landings, contact: &Contact) -> Option<[TerminalId; 2]> {
    match (contact.no, contact.nc) {
        (Some(no), Some(nc)) if landings.wired(contact.common) => joined(circuit, [nc, no]).or_else(|| {
            let throw = match [no, nc].map(|throw| landings.wired(throw)) {
                [true, false] => no,
                [false, true] => nc,
                _ => return None,
            };
            joined(circuit, [contact.common, throw])
        }),
        (Some(throw), None) | (None, Some(throw)) => joined(circuit, [contact.common, throw]),
        _ => None,
    }
}
