//! Black or blue on plus, or red on minus, where a better core is at hand.
//!
//! ## On site
//!
//! Sooner or later somebody takes the red core for plus, as everybody does, and joins a part the wrong way round.
//!
//! ## Why
//!
//! No standard fixes the colours of extra-low voltage, but red for plus and black or blue for 0 V is what hands expect.
//! When the cable has a core that says it right, there is no reason to use the one that says it wrong.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: twin-0.75, cores: {black: [G1.V+, H1.V+], red: [G1.V-, H1.V-]}}
//! ```
//!
//! ## Cure
//!
//! Exchange the cores at both ends, or take the free one.
//!
//! ## Limits
//!
//! A core on a leg of a signal pair is no supply core: a pole that reaches it is told by other rules.
//! Only cores that reach a pole of a DC source without a contact between are looked at (fuses count as closed). Where
//! the cable offers nothing better, nothing is said. Colour is never proof: measure.
//!
//! Where an input on a core of the same cable gets the wrong pole, the core that lands wrong is told by that. Where all that a
//! source feeds stands the wrong way round, the cure is one exchange at the source: the colours come right with it.
//!
//! ## Sources
//!
//! IEC 60445, from its 2017 edition: red for the positive line of DC. Black or blue for 0 V is common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing};
use crate::netlist::{CableId, Colour, Core, CoreId, Current, Job, Kind, PartId, Pole, TerminalId};

use super::earth_colour::green_yellow;
use super::report::{Draft, Report};
use super::reversed_polarity::exchange_source;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let (poles, legs) = (poles(job, circuit), legs(job));
    let turned = report.turned_sources(job, circuit);
    let reversed = report.told_by("reversed-polarity");
    let unfed = report.told_by("unpowered").into_iter().chain(report.told_by("open-return"));
    let on_one = unfed.filter(|part| {
        job.part(*part).kind.load_ends().is_some_and(|[a, b]| circuit.joined_past_fuses(a, b))
    });
    let reversed: BTreeSet<PartId> = reversed.into_iter().chain(on_one).collect();
    let ends = reversed.iter().filter_map(|part| job.part(*part).kind.load_ends()).flatten();
    let reversed: BTreeSet<TerminalId> = ends.collect();
    // Its colour comes right when the part is turned, or the rail on which both its ends lie is brought to its pole.
    let lands_there =
        |core: &Core| core.ends.iter().filter_map(|e| e.to.terminal()).any(|at| reversed.contains(&at));
    let at_source = |core| exchange_at_source(job, circuit, &turned, core);
    let landed_wrong = landed_wrong(job, circuit, report);
    for (cable_id, cable) in job.cable_ids() {
        let use_of = |core| (core, usage(job, circuit, &poles, &legs, core));
        let cores: Vec<(CoreId, Use)> = cable.cores.iter().map(CoreId).map(use_of).collect();
        let mut told: Vec<CoreId> = Vec::new();
        for &(id, on) in &cores {
            let core = job.core(id);
            let Use::Pole(pole) = on else { continue };
            if told.contains(&id) || !wrong(core, pole) || lands_there(core) {
                continue;
            }
            let better = |(other, on): &&(CoreId, Use)| {
                *other != id
                    && cable.drain() != Some(*other)
                    && (*on == Use::Free || *on == Use::Pole(pole.opposite()))
                    && right(job.core(*other), pole)
            };
            // The core that it should change places with comes before a free one.
            let candidates: Vec<&(CoreId, Use)> = cores.iter().filter(better).collect();
            let swap = candidates
                .iter()
                .find(|(other, on)| *on != Use::Free && wrong(job.core(*other), pole.opposite()));
            if let Some(&&(other, _)) = swap {
                told.push(other);
                let message = format!(
                    "{} is on {} and {} on {}: somebody will join a part the wrong way round",
                    job.core_label(id),
                    pole.word(),
                    job.core(other).name,
                    pole.opposite().word()
                );
                let fix = at_source(core).unwrap_or_else(|| {
                    let other = &job.core(other).name;
                    format!("exchange {} and {other} at both ends of {}", core.name, cable.name)
                });
                at(report.find(message, fix), core).at(job.core(other).place, "").about(id).about(other);
            } else if let Some(&&(other, on)) =
                candidates.first().filter(|_| !landed_wrong.contains(&cable_id))
            {
                let message = format!(
                    "{} is on {}: somebody will take it for {}",
                    job.core_label(id),
                    pole.word(),
                    pole.opposite().word()
                );
                let other = &job.core(other).name;
                let fix = at_source(core).unwrap_or_else(|| match on {
                    Use::Free => format!("use {other} of {} instead", cable.name),
                    _ => format!("exchange {} and {other} at both ends of {}", core.name, cable.name),
                });
                at(report.find(message, fix), core).about(id);
            }
        }
    }
}

/// The errors that a core on the wrong pole makes.
const ON_WRONG_POLE: [&str; 5] =
    ["voltage-on-dry-input", "no-common", "sink-source-mismatch", "contact-type", "floating-input"];

/// The cables of which another core lands where an input gets the wrong pole: a core of them is on a pole where it does not belong,
/// and its colour comes right when it is moved.
fn landed_wrong(job: &Job, circuit: &Circuit, report: &Report) -> BTreeSet<CableId> {
    let inputs = ON_WRONG_POLE.iter().flat_map(|rule| report.terminals_told_by(rule));
    let cores = inputs.flat_map(|at| circuit.landings().on(at)).filter_map(|landing| match landing {
        Landing::Core(core, _) => Some(job.core(*core).cable),
        Landing::Link(_) => None,
    });
    cores.collect()
}

/// What a core is used for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Use {
    /// Joined to that pole of one or more DC sources.
    Pole(Pole),
    /// On no terminal at either end.
    Free,
    /// Anything else.
    Other,
}

/// The conductors, fuses counted as closed, on which poles of DC sources lie.
fn poles(job: &Job, circuit: &Circuit) -> BTreeSet<(u32, Pole)> {
    let dc = job.parts.iter().filter_map(|part| match &part.kind {
        Kind::Source(source) if source.current == Current::Dc => Some(source),
        _ => None,
    });
    let poles = dc.flat_map(|source| [(source.plus, Pole::Plus), (source.minus, Pole::Minus)]);
    poles.map(|(at, pole)| (circuit.past_fuses(at), pole)).collect()
}

/// What to exchange where a core is on a source that feeds all its parts the wrong way round: its colour comes right with that.
fn exchange_at_source(
    job: &Job,
    circuit: &Circuit,
    turned: &BTreeSet<PartId>,
    core: &Core,
) -> Option<String> {
    let ends = core.ends.map(|end| end.to.terminal());
    let joined = |pole| ends.iter().flatten().any(|end| circuit.joined_past_fuses(pole, *end));
    let on = |source: &&PartId| {
        let poles = [Pole::Plus, Pole::Minus].map(|pole| telling::pole(job, (**source, pole)));
        poles.into_iter().flatten().any(joined)
    };
    exchange_source(job, circuit.landings(), turned, *turned.iter().find(on)?)
}

/// The legs of signal pairs.
fn legs(job: &Job) -> BTreeSet<TerminalId> {
    let pairs = job.parts.iter().filter_map(|part| match &part.kind {
        Kind::SignalPair(pair) => Some([pair.a, pair.b]),
        _ => None,
    });
    pairs.flatten().collect()
}

fn usage(
    job: &Job,
    circuit: &Circuit,
    poles: &BTreeSet<(u32, Pole)>,
    legs: &BTreeSet<TerminalId>,
    core: CoreId,
) -> Use {
    let ends = job.core(core).ends.map(|end| end.to.terminal());
    if ends == [None, None] {
        return Use::Free;
    }
    if ends.iter().flatten().any(|end| legs.contains(end)) {
        return Use::Other;
    }
    let on = |pole: Pole| ends.iter().flatten().any(|end| poles.contains(&(circuit.past_fuses(*end), pole)));
    match (on(Pole::Plus), on(Pole::Minus)) {
        (true, false) => Use::Pole(Pole::Plus),
        (false, true) => Use::Pole(Pole::Minus),
        _ => Use::Other,
    }
}

pub(super) fn wrong(core: &Core, pole: Pole) -> bool {
    match pole {
        Pole::Plus => [[Colour::Black], [Colour::Blue]].iter().any(|colours| core.colours == *colours),
        Pole::Minus => core.colours == [Colour::Red],
    }
}

fn right(core: &Core, pole: Pole) -> bool {
    !core.colours.is_empty() && !green_yellow(core) && !wrong(core, pole)
}

fn at<'r>(finding: &'r mut Draft, core: &Core) -> &'r mut Draft {
    finding.at(core.place, "")
}
