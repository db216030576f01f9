//! Quantities: volts, amps, ohms, metres, mm², seconds and the like, read from and written as an installer writes them.

use std::fmt;

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident, $unit:literal, $word:literal, [$($spelling:literal = $factor:expr),* $(,)?];)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl Quantity for $name {
            const UNIT: &'static str = $unit;
            const WORD: &'static str = $word;
            const SPELLINGS: &'static [(&'static str, f64)] = &[$(($spelling, $factor)),*];
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
    )*

    /// Whose unit a spelling is, for the message about a wrong unit.
    const EVERY_UNIT: &[(&str, &[(&str, f64)])] = &[$(($word, $name::SPELLINGS)),*];
    };
}

/// A number with a unit.
pub trait Quantity: Copy {
    /// The sign of the base unit.
    const UNIT: &'static str;
    /// The quantity in words, as in "this is in volts".
    const WORD: &'static str;
    /// How its units may be spelt, and what one of each is in the base unit; the base unit first.
    const SPELLINGS: &'static [(&'static str, f64)];
    /// From a number in the base unit.
    fn new(value: f64) -> Self;
    /// The number in the base unit.
    fn value(self) -> f64;
}

quantity! {
    /// Volts.
    Volts, "V", "volts", ["V" = 1.0, "mV" = 1e-3, "kV" = 1e3, "volt" = 1.0, "volts" = 1.0,
        "V DC" = 1.0, "V AC" = 1.0, "VDC" = 1.0, "VAC" = 1.0];
    /// Amperes.
    Amps, "A", "amps", ["A" = 1.0, "mA" = 1e-3, "µA" = 1e-6, "μA" = 1e-6, "uA" = 1e-6, "kA" = 1e3,
        "amp" = 1.0, "amps" = 1.0];
    /// Ohms.
    Ohms, "Ω", "ohms", ["Ω" = 1.0, "Ω" = 1.0, "kΩ" = 1e3, "kΩ" = 1e3, "MΩ" = 1e6, "MΩ" = 1e6, "mΩ" = 1e-3,
        "mΩ" = 1e-3, "ohm" = 1.0, "ohms" = 1.0, "kohm" = 1e3, "kohms" = 1e3, "Mohm" = 1e6, "mohm" = 1e-3,
        "k" = 1e3, "M" = 1e6, "R" = 1.0];
    /// Watts.
    Watts, "W", "watts", ["W" = 1.0, "mW" = 1e-3, "kW" = 1e3, "watt" = 1.0, "watts" = 1.0, "VA" = 1.0];
    /// Metres.
    Metres, "m", "metres", ["m" = 1.0, "mm" = 1e-3, "cm" = 1e-2, "km" = 1e3, "metre" = 1.0, "metres" = 1.0,
        "meter" = 1.0, "meters" = 1.0, "ft" = 0.3048, "feet" = 0.3048];
    /// Square millimetres of conductor.
    SquareMm, "mm²", "square millimetres", ["mm²" = 1.0, "mm2" = 1.0, "sqmm" = 1.0, "mm^2" = 1.0];
    /// Seconds.
    Seconds, "s", "seconds", ["s" = 1.0, "ms" = 1e-3, "min" = 60.0, "h" = 3600.0, "sec" = 1.0, "second" = 1.0,
        "seconds" = 1.0, "minutes" = 60.0];
    /// Ampere hours.
    AmpHours, "Ah", "ampere hours", ["Ah" = 1.0, "mAh" = 1e-3];
    /// Ohms a kilometre of conductor at 20 °C.
    OhmsPerKm, "Ω/km", "ohms a kilometre", ["Ω/km" = 1.0, "Ω/km" = 1.0, "ohm/km" = 1.0, "ohms/km" = 1.0,
        "Ω/m" = 1e3, "ohm/m" = 1e3];
    /// Degrees Celsius.
    Celsius, "°C", "degrees Celsius", ["°C" = 1.0, "C" = 1.0];
}

/// A share of one, written in per cent.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Share(pub f64);

impl Quantity for Share {
    const UNIT: &'static str = "%";
    const WORD: &'static str = "per cent";
    const SPELLINGS: &'static [(&'static str, f64)] = &[("%", 0.01), ("per cent", 0.01), ("percent", 0.01)];
    fn new(value: f64) -> Self {
        Self(value)
    }
    fn value(self) -> f64 {
        self.0
    }
}

impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&written(self.0 * 100.0, "%"))
    }
}

impl Ohms {
    /// As the trade writes it, in kΩ and MΩ from a thousand: `4.7 kΩ`.
    #[must_use]
    pub fn short(self) -> String {
        let (value, unit) = match self.0 {
            v if v >= 1e6 => (v / 1e6, "MΩ"),
            v if v >= 1e3 => (v / 1e3, "kΩ"),
            v => (v, "Ω"),
        };
        let text = format!("{value:.3}");
        format!("{} {unit}", text.trim_end_matches('0').trim_end_matches('.'))
    }
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

impl<Q: fmt::Display> fmt::Display for Span<Q> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", self.low, self.high)
    }
}

/// The nominal where the range is that of the nominal alone, else the range.
impl fmt::Display for Rated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plain = Self::from_nominal(self.nominal).range;
        let near = |a: Volts, b: Volts| (a.0 - b.0).abs() < 1e-6;
        if near(plain.low, self.range.low) && near(plain.high, self.range.high) {
            return self.nominal.fmt(f);
        }
        let low = self.range.low.to_string();
        write!(f, "{}–{}", low.trim_end_matches(" V"), self.range.high)
    }
}

/// A value as it stands in messages and documents: at most three decimals, no trailing zeros; small currents in mA.
fn written(value: f64, unit: &str) -> String {
    if unit == Amps::UNIT && value != 0.0 && value.abs() < 0.1 {
        return written(value * 1000.0, "mA");
    }
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    let text = if text == "-0" { "0" } else { text };
    format!("{text} {unit}")
}

/// Why a quantity could not be read, and what to write instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unread {
    /// What is wrong.
    pub message: String,
    /// What to write.
    pub fix: String,
}

impl Unread {
    fn new(message: impl Into<String>, fix: impl Into<String>) -> Self {
        Self { message: message.into(), fix: fix.into() }
    }
}

/// Reads one quantity: `12 V`, `12V`, `500 mA`, `0.75 mm2`, `18 AWG`, `4k7`. A bare number is in the base unit. None of
/// the quantities of a job may be negative.
///
/// # Errors
/// What is wrong with the text, in words.
pub fn quantity<Q: Quantity>(text: &str) -> Result<Q, Unread> {
    let (number, unit) = number_and_unit::<Q>(text)?;
    let factor = match unit {
        None => Q::SPELLINGS.first().map_or(1.0, |(_, factor)| *factor),
        Some(factor) => factor,
    };
    finished::<Q>(number * factor, text)
}

/// Reads `20..28 V` or a single quantity, which is then both ends.
///
/// # Errors
/// What is wrong with the text, in words.
pub fn span<Q: Quantity>(text: &str) -> Result<Span<Q>, Unread> {
    let Some((low, high)) = text.split_once("..") else {
        if let Some(dash) = text.trim().find(['–', '—', '-']).filter(|at| *at > 0) {
            let width = text.trim()[dash..].chars().next().map_or(1, char::len_utf8);
            let (low, high) = (&text.trim()[..dash], &text.trim()[dash + width..]);
            return Err(Unread::new(
                format!("`{text}` is not a range"),
                format!("write a range with two dots: `{}..{}`", low.trim(), high.trim()),
            ));
        }
        let one = quantity::<Q>(text)?;
        return Ok(Span { low: one, high: one });
    };
    if Q::UNIT == SquareMm::UNIT
        && let Some(gauges) = gauges(low, high)
    {
        let [low, high] = gauges.map(|gauge| Q::new(gauge_area(gauge).0));
        return Ok(Span { low, high });
    }
    let (low_number, low_unit) = number_and_unit::<Q>(low)?;
    let (high_number, high_unit) = number_and_unit::<Q>(high)?;
    let base = Q::SPELLINGS.first().map_or(1.0, |(_, factor)| *factor);
    let high_factor = high_unit.unwrap_or(base);
    let low: Q = finished(low_number * low_unit.unwrap_or(high_factor), low)?;
    let high: Q = finished(high_number * high_factor, high)?;
    if low.value() > high.value() {
        return Err(Unread::new(
            format!("the range `{text}` runs backwards"),
            "write the lower figure first, as in `20..28 V`",
        ));
    }
    Ok(Span { low, high })
}

/// The cross-section of a gauge: the diameter is 0.127 mm × 92^((36 − n) / 39) (ASTM B258).
#[must_use]
pub fn gauge_area(gauge: u8) -> SquareMm {
    let diameter = 0.127 * 92_f64.powf((36.0 - f64::from(gauge)) / 39.0);
    SquareMm(std::f64::consts::PI * diameter * diameter / 4.0)
}

/// The size of a conductor as it is sold: by area, or by gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ConductorSize {
    /// By area.
    Area(SquareMm),
    /// By gauge (AWG).
    Gauge(u8),
}

/// `18 AWG` or `AWG 18` as the number of the gauge; `None` when the text is no gauge from 0 to 40.
#[must_use]
pub fn gauge(text: &str) -> Option<u8> {
    let lower = text.trim().to_ascii_lowercase();
    let number = lower.strip_suffix("awg").or_else(|| lower.strip_prefix("awg"))?;
    number.trim().parse().ok().filter(|n| *n <= 40)
}

/// The two gauges of a range, of which one may be a bare number, the thinner conductor first. The trade writes them either
/// way round: the larger the number, the thinner the conductor.
fn gauges(a: &str, b: &str) -> Option<[u8; 2]> {
    let bare = |text: &str| text.trim().parse().ok().filter(|n| *n <= 40);
    let (a, b) = match (gauge(a), gauge(b)) {
        (None, None) => return None,
        (ga, gb) => (ga.or_else(|| bare(a))?, gb.or_else(|| bare(b))?),
    };
    Some([a.max(b), a.min(b)])
}

/// The gauge of which an area is the cross-section, if it was stated by a gauge: nobody writes such a figure.
#[must_use]
pub fn gauge_of(area: SquareMm) -> Option<u8> {
    (0..=40).find(|gauge| (gauge_area(*gauge).0 - area.0).abs() <= area.0 * 1e-9)
}

fn finished<Q: Quantity>(value: f64, text: &str) -> Result<Q, Unread> {
    let text = text.trim();
    if value < 0.0 {
        return Err(Unread::new(format!("`{text}` is negative"), "write it without the minus sign"));
    }
    if !value.is_finite() || value > 1e9 {
        return Err(Unread::new(format!("`{text}` is out of all reason"), "check the figure and its unit"));
    }
    Ok(Q::new(value))
}

/// The number in front, and the factor of the unit behind it, if there is one.
fn number_and_unit<Q: Quantity>(text: &str) -> Result<(f64, Option<f64>), Unread> {
    let text = text.trim();
    let example = example::<Q>();
    if text.is_empty() {
        return Err(Unread::new(
            "there is no figure",
            format!("write a figure with its unit, as in `{example}`"),
        ));
    }
    if let Some(gauge) = (Q::UNIT == SquareMm::UNIT).then(|| gauge(text)).flatten() {
        return Ok((gauge_area(gauge).0, Some(1.0)));
    }
    let end = text
        .char_indices()
        .find(|(at, c)| !(c.is_ascii_digit() || *c == '.' || (*at == 0 && matches!(c, '+' | '-'))))
        .map_or(text.len(), |(at, _)| at);
    let (figure, rest) = text.split_at(end);
    if rest.starts_with(',') && rest[1..].starts_with(|c: char| c.is_ascii_digit()) {
        return Err(Unread::new(
            format!("`{text}` has a comma in its figure"),
            format!("write a decimal point: `{}`", text.replacen(',', ".", 1)),
        ));
    }
    let Ok(number) = figure.parse::<f64>() else {
        return Err(Unread::new(
            format!("`{text}` is not a figure in {}", Q::WORD),
            format!("write a figure with its unit, as in `{example}`"),
        ));
    };
    let unit = rest.trim();
    if unit.is_empty() {
        return Ok((number, None));
    }
    if let Some(factor) = spelling(Q::SPELLINGS, unit) {
        return Ok((number, Some(factor)));
    }
    if Q::UNIT == Ohms::UNIT
        && let Some(value) = letter_for_point(figure, unit)
    {
        return Ok((value, Some(1.0)));
    }
    let other = EVERY_UNIT
        .iter()
        .chain(&[("per cent", Share::SPELLINGS)])
        .find(|(_, spellings)| spellings.iter().any(|(spelling, _)| *spelling == unit));
    Err(match other {
        Some((word, _)) => Unread::new(
            format!("`{text}` is in {word}; this must be in {}", Q::WORD),
            format!("write it in {}, as in `{example}`", Q::WORD),
        ),
        None => Unread::new(
            format!("`{unit}` is not a unit of {}", Q::WORD),
            format!("write a figure with its unit, as in `{example}`"),
        ),
    })
}

/// The factor of a unit; capitals count only where they tell `m` from `M`.
fn spelling(spellings: &[(&str, f64)], unit: &str) -> Option<f64> {
    let exact = spellings.iter().find(|(spelling, _)| *spelling == unit);
    let loose = || {
        let mut alike = spellings.iter().filter(|(spelling, _)| spelling.eq_ignore_ascii_case(unit));
        let first = alike.next()?;
        alike.all(|(_, factor)| factor.to_bits() == first.1.to_bits()).then_some(first)
    };
    exact.or_else(loose).map(|(_, factor)| *factor)
}

/// `4k7`, `2R2`, `1M5`: the letter stands for the point (IEC 60062). `figure` is what stands before the letter.
fn letter_for_point(figure: &str, rest: &str) -> Option<f64> {
    let letter = rest.chars().next()?;
    let factor = match letter {
        'R' => 1.0,
        'k' | 'K' => 1e3,
        'M' => 1e6,
        _ => return None,
    };
    let digits = rest[1..].trim_end_matches(['Ω', 'Ω']);
    if digits.is_empty() || figure.contains('.') || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    format!("{figure}.{digits}").parse::<f64>().ok().map(|value| value * factor)
}

fn example<Q: Quantity>() -> String {
    let figure = match Q::UNIT {
        "V" => "12",
        "A" => "0.5",
        "Ω" => "4700",
        "m" => "14",
        "mm²" => "0.75",
        "%" | "W" => "10",
        "Ω/km" => "26.0",
        "Ah" => "7",
        _ => "1",
    };
    format!("{figure} {}", Q::UNIT)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ohms(text: &str) -> f64 {
        quantity::<Ohms>(text).map_or(f64::NAN, |q| q.0)
    }

    #[test]
    fn quantities_as_installers_write_them() {
        assert_eq!(quantity::<Volts>("12 V"), Ok(Volts(12.0)));
        assert_eq!(quantity::<Volts>("12V"), Ok(Volts(12.0)));
        assert_eq!(quantity::<Volts>(" 12 "), Ok(Volts(12.0)));
        assert_eq!(quantity::<Amps>("500 mA"), Ok(Amps(0.5)));
        assert_eq!(quantity::<Amps>("500ma"), Ok(Amps(0.5)));
        assert_eq!(quantity::<SquareMm>("0.75 mm²"), Ok(SquareMm(0.75)));
        assert_eq!(quantity::<SquareMm>("0.75mm2"), Ok(SquareMm(0.75)));
        assert_eq!(quantity::<Seconds>("1 s"), Ok(Seconds(1.0)));
        assert_eq!(quantity::<Seconds>("200 ms"), Ok(Seconds(0.2)));
        assert_eq!(quantity::<Share>("10 %"), Ok(Share(0.1)));
        assert_eq!(quantity::<Share>("10"), Ok(Share(0.1)));
        assert!((ohms("10 kΩ") - 10e3).abs() < 1e-9);
        assert!((ohms("10 kohm") - 10e3).abs() < 1e-9);
        assert!((ohms("4k7") - 4700.0).abs() < 1e-9);
        assert!((ohms("2R2") - 2.2).abs() < 1e-9);
        assert!((ohms("8.2k") - 8200.0).abs() < 1e-9);
        assert!((ohms("1M5") - 1.5e6).abs() < 1e-9);
    }

    #[test]
    fn ranges_take_the_unit_of_their_end() {
        assert_eq!(span::<Volts>("20..28 V"), Ok(Span { low: Volts(20.0), high: Volts(28.0) }));
        assert_eq!(span::<Seconds>("200 ms .. 2 s"), Ok(Span { low: Seconds(0.2), high: Seconds(2.0) }));
        assert_eq!(span::<Seconds>("0.2..2"), Ok(Span { low: Seconds(0.2), high: Seconds(2.0) }));
        assert!(span::<Volts>("28..20 V").is_err());
        assert_eq!(
            span::<Volts>("20-28 V").map_err(|e| e.fix),
            Err("write a range with two dots: `20..28 V`".into())
        );
    }

    #[test]
    fn what_is_no_quantity_is_told_why() {
        let fix = |text: &str| quantity::<Metres>(text).map_err(|e| e.fix);
        let message = |text: &str| quantity::<Amps>(text).map_err(|e| e.message);
        assert_eq!(fix("0,75 m"), Err("write a decimal point: `0.75 m`".into()));
        assert_eq!(message("12 V"), Err("`12 V` is in volts; this must be in amps".into()));
        for text in
            ["NaN", "inf", "-inf A", "-1 A", "1e400", "", "A", "1.2.3 A", ".", "1 flock", "9999999999 A"]
        {
            assert!(message(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_range_of_gauges_is_read_either_way_round() {
        let of = |thin, thick| Ok(Span { low: gauge_area(thin), high: gauge_area(thick) });
        for text in ["24..16 AWG", "16..24 AWG", "24 AWG..16 AWG", "AWG 24..16", "16 awg .. 24 awg"] {
            assert_eq!(span::<SquareMm>(text), of(24, 16), "{text}");
        }
        assert_eq!(
            span::<SquareMm>("0.2 mm²..16 AWG"),
            Ok(Span { low: SquareMm(0.2), high: gauge_area(16) })
        );
        assert!(span::<SquareMm>("2.5..0.2 mm²").is_err());
    }

    /// ASTM B258 diameters and areas as handbooks print them: 18 AWG 1.024 mm, 0.823 mm²; 24 AWG 0.205 mm².
    #[test]
    fn gauges_follow_their_formula() {
        for (number, area) in [(10, 5.261), (14, 2.081), (18, 0.823), (22, 0.326), (24, 0.205)] {
            assert!((gauge_area(number).0 - area).abs() < 0.001, "{number} AWG");
        }
        assert_eq!(gauge("18 AWG"), Some(18));
        assert_eq!(gauge("18awg"), Some(18));
        assert_eq!(gauge("AWG 18"), Some(18));
        assert_eq!(gauge("300 AWG"), None);
        assert_eq!(gauge_of(gauge_area(18)), Some(18));
        assert_eq!(gauge_of(SquareMm(0.823)), None);
    }
}
