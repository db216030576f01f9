//! The program.

use std::process::ExitCode;

fn main() -> ExitCode {
    bellwire::cli::run(std::env::args_os())
}
