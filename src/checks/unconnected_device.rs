//! A device that nothing reaches.
//!
//! ## On site
//!
//! The part sits on the wall and does nothing, or the cable to it was forgotten.
//!
//! ## Why
//!
//! A device stands in the job file because it is on site. With no core on any terminal it cannot be part of the job.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   H2: {type: strobe, volts: 12 V, amps: 0.1 A}
//! ```
//!
//! No cable, link or `across:` names H2.
//!
//! ## Cure
//!
//! Wire it, or take it out of the file.
//!
//! ## Limits
//!
//! Nothing else but a danger is said of such a device: all of it would follow from this.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::{Job, TerminalId};

use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    for (id, device) in job.device_ids() {
        if device.terminals.iter().any(|terminal| landings.wired(TerminalId(terminal))) {
            continue;
        }
        let name = &device.name;
        let message = format!("nothing reaches {name}: no core, link or `across:` ends on it");
        report
            .find(message, format!("wire {name}, or take it out of the file"))
            .at(device.place, "")
            .about(id);
    }
}
