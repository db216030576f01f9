//! The changes as tables.

use super::{Changes, Entry, Moved};
use crate::diagnostic::Finding;
use crate::schedules::{Cell, Column, Table};

const CHANGES: &[Column] = &[
    Column::number("number", "No."),
    Column::text("kind", "Kind"),
    Column::text("what", "What"),
    Column::text("before", "Design"),
    Column::text("after", "As built"),
];

const FINDINGS: &[Column] = &[
    Column::text("severity", "Severity"),
    Column::text("rule", "Rule"),
    Column::text("message", "What happens"),
];

const MOVED: &[Column] = &[
    Column::text("what", "What"),
    Column::number("before", "Design"),
    Column::number("after", "As built"),
    Column::text("unit", "Unit"),
];

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
    let rows =
        findings.iter().map(|f| vec![words(f.severity.word()), words(f.rule), words(&f.message.words())]);
    Table { columns: FINDINGS, rows: rows.collect() }
}

/// Volts and amps that moved.
#[must_use]
pub fn moved_table(moved: &[Moved]) -> Table {
    let figure = |value: Option<f64>| value.map_or(Cell::Blank, Cell::Number);
    let rows = moved.iter().map(|m| vec![words(&m.what), figure(m.before), figure(m.after), words(m.unit)]);
    Table { columns: MOVED, rows: rows.collect() }
}
