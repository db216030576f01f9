//! A job that was read and checked, for the verbs that go on with it.

use std::borrow::Cow;
use std::io;
use std::path::{Path, PathBuf};

use super::{Ending, Failure, files, say, styled};
use crate::checks;
use crate::circuit::Circuit;
use crate::diagnostic::{self, Finding, Severity};
use crate::netlist::{Job, Reading};

/// A job with its circuit and what was found in it.
pub(super) struct Checked {
    pub(super) job: Job,
    pub(super) circuit: Circuit,
    pub(super) findings: Vec<Finding>,
    /// Every file that was read, resolved, so that none is overwritten.
    pub(super) files: Vec<PathBuf>,
    name: String,
}

impl Checked {
    /// Reads and checks a job file. `None` when it cannot be used; it was said why.
    pub(super) fn read(path: &Path) -> Result<Option<Self>, Failure> {
        let text = files::read(path)?;
        let reading = text.reading;
        if reading.job.is_none() {
            say_why(&text.name, &reading);
        }
        let Some(job) = reading.job else { return Ok(None) };
        let circuit = Circuit::of(&job);
        let findings = findings(&job, &circuit, reading.findings);
        Ok(Some(Self { job, circuit, findings, files: text.files, name: text.name }))
    }

    /// How a verb ends that has written: with `strict` the findings count, without they are only told.
    pub(super) fn ending(&self, strict: bool) -> Ending {
        if self.findings.iter().any(|f| f.accepted.is_none() && f.severity > Severity::Note) {
            let counts = diagnostic::summary(&self.name, &self.findings);
            say(&format!("{} See: bellwire check {}", counts.trim_end(), typed(&self.name)));
        }
        if strict { verdict(&self.findings, true) } else { Ending::Fine }
    }
}

/// A file's name as it is typed at a prompt: in quotes where it has a space.
fn typed(name: &str) -> Cow<'_, str> {
    if name.contains(' ') { Cow::Owned(format!("\"{name}\"")) } else { Cow::Borrowed(name) }
}

/// Says why a file cannot be used.
pub(super) fn say_why(name: &str, reading: &Reading) {
    let coloured = styled(&io::stderr());
    say(diagnostic::human(name, &reading.findings, &reading.sources, coloured).trim_end());
}

/// What the rules find in a job, and after it what reading it brought up.
pub(super) fn findings(job: &Job, circuit: &Circuit, noted: Vec<Finding>) -> Vec<Finding> {
    let mut findings = checks::run(job, circuit);
    findings.extend(noted);
    findings
}

/// Whether an error or danger was found; if `strict`, whether a warning was.
pub(super) fn verdict(findings: &[Finding], strict: bool) -> Ending {
    let least = if strict { Severity::Warning } else { Severity::Error };
    let counts = findings.iter().any(|f| f.accepted.is_none() && f.severity >= least);
    if counts { Ending::Found } else { Ending::Fine }
}
