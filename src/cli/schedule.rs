//! `bellwire schedule`: the tables of a job.

use super::args::{Schedule, Which};
use super::checked::Checked;
use super::{Ending, Failure, draw, tables};
use crate::drawing::{self, Titled};
use crate::schedules::{self, Spots};

pub(super) fn run(args: &Schedule) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let job = &checked.job;
    let earlier = draw::earlier(&args.order, job)?;
    let spots = || match args.no_zones {
        true => Spots::default(),
        false => drawing::draw(job, &checked.circuit, &checked.findings, earlier.as_ref()).spots,
    };
    let (kind, table) = match args.which {
        Which::Terminals => {
            let rows = schedules::terminals(job, &checked.circuit, &spots());
            ("Terminal schedule", schedules::terminals_table(&rows))
        }
        Which::Cables => {
            let rows = schedules::cables(job, &checked.circuit, &spots());
            ("Cable schedule", schedules::cables_table(&rows))
        }
        Which::Supplies => {
            ("Supply budget", schedules::supplies_table(&schedules::supplies(job, &checked.circuit)))
        }
        Which::Parts => ("Parts list", schedules::parts_table(&schedules::parts(job))),
        Which::Markers => ("Wire markers", schedules::markers_table(&schedules::markers(job))),
    };
    tables::write(Titled { kind, table: &table }, &args.to, &checked)?;
    Ok(checked.ending(args.job.strict))
}
