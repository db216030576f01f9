//! Tables as JSON.

use serde_json::{Map, Number, Value};

use super::number::written;
use crate::schedules::{Cell, Table};

/// A table as a JSON array of objects, one a row; a figure that is not known is `null`.
#[must_use]
pub fn json(table: &Table) -> String {
    let rows = table.rows.iter().map(|row| {
        let cells = table.columns.iter().zip(row).map(|(column, cell)| {
            let value = match cell {
                Cell::Text(text) => Value::from(text.as_str()),
                Cell::Number(value) => number(*value),
                Cell::Blank => Value::Null,
            };
            (column.name.to_owned(), value)
        });
        Value::Object(cells.collect::<Map<_, _>>())
    });
    let rows: Vec<Value> = rows.collect();
    let mut text = format!("{:#}", Value::Array(rows));
    text.push('\n');
    text
}

/// The figure as the other tables write it: whole numbers without a point.
fn number(value: f64) -> Value {
    let text = written(value);
    let whole = text.parse::<i64>().ok().map(Number::from);
    whole.or_else(|| text.parse().ok().and_then(Number::from_f64)).map_or(Value::Null, Value::Number)
}
