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
//! A splice may stand at both ends, and so may a device that both ends of one and the same core land on.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeMap;

use crate::circuit::Circuit;
use crate::netlist::{CoreId, DeviceId, End, Form, Job};

use super::report::Report;

pub(super) fn run(job: &Job, _: &Circuit, report: &mut Report) {
    for (cable_id, cable) in job.cable_ids() {
        let mut at: BTreeMap<DeviceId, [Vec<CoreId>; 2]> = BTreeMap::new();
        for core in cable.cores.iter().map(CoreId) {
            for (end, to) in job.core(core).ends.iter().enumerate() {
                let End::Terminal(terminal) = to.to else { continue };
                let device = job.terminal(terminal).device;
                if job.device(device).form != Form::Splice {
                    at.entry(device).or_default()[end].push(core);
                }
            }
        }
        // A core that is written the wrong way round turns its other device too: one finding tells it.
        let mut told: Vec<CoreId> = Vec::new();
        for (device, [near, far]) in at {
            let Some((right, wrong, end)) = sides(&near, &far) else { continue };
            if told.contains(&wrong) {
                continue;
            }
            told.push(wrong);
            let name = &job.device(device).name;
            let message = format!(
                "{name} stands at the {} end of {} and at the {} end of {}: one of them is written the wrong way round",
                ["near", "far"][1 - end],
                job.core_label(right),
                ["near", "far"][end],
                job.core_label(wrong),
            );
            let fix = format!("write the two ends of {} in the other order", job.core_label(wrong));
            report
                .find(message, fix)
                .at(job.core(wrong).ends[end].place, "")
                .at(job.core(right).ends[1 - end].place, "")
                .about(wrong)
                .about(cable_id);
        }
    }
}

/// A core that stands right, one that is turned, and the end of that one: the fewer are turned, else the later.
fn sides(near: &[CoreId], far: &[CoreId]) -> Option<(CoreId, CoreId, usize)> {
    let end = if near.len() < far.len() { 0 } else { 1 };
    let (many, few) = if end == 0 { (far, near) } else { (near, far) };
    let wrong = *few.last()?;
    let right = *many.iter().find(|core| **core != wrong)?;
    Some((right, wrong, end))
}
