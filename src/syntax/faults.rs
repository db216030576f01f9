//! The faults of a file, collected until all of it has been read.

use std::collections::BTreeSet;

use super::nearest::{did_you_mean, nearest};
use crate::diagnostic::{Finding, Label, Severity};
use crate::source::{FileId, Place};

/// The rule name of everything that could not be read.
pub const UNREADABLE: &str = "unreadable";

/// How many faults are kept; a file with more of them is no job file.
const MOST: usize = 1000;

/// How long a sentence may grow, in bytes, where a name in it is very long.
const LONGEST: usize = 1_000;

/// What was found while reading.
#[derive(Clone, Debug, Default)]
pub struct Faults {
    findings: Vec<Finding>,
    told: BTreeSet<(Option<Place>, String)>,
    instead: Option<(FileId, Place)>,
    dropped: usize,
    any_error: bool,
}

impl Faults {
    /// No faults yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Something that cannot be read.
    pub fn error(&mut self, place: Place, message: impl Into<String>, fix: impl Into<String>) {
        self.error_at(vec![(place, String::new())], message, fix);
    }

    /// The same with several places, the main one first, each with a few words for its caret.
    pub fn error_at(
        &mut self,
        places: Vec<(Place, String)>,
        message: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.push(UNREADABLE, Severity::Error, places, message.into(), fix.into());
    }

    /// A character that cannot be printed in something that is: `what` says what it stands in.
    pub(super) fn strange(&mut self, place: Place, character: char, what: &str) {
        let (named, fix) = match character {
            '\n' => ("a line break".to_owned(), "write it on one line"),
            '\t' => ("a tab".to_owned(), "write a space in its place"),
            '\0' => ("a NUL".to_owned(), "take its escape out of the quotes"),
            other => (
                format!("the control character U+{:04X}", u32::from(other)),
                "take its escape out of the quotes",
            ),
        };
        self.error(place, format!("{named} stands in this {what}"), fix);
    }

    /// Something worth knowing that does not stop the reading.
    pub fn note(
        &mut self,
        rule: &'static str,
        places: Vec<(Place, String)>,
        message: impl Into<String>,
        fix: impl Into<String>,
    ) {
        self.push(rule, Severity::Note, places, message.into(), fix.into());
    }

    /// From here on, what stands in the file `from` or a later one is shown at `place`: of a data sheet that the program
    /// ships, the user sees only the device that bears it.
    pub fn show_at(&mut self, from: FileId, place: Place) {
        self.instead = Some((from, place));
    }

    /// From here on, everything is shown where it stands.
    pub fn show_in_place(&mut self) {
        self.instead = None;
    }

    /// The known name nearest to one that is not known, for the fix of a fault. Nothing is looked for once no more
    /// faults are kept.
    #[must_use]
    pub fn nearest<'k>(&self, written: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
        if self.is_full() { None } else { nearest(written, known) }
    }

    /// What to ask about a name that is not known: `did you mean …?`
    #[must_use]
    pub fn did_you_mean<'k>(
        &self,
        written: &str,
        known: impl IntoIterator<Item = &'k str>,
    ) -> Option<String> {
        if self.is_full() { None } else { did_you_mean(written, known) }
    }

    /// Whether no more faults are kept.
    fn is_full(&self) -> bool {
        self.findings.len() >= MOST
    }

    /// Whether anything could not be read.
    #[must_use]
    pub fn any_error(&self) -> bool {
        self.any_error
    }

    /// Everything found, in the order of the file; nothing twice.
    #[must_use]
    pub fn into_findings(mut self) -> Vec<Finding> {
        self.findings.sort_by_key(|finding| finding.labels.first().map(|l| (l.place.file(), l.place.start)));
        if self.dropped > 0
            && let Some(last) = self.findings.last_mut()
        {
            last.message.push_str(&format!(" ({} more faults are not shown)", self.dropped));
        }
        self.findings
    }

    fn push(
        &mut self,
        rule: &'static str,
        severity: Severity,
        mut places: Vec<(Place, String)>,
        message: String,
        fix: String,
    ) {
        if let Some((from, instead)) = self.instead {
            for (place, _) in places.iter_mut().filter(|(place, _)| place.file() >= from) {
                *place = instead;
            }
        }
        self.any_error |= severity >= Severity::Error;
        if self.is_full() {
            self.dropped += 1;
            return;
        }
        // A data sheet that many devices bear is read with each that adds to it; its faults are told once.
        if !self.told.insert((places.first().map(|(place, _)| *place), message.clone())) {
            return;
        }
        let (message, fix) = (shortened(message), shortened(fix));
        let labels = places.into_iter().map(|(place, text)| Label { place, text }).collect();
        let subjects = Vec::new();
        self.findings.push(Finding {
            rule,
            severity,
            message: message.into(),
            fix: fix.into(),
            cures: Box::default(),
            accepted: None,
            state: None,
            subjects,
            labels,
        });
    }
}

/// The sentence without its middle, if it is too long to be read.
fn shortened(text: String) -> String {
    if text.len() <= LONGEST {
        return text;
    }
    let head = text.floor_char_boundary(LONGEST / 2);
    let tail = text.ceil_char_boundary(text.len() - LONGEST / 2);
    format!("{} … {}", &text[..head], &text[tail..])
}
