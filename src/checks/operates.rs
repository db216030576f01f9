//! Whether an input operates.

use crate::circuit::solve::input_limits;
use crate::circuit::{Circuit, State};
use crate::netlist::{Active, Input, PartId};

/// Whether an input is active in a state: by a hard path to its active level, or, where a resistor or load leads there,
/// by the volts between it and its common. `None` where these must decide and cannot.
pub(super) fn operates(
    circuit: &Circuit,
    id: PartId,
    input: &Input,
    state: &State,
    volts: impl FnOnce() -> f64,
) -> Option<bool> {
    let signal = circuit.signal(id)?;
    if signal.active.iter().any(|way| circuit.holds(&way.needs, state)) {
        return Some(true);
    }
    if !signal.soft {
        return Some(false);
    }
    let (_, from) = input_limits(input)?;
    match input.active {
        Active::High => Some(volts() >= from),
        Active::Either => Some(volts().abs() >= from),
        Active::Low => None,
    }
}
