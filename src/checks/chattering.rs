//! A relay never comes to rest: pulling in opens the way by which it is fed.
//!
//! ## On site
//!
//! The relay buzzes, its contacts burn, and what hangs on them flickers.
//!
//! ## Why
//!
//! A coil that is fed over a break contact of its own lets go as soon as it has pulled in, and pulls in again as soon as it has
//! let go. Two relays that open each other's way and close it again do the same in turn. The usual mistake is a self-hold taken
//! from the break contact.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W7: {type: single-0.75, cores: {blue: [K1.12, K1.A1]}}     # K1.11 is on plus; the hold belongs on K1.14
//! ```
//!
//! ## Cure
//!
//! Take the hold from the make contact. If it is meant to buzz, accept the finding.
//!
//! ## Limits
//!
//! Relays are taken to follow at once, one at a time; a timer that makes a lamp flash on purpose has contacts that no coil of
//! the job moves. Of relays that depend on each other each round is told once. Groups of relays with too many states to walk are
//! left out. What the relay feeds has no fixed volts then and is judged by what it gets in either position. A state in which a
//! source is shorted is told as that, and what an error at the same relay explains is not told again.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{Chatter, Circuit};
use crate::netlist::{DeviceId, Job, TerminalId};

use super::report::{Report, listed};
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let grave = report.graver_devices(job);
    for chatter in circuit.chatters() {
        let round: Vec<(&str, DeviceId, bool)> = chatter
            .cycle
            .iter()
            .filter_map(|(mover, operated)| Some((circuit.movers().get(mover.index())?, *operated)))
            .map(|(mover, operated)| (mover.name.as_str(), mover.device, operated))
            .collect();
        let mut devices: Vec<DeviceId> = round.iter().map(|(_, device, _)| *device).collect();
        devices.sort_unstable();
        devices.dedup();
        let told = devices.iter().all(|device| grave.contains(device));
        if told || shorted(job, circuit, &chatter, &devices) {
            continue;
        }
        let names: Vec<&str> = devices.iter().map(|device| job.device(*device).name.as_str()).collect();
        let steps: Vec<String> = round
            .iter()
            .map(|(name, _, operated)| format!("{name} {}", if *operated { "operated" } else { "at rest" }))
            .collect();
        let state = telling::at(circuit, &chatter.state);
        let message = format!(
            "{} never come{} to rest{} ({}, over and over): {} contacts burn, and what follows from them was not checked",
            listed(&names),
            if names.len() == 1 { "s" } else { "" },
            telling::clause(state.as_deref()),
            steps.join(", "),
            if names.len() == 1 { "its" } else { "their" },
        );
        let fix = "let no relay open the way by which it is fed; if it is meant to buzz, accept this";
        let draft = report.find(message, fix);
        for device in devices {
            draft.at(job.device(device).place, "").about(device);
        }
        if let Some(state) = state {
            draft.when(state);
        }
    }
}

/// Whether a source that hangs together with what chatters is shorted then.
fn shorted(job: &Job, circuit: &Circuit, chatter: &Chatter, devices: &[DeviceId]) -> bool {
    let terminals = || devices.iter().flat_map(|device| job.device(*device).terminals.iter().map(TerminalId));
    circuit.shorts().ways.iter().any(|way| {
        circuit.holds(&way.needs, &chatter.state)
            && terminals().any(|terminal| circuit.same_system(way.between[0], terminal))
    })
}
