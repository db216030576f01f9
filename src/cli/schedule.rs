//! `bellwire schedule`: the tables of a job.

use super::args::{Schedule, Which};
use super::checked::Checked;
use super::{Ending, Failure, tables};
use crate::drawing;
use crate::schedules;

pub(super) fn run(args: &Schedule) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let job = &checked.job;
    let spots = || drawing::draw(job, &checked.circuit, &checked.findings).spots;
    let table = match args.which {
        Which::Terminals => {
            schedules::terminals_table(&schedules::terminals(job, &checked.circuit, &spots()))
        }
        Which::Cables => schedules::cables_table(&schedules::cables(job, &checked.circuit, &spots())),
        Which::Supplies => schedules::supplies_table(&schedules::supplies(job, &checked.circuit)),
        Which::Parts => schedules::parts_table(&schedules::parts(job)),
        Which::Markers => schedules::markers_table(&schedules::markers(job)),
    };
    tables::write(&table, &args.to, &checked)?;
    Ok(checked.ending(args.job.strict))
}
