//! The sums of an exercise, each with its working.

use super::dice::Dice;
use crate::circuit::Circuit;
use crate::netlist::exercise::{Question, Right};
use crate::netlist::{Cable, CoreId, Draw, Job, Kind, PartId, Source, TerminalId, listed};
use crate::units::{Amps, OhmsPerKm};

/// A sum.
#[derive(Clone, Debug, PartialEq)]
pub struct Sum {
    /// What is asked.
    pub question: String,
    /// The working, step by step, and what comes out.
    pub working: String,
    /// What is written down at the end.
    pub asked: Vec<Asked>,
}

/// A figure or a word that a sum asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// What it is called in the answer file: `lost`.
    pub name: &'static str,
    /// What it is called on the sheet: `Volts lost`.
    pub heading: &'static str,
    /// What is right.
    pub right: Right,
}

impl Sum {
    /// Its marks: one for each thing that it asks for.
    #[must_use]
    pub fn marks(&self) -> usize {
        self.asked.len()
    }

    /// Its questions, as the sum of a number.
    pub fn questions(&self, number: usize) -> impl Iterator<Item = Question> + '_ {
        self.asked.iter().map(move |asked| Question {
            name: format!("sum {number} {}", asked.name),
            right: asked.right.clone(),
            marks: 1,
        })
    }
}

/// How far a figure may lie from the right one and still count: what rounding on the way makes of it. Our own choice.
const WITHIN: f64 = 0.02;

/// A figure, as the key writes it.
fn figure(value: f64) -> Right {
    Right::Figure(three(value).parse().unwrap_or(value), WITHIN)
}

/// How many drop sums a sheet asks.
const DROPS: usize = 2;

/// A figure with three significant digits.
fn three(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    #[expect(clippy::cast_possible_truncation, reason = "the exponent of a volt or an amp is small")]
    let exponent = value.abs().log10().floor() as i32;
    let decimals = usize::try_from(2 - exponent).unwrap_or(0);
    format!("{value:.decimals$}")
}

/// What arrives of some volts: it may be as far off as the loss may, and a hundredth for rounding. It may also be
/// rounded to a tenth, as long as more than half of what is lost is seen in it.
fn arrives(volts: f64, lost: f64) -> Right {
    let left = volts - lost;
    let within = (WITHIN * lost + 0.01).max((lost / 2.0).min(0.05)) / left.abs().max(0.1);
    let rounded = |value: f64, digits: f64| (value * digits).round() / digits;
    Right::Figure(rounded(left, 1e3), rounded(within, 1e5))
}

/// Drop and budget sums with the lengths of the job; the loads are chosen by the dice.
#[must_use]
pub fn sums(job: &Job, dice: &mut Dice) -> Vec<Sum> {
    let mut all: Vec<Sum> = Vec::new();
    let known = |cable: &&Cable| {
        cable.length.is_some_and(|l| l.0 >= 1.0) && cable.ohm_per_km.is_some() && cable.cores.len() > 1
    };
    let circuit = Circuit::of(job);
    let volts = |cable: &Cable| Some((supply(job, &circuit, cable)?.volts?.0, cable.clone()));
    let cables: Vec<(f64, Cable)> = job.cables.iter().filter(known).filter_map(volts).collect();
    for (volts, cable) in dice.shuffled(cables).iter().take(DROPS) {
        all.extend(drop_sum(cable, *volts, dice));
    }
    for (id, part) in job.part_ids() {
        if let Kind::Source(source) = &part.kind
            && let Some(amps) = source.amps
            && let Some(sum) = budget(job, &circuit, id, amps, dice)
        {
            all.push(sum);
            break;
        }
    }
    all
}

/// The supply that a cable carries: the only one, else the one whose plus a core of it is joined to, else the one that
/// feeds what the cable leads to.
fn supply<'a>(job: &'a Job, circuit: &Circuit, cable: &Cable) -> Option<&'a Source> {
    let sources: Vec<(PartId, &Source)> = job.sources().collect();
    if let [(_, only)] = sources.as_slice() {
        return Some(only);
    }
    let cores = cable.cores.iter().map(|core| job.core(CoreId(core)));
    let ends: Vec<TerminalId> =
        cores.flat_map(|core| &core.ends).filter_map(|end| end.to.terminal()).collect();
    let joined = |source: &Source| ends.iter().any(|end| circuit.joined_past_fuses(*end, source.plus));
    let loads: Vec<PartId> = job
        .part_ids()
        .filter(|(_, part)| part.kind.load_ends().is_some_and(|at| at.iter().any(|at| ends.contains(at))))
        .map(|(id, _)| id)
        .collect();
    let feeds = |source: PartId| loads.iter().any(|load| is_fed(circuit, *load, source));
    let plus = sources.iter().find(|(_, source)| joined(source));
    plus.or_else(|| sources.iter().find(|(id, _)| feeds(*id))).map(|(_, source)| *source)
}

/// Whether a source feeds a load or coil in any state.
fn is_fed(circuit: &Circuit, load: PartId, source: PartId) -> bool {
    circuit.feeds(load).ways.iter().any(|feed| feed.sources.contains(&source))
}

fn drop_sum(cable: &Cable, volts: f64, dice: &mut Dice) -> Option<Sum> {
    let (length, resistance) = (cable.length?, cable.ohm_per_km?);
    #[expect(clippy::cast_precision_loss, reason = "a number below 90")]
    let amps = 0.1 + dice.below(90) as f64 / 100.0;
    // The trainee works with what the sheet says.
    let resistance = OhmsPerKm(three(resistance.value.0).parse().unwrap_or(resistance.value.0));
    let ohms = 2.0 * length.0 * resistance.0 / 1000.0;
    let lost = ohms * amps;
    let name = &cable.name;
    let size = cable.size_text.clone().map(|size| format!(" of {size}")).unwrap_or_default();
    let load = Amps(amps);
    Some(Sum {
        question: format!(
            "{name} is {length} long{size}; a core of it has {}. A load at its end draws {load}. How many volts are lost \
             there and back, and how many of {} V arrive?",
            resistance,
            three(volts)
        ),
        working: format!(
            "2 × {length} × {} ÷ 1000 = {} Ω; {} Ω × {load} = {} V lost; {} V − {} V = {:.2} V arrive.",
            resistance,
            three(ohms),
            three(ohms),
            three(lost),
            three(volts),
            three(lost),
            volts - lost
        ),
        asked: vec![
            Asked { name: "ohms", heading: "Ohms there and back", right: figure(ohms) },
            Asked { name: "lost", heading: "Volts lost", right: figure(lost) },
            Asked { name: "arrive", heading: "Volts that arrive", right: arrives(volts, lost) },
        ],
    })
}

/// Everything that draws from a supply, and one load more, against what the supply gives.
fn budget(job: &Job, circuit: &Circuit, source: PartId, rated: Amps, dice: &mut Dice) -> Option<Sum> {
    let mut loads: Vec<(String, f64)> = Vec::new();
    for (id, part) in job.part_ids() {
        let draw = match &part.kind {
            Kind::Load(load) if !part.existing => load.draw,
            Kind::Coil(coil) => coil.draw,
            _ => None,
        };
        if let Some(Draw::Amps(amps)) = draw
            && is_fed(circuit, id, source)
        {
            loads.push((job.part_label(id), amps.0));
        }
    }
    if loads.is_empty() {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "a number below 60")]
    let more = 0.05 + dice.below(60) as f64 / 100.0;
    let own: f64 = loads.iter().map(|(_, amps)| amps).sum();
    let total = own + more;
    let names: Vec<String> = loads.iter().map(|(name, amps)| format!("{name} {}", Amps(*amps))).collect();
    let steps: Vec<String> = loads.iter().map(|(_, amps)| format!("{} A", three(*amps))).collect();
    let share = total / rated.0 * 100.0;
    let source = job.part_label(source);
    let verdict = if total > rated.0 {
        "too much"
    } else if share > 80.0 {
        "above 80 %, no reserve"
    } else {
        "enough"
    };
    Some(Sum {
        question: format!(
            "All at once draw from {source}: {}. One load more of {} is asked for. {source} gives {rated}. What is the sum, how many \
             per cent of the supply is it, and does the supply suffice with a fifth in reserve?",
            listed(&names),
            Amps(more)
        ),
        working: format!(
            "{} + {} A = {} A; {} A ÷ {} A = {} %: {verdict}.",
            steps.join(" + "),
            three(more),
            three(total),
            three(total),
            three(rated.0),
            three(share)
        ),
        asked: vec![
            Asked { name: "amps", heading: "Amps in all", right: figure(total) },
            Asked { name: "per cent", heading: "Per cent of the supply", right: figure(share) },
            Asked {
                name: "enough",
                heading: "Enough with a fifth in reserve: yes or no",
                right: Right::Word(vec![if share > 80.0 { "no" } else { "yes" }.to_owned()]),
            },
        ],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_arrives_may_be_rounded_but_shows_the_loss() {
        let takes = |lost: f64, given: f64| match arrives(24.0, lost) {
            Right::Figure(value, within) => (given - value).abs() <= within * value,
            _ => false,
        };
        assert!(takes(0.0881, 23.91) && takes(0.0881, 23.9), "as the key rounds it, and to a tenth");
        assert!(takes(0.676, 23.3) && !takes(0.676, 23.4));
        assert!(!takes(0.0881, 24.0), "nothing lost");
        assert!(!takes(0.03, 24.0), "nothing lost");
    }
}
