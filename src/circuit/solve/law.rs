//! What current a part draws at what volts: straight lines joined end to end, rising.

/// What a part that does not conduct lets through, in siemens. Far below anything that is measured; it gives the
/// volts of a conductor that hangs on blocked parts alone a value.
pub(super) const BLOCKED: f64 = 1e-12;

/// Ohms of a conducting diode beyond its 0.7 V, so that diodes side by side share.
const DIODE_OHMS: f64 = 1e-4;

/// How much more a constant current grows when the volts double, as a share of it: it parts the volts between
/// constant currents in series.
const SLOPE: f64 = 1e-6;

/// The volts a conducting diode drops.
pub const DIODE_DROP: f64 = 0.7;

/// A current as it depends on the volts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Law {
    /// A resistance; one way only if `polarised`.
    Ohms { ohms: f64, polarised: bool },
    /// Nothing below the drop, and beyond it what the rest of the circuit allows.
    OneWay { drop: f64 },
    /// A constant current from `knee` volts upwards, in proportion below it.
    Draw { amps: f64, knee: f64, polarised: bool },
    /// A part whose current is not known: it is taken to draw none.
    Unknown,
}

impl Law {
    /// Slope in siemens and current at 0 V of the line on which `volts` lie.
    pub(super) fn line(&self, volts: f64) -> (f64, f64) {
        match *self {
            Self::Ohms { polarised: true, .. } | Self::Draw { polarised: true, .. } if volts < 0.0 => {
                (BLOCKED, 0.0)
            }
            Self::Ohms { ohms, .. } => (1.0 / ohms, 0.0),
            Self::OneWay { drop } if volts < drop => (BLOCKED, 0.0),
            Self::OneWay { drop } => (1.0 / DIODE_OHMS, drop * (BLOCKED - 1.0 / DIODE_OHMS)),
            Self::Draw { amps, knee, .. } if volts.abs() <= knee => (amps / knee, 0.0),
            Self::Draw { amps, knee, .. } => (SLOPE * amps / knee, amps * (1.0 - SLOPE) * volts.signum()),
            Self::Unknown => (BLOCKED, 0.0),
        }
    }

    /// What tells it from all other laws.
    pub(super) fn key(&self) -> (u64, u64, u64) {
        match *self {
            Self::Unknown => (0, 0, 0),
            Self::OneWay { drop } => (1, drop.to_bits(), 0),
            Self::Ohms { ohms, polarised } => (2 + u64::from(polarised), ohms.to_bits(), 0),
            Self::Draw { amps, knee, polarised } => {
                (4 + u64::from(polarised), amps.to_bits(), knee.to_bits())
            }
        }
    }

    /// The current at those volts.
    pub(super) fn amps(&self, volts: f64) -> f64 {
        let (slope, start) = self.line(volts);
        slope * volts + start
    }

    /// Whether the part lets current through at those volts.
    pub(super) fn conducts(&self, volts: f64) -> bool {
        self.line(volts).0 > BLOCKED || matches!(self, Self::Draw { .. }) && volts > 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_of_a_law_meet() {
        let laws = [
            (Law::OneWay { drop: 0.7 }, vec![0.7]),
            (Law::Draw { amps: 0.5, knee: 10.2, polarised: false }, vec![-10.2, 10.2]),
            (Law::Draw { amps: 0.5, knee: 10.2, polarised: true }, vec![0.0, 10.2]),
            (Law::Ohms { ohms: 120.0, polarised: true }, vec![0.0]),
        ];
        for (law, kinks) in laws {
            for kink in kinks {
                let (below, above) = (law.amps(kink - 1e-12), law.amps(kink + 1e-12));
                assert!((below - above).abs() < 1e-7, "{law:?} at {kink}: {below} and {above}");
            }
        }
    }
}
