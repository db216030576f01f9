//! Tables as JSON.

use serde_json::{Map, Number, Value, json};

use super::number::written;
use crate::documents::faults::{Chart, Group};
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

/// A fault-finding chart as JSON: `{groups: [{complaint, readings: [{at, state, expect, low, high, bands: [{low, high,
/// next, causes}]}], causes}]}`. `low` and `high` of a reading are the limits of what is right; `next` is the number of
/// the reading that goes on from a band, counted from 1, or `null` where nothing tells its causes apart.
#[must_use]
pub fn chart_json(chart: &Chart) -> String {
    let groups: Vec<Value> = chart.groups.iter().map(group).collect();
    let mut text = format!("{:#}", json!({ "groups": groups }));
    text.push('\n');
    text
}

fn group(group: &Group) -> Value {
    let readings: Vec<Value> = group
        .readings
        .iter()
        .map(|reading| {
            let bands: Vec<Value> = reading
                .bands
                .iter()
                .map(|band| {
                    let causes: Vec<&String> =
                        band.faults.iter().filter_map(|n| group.causes.get(*n)).collect();
                    json!({
                        "low": number(band.low),
                        "high": number(band.high),
                        "next": band.next.map(|next| next + 1),
                        "causes": causes,
                    })
                })
                .collect();
            json!({
                "at": reading.at,
                "state": reading.when,
                "expect": number(reading.expect),
                "low": number(reading.low),
                "high": number(reading.high),
                "bands": bands,
            })
        })
        .collect();
    json!({ "complaint": group.complaint, "readings": readings, "causes": group.causes })
}

/// The figure as the other tables write it: whole numbers without a point.
fn number(value: f64) -> Value {
    let text = written(value);
    let whole = text.parse::<i64>().ok().map(Number::from);
    whole.or_else(|| text.parse().ok().and_then(Number::from_f64)).map_or(Value::Null, Value::Number)
}
