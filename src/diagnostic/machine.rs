//! Findings for machines: one JSON array.

use std::borrow::Cow;
use std::io::{self, Write};

use serde::{Serialize, Serializer};

use super::Finding;
use crate::source::Sources;

#[derive(Serialize)]
struct Entry<'a> {
    rule: &'a str,
    severity: &'a str,
    message: Cow<'a, str>,
    fix: &'a str,
    accepted: Option<&'a str>,
    state: Option<&'a str>,
    places: Vec<Point>,
}

#[derive(Serialize)]
struct Point {
    file: String,
    path: String,
    line: usize,
    column: usize,
}

/// Writes an array with one object a finding, `{rule, severity, message, fix, accepted, state, places}`, and a line's end.
/// `accepted` is the reason or null, `state` the state in words or null, a place `{file, path, line, column}`.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_json(out: &mut dyn Write, findings: &[Finding], sources: &Sources) -> io::Result<()> {
    let mut pretty = serde_json::Serializer::pretty(&mut *out);
    pretty.collect_seq(findings.iter().map(|finding| entry(finding, sources)))?;
    out.write_all(b"\n")
}

fn entry<'a>(finding: &'a Finding, sources: &Sources) -> Entry<'a> {
    let places = finding.labels.iter().map(|label| {
        let at = sources.locate(label.place);
        Point { file: at.file, path: at.path, line: at.line, column: at.column }
    });
    Entry {
        rule: finding.rule,
        severity: finding.severity.word(),
        message: finding.message.words(),
        fix: &finding.fix,
        accepted: finding.accepted.as_deref(),
        state: finding.state.as_ref().map(|state| state.as_str()),
        places: places.collect(),
    }
}
