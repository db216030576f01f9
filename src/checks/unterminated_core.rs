//! A core end is left bare, or nobody has said what becomes of it.
//!
//! ## On site
//!
//! A core that hangs loose in a box touches a terminal, a screw or the box itself one day. It may be months later,
//! when the door is shut or the box is moved.
//!
//! ## Why
//!
//! Both ends of every core need a place: a terminal, or tape, a sleeve or a cap, or a spare terminal to park it in.
//! The drain of a screen is a core too, and a bare one.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W2:
//!     type: alarm-4x0.22
//!     cores:
//!       red:   [K1.IN1, B1.COM]
//!       black: [X1, B1.NO]
//!       blue:  taped
//! ```
//!
//! The type has a white core as well. Nobody has said where it goes, so it counts as left bare at both ends.
//!
//! ## Cure
//!
//! Make the end safe on site and write how: `white: taped`, or end by end `white: [taped, X1.9]`.
//!
//! ## Limits
//!
//! The program knows what the file says. It cannot see whether the tape is on.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::{End, Job};

use super::report::Report;

pub(super) fn run(job: &Job, _: &Circuit, report: &mut Report) {
    for (id, core) in job.core_ids() {
        let label = job.core_label(id);
        let open: Vec<usize> =
            (0..2).filter(|end| matches!(core.ends[*end].to, End::Bare | End::Spare)).collect();
        let (Some(first), ends) = (open.first(), open.len()) else { continue };
        let at = if ends == 2 { "both ends" } else { ["the near end", "the far end"][*first] };
        let message = if !core.mentioned {
            format!("{label} is not spoken for: it will hang loose at both ends and touch something one day")
        } else if open.iter().any(|end| core.ends[*end].to == End::Bare) {
            format!("{label} is left bare at {at}: it will touch something one day")
        } else {
            format!("{label} is spare and not made safe at {at}: it will touch something one day")
        };
        let fix = if core.mentioned {
            format!("tape, sleeve, cap or park {at} of it and say so, as in `{}: taped`", core.name)
        } else {
            format!("add `{}: taped` once both ends are taped, or say where they go", core.name)
        };
        let place = if core.mentioned { core.ends[*first].place } else { core.place };
        report.find(message, fix).at(place, "").about(id);
    }
}
