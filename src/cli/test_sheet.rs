//! `bellwire tests`: the test sheet, and a filled-in one held against the job.

use std::path::Path;

use super::args::Tests;
use super::checked::Checked;
use super::{Ending, Failure, files, print, tables};
use crate::documents::{self, Judged, Test, Verdict};
use crate::drawing::Titled;
use crate::output;

/// No sheet is larger, in bytes; it keeps a wrong file from filling the memory.
const LARGEST_SHEET: u64 = 64 << 20;

pub(super) fn run(args: &Tests) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let tests = documents::tests(&checked.job, &checked.circuit, &checked.findings);
    if let Some(sheet) = &args.readings {
        return readings(sheet, &tests, &checked, args.job.strict);
    }
    let table = documents::tests_table(&tests);
    tables::write(Titled { kind: "Test sheet", table: &table }, &args.to, &checked)?;
    Ok(checked.ending(args.job.strict))
}

/// Says which readings of a filled-in sheet are outside their limits.
fn readings(sheet: &Path, tests: &[Test], checked: &Checked, strict: bool) -> Result<Ending, Failure> {
    let shown = sheet.display();
    let failed = |why: String| Failure(format!("{shown}: {why}"));
    let bytes = files::contents(sheet, LARGEST_SHEET).map_err(failed)?;
    let text = String::from_utf8(bytes)
        .map_err(|_| failed("this is no CSV in UTF-8; save the sheet as such".to_owned()))?;
    let rows = output::rows(&text).map_err(|why| failed(format!("this is no CSV: {why}")))?;
    let judged = documents::judge(tests, &rows).map_err(failed)?;
    let of = |verdict| judged.iter().filter(move |judged| judged.verdict == verdict);
    let mut report = String::new();
    for judged in of(Verdict::Outside) {
        report.push_str(&outside(tests, judged));
    }
    for judged in of(Verdict::Unreadable) {
        report.push_str(&format!(
            "step {}: `{}` is neither a figure nor a word of the sheet\n",
            judged.step, judged.measured
        ));
    }
    report.push_str(&explained(tests, &judged, checked));
    let (within, wrong) = (of(Verdict::Within).count(), of(Verdict::Outside).count());
    let (missing, unreadable) = (of(Verdict::Missing).count(), of(Verdict::Unreadable).count());
    report.push_str(&format!(
        "{within} within limits, {wrong} outside, {missing} not filled in, {unreadable} not readable.\n"
    ));
    print(report.as_bytes())?;
    let found = checked.ending(strict);
    Ok(if strict && wrong + missing + unreadable > 0 { Ending::Found } else { found })
}

/// The single faults that would give the readings that are outside their limits.
fn explained(tests: &[Test], judged: &[Judged], checked: &Checked) -> String {
    const MOST: usize = 8;
    let outside = judged.iter().filter(|judged| judged.verdict == Verdict::Outside && !judged.as_written);
    let taken: Vec<_> = outside
        .filter_map(|judged| {
            let (pose, probe) = tests.get(judged.step - 1)?.probe.clone()?;
            Some((pose, probe, judged.figure?))
        })
        .collect();
    if taken.is_empty() {
        return String::new();
    }
    let found = documents::faults::explain(&checked.job, &checked.circuit, &taken);
    let Some((_, given)) = found.first() else {
        return "no single fault of the fault-finding chart gives any of these readings\n".to_owned();
    };
    let mut report = format!("what would give {given} of these {} readings:\n", taken.len());
    for (fault, _) in found.iter().take(MOST) {
        report.push_str(&format!("    {}\n", fault.words(&checked.job)));
    }
    if found.len() > MOST {
        report.push_str(&format!("    and {} more; see: bellwire faults\n", found.len() - MOST));
    }
    report
}

/// One reading that is outside its limits, with what it should have been.
fn outside(tests: &[Test], judged: &Judged) -> String {
    let Some(test) = tests.get(judged.step - 1) else { return String::new() };
    let must = match (&test.expect, test.limits()) {
        (documents::Expect::Word { word, .. }, (None, None)) => (*word).to_owned(),
        (documents::Expect::Word { word, .. }, (Some(low), _)) => format!("{word}, from {low} {}", test.unit),
        (documents::Expect::Word { word, .. }, (_, Some(high))) => {
            format!("{word}, up to {high} {}", test.unit)
        }
        (documents::Expect::Figure { value, low, high }, _) => {
            if judged.as_written {
                format!("from {low} to {high} {}", test.unit)
            } else {
                format!("{value}, from {low} to {high} {}", test.unit)
            }
        }
        (documents::Expect::Nothing, _) => return String::new(),
    };
    let why = if judged.as_written {
        "    the job as it is written gives this reading: not the work is at fault but the job; see: bellwire check\n"
    } else {
        ""
    };
    format!(
        "step {}, {}, {}: {} measured, must be {must}\n    {}\n{why}",
        judged.step,
        test.kind.word(),
        test.at,
        judged.measured,
        test.how
    )
}
