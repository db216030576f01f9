//! Times the check of large jobs as whole processes, and says how many devices and cores they have.
//!
//! `cargo bench --bench scale` prints the rows of `docs/benchmarks.md`: the best of three runs of `bellwire check` beside
//! the best of three of reading alone, by the library; the first includes the second. `cargo bench --bench scale --
//! FOLDER` writes the jobs there and times nothing; with `FOLDER 10 100` it writes those of 10 and 100 devices.

#![expect(clippy::print_stdout, reason = "this is what a benchmark is for")]

mod installation;
mod process;

use std::path::PathBuf;
use std::time::{Duration, Instant};
use std::{env, fs, io};

use bellwire::netlist;
use installation::{Installation, SHAPES};

/// Devices of a large job, and of a tenth of it.
const SIZES: [usize; 2] = [1_000, 10_000];
const SEEDS: [u64; 2] = [1, 2];
const RUNS: usize = 3;

fn jobs(sizes: &[usize]) -> Vec<(String, Installation)> {
    let mut jobs = Vec::new();
    for shape in SHAPES {
        for (size, seed) in sizes.iter().flat_map(|size| SEEDS.map(|seed| (*size, seed))) {
            jobs.push((format!("{shape:?}-{size}-{seed}"), Installation::of(shape, size, seed)));
        }
    }
    for group in [2, 4, 12, 60] {
        jobs.push((format!("60-relays-in-groups-of-{group}"), Installation::interlocked(60, group)));
    }
    jobs
}

fn read(text: &str) -> Duration {
    let begin = Instant::now();
    let reading = netlist::read_text("job.yaml", text);
    let took = begin.elapsed();
    assert!(reading.job.is_some(), "{:?}", reading.findings.first());
    took
}

fn main() -> io::Result<()> {
    let mut arguments = env::args().skip(1).filter(|argument| !argument.starts_with("--"));
    let wanted = arguments.next().map(PathBuf::from);
    let sizes: Vec<usize> = arguments.filter_map(|argument| argument.parse().ok()).collect();
    let sizes = if sizes.is_empty() { SIZES.to_vec() } else { sizes };
    let folder =
        wanted.clone().unwrap_or_else(|| env::temp_dir().join(format!("bellwire-{}", std::process::id())));
    fs::create_dir_all(&folder)?;
    println!(
        "| job | devices | cores | file | reading | `check` | times the reading |\n|---|---|---|---|---|---|---|"
    );
    for (name, job) in jobs(&sizes) {
        let path = folder.join(format!("{name}.yaml"));
        fs::write(&path, &job.text)?;
        if wanted.is_some() {
            continue;
        }
        let reading = (0..RUNS).map(|_| read(&job.text)).min().unwrap_or_default().as_secs_f64();
        let checks = (0..RUNS)
            .map(|_| process::run(&["check".as_ref(), path.as_os_str()]))
            .collect::<io::Result<Vec<Duration>>>()?;
        let whole = checks.into_iter().min().unwrap_or_default().as_secs_f64();
        println!(
            "| {name} | {} | {} | {} kB | {:.0} ms | {:.0} ms | {:.1} |",
            job.devices,
            job.cores,
            job.text.len() / 1000,
            reading * 1000.0,
            whole * 1000.0,
            whole / reading
        );
    }
    if wanted.is_none() {
        fs::remove_dir_all(&folder)?;
    }
    Ok(())
}
