//! `bellwire pack`: everything that the job leaves behind.

use super::args::Pack;
use super::checked::Checked;
use super::{Ending, Failure, output_files, say};
use crate::output::{self, Proven};
use crate::{documents, drawing};

pub(super) fn run(args: &Pack) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let job = &checked.job;
    let drawing = drawing::draw(job, &checked.circuit, &checked.findings);
    let proven = Proven::new(&drawing, job).map_err(|fault| fault.to_string())?;
    let tests = documents::tests(job, &checked.circuit, &checked.findings);
    let page = documents::page(job, &checked.circuit, &checked.findings, &tests);
    let html = output::html(&page, proven.svg());
    output_files::write(&[(args.output.clone(), html.into_bytes())], &checked.files)?;
    drawing.remarks.iter().for_each(|remark| say(remark));
    Ok(checked.ending(args.job.strict))
}
