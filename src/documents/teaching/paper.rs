//! The pages of an exercise: the trainee's, and the trainer's key.

use super::sums::Sum;
use super::{Matter, Taken};

use crate::drawing::{self, Block};
use crate::netlist::{CauseLine, Condition, Current, Job, Kind, TerminalId};

/// What must happen, one sentence a line of cause and effect.
fn wanted(job: &Job) -> Vec<String> {
    let words = |all: &[Condition]| {
        let one = |condition: &Condition| {
            let words = job.condition_words(condition);
            let (name, state) = words.split_once(' ').unwrap_or((words.as_str(), ""));
            // What a watched loop shows.
            let state = match state {
                "rest" => "at rest",
                "alarm" => "in alarm",
                "tamper" => "in tamper",
                other => other,
            };
            let title = job.device(condition.device).title.as_ref();
            let title = title.map(|title| format!(" ({title})")).unwrap_or_default();
            format!("{name}{title} is {state}")
        };
        all.iter().map(one).collect::<Vec<_>>().join(" and ")
    };
    let line = |line: &CauseLine| {
        let first =
            if line.first.is_empty() { String::new() } else { format!("After {}: ", words(&line.first)) };
        let when =
            if line.when.is_empty() { "Then".to_owned() } else { format!("When {},", words(&line.when)) };
        format!("{first}{when} {}.", words(&line.then))
    };
    job.cause_and_effect.iter().map(line).collect()
}

fn cautions() -> String {
    format!("No power until the trainer signs. {} {}", drawing::LIMITS, drawing::ISOLATE)
}

const RULES: &str = "Plus is red and 0 V is black where a cable has them. Green-yellow is for earth only. A spare core is \
    made safe at both ends. A fuse stands at the supply. Any way of joining that joins the same terminals is right.";

/// The trainee's pages.
#[must_use]
pub fn sheet(matter: &Matter, sums: &[Sum], taken: Taken) -> Vec<Block> {
    let text = |words: &str| Block::Text(words.to_owned());
    let cells = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<String>>();
    let sum_marks: usize = sums.iter().map(Sum::marks).sum();
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
        text(&cautions()),
        Block::Heading("Task".to_owned()),
        text(taken.task()),
    ];
    let wanted = wanted(&matter.answer);
    if !wanted.is_empty() {
        blocks.push(Block::Heading("What must happen".to_owned()));
        blocks.extend(wanted.into_iter().map(Block::Text));
    }
    if matches!(taken, Taken::Some | Taken::Connections | Taken::Mistakes) {
        blocks.push(Block::Heading("Rules".to_owned()));
        blocks.push(text(RULES));
    }
    blocks.push(Block::Heading("Marks".to_owned()));
    let for_sums = match sum_marks {
        0 => String::new(),
        marks => format!(" and {marks} for the sums"),
    };
    blocks.push(Block::Text(format!(
        "{} for the answer{for_sums}. {} Three hints can be had from the trainer; each costs a mark.",
        matter.marks,
        scheme(taken)
    )));
    if matches!(taken, Taken::Some | Taken::Connections | Taken::Mistakes) {
        blocks.push(supplies(&matter.answer));
    }
    blocks.extend(matter.before.iter().cloned());
    blocks.push(Block::Heading("Answer".to_owned()));
    blocks.push(table(matter, &matter.rows));
    blocks.extend(matter.after.iter().cloned());
    if !sums.is_empty() {
        blocks.push(Block::Heading("Sums".to_owned()));
    }
    for (number, sum) in (1..).zip(sums) {
        blocks.push(Block::Text(format!("{number}. {} ({} marks)", sum.question, sum.marks())));
        blocks.push(Block::Lines(2));
        let asked: Vec<String> = sum.asked.iter().map(|asked| asked.heading.to_owned()).collect();
        blocks.push(Block::Table {
            shares: vec![1.0; asked.len()],
            rows: vec![vec![String::new(); asked.len()]],
            head: asked,
        });
    }
    blocks
}

/// How the answer is marked.
#[must_use]
pub fn scheme(taken: Taken) -> &'static str {
    match taken {
        Taken::Some | Taken::Connections => {
            "A right join earns a mark; a join that should not be, a danger and an end left unsafe lose one each."
        }
        Taken::Mistakes => {
            "A mistake that is put right earns a mark for every join or end that it spoilt; what is made worse loses one."
        }
        Taken::Faults => {
            "A cause struck out after a reading that clears it earns a mark. A cause struck out that no reading so \
             far clears loses one. The fault named earns two; where no reading tells causes apart, any of them is \
             right. How many readings you take does not count."
        }
        Taken::Functions | Taken::Colours | Taken::Names => "A right line earns a mark.",
    }
}

/// What the supplies and loads are.
fn supplies(job: &Job) -> Block {
    let mut rows = Vec::new();
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let name = job.part_label(id);
        fn shown<T: ToString>(value: Option<T>) -> String {
            value.map(|value| value.to_string()).unwrap_or_default()
        }
        let row = match &part.kind {
            Kind::Source(s) => {
                let kind = if s.current == Current::Ac { "supply, AC" } else { "supply, DC" };
                [kind.to_owned(), shown(s.volts), shown(s.amps)]
            }
            Kind::Load(l) => ["load".to_owned(), shown(l.volts), shown(l.draw)],
            Kind::Coil(c) => ["coil".to_owned(), shown(c.volts), shown(c.draw)],
            Kind::Fuse(f) => ["fuse".to_owned(), String::new(), shown(f.amps)],
            Kind::Input(i) => {
                [format!("input, operates at {} level", i.active.word()), shown(i.volts), String::new()]
            }
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
#[must_use]
pub fn key(matter: &Matter, sums: &[Sum], taken: Taken) -> Vec<Block> {
    let mut blocks = vec![
        Block::Text(cautions()),
        Block::Heading("Answer".to_owned()),
        Block::Text(format!("{} marks. {}", matter.marks, scheme(taken))),
    ];
    blocks.extend(matter.before_key.iter().cloned());
    blocks.push(table(matter, &matter.filled));
    if !sums.is_empty() {
        blocks.push(Block::Heading("Sums".to_owned()));
    }
    for (number, sum) in (1..).zip(sums) {
        blocks.push(Block::Text(format!("{number}. {}", sum.question)));
        blocks.push(Block::Text(format!("Working: {} ({} marks)", sum.working, sum.marks())));
    }
    blocks.push(Block::Heading("Hints, one mark each".to_owned()));
    for (number, hint) in (1..).zip(matter.hints.clone().unwrap_or_else(|| hints(matter))) {
        blocks.push(Block::Text(format!("{number}. {hint}")));
    }
    if matches!(taken, Taken::Some | Taken::Connections) {
        blocks.push(Block::Heading("Common mistakes".to_owned()));
        blocks.push(Block::Text(
            "Plus taken straight to a contact's other side, so that operating it shorts the supply; the 0 V forgotten \
             at an input that is measured against it; NO and NC taken for each other; a spare core left bare."
                .to_owned(),
        ));
    }
    blocks
}

/// Three hints, each giving more away.
fn hints(matter: &Matter) -> [String; 3] {
    let job = &matter.answer;
    let source = job.part_ids().find_map(|(id, part)| match &part.kind {
        Kind::Source(source) => Some(format!(
            "Begin at {}: follow its plus {} through every fuse, then bring its other pole {} to everything that needs it.",
            job.part_label(id),
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
