//! `bellwire preview`: the page of a job in a browser, made anew whenever the job file is saved.
//!
//! Nothing is written to disk, so that Ctrl-C may end the program at any moment.

mod desk;
mod disk;
mod server;

use std::sync::Arc;

use desk::Desk;
use disk::Disk;

use super::args::Preview;
use super::checked::findings;
use super::{Ending, Failure, draw, print, say};
use crate::circuit::Circuit;
use crate::documents::{self, faults};
use crate::output::{PageBody, Proven, Report};
use crate::{diagnostic, drawing};

pub(super) fn run(args: &Preview) -> Result<Ending, Failure> {
    let mut disk = Disk::of(&args.job)?;
    let listener = server::listen(args.port)?;
    let desk = Arc::new(Desk::new());
    let address = server::serve(listener, &desk)?;
    print(format!("{} is shown at {address} until Ctrl-C.\n", args.job.display()).as_bytes())?;
    loop {
        match made(args, &mut disk) {
            Ok(page) => desk.show(page),
            Err(Failure(why)) => {
                say(&why);
                desk.tell(&Report::Unusable(why));
            }
        }
        disk.wait();
        desk.busy();
    }
}

/// The page of the job as it is saved now, and what the check says to it; or what the command line would say instead.
fn made(args: &Preview, disk: &mut Disk) -> Result<(Report, PageBody), Failure> {
    let program = |Failure(message)| Failure(format!("bellwire: {message}"));
    let text = disk.read().map_err(program)?;
    let reading = text.reading;
    let listed = |findings: &_| diagnostic::human(&text.name, findings, &reading.sources, false);
    let Some(job) = reading.job else {
        return Err(Failure(listed(&reading.findings).trim_end().to_owned()));
    };
    let circuit = Circuit::of(&job);
    let findings = findings(&job, &circuit, reading.findings);
    let earlier = draw::earlier(&args.order, &job).map_err(program)?;
    let drawing = drawing::draw(&job, &circuit, &findings, earlier.as_ref());
    let proven = Proven::new(&drawing, &job).map_err(|fault| program(fault.into()))?;
    let tests = documents::tests(&job, &circuit, &findings);
    let chart = faults::chart(&job, &circuit);
    let page = documents::page(&job, &circuit, &findings, &tests, &drawing.spots);
    let page = PageBody::of(&page, &chart, proven.svg());
    drawing.remarks.iter().for_each(|remark| say(remark));
    let summary = diagnostic::summary(&text.name, &findings).trim_end().to_owned();
    say(&summary);
    Ok((Report::Shown { summary, text: listed(&findings) }, page))
}
