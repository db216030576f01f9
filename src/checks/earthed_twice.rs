//! 0 V is earthed in two locations.
//!
//! ## On site
//!
//! Readings drift, inputs chatter when something large starts, and the 0 V conductor between the two places gets warm:
//! part of the site's earth current takes it as its way.
//!
//! ## Why
//!
//! Two earths are never at the same volts. A conductor that joins them carries what flows between them.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W8: {type: single-2.5, cores: {pink: [G1.V-, E1.PE]}}   # in the panel
//!   W9: {type: single-2.5, cores: {pink: [H1.V-, E2.PE]}}   # in the hall
//! ```
//!
//! ## Cure
//!
//! Keep one bond, at the supply, and take the others off.
//!
//! ## Limits
//!
//! Two bonds in one location are taken as one. A supply that says `earthed: minus` is a bond where it stands.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind, Pole, TerminalId};

use super::far_ends::reach;
use super::report::{Report, listed};
use super::standing::{Standing, is_bond};
use super::telling::landing;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let standing = Standing::of(job);
    let bond = |terminal: TerminalId| standing.on(terminal).iter().any(|part| is_bond(&job.part(*part).kind));
    let earthed: BTreeSet<(TerminalId, usize)> = job
        .parts
        .iter()
        .enumerate()
        .filter_map(|(n, part)| match &part.kind {
            Kind::Source(source) if source.earthed == Some(Pole::Minus) => Some((source.minus, n)),
            _ => None,
        })
        .collect();
    let mut told: BTreeSet<Vec<TerminalId>> = BTreeSet::new();
    let mut walked: BTreeSet<TerminalId> = BTreeSet::new();
    for part in &job.parts {
        let Kind::Source(source) = &part.kind else { continue };
        // From anywhere but a bond the walk comes to the same places, so a common 0 V is walked once.
        if walked.contains(&source.minus) {
            continue;
        }
        let reached = reach(job, landings, &[source.minus], &bond);
        walked.extend(reached.iter().copied().filter(|at| !bond(*at)));
        let mut inside: Vec<(usize, TerminalId)> = reached
            .iter()
            .flat_map(|at| earthed.range((*at, 0)..=(*at, usize::MAX)))
            .map(|(minus, source)| (*source, *minus))
            .collect();
        inside.sort_unstable();
        let inside = inside.into_iter().map(|(_, minus)| minus);
        let bonds: Vec<TerminalId> = reached.iter().copied().filter(|at| bond(*at)).chain(inside).collect();
        if bonds.len() < 2 || !told.insert(bonds.clone()) {
            continue;
        }
        let location = |at: &TerminalId| &*job.device(job.terminal(*at).device).location;
        let places: BTreeSet<&[String]> = bonds.iter().map(location).filter(|at| !at.is_empty()).collect();
        let nowhere = bonds.iter().find(|at| location(at).is_empty());
        let shown = |at: &TerminalId| landing(job, landings, *at);
        if places.len() > 1 {
            let names: Vec<String> = places.iter().map(|at| at.join("/")).collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let message = format!(
                "the 0 V of {} is earthed in {}: current will flow between the two earths through the wiring",
                job.device(part.device).name,
                listed(&names)
            );
            let finding = report.find(message, "keep the bond at the supply and take the others off");
            let mut others: Vec<&TerminalId> = bonds.iter().collect();
            // The bond at the supply is the one to keep, so the caret goes to another.
            others.sort_by_key(|at| location(at) == &*job.device(part.device).location);
            for at in others {
                finding.at(shown(at), "").about(*at);
            }
        } else if let Some(at) = nowhere {
            let name = &job.device(job.terminal(*at).device).name;
            report
                .not_checked(
                    format!("{name} has no location"),
                    format!("say where {name} is, as in `location: Panel`"),
                )
                .at(shown(at), "")
                .about(*at);
        }
    }
}
