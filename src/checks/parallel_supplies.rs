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
//! Volts are not compared: equal ones on the label are not equal at the terminals. Past a diode, which lets current through one
//! way, it is told where the volts of the file, extremes included, drive more than 50 mA into the other supply. States in
//! which one feeds another are left out of the rules of currents and volts.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, Driven, Through, Way};
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
    let mut told: BTreeSet<[PartId; 2]> = BTreeSet::new();
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
            told.insert([a, b]);
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
    for driven in circuit.survey(job).driven() {
        let (from, into) = (driven.from, driven.into);
        if told.insert([from.min(into), from.max(into)]) {
            past_diode(job, circuit, driven, report);
        }
    }
}

/// Tells of a supply that feeds another, past a diode in the one way in which it conducts.
fn past_diode(job: &Job, circuit: &Circuit, driven: &Driven, report: &mut Report) {
    let landings = circuit.landings();
    let plus = [driven.from, driven.into].map(|source| telling::pole(job, (source, Pole::Plus)));
    let [Some(from), Some(into)] = plus else { return };
    let [first, second] = [driven.from, driven.into].map(|source| job.part_label(source));
    let state = telling::at(circuit, &driven.state);
    let path = circuit.path(job, &driven.state, Way::Hard, from, into);
    let hops = path.iter().flat_map(|path| &path.hops);
    let diodes: Vec<PartId> = hops
        .filter_map(|hop| match hop.through {
            Through::Part(part) if matches!(job.part(part).kind, Kind::Diode(_)) => Some(part),
            _ => None,
        })
        .collect();
    let message = format!(
        "{first} feeds {second}{}, and nothing but the conductors limits the current{}",
        telling::clause(state.as_deref()),
        path.map(|path| format!(", {}", path.words(job))).unwrap_or_default()
    );
    let fix = match diodes[..] {
        [_, .., turned] => {
            format!("turn {}: its band belongs away from {second}", job.part_label(turned))
        }
        _ => format!(
            "put a diode into the plus of {second}, its band away from {second}, and lead nothing past it"
        ),
    };
    let draft = report.find(message, fix);
    draft
        .at(telling::landing(job, landings, into), "")
        .at(telling::landing(job, landings, from), "")
        .about(job.part(driven.into).device)
        .about(job.part(driven.from).device);
    if let Some(state) = state {
        draft.when(state);
    }
}
