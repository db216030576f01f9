//! Extra-low voltage and anything above it share a cable, a strip or a location.
//!
//! ## On site
//!
//! One worn insulation or one loose strand puts the higher voltage on a button that somebody touches.
//!
//! ## Why
//!
//! Extra-low voltage is safe only as long as nothing above it can get in. That asks for a cable, a strip and a
//! compartment of its own, or a partition.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   T1: {type: ac-supply, volts: 110 V, amps: 1 A, location: Panel}
//!   G1: {type: dc-supply, volts: 12 V, amps: 1 A, location: Panel}
//! ```
//!
//! ## Cure
//!
//! Stop. A licensed person must part them. When they are parted, say so: `separated: true` on the cable, or
//! `separated: [Panel/Mains]` under `job:` with the devices of the one side in that location.
//!
//! ## Limits
//!
//! What is above extra-low voltage follows from the sources and from the volts that loads, coils and inputs are made
//! for, and from what is joined to them. Mains that the job does not list is not seen. Devices without a location are
//! not compared.
//!
//! ## Sources
//!
//! BS 7671 section 528 (Band I and Band II circuits); IEC 60364-4-41 and IEC 61140 for the limits.

use std::collections::BTreeMap;

use crate::circuit::Circuit;
use crate::diagnostic::Subject;
use crate::netlist::{CoreId, Current, Device, DeviceId, Form, Job, Kind, Takes, TerminalId};
use crate::source::Place;
use crate::units::Rated;

use super::above_elv::{highest, limit};
use super::report::Report;
use super::standing::{Standing, is_bond};

const FIX: &str = "stop; a licensed person must part them, and the job must then say `separated`";

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let levels = Levels::of(job, circuit);
    for (id, cable) in job.cable_ids().filter(|(_, cable)| !cable.separated) {
        let level = |core: CoreId| {
            job.core(core)
                .ends
                .iter()
                .filter_map(|end| end.to.terminal())
                .find_map(|t| levels.of_terminal(circuit, t))
        };
        let of = |high| cable.cores.iter().map(CoreId).find(|core| level(*core) == Some(high));
        if let (Some(high), Some(low)) = (of(Level::Above), of(Level::Elv)) {
            let message = format!(
                "{} is above extra-low voltage and {} is not, in one cable: it can put the higher voltage on what people touch",
                job.core_label(high),
                job.core(low).name
            );
            report.find(message, FIX).at(job.core(high).place, "").at(job.core(low).place, "").about(id);
        }
    }
    let mut at: BTreeMap<&[String], Vec<(DeviceId, [bool; 2])>> = BTreeMap::new();
    for (id, device) in job.device_ids() {
        let has = |level| terminals(device).any(|t| levels.of_terminal(circuit, t) == Some(level));
        let [above, elv] = [Level::Above, Level::Elv].map(has);
        if above && elv && device.form == Form::Strip && !separated(job, &device.location) {
            let message = format!(
                "{} carries extra-low voltage and something above it on one strip: a loose strand joins them",
                device.name
            );
            report.find(message, FIX).at(device.place, "").about(id);
        } else if above || elv {
            at.entry(&device.location).or_default().push((id, [above, elv]));
        }
    }
    locations(job, &at, report);
}

/// Compares what stands in one location or in one inside the other.
fn locations(job: &Job, at: &BTreeMap<&[String], Vec<(DeviceId, [bool; 2])>>, report: &mut Report) {
    for (location, devices) in at.iter().filter(|(location, _)| !location.is_empty()) {
        if separated(job, location) {
            continue;
        }
        let inside: Vec<&(DeviceId, [bool; 2])> = at
            .iter()
            .filter(|(other, _)| other.starts_with(location) && !separated(job, other))
            .flat_map(|(_, devices)| devices)
            .collect();
        let above = inside.iter().find(|(_, [above, _])| *above);
        let elv = inside.iter().find(|(_, [_, elv])| *elv);
        // A pair that lies wholly inside a location further in is told there.
        let here = |id: DeviceId| devices.iter().any(|(own, _)| *own == id);
        if let (Some((above, _)), Some((elv, _))) = (above, elv)
            && (here(*above) || here(*elv))
        {
            let [a, b] = [above, elv].map(|id| job.device(*id));
            let message = if above == elv {
                format!(
                    "{} has extra-low voltage and something above it: it can put the higher voltage on what people touch",
                    a.name
                )
            } else {
                format!(
                    "{} is above extra-low voltage and stands in {} with {}, which is not: nothing keeps them apart",
                    a.name,
                    location.join("/"),
                    b.name
                )
            };
            let places: [(Place, Subject); 2] = [(a.place, (*above).into()), (b.place, (*elv).into())];
            let finding = report.find(message, FIX).at(places[0].0, "").about(places[0].1);
            if above != elv {
                finding.at(places[1].0, "").about(places[1].1);
            }
        }
    }
}

fn terminals(device: &Device) -> impl Iterator<Item = TerminalId> + use<> {
    device.terminals.iter().map(TerminalId)
}

/// Whether a location is kept apart, itself or as part of one that is.
fn separated(job: &Job, location: &[String]) -> bool {
    job.info.separated.iter().any(|apart| location.starts_with(apart))
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Level {
    Elv,
    Above,
}

/// The level of every conductor; `None` where no part says any.
struct Levels(Vec<Option<Level>>);

impl Levels {
    fn of(job: &Job, circuit: &Circuit) -> Self {
        let standing = Standing::of(job);
        let mut levels = vec![None; circuit.net_count()];
        for part in
            job.parts.iter().filter(|part| !is_bond(&part.kind) && !matches!(part.kind, Kind::Bridge(_)))
        {
            for terminal in part.kind.terminals() {
                levels[circuit.net_of(terminal).index()] = Some(Level::Elv);
            }
        }
        let mut open: Vec<TerminalId> = job
            .parts
            .iter()
            .filter(|part| above(&part.kind))
            .flat_map(|part| part.kind.terminals())
            .collect();
        // What is joined to it by any part, contacts taken as closed, is above too.
        while let Some(terminal) = open.pop() {
            let net = circuit.net_of(terminal);
            if levels[net.index()] == Some(Level::Above) {
                continue;
            }
            levels[net.index()] = Some(Level::Above);
            for (_, id) in standing.on_net(circuit, net) {
                let kind = &job.part(id).kind;
                if !is_bond(kind) {
                    open.extend(kind.terminals());
                }
            }
        }
        Self(levels)
    }

    fn of_terminal(&self, circuit: &Circuit, terminal: TerminalId) -> Option<Level> {
        self.0.get(circuit.net_of(terminal).index()).copied().flatten()
    }
}

/// Whether a part is made for, or gives, more than extra-low voltage.
fn above(kind: &Kind) -> bool {
    let made_for = |volts: &Option<Rated>, current| volts.is_some_and(|volts| volts.nominal > limit(current));
    match kind {
        Kind::Source(source) => highest(source).is_some_and(|volts| volts > limit(source.current)),
        Kind::Load(load) => made_for(&load.volts, current(load.takes)),
        Kind::Coil(coil) => made_for(&coil.volts, Current::Dc),
        Kind::Input(input) => made_for(&input.volts, Current::Dc),
        _ => false,
    }
}

fn current(takes: Takes) -> Current {
    match takes {
        Takes::Ac => Current::Ac,
        Takes::Dc | Takes::Any => Current::Dc,
    }
}
