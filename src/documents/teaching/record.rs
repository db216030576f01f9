//! The section `exercise:` of the answer file and of the key.

use super::text::quoted;
use crate::netlist::exercise::{Question, Right};
use crate::units::Share;

/// A line to be filled in: the name of the question, and a remark behind it.
pub type Blank = (String, &'static str);

/// A job file with a section `exercise:` after it: some keys, and a map with entries and remarks behind them.
fn with_section(text: &str, keys: &[String], map: &str, entries: &[(String, &str)]) -> String {
    // A file in braces takes its further keys in them.
    if let Some(inner) = text.trim().strip_prefix('{').and_then(|rest| rest.strip_suffix('}')) {
        let comma = if inner.trim_end().ends_with(',') { "" } else { "," };
        let keys: String = keys.iter().map(|key| format!("{key}, ")).collect();
        let entries: String = entries.iter().map(|(entry, _)| format!("\n    {entry},")).collect();
        return format!("{{{}{comma}\n  exercise: {{{keys}{map}: {{{entries}\n  }}}}}}\n", inner.trim_end());
    }
    let keys: String = keys.iter().map(|key| format!("  {key}\n")).collect();
    let entries: String = entries
        .iter()
        .map(|(entry, remark)| match *remark {
            "" => format!("    {entry}\n"),
            remark => format!("    {entry}  # {remark}\n"),
        })
        .collect();
    format!("{}\n\nexercise:\n{keys}  {map}:\n{entries}", text.trim_end())
}

/// The key: the marks that the sheet has to begin with, and every question with what is right.
#[must_use]
pub fn key(text: &str, start: usize, own_mistakes: bool, questions: &[Question]) -> String {
    let mut keys = Vec::new();
    if start > 0 {
        keys.push(format!("start: {start}"));
    }
    if own_mistakes {
        keys.push("own_mistakes: true".to_owned());
    }
    let list = |words: &[String]| {
        let words: Vec<String> = words.iter().map(|word| quoted(word)).collect();
        format!("[{}]", words.join(", "))
    };
    let entry = |question: &Question| {
        let mut right = match &question.right {
            Right::Word(words) => format!("is: {}", list(words)),
            Right::Each(words, each) => format!("is: {}, one_each: {}", list(words), quoted(each)),
            Right::Figure(figure, within) => format!("is: {figure}, within: {}", Share(*within)),
            Right::ClearedBy(readings) => format!("cleared_by: {}", list(readings)),
        };
        if question.marks > 1 {
            right.push_str(&format!(", marks: {}", question.marks));
        }
        (format!("{}: {{{right}}}", quoted(&question.name)), "")
    };
    let entries: Vec<(String, &str)> = questions.iter().map(entry).collect();
    with_section(text, &keys, "questions", &entries)
}

/// The answer file: every question by its name, to be filled in.
#[must_use]
pub fn answer(text: &str, blanks: &[Blank]) -> String {
    let entries: Vec<(String, &str)> =
        blanks.iter().map(|(name, remark)| (format!("{}:", quoted(name)), *remark)).collect();
    with_section(text, &[], "answers", &entries)
}
