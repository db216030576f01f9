//! A battery's plus leads away without a fuse.
//!
//! ## On site
//!
//! A pinched core glows and sets fire to what lies beside it. Even a small battery gives hundreds of amperes into a short.
//!
//! ## Why
//!
//! A supply limits its own current, a battery does not. Only a fuse at its terminal protects the lead that leaves it.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: twin-1.5, length: 2 m, cores: {red: [G2.V+, K1.+V], black: [G2.V-, K1.0V]}}     # G2 is a battery
//! ```
//!
//! ## Cure
//!
//! Put a fuse right at the battery's plus, no larger than the thinnest core behind it takes.
//!
//! ## Limits
//!
//! A part whose data sheet says `fused:` may stand within 0.5 m of the battery without another fuse. A lead that joins the
//! plus of one battery to the minus of the next in a string is exempt; the string's own plus is not. A lead between
//! the battery and its fuse is not measured. What else lands on the fuse's terminal on the battery's side is not behind the
//! fuse, and is told.
//!
//! ## Sources
//!
//! IEC 60364-4-43, 434.2.1: protection where the conductor begins. The 0.5 m are common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing, Landings};
use crate::netlist::{End, Form, Job, Kind, TerminalId};

use super::report::Report;
use super::reversed_polarity::exchange;

/// How far a terminal that is fused inside may be away, in metres.
const NEAR: f64 = 0.5;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for (id, part) in job.part_ids() {
        let Kind::Source(source) = &part.kind else { continue };
        if !source.battery || source.fused.is_some() {
            continue;
        }
        for landing in landings.on(source.plus) {
            let Some((far, metres)) = far_end(job, *landing, source.plus) else { continue };
            let Some(open) = unprotected(job, landings, far, source.plus, metres) else { continue };
            let name = job.part_label(id);
            let place = match landing {
                Landing::Core(core, end) => job.core(*core).ends[usize::from(*end)].place,
                Landing::Link(link) => job.links[link.index()].place,
            };
            let (to, fix) = match fuse_at(job, far) {
                Some((fuse, other)) => (
                    format!("past {fuse} to {}", job.label(open)),
                    if circuit.net_of(far) == circuit.net_of(other) {
                        format!("take off what joins {} and {}", job.label(far), job.label(other))
                    } else {
                        format!(
                            "leave {} to the battery, and land what leads on at {}",
                            job.label(far),
                            job.label(other)
                        )
                    },
                ),
                None if fused(job, landings, source.minus) => (
                    format!("to {} without a fuse, which is on its minus instead", job.label(far)),
                    exchange(job, landings, source.plus, source.minus),
                ),
                None => (
                    format!("to {} without a fuse", job.label(far)),
                    format!("put a fuse right at {}", job.label(source.plus)),
                ),
            };
            let message =
                format!("{name} leads from its plus {to}: a short behind it will set the core on fire");
            report.find(message, fix).at(place, "").about(source.plus).about(far);
        }
    }
}

/// Whether all that lands on a terminal leads straight to a fuse.
fn fused(job: &Job, landings: &Landings, at: TerminalId) -> bool {
    let on = landings.on(at);
    let to_fuse =
        |landing: &Landing| far_end(job, *landing, at).is_some_and(|(far, _)| fuse_at(job, far).is_some());
    !on.is_empty() && on.iter().all(to_fuse)
}

/// The other end of what lands on a terminal, and how far away it is.
fn far_end(job: &Job, landing: Landing, from: TerminalId) -> Option<(TerminalId, Option<f64>)> {
    match landing {
        Landing::Core(core, end) => {
            let End::Terminal(to) = job.core(core).ends[usize::from(1 - end)].to else { return None };
            Some((to, job.cable(job.core(core).cable).length.map(|length| length.0)))
        }
        Landing::Link(link) => {
            let link = &job.links[link.index()];
            let to = link.ends.into_iter().find(|end| *end != from)?;
            // What a suppressor or diode lies across is no lead away from the battery.
            link.across.is_none().then_some((to, Some(0.0)))
        }
    }
}

/// The first terminal, going on from `at` by what else lands on each, that is neither one of a fuse, nor the minus of the
/// next battery, nor near and fused inside. A splice or a strip only leads on: what it leads to decides.
fn unprotected(
    job: &Job,
    landings: &Landings,
    at: TerminalId,
    plus: TerminalId,
    metres: Option<f64>,
) -> Option<TerminalId> {
    let mut seen = BTreeSet::from([at, plus]);
    let mut queue = vec![(at, metres)];
    while let Some((here, so_far)) = queue.pop() {
        let ways: Vec<bool> = job
            .parts_on(here)
            .map(|(_, part)| match &part.kind {
                Kind::Fuse(_) => true,
                Kind::Source(source) if source.battery && source.minus == here => true,
                Kind::Source(source) if source.fused.is_some() && source.plus == here => {
                    so_far.is_some_and(|metres| metres <= NEAR)
                }
                _ => false,
            })
            .collect();
        if ways.contains(&false) || ways.is_empty() && job.device(job.terminal(here).device).form == Form::Box
        {
            return Some(here);
        }
        for landing in landings.on(here) {
            let Some((next, more)) = far_end(job, *landing, here) else { continue };
            if seen.insert(next) {
                queue.push((next, so_far.zip(more).map(|(a, b)| a + b)));
            }
        }
    }
    None
}

/// The fuse that a terminal belongs to, by its label, and its other terminal.
fn fuse_at(job: &Job, at: TerminalId) -> Option<(String, TerminalId)> {
    job.parts_on(at).find_map(|(id, part)| match &part.kind {
        Kind::Fuse(fuse) => {
            let other = fuse.between.into_iter().find(|terminal| *terminal != at)?;
            Some((job.part_label(id), other))
        }
        _ => None,
    })
}
