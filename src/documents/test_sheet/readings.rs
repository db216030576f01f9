//! A filled-in test sheet held against the job.

use super::{AT_DEVICE, Expect, Kind, OPEN, Test, met};

/// What a reading says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is as it must be.
    Within,
    /// It is outside its limits, or the other word.
    Outside,
    /// The box is empty.
    Missing,
    /// It is neither a figure nor a word that is asked for.
    Unreadable,
}

/// One test with what was written in its box.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// The number of the test, from 1.
    pub step: usize,
    /// What was written.
    pub measured: String,
    /// The figure, where one was written; an open reading is infinite.
    pub figure: Option<f64>,
    /// What it says.
    pub verdict: Verdict,
    /// Whether it is outside its limits because the job as it is written gives just this.
    pub as_written: bool,
}

/// Holds a filled-in sheet against the tests of a job. `rows` are the cells of the sheet, names of columns first; rows
/// without a box to fill in (cautions) are passed over, rows that were left out count as missing.
///
/// # Errors
/// If the sheet has no columns `step`, `at` and `measured`, or is not of this job: a sentence that says where.
pub fn judge(tests: &[Test], rows: &[Vec<String>]) -> Result<Vec<Judged>, String> {
    let Some((head, rows)) = rows.split_first() else { return Err("the sheet is empty".to_owned()) };
    let column = |name: &str| {
        head.iter()
            .position(|cell| cell.trim().trim_start_matches('\u{feff}') == name)
            .ok_or_else(|| format!("the sheet has no column `{name}`; its first line names the columns"))
    };
    let (step, at, measured) = (column("step")?, column("at")?, column("measured")?);
    let cell = |row: &[String], n: usize| row.get(n).map(|cell| cell.trim().to_owned()).unwrap_or_default();
    let mut written: Vec<String> = vec![String::new(); tests.len()];
    for row in rows.iter().filter(|row| row.iter().any(|cell| !cell.trim().is_empty())) {
        let number = cell(row, step);
        let found = number.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
        let Some((n, test)) = found.and_then(|n| Some((n, tests.get(n)?))) else {
            return Err(format!(
                "step `{number}` is no test of this job; write the sheet anew from the job file"
            ));
        };
        if cell(row, at) != test.at.trim() {
            return Err(format!(
                "step {number} is about `{}` on the sheet and about `{}` in this job; the job file has changed since, \
                 write the sheet anew",
                cell(row, at),
                test.at
            ));
        }
        if let Some(slot) = written.get_mut(n) {
            *slot = cell(row, measured);
        }
    }
    let judged = tests.iter().zip(written).enumerate().filter(|(_, (test, _))| test.kind != Kind::Caution);
    Ok(judged
        .map(|(n, (test, measured))| {
            let (figure, verdict) = verdict(test, &measured);
            let as_written =
                verdict == Verdict::Outside && figure.is_some_and(|figure| as_written(test, figure));
            Judged { step: n + 1, measured, figure, verdict, as_written }
        })
        .collect())
}

/// Whether a figure is what the job as it is written gives where that does not pass.
fn as_written(test: &Test, figure: f64) -> bool {
    let Expect::Figure { value, .. } = test.expect else { return false };
    !test.passes() && (figure - value).abs() <= AT_DEVICE * value.abs()
}

fn verdict(test: &Test, measured: &str) -> (Option<f64>, Verdict) {
    if measured.is_empty() {
        return (None, Verdict::Missing);
    }
    let as_it_must_be = |yes: bool| if yes { Verdict::Within } else { Verdict::Outside };
    let figure = figure(measured, test.unit);
    if let Some(value) = figure {
        let (low, high) = test.limits();
        if low.is_none() && high.is_none() {
            // Ohms were asked for without a figure: what matters is that it is joined.
            let yes = test.unit == "Ω" && value < OPEN;
            return (figure, if test.unit.is_empty() { Verdict::Unreadable } else { as_it_must_be(yes) });
        }
        let yes = low.is_none_or(|low| met(value, low)) && high.is_none_or(|high| met(-value, -high));
        return (figure, as_it_must_be(yes));
    }
    let word = measured.to_lowercase();
    let said = match word.as_str() {
        "yes" | "y" | "ok" | "pass" | "✓" | "x" | "done" => "yes",
        "no" | "n" | "fail" => "no",
        other => other,
    };
    let verdict = match &test.expect {
        Expect::Word { word: wanted, .. } if said == *wanted || said == "yes" => Verdict::Within,
        Expect::Word { .. } if ["no", "closed", "joined", "apart", "open"].contains(&said) => {
            Verdict::Outside
        }
        Expect::Figure { .. } if said == "no" => Verdict::Outside,
        _ => Verdict::Unreadable,
    };
    (None, verdict)
}

/// A figure in the unit of the test: `11.9`, `11,9 V`, `4k7`, `4.7 kΩ`, `120 mV`, `> 20 M`; `OL`, `open` and `∞` of ohms
/// are infinite.
fn figure(text: &str, unit: &str) -> Option<f64> {
    let ohms = unit.ends_with('Ω');
    let lower = text.trim().to_lowercase();
    if ohms && ["ol", "o.l", "o.l.", "0l", "open", "∞", "inf"].contains(&lower.as_str()) {
        return Some(f64::INFINITY);
    }
    let text = text.trim().trim_start_matches(['>', '<', '≥', '≤', '=', '~', '≈']).trim().replace(',', ".");
    let end = text
        .char_indices()
        .find(|(n, c)| !(c.is_ascii_digit() || *c == '.' || (*n == 0 && (*c == '-' || *c == '+'))))
        .map_or(text.len(), |(n, _)| n);
    let (number, rest) = text.split_at(end);
    let mut value: f64 = number.parse().ok()?;
    let rest = rest.trim();
    let (prefix, after) = match rest.chars().next() {
        Some(c @ ('k' | 'K' | 'M' | 'm' | 'µ' | 'R')) => (Some(c), &rest[c.len_utf8()..]),
        _ => (None, rest),
    };
    // `4k7`: the prefix stands for the point.
    if prefix.is_some()
        && !after.is_empty()
        && after.chars().all(|c| c.is_ascii_digit())
        && !number.contains('.')
    {
        value = format!("{number}.{after}").parse().ok()?;
    } else {
        let named = after.trim().to_lowercase();
        let known = ["", "v", "v dc", "v ac", "vdc", "vac", "a", "ω", "ohm", "ohms", "Ω"];
        if !known.contains(&named.as_str()) {
            return None;
        }
    }
    let factor = match prefix {
        Some('k' | 'K') => 1e3,
        Some('M') => 1e6,
        Some('m') => 1e-3,
        Some('µ') => 1e-6,
        _ => 1.0,
    };
    // A bare number on a row in MΩ is in MΩ; one with a unit says its own.
    let base = if unit == "MΩ" && !rest.is_empty() { 1e-6 } else { 1.0 };
    Some(value * factor * base)
}

#[cfg(test)]
mod tests {
    use super::figure;

    #[test]
    fn figures_as_people_write_them() {
        for (text, unit, value) in [
            ("11.9", "V DC", 11.9),
            ("11,9 V", "V DC", 11.9),
            ("-12", "V DC", -12.0),
            ("120 mV", "V DC", 0.12),
            ("4k7", "Ω", 4700.0),
            ("4.7 kΩ", "Ω", 4700.0),
            ("> 20 M", "Ω", 20e6),
            ("OL", "Ω", f64::INFINITY),
            ("200", "MΩ", 200.0),
            ("500 kΩ", "MΩ", 0.5),
        ] {
            assert_eq!(figure(text, unit), Some(value), "{text}");
        }
        for text in ["", "yes", "12 bananas", "1.2.3"] {
            assert_eq!(figure(text, "V DC"), None, "{text}");
        }
        assert_eq!(figure("OL", "V DC"), None);
    }
}
