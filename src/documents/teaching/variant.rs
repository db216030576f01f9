//! One job made into many: other lengths, other cores, and what is taken away or put wrong.

use std::ops::Range;

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

/// A change that makes another exercise.
struct Twist {
    length: Option<(usize, Metres)>,
    cores: Vec<(CoreId, [End; 2])>,
    edits: Vec<Edit>,
}

/// The job with other lengths and, in some cables, other cores. No variation that brings a new fault is kept.
/// `lengths` gives where each cable's length is written.
#[must_use]
pub fn varied(job: &Job, lengths: &dyn Fn(&str) -> Option<Range<usize>>, dice: &mut Dice) -> Variant {
    let mut twists: Vec<Twist> = Vec::new();
    for (n, cable) in job.cables.iter().enumerate() {
        let factor = dice.one(&FACTORS).copied().unwrap_or(1.0);
        let Some(length) = cable.length.filter(|l| l.0 >= 1.0) else { continue };
        let new = Metres((length.0 * factor * 2.0).round().max(1.0) / 2.0);
        if let Some(place) = lengths(&cable.name) {
            let edits = vec![(place, new.to_string())];
            twists.push(Twist { length: Some((n, new)), cores: Vec::new(), edits });
        }
    }
    twists.extend(job.cable_ids().filter_map(|(id, _)| exchanged_cores(job, id, dice)));
    let plain = faults(job);
    let mut variant = Variant { job: job.clone(), edits: Vec::new() };
    // All of them together where that brings nothing new, else those that do not.
    if !put(&mut variant, &twists, plain) {
        for twist in twists.chunks(1) {
            put(&mut variant, twist, plain);
        }
    }
    variant
}

/// Puts twists into a variant unless they bring a new fault.
fn put(variant: &mut Variant, twists: &[Twist], plain: usize) -> bool {
    let mut tried = variant.job.clone();
    for twist in twists {
        if let Some((cable, length)) = twist.length
            && let Some(cable) = tried.cables.get_mut(cable)
        {
            cable.length = Some(length);
        }
        for (core, to) in &twist.cores {
            set(&mut tried, *core, *to);
        }
    }
    if faults(&tried) > plain {
        return false;
    }
    variant.job = tried;
    variant.edits.extend(twists.iter().flat_map(|twist| twist.edits.iter().cloned()));
    true
}

/// Two cores of a cable, one of them spare, change places.
fn exchanged_cores(job: &Job, cable: CableId, dice: &mut Dice) -> Option<Twist> {
    let spare = |core: &CoreId| job.core(*core).ends.iter().all(|end| end.to.terminal().is_none());
    let polar = |core: &CoreId| {
        let colours = &job.core(*core).colours;
        colours.contains(&Colour::Red) || colours.contains(&Colour::Black)
    };
    let all = job.cable(cable).cores.iter().map(CoreId);
    let (spares, used): (Vec<CoreId>, Vec<CoreId>) =
        all.filter(|core| job.core(*core).mentioned && !polar(core)).partition(spare);
    let (a, b) = (dice.one(&spares).copied()?, dice.one(&used).copied()?);
    if dice.below(2) == 0 {
        return None;
    }
    let [first, second] = [a, b].map(|core| job.core(core).ends.map(|end| end.to));
    let edits = [ends(job, a, second), ends(job, b, first)].concat();
    Some(Twist { length: None, cores: vec![(a, second), (b, first)], edits })
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
/// left bare. Each is a core, the ends that it gets, and what is wrong, in a sentence. `counts` says whether the job with
/// it is worse than without.
#[must_use]
pub fn mistakes(job: &Job, count: usize, dice: &mut Dice, counts: &dyn Fn(&Rewired) -> bool) -> Vec<Mistake> {
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
            if let Some((changes, words)) = mistake(job, core, (kind + turn) % 3, &touched)
                && counts(&changes)
            {
                touched.extend(changes.iter().map(|(core, _)| *core));
                made.push((changes, words));
                kind += 1;
                break;
            }
        }
    }
    made
}

/// Cores with the ends that they get.
pub type Rewired = [(CoreId, [End; 2])];

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
