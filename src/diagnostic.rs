//! Findings: what is wrong with a job, as data first and as text for people or machines second.

mod human;
mod machine;
mod message;

use std::borrow::Cow;
use std::sync::Arc;

use crate::source::Place;

pub use human::{human, summary, write_human};
pub use machine::write_json;
pub use message::Message;

/// How bad a finding is; ordered from the mildest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// It works today and will bring someone back.
    Warning,
    /// It will not work, or may damage something.
    Error,
    /// It may hurt someone; stop.
    Danger,
}

impl Severity {
    /// The word in messages and JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
            Self::Danger => "danger",
        }
    }
}

/// A place that a finding points at, with a few words for its caret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// Where.
    pub place: Place,
    /// What is there; may be empty.
    pub text: String,
}

/// What the finding is about: the drawing puts its flag there, and `accepted:` names it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject {
    /// A device, by its number in the job.
    Device(u32),
    /// A terminal, by its number in the job.
    Terminal(u32),
    /// A cable, by its number in the job.
    Cable(u32),
    /// A core, by its number in the job.
    Core(u32),
}

/// One end of one core: the core by its number in the job, and 0 for its near end or 1 for its far one.
pub type CoreEndAt = (u32, u8);

/// A change of the wiring that a finding names as its cure. Terminals, cores and links go by their numbers in the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// The end of a core is brought to a terminal.
    Land(CoreEndAt, u32),
    /// The ends of two cores change places.
    Exchange(CoreEndAt, CoreEndAt),
    /// One end of a link, 0 or 1, is brought to a terminal.
    Shift(u32, u8, u32),
    /// Two terminals are joined.
    Join(u32, u32),
}

/// One finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The rule's name, such as `short-circuit`; `unreadable` for faults of the file itself.
    pub rule: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// What will happen on site, in one sentence.
    pub message: Message,
    /// What to change; the same words for all findings of most rules.
    pub fix: Cow<'static, str>,
    /// The changes that the fix names, any one of which was tried and takes the finding away; empty where none was found.
    pub cures: Box<[Change]>,
    /// The reason under `accepted:`, if the job accepts it there.
    pub accepted: Option<Box<str>>,
    /// The state in which it happens, in words; `None` when it holds always. What happens in one state shares its words.
    pub state: Option<Arc<String>>,
    /// What it is about, the first being the place of its flag.
    pub subjects: Vec<Subject>,
    /// The places in the files, the first being the main one.
    pub labels: Vec<Label>,
}

/// How many findings of each of these severities there are that are not accepted, each in words: `1 error`, `2 notes`.
#[must_use]
pub fn counted(findings: &[Finding], severities: &[Severity]) -> Vec<String> {
    let count = |severity: Severity| {
        let open = findings.iter().filter(|f| f.accepted.is_none() && f.severity == severity).count();
        match open {
            0 => None,
            1 => Some(format!("1 {}", severity.word())),
            many => Some(format!("{many} {}s", severity.word())),
        }
    };
    severities.iter().copied().filter_map(count).collect()
}

/// What was found, counted: `1 error, 2 notes, 1 accepted`; `nothing found`.
#[must_use]
pub fn found(findings: &[Finding]) -> String {
    let all = [Severity::Danger, Severity::Error, Severity::Warning, Severity::Note];
    let mut counts = counted(findings, &all);
    let accepted = findings.iter().filter(|finding| finding.accepted.is_some()).count();
    if accepted > 0 {
        counts.push(format!("{accepted} accepted"));
    }
    if counts.is_empty() { "nothing found".to_owned() } else { counts.join(", ") }
}

impl Finding {
    /// A finding without a place yet.
    #[must_use]
    pub fn new(
        rule: &'static str,
        severity: Severity,
        message: impl Into<Message>,
        fix: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self {
            rule,
            severity,
            message: message.into(),
            fix: fix.into(),
            cures: Box::default(),
            accepted: None,
            state: None,
            subjects: Vec::new(),
            labels: Vec::new(),
        }
    }

    /// The same, pointing at one more place with a few words for its caret. The first place is the main one.
    #[must_use]
    pub fn at(mut self, place: Place, text: impl Into<String>) -> Self {
        self.labels.push(Label { place, text: text.into() });
        self
    }
}
