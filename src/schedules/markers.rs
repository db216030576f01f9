//! Wire markers: one a core end, for the label printer.

use super::{Cell, Column, Table};
use crate::netlist::{CoreId, End, Job};

/// The marker of one core end.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkerRow {
    /// The core.
    pub id: CoreId,
    /// Its cable's label.
    pub cable: String,
    /// Its name in the job file.
    pub core: String,
    /// `near` or `far`.
    pub end: &'static str,
    /// The device on which it lands; empty for a loose end.
    pub device: String,
    /// The terminal; empty for a splice and for a loose end.
    pub terminal: String,
    /// What the sleeve says: its own terminal, `K1:NO1`; on a loose end the cable and the colour, `W2 BU`.
    pub text: String,
}

/// The markers of a job, cable by cable, core by core, near end first.
#[must_use]
pub fn markers(job: &Job) -> Vec<MarkerRow> {
    let mut rows = Vec::new();
    for (id, core) in job.core_ids() {
        let cable = &job.cable(core.cable).name;
        for (end, stand) in ["near", "far"].into_iter().zip(&core.ends) {
            let (device, terminal, text) = match stand.to {
                End::Terminal(at) => {
                    let terminal = job.terminal(at);
                    (job.device(terminal.device).name.to_string(), terminal.name.to_string(), job.label(at))
                }
                End::Safe(_) | End::Bare | End::Spare => {
                    let code: String = core.colours.iter().map(|colour| colour.code()).collect();
                    let code = if code.is_empty() { core.name.as_str() } else { &code };
                    (String::new(), String::new(), format!("{cable} {code}"))
                }
            };
            rows.push(MarkerRow {
                id,
                cable: cable.to_string(),
                core: core.name.to_string(),
                end,
                device,
                terminal,
                text,
            });
        }
    }
    rows
}

const COLUMNS: &[Column] = &[
    Column::text("cable", "Cable"),
    Column::text("core", "Core"),
    Column::text("end", "End"),
    Column::text("device", "Device"),
    Column::text("terminal", "Terminal"),
    Column::text("text", "Text"),
];

/// The markers as a table.
#[must_use]
pub fn markers_table(rows: &[MarkerRow]) -> Table {
    let rows = rows.iter().map(|row| {
        [&row.cable, &row.core, row.end, &row.device, &row.terminal, &row.text]
            .map(|text: &str| Cell::Text(text.to_owned()))
            .to_vec()
    });
    Table { columns: COLUMNS, rows: rows.collect() }
}
