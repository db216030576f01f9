//! CSV (RFC 4180), safe to open in a spreadsheet.

use super::number::written;
use crate::schedules::{Cell, Table};

/// What a spreadsheet takes for the beginning of a formula.
const FORMULA: [char; 4] = ['=', '+', '-', '@'];

/// A table as CSV: a row of column names, then the rows, lines ending in CR LF.
///
/// A text cell that a spreadsheet would take for a formula (`+V` is everywhere in this trade) gets an apostrophe in
/// front; [`rows`] removes it. Numbers never do.
#[must_use]
pub fn csv(table: &Table) -> String {
    let mut out = String::new();
    let names: Vec<String> = table.columns.iter().map(|column| quoted(column.name)).collect();
    line(&mut out, &names);
    for row in &table.rows {
        let cells: Vec<String> = row
            .iter()
            .map(|cell| match cell {
                Cell::Text(text) if is_guarded(text) => quoted(&format!("'{text}")),
                Cell::Text(text) => quoted(text),
                Cell::Number(value) => written(*value),
                Cell::Blank => String::new(),
            })
            .collect();
        line(&mut out, &cells);
    }
    out
}

/// The rows of a CSV text with the guard against formulas taken off, the row of column names first. Spreadsheets that
/// write a decimal comma part cells by semicolons; that is seen in the first line.
///
/// # Errors
/// When it is no CSV, with the reason.
pub fn rows(text: &str) -> Result<Vec<Vec<String>>, String> {
    let names = text.lines().next().unwrap_or_default();
    let parted = if names.contains(';') && !names.contains(',') { b';' } else { b',' };
    let mut reader =
        ::csv::ReaderBuilder::new().has_headers(false).delimiter(parted).from_reader(text.as_bytes());
    let plain = |cell: &str| match cell.strip_prefix('\'') {
        Some(rest) if is_guarded(rest) => rest.to_owned(),
        _ => cell.to_owned(),
    };
    reader
        .records()
        .map(|record| record.map(|r| r.iter().map(plain).collect()).map_err(|e| uneven(&e)))
        .collect()
}

/// Why a text is no CSV: `line 6 has 2 cells, and the lines above it have 1`.
fn uneven(error: &::csv::Error) -> String {
    match error.kind() {
        ::csv::ErrorKind::UnequalLengths { pos: Some(at), expected_len, len } => {
            let cells = if *len == 1 { "cell" } else { "cells" };
            format!("line {} has {len} {cells}, and the lines above it have {expected_len}", at.line())
        }
        _ => error.to_string(),
    }
}

/// Whether a text gets an apostrophe: a formula, or one that already looks guarded, so that reading back is exact.
fn is_guarded(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(FORMULA)
}

fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\r', '\n']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

fn line(out: &mut String, cells: &[String]) {
    out.push_str(&cells.join(","));
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_may_be_parted_by_semicolons() {
        let read = |text: &str| rows(text).unwrap_or_default();
        let by_comma = read("step,at,measured\r\n1,'+V,\"11,9 V\"\r\n");
        assert_eq!(by_comma, [["step", "at", "measured"], ["1", "+V", "11,9 V"]]);
        assert_eq!(read("step;at;measured\r\n1;'+V;11,9 V\r\n"), by_comma);
    }
}
