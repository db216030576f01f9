//! A part gets too few volts because the cable loses them.
//!
//! ## On site
//!
//! It works on the bench and not at the end of the run: the lock does not pull, the siren is hoarse, the controller
//! resets when the motor starts.
//!
//! ## Why
//!
//! Every core is a resistor, there and back. What all loads on it draw together is lost along it.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: alarm-4x0.22, length: 60 m, cores: {red: [G1.V+, Y1.V+], black: [G1.V-, Y1.V-], blue: taped, white: taped}}
//! ```
//!
//! 60 m of 0.22 mm² there and back are 10.7 Ω: a magnet of 0.5 A on 12 V is left with about 7 V.
//!
//! ## Cure
//!
//! Take a larger core, double it with the spare ones, feed from nearer, or use a higher voltage.
//!
//! ## Limits
//!
//! It is an error where the part sits below its range in the worst state in which it is fed, with the source at its `low` if
//! that is stated; a warning where more than 5 per cent of the nominal volts are lost. Conductors are taken at 20 °C. The 0.7 V of a
//! diode are not counted as lost, but they count towards the range. What is fed only while another source is lost is noted as
//! not checked.
//!
//! ## Sources
//!
//! Resistances: IEC 60228, ASTM B258, IEC 60028. 5 per cent: BS 7671 Appendix 4; also common in lock makers' charts.

use std::borrow::Cow;
use std::collections::BTreeSet;

use crate::circuit::{Circuit, Fed, Feed, Landings, Loss};
use crate::diagnostic::Severity;
use crate::netlist::{CoreId, Job, Kind, PartId, Pole};
use crate::units::{Rated, Volts};

use super::astray::astray;
use super::fed::comes_about;
use super::lost_feed::names;
use super::report::Report;
use super::{telling, unstated};

/// So many parts in the path are not named any more.
const NAMED: usize = 4;
/// The share of the nominal volts that may be lost.
const LOST: f64 = 0.05;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let survey = circuit.survey(job);
    let mut in_series: BTreeSet<PartId> = BTreeSet::new();
    for (id, part) in job.part_ids() {
        let rated = match &part.kind {
            Kind::Load(load) => load.volts,
            Kind::Coil(coil) => coil.volts,
            _ => continue,
        };
        let name = job.part_label(id);
        let feeds = &circuit.feeds(id).ways;
        let silent = silent(job, circuit, id, feeds);
        if !silent.is_empty() {
            silent.into_iter().for_each(|part| unstated::tell(job, part, report));
            continue;
        }
        let Some(fed) = survey.fed(id) else {
            // The survey works out the states in which every source gives what it should.
            if !feeds.iter().any(|feed| circuit.reachable(&feed.needs).state().is_some())
                && feeds.iter().any(|feed| comes_about(job, circuit, feed))
            {
                let fix = "measure its volts on site with that source off";
                let place = job.device(part.device).place;
                let missing = format!("{name} is fed only while another source is lost");
                report.not_checked(missing, fix).at(place, "").about(part.device);
            }
            continue;
        };
        if let Some(rated) = rated {
            look(job, circuit, id, rated, fed, &mut in_series, report);
        }
    }
    for (id, part) in job.part_ids() {
        if let Kind::Source(source) = &part.kind
            && survey.sampled(source.plus)
        {
            let name = job.part_label(id);
            let missing = format!("the circuit of {name} has too many states to work all of them out");
            let fix = "measure the volts of its loads with everything on";
            report.not_checked(missing, fix).at(job.device(part.device).place, "").about(part.device);
        }
    }
    unknown_cores(job, circuit, report);
}

/// What does not say its current, of a part that is fed and of what lies on its ways, if those that feed it lead through
/// other parts.
fn silent(job: &Job, circuit: &Circuit, id: PartId, feeds: &[Feed]) -> BTreeSet<PartId> {
    let hard = feeds.iter().any(|feed| feed.hard);
    let feeding = feeds.iter().filter(|feed| feed.hard == hard);
    let on_the_ways = feeding.clone().filter(|feed| !feed.hard).flat_map(|feed| &feed.parts);
    let silent: BTreeSet<PartId> =
        on_the_ways.chain([&id]).copied().filter(|part| job.part(*part).kind.is_silent()).collect();
    let fed = |feed: &Feed| circuit.reachable(&feed.needs).state().is_some();
    if silent.is_empty() || feeding.into_iter().any(fed) { silent } else { BTreeSet::new() }
}

fn look(
    job: &Job,
    circuit: &Circuit,
    id: PartId,
    rated: Rated,
    fed: &Fed,
    in_series: &mut BTreeSet<PartId>,
    report: &mut Report,
) {
    let (landings, name) = (circuit.landings(), job.part_label(id));
    let tenth = |volts: f64| Volts((volts * 10.0).round() / 10.0);
    let low = fed.lowest.value.0;
    let share = fed.lost.as_ref().map_or(0.0, |lost| lost.volts.0 / rated.nominal.0);
    // Where several sources may feed it, the one that does is named.
    let feeds = &circuit.feeds(id).ways;
    let from = |loss: &Loss| {
        let sources = loss.from(circuit, id);
        let others = feeds.iter().any(|feed| *feed.sources != *sources);
        if others { format!(" from {}", telling::sources(job, sources)) } else { String::new() }
    };
    let mut follows = false;
    let mut fix = Cow::Borrowed("use larger or doubled cores, feed it from nearer, or use a higher voltage");
    let (message, state, severity) = if low < rated.range.low.0 - 1e-3 {
        let state = telling::at(circuit, &fed.lowest.state);
        let why = match circuit.survey(job).starved(id) {
            Some(loss) if loss.volts.0 > 1e-3 => {
                format!("the way to it{} loses {}", from(loss), tenth(loss.volts.0))
            }
            Some(loss) => {
                fix = "feed it from a source that gives it enough".into();
                let source = from(loss);
                let source = source.strip_prefix(" from ").unwrap_or("its source");
                format!("{source} gives no more")
            }
            None => {
                let straight = "lead both its ends straight to the supply, past the parts in series with it";
                let other = exchanged(job, circuit, landings, id, report);
                fix = other.map_or(straight.into(), Cow::Owned);
                let beside: BTreeSet<PartId> = loads_on_ways(job, circuit, id);
                // What starves with it in one row starves for one reason.
                follows = beside.iter().any(|other| in_series.contains(other));
                in_series.insert(id);
                match beside.len() {
                    0 | NAMED.. => "other parts lie in its path and take the rest".to_owned(),
                    1 => format!("{} lies in its path and takes the rest", names(job, beside.into_iter())),
                    _ => format!("{} lie in its path and take the rest", names(job, beside.into_iter())),
                }
            }
        };
        // As many decimals as tell it from what is needed.
        let needed = rated.range.low;
        let parts = [10.0, 100.0, 1000.0].map(|parts| (low * parts).round() / parts);
        let gets = Volts(parts.into_iter().find(|volts| *volts < needed.0).unwrap_or(low));
        let message =
            format!("{name} gets {gets}{} and needs {needed}: {why}", telling::clause(state.as_deref()));
        (message, state, Severity::Error)
    } else if let Some(loss) = fed.lost.as_ref().filter(|_| share > LOST + 1e-6) {
        let state = telling::at(circuit, &loss.state);
        // A digit more where the limit itself would be printed.
        let percent = (share * 100.0).round();
        let percent = if percent > LOST * 100.0 { percent } else { (share * 1000.0).ceil() / 10.0 };
        let message = format!(
            "the way to {name}{} loses {}{}, {percent} % of {}",
            from(loss),
            tenth(loss.volts.0),
            telling::clause(state.as_deref()),
            of(rated)
        );
        (message, state, Severity::Warning)
    } else {
        return;
    };
    let Some([plus, _]) = job.part(id).kind.load_ends() else { return };
    let draft = report.find(message, fix);
    draft.severity(severity).at(telling::landing(job, landings, plus), "").about(plus).of(id);
    draft.follows = follows;
    if let Some(state) = state {
        draft.when(state);
    }
}

/// The loads, coils and resistors through which a part is fed.
fn loads_on_ways(job: &Job, circuit: &Circuit, id: PartId) -> BTreeSet<PartId> {
    let parts = circuit.feeds(id).ways.iter().flat_map(|feed| feed.parts.iter().copied());
    parts.filter(|part| job.part(*part).kind.soft_ends().is_some()).collect()
}

/// What to exchange where one end of a part is on a pole, and the other pole lies on a signal's terminal of its device.
fn exchanged(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    id: PartId,
    report: &mut Report,
) -> Option<String> {
    let [plus, minus] = job.part(id).kind.load_ends()?;
    let (open, has, lacks) = match (circuit.hard_poles(plus), circuit.hard_poles(minus)) {
        (has, none) if none.is_empty() => (minus, has, Pole::Minus),
        (none, has) if none.is_empty() => (plus, has, Pole::Plus),
        _ => return None,
    };
    let wanted =
        has.into_iter().filter(|(_, pole)| *pole != lacks).map(|(source, _)| (source, lacks)).collect();
    astray(job, circuit, landings, open, &wanted, report)
}

/// The nominal volts of a part, and what they are where it states a range alone.
fn of(rated: Rated) -> String {
    let Rated { nominal, range } = rated;
    if Rated::from_range(range) == rated && range.low != range.high {
        format!("{nominal}, the middle of its {rated}")
    } else {
        format!("its {nominal}")
    }
}

/// Says of cables whose resistance is not known, though their cores carry current, that they were left out.
fn unknown_cores(job: &Job, circuit: &Circuit, report: &mut Report) {
    for (id, cable) in job.cable_ids() {
        let carries = |core: CoreId| circuit.survey(job).core(core).is_some_and(|worst| worst.value.0 > 1e-3);
        if !cable.cores.iter().map(CoreId).any(carries) {
            continue;
        }
        let (missing, fix) = if cable.length.is_none() {
            (format!("{} has no length", cable.name), "write `length:` for it")
        } else if cable.ohm_per_km.is_none() {
            (format!("{} has no conductor size", cable.name), "state `area:` in its cable data")
        } else {
            continue;
        };
        report.not_checked(missing, fix).at(cable.place, "").about(id);
    }
}
