//! Tables for a terminal window.

use super::number::written;
use crate::schedules::{Cell, Table};

/// Between two columns.
const GAP: &str = "  ";

/// A table in columns of spaces. Columns in which nothing stands are left out.
#[must_use]
pub fn text(table: &Table) -> String {
    let cells: Vec<Vec<String>> = table.rows.iter().map(|row| row.iter().map(shown).collect()).collect();
    let column = |i: usize| cells.iter().filter_map(move |row| row.get(i));
    let mut shown = Vec::new();
    for (i, head) in table.columns.iter().enumerate() {
        if column(i).any(|cell| !cell.is_empty()) {
            let widest = column(i).map(|cell| cell.chars().count()).max().unwrap_or(0);
            shown.push((i, head, widest.max(head.heading.chars().count())));
        }
    }
    let mut out = String::new();
    let mut line = |row: &dyn Fn(usize) -> String| {
        let mut text = String::new();
        for (i, head, width) in &shown {
            let cell = row(*i);
            let space = " ".repeat(width.saturating_sub(cell.chars().count()));
            let (before, after) = if head.numeric { (space, String::new()) } else { (String::new(), space) };
            text.push_str(&format!("{before}{cell}{after}{GAP}"));
        }
        out.push_str(text.trim_end());
        out.push('\n');
    };
    line(&|i| table.columns.get(i).map(|c| c.heading.to_owned()).unwrap_or_default());
    for row in &cells {
        line(&|i| row.get(i).cloned().unwrap_or_default());
    }
    out
}

fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => text.replace(['\r', '\n'], " "),
        Cell::Number(value) => written(*value),
        Cell::Blank => String::new(),
    }
}
