//! A supply that feeds nothing, beside one that does.
//!
//! ## On site
//!
//! Everything works, until the other supply fails and this one does not take over.
//!
//! ## Why
//!
//! Two supplies on one rail cover for each other, so a diode that stands the wrong way round or exchanged poles at one of them
//! show nowhere else.
//!
//! ## Example
//!
//! ```yaml
//! links: [[G2.V+, V2.K], [V2.A, P]]     # the band of V2 belongs to P
//! ```
//!
//! ## Cure
//!
//! Turn the diode, or exchange the cores at the poles. Then switch the other supply off and see that this one carries on.
//!
//! ## Limits
//!
//! It is told of a supply wired at both poles that no state lets feed a load, a coil or an input, where a pole of it is one
//! conductor with a pole of a supply that does. A charging output of a device, and the battery on it, stand by for the other
//! outputs of that device, which takes over from them inside. Where the way from a pole ends at an open side, `half-wired`
//! tells that, and while an error or a danger stands in the job it is not told: it may well be the same mistake.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, NetId};
use crate::netlist::{Job, Kind, PartId, Pole, Source};

use super::lines::pairs;
use super::loose::on_side;
use super::report::Report;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let sources: Vec<(PartId, &Source)> = job
        .part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::Source(source) if !part.existing => Some((id, source.as_ref())),
            _ => None,
        })
        .collect();
    if sources.len() < 2 {
        return;
    }
    let (landings, mut feeding) = (circuit.landings(), feeding(job, circuit));
    feeding.extend(standing_by(job, circuit, &sources, &feeding));
    if sources.iter().all(|(id, _)| feeding.contains(id)) || !report.graver_devices(job).is_empty() {
        return;
    }
    let (loose, on_signals) = (report.loose_ends(job, circuit), on_signals(job, circuit));
    let rails: BTreeSet<(u32, Pole)> = sources
        .iter()
        .filter(|(id, _)| feeding.contains(id))
        .flat_map(|(_, source)| [(source.plus, Pole::Plus), (source.minus, Pole::Minus)])
        .map(|(at, pole)| (circuit.past_fuses(at), pole))
        .collect();
    let is_rail = |node| [Pole::Plus, Pole::Minus].iter().any(|pole| rails.contains(&(node, *pole)));
    let blocking = blocking(job, circuit);
    for (id, source) in sources {
        let wired = [source.plus, source.minus].iter().all(|pole| landings.wired(*pole));
        let beside = [source.plus, source.minus].map(|pole| circuit.past_fuses(pole));
        if feeding.contains(&id) || on_signals.contains(&id) || !wired || !beside.map(is_rail).contains(&true)
        {
            continue;
        }
        let ends_open = |at, node| !is_rail(node) && !on_side(circuit, &loose, at).is_empty();
        if ends_open(source.plus, beside[0]) || ends_open(source.minus, beside[1]) {
            continue;
        }
        let name = job.part_label(id);
        let blocks =
            blocking.get(&(Pole::Plus, beside[0])).or_else(|| blocking.get(&(Pole::Minus, beside[1])));
        let [plus, minus] = [source.plus, source.minus].map(|pole| job.label(pole));
        let crossed = rails.contains(&(beside[0], Pole::Minus)) || rails.contains(&(beside[1], Pole::Plus));
        let fix = match blocks {
            _ if crossed => format!("exchange what is on {plus} and on {minus}"),
            Some(diode) => {
                format!("turn {}, which blocks what {name} would give", job.part_label(*diode))
            }
            None => format!("bring {plus} and {minus} to the two sides of what {name} is to feed"),
        };
        report
            .find(format!("{name} feeds nothing, however the contacts stand: it cannot take over when the other fails"), fix)
            .at(telling::landing(job, landings, source.plus), "")
            .about(source.plus)
            .about(source.minus);
    }
}

/// The charging outputs of devices of which another output feeds something, and the batteries on them: the device takes over
/// from them inside.
fn standing_by(
    job: &Job,
    circuit: &Circuit,
    sources: &[(PartId, &Source)],
    feeding: &BTreeSet<PartId>,
) -> Vec<PartId> {
    let device = |id: &PartId| job.part(*id).device;
    let poles = |source: &Source| [source.plus, source.minus].map(|pole| circuit.past_fuses(pole));
    let charging = sources
        .iter()
        .filter(|(id, source)| source.charges && feeding.iter().any(|other| device(other) == device(id)));
    let at: BTreeSet<[u32; 2]> = charging.map(|(_, source)| poles(source)).collect();
    sources.iter().filter(|(_, source)| at.contains(&poles(source))).map(|(id, _)| *id).collect()
}

/// The diodes that let nothing out of a plus, or back into a minus, that lies there. Those across a load are no way out.
fn blocking(job: &Job, circuit: &Circuit) -> BTreeMap<(Pole, u32), PartId> {
    let diodes = job.part_ids().filter_map(|(id, part)| match &part.kind {
        Kind::Diode(diode) if circuit.between(job, diode.anode, diode.cathode).is_empty() => {
            Some((id, diode))
        }
        _ => None,
    });
    let at = |end| circuit.past_fuses(end);
    diodes.flat_map(|(id, d)| [((Pole::Plus, at(d.cathode)), id), ((Pole::Minus, at(d.anode)), id)]).collect()
}

/// The sources that some way lets feed a load or coil, or switch an input.
fn feeding(job: &Job, circuit: &Circuit) -> BTreeSet<PartId> {
    let mut feeding = BTreeSet::new();
    for (id, part) in job.part_ids() {
        match &part.kind {
            Kind::Load(_) | Kind::Coil(_) => {
                feeding.extend(circuit.feeds(id).ways.iter().flat_map(|feed| feed.sources.iter().copied()));
            }
            Kind::Input(_) => {
                let ways = circuit
                    .signal(id)
                    .into_iter()
                    .flat_map(|signal| signal.active.iter().chain(&signal.inactive));
                feeding.extend(ways.flat_map(|way| [way.pole.0, way.common.0]));
            }
            _ => {}
        }
    }
    feeding
}

/// The sources that a 4–20 mA or 0–10 V part lies on, or that resistors join to a leg of a signal pair: they feed it, and what
/// stands there is for its own rules.
fn on_signals(job: &Job, circuit: &Circuit) -> BTreeSet<PartId> {
    let legs = pairs(job).flat_map(|(id, pair)| [(pair.a, id), (pair.b, id)]);
    let legs: BTreeMap<NetId, _> = legs.map(|(leg, id)| (circuit.net_of(leg), (leg, id))).collect();
    let lifting =
        legs.into_values().flat_map(|(leg, id)| circuit.soft_poles(leg, id)).map(|(source, _)| source);
    let ends = job.parts.iter().filter_map(|part| match &part.kind {
        Kind::Analogue(end) => Some([end.plus, end.minus]),
        _ => None,
    });
    let levels = ends.flatten().flat_map(|at| circuit.levels(at).ways);
    let on = levels.flat_map(|level| level.poles.iter().map(|(source, _)| *source).collect::<Vec<_>>());
    on.chain(lifting).collect()
}
