//! What each exercise takes away, and what is right.

use std::ops::Range;
use std::sync::Arc;

use super::dice::Dice;
use super::fault::{Bench, Diagnosis, chosen, letter, letters, volts};
use super::text::{self, quoted};
use super::variant::{Variant, mistakes, set};
use super::{Lesson, Matter, Taken, question};
use crate::checks;
use crate::circuit::Circuit;
use crate::diagnostic::{Finding, Severity, Subject};
use crate::documents::faults::{self, Fault};
use crate::documents::marking;
use crate::drawing::{Block, PUT_IN};
use crate::netlist::exercise::{Question, Right};
use crate::netlist::{
    CableId, Colour, Colours, CoreId, DeviceId, End, Form, Job, Kind, Name, PartId, TerminalId, listed,
};
use crate::schedules::{self, Spots};
use crate::source::small;

/// A matter with nothing taken away and nothing asked.
fn plain(job: &Job) -> Matter {
    let bare = format!("job:\n  title: {}\n", quoted(&format!("Exercise: {}", job.info.title)));
    Matter {
        given: job.clone(),
        answer: job.clone(),
        before: Vec::new(),
        after: Vec::new(),
        before_key: Vec::new(),
        head: Vec::new(),
        rows: Vec::new(),
        filled: Vec::new(),
        marks: 0,
        flags: None,
        hints: None,
        files: [bare.clone(), bare],
        start: 0,
        own_mistakes: false,
        questions: Vec::new(),
        blanks: Vec::new(),
    }
}

/// A row with its last cell left to be filled in.
fn unfilled(row: &[String]) -> Vec<String> {
    let mut row = row.to_vec();
    if let Some(last) = row.last_mut() {
        last.clear();
    }
    row
}

/// Says what terminals do: a letter of a list each.
pub fn functions(variant: &Variant, dice: &mut Dice) -> Matter {
    let job = &variant.job;
    let mut asked: Vec<(String, String, String)> = Vec::new();
    for row in schedules::terminals(job, &Circuit::of(job), &Spots::default()) {
        let boxed = row.device_of(job).is_some_and(|device| job.device(device).form == Form::Box);
        let place = row.place();
        if boxed
            && row.at.is_some()
            && !row.function.is_empty()
            && asked.iter().all(|(known, ..)| *known != place)
        {
            asked.push((place, format!("{}.{}", row.device, row.terminal), row.function));
        }
    }
    let keep = asked.len().div_ceil(2).max(asked.len().min(8));
    let mut list: Vec<String> = Vec::new();
    for (.., function) in &asked {
        if !list.contains(function) {
            list.push(function.clone());
        }
    }
    let list = dice.shuffled(list);
    let asked: Vec<_> = dice.shuffled(asked).into_iter().take(keep).collect();
    let mut matter = Matter {
        head: vec!["Terminal", "What it does: letter"],
        before: vec![
            Block::Heading("What terminals do".to_owned()),
            Block::Table {
                head: vec!["Letter".to_owned(), "What it does".to_owned()],
                shares: vec![1.0, 8.0],
                rows: (0..).zip(&list).map(|(n, function)| vec![letter(n), function.clone()]).collect(),
            },
        ],
        ..plain(job)
    };
    for (place, name, function) in asked {
        let right = list.iter().position(|known| *known == function).map(letter).unwrap_or_default();
        let row = vec![place, format!("{right}   {function}")];
        matter.rows.push(unfilled(&row));
        matter.filled.push(row);
        matter.questions.push(question(name, Right::Word(vec![right])));
    }
    matter.marks = matter.rows.len();
    matter
}

/// What a core must be coloured by: it goes to plus, to 0 V, it is the earth or the drain, or none of these.
#[derive(Clone, Copy, PartialEq)]
enum Rail {
    Plus,
    Zero,
    Earth,
    Free,
}

/// Gives every core its colour.
pub fn colours(variant: &Variant, dice: &mut Dice) -> Matter {
    let job = &variant.job;
    let circuit = Circuit::of(job);
    let mut matter = Matter { head: vec!["Cable", "Core", "Colour"], ..plain(job) };
    // One core alone may have any colour: it is asked for only where there is nothing else to ask.
    let least = if job.cables.iter().any(|cable| cable.cores.len() > 1) { 2 } else { 1 };
    let mut lists = Vec::new();
    for cable in &job.cables {
        let numbers = dice.shuffled((1..=cable.cores.len()).collect());
        let mut own: Vec<(usize, CoreId)> = numbers.into_iter().zip(cable.cores.iter().map(CoreId)).collect();
        own.sort_unstable();
        for (number, core) in &own {
            let colour = job.core(*core).name.to_string();
            if let Some(core) = matter.given.cores.get_mut(core.index()) {
                let of = Arc::make_mut(&mut core.of);
                of.name = number.to_string().into();
                of.colours = Colours::NONE;
            }
            if own.len() < least {
                continue;
            }
            let row = vec![cable.name.to_string(), number.to_string(), colour];
            matter.rows.push(unfilled(&row));
            matter.filled.push(row);
            let rail = rail(job, &circuit, *core);
            let alike = own.iter().filter(|(_, other)| self::rail(job, &circuit, *other) == rail);
            let words: Vec<String> = alike.map(|(_, core)| job.core(*core).name.to_string()).collect();
            let right = match words.len() {
                1 => Right::Word(words),
                _ => Right::Each(words, cable.name.to_string()),
            };
            matter.questions.push(question(format!("{} {number}", cable.name), right));
        }
        if own.len() >= least {
            let mut words: Vec<String> =
                own.iter().map(|(_, core)| job.core(*core).name.to_string()).collect();
            words.sort();
            lists.push(vec![cable.name.to_string(), words.join(", ")]);
        }
    }
    matter.before = vec![
        Block::Heading("The colours".to_owned()),
        Block::Table {
            head: vec!["Cable".to_owned(), "Colours of its cores".to_owned()],
            shares: vec![1.0, 8.0],
            rows: lists,
        },
    ];
    matter.marks = matter.rows.len();
    matter.before_key.push(Block::Text(
        "Where a colour is free, any colour of the cable that no other core must have is right, each once."
            .to_owned(),
    ));
    matter
}

/// Whether a core goes to a pole of a DC source, or is the earth.
fn rail(job: &Job, circuit: &Circuit, core: CoreId) -> Rail {
    if job.cable(job.core(core).cable).drain() == Some(core) {
        return Rail::Earth;
    }
    let core = job.core(core);
    if core.colours == [Colour::Green, Colour::Yellow] {
        return Rail::Earth;
    }
    let on = |pole: TerminalId| {
        core.ends.iter().any(|end| end.to.terminal().is_some_and(|t| circuit.joined_past_fuses(t, pole)))
    };
    for part in &job.parts {
        if let Kind::Source(source) = &part.kind
            && source.current == crate::netlist::Current::Dc
        {
            if on(source.plus) {
                return Rail::Plus;
            }
            if on(source.minus) {
                return Rail::Zero;
            }
        }
    }
    Rail::Free
}

/// Finds out which device is which.
pub fn names(variant: &Variant, dice: &mut Dice) -> Matter {
    let job = &variant.job;
    let mut matter = Matter { head: vec!["On the drawing", "Which device it is"], ..plain(job) };
    matter.given.info.notes.clear();
    let order = dice.shuffled((1..=job.devices.len()).collect());
    let full = |device: &crate::netlist::Device| {
        let title = device.title.clone().map(|title| format!(", {title}")).unwrap_or_default();
        format!("{}{title}", device.name)
    };
    let classes = interchangeable(job);
    let mut known: Vec<(usize, Question, String)> = Vec::new();
    for ((id, number), blank) in job.device_ids().zip(order).zip(&mut matter.given.devices) {
        let (id, device) = id;
        blank.name = format!("D{number}").into();
        Arc::make_mut(&mut blank.of).title = None;
        blank.location = Arc::default();
        let class = classes.get(id.index()).copied().unwrap_or(id);
        let alike = job.device_ids().filter(|(other, _)| classes.get(other.index()) == Some(&class));
        let words: Vec<String> = alike.map(|(_, device)| device.name.to_string()).collect();
        let right = match words.len() {
            1 => Right::Word(words),
            _ => Right::Each(words, job.device(class).name.to_string()),
        };
        known.push((number, question(format!("D{number}"), right), full(device)));
    }
    known.sort_by_key(|(number, ..)| *number);
    for (number, question, name) in known {
        let others = match &question.right {
            Right::Each(words, _) => {
                let own = name.split(", ").next().unwrap_or_default();
                let others: Vec<String> = words.iter().filter(|word| *word != own).cloned().collect();
                format!(" (or {}: nothing on the sheet tells them apart)", others.join(", "))
            }
            _ => String::new(),
        };
        matter.rows.push(vec![format!("D{number}"), String::new()]);
        matter.filled.push(vec![format!("D{number}"), format!("{name}{others}")]);
        matter.questions.push(question);
    }
    matter.marks = matter.rows.len();
    let mut names: Vec<String> = job.devices.iter().map(full).collect();
    names.sort();
    matter.before = vec![Block::Heading("The names".to_owned()), Block::Text(names.join("; ") + ".")];
    matter
}

/// By device the first of those that nothing on the sheet tells from it: of the same type, and what must happen still
/// happens when their names are exchanged.
fn interchangeable(job: &Job) -> Vec<DeviceId> {
    let mut classes: Vec<DeviceId> = job.device_ids().map(|(id, _)| id).collect();
    let named = |id: DeviceId| {
        let lines = job.cause_and_effect.iter();
        lines.flat_map(|l| l.first.iter().chain(&l.when).chain(&l.then)).any(|c| c.device == id)
    };
    let unmet = |job: &Job| {
        let findings = checks::untried(job, &Circuit::of(job));
        findings.iter().filter(|finding| finding.rule == "effect-not-met").count()
    };
    let mut plain = None;
    for (id, device) in job.device_ids() {
        let alike = job.device_ids().take_while(|(other, _)| *other != id).find(|(other, with)| {
            if classes.get(other.index()) != Some(other)
                || device.type_name.is_none()
                || device.type_name != with.type_name
                || device.parts.len() != with.parts.len()
                || device.terminals.len() != with.terminals.len()
            {
                return false;
            }
            if !named(id) && !named(*other) {
                return true;
            }
            let exchanged = exchanged(job, id, *other);
            unmet(&exchanged) <= *plain.get_or_insert_with(|| unmet(job))
        });
        if let Some((other, _)) = alike
            && let Some(class) = classes.get_mut(id.index())
        {
            *class = other;
        }
    }
    classes
}

/// The job with two devices named for each other in what must happen.
fn exchanged(job: &Job, a: DeviceId, b: DeviceId) -> Job {
    let mut job = job.clone();
    let parts = |id: DeviceId| job.device(id).parts.iter().collect::<Vec<u32>>();
    let (own, other) = (parts(a), parts(b));
    let part = |id: PartId| {
        let turned = |from: &[u32], to: &[u32]| {
            let at = from.iter().position(|part| *part == id.0)?;
            to.get(at).map(|part| PartId(*part))
        };
        turned(&own, &other).or_else(|| turned(&other, &own)).unwrap_or(id)
    };
    for line in &mut job.cause_and_effect {
        for condition in line.first.iter_mut().chain(&mut line.when).chain(&mut line.then) {
            condition.device = match condition.device {
                id if id == a => b,
                id if id == b => a,
                id => id,
            };
            condition.part = condition.part.map(part);
        }
    }
    job
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
        vec![job.cable(job.core(*core).cable).name.to_string(), job.core(*core).name.to_string(), near, far]
    };
    cores.iter().map(row).collect()
}

/// Connects cables.
pub fn connections(
    variant: &Variant,
    lesson: &Lesson<'_>,
    notes: Option<Range<usize>>,
    taken: Taken,
    dice: &mut Dice,
) -> Matter {
    let job = &variant.job;
    let all: Vec<usize> = (0..job.cables.len()).collect();
    let mut away = match taken {
        Taken::Some => dice.shuffled(all).into_iter().take(job.cables.len().div_ceil(2)).collect(),
        _ => all,
    };
    away.sort_unstable();
    let mut matter = Matter { head: vec!["Cable", "Core", "From", "To"], ..plain(job) };
    let mut edits = variant.edits.clone();
    let mut cores: Vec<CoreId> = Vec::new();
    for cable in away.iter().filter_map(|cable| job.cables.get(*cable)) {
        cores.extend(cable.cores.iter().map(CoreId));
    }
    for core in &cores {
        text::changed(&mut edits, text::ends(job, *core, [End::Spare, End::Spare]));
    }
    without_cables(&mut matter.given, &away);
    matter.given.info.notes.retain(|note| !tells(job, note));
    let mut own = variant.edits.clone();
    // A note may tell the answer.
    if let Some(place) = notes {
        let notes: Vec<String> = matter.given.info.notes.iter().map(|note| quoted(note)).collect();
        let edit = (place, format!("[{}]", notes.join(", ")));
        text::changed(&mut edits, vec![edit.clone()]);
        text::changed(&mut own, vec![edit]);
    }
    matter.filled = core_rows(job, &cores);
    let blank = |row: &Vec<String>| {
        (0..).zip(row).map(|(n, cell)| if n < 2 { cell.clone() } else { String::new() }).collect()
    };
    matter.rows = matter.filled.iter().map(blank).collect();
    matter.start = marking::joins_of(&matter.given);
    matter.marks = marking::joins_of(job).saturating_sub(matter.start);
    matter.files = [text::edited(lesson.text, edits), text::edited(lesson.text, own)];
    matter
}

/// Whether a note names something of the job, so that it may tell how that is connected.
fn tells(job: &Job, note: &str) -> bool {
    let names: Vec<&Name> = job
        .devices
        .iter()
        .map(|device| &device.name)
        .chain(job.cables.iter().map(|cable| &cable.name))
        .collect();
    note.split(|c: char| !c.is_alphanumeric() && c != '-').any(|word| names.iter().any(|name| *name == word))
}

/// Takes cables out of a job.
fn without_cables(job: &mut Job, away: &[usize]) {
    let (mut cables, mut cores) = (Vec::new(), Vec::new());
    for (_, cable) in job.cables.iter().enumerate().filter(|(n, _)| !away.contains(n)) {
        let start = cores.len();
        let id = cables.len();
        for core in cable.cores.iter().map(|core| job.core(CoreId(core)).clone()) {
            cores.push(crate::netlist::Core { cable: CableId(small(id)), ..core });
        }
        let mut kept = cable.clone();
        kept.cores.start = small(start);
        kept.cores.end = small(cores.len());
        cables.push(kept);
    }
    job.cables = cables;
    job.cores = cores;
    job.accepted.clear();
}

/// The job with its own mistakes, or, if it is sound, with some put in.
pub fn wrong(variant: &Variant, lesson: &Lesson<'_>, dice: &mut Dice) -> Matter {
    let head = vec!["Where", "What is wrong and what it does", "How it is put right"];
    let own: Vec<&Finding> =
        lesson.findings.iter().filter(|f| f.accepted.is_none() && f.severity > Severity::Note).collect();
    let blank = |count: usize| vec![vec![String::new(); 3]; count];
    let job = &variant.job;
    if !own.is_empty() {
        let file = text::edited(lesson.text, variant.edits.clone());
        return Matter {
            head,
            rows: blank(own.len()),
            marks: own.len(),
            filled: own
                .iter()
                .map(|f| vec![about(job, f), f.message.to_string(), f.fix.to_string()])
                .collect(),
            files: [file.clone(), file],
            own_mistakes: true,
            ..plain(job)
        };
    }
    let count = 2 + dice.below(2);
    let circuit = Circuit::of(job);
    let findings = checks::run(job, &circuit);
    let model = marking::Model::of(job, &circuit, &findings);
    let marker = model.marker();
    let marks = |answer: &Job| marker.mark(answer).marks;
    let full = marks(job);
    let with = |changes: &[(CoreId, [End; 2])]| {
        let mut wrong = job.clone();
        changes.iter().for_each(|(core, to)| set(&mut wrong, *core, *to));
        wrong
    };
    let made = mistakes(job, count, dice, &|changes| marks(&with(changes)) < full);
    let mut matter = Matter { head, ..plain(job) };
    let mut edits = variant.edits.clone();
    for (changes, words) in &made {
        for (core, to) in changes {
            set(&mut matter.given, *core, *to);
            text::changed(&mut edits, text::ends(job, *core, *to));
        }
        let at = changes.first().map(|(core, _)| job.core_label(*core)).unwrap_or_default();
        let right = changes.iter().map(|(core, _)| {
            let row = core_rows(job, &[*core]).concat();
            match row.as_slice() {
                [cable, core, near, far] => format!("{cable} {core} from {near} to {far}"),
                _ => String::new(),
            }
        });
        matter.filled.push(vec![at, words.clone(), right.collect::<Vec<_>>().join("; ")]);
    }
    matter.rows = blank(matter.filled.len());
    matter.start = marks(&matter.given);
    matter.marks = full.saturating_sub(matter.start);
    matter.files = [text::edited(lesson.text, edits), text::edited(lesson.text, variant.edits.clone())];
    matter
}

/// The first thing that a finding is about.
fn about(job: &Job, finding: &Finding) -> String {
    match finding.subjects.first() {
        Some(Subject::Device(id)) => job.device(DeviceId(*id)).name.to_string(),
        Some(Subject::Terminal(id)) => job.label(TerminalId(*id)),
        Some(Subject::Cable(id)) => job.cable(CableId(*id)).name.to_string(),
        Some(Subject::Core(id)) => job.core_label(CoreId(*id)),
        None => String::new(),
    }
}

/// One fault, to be found with a meter. `None` if no fault of the job is seen and can be told from another.
pub fn fault(variant: &Variant, dice: &mut Dice) -> Option<Matter> {
    let job = &variant.job;
    let circuit = Circuit::of(job);
    let chart = faults::chart(job, &circuit);
    let (group, truth) = chosen(&chart, dice)?;
    let found = Bench::of(job, &circuit, group).diagnosis(truth, dice)?;
    let lettered = |(n, cause): (usize, &String)| vec![letter(n), cause.clone(), String::new()];
    let texts = |cells: &[&str]| cells.iter().map(|cell| (*cell).to_owned()).collect::<Vec<String>>();
    let point = |n: usize| format!("P{}", n + 1);
    let table = |shows: bool| Block::Table {
        head: texts(&["Point", "Where the leads go", "State", "The meter shows"]),
        shares: vec![1.0, 4.0, 4.0, 2.0],
        rows: (0..)
            .zip(&found.readings)
            .map(|(n, reading)| {
                let shown = if shows { volts(reading.shows) } else { String::new() };
                vec![point(n), reading.at.clone(), reading.when.clone(), shown]
            })
            .collect(),
    };
    let heading = |words: &str| Block::Heading(words.to_owned());
    let cleared_by = |cause: usize| -> Vec<String> {
        let clearing = (0..).zip(&found.readings).filter(|(_, reading)| reading.clears.contains(&cause));
        clearing.map(|(n, _)| point(n)).collect()
    };
    let strikes: Vec<Question> = (0..found.causes.len())
        .map(|cause| {
            let cleared = cleared_by(cause);
            let marks = u32::from(!cleared.is_empty());
            Question { name: letter(cause), right: Right::ClearedBy(cleared), marks }
        })
        .collect();
    let named =
        Question { name: "fault".to_owned(), right: Right::Word(letters(&found.alike)), marks: FAULT };
    let marks = strikes.iter().chain([&named]).map(|question| question.marks as usize).sum();
    let flag = Finding {
        subjects: subjects(job, found.fault),
        ..Finding::new(PUT_IN, Severity::Error, found.fault.words(job), "")
    };
    let mut filled: Vec<Vec<String>> = found.causes.iter().enumerate().map(lettered).collect();
    for (cause, row) in filled.iter_mut().enumerate() {
        let cleared = cleared_by(cause);
        if let Some(last) = row.last_mut() {
            *last = match (cleared.is_empty(), cause == truth) {
                (true, true) => "THE FAULT".to_owned(),
                (true, false) => "nothing clears it".to_owned(),
                _ => cleared.join(", "),
            };
        }
    }
    Some(Matter {
        before: vec![
            heading("Complaint"),
            Block::Text(format!("{}.", found.complaint)),
            heading("Points"),
            table(false),
        ],
        head: vec!["Letter", "What can be behind it", "Struck out after point"],
        rows: found.causes.iter().enumerate().map(lettered).collect(),
        after: vec![
            Block::Text(
                "The points in the order in which you asked for them, and the letter of the fault:"
                    .to_owned(),
            ),
            Block::Lines(2),
        ],
        before_key: key_of(&found, truth, job, table(true), &point),
        filled,
        marks,
        flags: Some(vec![flag]),
        hints: Some(hints(&found, &point)),
        questions: strikes.into_iter().chain([named]).collect(),
        blanks: vec![("readings".to_owned(), "in the order in which you asked, as in [P3, P1]")],
        ..plain(job)
    })
}

/// The marks for naming the fault.
const FAULT: u32 = 2;

/// What stands before the table of causes in the key: the fault, the path, all readings.
fn key_of(
    found: &Diagnosis,
    truth: usize,
    job: &Job,
    readings: Block,
    point: &dyn Fn(usize) -> String,
) -> Vec<Block> {
    let alike: Vec<String> = letters(&found.alike).into_iter().filter(|l| *l != letter(truth)).collect();
    let alike = match alike.as_slice() {
        [] => String::new(),
        _ => format!(" No reading in volts tells it from {}: look at them one by one.", listed(&alike)),
    };
    let mut left: Vec<usize> = (0..found.causes.len()).collect();
    let mut rows = Vec::new();
    for (step, number) in (1..).zip(&found.path) {
        let Some(reading) = found.readings.get(*number) else { continue };
        let cleared: Vec<usize> = left.iter().copied().filter(|c| reading.clears.contains(c)).collect();
        left.retain(|cause| !cleared.contains(cause));
        rows.push(vec![
            step.to_string(),
            point(*number),
            format!("{}, {}", reading.at, reading.when),
            format!("{} (right: {})", volts(reading.shows), volts(reading.right)),
            letters(&cleared).join(", "),
            letters(&left).join(", "),
        ]);
    }
    let heading = |words: &str| Block::Heading(words.to_owned());
    vec![
        Block::Text(format!("The fault is {}: {}.{alike}", letter(truth), found.fault.words(job))),
        heading("The path"),
        Block::Text(
            "Each reading leaves as few causes as one reading can, whatever it shows. Other ways are as right.".to_owned(),
        ),
        Block::Table {
            head: ["Step", "Point", "Where and when", "Shows", "Clears", "Left"].map(str::to_owned).to_vec(),
            shares: vec![0.7, 0.8, 5.0, 3.0, 3.0, 2.0],
            rows,
        },
        heading("All readings, to be told one at a time"),
        readings,
        heading("Causes, and the points that clear them"),
    ]
}

/// Hints to a fault, each giving more away.
fn hints(found: &Diagnosis, point: &dyn Fn(usize) -> String) -> [String; 3] {
    let step = |n: usize| found.path.get(n).map(|number| point(*number));
    let first = step(0).unwrap_or_default();
    let clears = found.path.first().and_then(|number| found.readings.get(*number));
    let clears = clears.map(|reading| listed(&letters(&reading.clears))).unwrap_or_default();
    [
        format!("Begin with {first}: it splits the causes best."),
        format!("{first} clears {clears}."),
        match found.path.last() {
            Some(last) if found.path.len() > 1 => format!("{} settles it.", point(*last)),
            _ => format!("When all is read, this many causes are left: {}.", found.alike.len()),
        },
    ]
}

/// What a fault is about.
fn subjects(job: &Job, fault: Fault) -> Vec<Subject> {
    let part = |id: PartId| vec![Subject::from(job.part(id).device)];
    match fault {
        Fault::Open(core) => vec![Subject::from(core)],
        Fault::CoresJoined(a, b) | Fault::Exchanged(a, b) => vec![Subject::from(a), Subject::from(b)],
        Fault::TerminalsJoined(a, b) => vec![Subject::from(a), Subject::from(b)],
        Fault::StuckAtRest(id)
        | Fault::StuckOperated(id)
        | Fault::FuseOpen(id)
        | Fault::SourceLost(id)
        | Fault::Reversed(id) => part(id),
    }
}
