//! A part is wired on one side, and nothing leads on from the other.
//!
//! ## On site
//!
//! All else works, so nobody looks: the standby supply that never takes over, the second button that does nothing, the fuse
//! past which somebody landed both cores.
//!
//! ## Why
//!
//! Current flows through a part or not at all. What has a core on one side only was forgotten half way, or the core that
//! belongs to its other side landed elsewhere.
//!
//! ## Example
//!
//! ```yaml
//! links: [[P, S2.13]]     # S2 is push-button-no, and nothing is on S2.14
//! ```
//!
//! ## Cure
//!
//! Wire the open side. If it stays empty on purpose, list it under `unused:`.
//!
//! ## Limits
//!
//! It is told of supplies, fuses, contacts, diodes, resistors and two-wire sensors. Of a changeover contact one throw
//! suffices. Two open sides in a job are told as one gap. It is a note, for a core may be waiting there for work to come.
//! An earth that begins on the green-yellow core of a cable and ends on another core of it is told too, as a warning.
//! Where a fix names the open side already, or an error stands at the same device, it is not told again. Loads, inputs and
//! signals have rules of their own.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing, Landings};
use crate::diagnostic::Severity;
use crate::netlist::{CoreEnd, CoreId, End, Job, Kind, PartId, TerminalId};

use super::earth_colour::green_yellow;
use super::loose::LooseEnd;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    earth_on_two_cores(job, report);
    let (landings, loose) = (circuit.landings(), report.loose_ends(job, circuit));
    let grave = report.graver_devices(job);
    let mut open: Vec<&LooseEnd> = Vec::new();
    let mut seen: BTreeSet<TerminalId> = BTreeSet::new();
    for end in loose.iter() {
        let told = end.on_joint
            || report.is_named_gap(end.part)
            || grave.contains(&job.part(end.part).device)
            || told_of_core(job, landings, end.open)
            || job.terminal(end.open).lead.is_some()
            || !seen.insert(end.open);
        if !told {
            open.push(end);
        }
    }
    // Two at once are the two ends of one gap, most likely.
    let pairs = if open.len() == 2 { vec![open] } else { open.into_iter().map(|end| vec![end]).collect() };
    for ends in pairs {
        let [end, ..] = ends[..] else { continue };
        let so = match &job.part(end.part).kind {
            Kind::Source(_) => "it feeds nothing",
            Kind::Fuse(_) => "it protects nothing",
            Kind::Contact(_) => "it switches nothing",
            _ => "no current flows through it",
        };
        let (name, open) = (entry(job, end.part), end.label(job));
        let (nor, fix) = match ends.get(1).map(|other| other.label(job)) {
            Some(other) => (
                format!(", nor from {other}"),
                format!("join {open} and {other} if they belong together, or list them under `unused:`"),
            ),
            None => (String::new(), format!("wire {open}, or list it under `unused:`")),
        };
        let message = format!(
            "{name} is wired at {} alone, and nothing leads on from {open}{nor}: {so}",
            job.label(end.wired)
        );
        let draft = report.find(message, fix);
        for end in ends {
            draft.at(telling::landing(job, landings, end.open), "nothing leads on").about(end.open);
        }
    }
}

/// A part, and of a device with others the entry that is meant.
fn entry(job: &Job, id: PartId) -> String {
    let part = job.part(id);
    let device = job.device(part.device);
    if device.parts.len() < 2 {
        return device.name.to_string();
    }
    let what = match &part.kind {
        Kind::Source(_) => "supply",
        Kind::Fuse(_) => "fuse",
        Kind::Contact(_) => "contact",
        Kind::Diode(_) => "diode",
        Kind::Resistor(_) => "resistor",
        _ => "sensor",
    };
    format!("{what} {} of {}", part.name, device.name)
}

/// Whether what lands on a terminal is told by `unterminated-core`.
fn told_of_core(job: &Job, landings: &Landings, at: TerminalId) -> bool {
    landings.on(at).iter().any(|landing| match landing {
        Landing::Core(core, end) => {
            matches!(job.core(*core).ends[usize::from(1 - end)].to, End::Bare | End::Spare)
        }
        Landing::Link(_) => false,
    })
}

/// Tells of an earth that begins on one core of a cable and ends on another: neither goes through.
fn earth_on_two_cores(job: &Job, report: &mut Report) {
    let earth = |end: &CoreEnd| {
        let at = end.to.terminal()?;
        job.parts_on(at).any(|(_, part)| matches!(part.kind, Kind::Earth(_))).then_some(at)
    };
    for (_, cable) in job.cable_ids() {
        let on = |side: usize| {
            let mut cores = cable.cores.iter().map(CoreId).filter_map(move |id| {
                let ends = &job.core(id).ends;
                let at = earth(&ends[side])?;
                matches!(ends[1 - side].to, End::Safe(_)).then_some((id, at))
            });
            cores.next().filter(|_| cores.next().is_none())
        };
        let (Some((near, here)), Some((far, there))) = (on(0), on(1)) else { continue };
        if !green_yellow(job.core(near)) && !green_yellow(job.core(far)) {
            continue;
        }
        // The green-yellow one is the earth.
        let (right, wrong, at, side) =
            if green_yellow(job.core(far)) { (far, near, here, 0) } else { (near, far, there, 1) };
        let [right_label, wrong_label] = [right, wrong].map(|core| job.core_label(core));
        let [near_at, far_at] = [here, there].map(|at| job.label(at));
        let message = format!(
            "{near_at} is on {} and {far_at} on {}, and each of the two ends in the cable: the earth goes through on \
             neither",
            job.core_label(near),
            job.core_label(far)
        );
        let fix = format!("land {right_label} on {} in place of {wrong_label}", job.label(at));
        report
            .find(message, fix)
            .severity(Severity::Warning)
            .at(job.core(right).ends[side].place, "ends here")
            .at(job.core(wrong).ends[side].place, "")
            .about(right)
            .about(wrong);
    }
}
