//! Two supplies are joined pole to pole.
//!
//! ## On site
//!
//! One of them carries everything and runs hot, the other is fed backwards; a battery is charged without control.
//!
//! ## Why
//!
//! No two supplies have quite the same volts. Joined like pole to like pole, the higher drives current into the lower,
//! limited by nothing but copper.
//!
//! ## Example
//!
//! ```yaml
//! links: [[G1.V+, G2.V+], [G1.V-, G2.V-]]
//! ```
//!
//! ## Cure
//!
//! Join one pole only (a common 0 V), put a diode in each plus, use supplies made for redundancy with a diode module, or
//! a charger made to share its output with a battery (`charges: true`).
//!
//! ## Limits
//!
//! Volts are not compared: equal ones on the label are not equal at the terminals.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeMap;

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind, PartId, Pole, TerminalId};

use super::fed::is_dc;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let sources: Vec<(PartId, TerminalId, TerminalId, bool)> = job
        .part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::Source(source) => Some((id, source.plus, source.minus, source.charges)),
            _ => None,
        })
        .collect();
    let by_id: BTreeMap<PartId, usize> = sources.iter().enumerate().map(|(n, s)| (s.0, n)).collect();
    for (n, &(a, plus, minus, charges)) in sources.iter().enumerate() {
        // Only sources whose plus this one's plus can reach are worth a look.
        let mut others: Vec<usize> = circuit
            .levels(plus)
            .ways
            .iter()
            .flat_map(|level| level.poles.iter())
            .filter(|pole| pole.1 == Pole::Plus)
            .filter_map(|pole| by_id.get(&pole.0).copied())
            .filter(|other| *other > n)
            .collect();
        others.sort_unstable();
        others.dedup();
        for (b, other_plus, other_minus, other_charges) in
            others.into_iter().filter_map(|o| sources.get(o).copied())
        {
            if charges || other_charges {
                continue;
            }
            let pluses = circuit.joins(plus, other_plus).ways;
            let minuses = circuit.joins(minus, other_minus).ways;
            let together = pluses.iter().find_map(|p| {
                minuses.iter().find_map(|m| {
                    let needs = circuit.both(&p.0, &m.0)?;
                    let state = circuit.sound(&needs, plus).state()?;
                    Some((
                        circuit.when(&needs, &state),
                        telling::hops(job, circuit, &needs, &p.1, Some(plus), other_plus),
                    ))
                })
            });
            let Some((words, path)) = together else { continue };
            let (first, second) = (job.part_label(a), job.part_label(b));
            let message = format!(
                "{first} and {second} are joined at both poles{}: the one with the higher volts feeds the other, {path}",
                telling::clause(words.as_deref())
            );
            let or = if is_dc(job, a) { ", or put a diode in the plus of each" } else { "" };
            let fix = format!("join {first} and {second} at one pole only{or}");
            let draft = report.find(message, fix);
            draft
                .at(telling::landing(job, landings, other_plus), "")
                .at(telling::landing(job, landings, plus), "")
                .about(job.part(b).device)
                .about(job.part(a).device);
            if let Some(words) = words {
                draft.when(words);
            }
        }
    }
}
