//! `bellwire schedule`: the tables of a job.

use super::args::{Schedule, TableFormat, Which};
use super::checked::Checked;
use super::{Ending, Failure, output_files, print};
use crate::output;
use crate::schedules::{self, Spots, Table};

pub(super) fn run(args: &Schedule) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let job = &checked.job;
    let spots = Spots::default();
    let table = match args.which {
        Which::Terminals => schedules::terminals_table(&schedules::terminals(job, &checked.circuit, &spots)),
        Which::Cables => schedules::cables_table(&schedules::cables(job, &spots)),
    };
    match args.output.as_deref().filter(|path| path.as_os_str() != "-") {
        Some(path) => {
            let format = output_files::format(path, args.format)?;
            output_files::write(&[(path.to_owned(), written(&table, format).into_bytes())], &checked.files)?;
        }
        None => print(written(&table, args.format.unwrap_or(TableFormat::Table)).as_bytes())?,
    }
    Ok(checked.ending(args.job.strict))
}

fn written(table: &Table, format: TableFormat) -> String {
    match format {
        TableFormat::Table => output::text(table),
        TableFormat::Csv => output::csv(table),
        TableFormat::Md => output::markdown(table),
        TableFormat::Json => output::json(table),
    }
}
