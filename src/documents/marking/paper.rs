//! Questions besides the wiring: words, colours, figures, causes of a fault struck out.

use std::collections::BTreeSet;

use crate::netlist::colours_of;
use crate::netlist::exercise::{Answer, Exercise, Question, Right};

/// A question, what was answered, and what that is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The name of the question.
    pub question: String,
    /// What was answered; empty where nothing was.
    pub given: String,
    /// What it earned; below 0 where it lost.
    pub marks: i64,
    /// What it could earn.
    pub out_of: u32,
    /// Whether it is right.
    pub right: bool,
    /// What is to be said of it.
    pub sentence: String,
}

/// Marks every question of a key, and tells answers that no question asks for.
#[must_use]
pub fn lines(key: &Exercise, answer: &Exercise) -> Vec<Line> {
    let given = |name: &str| answer.answers.iter().find(|answer| answer.name == name);
    let taken = given(READINGS).map(|answer| answer.words.clone()).unwrap_or_default();
    let mut used: BTreeSet<(String, String)> = BTreeSet::new();
    let mut all: Vec<Line> =
        key.questions.iter().map(|q| line(q, given(&q.name), &taken, &mut used)).collect();
    let known =
        |name: &str| [READINGS, HINTS].contains(&name) || key.questions.iter().any(|q| q.name == name);
    for answer in answer.answers.iter().filter(|answer| !known(&answer.name) && !answer.words.is_empty()) {
        all.push(told(&answer.name, answer, 0, 0, "the sheet asks nothing of this name"));
    }
    if let Some(hints) = given(HINTS)
        && let Some(word) = hints.words.first()
    {
        match figure(word) {
            #[expect(clippy::cast_possible_truncation, reason = "no sheet has 100 hints")]
            Some(count) if count > 0.0 => {
                all.push(told(HINTS, hints, -(count.min(100.0) as i64), 0, "each hint costs a mark"));
            }
            Some(_) => {}
            None => all.push(told(HINTS, hints, 0, 0, &format!("`{word}` is no number; none was counted"))),
        }
    }
    all
}

/// The answer that lists the readings in the order in which they were taken.
const READINGS: &str = "readings";
/// The answer that counts the hints.
const HINTS: &str = "hints";

fn told(question: &str, answer: &Answer, marks: i64, out_of: u32, sentence: &str) -> Line {
    let given = answer.words.join(", ");
    let sentence = format!("{question}: {sentence}");
    Line { question: question.to_owned(), given, marks, out_of, right: false, sentence }
}

fn line(
    question: &Question,
    answer: Option<&Answer>,
    taken: &[String],
    used: &mut BTreeSet<(String, String)>,
) -> Line {
    let Question { name, right, marks } = question;
    let words: &[String] = answer.map_or(&[], |answer| answer.words.as_slice());
    let given = words.join(", ");
    let done = |right: bool, earned: i64, sentence: String| Line {
        question: name.clone(),
        given: given.clone(),
        marks: earned,
        out_of: *marks,
        right,
        sentence: format!("{name}: {sentence}"),
    };
    let full = i64::from(*marks);
    let shown = |words: &[String]| words.join(" or ");
    match right {
        Right::Word(_) | Right::Figure(..) | Right::Each(..) if words.is_empty() => {
            done(false, 0, "not answered".to_owned())
        }
        Right::Word(all) => match all.iter().find(|word| words.iter().any(|given| same(given, word))) {
            Some(_) => done(true, full, format!("{given} is right")),
            None => done(false, 0, format!("{given} is wrong, {} is right", shown(all))),
        },
        Right::Each(all, list) => match all.iter().find(|word| words.iter().any(|given| same(given, word))) {
            Some(word) if used.insert((list.clone(), word.clone())) => {
                done(true, full, format!("{given} is right"))
            }
            Some(_) => done(false, 0, format!("{given} is taken already")),
            None => done(false, 0, format!("{given} is wrong, one of {} is right", all.join(", "))),
        },
        Right::Figure(value, within) => {
            let near = words.first().and_then(|word| figure(word)).is_some_and(|given| {
                // Half a hundredth is what writing two digits after the point makes of a small figure.
                (given - value).abs() <= (within * value.abs()).max(0.005)
            });
            match near {
                true => done(true, full, format!("{given} is right")),
                false => done(false, 0, format!("{given} is wrong, {value} is right")),
            }
        }
        Right::ClearedBy(readings) => {
            let Some(after) = words.first() else {
                return match readings.first() {
                    None => done(true, 0, "left standing, as it must be".to_owned()),
                    Some(_) => done(false, 0, format!("left standing, and {} clears it", shown(readings))),
                };
            };
            let order = taken.iter().position(|reading| same(reading, after));
            let so_far = order.and_then(|at| taken.get(..=at)).unwrap_or(std::slice::from_ref(after));
            let clears = |reading: &String| readings.iter().any(|clearing| same(reading, clearing));
            if so_far.iter().any(clears) {
                done(true, full, format!("struck out after {after}, which was right"))
            } else {
                let why = format!("struck out after {after}, and no reading so far clears it");
                done(false, -1, why)
            }
        }
    }
}

/// Whether two words mean the same: case and spaces apart, the same colour, or its IEC 60757 code.
fn same(a: &str, b: &str) -> bool {
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let (colour, other) = (colours_of(a), colours_of(b));
    let code: String = other.iter().map(|colour| colour.code()).collect();
    plain(a) == plain(b) || (!other.is_empty() && (colour == other || code.eq_ignore_ascii_case(a.trim())))
}

/// The figure at the beginning of what was written, with `m` and `k` before a unit.
fn figure(text: &str) -> Option<f64> {
    let text = text.trim().replace(',', ".");
    let end = text.find(|c: char| !(c.is_ascii_digit() || ".-+".contains(c))).unwrap_or(text.len());
    let (number, unit) = text.split_at_checked(end)?;
    let unit = unit.trim_start();
    let begins = |units: &[&str]| units.iter().any(|known| unit.starts_with(known));
    let factor = if begins(&["mV", "mA"]) {
        1e-3
    } else if begins(&["kΩ", "ko"]) {
        1e3
    } else {
        1.0
    };
    number.parse::<f64>().ok().map(|value| value * factor).filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marked(right: Right, marks: u32, given: &[&str], readings: &[&str]) -> (i64, bool) {
        let owned = |all: &[&str]| all.iter().map(|word| (*word).to_owned()).collect();
        let question = Question { name: "q".to_owned(), right, marks };
        let key = Exercise { questions: vec![question], ..Exercise::default() };
        let answers = vec![
            Answer { name: "q".to_owned(), words: owned(given) },
            Answer { name: READINGS.to_owned(), words: owned(readings) },
        ];
        let line = lines(&key, &Exercise { answers, ..Exercise::default() }).remove(0);
        (line.marks, line.right)
    }

    #[test]
    fn figures_may_be_written_in_many_ways() {
        for written in ["1.23", "1,23 V", "1.24V", "1230 mV", " 1.22 volts"] {
            assert_eq!(marked(Right::Figure(1.23, 0.02), 1, &[written], &[]), (1, true), "{written}");
        }
        for written in ["1.3", "12.3", "", "x", "-1.23"] {
            assert_eq!(marked(Right::Figure(1.23, 0.02), 1, &[written], &[]), (0, false), "{written}");
        }
    }

    #[test]
    fn kilohms_and_milliamps_are_read_as_such() {
        assert_eq!(figure("1.2 kΩ"), Some(1200.0));
        assert_eq!(figure("4,7 kohm"), Some(4700.0));
        assert_eq!(figure("30 mA"), Some(0.03));
        assert_eq!(figure("12 V"), Some(12.0));
    }

    #[test]
    fn hints_are_counted_or_it_is_said_why_not() {
        let told = |written: &str| {
            let answers = vec![Answer { name: "hints".to_owned(), words: vec![written.to_owned()] }];
            let answer = Exercise { answers, ..Exercise::default() };
            let all = lines(&Exercise::default(), &answer);
            all.into_iter().map(|line| (line.marks, line.sentence)).collect::<Vec<_>>()
        };
        assert_eq!(told("2"), [(-2, "hints: each hint costs a mark".to_owned())]);
        assert_eq!(told("two"), [(0, "hints: `two` is no number; none was counted".to_owned())]);
        assert_eq!(told("0"), []);
    }

    #[test]
    fn a_strike_counts_by_what_was_read_before_it() {
        let by = |all: &[&str]| Right::ClearedBy(all.iter().map(|word| (*word).to_owned()).collect());
        assert_eq!(marked(by(&["P2"]), 1, &["P2"], &[]), (1, true));
        assert_eq!(marked(by(&["P2"]), 1, &["p3"], &["P2", "P3"]), (1, true), "late, and right");
        assert_eq!(marked(by(&["P2"]), 1, &["P3"], &["P3", "P2"]), (-1, false), "before the reading");
        assert_eq!(marked(by(&["P2"]), 1, &[], &["P2"]), (0, false), "left standing");
        assert_eq!(marked(by(&[]), 0, &["P2"], &["P2"]), (-1, false), "the fault itself");
        assert_eq!(marked(by(&[]), 0, &[], &["P2"]), (0, true));
    }

    #[test]
    fn words_of_a_list_count_once() {
        let each = || Right::Each(vec!["blue".to_owned(), "grey".to_owned()], "W1".to_owned());
        let question = |name: &str| Question { name: name.to_owned(), right: each(), marks: 1 };
        let key = Exercise { questions: vec![question("a"), question("b")], ..Exercise::default() };
        let answers = |first: &str, second: &str| {
            let answer =
                |name: &str, word: &str| Answer { name: name.to_owned(), words: vec![word.to_owned()] };
            let answers = vec![answer("a", first), answer("b", second)];
            lines(&key, &Exercise { answers, ..Exercise::default() })
                .iter()
                .map(|line| line.marks)
                .collect::<Vec<_>>()
        };
        assert_eq!(answers("Blue", "slate"), [1, 1]);
        assert_eq!(answers("BU", "gy"), [1, 1], "codes of IEC 60757");
        assert_eq!(answers("blue", "blue"), [1, 0]);
        assert_eq!(answers("red", "blue"), [0, 1]);
    }
}
