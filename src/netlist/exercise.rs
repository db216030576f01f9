//! What belongs to an exercise: the questions of its key, and a trainee's answers. No rule reads them.

use crate::source::Place;
use crate::syntax::{self, Entry, Faults, Fields};

/// The exercise of a job file; empty in a job that is none.
#[derive(Clone, Debug, Default)]
pub struct Exercise {
    /// The marks that the sheet has as it is given out: what is right already earns nothing.
    pub start: u32,
    /// Whether the job has mistakes of its own, and each that is put right earns a mark.
    pub own_mistakes: bool,
    /// The questions, in a key.
    pub questions: Vec<Question>,
    /// The answers, in an answer.
    pub answers: Vec<Answer>,
    /// Where it stands; `None` where there is none.
    pub place: Option<Place>,
}

/// A question with what is right.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Its name.
    pub name: String,
    /// How it is marked.
    pub right: Right,
    /// What it earns.
    pub marks: u32,
}

/// What is right.
#[derive(Clone, Debug, PartialEq)]
pub enum Right {
    /// One of these words.
    Word(Vec<String>),
    /// One of these words, and no two questions of the same list the same one.
    Each(Vec<String>, String),
    /// A figure, give or take a share of it.
    Figure(f64, f64),
    /// The cause of a fault: one of these readings clears it, and it may be struck out after one of them. What no
    /// reading clears may not be struck out.
    ClearedBy(Vec<String>),
}

/// An answer, as it was written.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// The name of the question.
    pub name: String,
    /// What was written: one text, or several where a list was written.
    pub words: Vec<String>,
}

/// Reads `exercise:`.
pub fn read(entry: Option<Entry<'_>>, faults: &mut Faults) -> Exercise {
    let mut exercise = Exercise::default();
    let Some(entry) = entry else { return exercise };
    let Some(mut fields) = Fields::open(entry.value, "`exercise`", faults) else { return exercise };
    exercise.place = Some(entry.place);
    exercise.start = fields.count("start", 1_000_000, faults).unwrap_or(0);
    exercise.own_mistakes = fields.flag("own_mistakes", faults);
    for entry in fields.value("questions").into_iter().flat_map(|value| value.entries()) {
        exercise.questions.extend(question(entry, faults));
    }
    for entry in fields.value("answers").into_iter().flat_map(|value| value.entries()) {
        let words = syntax::texts(entry.value, "an answer", faults);
        exercise.answers.push(Answer {
            name: entry.key.trim().to_owned(),
            words: words.iter().map(|said| said.text.trim().to_owned()).collect(),
        });
    }
    fields.finish(faults);
    exercise
}

fn question(entry: Entry<'_>, faults: &mut Faults) -> Option<Question> {
    let mut fields = Fields::open(entry.value, "a question", faults)?;
    let owned = |texts: Vec<syntax::Said<'_>>| texts.iter().map(|said| said.text.trim().to_owned()).collect();
    let words: Vec<String> = owned(fields.texts("is", faults));
    let within: Option<crate::units::Share> = fields.quantity("within", faults);
    let list = fields.text("one_each", faults).map(|said| said.text.to_owned());
    let cleared = fields.entry("cleared_by");
    let marks = fields.count("marks", 1_000, faults);
    let figure = words.first().and_then(|word| word.parse().ok());
    let right = match (cleared, within, figure, list) {
        (Some(cleared), ..) => {
            let readings = owned(syntax::texts(cleared.value, "`cleared_by`", faults));
            Right::ClearedBy(readings)
        }
        (None, Some(within), Some(figure), _) => Right::Figure(figure, within.0),
        (None, _, _, Some(list)) => Right::Each(words, list),
        _ => Right::Word(words),
    };
    fields.finish(faults);
    let marks = marks.unwrap_or(match &right {
        Right::ClearedBy(readings) if readings.is_empty() => 0,
        _ => 1,
    });
    Some(Question { name: entry.key.trim().to_owned(), right, marks })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn exercise(text: &str) -> Exercise {
        let job = crate::netlist::read_text("job.yaml", text).job;
        job.map(|job| job.exercise).unwrap_or_default()
    }

    #[test]
    fn questions_and_answers_are_read_as_they_are_written() {
        let key = exercise(
            "job: {title: Key}\nexercise:\n  start: 4\n  questions:\n    K1.IN1: {is: [a, b]}\n    sum 1: {is: 1.5, within: 2 %, marks: 2}\n    A: {cleared_by: [P1, P2]}\n    B: {cleared_by: }\n    W1 2: {is: [blue, white], one_each: W1}\n",
        );
        assert_eq!(key.start, 4);
        let rights: Vec<&Right> = key.questions.iter().map(|question| &question.right).collect();
        let words = |all: &[&str]| all.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
        assert_eq!(rights[0], &Right::Word(words(&["a", "b"])));
        assert_eq!(rights[1], &Right::Figure(1.5, 0.02));
        assert_eq!(rights[2], &Right::ClearedBy(words(&["P1", "P2"])));
        assert_eq!(rights[3], &Right::ClearedBy(Vec::new()));
        assert_eq!(rights[4], &Right::Each(words(&["blue", "white"]), "W1".to_owned()));
        assert_eq!(key.questions.iter().map(|question| question.marks).collect::<Vec<_>>(), [1, 2, 1, 0, 1]);
        let answer = exercise("job: {title: A}\nexercise: {answers: {A: P1, readings: [P1, P2], C: }}\n");
        assert_eq!(answer.answers[0], Answer { name: "A".to_owned(), words: words(&["P1"]) });
        assert_eq!(answer.answers[1].words, ["P1", "P2"]);
        assert!(answer.answers[2].words.is_empty());
    }
}
