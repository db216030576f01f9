//! An end-of-line resistor sits at the panel's end of the cable.
//!
//! ## On site
//!
//! The zone reads as it should, and goes on reading so when somebody shorts the cable: the panel watches nothing but
//! its own resistor.
//!
//! ## Why
//!
//! The resistor is there so that the panel sees a cut and a short anywhere between it and the last device. It does that
//! only from the far end. Fitted in the panel, a short across the cable (one contact that breaks) or a cut in it (one
//! that makes) looks like rest.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   A1: {type: panel, location: Office}
//!   B1: {type: reed-contact, location: Gate}
//!   R1: {type: resistor, ohms: 4.7 kΩ, location: Office}       # belongs at the gate
//! ```
//!
//! ## Cure
//!
//! Move the resistor into the last device of the loop: in series with a contact that breaks, across one that makes.
//!
//! ## Limits
//!
//! A resistor counts as sitting in the panel when it stands at the panel's `location:` and no contact of the loop does.
//! Where either says no location, it counts so when a link or a core of at most 0.5 m joins it to the panel's terminals,
//! or it lies on the panel's end of a cable of the loop. A loop all of whose contacts are at the panel, and a zone that is
//! closed off with a resistor and no cable, are left alone.
//!
//! ## Sources
//!
//! Three alarm panels' manuals: end-of-line resistors belong into the last device.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing, Landings};
use crate::netlist::{CableId, CoreId, Job, Kind, PartId, Supervised, TerminalId};

use super::eol_value::Loops;
use super::report::Report;
use super::telling;

/// A core up to this many metres joins what stands side by side.
const BESIDE: f64 = 0.5;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let (landings, loops) = (circuit.landings(), Loops::of(job, circuit));
    for (id, part) in job.part_ids() {
        let Kind::Supervised(watched) = &part.kind else { continue };
        if part.existing || circuit.dark_end(watched.at, id).is_some() {
            continue;
        }
        let members = loops.parts(job, circuit, watched);
        let (contacts, resistors): (Vec<PartId>, Vec<PartId>) =
            members.into_iter().partition(|member| matches!(job.part(*member).kind, Kind::Contact(_)));
        let place = Places::of(job, landings, id, watched, &contacts);
        if contacts.iter().all(|contact| place.contact_at_panel(*contact)) {
            continue;
        }
        for resistor in resistors.into_iter().filter(|resistor| job.part(*resistor).device != part.device) {
            let (panel, name) = (job.part_label(id), job.part_label(resistor));
            let device = job.part(resistor).device;
            match place.at_panel(resistor) {
                Some(true) => {
                    let message = format!(
                        "{name} sits at the panel's end of the cable: {panel} watches its own resistor, not the cable"
                    );
                    let last = contacts.iter().rev().find(|contact| !place.contact_at_panel(**contact));
                    let last =
                        last.map_or("the last device", |c| job.device(job.part(*c).device).name.as_str());
                    report
                        .find(message, format!("move {name} to the far end of the loop, into {last}"))
                        .at(job.device(device).place, "")
                        .at(telling::landing(job, landings, watched.at), "")
                        .about(device)
                        .about(watched.at);
                }
                Some(false) => {}
                None => {
                    report
                        .not_checked(
                            format!("{name} has no location"),
                            "write `location:` for it, its panel and the contacts of the loop",
                        )
                        .at(job.device(device).place, "")
                        .about(device);
                }
            }
        }
    }
}

/// What is known of where the parts of one loop stand.
struct Places<'a> {
    job: &'a Job,
    landings: &'a Landings,
    panel: &'a [String],
    contacts: &'a [PartId],
    /// What stands side by side with the panel's terminals.
    beside: BTreeSet<TerminalId>,
}

impl<'a> Places<'a> {
    fn of(
        job: &'a Job,
        landings: &'a Landings,
        id: PartId,
        watched: &Supervised,
        contacts: &'a [PartId],
    ) -> Self {
        let panel = &job.device(job.part(id).device).location;
        let beside = beside(job, landings, &[watched.at, watched.common]);
        Self { job, landings, panel, contacts, beside }
    }

    fn location(&self, part: PartId) -> &'a [String] {
        &self.job.device(self.job.part(part).device).location
    }

    fn contact_at_panel(&self, contact: PartId) -> bool {
        let location = self.location(contact);
        if location.is_empty() || self.panel.is_empty() {
            let ends = self.job.part(contact).kind.terminals();
            return ends.iter().filter(|end| self.landings.wired(**end)).all(|end| self.beside.contains(end));
        }
        location == self.panel
    }

    /// Whether a resistor stands with the panel; `None` if the file does not tell.
    fn at_panel(&self, resistor: PartId) -> Option<bool> {
        let location = self.location(resistor);
        if !location.is_empty() && !self.panel.is_empty() {
            let shared = self.contacts.iter().any(|contact| self.location(*contact) == location);
            return Some(location == self.panel && !shared);
        }
        let ends = self.job.part(resistor).kind.terminals();
        let around = beside(self.job, self.landings, &ends);
        let with_contact =
            self.contacts.iter().filter(|contact| !self.contact_at_panel(**contact)).any(|contact| {
                self.job.part(*contact).kind.terminals().iter().any(|end| around.contains(end))
            });
        if with_contact {
            return Some(false);
        }
        if ends.iter().any(|end| self.beside.contains(end)) {
            return Some(true);
        }
        let panel_ends = self.cable_ends(&self.beside);
        let own = self.cable_ends(&around);
        if own.iter().any(|end| panel_ends.contains(end)) {
            return Some(true);
        }
        // At the other end of a cable that the panel's terminals are on, or further.
        if own.iter().any(|(cable, end)| panel_ends.contains(&(*cable, 1 - end))) {
            Some(false)
        } else {
            None
        }
    }

    /// The ends of the longer cables that land on any of these terminals.
    fn cable_ends(&self, terminals: &BTreeSet<TerminalId>) -> BTreeSet<(CableId, u8)> {
        terminals
            .iter()
            .flat_map(|terminal| self.landings.on(*terminal))
            .filter_map(|landing| match *landing {
                Landing::Core(core, end) if !short(self.job, core) => Some((self.job.core(core).cable, end)),
                _ => None,
            })
            .collect()
    }
}

/// The terminals that links, bridges and short cores join to some, these among them.
fn beside(job: &Job, landings: &Landings, from: &[TerminalId]) -> BTreeSet<TerminalId> {
    let mut seen: BTreeSet<TerminalId> = from.iter().copied().collect();
    let mut queue = from.to_vec();
    while let Some(at) = queue.pop() {
        let mut next: Vec<TerminalId> = Vec::new();
        for landing in landings.on(at) {
            match *landing {
                Landing::Core(core, _) if short(job, core) => {
                    next.extend(job.core(core).ends.iter().filter_map(|end| end.to.terminal()));
                }
                Landing::Core(..) => {}
                Landing::Link(link) => next.extend(job.links[link.index()].ends),
            }
        }
        for part in job.device(job.terminal(at).device).parts.iter().map(PartId) {
            if let Kind::Bridge(joined) = &job.part(part).kind
                && joined.contains(&at)
            {
                next.extend(joined);
            }
        }
        queue.extend(next.into_iter().filter(|terminal| seen.insert(*terminal)));
    }
    seen
}

/// Whether a core joins what stands side by side.
fn short(job: &Job, core: CoreId) -> bool {
    job.cable(job.core(core).cable).length.is_some_and(|length| length.0 <= BESIDE)
}
