//! Live tests: each supply alone, then circuit by circuit without load and at its worst, then the inputs at rest.

use std::sync::Arc;

use super::super::stand::{Pose, Probe, Spread, Stand};
use super::dead::loops;
use super::{AT_DEVICE, CHARGED, Expect, Kind, SUPPLY, Test};
use crate::circuit::Circuit;
use crate::circuit::solve::{LOOP_MOST, input_limits};
use crate::netlist::{Active, Current, Draw, Input, Job, Kind as Part, PartId, Source, TerminalId};
use crate::units::{Amps, Rated, Volts};

pub(super) fn add(stand: &Stand, circuit: &Circuit, tests: &mut Vec<Test>) {
    supplies(stand.job, tests);
    no_load(stand, circuit, tests);
    worst(stand, circuit, tests);
    currents(stand, circuit, tests);
    inputs(stand, tests);
    loops(stand, circuit, Kind::Input, tests);
    current_loops(stand, tests);
}

/// `V DC` or `V AC` on the meter.
pub(super) fn volts_unit(ac: bool) -> &'static str {
    if ac { "V AC" } else { "V DC" }
}

/// The limits of a source's volts when nothing is on it: stated, else a share of the nominal. The lower limit that is
/// stated of a battery is where it is empty; one that reads below its nominal volts at rest has to be charged first.
fn source_limits(source: &Source, volts: f64) -> (f64, f64) {
    if source.battery {
        return (volts, charged(source, volts).max(volts));
    }
    let low = source.low.map_or(volts * (1.0 - SUPPLY), |low| low.0);
    let high = source.high.map_or(volts * (1.0 + SUPPLY), |high| high.0);
    (low, high)
}

/// The most that a battery gives: stated, else [`CHARGED`].
pub fn charged(source: &Source, volts: f64) -> f64 {
    source.high.map_or(volts * CHARGED, |high| high.0)
}

/// The job with the limits of its sources in it, charged batteries among them, where it does not say those itself: what is
/// right for a source alone is right at what it feeds.
pub(super) fn with_limits(job: &Job) -> Job {
    let mut job = job.clone();
    for part in &mut job.parts {
        if let Part::Source(source) = &mut part.kind
            && let Some(volts) = source.volts
        {
            let (low, high) = source_limits(source, volts.0);
            source.high = Some(Volts(high));
            if !source.battery {
                source.low = Some(Volts(low));
            }
        }
    }
    job
}

fn supplies(job: &Job, tests: &mut Vec<Test>) {
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let Part::Source(source) = &part.kind else { continue };
        let at = format!("{} to {}", job.label(source.plus), job.label(source.minus));
        let unit = volts_unit(source.current == Current::Ac);
        let first = if source.battery {
            "Only the battery, off its charger for an hour"
        } else {
            "This supply alone, the others off"
        };
        let sign = if source.current == Current::Dc { "; a minus sign means reversed" } else { "" };
        let how = format!("{first}, all fuses out, nothing on it. Meter on {unit}{sign}.");
        let expect = match source.volts {
            Some(volts) => {
                let (low, high) = source_limits(source, volts.0);
                Expect::figure(volts.0, low, high)
            }
            None => Expect::word("as marked"),
        };
        let how = if source.volts.is_some() {
            how
        } else {
            format!("{how} No figure: the volts of {} are not stated.", job.part_label(id))
        };
        tests.push(Test::new(Kind::Supply, at, how, expect, unit));
    }
}

/// The loads and coils that are asked for: their ends and what they are made for.
fn consumers(job: &Job) -> Vec<(PartId, [TerminalId; 2], Option<Rated>)> {
    let all = job.part_ids().filter(|(_, part)| !part.existing);
    all.filter_map(|(id, part)| match &part.kind {
        Part::Load(load) => Some((id, [load.plus, load.minus], load.volts)),
        Part::Coil(coil) => Some((id, [coil.plus, coil.minus], coil.volts)),
        _ => None,
    })
    .collect()
}

/// The state in which a load or coil is fed without another load in between.
fn fed(stand: &Stand, circuit: &Circuit, id: PartId, at: TerminalId) -> Option<(Pose, bool)> {
    let feeds = &circuit.feeds(id).ways;
    let feed =
        feeds.iter().find(|feed| feed.hard && feed.forward).or_else(|| feeds.iter().find(|f| f.hard))?;
    let state = circuit.sound(&feed.needs, at).state()?;
    Some((stand.in_state(state), feed.forward))
}

/// Volts at each device before it is plugged in: what the wiring brings there when nothing draws.
fn no_load(stand: &Stand, circuit: &Circuit, tests: &mut Vec<Test>) {
    let job = stand.job;
    let mut idle = job.clone();
    for part in &mut idle.parts {
        match &mut part.kind {
            Part::Load(load) => Arc::make_mut(&mut load.of).draw = Some(Draw::Amps(Amps(0.0))),
            Part::Coil(coil) => Arc::make_mut(&mut coil.of).draw = Some(Draw::Amps(Amps(0.0))),
            _ => {}
        }
    }
    let idle_stand = Stand::of(&idle, circuit);
    for (id, [plus, minus], _) in consumers(job) {
        let Some((pose, _)) = fed(stand, circuit, id, plus) else { continue };
        let Some(spread) = idle_stand.spread(&pose, Probe::Volts(plus, minus)) else { continue };
        let unit = volts_unit(stand.is_ac(plus));
        let how = format!(
            "{} unplugged, the fuse of its circuit in, {}. Meter on {unit} at the conductors for it.",
            job.device(job.part(id).device).name,
            pose.words
        );
        let slack = SUPPLY * spread.expect.abs();
        // A limit that the sources make is one; what the solver's last digits make is none.
        let apart = 1e-6 * spread.expect.abs();
        let low = if spread.low < spread.expect - apart { spread.low } else { spread.expect - slack };
        let high = if spread.high > spread.expect + apart { spread.high } else { spread.expect + slack };
        let at = format!("{} to {}", job.label(plus), job.label(minus));
        tests.push(Test::new(Kind::NoLoad, at, how, Expect::figure(spread.expect, low, high), unit));
    }
}

/// Volts at each device in the state that brings it least.
fn worst(stand: &Stand, circuit: &Circuit, tests: &mut Vec<Test>) {
    let job = stand.job;
    let survey = circuit.survey(job);
    for (id, [plus, minus], rated) in consumers(job) {
        let unit = volts_unit(stand.is_ac(plus));
        let at = format!("{} to {}", job.label(plus), job.label(minus));
        let name = job.part_label(id);
        let Some(worst) = survey.fed(id).map(|fed| &fed.lowest) else {
            let how = format!("Nothing in this job feeds {name} in any state: it is to stay dead.");
            let expect = Expect::figure(0.0, 0.0, DEAD);
            tests.push(Test::new(Kind::WorstCase, at, how, expect, unit));
            continue;
        };
        let pose = stand.in_state(worst.state.clone());
        let probe = Probe::Volts(plus, minus);
        let Some(spread) = stand.spread(&pose, probe) else { continue };
        let how = format!("Everything plugged in and on, {}. Meter on {unit} at {name} itself.", pose.words);
        let how = if survey.sampled(plus) {
            format!("{how} Of many states only some were worked out.")
        } else {
            how
        };
        let (low, high) = at_device(&spread, rated);
        let test = Test::new(Kind::WorstCase, at, how, Expect::figure(spread.expect, low, high), unit);
        tests.push(test.probed(&pose, probe));
    }
}

/// Volts up to which a load counts as dead: what a meter picks up on an open conductor is more, hence the caution to
/// measure at the load. Our own choice.
pub(super) const DEAD: f64 = 0.5;

/// The limits of volts at a device: what the sources' limits and [`AT_DEVICE`] allow, never below the lowest that the
/// device takes nor above the highest.
pub(super) fn at_device(spread: &Spread, rated: Option<Rated>) -> (f64, f64) {
    let slack = AT_DEVICE * spread.expect.abs();
    let (mut low, mut high) = (spread.low.min(spread.expect - slack), spread.high.max(spread.expect + slack));
    if let Some(rated) = rated.filter(|_| spread.expect >= 0.0) {
        low = low.max(rated.range.low.0);
        high = high.min(rated.range.high.0);
        if high < low {
            high = rated.range.high.0;
        }
    }
    (low, high)
}

/// Amps through each fuse, and out of each source, in the worst state.
fn currents(stand: &Stand, circuit: &Circuit, tests: &mut Vec<Test>) {
    let job = stand.job;
    let survey = circuit.survey(job);
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let (rating, at) = match &part.kind {
            Part::Fuse(fuse) => (fuse.amps, format!("in place of the fuse {}", job.part_label(id))),
            Part::Source(source) if !source.battery => (
                source.amps,
                format!("out of {}, in the core on {}", job.part_label(id), job.label(source.plus)),
            ),
            _ => continue,
        };
        let Some(worst) = survey.part(id).filter(|worst| worst.value.0 > 0.0) else { continue };
        let pose = stand.in_state(worst.state.clone());
        let Some(spread) = stand.spread(&pose, Probe::Amps(id)) else { continue };
        let value = spread.expect.max(worst.value.0);
        let mut how =
            format!("Everything plugged in and on, {}. Meter on amps, or a clamp meter.", pose.words);
        // One charges the other otherwise, which adds to what is read or takes from it.
        if part.kind.terminals().iter().any(|at| stand.is_shared(&pose, *at)) {
            how.push_str(" A charger and a battery share what is fed here: with one of them off.");
        }
        // What the list of a job states as a load's current is its most; less is no fault.
        let high = (value * 1.1 + 0.01).min(rating.map_or(f64::INFINITY, |amps| amps.0));
        tests.push(Test::new(Kind::Current, at, how, Expect::figure(value, 0.0, high), "A"));
    }
}

/// Each input at rest.
fn inputs(stand: &Stand, tests: &mut Vec<Test>) {
    let job = stand.job;
    let rest = stand.rest();
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let Part::Input(input) = &part.kind else { continue };
        if !is_wired(job, input.at) {
            continue;
        }
        let active = stand.look(&rest, |solution| solution.active(id));
        if let Some(test) = input_test(stand, Kind::Input, &rest, id, input, active) {
            tests.push(test);
        }
    }
}

/// Each 4–20 mA input that a loop goes through: its volts over its own ohms, whatever the transmitter measures.
fn current_loops(stand: &Stand, tests: &mut Vec<Test>) {
    let job = stand.job;
    let rest = stand.rest();
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let Part::Analogue(end) = &part.kind else { continue };
        if !end.reads_loop() || !is_wired(job, end.plus) {
            continue;
        }
        let name = job.part_label(id);
        let at = format!("{} to {}", job.label(end.plus), job.label(end.minus));
        let how = format!("Power on, at rest. Meter on V DC across {name}, the loop closed");
        let Some(ohms) = end.ohms else {
            let how = format!("{how}. No figure: the ohms of {name} are not stated.");
            // No input in use has fewer than 25 Ω (our own choice).
            let expect = Expect::Word { word: "alive", low: Some(LOOP_MEASURES[0] * 25.0), high: None };
            tests.push(Test::new(Kind::Input, at, how, expect, "V DC"));
            continue;
        };
        let mut how =
            format!("{how}: 4 to 20 mA over its {ohms}. Near 0 V the loop is broken or turned round.");
        let amps = stand.look(&rest, |solution| solution.part_amps(id)).map_or(0.0, |amps| amps.0);
        if !(LOOP_MEASURES[0]..=LOOP_MOST.0 * 1.01).contains(&amps) {
            how.push_str(
                " As the job is written no such current flows, or what drives it is not worked out.",
            );
        }
        let [low, high] = LOOP_MEASURES.map(|amps| Some(amps * ohms.0));
        tests.push(Test::new(Kind::Input, at, how, Expect::Word { word: "alive", low, high }, "V DC"));
    }
}

/// Between these amps a 4–20 mA loop measures; beyond them it tells of a fault (NAMUR NE 43).
const LOOP_MEASURES: [f64; 2] = [0.0038, 0.0205];

/// Whether a core or link ends on a terminal.
fn is_wired(job: &Job, terminal: TerminalId) -> bool {
    let core = |core: &crate::netlist::Core| core.ends.iter().any(|end| end.to.terminal() == Some(terminal));
    job.cores.iter().any(core) || job.links.iter().any(|link| link.ends.contains(&terminal))
}

/// The test of an input that shall be active or not in a condition; `None` where nothing holds it.
pub(super) fn input_test(
    stand: &Stand,
    kind: Kind,
    pose: &Pose,
    id: PartId,
    input: &Input,
    active: bool,
) -> Option<Test> {
    let job = stand.job;
    let probe = Probe::Volts(input.at, input.common);
    let spread = stand.spread(pose, probe)?;
    let unit = volts_unit(stand.is_ac(input.common));
    let (at, common) = (job.label(input.at), job.label(input.common));
    let how = format!(
        "Power on, {}. Meter on {unit}; {} reads as {}.",
        pose.words,
        job.part_label(id),
        if active { "active" } else { "not active" }
    );
    let rail = stand
        .solver()
        .pull_up(id)
        .and_then(|plus| stand.read(pose, Probe::Volts(plus, input.common)))
        .unwrap_or(0.0);
    let from = match (input_limits(input), input.active) {
        (Some((_, from)), Active::Low) => from.min(rail / 2.0),
        (Some((_, from)), _) => from,
        (None, Active::Low) => rail / 2.0,
        (None, _) => crate::circuit::solve::SIGNAL,
    };
    let until = input_limits(input).map_or(from, |(until, _)| until.min(from));
    let top = spread.high.abs().max(spread.low.abs()).max(rail * (1.0 + SUPPLY));
    let (low, high) = match (input.active, active) {
        (Active::Low, active) if stand.solver().common_on_plus(id) => {
            if active {
                (-top, -crate::circuit::solve::SIGNAL.max(until))
            } else {
                (-until.max(DEAD), DEAD)
            }
        }
        (Active::Low, true) => (-DEAD, (rail - from).max(DEAD)),
        (Active::Low, false) => (rail - until, top),
        (_, true) => (from, top.max(from)),
        (_, false) => (-DEAD, until),
    };
    // An input that takes either pole is reached by a minus as well as by a plus.
    let turned = input.active == Active::Either && active && spread.expect < 0.0;
    let (low, high) = if turned { (-high, -low) } else { (low, high) };
    let expect = Expect::figure(spread.expect, low, high);
    Some(Test::new(kind, format!("{at} to {common}"), how, expect, unit).probed(pose, probe))
}
