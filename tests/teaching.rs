//! Exercises: nothing of the key in the trainee's files, the same seed the same bytes, many exercises of one job, and an
//! answer file that `mark` takes.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::documents::marking::Model;
use bellwire::documents::teaching::{Exercise, Lesson, Taken, exercise};
use bellwire::netlist::{self, Job};
use bellwire::output::{Proven, svg};
use bellwire::source::Sources;
use bellwire::syntax::{self, Faults};

fn examples() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    files.sort();
    files
}

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.findings))
}

fn made(text: &str, taken: Taken, seed: u64) -> Exercise {
    let job = read(text);
    let findings = checks::run(&job, &Circuit::of(&job));
    let (mut sources, mut faults) = (Sources::new(), Faults::new());
    let tree = syntax::load(&mut sources, "job.yaml", text.as_bytes(), &mut faults).unwrap();
    let lengths = |cable: &str| {
        let length = tree.root.get("cables")?.get(cable)?.get("length")?;
        Some(length.place.bytes())
    };
    exercise(Lesson { job: &job, text, findings: &findings, lengths: &lengths }, taken, seed)
}

const LEVELS: [Taken; 6] =
    [Taken::Functions, Taken::Colours, Taken::Names, Taken::Some, Taken::Connections, Taken::Mistakes];

/// What the trainee gets, as text.
fn given(exercise: &Exercise) -> String {
    let (drawing, job) = &exercise.given;
    let mut all = Proven::new(drawing, job).unwrap().svg().concat();
    exercise.pages.iter().for_each(|page| all.push_str(&svg(page)));
    all.push_str(exercise.to_fill.as_deref().unwrap_or_default());
    all
}

#[test]
fn every_example_makes_an_exercise_of_every_level() {
    for file in examples() {
        let text = fs::read_to_string(&file).unwrap();
        for taken in LEVELS {
            let exercise = made(&text, taken, 7);
            if taken == Taken::Connections {
                let (drawing, job) = &exercise.answer;
                Proven::new(drawing, job).unwrap();
            }
            assert!(!exercise.pages.is_empty() && !exercise.key.is_empty());
            let words = given(&exercise);
            assert!(words.contains("No power until the trainer signs"));
            assert!(!words.contains("Checked by Bellwire"), "{} {taken:?}", file.display());
            if let Some(model) = &exercise.model {
                read(model);
                read(exercise.to_fill.as_deref().unwrap());
            }
        }
    }
}

#[test]
fn no_connection_that_was_taken_away_is_left_in_any_of_the_files() {
    for file in examples() {
        let text = fs::read_to_string(&file).unwrap();
        let exercise = made(&text, Taken::Connections, 4);
        let words = given(&exercise);
        let (_, job) = &exercise.answer;
        assert!(exercise.given.1.cables.is_empty());
        for core in &job.cores {
            if let [Some(a), Some(b)] = core.ends.map(|end| end.to.terminal()) {
                // A link is given, and says where its own ends go.
                let linked = |t| job.links.iter().any(|link| link.ends.contains(&t));
                let arrows =
                    [a, b].into_iter().filter(|t| !linked(*t)).map(|t| format!("→ {}<", job.label(t)));
                let arrows: Vec<String> = arrows.collect();
                let [a, b] = [a, b].map(|t| job.label(t));
                let written = format!("[{}, {}]", a.replace(':', "."), b.replace(':', "."));
                for pair in arrows.iter().chain([&written]) {
                    assert!(!words.contains(pair), "{}: {pair}", file.display());
                }
            }
        }
        let comment = text.lines().find_map(|line| line.split(" # ").nth(1));
        assert!(comment.is_none_or(|comment| !words.contains(comment)), "{comment:?}");
    }
}

#[test]
fn no_colour_name_or_function_that_is_asked_for_is_on_the_sheet() {
    let text = fs::read_to_string(&examples()[6]).unwrap();
    let colours = made(&text, Taken::Colours, 3);
    assert!(colours.given.1.cores.iter().all(|core| core.colours.is_empty()));
    let names = made(&text, Taken::Names, 3);
    let drawing = Proven::new(&names.given.0, &names.given.1).unwrap().svg().concat();
    for device in &names.answer.1.devices {
        assert!(!drawing.contains(&format!(">{}<", device.name)), "{}", device.name);
        assert!(!drawing.contains(&format!("data-device=\"{}\"", device.name)), "{}", device.name);
    }
    let functions = made(&text, Taken::Functions, 3);
    let plain = Proven::new(&functions.answer.0, &functions.answer.1).unwrap().svg().concat();
    let blank = Proven::new(&functions.given.0, &functions.given.1).unwrap().svg().concat();
    let rows = bellwire::schedules::terminals(
        &functions.answer.1,
        &Circuit::of(&functions.answer.1),
        &bellwire::schedules::Spots::default(),
    );
    let mut seen = 0;
    for row in rows.iter().filter(|row| row.function.len() > 6) {
        let cell = format!(">{}<", row.function);
        seen += usize::from(plain.contains(&cell));
        assert!(!blank.contains(&cell), "{}", row.function);
    }
    assert!(seen > 3);
}

#[test]
fn the_same_seed_gives_the_same_and_a_hundred_seeds_give_many() {
    for (file, taken) in examples().iter().zip(LEVELS.iter().cycle()) {
        let text = fs::read_to_string(file).unwrap();
        assert_eq!(given(&made(&text, *taken, 11)), given(&made(&text, *taken, 11)));
    }
    let text = fs::read_to_string(&examples()[1]).unwrap();
    let different: BTreeSet<String> = (0..100)
        .map(|seed| {
            let made = made(&text, Taken::Some, seed);
            let pages: String = made.pages.iter().map(svg).collect();
            // The number of the seed itself makes no other exercise.
            pages.replace(&format!("Seed {seed}."), "") + made.model.as_deref().unwrap_or_default()
        })
        .collect();
    assert!(different.len() >= 50, "{}", different.len());
}

#[test]
fn the_key_gets_all_marks_and_the_empty_answer_none() {
    for file in examples() {
        let text = fs::read_to_string(&file).unwrap();
        for taken in [Taken::Connections, Taken::Some, Taken::Mistakes] {
            let exercise = made(&text, taken, 5);
            let Some(model) = &exercise.model else { continue };
            let model = read(model);
            let circuit = Circuit::of(&model);
            let findings = checks::run(&model, &circuit);
            let ground = Model::of(&model, &circuit, &findings);
            let marker = ground.marker();
            let full = marker.mark(&model);
            assert_eq!(full.marks, full.out_of, "{}", file.display());
            let unfilled = marker.mark(&read(exercise.to_fill.as_deref().unwrap()));
            assert!(unfilled.marks < full.marks, "{} {taken:?}", file.display());
            if taken == Taken::Connections {
                assert_eq!(unfilled.marks, 0, "{}", file.display());
            }
        }
    }
}
