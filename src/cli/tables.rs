//! Where a table goes, in which format.

use super::args::{TableFormat, TableTo};
use super::checked::Checked;
use super::{Failure, output_files};
use crate::drawing::{self, Titled};
use crate::output::{self, About};

/// Writes a table to the file or to standard output.
pub(super) fn write(titled: Titled, to: &TableTo, checked: &Checked) -> Result<(), Failure> {
    write_as(to, checked, |format| bytes(titled, format, checked))
}

/// Writes what `made` makes of the format that was asked for.
pub(super) fn write_as(
    to: &TableTo,
    checked: &Checked,
    made: impl Fn(TableFormat) -> Result<Vec<u8>, Failure>,
) -> Result<(), Failure> {
    let output = to.output.as_deref().filter(|path| path.as_os_str() != "-");
    let format = match output {
        Some(path) => output_files::format(path, to.format)?,
        None => to.format.unwrap_or(TableFormat::Txt),
    };
    output_files::put(output, made(format)?, &checked.files)
}

/// A table in a format.
pub(super) fn bytes(titled: Titled, format: TableFormat, checked: &Checked) -> Result<Vec<u8>, Failure> {
    let Titled { kind, table } = titled;
    let about = About::of(&checked.job.info, kind);
    let text = match format {
        TableFormat::Txt => output::text(table),
        TableFormat::Csv => output::csv(table),
        TableFormat::Md => output::markdown(table),
        TableFormat::Json => output::json(table),
        TableFormat::Xlsx => return Ok(output::xlsx(&[(kind, table)], &about)?),
        TableFormat::Pdf => {
            let sheets = drawing::table_sheets(&checked.job, &checked.circuit, &checked.findings, &[titled]);
            return Ok(output::pdf(&sheets.iter().collect::<Vec<_>>(), &about)?);
        }
    };
    Ok(text.into_bytes())
}
