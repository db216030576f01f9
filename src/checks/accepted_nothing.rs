//! An entry under `accepted:` accepts nothing.
//!
//! ## On site
//!
//! Somebody meant to accept a finding, and the entry does not do it: the rule has another name, the finding is a
//! danger, or it is no longer there.
//!
//! ## Why
//!
//! An entry that no longer fits hides the next mistake at the same place. An entry with a wrong name gives a false
//! feeling that the matter was settled.
//!
//! ## Example
//!
//! ```yaml
//! accepted:
//!   - {rule: unsafe-leed, at: K1.IN2, because: lead was cut off at the board}
//! ```
//!
//! ## Cure
//!
//! Correct the name of the rule or the place, or take the entry out. A danger must be cured; it cannot be accepted.
//!
//! ## Limits
//!
//! An entry at a device covers the findings of that rule at all its terminals, an entry at a cable those at all its
//! cores, and either those of which the first line shown is its own: a drop that shows `W2.blue` may be accepted at the load
//! or at `W2.blue`. The notes that reading the file gives (`hides-type`, `unknown-symbol`, `cut-by-comment`) are about no device or
//! cable, never count against the job and cannot be accepted. It is a note only when the entry would be right but there is nothing left to accept.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::borrow::Cow;

use crate::circuit::Circuit;
use crate::diagnostic::{Severity, Subject};
use crate::library::{HIDES_TYPE, UNKNOWN_SYMBOL};
use crate::netlist::{Accepted, AcceptedAt, CoreId, Job, TerminalId};
use crate::source::Place;

use crate::syntax::CUT_BY_COMMENT;

use super::report::{Draft, Report};
use super::{rule, suggestion};

/// What reading the file notes, before there are devices and cables that it could be about.
const OF_READING: [&str; 3] = [HIDES_TYPE, UNKNOWN_SYMBOL, CUT_BY_COMMENT];

/// Marks what the job accepts, then reports the entries that accept nothing.
pub(super) fn run(job: &Job, _: &Circuit, report: &mut Report) {
    for entry in &job.accepted {
        let mut seen = false;
        let mut grave = false;
        for draft in report.drafts() {
            let finding = &mut draft.finding;
            let shown = || finding.labels.first().is_some_and(|label| written_at(job, entry.at, label.place));
            let meant = finding.subjects.iter().any(|s| covers(job, entry.at, *s)) || shown();
            if finding.rule == entry.rule && meant {
                seen = true;
                grave |= finding.severity == Severity::Danger;
                if finding.severity != Severity::Danger {
                    finding.accepted = Some(entry.because.as_str().into());
                }
            }
        }
        if rule(&entry.rule).is_none() {
            let message = format!("no rule is called `{}`, so nothing is accepted here", entry.rule);
            let fix = match suggestion(&entry.rule) {
                Some(name) => format!("did you mean `{name}`?"),
                None => "`bellwire explain` lists the rules".to_owned(),
            };
            say(report, entry, message, fix);
        } else if OF_READING.contains(&entry.rule.as_str()) {
            let message =
                format!("`{}` is a note of how the file reads, and no device or cable has it", entry.rule);
            let fix = "take this entry out: the note never counts against the job";
            say(report, entry, message, fix).severity(Severity::Note);
        } else if grave {
            say(
                report,
                entry,
                format!("`{}` is a danger here and cannot be accepted", entry.rule),
                "cure it",
            );
        } else if !seen {
            let message = format!("there is no `{}` here to accept", entry.rule);
            say(report, entry, message, "take this entry out").severity(Severity::Note);
        }
    }
}

fn say<'r>(
    report: &'r mut Report,
    entry: &Accepted,
    message: String,
    fix: impl Into<Cow<'static, str>>,
) -> &'r mut Draft {
    let subject: Subject = match entry.at {
        AcceptedAt::Device(id) => id.into(),
        AcceptedAt::Terminal(id) => id.into(),
        AcceptedAt::Cable(id) => id.into(),
        AcceptedAt::Core(id) => id.into(),
    };
    report.find(message, fix).at(entry.place, "").about(subject)
}

fn covers(job: &Job, at: AcceptedAt, subject: Subject) -> bool {
    match (at, subject) {
        (AcceptedAt::Device(device), Subject::Device(id)) => device.0 == id,
        (AcceptedAt::Device(device), Subject::Terminal(id)) => job.terminal(TerminalId(id)).device == device,
        (AcceptedAt::Terminal(terminal), Subject::Terminal(id)) => terminal.0 == id,
        (AcceptedAt::Cable(cable), Subject::Cable(id)) => cable.0 == id,
        (AcceptedAt::Cable(cable), Subject::Core(id)) => job.core(CoreId(id)).cable == cable,
        (AcceptedAt::Core(core), Subject::Core(id)) => core.0 == id,
        _ => false,
    }
}

/// Whether a place in the file is where a device, a cable or a core is written.
fn written_at(job: &Job, at: AcceptedAt, place: Place) -> bool {
    let core = |id: CoreId| {
        let core = job.core(id);
        core.place == place || core.ends.iter().any(|end| end.place == place)
    };
    match at {
        AcceptedAt::Device(id) => job.device(id).place == place,
        AcceptedAt::Terminal(_) => false,
        AcceptedAt::Cable(id) => {
            job.cable(id).place == place || job.cable(id).cores.iter().map(CoreId).any(core)
        }
        AcceptedAt::Core(id) => core(id),
    }
}
