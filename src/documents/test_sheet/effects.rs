//! Every line of cause and effect: the state to set, the points to touch, the value.

use super::super::stand::{Pose, Probe, Spread, Stand};
use super::live::{DEAD, at_device, input_test, volts_unit};
use super::{Expect, Kind, METER, OPEN, Test};
use crate::netlist::{Condition, Kind as Part, LoopValue, PartId, StateWord, TerminalId};
use crate::units::Rated;

pub(super) fn add(stand: &Stand, tests: &mut Vec<Test>) {
    let job = stand.job;
    for line in &job.cause_and_effect {
        let pose = stand.cause(line);
        for effect in &line.then {
            let test = match &pose {
                Some(pose) => of_effect(stand, pose, effect),
                None => {
                    let how = format!(
                        "Power on, {}. It cannot be worked out from the circuit; watch for the effect.",
                        job.cause_words(line)
                    );
                    Test::new(Kind::Effect, job.condition_words(effect), how, Expect::word("yes"), "")
                }
            };
            tests.push(test);
        }
    }
}

/// The test of one effect in its condition.
fn of_effect(stand: &Stand, pose: &Pose, effect: &Condition) -> Test {
    let job = stand.job;
    let found = effect.parts(job).into_iter().find_map(|id| of_part(stand, pose, effect.state, id));
    let test = found.unwrap_or_else(|| {
        let how = format!("Power on, {}. No figure can be worked out; watch for the effect.", pose.words);
        Test::new(Kind::Effect, job.condition_words(effect), how, Expect::word("yes"), "")
    });
    if pose.still {
        return test;
    }
    Test { how: format!("{} The relays of this job never come to rest here.", test.how), ..test }
}

fn of_part(stand: &Stand, pose: &Pose, wanted: StateWord, id: PartId) -> Option<Test> {
    let job = stand.job;
    match (&job.part(id).kind, wanted) {
        (Part::Load(load), _) => consumer(stand, pose, wanted, id, [load.plus, load.minus], load.volts),
        (Part::Coil(coil), _) => consumer(stand, pose, wanted, id, [coil.plus, coil.minus], coil.volts),
        (Part::Input(input), StateWord::Active | StateWord::Inactive) => {
            input_test(stand, Kind::Effect, pose, id, input, wanted == StateWord::Active)
        }
        (Part::DryInput(dry), StateWord::Closed | StateWord::Open) => {
            // On the input itself a meter would read the device.
            let [at, to] = dry.between.map(|end| job.label(end));
            let leads = format!("what was taken off {at} to {to}");
            Some(contact(stand, pose, dry.between, wanted == StateWord::Closed, &leads, &job.part_label(id)))
        }
        (Part::Contact(contact_set), StateWord::Operated | StateWord::AtRest) => {
            let (throw, closed) = match (contact_set.no, contact_set.nc) {
                (Some(no), _) => (no, wanted == StateWord::Operated),
                (None, Some(nc)) => (nc, wanted == StateWord::AtRest),
                (None, None) => return None,
            };
            let ends = [contact_set.common, throw];
            let [common, to] = ends.map(|end| job.label(end));
            Some(contact(stand, pose, ends, closed, &format!("{common} to {to}"), &job.part_label(id)))
        }
        (Part::Supervised(watched), StateWord::Rest | StateWord::Alarm | StateWord::Tamper) => {
            let value = match wanted {
                StateWord::Rest => watched.rest,
                StateWord::Alarm => watched.alarm,
                _ => watched.tamper,
            };
            let probe = Probe::Ohms(watched.at, watched.common);
            let ohms = stand.read(pose, probe);
            let expect = match (value, ohms) {
                (Some(LoopValue::Ohms(target)), _) => {
                    let slack = watched.within.0 * target.0;
                    Expect::figure(ohms.unwrap_or(target.0), target.0 - slack, target.0 + slack)
                }
                (Some(LoopValue::Open), _) => Expect::open(),
                (Some(LoopValue::Shorted), _) => Expect::ohms(ohms.unwrap_or(0.0)),
                (None, Some(ohms)) => Expect::ohms(ohms),
                (None, None) => Expect::open(),
            };
            let at = format!("{} to {}", job.label(watched.at), job.label(watched.common));
            let how = format!(
                "Power on, {}, the loop off the panel. Ohm meter; then back on: the panel shows {} as {}.",
                pose.words,
                job.part_label(id),
                wanted.word()
            );
            Some(Test::new(Kind::Effect, at, how, expect, "Ω").probed(pose, probe))
        }
        _ => None,
    }
}

/// Volts at a load or coil that shall be powered, dead, or powered one way round.
fn consumer(
    stand: &Stand,
    pose: &Pose,
    wanted: StateWord,
    id: PartId,
    [plus, minus]: [TerminalId; 2],
    rated: Option<Rated>,
) -> Option<Test> {
    let job = stand.job;
    let unit = volts_unit(stand.is_ac(plus));
    let at = format!("{} to {}", job.label(plus), job.label(minus));
    let probe = Probe::Volts(plus, minus);
    let dead = match wanted {
        StateWord::Dead | StateWord::AtRest => true,
        StateWord::Powered | StateWord::Operated | StateWord::Forward | StateWord::Reverse => false,
        _ => return None,
    };
    let state = match wanted {
        StateWord::AtRest => "let go",
        StateWord::Operated => "pulled in",
        other => other.word(),
    };
    let how = format!("Power on, {}. {} is {state}. Meter on {unit}.", pose.words, job.part_label(id));
    let spread = stand.spread(pose, probe);
    let nothing = Spread { expect: 0.0, low: 0.0, high: 0.0 };
    let expect = if dead {
        let spread = spread.unwrap_or(nothing);
        // A meter on AC shows no sign.
        let low = if stand.is_ac(plus) { 0.0 } else { -DEAD };
        Expect::figure(spread.expect, low, DEAD.max(spread.high))
    } else {
        let spread = spread.unwrap_or(nothing);
        let (low, high) = at_device(&spread, rated);
        Expect::figure(spread.expect, low, high)
    };
    Some(Test::new(Kind::Effect, at, how, expect, unit).probed(pose, probe))
}

/// A contact that shall be closed or open; `leads` says where those of the meter go once the core is off.
fn contact(
    stand: &Stand,
    pose: &Pose,
    [a, b]: [TerminalId; 2],
    closed: bool,
    leads: &str,
    name: &str,
) -> Test {
    let job = stand.job;
    let at = format!("{} to {}", job.label(a), job.label(b));
    let word = if closed { "closed" } else { "open" };
    let how = format!(
        "Power on, {}; what lands on {} taken off it, so that no other path counts. First no volts between the leads, \
         then ohm meter from {leads}; {name} is {word}.",
        pose.words,
        job.label(a)
    );
    let expect = if closed {
        // Some ohms of cable and contact; what matters is that it is not open.
        let ohms = stand.read(pose, Probe::Ohms(a, b)).unwrap_or(0.0);
        Expect::Word { word, low: None, high: Some(ohms * 1.1 + 10.0 * METER) }
    } else {
        Expect::Word { word, low: Some(OPEN), high: None }
    };
    Test::new(Kind::Effect, at, how, expect, "Ω").probed(pose, Probe::Ohms(a, b))
}
