//! A door does the opposite of what it must when its power is lost.
//!
//! ## On site
//!
//! The power fails, or the release is pressed, and people are locked in; or the door stands open all night.
//!
//! ## Why
//!
//! A magnet holds while it has power and lets go without. A strike of the usual kind holds without power and needs it
//! to let go. Which of the two a door needs is decided by the way of escape, not by the wiring.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   Y1: {type: strike, volts: 12 V, amps: 0.3 A, on_loss: unlocked}
//! ```
//!
//! A strike stays locked when its power is lost.
//!
//! ## Cure
//!
//! Fit a lock of the other kind. A release contact must feed a lock that locks without power, and cut one that locks
//! with power. Have the way of escape looked at by the person responsible for it; local codes come first.
//!
//! ## Limits
//!
//! The program goes by `lock:` and `on_loss:` in the file. Where a lock says nothing of `on_loss:`, it says that it did
//! not check. A handle that opens the door mechanically is not seen. A release is held to cut the lock where current flows
//! through it while it is at rest and no way to the lock needs it operated, be there a key or another contact beside it.
//!
//! ## Sources
//!
//! Common practice, no source. Codes for ways of escape differ from place to place.

use crate::circuit::{Circuit, Feed};
use crate::netlist::{Contact, Job, Kind, Load, Lock, OnLoss, PartId};

use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    for (id, part) in job.part_ids() {
        match &part.kind {
            Kind::Load(load) => {
                if let Some(lock) = load.lock {
                    on_loss(job, id, lock, report);
                }
            }
            Kind::Contact(contact) => released(job, circuit, id, contact, report),
            _ => {}
        }
    }
}

/// What the door does without power against what it must do.
fn on_loss(job: &Job, id: PartId, lock: Lock, report: &mut Report) {
    let device = job.part(id).device;
    let entry = job.device(device);
    let name = &entry.name;
    let (does, kind) = match lock {
        Lock::LocksPowered => (OnLoss::Unlocked, "locks with power"),
        Lock::LocksDead => (OnLoss::Locked, "locks without power"),
    };
    match entry.on_loss {
        None => {
            let fix = format!(
                "say what the door at {name} must do without power: `on_loss: unlocked` or `on_loss: locked`"
            );
            report.not_checked(format!("{name} has no `on_loss:`"), fix).at(entry.place, "").about(device);
        }
        Some(must) if must != does => {
            let [does, must] = [does, must].map(OnLoss::word);
            let message =
                format!("{name} {kind}: when its power is lost the door is {does}, and it must be {must}");
            let fix = "fit a lock of the other kind, and have the way of escape looked at by the person responsible";
            report.find(message, fix).at(entry.place, "").about(device);
        }
        Some(_) => {}
    }
}

/// A release that takes the power from a lock which needs it to open.
fn released(job: &Job, circuit: &Circuit, id: PartId, contact: &Contact, report: &mut Report) {
    let Some(lock) = contact.unlocks else { return };
    let Kind::Load(Load { lock: Some(Lock::LocksDead), plus, .. }) = &job.part(lock).kind else { return };
    let Some(mover) = circuit.mover_of(id) else { return };
    // A way that does not depend on the release, such as a key beside it, makes the cut no better.
    let rest = circuit.at_rest().operated(mover);
    let some_way = |operated: bool, through: &dyn Fn(&Feed) -> bool| {
        circuit.feeds(lock).ways.iter().any(|feed| {
            through(feed)
                && feed.needs.iter().any(|need| need.mover == mover && need.operated == operated)
                && circuit.sound(&feed.needs, *plus).state().is_some()
        })
    };
    if some_way(rest, &|feed| feed.parts.contains(&id)) && !some_way(!rest, &|_| true) {
        let device = job.part(id).device;
        let [release, name] = [device, job.part(lock).device].map(|device| &job.device(device).name);
        let message =
            format!("{release} cuts the power of {name}, which needs power to open: the door stays locked");
        let fix =
            format!("wire {release} so that it feeds {name}, or fit a lock that opens when its power is cut");
        report
            .find(message, fix)
            .at(job.device(device).place, "")
            .at(job.device(job.part(lock).device).place, "")
            .about(device)
            .about(job.part(lock).device);
    }
}
