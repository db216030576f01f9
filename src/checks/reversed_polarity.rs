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
//! It is told of loads and coils whose data sheet names a plus and a minus, of two-wire sensors, and of DC sources; what
//! diodes let through of AC counts as DC. A path through other loads counts as well, unless the part is fed the right way
//! round in the same state. A two-wire sensor counts as reversed when a hard path brings plus to its minus, or 0 V to its
//! plus.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{Circuit, Feed, State};
use crate::netlist::{Job, Kind, PartId, Pole, TerminalId};

use super::fed::{is_dc, rectified};
use super::landings::Landings;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = report.landings(job);
    for (id, part) in job.part_ids() {
        let (plus, minus) = match &part.kind {
            Kind::Load(load) if load.polarised => (load.plus, load.minus),
            Kind::Coil(coil) if coil.polarised => (coil.plus, coil.minus),
            Kind::TwoWire(sensor) => {
                two_wire(job, circuit, &landings, id, [sensor.plus, sensor.minus], report);
                continue;
            }
            _ => continue,
        };
        let Some((feed, words)) = wrong_way(job, circuit, id, plus) else { continue };
        let name = telling::part(job, id);
        let message = format!(
            "{name} is fed the wrong way round{}: plus of {} arrives at its minus, {}",
            telling::clause(words.as_deref()),
            telling::sources(job, &feed.sources),
            telling::feed_in(job, circuit, id, feed)
        );
        let draft = report.find(message, exchange(job, &landings, plus, minus));
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

/// A two-wire sensor with the wrong pole at one of its ends, its own path left out.
fn two_wire(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    id: PartId,
    [plus, minus]: [TerminalId; 2],
    report: &mut Report,
) {
    let found = [(minus, Pole::Plus), (plus, Pole::Minus)].into_iter().find_map(|(end, wrong)| {
        circuit.levels(end).ways.into_iter().filter(|level| !level.parts.contains(&id)).find_map(|level| {
            let pole = *level.poles.iter().find(|(source, pole)| *pole == wrong && is_dc(job, *source))?;
            let state = circuit.sound(&level.needs, end).state()?;
            // A contact or sensor side by side with it that is on brings the same pole to both of its ends.
            let beside = circuit.levels(if end == minus { plus } else { minus }).ways.iter().any(|other| {
                !other.parts.contains(&id)
                    && other.poles.iter().any(|(_, pole)| *pole == wrong)
                    && circuit.holds(&other.needs, &state)
            });
            (!beside).then_some((end, level, pole, state))
        })
    });
    let Some((end, level, pole, state)) = found else { return };
    let words = circuit.when(&level.needs, &state);
    let from = telling::pole(job, pole);
    let message = format!(
        "{} stands the wrong way round and cannot switch{}: {} arrives at its {}, {}",
        telling::part(job, id),
        telling::clause(words.as_deref()),
        from.map(|t| job.label(t)).unwrap_or_default(),
        if end == minus { "minus" } else { "plus" },
        telling::hops(job, circuit, &level.needs, &level.parts, from, end),
    );
    let draft = report.find(message, exchange(job, landings, plus, minus));
    draft
        .at(telling::landing(job, landings, end), "the wrong pole arrives here")
        .at(telling::landing(job, landings, if end == minus { plus } else { minus }), "")
        .about(minus)
        .about(plus)
        .of(id);
    if let Some(words) = words {
        draft.when(words);
    }
}

/// What to exchange where a part is fed the wrong way round, by the labels of what lands on the two terminals.
pub(super) fn exchange(job: &Job, landings: &Landings, plus: TerminalId, minus: TerminalId) -> String {
    match (telling::landed(job, landings, plus), telling::landed(job, landings, minus)) {
        (Some(a), Some(b)) => format!(
            "exchange {a} at {} and {b} at {}, or the pair further back",
            job.label(plus),
            job.label(minus)
        ),
        _ => format!("bring plus to {} and 0 V to {}", job.label(plus), job.label(minus)),
    }
}

/// A way in from the wrong end, and the state in which it counts, in words.
fn wrong_way<'c>(
    job: &Job,
    circuit: &'c Circuit,
    id: PartId,
    near: TerminalId,
) -> Option<(&'c Feed, Option<String>)> {
    let feeds = &circuit.feeds(id).ways;
    let direct = |feed: &&Feed| rectified(job, feed) || feed.sources.iter().all(|source| is_dc(job, *source));
    let mut wrong: Vec<&Feed> = feeds.iter().filter(|feed| !feed.forward).filter(direct).collect();
    wrong.sort_by_key(|feed| (!feed.hard, feed.needs.len()));
    wrong.into_iter().find_map(|feed| {
        let (state, words) = telling::comes_about(job, circuit, &feed.needs, near, &feed.sources)?;
        let right = |state: &State| feeds.iter().any(|f| f.forward && circuit.holds(&f.needs, state));
        let counts = feed.hard || (!right(&state) && circuit.unbridged(job, id, feed, &state));
        counts.then_some((feed, words))
    })
}
