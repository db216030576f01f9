//! The program as a whole process.

use std::ffi::OsStr;
use std::io;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Runs the program, which must find nothing, and says how long it took.
pub fn run(arguments: &[impl AsRef<OsStr>]) -> io::Result<Duration> {
    let begin = Instant::now();
    let status = Command::new(env!("CARGO_BIN_EXE_bellwire"))
        .args(arguments)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()?;
    let took = begin.elapsed();
    match status.code() {
        Some(0) => Ok(took),
        other => {
            let words: Vec<_> = arguments.iter().map(AsRef::as_ref).collect();
            Err(io::Error::other(format!("bellwire {words:?} ended with {other:?}")))
        }
    }
}
