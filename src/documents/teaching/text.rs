//! The job file with some of its values replaced, and without its comments: a comment may give the answer away.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::netlist::{CoreId, End, Job, TerminalId};
use crate::source::Sources;
use crate::syntax::{self, Entry, Faults};

/// A replacement in the text.
pub type Edit = (Range<usize>, String);

/// Where the length of each cable is written, by the cable's name.
pub type Lengths = BTreeMap<String, Range<usize>>;

/// Where something is written in a job file that an exercise changes.
#[derive(Default)]
pub struct Written {
    /// The lengths.
    pub lengths: Lengths,
    /// The notes of the job.
    pub notes: Option<Range<usize>>,
}

impl Written {
    /// Looks it up in the text of the file.
    pub fn of(text: &str) -> Self {
        let tree = syntax::load(&mut Sources::new(), "", text.into(), &mut Faults::new());
        let Some(tree) = tree else { return Self::default() };
        let cables = tree.root().get("cables").into_iter().flat_map(|value| value.entries());
        let length =
            |entry: Entry<'_>| Some((entry.key.to_owned(), entry.value.get("length")?.place.bytes()));
        let notes = tree.root().get("job").and_then(|job| job.get("notes"));
        Self { lengths: cables.filter_map(length).collect(), notes: notes.map(|notes| notes.place.bytes()) }
    }
}

/// Puts edits in the place of others that they touch.
pub fn changed(edits: &mut Vec<Edit>, own: Vec<Edit>) {
    edits.retain(|(range, _)| own.iter().all(|(new, _)| range.end <= new.start || range.start >= new.end));
    edits.extend(own);
}

/// The text with the edits made, the comments taken out.
#[must_use]
pub fn edited(text: &str, mut edits: Vec<Edit>) -> String {
    edits.sort_by_key(|(range, _)| range.start);
    let mut out = text.to_owned();
    for (range, new) in edits.into_iter().rev() {
        if out.is_char_boundary(range.start) && out.is_char_boundary(range.end) && range.end <= out.len() {
            out.replace_range(range, &new);
        }
    }
    let lines: Vec<&str> = out.lines().map(without_comment).collect();
    let mut text = String::new();
    let mut blank = true;
    for line in lines {
        if !(line.is_empty() && blank) {
            text.push_str(line);
            text.push('\n');
        }
        blank = line.is_empty();
    }
    text
}

/// A line without its comment: from a `#` outside quotes that begins the line or follows a space.
fn without_comment(line: &str) -> &str {
    let mut quote = None;
    let mut before = ' ';
    for (at, c) in line.char_indices() {
        match (quote, c) {
            (None, '\'' | '"') if matches!(before, ' ' | '[' | '{' | ',' | ':') => quote = Some(c),
            (Some(open), _) if c == open => quote = None,
            (None, '#') if before.is_whitespace() => return line[..at].trim_end(),
            _ => {}
        }
        before = c;
    }
    line.trim_end()
}

/// A terminal as the job file writes it, quoted where YAML asks for it.
#[must_use]
pub fn terminal(job: &Job, id: TerminalId) -> String {
    let terminal = job.terminal(id);
    let device = &job.device(terminal.device).name;
    quoted(&if terminal.name.is_empty() { device.to_string() } else { format!("{device}.{}", terminal.name) })
}

/// A text as YAML takes it: in quotes where it must be.
#[must_use]
pub fn quoted(text: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "._/+ -~".contains(c);
    let safe = text.starts_with(|c: char| c.is_alphanumeric() || c == '_') && text.chars().all(plain);
    if safe { text.to_owned() } else { format!("'{}'", text.replace('\'', "''")) }
}

fn end(job: &Job, to: End) -> String {
    match to {
        End::Terminal(id) => terminal(job, id),
        End::Safe(safe) => safe.word().to_owned(),
        End::Bare => "bare".to_owned(),
        End::Spare => "spare".to_owned(),
    }
}

/// The edit that gives a core other ends; none if the file does not mention it.
#[must_use]
pub fn ends(job: &Job, core: CoreId, to: [End; 2]) -> Vec<Edit> {
    let core = job.core(core);
    if !core.mentioned {
        return Vec::new();
    }
    let [near, far] = core.ends.map(|end| end.place.bytes());
    let [first, second] = to.map(|to| end(job, to));
    if near == far {
        let both = if first == second { first } else { format!("[{first}, {second}]") };
        return vec![(near, both)];
    }
    vec![(near, first), (far, second)]
}
