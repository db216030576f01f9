//! A class: one row an answer, and the commonest mistakes.

use std::collections::BTreeMap;

use super::Mark;
use crate::schedules::{Cell, Column, Table};

/// The marked answers of a class.
#[derive(Debug, Default)]
pub struct Class {
    rows: Vec<(String, Result<Mark, String>)>,
}

const CLASS: &[Column] = &[
    Column::text("answer", "Answer"),
    Column::number("marks", "Marks"),
    Column::number("out_of", "Out of"),
    Column::number("right", "Right"),
    Column::number("missing", "Missing"),
    Column::number("extra", "Extra"),
    Column::number("dangerous", "Dangerous"),
    Column::number("faults", "Faults"),
    Column::text("remark", "Remark"),
];

const MISTAKES: &[Column] =
    &[Column::number("answers", "Answers"), Column::text("mistake", "Mistake"), Column::text("who", "Who")];

impl Class {
    /// Adds an answer by its name: its mark, or why it could not be read.
    pub fn add(&mut self, name: &str, mark: Result<Mark, String>) {
        self.rows.push((name.to_owned(), mark));
    }
}

#[expect(clippy::cast_precision_loss, reason = "no answer has 2^52 joins")]
fn count(n: usize) -> Cell {
    Cell::Number(n as f64)
}

/// One row an answer, in the order in which they were added. Right, missing and extra count joins.
#[must_use]
pub fn class_table(class: &Class) -> Table {
    let rows = class.rows.iter().map(|(name, mark)| {
        let mut row = vec![Cell::Text(name.clone())];
        match mark {
            Ok(mark) => {
                row.extend([mark.marks, mark.out_of].map(count));
                row.extend(mark.joins.map(count));
                row.extend([mark.dangerous.len(), mark.faults.len()].map(count));
                row.push(Cell::Text(mark.exchanged.join("; ")));
            }
            Err(why) => {
                row.extend(std::iter::repeat_n(Cell::Blank, 7));
                row.push(Cell::Text(why.clone()));
            }
        }
        row
    });
    Table { columns: CLASS, rows: rows.collect() }
}

/// What more than one went wrong on, and what only one did after it: the commonest first.
#[must_use]
pub fn mistakes_table(class: &Class) -> Table {
    let mut by: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for (name, mark) in &class.rows {
        let Ok(mark) = mark else { continue };
        let mut mistakes: Vec<String> = mark.mistakes().collect();
        mistakes.sort();
        mistakes.dedup();
        for mistake in mistakes {
            by.entry(mistake).or_default().push(name);
        }
    }
    let mut all: Vec<(String, Vec<&str>)> = by.into_iter().collect();
    all.sort_by_key(|(_, who)| std::cmp::Reverse(who.len()));
    let rows = all
        .into_iter()
        .map(|(mistake, who)| vec![count(who.len()), Cell::Text(mistake), Cell::Text(who.join(", "))]);
    Table { columns: MISTAKES, rows: rows.collect() }
}
