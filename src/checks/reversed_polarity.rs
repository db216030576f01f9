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
//! which they part; where it is all that a source feeds, at the source.
//!
//! ## Limits
//!
//! It is told of loads and coils whose data sheet names a plus and a minus, of two-wire sensors, and of DC sources; what
//! diodes let through of AC counts as DC. A path through other loads counts as well, unless the part is fed the right way
//! round in the same state. A two-wire sensor counts as reversed when a hard path brings plus to its minus, or 0 V to its
//! plus, and its other end leads somewhere.
//!
//! All that one source feeds the wrong way round is one finding. A battery in a string is held to be turned where conductors
//! and fuses join at least three sources to a ring whose volts would come to less than a fifth of the highest with that
//! battery turned; the currents and volts of what hangs together with it are not told then.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, Feed, Landing, Landings, Signal, State, Turned};
use crate::netlist::{Core, Job, Kind, PartId, Pole, TerminalId};

use super::fed::{is_dc, rectified};
use super::lost_feed::{POINTED_AT, names};
use super::pole_colour::wrong;
use super::report::Report;
use super::reversed_diode::polarised;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let turned = report.turned_sources(job, circuit);
    let mut behind: BTreeMap<PartId, Vec<Wrong>> = BTreeMap::new();
    let mut others: Vec<Vec<Wrong>> = Vec::new();
    for (id, part) in job.part_ids() {
        let (plus, minus) = match &part.kind {
            Kind::Load(load) if load.polarised => (load.plus, load.minus),
            Kind::Coil(coil) if coil.polarised => (coil.plus, coil.minus),
            Kind::TwoWire(sensor) => {
                two_wire(job, circuit, landings, id, [sensor.plus, sensor.minus], report);
                continue;
            }
            _ => continue,
        };
        let Some((feed, words)) = wrong_way(job, circuit, id, plus) else { continue };
        let follows = shorted_beside(job, circuit, id, minus);
        let wrong = Wrong { id, plus, minus, feed, words, follows };
        match feed.sources.first().filter(|source| turned.contains(source)) {
            Some(source) => behind.entry(*source).or_default().push(wrong),
            None => {
                match others.last_mut().filter(|beside| beside.iter().any(|other| chained(&wrong, other))) {
                    Some(beside) => beside.push(wrong),
                    None => others.push(vec![wrong]),
                }
            }
        }
    }
    for string in circuit.survey(job).turned() {
        in_string(job, circuit, string, report);
    }
    for wrong in others {
        let [plus, minus] = outermost(&wrong);
        tell(job, circuit, landings, &wrong, exchange(job, landings, plus, minus), report);
    }
    for (source, wrong) in behind {
        let fix = exchange_source(job, landings, &turned, source).unwrap_or_default();
        tell(job, circuit, landings, &wrong, fix, report);
    }
}

/// A part that is fed the wrong way round, by what, and in which state.
struct Wrong<'c> {
    id: PartId,
    plus: TerminalId,
    minus: TerminalId,
    feed: &'c Feed,
    words: Option<String>,
    /// Whether it comes of what is told of the load beside it.
    follows: bool,
}

/// Whether the plus of one is the minus of the other, as of the two halves of a device that is fed by plus, 0 and minus.
fn chained(one: &Wrong, other: &Wrong) -> bool {
    one.plus == other.minus || one.minus == other.plus
}

/// The ends of what hangs together that are plus or minus of but one of them.
fn outermost(wrong: &[Wrong]) -> [TerminalId; 2] {
    let plus = wrong.iter().map(|w| w.plus).find(|plus| wrong.iter().all(|w| w.minus != *plus));
    let minus = wrong.iter().map(|w| w.minus).find(|minus| wrong.iter().all(|w| w.plus != *minus));
    [plus.unwrap_or(wrong[0].plus), minus.unwrap_or(wrong[0].minus)]
}

/// Whether another load of the device, with the same minus, has both its ends on one conductor: what is told of that one is why.
fn shorted_beside(job: &Job, circuit: &Circuit, id: PartId, minus: TerminalId) -> bool {
    job.parts_on(minus).filter(|(other, _)| *other != id).any(|(_, part)| {
        part.kind.load_ends().is_some_and(|[plus, its]| its == minus && circuit.joined_past_fuses(plus, its))
    })
}

/// Tells of parts that one exchange turns round.
fn tell(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    wrong: &[Wrong],
    fix: String,
    report: &mut Report,
) {
    let Some(Wrong { id, plus, minus, feed, words, follows }) = wrong.first() else { return };
    let (verb, its) = match wrong.len() {
        1 => ("is", "its minus".to_owned()),
        _ => ("are", format!("the minus of {}", job.part_label(*id))),
    };
    let message = format!(
        "{} {verb} fed the wrong way round{}: plus of {} arrives at {its}, {}",
        names(job, wrong.iter().map(|wrong| wrong.id)),
        telling::clause(words.as_deref()),
        telling::sources(job, &feed.sources),
        telling::feed_in(job, circuit, *id, feed)
    );
    let draft = report.find(message, fix);
    draft.follows = *follows;
    draft
        .at(telling::landing(job, landings, *minus), "plus arrives here")
        .at(telling::landing(job, landings, *plus), "");
    for other in wrong.iter().skip(1).take(POINTED_AT) {
        draft.at(telling::landing(job, landings, other.minus), "");
    }
    for wrong in wrong {
        draft.about(wrong.minus).about(wrong.plus).of(wrong.id);
    }
    if let Some(words) = words {
        draft.when(words.clone());
    }
}

/// A battery that adds its volts to those that it should hold up against.
fn in_string(job: &Job, circuit: &Circuit, string: &Turned, report: &mut Report) {
    let landings = circuit.landings();
    let id = string.battery;
    let Kind::Source(source) = &job.part(id).kind else { return };
    let (plus, minus) = (source.plus, source.minus);
    let message = format!(
        "{} stands the wrong way round among {}: their volts do not cancel out, and nothing but the conductors limits the \
         current",
        job.part_label(id),
        names(job, string.others.iter().copied())
    );
    report
        .find(message, exchange(job, landings, plus, minus))
        .at(telling::landing(job, landings, plus), "")
        .at(telling::landing(job, landings, minus), "")
        .about(plus)
        .about(minus)
        .of(id);
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
    // Nothing flows either way through a sensor of which one end hangs loose.
    if [plus, minus].iter().any(|end| circuit.terminals_of(circuit.net_of(*end)).len() < 2) {
        return;
    }
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
        job.part_label(id),
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

/// The sources that feed several parts with a polarity, all of them the wrong way round by hard paths: most likely their own
/// two cores are exchanged.
pub(super) fn turned_sources(job: &Job, circuit: &Circuit) -> BTreeSet<PartId> {
    // Of each source the loads that stand the wrong way round, and those that stand right: one that is fed in several ways is one.
    let mut fed: BTreeMap<PartId, [BTreeSet<PartId>; 2]> = BTreeMap::new();
    let mut feeding_polarised: BTreeSet<PartId> = BTreeSet::new();
    for (id, part) in job.part_ids() {
        let stands_as_fed = match &part.kind {
            Kind::Load(load) if load.polarised => Some((id, true)),
            Kind::Coil(coil) if coil.polarised => Some((id, true)),
            // A diode across a part without a polarity shows which end of it is to be plus.
            Kind::Diode(diode) => {
                circuit.between(job, diode.anode, diode.cathode).into_iter().find_map(|load| {
                    let [plus, _] = job.part(load).kind.load_ends()?;
                    (!polarised(job, load)).then(|| (load, circuit.joined_past_fuses(plus, diode.cathode)))
                })
            }
            _ => None,
        };
        let Some((load, forward)) = stands_as_fed else { continue };
        for feed in circuit.feeds(load).ways.iter().filter(|feed| feed.hard && !rectified(job, feed)) {
            if let [source] = feed.sources[..] {
                fed.entry(source).or_default()[usize::from(feed.forward == forward)].insert(load);
                if load == id {
                    feeding_polarised.insert(source);
                }
            }
        }
    }
    let turned: BTreeSet<PartId> = fed
        .into_iter()
        .filter(|(source, [wrong, right])| {
            wrong.len() > 1
                && right.is_empty()
                && (feeding_polarised.contains(source) || !coloured_right(job, circuit, *source))
        })
        .map(|(source, _)| source)
        .collect();
    // Several that stand side by side are right; what is exchanged lies behind them.
    let at = |source: PartId, pole| telling::pole(job, (source, pole)).map(|at| circuit.past_fuses(at));
    let mut beside: BTreeMap<Option<u32>, usize> = BTreeMap::new();
    for source in &turned {
        *beside.entry(at(*source, Pole::Plus)).or_default() += 1;
    }
    turned.into_iter().filter(|source| beside.get(&at(*source, Pole::Plus)).is_none_or(|n| *n == 1)).collect()
}

/// Whether the colours of the cores on a source say that its poles are not exchanged: where diodes alone are against it, it is
/// they that are turned.
fn coloured_right(job: &Job, circuit: &Circuit, source: PartId) -> bool {
    let Kind::Source(poles) = &job.part(source).kind else { return false };
    // Whether a core lands on a terminal that a pole must not have.
    let any_wrong = |at, pole| {
        circuit.landings().on(at).iter().any(|landing| match landing {
            Landing::Core(id, _) => wrong(job.core(*id), pole),
            Landing::Link(_) => false,
        })
    };
    let stands = any_wrong(poles.plus, Pole::Plus) || any_wrong(poles.minus, Pole::Minus);
    let exchanged = any_wrong(poles.plus, Pole::Minus) || any_wrong(poles.minus, Pole::Plus);
    exchanged && !stands
}

/// Whether the common of an input is on such a source: then that it never operates says nothing new.
pub(super) fn on_turned(signal: &Signal, turned: &BTreeSet<PartId>) -> bool {
    signal.common.iter().any(|level| level.poles.iter().any(|(source, _)| turned.contains(source)))
}

/// What to exchange at a source that feeds all its parts the wrong way round.
pub(super) fn exchange_source(
    job: &Job,
    landings: &Landings,
    turned: &BTreeSet<PartId>,
    source: PartId,
) -> Option<String> {
    let Kind::Source(poles) = &job.part(source).kind else { return None };
    turned.contains(&source).then(|| {
        let [plus, minus] = [poles.plus, poles.minus].map(|pole| {
            let label = job.label(pole);
            match (landings.on(pole).len(), telling::landed(job, landings, pole)) {
                (1, Some(landed)) => format!("{landed} at {label}"),
                _ => format!("what is on {label}"),
            }
        });
        let name = job.part_label(source);
        format!("exchange {plus} and {minus}: all that {name} feeds stands the wrong way round")
    })
}

/// What to exchange where a part is fed the wrong way round, by the labels of what lands on the two terminals.
pub(super) fn exchange(job: &Job, landings: &Landings, plus: TerminalId, minus: TerminalId) -> String {
    if let Some(fix) = exchange_far_ends(job, landings, plus, minus) {
        return fix;
    }
    match (telling::landed(job, landings, plus), telling::landed(job, landings, minus)) {
        (Some(a), Some(b)) => format!(
            "exchange {a} at {} and {b} at {}, or the pair further back",
            job.label(plus),
            job.label(minus)
        ),
        _ => format!("bring plus to {} and 0 V to {}", job.label(plus), job.label(minus)),
    }
}

/// The same at the other end of the cable, where the two cores are of one and their colours are right at this end.
fn exchange_far_ends(job: &Job, landings: &Landings, plus: TerminalId, minus: TerminalId) -> Option<String> {
    let (&[Landing::Core(a, end)], &[Landing::Core(b, other)]) = (landings.on(plus), landings.on(minus))
    else {
        return None;
    };
    let [on_plus, on_minus] = [a, b].map(|core| job.core(core));
    let coloured = |core: &Core, pole| [wrong(core, pole), wrong(core, pole.opposite())] == [false, true];
    let right = coloured(on_plus, Pole::Plus) && coloured(on_minus, Pole::Minus);
    if on_plus.cable != on_minus.cable || end != other || !right {
        return None;
    }
    let far = [on_plus, on_minus].map(|core| core.ends[usize::from(1 - end)].to.terminal());
    let [Some(far_plus), Some(far_minus)] = far else { return None };
    let [far_plus, far_minus] = [far_plus, far_minus].map(|at| job.label(at));
    let [a, b] = [a, b].map(|core| job.core_label(core));
    Some(format!("exchange {a} at {far_plus} and {b} at {far_minus}, or the pair further back"))
}

/// A way in from the wrong end, and the state in which it counts, in words.
fn wrong_way<'c>(
    job: &Job,
    circuit: &'c Circuit,
    id: PartId,
    near: TerminalId,
) -> Option<(&'c Feed, Option<String>)> {
    let feeds = &circuit.feeds(id).ways;
    let lost = job.part(id).kind.load_ends().is_some_and(|ends| circuit.fed_by_the_lost(job, ends));
    let direct = |feed: &&Feed| rectified(job, feed) || feed.sources.iter().all(|source| is_dc(job, *source));
    let mut wrong: Vec<&Feed> = feeds.iter().filter(|feed| !feed.forward).filter(direct).collect();
    wrong.sort_by_key(|feed| (!feed.hard, feed.needs.len()));
    wrong.into_iter().find_map(|feed| {
        let (state, words) = telling::comes_about(job, circuit, &feed.needs, near, &feed.sources)?;
        let right = |state: &State| feeds.iter().any(|f| f.forward && circuit.holds(&f.needs, state));
        let counts = feed.hard || (!lost && !right(&state) && circuit.unbridged(job, id, feed, &state));
        counts.then_some((feed, words))
    })
}
