//! What a two-wire sensor leaks or keeps leaves an input between its two states.
//!
//! ## On site
//!
//! The input stays on though the sensor is off, or does not come on though it is; or it does so on some days.
//!
//! ## Why
//!
//! A two-wire sensor lives on the current that it lets through while it is off, and keeps some volts while it is on.
//! The leakage through the input's own resistance must stay within its 0 state, and what the sensor leaves of the
//! supply must reach its 1 state. Between the two an input may read either way.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   B1: {type: two-wire-sensor}                        # keeps 8 V, leaks 1.5 mA
//! data_sheets:
//!   card: {terminals: [C, I1], inputs: {I1: {at: I1, common: C, active: high, type: 1}}}
//! ```
//!
//! 1.5 mA through the 10 kΩ of an input of type 1 are 15 V, far above its 5 V.
//!
//! ## Cure
//!
//! Use an input of type 3, or of type 2; or a bleed resistor across the input that takes the leakage; or a three-wire
//! sensor. Where too few volts are left, a supply of more volts or a sensor that keeps fewer.
//!
//! ## Limits
//!
//! The input's resistance is taken as the lower limit of the current at the end of its 0 state allows it to be: 10 kΩ for
//! type 1, 2.5 kΩ for type 2, 3.3 kΩ for type 3. The leakage is taken with the supply at its highest, the drop with it at
//! its lowest, where these are stated. Whether the input draws the current that the sensor needs to hold is not looked at.
//!
//! ## Sources
//!
//! IEC 61131-2: 0 state up to 5 V, 1 state from 15 V (type 1) or 11 V (types 2 and 3); sensors for type 3 keep at most 8 V
//! and leak at most 1.5 mA. The figures of type 2 and the currents are from memory.

use crate::circuit::solve::{Ask, Mains, Solver, input_limits};
use crate::circuit::{Circuit, Need, Switched};
use crate::netlist::{Active, Input, Job, Kind, PartId, Pole, TerminalId, TwoWire};
use crate::units::Volts;

use super::report::{Report, listed};
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    if !job.parts.iter().any(|part| matches!(part.kind, Kind::TwoWire(_))) {
        return;
    }
    let (solver, landings) = (Solver::of(job), circuit.landings());
    for (id, part) in job.part_ids() {
        let Kind::Input(input) = &part.kind else { continue };
        let Some(signal) = circuit.signal(id) else { continue };
        let looks = signal.active.iter().filter_map(|way| {
            let sensor = way.parts.iter().find_map(|on_way| match &job.part(*on_way).kind {
                Kind::TwoWire(sensor) => Some((*on_way, &**sensor)),
                _ => None,
            })?;
            Some(Look { job, circuit, solver: &solver, id, input, way, sensor })
        });
        let looks: Vec<Look> = looks.collect();
        let Some(first) = looks.first() else { continue };
        for (missing, fix, at) in looks.iter().flat_map(Look::missing) {
            let device = job.part(at).device;
            report.not_checked(missing, fix).at(job.device(device).place, "").about(device);
        }
        let found = looks.iter().find_map(|look| look.says().map(|(says, leaks)| (says, leaks, look)));
        let Some((says, leaks, look)) = found else { continue };
        let (sensor, at) = (job.part_label(look.sensor.0), job.label(input.at));
        let three = if input.class == Some(3) { "" } else { "an input of type 3, " };
        let fix = if leaks {
            format!("use {three}a bleed resistor across {at}, or a three-wire sensor for {sensor}")
        } else {
            format!("use {three}a supply of more volts, or a three-wire sensor for {sensor}")
        };
        report
            .find(says, fix)
            .at(telling::landing(job, landings, input.at), "")
            .at(job.device(job.part(first.sensor.0).device).place, "")
            .about(input.at)
            .about(job.part(look.sensor.0).device)
            .of(look.sensor.0);
    }
}

/// One way in which a two-wire sensor switches an input.
struct Look<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    solver: &'a Solver<'a>,
    id: PartId,
    input: &'a Input,
    way: &'a Switched,
    sensor: (PartId, &'a TwoWire),
}

impl Look<'_> {
    /// What is not known, what to write, and of which part.
    fn missing(&self) -> Vec<(String, &'static str, PartId)> {
        let (id, sensor) = self.sensor;
        let mut missing = Vec::new();
        if sensor.leak.is_none() || sensor.drop.is_none() {
            let name = self.job.part_label(id);
            missing.push((
                format!("{name} does not say what it keeps and leaks"),
                "write `drop:` and `leak:` of its `two_wire:` entry, as its data sheet says",
                id,
            ));
        }
        if self.input.class.is_none() {
            let at = self.job.label(self.input.at);
            missing.push((
                format!("the input at {at} does not say its type"),
                "write `type:` 1, 2 or 3 of IEC 61131-2 for it",
                self.id,
            ));
        }
        missing
    }

    /// What is wrong, in words, and whether it is the leakage, be it among others.
    fn says(&self) -> Option<(String, bool)> {
        let (off_below, on_from) = input_limits(self.input)?;
        let (id, sensor) = self.sensor;
        let (name, at) = (self.job.part_label(id), self.job.label(self.input.at));
        let mut says = Vec::new();
        if let (Some(leak), Some(_)) = (sensor.leak, self.input.class)
            && let Some(volts) = self.volts(false)
            && volts > off_below + 1e-3
        {
            let then = if volts >= on_from { "stays on" } else { "may read on" };
            says.push(format!(
                "{name} leaks {leak} while it is off: {at} sits at {} and {then}, for its 0 state ends at {}",
                tenth(volts),
                Volts(off_below)
            ));
        }
        let leaks = !says.is_empty();
        if sensor.drop.is_some()
            && let Some(volts) = self.volts(true)
            && volts < on_from - 1e-3
        {
            says.push(format!(
                "{} leaves {} for {at} while it is on, and its 1 state begins at {}",
                if leaks { "it" } else { name.as_str() },
                tenth(volts),
                Volts(on_from)
            ));
        }
        let says: Vec<&str> = says.iter().map(String::as_str).collect();
        (!says.is_empty()).then(|| (listed(&says), leaks))
    }

    /// The volts between the input and the level at which it is inactive, with the sensor on or off and what else lies
    /// on the way as it switches it.
    fn volts(&self, on: bool) -> Option<f64> {
        let mover = self.circuit.mover_of(self.sensor.0)?;
        let mut needs: Vec<Need> = self.way.needs.clone();
        for need in needs.iter_mut().filter(|need| need.mover == mover) {
            need.operated = on;
        }
        let state = self.circuit.sound(&needs, self.input.at).state()?;
        let operated = |part: PartId| self.circuit.mover_of(part).is_some_and(|m| state.operated(m));
        let mains = if on { Mains::Low } else { Mains::High };
        let solution = self.solver.solve_around(self.input.at, &Ask { mains, ..Ask::new(&operated) });
        let volts = solution.between(self.input.at, self.rests_at()?)?.0;
        match self.input.active {
            Active::High => Some(volts),
            Active::Low => Some(-volts),
            Active::Either => Some(volts.abs()),
        }
    }

    /// The terminal against which the input is inactive: its common, or for one that answers to 0 V the plus of the
    /// source that its common is on.
    fn rests_at(&self) -> Option<TerminalId> {
        match self.input.active {
            Active::Low => telling::pole(self.job, (self.way.common.0, Pole::Plus)),
            _ => Some(self.input.common),
        }
    }
}

fn tenth(volts: f64) -> Volts {
    Volts((volts * 10.0).round() / 10.0)
}
