//! One job made into many: other lengths, other cores, and what is taken away or put wrong.

use super::dice::Dice;
use super::text::{Edit, ends};
use crate::checks;
use crate::circuit::Circuit;
use crate::diagnostic::Severity;
use crate::netlist::{CableId, Colour, CoreId, End, Job, TerminalId};
use crate::units::Metres;

/// A job with the edits that make its file from the file it came from.
#[derive(Clone)]
pub struct Variant {
    /// The job.
    pub job: Job,
    /// The edits.
    pub edits: Vec<Edit>,
}

/// Lengths are multiplied by one of these.
const FACTORS: [f64; 7] = [0.6, 0.7, 0.8, 0.9, 1.1, 1.2, 1.3];

/// Errors and dangers of a job.
fn faults(job: &Job) -> usize {
    let findings = checks::run(job, &Circuit::of(job));
    findings.iter().filter(|f| f.accepted.is_none() && f.severity >= Severity::Warning).count()
}

/// The job with other lengths and, in some cables, other cores. No variation that brings a new fault is kept.
/// `lengths` gives where each cable's length is written.
#[must_use]
pub fn varied(
    job: &Job,
    lengths: &dyn Fn(&str) -> Option<std::ops::Range<usize>>,
    dice: &mut Dice,
) -> Variant {
    let plain = faults(job);
    let mut variant = Variant { job: job.clone(), edits: Vec::new() };
    for id in 0..job.cables.len() {
        let cable = &job.cables[id];
        let factor = dice.one(&FACTORS).copied().unwrap_or(1.0);
        let (Some(length), Some(place)) = (cable.length.filter(|l| l.0 >= 1.0), lengths(&cable.name)) else {
            continue;
        };
        let new = Metres((length.0 * factor * 2.0).round().max(1.0) / 2.0);
        let mut tried = variant.job.clone();
        tried.cables[id].length = Some(new);
        if faults(&tried) <= plain {
            variant.job = tried;
            variant.edits.push((place, new.to_string()));
        }
    }
    for (id, _) in job.cable_ids() {
        exchange_cores(&mut variant, id, plain, dice);
    }
    variant
}

/// Two cores of a cable, one of them spare, change places.
fn exchange_cores(variant: &mut Variant, cable: CableId, plain: usize, dice: &mut Dice) {
    let job = &variant.job;
    let all: Vec<CoreId> =
        job.cable(cable).cores.iter().map(CoreId).filter(|core| job.core(*core).mentioned).collect();
    let spare = |core: &CoreId| job.core(*core).ends.iter().all(|end| end.to.terminal().is_none());
    let polar = |core: &CoreId| {
        let colours = &job.core(*core).colours;
        colours.contains(&Colour::Red) || colours.contains(&Colour::Black)
    };
    let (spares, used): (Vec<CoreId>, Vec<CoreId>) =
        all.into_iter().filter(|core| !polar(core)).partition(spare);
    let (Some(a), Some(b)) = (dice.one(&spares).copied(), dice.one(&used).copied()) else { return };
    if dice.below(2) == 0 {
        return;
    }
    let mut tried = job.clone();
    let [first, second] = [a, b].map(|core| job.core(core).ends.map(|end| end.to));
    set(&mut tried, a, second);
    set(&mut tried, b, first);
    if faults(&tried) <= plain {
        let edits = [ends(job, a, second), ends(job, b, first)].concat();
        variant.job = tried;
        variant.edits.extend(edits);
    }
}

/// Gives a core other ends.
pub fn set(job: &mut Job, core: CoreId, to: [End; 2]) {
    if let Some(core) = job.cores.get_mut(core.index()) {
        for (end, to) in core.ends.iter_mut().zip(to) {
            end.to = to;
        }
    }
}

/// Puts mistakes into a sound job: an end on the neighbouring terminal, two cores exchanged at one end, a spare core
/// left bare. Each is a core, the ends that it gets, and what is wrong, in a sentence.
#[must_use]
pub fn mistakes(job: &Job, count: usize, dice: &mut Dice) -> Vec<Mistake> {
    let mut made: Vec<Mistake> = Vec::new();
    let mut touched: Vec<CoreId> = Vec::new();
    let cores = dice.shuffled(job.core_ids().map(|(id, _)| id).collect());
    let mut kind = dice.below(3);
    for core in cores {
        if made.len() == count {
            break;
        }
        if touched.contains(&core) || !job.core(core).mentioned {
            continue;
        }
        for turn in 0..3 {
            if let Some((changes, words)) = mistake(job, core, (kind + turn) % 3, &touched) {
                touched.extend(changes.iter().map(|(core, _)| *core));
                made.push((changes, words));
                kind += 1;
                break;
            }
        }
    }
    made
}

/// The cores that a mistake concerns with the ends that it gives them, and what is wrong, in a sentence.
pub type Mistake = (Vec<(CoreId, [End; 2])>, String);

fn mistake(job: &Job, core: CoreId, kind: usize, touched: &[CoreId]) -> Option<Mistake> {
    let [near, far] = job.core(core).ends.map(|end| end.to);
    let label = job.core_label(core);
    match (kind, far) {
        (0, End::Terminal(at)) => {
            let device = job.device(job.terminal(at).device);
            let next = [at.0 + 1, at.0.wrapping_sub(1)]
                .into_iter()
                .find(|t| device.terminals.iter().any(|own| own == *t))?;
            let next = TerminalId(next);
            let words = format!("{label} is on {} and belongs on {}", job.label(next), job.label(at));
            Some((vec![(core, [near, End::Terminal(next)])], words))
        }
        (1, End::Terminal(at)) => {
            let cable = job.cable(job.core(core).cable);
            let other = cable.cores.iter().map(CoreId).find(|other| {
                *other != core
                    && job.core(*other).mentioned
                    && !touched.contains(other)
                    && job.core(*other).ends[1].to.terminal().is_some_and(|t| t != at)
            })?;
            let [with, there] = job.core(other).ends.map(|end| end.to);
            let words = format!("{label} and {} are exchanged at their far ends", job.core_label(other));
            Some((vec![(core, [near, there]), (other, [with, far])], words))
        }
        (2, End::Safe(_)) => {
            Some((vec![(core, [near, End::Bare])], format!("{label} was left bare at its far end")))
        }
        _ => None,
    }
}
