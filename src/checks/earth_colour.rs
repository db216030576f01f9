//! A green-yellow core is used for something that is not earth.
//!
//! ## On site
//!
//! The next person takes green-yellow for earth, as everybody does. He touches it, bonds it to metalwork or cuts it
//! away as needless, and it carries a circuit.
//!
//! ## Why
//!
//! Green-and-yellow is kept for protective earth, everywhere. It is the one colour that means the same in all
//! countries.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: single-0.75, cores: {green-yellow: [G1.V-, H1.V-]}}
//! ```
//!
//! ## Cure
//!
//! Use another core. Sleeving a green-yellow core in another colour is not allowed either. For a functional earth, such
//! as an earthed 0 V, take pink or another colour.
//!
//! ## Limits
//!
//! A core that is made safe at both ends, or stands alone on terminals that join nothing, is a spare and exempt. Only
//! cores that the file calls green-yellow (or whose cable data does) are seen. From earth terminal to earth terminal the colour
//! is right, where the 0 V is joined to earth too, as long as no circuit runs through it.
//!
//! ## Sources
//!
//! IEC 60445: green-and-yellow for the protective conductor only; pink for functional earth.

use crate::circuit::Circuit;
use crate::netlist::{Colour, Core, Job, Kind, PartId, TerminalId};

use super::far_ends::reach_by;
use super::report::Report;
use super::standing::{Standing, is_bond};

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let standing = Standing::of(job);
    for (id, core) in job.core_ids().filter(|(_, core)| green_yellow(core)) {
        let ends: Vec<(usize, TerminalId)> =
            (0..2).filter_map(|end| Some((end, core.ends[end].to.terminal()?))).collect();
        let Some(&(_, any)) = ends.first() else { continue };
        let net = circuit.net_of(any);
        let (bonds, others): (Vec<_>, Vec<_>) =
            standing.on_net(circuit, net).partition(|(_, part)| is_bond(&job.part(*part).kind));
        let alone = circuit.terminals_of(net).len() <= ends.len();
        if others.is_empty() && (alone || !bonds.is_empty()) {
            continue;
        }
        let earthed = |terminal: TerminalId| bonds.iter().any(|(t, _)| *t == terminal);
        if ends.iter().all(|(_, terminal)| earthed(*terminal)) && carries_nothing(job, circuit, &others) {
            continue;
        }
        // Point at the end that is no earth, else at the first.
        let end = ends.iter().find(|(_, terminal)| !earthed(*terminal)).map_or(0, |(end, _)| *end);
        let telling = others.iter().min_by_key(|(_, part)| what(job, *part).0);
        let carries = match telling {
            Some((terminal, part)) => {
                format!("is joined to {}, which is {}", job.label(*terminal), what(job, *part).1)
            }
            None => "meets no earth".to_owned(),
        };
        let message = format!("{} {carries}: whoever comes next will take it for earth", job.core_label(id));
        let fix = if bonds.is_empty() {
            "use a core of another colour; green-yellow is for protective earth only"
        } else {
            "use a core of another colour (pink for an earthed 0 V); green-yellow is for protective earth only"
        };
        report.find(message, fix).at(core.ends[end].place, "").about(id);
    }
}

/// Whether all that is no bond to earth hangs together without any green-yellow core, as at a 0 V that is earthed once: no
/// current flows in these cores then.
fn carries_nothing(job: &Job, circuit: &Circuit, others: &[(TerminalId, PartId)]) -> bool {
    let Some(&(first, _)) = others.first() else { return true };
    let landings = circuit.landings();
    let joined = reach_by(job, landings, &[first], &|_| false, &|core| !green_yellow(job.core(core)));
    others.iter().all(|(at, _)| joined.binary_search(at).is_ok())
}

/// Whether a core is green-and-yellow.
pub(super) fn green_yellow(core: &Core) -> bool {
    core.colours.contains(&Colour::Green) && core.colours.contains(&Colour::Yellow)
}

/// What a part is, the most telling first.
fn what(job: &Job, part: PartId) -> (u8, &'static str) {
    match job.part(part).kind {
        Kind::Source(_) => (0, "a supply pole"),
        Kind::Input(_) | Kind::DryInput(_) | Kind::Supervised(_) => (1, "an input"),
        Kind::Load(_) | Kind::Coil(_) => (2, "the terminal of a load"),
        Kind::Output(_) => (3, "an output"),
        Kind::Fuse(_) => (4, "a fuse"),
        Kind::Contact(_) => (5, "a contact"),
        _ => (6, "no earth"),
    }
}
