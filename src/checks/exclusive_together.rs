//! Two things that the job declares exclusive can be on together.
//!
//! ## On site
//!
//! Open and close are commanded at once. The motor hums and burns, the gear breaks, or the drive does what it was told
//! last.
//!
//! ## Why
//!
//! Two buttons can be pressed at once and a contact can stick. What must never be on together needs an interlock, not
//! a careful user.
//!
//! ## Example
//!
//! ```yaml
//! job:
//!   title: Vent
//!   exclusive: [[K1.C, K2.C]]
//! ```
//!
//! One push-button feeds K1 and another feeds K2, with no contact of the other relay between.
//!
//! ## Cure
//!
//! Lead the feed of each through a break contact of the other, or use one changeover contact for both.
//!
//! ## Limits
//!
//! Only entries under `exclusive:` are compared. A contact counts as on when it is operated, a load or coil when it is
//! fed, an input when it is active, a volt-free input when it is closed. A contact that welds is not thought of.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::{All, Circuit, Need, State};
use crate::netlist::{Job, Kind, PartId, TerminalId};

use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    for group in &job.info.exclusive {
        for (n, &b) in group.parts.iter().enumerate() {
            for &a in group.parts.iter().take(n) {
                let [name_a, name_b] = [a, b].map(|part| name(job, part));
                let devices = [a, b].map(|part| job.part(part).device);
                let (Some(on_a), Some(on_b)) = (on(job, circuit, a), on(job, circuit, b)) else {
                    report
                        .not_checked(
                            format!("{name_a} and {name_b} are not both something that can be on"),
                            "name contacts, coils, loads, outputs or inputs under `exclusive:`",
                        )
                        .at(group.place, "")
                        .about(devices[0])
                        .about(devices[1]);
                    continue;
                };
                if let Some(state) = together(circuit, &on_a, &on_b) {
                    let message = format!(
                        "{name_a} and {name_b} can be on together, and the job says that they must not"
                    );
                    let fix = if [a, b].iter().any(|part| is_input(job, *part)) {
                        format!("switch {name_a} and {name_b} by the two throws of one contact")
                    } else {
                        format!(
                            "lead the feed of {name_a} through a break contact of the other, and the reverse"
                        )
                    };
                    report
                        .find(message, fix)
                        .at(group.place, "")
                        .about(devices[0])
                        .about(devices[1])
                        .when(circuit.words(&state));
                } else if !(on_a.ways.complete && on_b.ways.complete) {
                    report
                        .not_checked(
                            format!("{name_a} and {name_b} can be fed in too many ways to follow"),
                            "prove on site that they cannot be on together",
                        )
                        .at(group.place, "")
                        .about(devices[0])
                        .about(devices[1]);
                }
            }
        }
    }
}

fn is_input(job: &Job, part: PartId) -> bool {
    matches!(job.part(part).kind, Kind::Input(_) | Kind::DryInput(_))
}

fn name(job: &Job, part: PartId) -> String {
    let part = job.part(part);
    format!("{} {}", job.device(part.device).name, part.name)
}

/// What a part needs to be on, and a terminal of it.
struct On {
    ways: All<Vec<Need>>,
    near: TerminalId,
}

fn on(job: &Job, circuit: &Circuit, part: PartId) -> Option<On> {
    let moved = |near| {
        let need = Need { mover: circuit.mover_of(part)?, operated: true };
        Some(On { ways: All { ways: vec![vec![need]], complete: true }, near })
    };
    match &job.part(part).kind {
        Kind::Contact(contact) => moved(contact.common),
        Kind::Output(output) => moved(output.at),
        Kind::TwoWire(sensor) => moved(sensor.plus),
        Kind::Load(_) | Kind::Coil(_) => {
            let feeds = circuit.feeds(part);
            let ways = feeds.ways.iter().map(|feed| feed.needs.to_vec()).collect();
            let near = job.part(part).kind.terminals().first().copied()?;
            Some(On { ways: All { ways, complete: feeds.complete }, near })
        }
        Kind::Input(input) => {
            let signal = circuit.signal(part)?;
            let ways = signal.active.iter().map(|way| way.needs.clone()).collect();
            Some(On { ways: All { ways, complete: signal.complete }, near: input.at })
        }
        Kind::DryInput(input) => {
            let joins = circuit.joins(input.between[0], input.between[1]);
            let ways = joins.ways.into_iter().map(|(needs, _)| needs).collect();
            Some(On { ways: All { ways, complete: joins.complete }, near: input.between[0] })
        }
        _ => None,
    }
}

/// A state in which both are on, if one can be reached.
fn together(circuit: &Circuit, a: &On, b: &On) -> Option<State> {
    let pairs = a.ways.ways.iter().flat_map(|a| b.ways.ways.iter().map(move |b| (a, b)));
    pairs.filter_map(|(one, other)| circuit.both(one, other)).find_map(|needs| {
        circuit.sound(&needs, a.near).state().filter(|_| circuit.sound(&needs, b.near).state().is_some())
    })
}
