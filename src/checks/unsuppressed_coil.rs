//! A coil is switched off with nothing across it to take up its kick.
//!
//! ## On site
//!
//! Each time the lock or coil is switched off it gives back hundreds of volts: the contact burns, the controller resets, the
//! reader dies after a year.
//!
//! ## Why
//!
//! The current in a coil does not stop at once. Without a way round it drives the volts up until something arcs.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   Y1: {type: strike, volts: 12 V, amps: 0.5 A}      # switched by K1, nothing across it
//! ```
//!
//! ## Cure
//!
//! DC: a diode right at the coil, band (cathode) to plus, or a varistor where it must let go fast, as a magnetic lock
//! must. What is fed both ways round needs a varistor or an RC link, which have no polarity.
//!
//! ## Limits
//!
//! Only what is said to be inductive and takes DC is looked at, on DC, be it rectified, and only where a contact or output
//! of this job switches it. A part whose data sheet says `suppressed: true` has it inside; a rectifier that is switched on
//! its AC side takes the kick too.
//!
//! ## Sources
//!
//! Two lock makers' instructions: 300 V and more from a 12 V coil. The rest is common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::Circuit;
use crate::netlist::{Job, Kind, Takes, TerminalId};

use super::fed::{both_ways, comes_about, is_dc, rectified};
use super::report::Report;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let held = held(job, circuit);
    let diodes = Diodes::of(job, circuit);
    for (id, part) in job.part_ids() {
        let kicks = match &part.kind {
            Kind::Load(load) => load.inductive && !load.suppressed && load.takes != Takes::Ac,
            Kind::Coil(coil) => !coil.suppressed,
            _ => false,
        };
        let Some([plus, minus]) = job.part(id).kind.load_ends().filter(|_| kicks && !part.existing) else {
            continue;
        };
        if held.contains(&across(circuit, plus, minus)) {
            continue;
        }
        let fed: Vec<_> = circuit
            .feeds(id)
            .ways
            .iter()
            .filter(|feed| feed.sources.iter().all(|s| is_dc(job, *s)) || rectified(job, feed))
            .filter(|feed| comes_about(job, circuit, feed))
            .collect();
        let kicks = fed.iter().filter(|feed| {
            let [enters, leaves] = if feed.forward { [plus, minus] } else { [minus, plus] };
            !diodes.lead(circuit.past_fuses(leaves), circuit.past_fuses(enters))
        });
        let switch = kicks.flat_map(|feed| &feed.parts).find(|p| switches(&job.part(**p).kind));
        let Some(switch) = switch else { continue };
        let name = job.part_label(id);
        let message = format!(
            "{name} has {}no suppressor: its kick will wear {} down when it switches off",
            if matches!(part.kind, Kind::Coil(_)) { "" } else { "a winding and " },
            job.part_label(*switch)
        );
        let fix = if both_ways(fed.iter().copied()) {
            format!(
                "put a varistor or an RC link across {name}; it is fed both ways round, so it takes no diode"
            )
        } else {
            format!("put a diode (band to plus) or a varistor across {name}, right at it")
        };
        report.find(message, fix).at(job.device(part.device).place, "").about(part.device).of(id);
    }
}

/// The diodes of a job, by the conductors that they join.
struct Diodes {
    /// Where those lead that have their anode on a conductor.
    onwards: BTreeMap<u32, Vec<u32>>,
    /// Where those come from that have their cathode on it.
    backwards: BTreeMap<u32, Vec<u32>>,
}

impl Diodes {
    fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut diodes = Self { onwards: BTreeMap::new(), backwards: BTreeMap::new() };
        for part in &job.parts {
            if let Kind::Diode(diode) = &part.kind {
                let [anode, cathode] = [diode.anode, diode.cathode].map(|end| circuit.past_fuses(end));
                diodes.onwards.entry(anode).or_default().push(cathode);
                diodes.backwards.entry(cathode).or_default().push(anode);
            }
        }
        diodes
    }

    /// Whether they let the current of a coil go on from where it leaves to where it enters, as those of a rectifier do
    /// that is switched on its AC side.
    fn lead(&self, from: u32, to: u32) -> bool {
        // A common rail has a diode of every coil on it; the other end has few.
        let count = |ways: &BTreeMap<u32, Vec<u32>>, at| ways.get(&at).map_or(0, Vec::len);
        let (ways, from, to) = if count(&self.onwards, from) <= count(&self.backwards, to) {
            (&self.onwards, from, to)
        } else {
            (&self.backwards, to, from)
        };
        let mut reached = BTreeSet::from([from]);
        let mut open = vec![from];
        while let Some(at) = open.pop() {
            if at == to {
                return true;
            }
            open.extend(ways.get(&at).into_iter().flatten().filter(|next| reached.insert(**next)));
        }
        false
    }
}

fn switches(kind: &Kind) -> bool {
    matches!(kind, Kind::Contact(_) | Kind::Output(_) | Kind::TwoWire(_))
}

/// Between which conductors, fuses counted as closed, a varistor, RC link or diode lies. A diode across what is fed both
/// ways round is told by `reversed-diode`.
fn held(job: &Job, circuit: &Circuit) -> BTreeSet<[u32; 2]> {
    let ends = job.parts.iter().filter_map(|part| match &part.kind {
        Kind::Suppressor(suppressor) => Some(suppressor.between),
        Kind::Diode(diode) => Some([diode.anode, diode.cathode]),
        _ => None,
    });
    ends.map(|[a, b]| across(circuit, a, b)).collect()
}

/// The conductors of two terminals, whichever way round.
fn across(circuit: &Circuit, a: TerminalId, b: TerminalId) -> [u32; 2] {
    let mut ends = [a, b].map(|end| circuit.past_fuses(end));
    ends.sort_unstable();
    ends
}
