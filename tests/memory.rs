//! What the check of a large job takes of the heap, beside the size of its file.
//!
//! `cargo test --release --test memory -- --nocapture` prints the figures of `docs/benchmarks.md`. The text of the job
//! stays in memory all the while, which `bellwire check` puts away.

#![expect(clippy::print_stdout, reason = "figures of the heap are for people, too")]

#[expect(dead_code, reason = "the relays that all lock each other are for the bench")]
#[path = "benches/installation.rs"]
mod installation;

use std::io;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::diagnostic;
use bellwire::netlist;
use installation::{Installation, SHAPES};
use peak_alloc::PeakAlloc;

#[global_allocator]
static HEAP: PeakAlloc = PeakAlloc;

/// How often the highest mark of the heap may hold the file.
const MOST: f64 = 10.0;

/// Devices of a large job.
const DEVICES: usize = 10_000;

/// The highest mark of the heap while a job is read, checked and its findings written, in bytes, the bytes of the file
/// among them.
fn highest_mark(bytes: Vec<u8>) -> io::Result<usize> {
    let before = HEAP.current_usage() - bytes.capacity();
    HEAP.reset_peak_usage();
    let reading = netlist::read("job.yaml", bytes, &mut |_| Err("there are no other files here".to_owned()));
    let sources = reading.sources;
    let Some(job) = reading.job else {
        return Err(io::Error::other(format!("it cannot be read: {:?}", reading.findings.first())));
    };
    let findings = checks::run(&job, &Circuit::of(&job));
    drop(job);
    diagnostic::write_human(&mut io::sink(), "job.yaml", &findings, &sources, false)?;
    diagnostic::write_json(&mut io::sink(), &findings, &sources)?;
    Ok(HEAP.peak_usage() - before)
}

#[test]
fn the_check_of_ten_thousand_devices_takes_less_than_ten_times_their_file() -> io::Result<()> {
    for shape in SHAPES {
        let text = Installation::of(shape, DEVICES, 1).text;
        let file = text.len();
        let mark = highest_mark(text.into_bytes())?;
        let times = mark as f64 / file as f64;
        println!("{shape:?}: file {:.2} MB, heap {:.1} MB, {times:.1} times", mega(file), mega(mark));
        // Less than the file itself would mean that nothing was measured.
        assert!((1.0..MOST).contains(&times), "{shape:?}: {mark} bytes for a file of {file}");
    }
    Ok(())
}

fn mega(bytes: usize) -> f64 {
    bytes as f64 / 1e6
}
