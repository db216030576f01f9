//! A supply must give more than it can.
//!
//! ## On site
//!
//! The supply folds back, hiccups or blows its fuse, most likely when everything operates at once.
//!
//! ## Why
//!
//! A supply near its limit runs hot and has nothing left for a lock's inrush, a cold lamp or a part that is added next
//! year. Above 80 per cent it is a warning.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   G1: {type: dc-supply, volts: 12 V, amps: 1 A}
//!   Y1: {type: strike, volts: 12 V, amps: 0.6 A}
//!   Y2: {type: strike, volts: 12 V, amps: 0.6 A}
//! ```
//!
//! ## Cure
//!
//! Take a supply of at least 1.25 times the worst load, or move a load to another supply.
//!
//! ## Limits
//!
//! The currents are those of the data sheets; inrush is not among them. Where a system has too many states to solve
//! them all, the sum of all its loads stands for the worst one.
//!
//! ## Sources
//!
//! 1.25 times the load: common practice of access-control makers.

use std::collections::BTreeMap;

use crate::circuit::Circuit;
use crate::diagnostic::Severity;
use crate::netlist::{Draw, Job, Kind, PartId, TerminalId};
use crate::units::{Amps, Share};

use super::report::{Report, listed};
use super::wrong_voltage::too_high;
use super::{telling, unstated};

/// The share of its amps above which a supply is near its limit.
const NEAR: f64 = 0.8;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    tell_unstated(job, circuit, report);
    let (survey, sums) = (circuit.survey(job), Sums::of(job, circuit));
    let high = too_high(job, circuit, report);
    for (id, part) in job.part_ids() {
        let Kind::Source(source) = &part.kind else { continue };
        let Some(worst) = survey.part(id).filter(|worst| worst.value.0 > 1e-6) else { continue };
        let name = job.part_label(id);
        let device = job.device(part.device);
        let Some(rated) = source.amps else {
            let fix = if source.battery {
                "write `amps:` for it, the most that its maker lets it give"
            } else {
                "write `amps:` for it, as its label says"
            };
            report.not_checked(format!("{name} has no amps"), fix).at(device.place, "").about(part.device);
            continue;
        };
        if survey.sampled(source.plus) && worst.value.0 <= rated.0 * NEAR {
            if sums.around(circuit, source.plus) > rated.0 * NEAR {
                report
                    .not_checked(
                        format!("the circuit of {name} has too many states to work all of them out"),
                        "add up the currents of all that can be on at once by hand",
                    )
                    .at(device.place, "")
                    .about(part.device);
            }
            continue;
        }
        let share = worst.value.0 / rated.0;
        if share <= NEAR + 1e-6 {
            continue;
        }
        let state = telling::at(circuit, &worst.state);
        let over = share > 1.0 + 1e-6;
        let message = format!(
            "{name} must give {}{}, {} of its {rated}{}",
            milliamps(worst.value),
            telling::clause(state.as_deref()),
            Share((share * 100.0).round() / 100.0),
            if over { ": it will fold back or fail" } else { ": there is little left for inrush" }
        );
        let least = milliamps(Amps(1.25 * worst.value.0));
        let rounded = rounded_up(least.0);
        let reason = if rounded.0 > least.0 {
            format!("{least} with a quarter in hand")
        } else {
            "a quarter in hand".into()
        };
        let fix = format!("use a supply of at least {rounded} ({reason}), or move a load to another");
        let draft = report.find(message, fix);
        draft.at(device.place, "").about(part.device);
        draft.follows = high.iter().any(|(_, feed)| feed.sources.contains(&id));
        if !over {
            draft.severity(Severity::Warning);
        }
        if let Some(state) = state {
            draft.when(state);
        }
    }
}

/// Says of parts that do not say what they draw that their amps are missing from the sum.
pub(super) fn tell_unstated(job: &Job, circuit: &Circuit, report: &mut Report) {
    for id in unstated::all(job, circuit) {
        unstated::tell(job, id, report);
    }
}

/// How many parts of one circuit are named.
const NAMED: usize = 8;

/// Says of parts that may carry more than they are made for, in a state that was not solved, that they were not checked:
/// once for each circuit.
pub(super) fn tell_sampled(job: &Job, circuit: &Circuit, parts: &[PartId], verb: &str, report: &mut Report) {
    let mut sources: BTreeMap<u32, PartId> = BTreeMap::new();
    for (id, part) in job.part_ids() {
        if let Kind::Source(source) = &part.kind {
            sources.entry(circuit.system_of(source.plus)).or_insert(id);
        }
    }
    let mut by_system: BTreeMap<u32, Vec<PartId>> = BTreeMap::new();
    for &id in parts {
        if let Some(at) = job.part(id).kind.terminals().first() {
            by_system.entry(circuit.system_of(*at)).or_default().push(id);
        }
    }
    for (system, parts) in by_system {
        let Some(&source) = sources.get(&system) else { continue };
        let named = if parts.len() > NAMED + 1 { NAMED } else { parts.len() };
        let mut names: Vec<String> = parts[..named].iter().map(|part| job.part_label(*part)).collect();
        if named < parts.len() {
            names.push(format!("{} more", parts.len() - named));
        }
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let missing = format!(
            "the circuit of {} has too many states to work out what {} {verb}",
            job.part_label(source),
            listed(&names)
        );
        let device = job.part(source).device;
        let draft = report.not_checked(missing, "add up by hand all that can be on there at once");
        draft.at(job.device(device).place, "").about(device);
        for part in &parts[..named] {
            draft.at(job.device(job.part(*part).device).place, "").about(job.part(*part).device);
        }
    }
}

/// Amps as one would ask for them in a shop: the next higher tenth, or hundredth below 1 A.
fn rounded_up(amps: f64) -> Amps {
    let step = if amps < 1.0 { 100.0 } else { 10.0 };
    Amps((amps * step - 1e-6).ceil() / step)
}

/// Amps to the milliampere.
pub(super) fn milliamps(amps: Amps) -> Amps {
    Amps((amps.0 * 1000.0).round() / 1000.0)
}

/// What loads and coils draw together at the most, in amps.
pub(super) struct Sums {
    /// By conductor system: all there.
    systems: BTreeMap<u32, f64>,
    /// By what hangs together without the poles of sources: all there.
    branches: BTreeMap<u32, f64>,
}

impl Sums {
    pub(super) fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut sums = Self { systems: BTreeMap::new(), branches: BTreeMap::new() };
        for part in &job.parts {
            let (ends, draw, rated) = match &part.kind {
                Kind::Load(load) => ([load.plus, load.minus], load.draw, load.volts),
                Kind::Coil(coil) => ([coil.plus, coil.minus], coil.draw, coil.volts),
                _ => continue,
            };
            let amps = match (draw, rated) {
                (None, _) => continue,
                (Some(Draw::Amps(amps)), _) => amps.0,
                (Some(Draw::Ohms(ohms)), Some(rated)) => rated.range.high.0 / ohms.0.max(1e-6),
                (Some(Draw::Watts(watts)), Some(rated)) => {
                    watts.0 * rated.range.high.0 / rated.nominal.0.powi(2).max(1e-6)
                }
                _ => f64::INFINITY,
            };
            *sums.systems.entry(circuit.system_of(ends[0])).or_default() += amps;
            for branch in circuit.branches(&ends) {
                *sums.branches.entry(branch).or_default() += amps;
            }
        }
        sums
    }

    /// What all on the conductor system of a terminal draw together.
    pub(super) fn around(&self, circuit: &Circuit, at: TerminalId) -> f64 {
        self.systems.get(&circuit.system_of(at)).copied().unwrap_or_default()
    }

    /// What a contact or output may have to switch: what hangs on its ends before the next pole, or, where it may join two
    /// poles, all around it.
    pub(super) fn through(&self, circuit: &Circuit, ends: &[TerminalId]) -> f64 {
        if circuit.joins_poles(ends) {
            return ends.first().map_or(0.0, |at| self.around(circuit, *at));
        }
        circuit.branches(ends).iter().filter_map(|branch| self.branches.get(branch)).sum()
    }
}
