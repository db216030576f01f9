//! A contact's numbers say one thing and its data sheet another.
//!
//! ## On site
//!
//! The make contact is wired where the break contact should be: the circuit is on when it should be off.
//!
//! ## Why
//!
//! The second digit of a contact number tells its kind: 1 and 2 a break contact, 3 and 4 a make contact. Whoever stands
//! in front of the part goes by its numbers.
//!
//! ## Example
//!
//! ```yaml
//! data_sheets:
//!   stop-button:
//!     terminals: [11, 12]
//!     contacts: {S: {common: 11, no: 12}}
//! ```
//!
//! ## Cure
//!
//! Look at the part. If its numbers are right, declare the contact as what they say: `nc: 12`. If not, name the
//! terminals as they are printed.
//!
//! ## Limits
//!
//! Only pairs of two-digit numbers with one tens digit are looked at. Changeover contacts (11, 12, 14) and the digits
//! 5 to 8 of special contacts are left alone.
//!
//! ## Sources
//!
//! EN 50005; IEC 60947-1: units digits 1-2 break, 3-4 make.

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind, TerminalId};

use super::report::Report;

pub(super) fn run(job: &Job, _: &Circuit, report: &mut Report) {
    for part in &job.parts {
        let Kind::Contact(contact) = &part.kind else { continue };
        let throws = [
            (contact.no, ['1', '2'], "a make contact (NO)", "a break contact (NC)", "nc"),
            (contact.nc, ['3', '4'], "a break contact (NC)", "a make contact (NO)", "no"),
        ];
        for (throw, break_or_make, declared, printed, key) in throws {
            let Some(throw) = throw else { continue };
            if !numbered(job, contact.common, throw, break_or_make) {
                continue;
            }
            let device = &job.device(part.device).name;
            let mut pair = [contact.common, throw].map(|t| &job.terminal(t).name);
            let b = pair[1];
            pair.sort();
            let [first, second] = pair;
            let message = format!(
                "{device} {first}-{second} is declared as {declared}, but these numbers mean {printed}: it will work the wrong way round"
            );
            let fix = format!("look at the part: either `{key}: {b}`, or other terminal names");
            report.find(message, fix).at(part.place, "").about(throw);
        }
    }
}

/// Whether the two terminals bear numbers of one contact with just these units.
fn numbered(job: &Job, a: TerminalId, b: TerminalId, units: [char; 2]) -> bool {
    let digits = |id: TerminalId| {
        let mut chars = job.terminal(id).name.chars();
        match (chars.next(), chars.next(), chars.next()) {
            (Some(tens), Some(unit), None) if tens.is_ascii_digit() => Some((tens, unit)),
            _ => None,
        }
    };
    match (digits(a), digits(b)) {
        (Some((tens_a, a)), Some((tens_b, b))) => {
            tens_a == tens_b && a != b && units.contains(&a) && units.contains(&b)
        }
        _ => false,
    }
}
