//! Quantities: volts, amps, ohms, metres, mm², seconds and the like, read from and written as an installer writes them.

use std::fmt;

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident, $unit:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl Quantity for $name {
            const UNIT: &'static str = $unit;
            fn new(value: f64) -> Self {
                Self(value)
            }
            fn value(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&written(self.0, $unit))
            }
        }
    )*};
}

/// A number with a unit.
pub trait Quantity: Copy {
    /// The sign of the base unit.
    const UNIT: &'static str;
    /// From a number in the base unit.
    fn new(value: f64) -> Self;
    /// The number in the base unit.
    fn value(self) -> f64;
}

quantity! {
    /// Volts.
    Volts, "V";
    /// Amperes.
    Amps, "A";
    /// Ohms.
    Ohms, "Ω";
    /// Watts.
    Watts, "W";
    /// Metres.
    Metres, "m";
    /// Square millimetres of conductor.
    SquareMm, "mm²";
    /// Seconds.
    Seconds, "s";
    /// Ampere hours.
    AmpHours, "Ah";
    /// Ohms a kilometre of conductor at 20 °C.
    OhmsPerKm, "Ω/km";
    /// A share of one, written in per cent.
    Share, "%";
    /// Degrees Celsius.
    Celsius, "°C";
}

/// Two values of one quantity, the lower first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span<Q> {
    /// The lower end.
    pub low: Q,
    /// The upper end.
    pub high: Q,
}

/// What a load, coil or input is made for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rated {
    /// The nominal volts; the middle of the range where only a range is given.
    pub nominal: Volts,
    /// The volts at which it works.
    pub range: Span<Volts>,
}

impl Rated {
    /// A single figure is the nominal; 0.85 to 1.20 times it is the range (IEC 61131-2 supply limits).
    #[must_use]
    pub fn from_nominal(nominal: Volts) -> Self {
        let range = Span { low: Volts(nominal.0 * 0.85), high: Volts(nominal.0 * 1.20) };
        Self { nominal, range }
    }

    /// A range as it was stated.
    #[must_use]
    pub fn from_range(range: Span<Volts>) -> Self {
        Self { nominal: Volts(f64::midpoint(range.low.0, range.high.0)), range }
    }
}

/// A value as it stands in messages and documents: at most three decimals, no trailing zeros.
fn written(value: f64, unit: &str) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    let text = if text == "-0" { "0" } else { text };
    format!("{text} {unit}")
}
