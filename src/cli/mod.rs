//! Arguments, files, printing. The only module that reads or writes files, prints or exits.

mod args;
mod checked;
mod compare;
mod draw;
mod files;
mod library;
mod mark;
mod output_files;
mod pack;
mod preview;
mod schedule;
mod teach;
mod tables;
mod test_sheet;
mod verbs;

use std::ffi::OsString;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::process::ExitCode;

use clap::Parser;

use crate::output;

/// Runs the program on its arguments, the first being its own name. Statuses: 0 when nothing above a warning was
/// found or the output was written, 1 for an error or danger (with `--strict` a warning too), 2 when the file or the
/// command could not be used.
pub fn run(args: impl IntoIterator<Item = OsString>) -> ExitCode {
    let args = match args::Args::try_parse_from(args) {
        Ok(args) => args,
        Err(error) => {
            let unusable = error.use_stderr();
            // What is said about a wrong command can only be lost when nobody listens.
            let _ = error.print();
            return ExitCode::from(if unusable { 2 } else { 0 });
        }
    };
    match verbs::run(args.verb) {
        Ok(ending) => ExitCode::from(ending as u8),
        Err(Failure(message)) => {
            say(&format!("bellwire: {message}"));
            ExitCode::from(Ending::Unusable as u8)
        }
    }
}

/// How a verb ended, as an exit status.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ending {
    /// All is well.
    Fine = 0,
    /// Something was found that counts.
    Found = 1,
    /// The file or the command could not be used.
    Unusable = 2,
}

/// Why a verb could not do its work, in a sentence: the surroundings are at fault, or the command.
#[derive(Debug)]
struct Failure(String);

impl From<String> for Failure {
    fn from(message: String) -> Self {
        Self(message)
    }
}

impl From<output::Fault> for Failure {
    fn from(fault: output::Fault) -> Self {
        Self(fault.to_string())
    }
}

/// Writes to standard output.
fn print(bytes: &[u8]) -> Result<(), Failure> {
    print_by(|out| out.write_all(bytes))
}

/// Writes to standard output piece by piece. A reader that has gone away is no fault; the verb ends as it would have.
fn print_by(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = BufWriter::new(io::stdout().lock());
    match write(&mut out).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure(format!("standard output cannot be written: {error}")))
        }
        _ => Ok(()),
    }
}

/// Writes a line to standard error. Nothing can be done when even that fails.
fn say(line: &str) {
    let _ = writeln!(io::stderr(), "{line}");
}

/// Whether text on this stream may be coloured.
fn styled(stream: &impl IsTerminal) -> bool {
    stream.is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}
