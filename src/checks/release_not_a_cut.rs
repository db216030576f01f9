//! A release does not take the power from its lock.
//!
//! ## On site
//!
//! Somebody breaks the glass and the door stays locked, because the lock is still fed another way.
//!
//! ## Why
//!
//! The release contact must lie in the only way to the lock. A controller's output, a second supply or a return to
//! another 0 V goes round it.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   S1: {type: break-glass, contacts: {S: {unlocks: Y1}}}
//!   Y1: {type: lock-magnet, volts: 12 V, amps: 0.5 A, on_loss: unlocked}
//! ```
//!
//! S1 interrupts the controller's input and not the feed of Y1.
//!
//! ## Cure
//!
//! Lead the feed of the lock itself through the break contact of the release, and nothing round it. Have the way of
//! escape looked at by the person responsible for it; local codes come first.
//!
//! ## Limits
//!
//! Only contacts that say `unlocks:` are looked at, and only for locks that lock with power. Where both throws of a contact
//! are wired, either may be the one that lets go. A welded contact is not thought of.
//!
//! ## Sources
//!
//! Common practice, no source. Codes for ways of escape differ from place to place.

use crate::circuit::{Circuit, Need};
use crate::netlist::{Job, Kind, Load, Lock};

use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for (id, part) in job.part_ids() {
        let Kind::Contact(contact) = &part.kind else { continue };
        let Some(lock) = contact.unlocks else { continue };
        let Kind::Load(Load { lock: Some(Lock::LocksPowered), plus, minus, .. }) = &job.part(lock).kind
        else {
            continue;
        };
        let devices = [part.device, job.part(lock).device];
        let [release, name] = devices.map(|device| &job.device(device).name);
        let places = devices.map(|device| job.device(device).place);
        let feeds = circuit.feeds(lock);
        // The positions in which the contact lets go, by the throws that are wired; with both, either may be the one.
        let wired = |throw: Option<_>| throw.is_some_and(|t| landings.wired(t));
        let positions: &[bool] = match (wired(contact.no), wired(contact.nc)) {
            (true, false) => &[false],
            (false, true) => &[true],
            _ => &[false, true],
        };
        // How the lock is fed in a position: round the contact, if it can be, else through its other throw.
        let fed_in = |operated: &bool| {
            let need = circuit.mover_of(id).map(|mover| Need { mover, operated: *operated });
            let ways = || feeds.ways.iter();
            let round = ways().filter(|feed| !feed.parts.contains(&id));
            let through = ways().filter(|feed| feed.parts.contains(&id));
            round.chain(through).find_map(|feed| {
                let needs = circuit.both(&feed.needs, need.as_slice())?;
                Some((circuit.sound(&needs, *plus).state()?, feed, needs))
            })
        };
        let fed: Option<Vec<_>> = positions.iter().map(fed_in).collect();
        let round = fed.and_then(|fed| {
            let told = fed.iter().position(|(_, feed, _)| !feed.parts.contains(&id)).unwrap_or(0);
            fed.into_iter().nth(told)
        });
        if let Some((state, feed, needs)) = round {
            let sources: Vec<&str> = feed
                .sources
                .iter()
                .map(|source| job.device(job.part(*source).device).name.as_str())
                .collect();
            let path = feed.sources.first().and_then(|source| match &job.part(*source).kind {
                Kind::Source(source) => circuit.follow(
                    job,
                    &needs,
                    &feed.parts,
                    source.plus,
                    if feed.forward { *plus } else { *minus },
                ),
                _ => None,
            });
            let path = path.map_or(String::new(), |path| format!(", by way of {}", path.words(job)));
            let position = if feed.parts.contains(&id) {
                "in both positions of its contact"
            } else {
                "with its contact open"
            };
            let verb = if sources.len() == 1 { "feeds" } else { "feed" };
            let message = format!(
                "{release} does not take the power from {name}: {position} {} still {verb} it{path}",
                super::report::listed(&sources)
            );
            let fix = if feed.parts.contains(&id) {
                format!(
                    "leave {name} on one throw of {release} alone, the one that opens when it is operated"
                )
            } else {
                format!("lead the feed of {name} itself through {release}, with nothing round it")
            };
            let finding = report
                .find(message, fix)
                .at(places[0], "")
                .at(places[1], "")
                .about(devices[0])
                .about(devices[1]);
            finding.when(circuit.words(&state));
        } else if feeds.ways.is_empty() && job.part(lock).existing {
            report
                .not_checked(
                    format!("{name} is fed outside this job"),
                    "prove on site that the release takes its power",
                )
                .at(places[1], "")
                .about(devices[1]);
        } else if !feeds.complete {
            report
                .not_checked(format!("{name} can be fed in too many ways to follow"), "prove it on site")
                .at(places[1], "")
                .about(devices[1]);
        }
    }
}
