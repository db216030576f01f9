//! Where a table goes, in which format.

use super::args::{TableFormat, TableTo};
use super::checked::Checked;
use super::{Failure, output_files, print};
use crate::output;
use crate::schedules::Table;

/// Writes a table to the file or to standard output.
pub(super) fn write(table: &Table, to: &TableTo, checked: &Checked) -> Result<(), Failure> {
    match to.output.as_deref().filter(|path| path.as_os_str() != "-") {
        Some(path) => {
            let format = output_files::format(path, to.format)?;
            output_files::write(&[(path.to_owned(), bytes(table, format))], &checked.files)
        }
        None => print(&bytes(table, to.format.unwrap_or(TableFormat::Table))),
    }
}

fn bytes(table: &Table, format: TableFormat) -> Vec<u8> {
    let text = match format {
        TableFormat::Table => output::text(table),
        TableFormat::Csv => output::csv(table),
        TableFormat::Md => output::markdown(table),
        TableFormat::Json => output::json(table),
    };
    text.into_bytes()
}
