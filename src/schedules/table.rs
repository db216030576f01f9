//! Schedules as columns and cells.

use super::{CableRow, Spot, TerminalRow};
use crate::units::Quantity;

/// A table, ready to be written out.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Its columns.
    pub columns: &'static [Column],
    /// Its rows, each with a cell for every column.
    pub rows: Vec<Vec<Cell>>,
}

/// A column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name in CSV and JSON, which stays as it is.
    pub name: &'static str,
    /// Its heading for people.
    pub heading: &'static str,
    /// Whether it holds numbers.
    pub numeric: bool,
}

/// A cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A figure in the unit that the column names.
    Number(f64),
    /// Nothing, in a column of numbers: the figure is not known.
    Blank,
}

impl Column {
    /// A column of words.
    #[must_use]
    pub const fn text(name: &'static str, heading: &'static str) -> Self {
        Self { name, heading, numeric: false }
    }

    /// A column of figures.
    #[must_use]
    pub const fn number(name: &'static str, heading: &'static str) -> Self {
        Self { name, heading, numeric: true }
    }
}

const fn text(name: &'static str, heading: &'static str) -> Column {
    Column::text(name, heading)
}

const fn number(name: &'static str, heading: &'static str) -> Column {
    Column::number(name, heading)
}

const TERMINALS: &[Column] = &[
    text("device", "Device"),
    text("terminal", "Terminal"),
    text("function", "Function"),
    text("core", "Core"),
    text("colour_code", "Code"),
    text("cable", "Cable"),
    text("to", "To"),
    text("net", "Conductor"),
    text("marker", "Marker"),
    text("state", "State"),
    number("sheet", "Sheet"),
    text("zone", "Zone"),
];

const CABLES: &[Column] = &[
    text("cable", "Cable"),
    text("type", "Type"),
    number("length_m", "Length m"),
    text("from", "From"),
    text("to", "To"),
    number("cores", "Cores"),
    number("spare", "Spare"),
    number("amps", "Amps"),
    number("drop_v", "Drop V"),
    number("ohm_per_km", "Ω/km"),
    number("sheet", "Sheet"),
    text("zone", "Zone"),
];

/// The terminal schedule as a table.
#[must_use]
pub fn terminals_table(rows: &[TerminalRow]) -> Table {
    let rows = rows.iter().map(|row| {
        let [sheet, zone] = spot(row.spot.as_ref());
        vec![
            words(&row.device),
            words(&row.terminal),
            words(&row.function),
            words(&row.core),
            words(&row.colour_code),
            words(&row.cable),
            words(&row.to),
            words(&row.net),
            words(&row.marker),
            words(row.state.word()),
            sheet,
            zone,
        ]
    });
    Table { columns: TERMINALS, rows: rows.collect() }
}

/// The cable schedule as a table.
#[must_use]
pub fn cables_table(rows: &[CableRow]) -> Table {
    let rows = rows.iter().map(|row| {
        let [sheet, zone] = spot(row.spot.as_ref());
        vec![
            words(&row.cable),
            words(&row.kind),
            figure(row.length),
            words(&row.from),
            words(&row.to),
            count(row.cores),
            count(row.spare),
            figure(row.amps),
            figure(row.drop),
            figure(row.ohm_per_km),
            sheet,
            zone,
        ]
    });
    Table { columns: CABLES, rows: rows.collect() }
}

fn words(text: &str) -> Cell {
    Cell::Text(text.to_owned())
}

fn figure<Q: Quantity>(quantity: Option<Q>) -> Cell {
    quantity.map_or(Cell::Blank, |quantity| Cell::Number(quantity.value()))
}

#[expect(clippy::cast_precision_loss, reason = "no cable has 2^52 cores")]
fn count(n: usize) -> Cell {
    Cell::Number(n as f64)
}

fn spot(spot: Option<&Spot>) -> [Cell; 2] {
    match spot {
        Some(spot) => [Cell::Number(f64::from(spot.sheet)), words(&spot.zone)],
        None => [Cell::Blank, words("")],
    }
}
