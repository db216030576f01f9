//! Resistance and current of conductors, where neither the job nor the data sheet states them.

use super::{Figure, Origin};
use crate::units::{self, Amps, OhmsPerKm, SquareMm};

/// How a conductor is built: the classes of IEC 60228.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// Class 1, solid.
    Solid,
    /// Class 2, stranded.
    Stranded,
    /// Class 5, flexible.
    Flexible,
}

/// Size in mm² and the highest resistance at 20 °C in Ω/km of plain copper, for classes 1 and 2 (IEC 60228:2004,
/// Tables 1 and 2) and for class 5 (Table 3).
const RESISTANCE: &[(f64, f64, f64)] = &[
    (0.5, 36.0, 39.0),
    (0.75, 24.5, 26.0),
    (1.0, 18.1, 19.5),
    (1.5, 12.1, 13.3),
    (2.5, 7.41, 7.98),
    (4.0, 4.61, 4.95),
    (6.0, 3.08, 3.30),
    (10.0, 1.83, 1.91),
    (16.0, 1.15, 1.21),
];

/// Size in mm² and the amps that this program assumes where nobody states them. A cautious choice of our own: for 0.5
/// to 1.0 mm² the flexible cords of BS 7671 Table 4F3A, from 1.5 mm² IEC 60204-1 Table 6 method B2 rounded down, for
/// smaller cores common practice without a source.
const OWN_AMPS: &[(f64, f64)] = &[
    (0.14, 0.5),
    (0.2, 1.0),
    (0.34, 1.5),
    (0.44, 3.0),
    (0.75, 6.0),
    (1.0, 10.0),
    (1.5, 13.0),
    (2.5, 17.0),
    (4.0, 23.0),
    (6.0, 30.0),
    (10.0, 40.0),
    (16.0, 54.0),
];

/// The amps assumed for a 24 AWG conductor of a data pair, and for anything thinner down to 0.14 mm². From memory.
const PAIR_AMPS: f64 = 0.5;

/// The largest gauge number that counts as the conductor of a data pair.
const PAIR_GAUGE: u8 = 24;

/// Conductivity of standard annealed copper at 20 °C in m/(Ω·mm²) (IEC 60028).
const CONDUCTIVITY: f64 = 58.0;

/// How far the limits of IEC 60228 for class 5 lie above the plain arithmetic of the strands, at 0.5 to 2.5 mm².
const ABOVE_ARITHMETIC: f64 = 1.137;

/// What is known of a conductor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Conductor {
    /// Its nominal size.
    pub area: Option<SquareMm>,
    /// Its gauge, where it is sold by gauge.
    pub gauge: Option<u8>,
    /// Its class; flexible where it is not stated, which is the higher resistance.
    pub class: Option<Class>,
    /// How many strands it has, and their diameter in mm.
    pub strands: Option<(u32, f64)>,
}

impl Conductor {
    /// The area of its strands.
    fn strand_area(&self) -> Option<f64> {
        self.strands.map(|(count, d)| f64::from(count) * std::f64::consts::PI * d * d / 4.0)
    }

    /// Its size: stated, by its gauge, or by its strands.
    #[must_use]
    pub fn size(&self) -> Option<SquareMm> {
        self.area.or_else(|| self.gauge.map(units::gauge_area)).or_else(|| self.strand_area().map(SquareMm))
    }

    /// Its resistance at 20 °C: by size and class (IEC 60228), by its gauge (ASTM B258), by its strands, or, for a size
    /// in no table, as if it were strands of that area.
    #[must_use]
    pub fn resistance(&self) -> Option<Figure<OhmsPerKm>> {
        let class = self.class.unwrap_or(Class::Flexible);
        let listed = self.area.filter(|_| self.gauge.is_none()).and_then(|area| {
            RESISTANCE
                .iter()
                .find(|(size, ..)| (size - area.0).abs() < 1e-6)
                .map(|(_, firm, flexible)| if class == Class::Flexible { *flexible } else { *firm })
        });
        let figure = |ohms: f64, from| Figure { value: OhmsPerKm(ohms), from };
        if let Some(ohms) = listed {
            return Some(figure(ohms, Origin::Iec60228));
        }
        if let Some(gauge) = self.gauge {
            return Some(figure(1000.0 / (CONDUCTIVITY * units::gauge_area(gauge).0), Origin::AstmB258));
        }
        let (area, from) = match (self.strand_area(), self.area) {
            (Some(area), _) => (area, Origin::Strands),
            (None, Some(area)) => (area.0, Origin::OwnDefault),
            (None, None) => return None,
        };
        (area > 0.0).then(|| figure(ABOVE_ARITHMETIC * 1000.0 / (CONDUCTIVITY * area), from))
    }

    /// What it may carry, by the program's own cautious table; `None` below 0.14 mm².
    #[must_use]
    pub fn amps(&self) -> Option<Figure<Amps>> {
        let area = self.size()?.0;
        let row = OWN_AMPS.iter().rev().find(|(size, _)| *size <= area + 0.002)?;
        let pair = self.gauge.is_some_and(|gauge| gauge >= PAIR_GAUGE);
        let value = if pair { row.1.min(PAIR_AMPS) } else { row.1 };
        Some(Figure { value: Amps(value), from: Origin::OwnDefault })
    }

    /// The size as the trade writes it.
    #[must_use]
    pub fn size_text(&self) -> Option<String> {
        match self.gauge {
            Some(gauge) => Some(format!("{gauge} AWG")),
            None => self.size().map(|area| SquareMm((area.0 * 100.0).round() / 100.0).to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_area(area: f64) -> Conductor {
        Conductor { area: Some(SquareMm(area)), ..Conductor::default() }
    }

    fn ohms(conductor: Conductor) -> (f64, Origin) {
        conductor.resistance().map_or((f64::NAN, Origin::Stated), |figure| (figure.value.0, figure.from))
    }

    /// IEC 60228:2004, Table 1 (class 1), Table 2 (class 2) and Table 3 (class 5), plain copper at 20 °C.
    #[test]
    fn resistance_by_size_and_class() {
        for (area, class, limit) in [
            (0.5, Class::Solid, 36.0),
            (0.75, Class::Solid, 24.5),
            (1.0, Class::Stranded, 18.1),
            (1.5, Class::Stranded, 12.1),
            (16.0, Class::Stranded, 1.15),
            (0.5, Class::Flexible, 39.0),
            (0.75, Class::Flexible, 26.0),
            (1.0, Class::Flexible, 19.5),
            (2.5, Class::Flexible, 7.98),
            (6.0, Class::Flexible, 3.30),
        ] {
            let conductor = Conductor { class: Some(class), ..of_area(area) };
            assert_eq!(ohms(conductor), (limit, Origin::Iec60228), "{area} mm²");
        }
        assert_eq!(ohms(of_area(0.75)), (26.0, Origin::Iec60228));
    }

    /// Copper wire by gauge at 20 °C as handbooks print it: 18 AWG 20.95 Ω/km, 22 AWG 52.96, 24 AWG 84.22 (diameters of
    /// ASTM B258, resistivity of IEC 60028).
    #[test]
    fn resistance_by_gauge() {
        for (gauge, expected) in [(10, 3.28), (14, 8.29), (18, 20.95), (22, 52.96), (24, 84.22)] {
            let (value, from) = ohms(Conductor { gauge: Some(gauge), ..Conductor::default() });
            assert!((value / expected - 1.0).abs() < 0.002, "{gauge} AWG: {value}");
            assert_eq!(from, Origin::AstmB258);
        }
    }

    /// 7/0.20 is sold as 0.22 mm²; an alarm panel's manual prints 85 Ω/km for it, and a wire table 83.5.
    #[test]
    fn resistance_by_strands_lies_above_what_makers_print() {
        let (value, from) = ohms(Conductor { strands: Some((7, 0.20)), ..of_area(0.22) });
        assert!((85.0..90.0).contains(&value), "{value}");
        assert_eq!(from, Origin::Strands);
        let (value, from) = ohms(of_area(0.22));
        assert!((85.0..90.0).contains(&value), "{value}");
        assert_eq!(from, Origin::OwnDefault);
    }

    #[test]
    fn amps_are_those_of_the_next_smaller_size() {
        let amps = |conductor: Conductor| conductor.amps().map(|figure| figure.value.0);
        assert_eq!(amps(of_area(0.75)), Some(6.0));
        assert_eq!(amps(of_area(0.9)), Some(6.0));
        assert_eq!(amps(of_area(0.22)), Some(1.0));
        assert_eq!(amps(of_area(0.05)), None);
        assert_eq!(amps(Conductor { gauge: Some(18), ..Conductor::default() }), Some(6.0));
        assert_eq!(amps(Conductor { gauge: Some(24), ..Conductor::default() }), Some(0.5));
    }
}
