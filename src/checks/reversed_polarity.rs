//! A part is fed the wrong way round.
//!
//! ## On site
//!
//! The part does nothing, or is destroyed at once: plus arrives where 0 V belongs.
//!
//! ## Why
//!
//! Electronics, LEDs and coils with a diode inside take current one way only. Two cores exchanged at one end of a cable
//! are the usual cause.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1:
//!     type: twin-0.5
//!     cores:
//!       red:   [G1.V+, H1.V-]
//!       black: [G1.V-, H1.V+]
//! ```
//!
//! ## Cure
//!
//! Exchange the two cores at one end. Where several parts are told at once, look for the exchange before the point at
//! which they part.
//!
//! ## Limits
//!
//! It is told of loads and coils whose data sheet names a plus and a minus, and of DC sources. A path through other loads
//! counts as well, unless the part is fed the right way round in the same state.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{Circuit, Feed, State};
use crate::netlist::{Current, Job, Kind, PartId, TerminalId};

use super::landings::Landings;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = Landings::of(job);
    for (id, part) in job.part_ids() {
        let (plus, minus) = match &part.kind {
            Kind::Load(load) if load.polarised => (load.plus, load.minus),
            Kind::Coil(coil) if coil.polarised => (coil.plus, coil.minus),
            _ => continue,
        };
        let Some((feed, state)) = wrong_way(job, circuit, id, plus) else { continue };
        let name = telling::part(job, id);
        let words = circuit.when(&feed.needs, &state);
        let message = format!(
            "{name} is fed the wrong way round{}: plus of {} arrives at its minus, {}",
            telling::clause(words.as_deref()),
            telling::sources(job, &feed.sources),
            telling::feed_in(job, circuit, id, feed)
        );
        let fix = match (telling::landed(job, &landings, plus), telling::landed(job, &landings, minus)) {
            (Some(a), Some(b)) => format!(
                "exchange {a} at {} and {b} at {}, or the pair further back",
                job.label(plus),
                job.label(minus)
            ),
            _ => format!("bring plus to {} and 0 V to {}", job.label(plus), job.label(minus)),
        };
        let draft = report.find(message, fix);
        draft
            .at(telling::landing(job, &landings, minus), "plus arrives here")
            .at(telling::landing(job, &landings, plus), "")
            .about(minus)
            .about(plus)
            .of(id);
        if let Some(words) = words {
            draft.when(words);
        }
    }
}

/// A way in from the wrong end, and a state in which it counts.
fn wrong_way<'c>(job: &Job, circuit: &'c Circuit, id: PartId, near: TerminalId) -> Option<(&'c Feed, State)> {
    let feeds = &circuit.feeds(id).ways;
    let dc = |feed: &&Feed| {
        feed.sources.iter().all(
            |source| matches!(&job.part(*source).kind, Kind::Source(source) if source.current == Current::Dc),
        )
    };
    let mut wrong: Vec<&Feed> = feeds.iter().filter(|feed| !feed.forward).filter(dc).collect();
    wrong.sort_by_key(|feed| (!feed.hard, feed.needs.len()));
    wrong.into_iter().find_map(|feed| {
        let state = circuit.sound(&feed.needs, near).state()?;
        let right = |state: &State| feeds.iter().any(|f| f.forward && circuit.holds(&f.needs, state));
        let counts = feed.hard || (!right(&state) && circuit.unbridged(job, id, feed, &state));
        counts.then_some((feed, state))
    })
}
