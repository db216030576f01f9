//! The changes as tables.

use super::{Changes, Entry, Moved};
use crate::diagnostic::Finding;
use crate::schedules::{Cell, Column, Table};

const fn text(name: &'static str, heading: &'static str) -> Column {
    Column { name, heading, numeric: false }
}

const fn number(name: &'static str, heading: &'static str) -> Column {
    Column { name, heading, numeric: true }
}

const CHANGES: &[Column] = &[
    number("number", "No."),
    text("kind", "Kind"),
    text("what", "What"),
    text("before", "Design"),
    text("after", "As built"),
];

const FINDINGS: &[Column] =
    &[text("severity", "Severity"), text("rule", "Rule"), text("message", "What happens")];

const MOVED: &[Column] =
    &[text("what", "What"), number("before", "Design"), number("after", "As built"), text("unit", "Unit")];

fn words(text: &str) -> Cell {
    Cell::Text(text.to_owned())
}

/// The changes, numbered as on the drawing.
#[must_use]
pub fn changes_table(changes: &Changes<'_>) -> Table {
    let rows = (1_u32..).zip(&changes.changes).map(|(number, entry)| {
        let Entry { kind, what, before, after } = entry;
        vec![Cell::Number(f64::from(number)), words(kind.word()), words(what), words(before), words(after)]
    });
    Table { columns: CHANGES, rows: rows.collect() }
}

/// Findings that came or went.
#[must_use]
pub fn findings_table(findings: &[&Finding]) -> Table {
    let rows = findings.iter().map(|f| vec![words(f.severity.word()), words(f.rule), words(&f.message)]);
    Table { columns: FINDINGS, rows: rows.collect() }
}

/// Volts and amps that moved.
#[must_use]
pub fn moved_table(moved: &[Moved]) -> Table {
    let figure = |value: Option<f64>| value.map_or(Cell::Blank, Cell::Number);
    let rows = moved.iter().map(|m| vec![words(&m.what), figure(m.before), figure(m.after), words(m.unit)]);
    Table { columns: MOVED, rows: rows.collect() }
}
