//! `bellwire schedule`.

use std::io;
use std::path::Path;

use super::args::{Schedule, TableFormat, Which};
use super::verbs::{findings, unreadable, verdict};
use super::{Ending, Failure, files, output_files, print};
use crate::circuit::Circuit;
use crate::output;
use crate::schedules::{self, Spots, Table};

pub(super) fn run(args: &Schedule) -> Result<Ending, Failure> {
    let text = files::read(&args.job.file)?;
    let Some(job) = &text.reading.job else { return unreadable(&text, &mut io::stderr()) };
    let circuit = Circuit::of(job);
    let spots = Spots::default();
    let table = match args.which {
        Which::Terminals => schedules::terminals_table(&schedules::terminals(job, &circuit, &spots)),
        Which::Cables => schedules::cables_table(&schedules::cables(job, &spots)),
    };
    match args.output.as_deref().filter(|path| path.as_os_str() != "-") {
        Some(path) => {
            let bytes = written(&table, by_ending(path)?).into_bytes();
            output_files::write(&[(path.to_owned(), bytes)], &text.files)?;
        }
        None => print(written(&table, args.format.unwrap_or(TableFormat::Text)).as_bytes())?,
    }
    Ok(if args.job.strict { verdict(&findings(job, &text), true) } else { Ending::Fine })
}

fn by_ending(path: &Path) -> Result<TableFormat, Failure> {
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    match ending.as_ref().and_then(|e| e.to_str()) {
        Some("csv") => Ok(TableFormat::Csv),
        Some("md") => Ok(TableFormat::Markdown),
        Some("json") => Ok(TableFormat::Json),
        Some("txt") => Ok(TableFormat::Text),
        _ => Err(Failure::Said(format!(
            "{}: the ending says the format; a schedule can be .csv, .md, .json or .txt",
            path.display()
        ))),
    }
}

fn written(table: &Table, format: TableFormat) -> String {
    match format {
        TableFormat::Text => output::text(table),
        TableFormat::Csv => output::csv(table),
        TableFormat::Markdown => output::markdown(table),
        TableFormat::Json => output::json(table),
    }
}
