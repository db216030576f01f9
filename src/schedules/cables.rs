//! The cable schedule: one row a cable, for whoever pulls it.

use super::{Spot, Spots};
use crate::circuit::{Circuit, State};
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
    /// The state of these amps in words; `at least, …` where not all states could be worked out.
    pub amps_state: String,
    /// The largest sum of the drops in one outgoing and one return core, each in its worst state.
    pub drop: Option<Volts>,
    /// The states of this drop in words, that of the outgoing core first.
    pub drop_state: String,
    /// The resistance of a core at 20 °C.
    pub ohm_per_km: Option<OhmsPerKm>,
    /// Where it stands on the drawing.
    pub spot: Option<Spot>,
}

/// The cable schedule of a job, in the order of the job file.
#[must_use]
pub fn cables(job: &Job, circuit: &Circuit, spots: &Spots) -> Vec<CableRow> {
    let rows = job.cable_ids().map(|(id, cable)| {
        let cores = || cable.cores.iter().map(|core| job.core(CoreId(core)));
        let spare = cores().filter(|core| core.ends.iter().all(|end| !matches!(end.to, End::Terminal(_))));
        let (amps, drop) = (amps(job, circuit, cable), drop(job, circuit, id));
        CableRow {
            id,
            cable: cable.name.to_string(),
            kind: cable.type_name.clone().unwrap_or_default().into(),
            length: cable.length,
            from: end(job, cable, 0),
            to: end(job, cable, 1),
            cores: cable.cores.len(),
            spare: spare.count(),
            amps: amps.as_ref().map(|(amps, _)| *amps),
            amps_state: amps.map(|(_, state)| state).unwrap_or_default(),
            drop: drop.as_ref().map(|(volts, _)| *volts),
            drop_state: drop.map(|(_, state)| state).unwrap_or_default(),
            ohm_per_km: cable.ohm_per_km.map(|figure| figure.value),
            spot: spots.get(id),
        }
    });
    rows.collect()
}

/// The largest current of a core, and its state in words; `None` where it is not known.
fn amps(job: &Job, circuit: &Circuit, cable: &Cable) -> Option<(Amps, String)> {
    let survey = circuit.survey(job);
    let cores = || cable.cores.iter().map(CoreId);
    let ends = || cores().flat_map(|core| job.core(core).ends).filter_map(|end| end.to.terminal());
    if ends().any(|end| survey.unstated(end)) {
        return None;
    }
    let worst =
        cores().filter_map(|core| survey.core(core)).reduce(|a, b| if b.value > a.value { b } else { a })?;
    Some((worst.value, words(circuit, &worst.state, ends().any(|end| survey.sampled(end)))))
}

/// The largest drop there and back, and its states in words.
fn drop(job: &Job, circuit: &Circuit, id: CableId) -> Option<(Volts, String)> {
    let survey = circuit.survey(job);
    let cores = || job.cable(id).cores.iter().map(CoreId);
    let ends = || cores().flat_map(|core| job.core(core).ends).filter_map(|end| end.to.terminal());
    if ends().any(|end| survey.unstated(end)) {
        return None;
    }
    let loss = circuit.losses(job).cable(job, id)?;
    let sampled = ends().any(|end| survey.sampled(end));
    let mut states: Vec<String> = loss.states.iter().map(|state| words(circuit, state, sampled)).collect();
    states.dedup();
    Some((loss.volts, states.join("; ")))
}

fn words(circuit: &Circuit, state: &State, sampled: bool) -> String {
    let words = circuit.words(state);
    if sampled { format!("at least, {words}") } else { words }
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
    let mut places: Vec<&[String]> = devices.iter().map(|d| &*job.device(*d).location).collect();
    places.dedup();
    match places.as_slice() {
        [place] if !place.is_empty() => format!("{} ({})", names.join(", "), place.join("/")),
        _ => names.join(", "),
    }
}
