//! Two outputs that pull different ways are joined.
//!
//! ## On site
//!
//! When one switches to plus and the other to 0 V, the supply is shorted through both, and one of them burns.
//!
//! ## Why
//!
//! Outputs of one sense can share a line: whichever is on decides. Outputs of different sense fight, and so do two that
//! drive both ways.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W1: {type: single-0.5, cores: {black: [B1.BK, B2.BK]}}   # B1 is sensor-pnp, B2 is sensor-npn
//! ```
//!
//! ## Cure
//!
//! Give each output an input of its own, or use sensors of one kind.
//!
//! ## Limits
//!
//! Two outputs of different sense at one terminal are one push-pull output. Only transistor outputs are looked at; what
//! contacts can join is told by `short-circuit`.
//!
//! ## Sources
//!
//! IEC 60947-5-2 for PNP and NPN outputs. The rest is common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, NetId};
use crate::netlist::{Job, Kind, Pole, TerminalId};

use super::report::Report;
use super::telling::landing;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let mut nets: BTreeMap<NetId, BTreeMap<TerminalId, BTreeSet<Pole>>> = BTreeMap::new();
    for part in &job.parts {
        if let Kind::Output(output) = &part.kind {
            let on = nets.entry(circuit.net_of(output.at)).or_default();
            on.entry(output.at).or_default().insert(output.drives);
        }
    }
    for drivers in nets.values() {
        // Two that share a net must have one sense, the same, and only one.
        let fight = drivers.iter().enumerate().find_map(|(n, (b, sense))| {
            let (a, _) = drivers.iter().take(n).find(|(_, other)| *other != sense || sense.len() > 1)?;
            Some((*a, *b))
        });
        let Some((a, b)) = fight else { continue };
        let message = format!(
            "the outputs {} and {} are joined and pull different ways: one of them will burn",
            job.label(a),
            job.label(b)
        );
        let fix = "give each output an input of its own, or use outputs of one kind";
        report
            .find(message, fix)
            .at(landing(job, landings, b), "")
            .at(landing(job, landings, a), "")
            .about(b)
            .about(a);
    }
}
