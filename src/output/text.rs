//! Tables for a terminal window.

use super::number::short;
use crate::documents::faults::Chart;
use crate::schedules::{Cell, Table};

/// Between two columns.
const GAP: &str = "  ";

/// A column of words is at most so many letters wide; longer cells go on below.
const WIDEST: usize = 60;

/// A table in columns of spaces. Columns in which nothing stands and shall stand are left out.
#[must_use]
pub fn text(table: &Table) -> String {
    if table.rows.is_empty() {
        return "Nothing to list.\n".to_owned();
    }
    let cells: Vec<Vec<String>> = table.rows.iter().map(|row| row.iter().map(shown).collect()).collect();
    let column = |i: usize| cells.iter().filter_map(move |row| row.get(i));
    let mut shown = Vec::new();
    for (i, head) in table.columns.iter().enumerate() {
        if head.to_fill_in || column(i).any(|cell| !cell.is_empty()) {
            let widest = column(i).map(|cell| cell.chars().count()).max().unwrap_or(0);
            let widest = if head.numeric { widest } else { widest.min(WIDEST) };
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
        let pieces: Vec<Vec<String>> = row.iter().map(|cell| broken(cell)).collect();
        for n in 0..pieces.iter().map(Vec::len).max().unwrap_or(1) {
            line(&|i| pieces.get(i).and_then(|pieces| pieces.get(n)).cloned().unwrap_or_default());
        }
    }
    out
}

/// A cell in pieces of at most [`WIDEST`] letters, broken between words; a longer word stays whole.
fn broken(cell: &str) -> Vec<String> {
    let mut pieces: Vec<String> = Vec::new();
    if cell.chars().count() <= WIDEST {
        return vec![cell.to_owned()];
    }
    for word in cell.split(' ') {
        match pieces.last_mut() {
            Some(last) if last.chars().count() + 1 + word.chars().count() <= WIDEST => {
                last.push(' ');
                last.push_str(word);
            }
            _ => pieces.push(word.to_owned()),
        }
    }
    pieces
}

/// A fault-finding chart for a terminal window: complaint, readings, bands of values, causes.
#[must_use]
pub fn chart_text(chart: &Chart) -> String {
    let mut out = String::new();
    for (n, group) in chart.groups.iter().enumerate() {
        out.push_str(&format!("{}. {}\n", n + 1, group.complaint));
        if group.readings.is_empty() {
            out.push_str(&format!("     {}\n", group.causes.join("\n     ")));
        }
        for (m, reading) in group.readings.iter().enumerate() {
            let right = match reading.expect_between() {
                Some([low, high]) => format!("{low} to {high}"),
                None => ((reading.expect * 100.0).round() / 100.0 + 0.0).to_string(),
            };
            out.push_str(&format!("  {}) {}, {} (right: {right} V)\n", m + 1, reading.at, reading.when));
            for band in &reading.bands {
                let found = group.found(band).replace("; ", "\n                    ");
                out.push_str(&format!("     {:>6.1} to {:>4.1} V  {found}\n", band.low, band.high));
            }
        }
        out.push('\n');
    }
    out
}

fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => text.replace(['\r', '\n'], " "),
        Cell::Number(value) => short(*value),
        Cell::Blank => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::text;
    use crate::schedules::{Cell, Column, Table};

    #[test]
    fn a_long_cell_goes_on_below_itself() {
        const COLUMNS: &[Column] = &[Column::number("step", "Step"), Column::text("how", "How")];
        let how = "Everything at rest, all power off. ".repeat(8);
        let row = |n, how: &str| vec![Cell::Number(n), Cell::Text(how.to_owned())];
        let told = text(&Table { columns: COLUMNS, rows: vec![row(1.0, how.trim()), row(2.0, "short")] });
        assert!(told.lines().all(|line| line.chars().count() <= 66), "{told}");
        let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        assert_eq!(words(&told), words(&format!("Step How 1 {how} 2 short")));
    }
}
