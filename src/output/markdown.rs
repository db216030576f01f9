//! Tables as Markdown.

use super::number::written;
use crate::schedules::{Cell, Table};

/// Characters that Markdown would read as its own.
const OWN: [char; 9] = ['\\', '|', '`', '*', '<', '&', '[', ']', '~'];

/// A table as Markdown, numbers to the right.
#[must_use]
pub fn markdown(table: &Table) -> String {
    let mut out = String::new();
    line(&mut out, table.columns.iter().map(|column| escaped(column.heading)));
    line(&mut out, table.columns.iter().map(|c| (if c.numeric { "---:" } else { "---" }).to_owned()));
    for row in &table.rows {
        line(
            &mut out,
            row.iter().map(|cell| match cell {
                Cell::Text(text) => escaped(text),
                Cell::Number(value) => written(*value),
                Cell::Blank => String::new(),
            }),
        );
    }
    out
}

fn line(out: &mut String, cells: impl Iterator<Item = String>) {
    out.push('|');
    for cell in cells {
        out.push_str(&format!(" {cell} |"));
    }
    out.push('\n');
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\r' | '\n' => out.push(' '),
            c => {
                if OWN.contains(&c) {
                    out.push('\\');
                }
                out.push(c);
            }
        }
    }
    out
}
