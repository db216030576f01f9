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
    /// From 1: on paper its cell is left out where the row above says the same in this column and in all others of this
    /// level and of those before it. 0: it always stands there.
    pub once: u8,
    /// Left empty for whoever fills it in: it stands there though nothing stands in it.
    pub to_fill_in: bool,
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
        Self { name, heading, numeric: false, once: 0, to_fill_in: false }
    }

    /// A column of figures.
    #[must_use]
    pub const fn number(name: &'static str, heading: &'static str) -> Self {
        Self { name, heading, numeric: true, once: 0, to_fill_in: false }
    }

    /// The column, said once on paper, see [`Column::once`].
    #[must_use]
    pub const fn said_once(self, level: u8) -> Self {
        Self { once: level, ..self }
    }

    /// The column, left empty for whoever fills it in, see [`Column::to_fill_in`].
    #[must_use]
    pub const fn to_fill_in(self) -> Self {
        Self { to_fill_in: true, ..self }
    }
}

const TERMINALS: &[Column] = &[
    Column::text("device", "Device"),
    Column::text("terminal", "Terminal"),
    Column::text("function", "Function"),
    Column::text("core", "Core"),
    Column::text("colour_code", "Code"),
    Column::text("cable", "Cable"),
    Column::text("to", "To"),
    Column::text("net", "Conductor"),
    Column::text("marker", "Marker"),
    Column::text("state", "State"),
    Column::number("sheet", "Sheet"),
    Column::text("zone", "Zone"),
];

const CABLES: &[Column] = &[
    Column::text("cable", "Cable"),
    Column::text("type", "Type"),
    Column::number("length_m", "Length m"),
    Column::text("from", "From"),
    Column::text("to", "To"),
    Column::number("cores", "Cores"),
    Column::number("spare", "Spare"),
    Column::number("amps", "Amps"),
    Column::number("drop_v", "Drop V"),
    Column::number("ohm_per_km", "Ω/km"),
    Column::number("sheet", "Sheet"),
    Column::text("zone", "Zone"),
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
