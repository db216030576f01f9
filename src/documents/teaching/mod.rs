//! Exercises made of a job: sheets with things taken away, their key, and an answer file to fill in.
//!
//! The exercise is made of a variant of the job that the seed chooses ([`variant`]); what the trainee gets is drawn and
//! written from a job from which the answer has been removed, so nothing in those files can give it away.

mod dice;
mod sums;
mod text;
mod variant;

use std::ops::Range;

use crate::checks;
use crate::circuit::Circuit;
use crate::diagnostic::{Finding, Severity};
use crate::drawing::{self, Block, Drawing};
use crate::netlist::{Condition, CoreId, Current, End, Form, Job, Kind, TerminalId};
use crate::scene::{Group, Item, Role, Shape, Sheet};
use crate::schedules::{self, Spots};

use super::marking;
use super::stand::condition_words;
use dice::Dice;
use sums::{Sum, sums};
use variant::{Variant, mistakes, set, varied};

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
}

impl Taken {
    /// All of them, by level.
    pub const ALL: [Self; 6] =
        [Self::Functions, Self::Colours, Self::Names, Self::Some, Self::Connections, Self::Mistakes];

    /// What a level from 1 to 6 takes away.
    #[must_use]
    pub fn of_level(level: u8) -> Option<Self> {
        Self::ALL.get(usize::from(level).checked_sub(1)?).copied()
    }

    /// What the trainee has to do.
    fn task(self) -> &'static str {
        match self {
            Self::Functions => "Say what each terminal in the table does.",
            Self::Colours => {
                "Give every core its colour. Red is plus and black is 0 V where a cable has them; the others are free. \
                 Cores are numbered on the drawing."
            }
            Self::Names => {
                "The devices have lost their names. Find out from symbols, terminals and connections which is which."
            }
            Self::Some => {
                "Some cables are not connected. Connect every core, or say how its end is made safe."
            }
            Self::Connections => "Connect every core of every cable, or say how its end is made safe.",
            Self::Mistakes => {
                "This was built with mistakes. Find each one, say what it does, and put it right."
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
    /// The job file to fill in; `None` where the answer is written on the sheet only.
    pub to_fill: Option<String>,
    /// The job file that is right, for `mark`; `None` where none is known.
    pub model: Option<String>,
}

/// A job to make exercises of.
#[derive(Clone, Copy)]
pub struct Lesson<'a> {
    /// The job.
    pub job: &'a Job,
    /// The text of its file.
    pub text: &'a str,
    /// What was found in it.
    pub findings: &'a [Finding],
    /// Where the length of a cable is written, by the cable's name.
    pub lengths: &'a dyn Fn(&str) -> Option<Range<usize>>,
}

/// What the exercise comes to, before it is put on paper.
struct Matter {
    given: Job,
    answer: Job,
    head: Vec<&'static str>,
    rows: Vec<Vec<String>>,
    /// The same rows filled in.
    filled: Vec<Vec<String>>,
    marks: usize,
    to_fill: Option<String>,
    model: Option<String>,
}

/// Makes an exercise of a job. The same seed gives the same exercise.
#[must_use]
pub fn exercise(lesson: Lesson<'_>, taken: Taken, seed: u64) -> Exercise {
    let mut dice = Dice::new(seed);
    let variant = varied(lesson.job, lesson.lengths, &mut dice);
    let sums = sums(&variant.job, &mut dice);
    let matter = match taken {
        Taken::Functions => functions(&variant, &mut dice),
        Taken::Colours => colours(&variant, &mut dice),
        Taken::Names => names(&variant, &mut dice),
        Taken::Some | Taken::Connections => connections(&variant, lesson.text, taken, &mut dice),
        Taken::Mistakes => wrong(&variant, lesson, &mut dice),
    };
    let title = format!("Exercise: {}", lesson.job.info.title);
    let about = format!("Seed {seed}.");
    let pages = drawing::pages(&title, &foot(&about), &sheet(&matter, &sums, taken));
    let key = drawing::pages(&format!("Key to: {title}"), &foot(&about), &key(&matter, &sums, taken));
    let mut given = drawing::draw(&matter.given, &Circuit::of(&matter.given), &[]);
    given.sheets.iter_mut().for_each(|sheet| unchecked(sheet, taken));
    let circuit = Circuit::of(&matter.answer);
    let findings = checks::run(&matter.answer, &circuit);
    let answer = drawing::draw(&matter.answer, &circuit, &findings);
    Exercise {
        given: (given, matter.given),
        pages,
        answer: (answer, matter.answer),
        key,
        to_fill: matter.to_fill,
        model: matter.model,
    }
}

fn foot(about: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    format!("Made by Bellwire {version} for teaching. Not for building. {about}")
}

/// Takes off a sheet what only a finished job may bear: the note on the check, and, where the functions are asked for,
/// those of the terminal schedule.
fn unchecked(sheet: &mut Sheet, taken: Taken) {
    for group in &mut sheet.content {
        if group.role == Role::Notes {
            let mut last = false;
            group.items.retain(|item| {
                last |= starts(item, "Checked by Bellwire");
                !last
            });
        }
        if taken == Taken::Functions && group.role == Role::Table("terminals") {
            without_functions(group);
        }
    }
}

fn text_of(item: &Item) -> Option<&crate::scene::Text> {
    match item {
        Item::Shape(Shape::Text(text)) => Some(text),
        _ => None,
    }
}

fn starts(item: &Item, words: &str) -> bool {
    text_of(item).is_some_and(|text| text.text.starts_with(words))
}

/// Takes out the texts that stand in the columns headed `Function`.
fn without_functions(group: &mut Group) {
    let heads: Vec<f64> = group
        .items
        .iter()
        .filter(|item| starts(item, "Function"))
        .filter_map(text_of)
        .map(|t| t.at.x)
        .collect();
    group.items.retain(|item| {
        text_of(item).is_none_or(|text| text.bold || !heads.iter().any(|x| (x - text.at.x).abs() < 0.01))
    });
}

fn functions(variant: &Variant, dice: &mut Dice) -> Matter {
    let job = &variant.job;
    let rows = schedules::terminals(job, &Circuit::of(job), &Spots::default());
    let mut asked: Vec<(String, String)> = Vec::new();
    for row in rows {
        let boxed = row.device_of(job).is_some_and(|device| job.device(device).form == Form::Box);
        let place = row.place();
        if boxed
            && row.at.is_some()
            && !row.function.is_empty()
            && asked.iter().all(|(known, _)| *known != place)
        {
            asked.push((place, row.function));
        }
    }
    let keep = asked.len().div_ceil(2).max(asked.len().min(8));
    let asked: Vec<(String, String)> = dice.shuffled(asked).into_iter().take(keep).collect();
    Matter {
        given: job.clone(),
        answer: job.clone(),
        head: vec!["Terminal", "What it does"],
        rows: asked.iter().map(|(place, _)| vec![place.clone(), String::new()]).collect(),
        marks: asked.len(),
        filled: asked.into_iter().map(|(place, function)| vec![place, function]).collect(),
        to_fill: None,
        model: None,
    }
}

fn colours(variant: &Variant, dice: &mut Dice) -> Matter {
    let job = &variant.job;
    let mut given = job.clone();
    let (mut rows, mut filled) = (Vec::new(), Vec::new());
    for cable in &job.cables {
        let numbers = dice.shuffled((1..=cable.cores.len()).collect());
        let mut own: Vec<(usize, CoreId)> = numbers.into_iter().zip(cable.cores.iter().map(CoreId)).collect();
        own.sort_unstable();
        for (number, core) in own {
            let colour = job.core(core).name.clone();
            if let Some(core) = given.cores.get_mut(core.index()) {
                core.name = number.to_string();
                core.colours.clear();
            }
            rows.push(vec![cable.name.clone(), number.to_string(), String::new()]);
            filled.push(vec![cable.name.clone(), number.to_string(), colour]);
        }
    }
    Matter {
        given,
        answer: job.clone(),
        head: vec!["Cable", "Core", "Colour"],
        marks: rows.len(),
        rows,
        filled,
        to_fill: None,
        model: None,
    }
}

fn names(variant: &Variant, dice: &mut Dice) -> Matter {
    let job = &variant.job;
    let mut given = job.clone();
    given.info.notes.clear();
    let order = dice.shuffled((1..=job.devices.len()).collect());
    let (mut rows, mut filled) = (Vec::new(), Vec::new());
    let mut known: Vec<(usize, String)> = Vec::new();
    for ((device, number), blank) in job.devices.iter().zip(order).zip(&mut given.devices) {
        blank.name = format!("D{number}");
        blank.title = None;
        blank.location.clear();
        let title = device.title.clone().map(|title| format!(", {title}")).unwrap_or_default();
        known.push((number, format!("{}{title}", device.name)));
    }
    known.sort();
    for (number, name) in &known {
        rows.push(vec![format!("D{number}"), String::new()]);
        filled.push(vec![format!("D{number}"), name.clone()]);
    }
    Matter {
        given,
        answer: job.clone(),
        head: vec!["On the drawing", "Which device it is"],
        marks: rows.len(),
        rows,
        filled,
        to_fill: None,
        model: None,
    }
}

/// Core by core: cable, core, and its two ends as the job has them.
fn core_rows(job: &Job, cores: &[CoreId]) -> Vec<Vec<String>> {
    let end = |to: End| match to {
        End::Terminal(terminal) => job.label(terminal),
        End::Safe(safe) => safe.word().to_owned(),
        End::Bare => "bare".to_owned(),
        End::Spare => "spare".to_owned(),
    };
    let row = |core: &CoreId| {
        let [near, far] = job.core(*core).ends.map(|e| end(e.to));
        vec![job.cable(job.core(*core).cable).name.clone(), job.core(*core).name.clone(), near, far]
    };
    cores.iter().map(row).collect()
}

fn connections(variant: &Variant, source: &str, taken: Taken, dice: &mut Dice) -> Matter {
    let job = &variant.job;
    let all: Vec<usize> = (0..job.cables.len()).collect();
    let mut away = match taken {
        Taken::Some => dice.shuffled(all).into_iter().take(job.cables.len().div_ceil(2)).collect(),
        _ => all,
    };
    away.sort_unstable();
    let mut given = job.clone();
    let mut edits = variant.edits.clone();
    let mut cores: Vec<CoreId> = Vec::new();
    for cable in away.iter().map(|cable| &job.cables[*cable]) {
        cores.extend(cable.cores.iter().map(CoreId));
    }
    for core in &cores {
        edits.retain(|(range, _)| {
            job.core(*core).ends.iter().all(|end| {
                let own = end.place.bytes();
                range.end <= own.start || range.start >= own.end || !job.core(*core).mentioned
            })
        });
        edits.extend(text::ends(job, *core, [End::Spare, End::Spare]));
    }
    without_cables(&mut given, &away);
    let filled = core_rows(job, &cores);
    let rows = filled.iter().map(|row| vec![row[0].clone(), row[1].clone(), String::new(), String::new()]);
    let rows: Vec<Vec<String>> = rows.collect();
    Matter {
        given,
        answer: job.clone(),
        head: vec!["Cable", "Core", "From", "To"],
        rows,
        filled,
        marks: marking::joins_of(job),
        to_fill: Some(text::edited(source, edits)),
        model: Some(text::edited(source, variant.edits.clone())),
    }
}

/// Takes cables out of a job.
fn without_cables(job: &mut Job, away: &[usize]) {
    let (mut cables, mut cores) = (Vec::new(), Vec::new());
    for (_, cable) in job.cables.iter().enumerate().filter(|(n, _)| !away.contains(n)) {
        let start = cores.len();
        let id = cables.len();
        let moved = |core: CoreId| {
            let at = start + (core.0 - cable.cores.start) as usize;
            CoreId(u32::try_from(at).unwrap_or(u32::MAX))
        };
        for core in cable.cores.iter().map(|core| job.core(CoreId(core)).clone()) {
            cores.push(crate::netlist::Core {
                cable: crate::netlist::CableId(u32::try_from(id).unwrap_or(u32::MAX)),
                ..core
            });
        }
        let mut kept = cable.clone();
        kept.pairs = kept.pairs.iter().map(|pair| pair.map(moved)).collect();
        kept.drain = kept.drain.map(moved);
        let run = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        kept.cores.start = run(start);
        kept.cores.end = run(cores.len());
        cables.push(kept);
    }
    job.cables = cables;
    job.cores = cores;
    job.accepted.clear();
}

/// The job with its own mistakes, or, if it is sound, with some put in.
fn wrong(variant: &Variant, lesson: Lesson<'_>, dice: &mut Dice) -> Matter {
    let head = vec!["Where", "What is wrong and what it does", "How it is put right"];
    let own: Vec<&Finding> =
        lesson.findings.iter().filter(|f| f.accepted.is_none() && f.severity > Severity::Note).collect();
    let blank = |count: usize| vec![vec![String::new(); 3]; count];
    let job = &variant.job;
    if !own.is_empty() {
        let filled: Vec<Vec<String>> =
            own.iter().map(|f| vec![f.rule.to_owned(), f.message.clone(), f.fix.clone()]).collect();
        return Matter {
            given: job.clone(),
            answer: job.clone(),
            head,
            rows: blank(filled.len()),
            marks: filled.len(),
            filled,
            to_fill: Some(text::edited(lesson.text, variant.edits.clone())),
            model: None,
        };
    }
    let count = 2 + dice.below(2);
    let made = mistakes(job, count, dice);
    let mut given = job.clone();
    let mut edits = variant.edits.clone();
    let mut filled = Vec::new();
    for (changes, words) in &made {
        for (core, to) in changes {
            set(&mut given, *core, *to);
            let own = text::ends(job, *core, *to);
            edits.retain(|(range, _)| {
                own.iter().all(|(new, _)| range.end <= new.start || range.start >= new.end)
            });
            edits.extend(own);
        }
        let at = changes.first().map(|(core, _)| job.core_label(*core)).unwrap_or_default();
        let right = changes.iter().map(|(core, _)| {
            let row = core_rows(job, &[*core]).concat();
            format!("{} {} from {} to {}", row[0], row[1], row[2], row[3])
        });
        filled.push(vec![at, words.clone(), right.collect::<Vec<_>>().join("; ")]);
    }
    Matter {
        given,
        answer: job.clone(),
        head,
        rows: blank(filled.len()),
        marks: marking::joins_of(job),
        filled,
        to_fill: Some(text::edited(lesson.text, edits)),
        model: Some(text::edited(lesson.text, variant.edits.clone())),
    }
}

/// What must happen, one sentence a line of cause and effect.
fn wanted(job: &Job) -> Vec<String> {
    let words = |all: &[Condition]| {
        let one = |condition: &Condition| {
            let words = condition_words(job, condition);
            let (name, state) = words.split_once(' ').unwrap_or((words.as_str(), ""));
            let title = job.device(condition.device).title.as_ref();
            let title = title.map(|title| format!(" ({title})")).unwrap_or_default();
            format!("{name}{title} is {state}")
        };
        all.iter().map(one).collect::<Vec<_>>().join(" and ")
    };
    let line = |line: &crate::netlist::CauseLine| {
        let first =
            if line.first.is_empty() { String::new() } else { format!("After {}: ", words(&line.first)) };
        let when =
            if line.when.is_empty() { "Then".to_owned() } else { format!("When {},", words(&line.when)) };
        format!("{first}{when} {}.", words(&line.then))
    };
    job.cause_and_effect.iter().map(line).collect()
}

const CAUTIONS: &str = "No power until the trainer signs. Extra-low voltage only: at most 50 V AC or 120 V DC. Mains \
    work is for a person licensed or authorised locally. Isolate before working. Local codes come first.";

const RULES: &str = "Plus is red and 0 V is black where a cable has them. Green-yellow is for earth only. A spare core is \
    made safe at both ends. A fuse stands at the supply. Any way of joining that joins the same terminals is right.";

/// The trainee's pages.
fn sheet(matter: &Matter, sums: &[Sum], taken: Taken) -> Vec<Block> {
    let text = |words: &str| Block::Text(words.to_owned());
    let cells = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<String>>();
    let sum_marks: usize = sums.iter().map(|sum| sum.marks).sum();
    let mut blocks = vec![
        Block::Table {
            head: cells(&["Name", "Date", "Time", "Marks", "Power may be put on: trainer's signature"]),
            shares: vec![3.0, 1.5, 1.0, 1.5, 3.5],
            rows: vec![vec![
                String::new(),
                String::new(),
                String::new(),
                format!("      of {}", matter.marks + sum_marks),
                String::new(),
            ]],
        },
        text(CAUTIONS),
        Block::Heading("Task".to_owned()),
        text(taken.task()),
    ];
    let wanted = wanted(&matter.answer);
    if !wanted.is_empty() && taken != Taken::Names {
        blocks.push(Block::Heading("What must happen".to_owned()));
        blocks.extend(wanted.into_iter().map(Block::Text));
    }
    blocks.push(Block::Heading("Rules".to_owned()));
    blocks.push(text(RULES));
    blocks.push(Block::Text(format!(
        "Marks: {} for the table below, {sum_marks} for the sums. {} Three hints can be had from the trainer; each costs \
         a mark.",
        matter.marks,
        scheme(taken)
    )));
    if !matches!(taken, Taken::Functions | Taken::Names | Taken::Colours) {
        blocks.push(supplies(&matter.answer));
    }
    blocks.push(Block::Heading("Answer".to_owned()));
    blocks.push(table(matter, &matter.rows));
    if !sums.is_empty() {
        blocks.push(Block::Heading("Sums".to_owned()));
    }
    for (number, sum) in (1..).zip(sums) {
        blocks.push(Block::Text(format!("{number}. {} ({} marks)", sum.question, sum.marks)));
        blocks.push(Block::Lines(3));
    }
    blocks
}

fn scheme(taken: Taken) -> &'static str {
    match taken {
        Taken::Some | Taken::Connections | Taken::Mistakes => {
            "A right join earns a mark; a join that should not be, a danger and an end left unsafe lose one each."
        }
        _ => "A right line earns a mark.",
    }
}

/// What the supplies and loads are.
fn supplies(job: &Job) -> Block {
    let mut rows = Vec::new();
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let name = super::stand::part_name(job, id);
        let volts = |rated: Option<crate::units::Rated>| {
            rated.map(|r| format!("{} to {}", r.range.low, r.range.high)).unwrap_or_default()
        };
        let draw = |draw: Option<crate::netlist::Draw>| match draw {
            Some(crate::netlist::Draw::Amps(amps)) => amps.to_string(),
            Some(crate::netlist::Draw::Ohms(ohms)) => ohms.to_string(),
            Some(crate::netlist::Draw::Watts(watts)) => watts.to_string(),
            None => String::new(),
        };
        let row = match &part.kind {
            Kind::Source(s) => {
                let kind = if s.current == Current::Ac { "supply, AC" } else { "supply, DC" };
                let text = |value: Option<String>| value.unwrap_or_default();
                [kind.to_owned(), text(s.volts.map(|v| v.to_string())), text(s.amps.map(|a| a.to_string()))]
            }
            Kind::Load(l) => ["load".to_owned(), volts(l.volts), draw(l.draw)],
            Kind::Coil(c) => ["coil".to_owned(), volts(c.volts), draw(c.draw)],
            Kind::Fuse(f) => {
                ["fuse".to_owned(), String::new(), f.amps.map(|a| a.to_string()).unwrap_or_default()]
            }
            Kind::Input(i) => [
                format!("input, operates at {:?} level", i.active).to_lowercase(),
                volts(i.volts),
                String::new(),
            ],
            Kind::DryInput(_) => ["input for a volt-free contact".to_owned(), String::new(), String::new()],
            _ => continue,
        };
        let terminals: Vec<String> =
            part.kind.terminals().into_iter().map(|t: TerminalId| job.label(t)).collect();
        let [kind, volts, draws] = row;
        rows.push(vec![name, kind, terminals.join(", "), volts, draws]);
    }
    Block::Table {
        head: ["Given", "Kind", "Terminals", "Volts", "Amps or ohms"].map(str::to_owned).to_vec(),
        shares: vec![2.0, 3.0, 3.0, 2.0, 1.5],
        rows,
    }
}

fn table(matter: &Matter, rows: &[Vec<String>]) -> Block {
    let shares = match matter.head.len() {
        2 => vec![1.0, 4.0],
        3 => vec![1.0, 2.0, 2.0],
        _ => vec![1.0, 1.0, 2.0, 2.0],
    };
    let head = matter.head.iter().map(|head| (*head).to_owned()).collect();
    Block::Table { head, shares, rows: rows.to_vec() }
}

/// The trainer's pages.
fn key(matter: &Matter, sums: &[Sum], taken: Taken) -> Vec<Block> {
    let mut blocks = vec![
        Block::Text(CAUTIONS.to_owned()),
        Block::Heading("Answer".to_owned()),
        Block::Text(format!("{} marks. {}", matter.marks, scheme(taken))),
        table(matter, &matter.filled),
    ];
    if !sums.is_empty() {
        blocks.push(Block::Heading("Sums".to_owned()));
    }
    for (number, sum) in (1..).zip(sums) {
        blocks.push(Block::Text(format!("{number}. {}", sum.question)));
        blocks.push(Block::Text(format!("Working: {} ({} marks)", sum.working, sum.marks)));
    }
    blocks.push(Block::Heading("Hints, one mark each".to_owned()));
    for (number, hint) in (1..).zip(hints(matter)) {
        blocks.push(Block::Text(format!("{number}. {hint}")));
    }
    blocks.push(Block::Heading("Common mistakes".to_owned()));
    blocks.push(Block::Text(
        "Plus taken straight to a contact's other side, so that operating it shorts the supply; the 0 V forgotten at an \
         input that is measured against it; NO and NC taken for each other; a spare core left bare."
            .to_owned(),
    ));
    blocks
}

/// Three hints, each giving more away.
fn hints(matter: &Matter) -> [String; 3] {
    let job = &matter.answer;
    let source = job.part_ids().find_map(|(id, part)| match &part.kind {
        Kind::Source(source) => Some(format!(
            "Begin at {}: follow its plus {} through every fuse, then bring its other pole {} to everything that needs it.",
            super::stand::part_name(job, id),
            job.label(source.plus),
            job.label(source.minus)
        )),
        _ => None,
    });
    let input = job.part_ids().find_map(|(_, part)| match &part.kind {
        Kind::Input(input) => Some(format!(
            "{} is measured against {}; whatever switches it belongs between it and one pole of that supply.",
            job.label(input.at),
            job.label(input.common)
        )),
        Kind::DryInput(dry) => Some(format!(
            "{} and {} want a contact between them and no volts from outside.",
            job.label(dry.between[0]),
            job.label(dry.between[1])
        )),
        Kind::Load(load) => Some(format!(
            "{} and {} each need a way to a pole of the supply.",
            job.label(load.plus),
            job.label(load.minus)
        )),
        _ => None,
    });
    let last = matter.filled.iter().find(|row| row.iter().all(|cell| !cell.is_empty()));
    [
        source.unwrap_or_else(|| "Begin with what must happen, and work backwards from it.".to_owned()),
        input.unwrap_or_else(|| "Go along every conductor from one end to the other.".to_owned()),
        last.map_or_else(
            || "Compare with a job that works.".to_owned(),
            |row| format!("One line of the answer: {}.", row.join(", ")),
        ),
    ]
}
