//! The cable schedule: one row a cable, for whoever pulls it.

use super::{Spot, Spots};
use crate::netlist::{Cable, CableId, CoreId, DeviceId, End, Job};
use crate::units::{Amps, Metres, OhmsPerKm, Volts};

/// One row of the cable schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct CableRow {
    /// The cable.
    pub id: CableId,
    /// Its label on site.
    pub cable: String,
    /// Its type, as written; empty when it is made of the cores that it lists.
    pub kind: String,
    /// The length of the run.
    pub length: Option<Metres>,
    /// The devices at its near end, and the location if they share one: `K1, X1 (Control box)`.
    pub from: String,
    /// The same at its far end.
    pub to: String,
    /// How many cores it has.
    pub cores: usize,
    /// How many of them are joined to no terminal.
    pub spare: usize,
    /// The largest current in a core, each in its worst state.
    pub amps: Option<Amps>,
    /// The largest sum of the drops in one outgoing and one return core.
    pub drop: Option<Volts>,
    /// The resistance of a core at 20 °C.
    pub ohm_per_km: Option<OhmsPerKm>,
    /// Where it stands on the drawing.
    pub spot: Option<Spot>,
}

/// The cable schedule of a job, in the order of the job file.
#[must_use]
pub fn cables(job: &Job, spots: &Spots) -> Vec<CableRow> {
    let rows = job.cable_ids().map(|(id, cable)| {
        let cores = || cable.cores.iter().map(|core| job.core(CoreId(core)));
        let spare = cores().filter(|core| core.ends.iter().all(|end| !matches!(end.to, End::Terminal(_))));
        CableRow {
            id,
            cable: cable.name.clone(),
            kind: cable.type_name.clone().unwrap_or_default(),
            length: cable.length,
            from: end(job, cable, 0),
            to: end(job, cable, 1),
            cores: cable.cores.len(),
            spare: spare.count(),
            amps: None,
            drop: None,
            ohm_per_km: cable.ohm_per_km.map(|figure| figure.value),
            spot: spots.get(id),
        }
    });
    rows.collect()
}

/// The devices at one end of a cable.
fn end(job: &Job, cable: &Cable, end: usize) -> String {
    let ends = cable.cores.iter().filter_map(|core| match job.core(CoreId(core)).ends.get(end)?.to {
        End::Terminal(terminal) => Some(job.terminal(terminal).device),
        _ => None,
    });
    let mut devices: Vec<DeviceId> = ends.collect();
    devices.sort_unstable();
    devices.dedup();
    let names: Vec<&str> = devices.iter().map(|d| job.device(*d).name.as_str()).collect();
    let mut places: Vec<&[String]> = devices.iter().map(|d| job.device(*d).location.as_slice()).collect();
    places.dedup();
    match places.as_slice() {
        [place] if !place.is_empty() => format!("{} ({})", names.join(", "), place.join("/")),
        _ => names.join(", "),
    }
}
