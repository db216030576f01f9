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
//! A terminal whose data sheet says `fused:` may stand within 0.5 m of the battery without another fuse, whatever else of its
//! device lies on it; what leads on from there is told. A lead that joins the
//! plus of one battery to the minus of the next in a string is exempt; the string's own plus is not. A lead between
//! the battery and its fuse is not measured. What else lands on the fuse's terminal on the battery's side is not behind the
//! fuse, and is told.
//!
//! ## Sources
//!
//! IEC 60364-4-43, 434.2.1: protection where the conductor begins. The 0.5 m are common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing, Landings};
use crate::netlist::{End, Form, Job, Kind, Part, PartId, TerminalId};
use crate::source::Place;

use super::report::Report;
use super::reversed_polarity::exchange;
use super::telling;

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
            if let Some((from, on)) = open.past_fused {
                past_fused(job, landings, (id, source.plus), from, on, open.at, report);
                continue;
            }
            let open = open.at;
            let name = job.part_label(id);
            let place = place(job, *landing);
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

/// Tells of what leads on from a terminal that is fused inside: its fuse is none for that.
fn past_fused(
    job: &Job,
    landings: &Landings,
    (battery, plus): (PartId, TerminalId),
    from: TerminalId,
    landing: Landing,
    open: TerminalId,
    report: &mut Report,
) {
    let (place, what) = (place(job, landing), telling::conductor(job, landing));
    let [from_label, open_label] = [from, open].map(|at| job.label(at));
    let message = format!(
        "{} leads from its plus by way of {from_label} to {open_label} without a fuse: a short behind it will set the core \
         on fire",
        job.part_label(battery)
    );
    let fix = match landings.on(from).len() {
        0 | 1 => format!("put a fuse between {from_label} and {open_label}"),
        _ => format!("put a fuse into {what} right at {from_label}, or feed {open_label} from behind one"),
    };
    report.find(message, fix).at(place, "").about(plus).about(open);
}

/// Where something that lands on a terminal is written.
fn place(job: &Job, landing: Landing) -> Place {
    match landing {
        Landing::Core(core, end) => job.core(core).ends[usize::from(end)].place,
        Landing::Link(link) => job.links[link.index()].place,
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

/// A terminal that leads on from a battery without a fuse.
struct Unprotected {
    at: TerminalId,
    /// The terminal that is fused inside past which the way there goes, and what leads on from it.
    past_fused: Option<(TerminalId, Landing)>,
}

/// The first terminal, going on from `at` by what else lands on each, that is neither one of a fuse, nor the minus of the
/// next battery, nor near and fused inside, whatever else lies on it. A splice or a strip only leads on: what it leads to
/// decides.
fn unprotected(
    job: &Job,
    landings: &Landings,
    at: TerminalId,
    plus: TerminalId,
    metres: Option<f64>,
) -> Option<Unprotected> {
    let mut seen = BTreeSet::from([at, plus]);
    let mut queue = vec![(at, metres, None)];
    while let Some((here, so_far, past_fused)) = queue.pop() {
        let near = so_far.is_some_and(|metres| metres <= NEAR);
        let fused_inside = near
            && job.parts_on(here).any(|(_, part)| {
                matches!(&part.kind, Kind::Source(source) if source.fused.is_some() && source.plus == here)
            });
        let protects = |part: &Part| match &part.kind {
            Kind::Fuse(_) => true,
            Kind::Source(source) => source.battery && source.minus == here,
            _ => false,
        };
        let mut parts = job.parts_on(here).map(|(_, part)| part).peekable();
        let leads_on = parts.peek().is_none() && job.device(job.terminal(here).device).form != Form::Box;
        if !fused_inside && !leads_on && (parts.peek().is_none() || !parts.all(protects)) {
            return Some(Unprotected { at: here, past_fused });
        }
        for landing in landings.on(here) {
            let Some((next, more)) = far_end(job, *landing, here) else { continue };
            if seen.insert(next) {
                let past_fused = past_fused.or(fused_inside.then_some((here, *landing)));
                queue.push((next, so_far.zip(more).map(|(a, b)| a + b), past_fused));
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
