//! Times the layout alone, without reading the job and without drawing it.
//!
//! `cargo bench --bench layout -- JOB.yaml ...` prints for each job the best of five runs of the layout on one sheet.

#![expect(clippy::print_stdout, reason = "this is what a benchmark is for")]

use std::f64::consts::SQRT_2;
use std::path::Path;
use std::time::{Duration, Instant};
use std::{env, fs, io};

use bellwire::layout::Planner;
use bellwire::netlist::{self, Job};

const RUNS: usize = 5;

fn lay_out(job: &Job) -> Duration {
    let begin = Instant::now();
    let layouts = Planner::new(job, None).lay_out(SQRT_2);
    let took = begin.elapsed();
    assert!(!layouts.is_empty());
    took
}

fn main() -> io::Result<()> {
    let mut paths = env::args().skip(1).filter(|argument| !argument.starts_with("--")).peekable();
    if paths.peek().is_some() {
        println!("| job | devices | cores and links | layout |\n|---|---|---|---|");
    }
    for path in paths {
        let reading = netlist::read_text(&path, &fs::read_to_string(&path)?);
        let Some(job) = reading.job else {
            return Err(io::Error::other(format!("{path} cannot be read: {:?}", reading.findings.first())));
        };
        let best = (0..RUNS).map(|_| lay_out(&job)).min().unwrap_or_default().as_secs_f64();
        let name = Path::new(&path).file_stem().unwrap_or_default().to_string_lossy();
        let conductors = job.cores.len() + job.links.len();
        println!("| {name} | {} | {conductors} | {:.0} ms |", job.devices.len(), best * 1000.0);
    }
    Ok(())
}
