//! A device stands at both ends of one cable.
//!
//! ## On site
//!
//! The drawing and the labels send you to the wrong end of the cable: a core seems to end in a box in which it does
//! not.
//!
//! ## Why
//!
//! The first end written is the near end of the cable, the same for all its cores. When two cores of a cable name a
//! device at different ends, one of them is written the wrong way round.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W2:
//!     type: twin-0.5
//!     cores:
//!       red:   [F1.2, H1.V+]
//!       black: [H1.V-, F1.1]
//! ```
//!
//! ## Cure
//!
//! Write the two ends of that core in the other order: `black: [F1.1, H1.V-]`.
//!
//! ## Limits
//!
//! A core of which both devices stand at one end of the cable, as its other cores tell, is no core that is written the wrong way
//! round: one of its ends is wrong, or it is a jumper.
//!
//! A splice may stand at both ends, and so may a device that both ends of one and the same core land on.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::Circuit;
use crate::netlist::{CoreId, DeviceId, End, Form, Job, Run};

use super::report::Report;

pub(super) fn run(job: &Job, _: &Circuit, report: &mut Report) {
    for (cable, entry) in job.cable_ids() {
        let clashes = clashes(job, entry.cores.iter().map(CoreId));
        let mut told: BTreeSet<CoreId> = BTreeSet::new();
        for wrong in turned(&clashes) {
            // Say it at the device that it shares with a core that stands right.
            let Some(clash) = clashes.iter().find(|clash| clash.opposite && clash.cores.contains(&wrong))
            else {
                continue;
            };
            // The core that it clashes with may be the one that comes back; then it stands right itself.
            let [one, other] = clash.cores;
            let back = [wrong, if one == wrong { other } else { one }];
            let comes_back = || back.into_iter().find_map(|core| at_one_end(job, &clashes, core));
            if !goes_round(job, &entry.cores, wrong)
                && let Some((back, end, [a, b])) = comes_back()
            {
                if !told.insert(back) {
                    continue;
                }
                let end = ["near", "far"][end];
                let [a, b] = [a, b].map(|device| &job.device(device).name);
                let core = job.core_label(back);
                let message = format!(
                    "both ends of {core} are at the {end} end of the cable: its other cores have {a} and {b} there"
                );
                let fix = format!(
                    "look where {core} goes at the other end; what joins {a} and {b} is written under `links`"
                );
                let [one, other] = job.core(back).ends.map(|end| end.place);
                report.find(message, fix).at(one, "").at(other, "").about(back).about(cable);
                continue;
            }
            let turned = clash.cores.iter().position(|core| *core == wrong).unwrap_or(0);
            let right = clash.cores[1 - turned];
            let [end, other] = [clash.ends[turned], clash.ends[1 - turned]];
            let name = &job.device(clash.device).name;
            let message = format!(
                "{name} stands at the {} end of {} and at the {} end of {}: one of them is written the wrong way round",
                ["near", "far"][other],
                job.core_label(right),
                ["near", "far"][end],
                job.core_label(wrong),
            );
            let fix = format!("write the two ends of {} in the other order", job.core_label(wrong));
            let [wrong_place, right_place] =
                [job.core(wrong).ends[end].place, job.core(right).ends[other].place];
            report.find(message, fix).at(wrong_place, "").at(right_place, "").about(wrong).about(cable);
        }
    }
}

/// Whether a core written the other way round has each of its devices where all other cores have it, splices too.
fn goes_round(job: &Job, cores: &Run, core: CoreId) -> bool {
    let device = |core: CoreId, end: usize| {
        job.core(core).ends[end].to.terminal().map(|terminal| job.terminal(terminal).device)
    };
    [0, 1].into_iter().all(|end| {
        let Some(here) = device(core, end) else { return true };
        // Turned, this end is the other one.
        cores.iter().map(CoreId).filter(|other| *other != core).all(|other| device(other, end) != Some(here))
    })
}

/// A core with the one end of the cable at which other cores have both its devices, and these devices.
fn at_one_end(job: &Job, clashes: &[Clash], core: CoreId) -> Option<(CoreId, usize, [DeviceId; 2])> {
    let devices = job.core(core).ends.map(|end| end.to.terminal().map(|at| job.terminal(at).device));
    let [Some(a), Some(b)] = devices else { return None };
    let stands = |device: DeviceId| -> BTreeSet<usize> {
        let named = clashes.iter().filter(|clash| clash.device == device);
        let each = named.flat_map(|clash| clash.cores.into_iter().zip(clash.ends));
        each.filter(|(other, _)| *other != core).map(|(_, end)| end).collect()
    };
    let [of_a, of_b] = [a, b].map(stands);
    let end = *of_a.first()?;
    (of_a.len() == 1 && of_a == of_b).then_some((core, end, [a, b]))
}

/// Two cores of one cable that name the same device.
struct Clash {
    device: DeviceId,
    cores: [CoreId; 2],
    ends: [usize; 2],
    /// Whether they name it at different ends.
    opposite: bool,
}

fn clashes(job: &Job, cores: impl Iterator<Item = CoreId>) -> Vec<Clash> {
    let mut at: BTreeMap<DeviceId, Vec<(CoreId, usize)>> = BTreeMap::new();
    for core in cores {
        for (end, to) in job.core(core).ends.iter().enumerate() {
            let End::Terminal(terminal) = to.to else { continue };
            let device = job.terminal(terminal).device;
            if job.device(device).form != Form::Splice {
                at.entry(device).or_default().push((core, end));
            }
        }
    }
    let mut clashes = Vec::new();
    for (device, ends) in at {
        let Some(&(first, first_end)) = ends.first() else { continue };
        clashes.extend(ends.iter().filter(|(core, _)| *core != first).map(|&(core, end)| Clash {
            device,
            cores: [first, core],
            ends: [first_end, end],
            opposite: end != first_end,
        }));
    }
    clashes
}

/// The cores that are written the other way round than most of those that they share devices with; of two halves, the
/// one without the first core.
fn turned(clashes: &[Clash]) -> Vec<CoreId> {
    let mut way: BTreeMap<CoreId, bool> = BTreeMap::new();
    let mut all = Vec::new();
    for start in clashes.iter().map(|clash| clash.cores[0]) {
        if way.contains_key(&start) {
            continue;
        }
        way.insert(start, false);
        let mut group = vec![start];
        let mut next = 0;
        while let Some(&core) = group.get(next) {
            next += 1;
            for clash in clashes.iter().filter(|clash| clash.cores.contains(&core)) {
                let other = if clash.cores[0] == core { clash.cores[1] } else { clash.cores[0] };
                if !way.contains_key(&other) {
                    way.insert(other, way.get(&core).is_some_and(|way| *way) != clash.opposite);
                    group.push(other);
                }
            }
        }
        let (turned, straight): (Vec<CoreId>, Vec<CoreId>) =
            group.iter().partition(|core| way.get(core).is_some_and(|way| *way));
        all.extend(if turned.len() <= straight.len() { turned } else { straight });
    }
    all.sort();
    all
}
