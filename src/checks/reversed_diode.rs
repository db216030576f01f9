//! A suppressor diode stands the wrong way round.
//!
//! ## On site
//!
//! The moment the coil or lock gets its supply, the diode shorts it: the fuse blows, or the diode or the contact burns.
//!
//! ## Why
//!
//! A diode across a coil must block while the coil is fed, band (cathode) to plus, and carry only what the coil gives
//! back when it is switched off.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   Y1: {type: strike, volts: 12 V, amps: 0.5 A}
//!   V1: {type: diode, across: [Y1.2, Y1.1]}     # Y1:1 is plus: the band belongs there
//! ```
//!
//! ## Cure
//!
//! Turn the diode: the band to the end that is plus while the part is fed.
//!
//! ## Limits
//!
//! Only a diode whose two ends are joined to the two ends of one load or coil is taken for a suppressor; any other short
//! through a diode is told by `short-circuit`. With a resistor or another load before it nothing is shorted, but the
//! diode still carries the current past the part, and it is told all the same.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, ShortWay};
use crate::netlist::{Diode, Job, Kind, PartId};

use super::fed::{both_ways, is_dc, rectified};
use super::lost_feed::{POINTED_AT, names};
use super::report::Report;
use super::reversed_polarity::{exchange, exchange_source};
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let sources = report.turned_sources(job, circuit);
    let mut behind: BTreeMap<PartId, Vec<(PartId, PartId)>> = BTreeMap::new();
    let turned = turned(job, circuit);
    let diodes: BTreeSet<PartId> = turned.iter().map(|(id, ..)| *id).collect();
    let always =
        |short: &&ShortWay| short.needs.is_empty() && !short.parts.iter().any(|p| diodes.contains(p));
    let shorts: Vec<&ShortWay> = circuit.shorts().ways.iter().filter(always).collect();
    for (id, load, state) in turned {
        let Kind::Diode(diode) = &job.part(id).kind else { continue };
        // What is shorted in every state without the diode is told as that.
        if shorts.iter().any(|short| circuit.same_system(short.between[0], diode.cathode)) {
            continue;
        }
        let (name, fed) = (job.part_label(id), job.part_label(load));
        let hard = circuit.feeds(load).ways.iter().filter(|feed| feed.hard);
        let fed_so = hard.filter(|feed| circuit.reachable(&feed.needs).state().is_some());
        let both_ways = both_ways(fed_so);
        let when = telling::clause(state.as_deref());
        // Nobody can turn a diode that is built into the part it protects.
        let built_in = job.part(id).device == job.part(load).device;
        let message = if built_in {
            format!(
                "{fed} is fed the wrong way round{when}: the diode in it conducts and shorts what feeds it"
            )
        } else {
            format!(
                "{name} across {fed} stands the wrong way round: it conducts when {fed} is fed{when} and shorts what feeds it"
            )
        };
        let mut feeds = circuit.feeds(load).ways.iter().filter(|feed| feed.hard);
        let by = feeds.find_map(|feed| feed.sources.first().filter(|source| sources.contains(source)));
        if let Some(source) = by {
            behind.entry(*source).or_default().push((id, load));
            continue;
        }
        let fix = match (built_in, both_ways) {
            (true, true) => format!("feed {fed} one way round only, or fit one without a diode"),
            (true, false) => exchange(job, landings, diode.cathode, diode.anode),
            (false, true) => format!(
                "take {name} out and put a varistor or an RC link across {fed}: it is fed both ways round"
            ),
            (false, false) => format!(
                "turn {name}: its band ({}) belongs on the end of {fed} that is plus",
                job.label(diode.cathode)
            ),
        };
        let draft = report.find(message, fix);
        draft.at(telling::landing(job, landings, diode.cathode), "").about(job.part(id).device);
        draft.at(job.device(job.part(load).device).place, "").about(job.part(load).device);
        if let Some(state) = state {
            draft.when(state);
        }
    }
    for (source, diodes) in behind {
        let Some(fix) = exchange_source(job, landings, &sources, source) else { continue };
        let fed = names(job, diodes.iter().map(|(_, load)| *load));
        let (is, one, conducts) = match diodes.len() {
            1 => ("is", "the diode across it conducts", "shorts"),
            _ => ("are", "the diodes across them conduct", "short"),
        };
        let message = format!("{fed} {is} fed the wrong way round: {one} and {conducts} what feeds it");
        let draft = report.find(message, fix);
        for (diode, load) in diodes.iter().take(POINTED_AT) {
            let Kind::Diode(part) = &job.part(*diode).kind else { continue };
            draft.at(telling::landing(job, landings, part.cathode), "");
            draft.at(job.device(job.part(*load).device).place, "");
        }
        for (diode, load) in diodes {
            draft.about(job.part(diode).device).about(job.part(load).device);
        }
    }
}

/// The diodes that stand the wrong way round, each with its load and the state in which it conducts.
pub(super) fn turned(job: &Job, circuit: &Circuit) -> Vec<(PartId, PartId, Option<String>)> {
    let conducts = |id: PartId, diode: &Diode, load: PartId| {
        let ends @ [plus, _] = job.part(load).kind.load_ends()?;
        let lost = circuit.fed_by_the_lost(job, ends);
        circuit.feeds(load).ways.iter().find_map(|feed| {
            // With AC such a diode conducts in one half of the wave or the other; what diodes let through is DC.
            let alternating = !rectified(job, feed) && !is_dc(job, *feed.sources.first()?);
            let enters_at_anode = feed.forward == circuit.joined_past_fuses(plus, diode.anode);
            let right_way = feed.forward || !polarised(job, load);
            if feed.parts.contains(&id) || !right_way || !(enters_at_anode || alternating) {
                return None;
            }
            let state = circuit.reachable(&feed.needs).state()?;
            // Through other parts nothing flows past a contact that bridges them.
            if !feed.hard && (lost || !circuit.unbridged(job, load, feed, &state)) {
                return None;
            }
            Some((id, load, circuit.when(&feed.needs, &state)))
        })
    };
    job.part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::Diode(diode) => circuit
                .between(job, diode.anode, diode.cathode)
                .into_iter()
                .find_map(|load| conducts(id, diode, load)),
            _ => None,
        })
        .collect()
}

/// Whether a load or coil minds which way round it is fed.
pub(super) fn polarised(job: &Job, load: PartId) -> bool {
    match &job.part(load).kind {
        Kind::Load(load) => load.polarised,
        Kind::Coil(coil) => coil.polarised,
        _ => false,
    }
}
