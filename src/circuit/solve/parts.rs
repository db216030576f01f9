//! What each core, link and part of a job is to the solver, in one state.

use crate::netlist::{
    Active, AnalogueKind, CoreId, Current, Draw, End, Input, Job, Kind, LinkId, PartId, Pull, Source,
    TerminalId,
};
use crate::units::{Celsius, Rated};

use super::law::{DIODE_DROP, Law};
use super::{Ask, Mains, small};
use crate::circuit::quick::Map;

/// Change of the resistance of copper with each kelvin from 20 °C (IEC 60028).
const PER_KELVIN: f64 = 0.003_93;

/// From how many volts a constant current flows where the part's own range is not stated.
const KNEE: f64 = 1.0;

/// Ohms that hold an input at its inactive level where its type is not stated. Our own choice: its current is too
/// small to count, and any real source overrules it.
const PULL: f64 = 100e3;

/// Whose current it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Owner {
    Core(CoreId),
    Link(LinkId),
    Part(PartId),
}

/// What lies between two terminals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum What {
    /// Nothing to speak of.
    Join,
    /// Volts that are held: `a` is the plus.
    Volts(f64),
    /// A current that depends on the volts.
    Law(Law),
}

/// The same in an element: volts and laws by their number among those of its system.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Lies {
    Join,
    Volts(u32),
    Law(u32),
}

/// One element of the circuit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Element {
    /// Where current enters, by its number in the system.
    pub(super) a: u32,
    pub(super) b: u32,
    pub(super) what: Lies,
    pub(super) owner: Owner,
}

/// The elements of a system. A large one has fifty thousand of them, which follow a few hundred laws: cores of one length and
/// devices of one type follow the same.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Elements {
    pub(super) all: Vec<Element>,
    volts: Vec<f64>,
    laws: Vec<Law>,
}

impl Elements {
    /// The volts of that number.
    pub(super) fn volts(&self, number: u32) -> f64 {
        self.volts[number as usize]
    }

    /// The law of that number.
    pub(super) fn law(&self, number: u32) -> &Law {
        &self.laws[number as usize]
    }

    /// The laws alone, by their numbers.
    pub(super) fn into_laws(self) -> Vec<Law> {
        self.laws
    }
}

/// Elements while they are put together.
pub(super) struct Assembly {
    elements: Elements,
    /// By what tells it from all others: the number of a law.
    known: Map<(u64, u64, u64), u32>,
}

impl Assembly {
    /// No elements yet, and room for so many.
    pub(super) fn with_room(elements: usize) -> Self {
        let elements = Elements { all: Vec::with_capacity(elements), ..Elements::default() };
        Self { elements, known: Map::default() }
    }

    /// Adds what lies between two terminals.
    pub(super) fn add(&mut self, [a, b]: [u32; 2], what: What, owner: Owner) {
        let Elements { all, volts, laws } = &mut self.elements;
        let what = match what {
            What::Join => Lies::Join,
            What::Volts(held) => {
                volts.push(held);
                Lies::Volts(small(volts.len() - 1))
            }
            What::Law(law) => Lies::Law(*self.known.entry(law.key()).or_insert_with(|| {
                laws.push(law);
                small(laws.len() - 1)
            })),
        };
        all.push(Element { a, b, what, owner });
    }

    /// The elements.
    pub(super) fn finish(mut self) -> Elements {
        // An open contact has none.
        self.elements.all.shrink_to_fit();
        self.elements
    }
}

/// The ohms of a core, if its length and resistance are known.
pub(super) fn core_ohms(job: &Job, core: CoreId, at: Celsius) -> Option<f64> {
    let cable = job.cable(job.core(core).cable);
    let per_km = cable.ohm_per_km?.value.0;
    let metres = cable.length?.0;
    Some(per_km * metres / 1000.0 * (1.0 + PER_KELVIN * (at.0 - 20.0)))
}

/// The two terminals of a core that joins two.
pub(super) fn core_ends(job: &Job, core: CoreId) -> Option<[TerminalId; 2]> {
    match job.core(core).ends.map(|end| end.to) {
        [End::Terminal(a), End::Terminal(b)] => Some([a, b]),
        _ => None,
    }
}

/// Adds the element of a core, if it joins two terminals.
pub(super) fn of_core(
    job: &Job,
    core: CoreId,
    ask: &Ask,
    local: impl Fn(TerminalId) -> u32,
    into: &mut Assembly,
) {
    let Some(ends) = core_ends(job, core) else { return };
    let what = match core_ohms(job, core, ask.celsius) {
        Some(ohms) if ohms > 0.0 => What::Law(Law::Ohms { ohms, polarised: false }),
        _ => What::Join,
    };
    into.add(ends.map(local), what, Owner::Core(core));
}

/// Adds the elements of a part. `pull_up` is the terminal to which an input's pull-up leads.
pub(super) fn of_part(
    job: &Job,
    id: PartId,
    ask: &Ask,
    pull_up: impl Fn() -> Option<TerminalId>,
    local: impl Fn(TerminalId) -> u32,
    into: &mut Assembly,
) {
    let mut one = |a, b, what| into.add([local(a), local(b)], what, Owner::Part(id));
    let on = (ask.operated)(id);
    match &job.part(id).kind {
        Kind::Source(source) => {
            let Some(volts) = source_volts(source, ask.mains).filter(|_| !ask.off.contains(&id)) else {
                return;
            };
            let sign = if ask.reversed_ac && source.current == Current::Ac { -1.0 } else { 1.0 };
            one(source.plus, source.minus, What::Volts(sign * volts))
        }
        Kind::Load(load) => {
            one(load.plus, load.minus, What::Law(drawn(load.draw, load.volts, load.polarised)))
        }
        Kind::Coil(coil) => {
            one(coil.plus, coil.minus, What::Law(drawn(coil.draw, coil.volts, coil.polarised)))
        }
        Kind::Contact(contact) => {
            if let Some(throw) = if on { contact.no } else { contact.nc } {
                one(contact.common, throw, What::Join);
            }
        }
        Kind::Output(output) if on => one(output.at, output.common, What::Join),
        Kind::TwoWire(sensor) if on => {
            let drop = sensor.drop.map_or(0.0, |volts| volts.0);
            one(sensor.plus, sensor.minus, What::Law(Law::OneWay { drop }))
        }
        Kind::TwoWire(sensor) => {
            let law = match sensor.leak {
                Some(leak) if leak.0 > 0.0 => Law::Draw { amps: leak.0, knee: KNEE, polarised: true },
                _ => Law::Unknown,
            };
            one(sensor.plus, sensor.minus, What::Law(law))
        }
        Kind::Bridge(terminals) => {
            terminals.windows(2).for_each(|pair| one(pair[0], pair[1], What::Join));
        }
        Kind::Fuse(_) if ask.off.contains(&id) => {}
        Kind::Fuse(fuse) => one(fuse.between[0], fuse.between[1], What::Join),
        Kind::Resistor(resistor) => {
            let what = match resistor.ohms {
                Some(ohms) if ohms.0 > 0.0 => What::Law(Law::Ohms { ohms: ohms.0, polarised: false }),
                Some(_) => What::Join,
                None => What::Law(Law::Unknown),
            };
            one(resistor.between[0], resistor.between[1], what)
        }
        Kind::Diode(diode) => one(diode.anode, diode.cathode, What::Law(Law::OneWay { drop: DIODE_DROP })),
        Kind::Input(input) => {
            if let Some((a, b, ohms)) = held(input, pull_up) {
                one(a, b, What::Law(Law::Ohms { ohms, polarised: false }));
            }
        }
        // What an end feeds itself is not worked out.
        Kind::Analogue(end) if end.kind != AnalogueKind::Loop || end.drives_self == Some(true) => {}
        Kind::Analogue(end) if end.draws_from_loop() => {
            let knee = end.volts.map_or(KNEE, |rated| rated.range.low.0).max(KNEE / 10.0);
            one(end.plus, end.minus, What::Law(Law::Draw { amps: ask.loops.0, knee, polarised: true }));
        }
        Kind::Analogue(analogue) => match analogue.ohms {
            Some(ohms) if ohms.0 > 0.0 => {
                one(analogue.plus, analogue.minus, What::Law(Law::Ohms { ohms: ohms.0, polarised: false }))
            }
            _ => {}
        },
        _ => {}
    }
}

/// The volts that a source holds.
pub(in crate::circuit) fn source_volts(source: &Source, mains: Mains) -> Option<f64> {
    let volts = match mains {
        Mains::Nominal => source.volts,
        Mains::Low => source.low.or(source.volts),
        Mains::High => source.high.or(source.volts),
    };
    volts.map(|volts| volts.0)
}

/// How a load or coil draws.
fn drawn(draw: Option<Draw>, rated: Option<Rated>, polarised: bool) -> Law {
    let law = match draw {
        Some(Draw::Amps(amps)) if amps.0 > 0.0 => {
            let knee = rated.map_or(KNEE, |rated| rated.range.low.0).max(KNEE / 10.0);
            Some(Law::Draw { amps: amps.0, knee, polarised })
        }
        Some(Draw::Ohms(ohms)) if ohms.0 > 0.0 => Some(Law::Ohms { ohms: ohms.0, polarised }),
        Some(Draw::Watts(watts)) if watts.0 > 0.0 => rated
            .map(|rated| rated.nominal.0)
            .filter(|volts| *volts > 0.0)
            .map(|volts| Law::Ohms { ohms: volts * volts / watts.0, polarised }),
        _ => None,
    };
    law.unwrap_or(Law::Unknown)
}

/// Where an input's own resistance lies, and its ohms: by its type the lower limit of the current at the end of its
/// 0 state (IEC 61131-2, 24 V DC: type 1 0.5 mA at 5 V, type 2 2 mA, type 3 1.5 mA).
fn held(input: &Input, pull_up: impl Fn() -> Option<TerminalId>) -> Option<(TerminalId, TerminalId, f64)> {
    let ohms = match input.class {
        Some(1) => 5.0 / 0.5e-3,
        Some(2) => 5.0 / 2e-3,
        Some(3) => 5.0 / 1.5e-3,
        _ if input.pull == Pull::None => return None,
        _ => PULL,
    };
    let up = match input.pull {
        Pull::Up => true,
        Pull::Down => false,
        Pull::None => input.active == Active::Low,
    };
    if up { pull_up().map(|plus| (plus, input.at, ohms)) } else { Some((input.at, input.common, ohms)) }
}

/// The limits of an input's two states as volts between it and the level at which it is inactive: below the first it
/// is inactive, from the second on active, between them it may read either way. IEC 61131-2 where the type is stated,
/// else half of its nominal volts either way, taken as one limit.
#[must_use]
pub fn input_limits(input: &Input) -> Option<(f64, f64)> {
    match (input.class, input.volts) {
        (Some(1), _) => Some((5.0, 15.0)),
        (Some(2 | 3), _) => Some((5.0, 11.0)),
        (_, Some(rated)) => Some((rated.nominal.0 / 2.0, rated.nominal.0 / 2.0)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_law_that_many_follow_stands_once() {
        let mut assembly = Assembly::with_room(4);
        let cores = [1.5, 0.5, 1.5].map(|ohms| What::Law(Law::Ohms { ohms, polarised: false }));
        for (core, what) in (0..).zip(cores) {
            assembly.add([core, core + 1], what, Owner::Core(CoreId(core)));
        }
        let polarised = Law::Ohms { ohms: 1.5, polarised: true };
        assembly.add([0, 3], What::Law(polarised), Owner::Part(PartId(0)));
        assembly.add([3, 0], What::Volts(24.0), Owner::Part(PartId(1)));
        let elements = assembly.finish();
        let lies: Vec<Lies> = elements.all.iter().map(|element| element.what).collect();
        assert_eq!(lies, [Lies::Law(0), Lies::Law(1), Lies::Law(0), Lies::Law(2), Lies::Volts(0)]);
        assert_eq!((elements.law(2), elements.volts(0)), (&polarised, 24.0));
    }
}
