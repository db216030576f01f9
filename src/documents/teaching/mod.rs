//! Exercises made of a job: sheets with things taken away, their key, and an answer file to fill in.
//!
//! The exercise is made of a variant of the job that the seed chooses ([`variant`]); what the trainee gets is drawn and
//! written from a job from which the answer has been removed, so nothing in those files can give it away.

mod dice;
mod fault;
mod matter;
mod paper;
mod record;
mod sums;
mod text;
mod variant;

use crate::checks;
use crate::circuit::Circuit;
use crate::diagnostic::Finding;
use crate::drawing::{self, Block, By, Drawing, Flagged};
use crate::netlist::exercise::{Question, Right};
use crate::netlist::{Info, Job};
use crate::scene::{Item, Role, Shape, Sheet};

pub use dice::Dice;
pub use fault::{Bench, Diagnosis, Reading, chosen};
use record::Blank;
use sums::sums;
use text::Written;
use variant::varied;

/// What is taken away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// What the terminals do.
    Functions,
    /// The colours of the cores.
    Colours,
    /// The names of the devices.
    Names,
    /// About half of the cables' connections.
    Some,
    /// All connections of cables.
    Connections,
    /// Nothing: the job's mistakes are to be found; a sound job gets some.
    Mistakes,
    /// Nothing: one fault is in the wiring, to be found with a meter.
    Faults,
}

impl Taken {
    /// All of them: those of the levels, in their order, and the fault.
    pub const ALL: [Self; 7] = [
        Self::Functions,
        Self::Colours,
        Self::Names,
        Self::Some,
        Self::Connections,
        Self::Mistakes,
        Self::Faults,
    ];

    /// What a level takes away: 1 to 6, and 7 for the fault.
    #[must_use]
    pub fn of_level(level: u8) -> Option<Self> {
        Self::ALL.get(usize::from(level).checked_sub(1)?).copied()
    }

    /// What the trainee has to do.
    fn task(self) -> &'static str {
        match self {
            Self::Functions => {
                "Say what each terminal in the table does: write the letter of one line of the list."
            }
            Self::Colours => {
                "Give every core its colour. Red is plus and black is 0 V where a cable has them; the others are free, \
                 each colour once in its cable. Cores are numbered on the drawing."
            }
            Self::Names => {
                "The devices have lost their names. Find out from symbols, terminals, connections and from what must \
                 happen which is which. Each name of the list is used once."
            }
            Self::Some => {
                "Some cables are not connected. Connect every core, or say how its end is made safe."
            }
            Self::Connections => "Connect every core of every cable, or say how its end is made safe.",
            Self::Mistakes => {
                "This was built with mistakes. Find each one, say what it does, and put it right."
            }
            Self::Faults => {
                "The drawing shows the job as it was when it worked. Since then one fault has come into it, and nothing \
                 else was changed. Choose a point of the list and ask the trainer what the meter shows there. After each \
                 reading strike out the causes that it clears. Go on until one is left, or causes that no reading tells \
                 apart. Readings differ if they are more than 0.5 V and more than 5 % apart."
            }
        }
    }
}

/// An exercise.
pub struct Exercise {
    /// The drawing that the trainee gets, and the job that it shows, to be read back against.
    pub given: (Drawing, Job),
    /// The pages to fill in.
    pub pages: Vec<Sheet>,
    /// The drawing of the answer, and the job that it shows.
    pub answer: (Drawing, Job),
    /// The trainer's pages: every answer, the working of every sum, hints.
    pub key: Vec<Sheet>,
    /// The job file to fill in.
    pub to_fill: String,
    /// The job file that is right, for `mark`.
    pub model: String,
}

/// A job to make exercises of.
#[derive(Clone)]
pub struct Lesson<'a> {
    /// The job.
    pub job: &'a Job,
    /// The text of its file.
    pub text: &'a str,
    /// What was found in it.
    pub findings: &'a [Finding],
}

/// What the exercise comes to, before it is put on paper.
struct Matter {
    given: Job,
    answer: Job,
    /// What stands before the table on the trainee's sheet, and after it.
    before: Vec<Block>,
    after: Vec<Block>,
    /// What stands before the table in the key.
    before_key: Vec<Block>,
    head: Vec<&'static str>,
    rows: Vec<Vec<String>>,
    /// The same rows filled in.
    filled: Vec<Vec<String>>,
    marks: usize,
    /// What is flagged on the drawing of the answer; `None` for what the rules find.
    flags: Option<Vec<Finding>>,
    /// The hints, where they are not made of the job alone.
    hints: Option<[String; 3]>,
    /// The job files of the answer and of the key, without what follows.
    files: [String; 2],
    /// The marks that the sheet has as it is given out.
    start: usize,
    own_mistakes: bool,
    questions: Vec<Question>,
    /// What is filled in besides an answer to each question.
    blanks: Vec<Blank>,
}

/// Makes an exercise of a job. The same seed gives the same exercise. `None` if no fault of the job makes one.
#[must_use]
pub fn exercise(lesson: &Lesson<'_>, taken: Taken, seed: u64) -> Option<Exercise> {
    let mut dice = Dice::new(seed);
    let written = Written::of(lesson.text);
    let variant = varied(lesson.job, &written.lengths, &mut dice);
    let sums = if taken == Taken::Faults { Vec::new() } else { sums(&variant.job, &mut dice) };
    let mut matter = match taken {
        Taken::Functions => matter::functions(&variant, &mut dice),
        Taken::Colours => matter::colours(&variant, &mut dice),
        Taken::Names => matter::names(&variant, &mut dice),
        Taken::Some | Taken::Connections => {
            matter::connections(&variant, lesson, written.notes, taken, &mut dice)
        }
        Taken::Mistakes => matter::wrong(&variant, lesson, &mut dice),
        Taken::Faults => matter::fault(&variant, &mut dice)?,
    };
    for (number, sum) in (1..).zip(&sums) {
        matter.questions.extend(sum.questions(number));
    }
    let job_title = &lesson.job.info.title;
    let title = format!("Exercise: {job_title}");
    let key_title = format!("Key to the exercise: {job_title}");
    let about = format!("Seed {seed}.");
    let pages = drawing::pages(&title, &foot(&about), &paper::sheet(&matter, &sums, taken));
    let key = drawing::pages(&key_title, &foot(&about), &paper::key(&matter, &sums, taken));
    for job in [&mut matter.given, &mut matter.answer] {
        no_record(&mut job.info);
    }
    let unchecked = Flagged { by: By::Exercise, findings: &[] };
    let mut given = drawing::draw_flagged(&matter.given, &Circuit::of(&matter.given), unchecked, None);
    if taken == Taken::Functions {
        given.sheets.iter_mut().for_each(without_functions);
    }
    let circuit = Circuit::of(&matter.answer);
    let findings = matter.flags.take().unwrap_or_else(|| checks::run(&matter.answer, &circuit));
    let by = if matches!(taken, Taken::Mistakes | Taken::Faults) { By::Key } else { By::Answer };
    let answer = drawing::draw_flagged(&matter.answer, &circuit, Flagged { by, findings: &findings }, None);
    let mut blanks = std::mem::take(&mut matter.blanks);
    blanks.extend(matter.questions.iter().map(|question| (question.name.clone(), "")));
    blanks.push(("hints".to_owned(), "how many hints you had"));
    let [to_fill, model] = &matter.files;
    Some(Exercise {
        to_fill: record::answer(to_fill, &blanks),
        model: record::key(model, matter.start, matter.own_mistakes, &matter.questions),
        given: (given, matter.given),
        pages,
        answer: (answer, matter.answer),
        key,
    })
}

/// A question of one mark.
fn question(name: String, right: Right) -> Question {
    Question { name, right, marks: 1 }
}

fn foot(about: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    format!("Made by Bellwire {version} for teaching. Not for building. {about}")
}

/// Takes out of the head of a job what only a record of it may bear.
fn no_record(info: &mut Info) {
    info.number = None;
    info.revision = None;
    info.revisions.clear();
    info.date = None;
    info.drawn_by = None;
    info.approved_by = None;
}

fn text_of(item: &Item) -> Option<&crate::scene::Text> {
    match item {
        Item::Shape(Shape::Text(text)) => Some(text),
        _ => None,
    }
}

/// Takes out the texts that stand in the columns of the terminal schedule headed `Function`.
fn without_functions(sheet: &mut Sheet) {
    let schedules = sheet.content.iter_mut().filter(|group| group.role == Role::Table("terminals"));
    for group in schedules {
        let heads: Vec<f64> = group
            .items
            .iter()
            .filter_map(text_of)
            .filter(|text| text.text.starts_with("Function"))
            .map(|t| t.at.x)
            .collect();
        group.items.retain(|item| {
            text_of(item).is_none_or(|text| text.bold || !heads.iter().any(|x| (x - text.at.x).abs() < 0.01))
        });
    }
}
