//! Figures in tables.

/// A figure with six significant digits, no zeros at its end and no exponent.
pub(super) fn written(value: f64) -> String {
    with_digits(value, 6)
}

/// The same for people to read: four significant digits, of a whole number six.
pub(super) fn short(value: f64) -> String {
    with_digits(value, if value.fract() == 0.0 { 6 } else { 4 })
}

fn with_digits(value: f64, count: u8) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let rounded = format!("{value:.*e}", usize::from(count) - 1);
    let Some((digits, exponent)) = rounded.split_once('e') else { return rounded };
    let exponent: i32 = exponent.parse().unwrap_or_default();
    let decimals = usize::try_from(i32::from(count) - 1 - exponent).unwrap_or(0);
    let value: f64 = format!("{digits}e{exponent}").parse().unwrap_or(value);
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::{short, written};

    #[test]
    fn six_digits_and_no_tail() {
        let pairs = [
            (0.0, "0"),
            (14.0, "14"),
            (0.3, "0.3"),
            (0.1 + 0.2, "0.3"),
            (89.123_456, "89.1235"),
            (0.001_234_567_8, "0.00123457"),
            (-4.5, "-4.5"),
            (1_234_567.0, "1234570"),
            (999_999.9, "1000000"),
        ];
        for (value, text) in pairs {
            assert_eq!(written(value), text);
        }
    }

    #[test]
    fn people_read_four_digits_and_whole_numbers() {
        let pairs =
            [(0.0, "0"), (0.202_39, "0.2024"), (5.348_7, "5.349"), (12_345.0, "12345"), (12_345.6, "12350")];
        for (value, text) in pairs {
            assert_eq!(short(value), text);
        }
    }
}
