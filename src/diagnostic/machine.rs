//! Findings for machines: one JSON array.

use serde::Serialize;

use super::Finding;
use crate::source::Sources;

#[derive(Serialize)]
struct Entry<'a> {
    rule: &'a str,
    severity: &'a str,
    message: &'a str,
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

/// An array with one object a finding, `{rule, severity, message, fix, accepted, state, places}`, and a line's end.
/// `accepted` is the reason or null, `state` the state in words or null, a place `{file, path, line, column}`.
#[must_use]
pub fn json(findings: &[Finding], sources: &Sources) -> String {
    let entries: Vec<Entry> = findings.iter().map(|finding| entry(finding, sources)).collect();
    let mut text = serde_json::to_string_pretty(&entries).unwrap_or_default();
    text.push('\n');
    text
}

fn entry<'a>(finding: &'a Finding, sources: &Sources) -> Entry<'a> {
    let places = finding.labels.iter().map(|label| {
        let at = sources.locate(label.place);
        Point { file: at.file, path: at.path, line: at.line, column: at.column }
    });
    Entry {
        rule: finding.rule,
        severity: finding.severity.word(),
        message: &finding.message,
        fix: &finding.fix,
        accepted: finding.accepted.as_deref(),
        state: finding.state.as_deref(),
        places: places.collect(),
    }
}
