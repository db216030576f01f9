//! Exercises: nothing of the key in the trainee's files, the same seed the same bytes, many exercises of one job, and an
//! answer file that `mark` takes.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::documents::faults::{self, inject};
use bellwire::documents::marking::{Mark, Model};
use bellwire::documents::teaching::{Bench, Dice, Exercise, Lesson, Taken, exercise};
use bellwire::documents::{Probe, Stand};
use bellwire::netlist::exercise::Right;
use bellwire::netlist::{self, Job};
use bellwire::output::{Proven, svg};
use bellwire::scene::{Role, Shape};

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
    exercise(&Lesson { job: &job, text, findings: &findings }, taken, seed).unwrap()
}

const LEVELS: [Taken; 6] =
    [Taken::Functions, Taken::Colours, Taken::Names, Taken::Some, Taken::Connections, Taken::Mistakes];

/// What the trainee gets, as text.
fn given(exercise: &Exercise) -> String {
    let (drawing, job) = &exercise.given;
    let mut all = Proven::new(drawing, job).unwrap().svg().concat();
    exercise.pages.iter().for_each(|page| all.push_str(&svg(page)));
    all.push_str(&exercise.to_fill);
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
            read(&exercise.model);
            read(&exercise.to_fill);
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
        // A note that names a cable tells what it joins; one that names nothing stays.
        let notes = &exercise.given.1.info.notes;
        assert!(notes.iter().all(|note| !note.contains(" W")), "{notes:?}");
        assert!(!words.contains("joins the two 0 V"));
        assert_eq!(read(&exercise.to_fill).info.notes, *notes);
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
            pages.replace(&format!("Seed {seed}."), "") + &made.model
        })
        .collect();
    assert!(different.len() >= 50, "{}", different.len());
}

#[test]
fn seeds_turn_parts_round_use_the_other_throw_and_other_cores_and_lengths() {
    let file = examples().into_iter().find(|file| file.ends_with("roof-vent.yaml")).unwrap();
    let text = fs::read_to_string(file).unwrap();
    let models: Vec<String> = (0..24)
        .map(|seed| made(&text, Taken::Functions, seed))
        .map(|exercise| {
            let job = &exercise.answer.1;
            let ends = |core: &netlist::Core| core.ends.map(|end| end.to.terminal().map(|t| job.label(t)));
            let lengths: Vec<_> =
                job.cables.iter().map(|cable| cable.length.map(|length| length.0)).collect();
            let lines: Vec<_> = job.cause_and_effect.iter().map(|line| line.when[0].state).collect();
            format!("{:?} {lengths:?} {lines:?}", job.cores.iter().map(ends).collect::<Vec<_>>())
        })
        .collect();
    let with = |word: &str| models.iter().filter(|model| model.contains(word)).count();
    assert!(with("B1:NC") > 3 && with("B1:NO") > 3, "{models:#?}");
    assert!(models.iter().collect::<BTreeSet<_>>().len() > 12);
    // Where the contact is used by its other throw, what must happen says so.
    for model in &models {
        let line = if model.contains("B1:NC") { "[AtRest, Operated" } else { "[Operated, AtRest" };
        assert!(model.contains(line), "{model}");
    }
}

/// Two relays that lock each other out, with a line of cause and effect that they do not meet.
const INTERLOCK: &str = "\
job: {title: Interlock, exclusive: [[K1.C, K2.C]]}
devices:
  G1: {type: dc-supply, volts: 24 V, amps: 5 A}
  F1: {type: fuse, amps: 2 A}
  X1: {type: splice}
  X0: {type: splice}
  S1: {type: push-button-no}
  S2: {type: push-button-no}
  K1: {type: relay-2-pole, volts: 24 V, amps: 50 mA}
  K2: {type: relay-2-pole, volts: 24 V, amps: 50 mA}
  V1: {type: diode, across: [K1.A1, K1.A2]}
  V2: {type: diode, across: [K2.A1, K2.A2]}
  H1: {type: indicator, volts: 24 V, amps: 20 mA}
  H2: {type: indicator, volts: 24 V, amps: 20 mA}
  X2: {type: splice}
cables:
  W1: {type: single-1, cores: {red: [G1.V+, F1.1]}}
  W2: {type: single-1, cores: {red: [F1.2, X1]}}
  W3: {type: single-1, cores: {black: [G1.V-, X0]}}
  W4: {type: twin-1, cores: {red: [X1, S1.13], black: [K2.21, S1.14]}}
  W5: {type: twin-1, cores: {red: [X1, S2.13], black: [K1.21, S2.14]}}
  W6: {type: single-1, cores: {blue: [K2.22, K1.A1]}}
  W7: {type: single-1, cores: {blue: [K1.22, K2.A1]}}
  W8: {type: single-1, cores: {black: [K1.A2, X0]}}
  W9: {type: single-1, cores: {black: [K2.A2, X0]}}
  W10: {type: single-1, cores: {red: [X1, X2]}}
  W11: {type: single-1, cores: {red: [X2, K1.11]}}
  W12: {type: single-1, cores: {red: [X2, K2.11]}}
  W13: {type: twin-1, cores: {red: [K1.14, H1.V+], black: [X0, H1.V-]}}
  W14: {type: twin-1, cores: {red: [K2.14, H2.V+], black: [X0, H2.V-]}}
cause_and_effect:
  - {when: S1 operated, then: H1 powered}
  - {when: S2 operated, then: H2 powered}
  - {when: [S1 operated, S2 operated], then: [H1 dead, H2 dead]}
";

#[test]
fn a_variant_of_a_faulty_job_makes_no_mistake_of_another_rule() {
    let rules = |job: &Job| -> BTreeSet<&'static str> {
        let findings = checks::run(job, &Circuit::of(job));
        findings.iter().map(|finding| finding.rule).filter(|rule| *rule != "not-checked").collect()
    };
    let plain = rules(&read(INTERLOCK));
    assert_eq!(plain, BTreeSet::from(["effect-not-met"]));
    for seed in 1..5 {
        let model = read(&made(INTERLOCK, Taken::Connections, seed).model);
        assert!(rules(&model).is_subset(&plain), "{seed}: {:?}", rules(&model));
    }
}

#[test]
fn a_variant_keeps_the_file_and_the_job_alike() {
    for name in ["roof-vent.yaml", "door-strike.yaml", "two-supplies.yaml"] {
        let file = examples().into_iter().find(|file| file.ends_with(name)).unwrap();
        let text = fs::read_to_string(&file).unwrap();
        for seed in 0..3 {
            let exercise = made(&text, Taken::Connections, seed);
            let (model, job) = (read(&exercise.model), &exercise.answer.1);
            let ends = |job: &Job| {
                let end = |core: &netlist::Core| core.ends.map(|end| end.to);
                job.cores.iter().map(end).collect::<Vec<_>>()
            };
            assert_eq!(ends(&model), ends(job), "{} {seed}", file.display());
            let lines = |job: &Job| {
                format!(
                    "{:?}",
                    job.cause_and_effect
                        .iter()
                        .map(|l| l.when.iter().map(|c| c.state).collect::<Vec<_>>())
                        .collect::<Vec<_>>()
                )
            };
            assert_eq!(lines(&model), lines(job));
            assert_eq!(
                model.cables.iter().map(|cable| cable.length).collect::<Vec<_>>(),
                job.cables.iter().map(|cable| cable.length).collect::<Vec<_>>()
            );
        }
    }
}

#[test]
fn a_fault_is_neither_on_the_sheet_nor_in_the_answer_file() {
    for name in ["roof-vent.yaml", "door-strike.yaml", "three-wire-sensor.yaml", "two-supplies.yaml"] {
        let file = examples().into_iter().find(|file| file.ends_with(name)).unwrap();
        let exercise = made(&fs::read_to_string(file).unwrap(), Taken::Faults, 6);
        let words = given(&exercise);
        let key: String = exercise.key.iter().map(svg).collect();
        assert!(key.contains("The fault is ") && key.contains("THE FAULT"));
        for secret in ["The fault is", "THE FAULT", "cleared_by", "Clears", "touch\"", "nothing clears it"] {
            assert!(!words.contains(secret), "{name}: {secret}");
        }
        // No check found the fault on the key's drawing: it was put in.
        let (drawn, of) = &exercise.answer;
        let drawn = Proven::new(drawn, of).unwrap().svg().concat();
        assert!(drawn.contains("For the trainee to find") && drawn.contains("KEY, WITH FAULTS"), "{name}");
        assert!(!drawn.contains("Found by the check") && !drawn.contains("Checked by"), "{name}");
        // The drawing is that of the job as it worked.
        let (drawing, job) = &exercise.given;
        Proven::new(drawing, job).unwrap();
        let sound = |job: &Job| job.cores.iter().map(|core| core.ends.map(|end| end.to)).collect::<Vec<_>>();
        assert_eq!(sound(job), sound(&exercise.answer.1));
        let volts = exercise.pages.iter().map(svg).collect::<String>();
        let told = volts.matches(" V<").count();
        assert_eq!(told, 0, "{name}: no reading stands on the sheet");
    }
}

/// A table that goes on on the next page bears its head there.
#[test]
fn no_table_goes_on_without_its_head() {
    let (mut opened, mut sheets) = (0, 0);
    for name in ["alarm-loop.yaml", "two-supplies.yaml"] {
        let file = examples().into_iter().find(|file| file.ends_with(name)).unwrap();
        let text = fs::read_to_string(file).unwrap();
        for taken in [Taken::Functions, Taken::Connections] {
            let made = made(&text, taken, 1);
            sheets += 1;
            for page in made.pages.iter().chain(&made.key) {
                let notes = page.content.iter().find(|group| group.role == Role::Notes).unwrap();
                // After title and foot: a cell's outline where a table opens the page, and its heading in bold.
                let shapes: Vec<&Shape> = notes.shapes().skip(2).collect();
                let text =
                    |shape: &&Shape| if let Shape::Text(text) = *shape { Some(text.clone()) } else { None };
                let first = shapes.iter().find_map(text).unwrap();
                if shapes.first().and_then(text).is_none() {
                    opened += 1;
                    assert!(first.bold, "{}: {}", page.description, first.text);
                }
            }
        }
    }
    // Each trainee's sheet begins with a table; others go on.
    assert!(opened > sheets, "{opened} in {sheets} exercises");
}

/// Marks answers to an exercise.
fn marks(exercise: &Exercise, answers: &[&str]) -> Vec<Mark> {
    let model = read(&exercise.model);
    let circuit = Circuit::of(&model);
    let findings = checks::run(&model, &circuit);
    let ground = Model::of(&model, &circuit, &findings);
    let marker = ground.marker();
    answers.iter().map(|answer| marker.mark(&read(answer))).collect()
}

/// The key, with the right answer to every question filled in from it.
fn in_full(exercise: &Exercise) -> String {
    let key = read(&exercise.model).exercise;
    let mut used: Vec<(String, String)> = Vec::new();
    let mut text = exercise.model[..exercise.model.find("\nexercise:").unwrap()].to_owned();
    text.push_str("\nexercise:\n  answers:\n");
    let quoted = |word: &str| format!("'{}'", word.replace('\'', "''"));
    for question in &key.questions {
        let word = match &question.right {
            Right::Word(words) => words.last().cloned(),
            Right::Figure(value, _) => Some(format!("{value}")),
            Right::ClearedBy(points) => points.first().cloned(),
            Right::Each(words, list) => words
                .iter()
                .find(|word| !used.contains(&(list.clone(), (*word).clone())))
                .cloned()
                .inspect(|word| used.push((list.clone(), word.clone()))),
        };
        let word = word.map(|word| quoted(&word)).unwrap_or_default();
        text.push_str(&format!("    {}: {word}\n", quoted(&question.name)));
    }
    text
}

#[test]
fn the_key_gets_all_marks_and_the_empty_answer_none() {
    for file in examples() {
        let text = fs::read_to_string(&file).unwrap();
        // The large job once is enough: it takes as long as all others together.
        let large = file.ends_with("marshalling-box.yaml");
        for taken in LEVELS.into_iter().filter(|taken| !large || *taken == Taken::Connections) {
            let exercise = made(&text, taken, 5);
            let [full, unfilled] =
                marks(&exercise, &[&in_full(&exercise), &exercise.to_fill]).try_into().unwrap();
            let name = format!("{} {taken:?}", file.display());
            let own = read(&exercise.model).exercise.own_mistakes;
            assert!(full.out_of > 0, "{name}");
            assert_eq!(unfilled.marks, 0, "{name}: {unfilled:#?}");
            if own {
                // Nobody has put the mistakes right yet; the sums are.
                assert!(full.marks < full.out_of);
            } else {
                assert_eq!(full.marks, full.out_of, "{name}: {:#?}", full.questions);
            }
        }
    }
}

#[test]
fn the_marks_of_the_sheet_are_those_of_the_program() {
    let file = examples().into_iter().find(|file| file.ends_with("roof-vent.yaml")).unwrap();
    let text = fs::read_to_string(file).unwrap();
    for taken in Taken::ALL {
        let exercise = made(&text, taken, 9);
        let out_of = marks(&exercise, &[&exercise.to_fill])[0].out_of;
        let pages: String = exercise.pages.iter().map(svg).collect();
        assert!(pages.contains(&format!("of {out_of}<")), "{taken:?}: {out_of}");
    }
}

#[test]
fn a_mistake_put_right_earns_and_one_made_loses() {
    let file = examples().into_iter().find(|file| file.ends_with("mistakes.yaml")).unwrap();
    let exercise = made(&fs::read_to_string(file).unwrap(), Taken::Mistakes, 2);
    let bare = exercise.to_fill.matches("bare").count();
    assert!(bare > 0);
    let cured = exercise.to_fill.replacen("bare", "taped", 1);
    let (before, lines) = exercise.to_fill.split_at(exercise.to_fill.find("\ncause_and_effect:").unwrap());
    let emptied = format!("{before}{}", &lines[lines.find("\ndata_sheets:").unwrap()..]);
    let all = marks(&exercise, &[&exercise.to_fill, &cured, &emptied]);
    assert_eq!(all[0].marks, 0);
    assert!(all[1].marks > 0, "{:#?}", all[1].questions);
    assert_eq!(all[2].marks, 0, "taking the job away is no cure");
}

#[test]
fn the_path_of_readings_leads_to_every_fault_or_to_a_stated_group() {
    let mut told = 0;
    for file in examples() {
        let job = read(&fs::read_to_string(&file).unwrap());
        told += led_to_every_fault(&job, &file.display().to_string());
    }
    assert!(told > 400, "{told}");
}

/// Walks the key's path for every fault of a job, clearing causes by nothing but the values of the meter, which are
/// taken anew from the job with the fault in it.
fn led_to_every_fault(job: &Job, name: &str) -> usize {
    let circuit = Circuit::of(job);
    let chart = faults::chart(job, &circuit);
    let mut told = 0;
    for group in &chart.groups {
        let bench = Bench::of(job, &circuit, group);
        for (truth, fault) in group.faults.iter().enumerate() {
            let found = bench.diagnosis(truth, &mut Dice::new(told as u64)).unwrap();
            let mut left: BTreeSet<usize> = (0..group.faults.len()).collect();
            for step in &found.path {
                let before = left.len();
                left.retain(|cause| !found.readings[*step].clears.contains(cause));
                assert!(left.len() < before, "{name}: {:?} has a reading for nothing", fault.words(job));
            }
            assert!(left.contains(&truth), "{name}: {} is cleared", fault.words(job));
            assert_eq!(left.iter().copied().collect::<Vec<_>>(), found.alike, "{name}");
            // No point of the whole sheet tells the stated group apart.
            for reading in &found.readings {
                assert!(found.alike.iter().all(|cause| !reading.clears.contains(cause)), "{name}");
            }
            let faulty = inject(job, *fault).unwrap();
            let stand = Stand::of(&faulty, &circuit);
            for reading in found.readings.iter().filter(|reading| reading.when == "at rest") {
                if group.complaint.contains("blows")
                    || group.complaint.contains("gives up")
                    || group.complaint.contains("give up")
                {
                    continue;
                }
                let probe = Probe::Volts(reading.point.at, reading.point.against);
                let read = stand.look(&stand.rest(), |solution| match probe {
                    Probe::Volts(a, b) => solution.between(a, b).map_or(0.0, |volts| volts.0),
                    _ => 0.0,
                });
                assert!(
                    (read - reading.shows).abs() < 0.01,
                    "{name}: {} {read} {reading:?}",
                    fault.words(job)
                );
            }
            told += 1;
        }
    }
    told
}

#[test]
fn strikes_are_marked_by_what_was_read_and_not_by_how_much() {
    let file = examples().into_iter().find(|file| file.ends_with("door-strike.yaml")).unwrap();
    let exercise = made(&fs::read_to_string(file).unwrap(), Taken::Faults, 4);
    let key = read(&exercise.model).exercise;
    let strikes: Vec<_> = key
        .questions
        .iter()
        .filter_map(|q| match &q.right {
            Right::ClearedBy(points) => Some((q.name.clone(), points.clone())),
            _ => None,
        })
        .collect();
    let all: BTreeSet<&String> = strikes.iter().flat_map(|(_, points)| points).collect();
    let all: Vec<&str> = all.into_iter().map(String::as_str).collect();
    let answer = |readings: &str, strike: &dyn Fn(&[String]) -> String| {
        let mut text = "job: {title: A}\nexercise:\n  answers:\n".to_owned();
        text.push_str(&format!("    readings: [{readings}]\n"));
        for (name, points) in &strikes {
            text.push_str(&format!("    {name}: {}\n", strike(points)));
        }
        text
    };
    let first = |points: &[String]| points.first().cloned().unwrap_or_default();
    let last = (*all.last().unwrap()).to_owned();
    let every = answer(&all.join(", "), &|points: &[String]| {
        if points.is_empty() { String::new() } else { last.clone() }
    });
    let single = answer("", &first);
    let rash = answer("", &|_: &[String]| "P99".to_owned());
    let marked = marks(&exercise, &[&every, &single, &rash]);
    assert_eq!(
        marked[0].marks,
        marked[0].out_of - 2,
        "all read before the last strike; the fault is not named"
    );
    assert_eq!(marked[1].marks, marked[0].marks);
    assert_eq!(marked[2].marks, 0);
    let lost: i64 = marked[2].questions.iter().map(|line| line.marks).sum();
    assert_eq!(lost, -i64::try_from(strikes.len()).unwrap());
}

/// A lock that a break-glass and an exit button free, and an alarm that a thermostat raises on a supply of its own.
const GUARDED: &str = "\
job:
  {title: Store, number: ST-4, revision: C, date: 2026-05-04, drawn_by: P. Wren, approved_by: M. Hale,
   revisions: [C 2026-05-04 lock added]}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 3 A}
  G2: {type: dc-supply, volts: 24 V, amps: 2 A}
  F1: {type: fuse, amps: 2 A}
  F2: {type: fuse, amps: 1 A}
  S1: {type: break-glass}
  Y1: {type: lock-magnet, volts: 12 V, amps: 480 mA, on_loss: unlocked}
  B3: {type: thermostat, name: store too warm}
  H1: {type: siren, name: alarm, volts: 24 V, amps: 250 mA}
cables:
  W1: {type: twin-1, length: 1 m, cores: {red: [G1.V+, F1.1], black: [G1.V-, Y1.V-]}}
  W2: {type: twin-1, length: 9 m, cores: {red: [F1.2, S1.COM], black: [S1.NC, Y1.V+]}}
  W3: {type: twin-1, length: 2 m, cores: {red: [G2.V+, F2.1], black: [G2.V-, H1.V-]}}
  W4: {type: twin-1, length: 7 m, cores: {red: [F2.2, B3.COM], black: [B3.NO, H1.V+]}}
cause_and_effect:
  - {when: S1 operated, then: Y1 dead}
  - {when: B3 operated, then: H1 powered}
";

#[test]
fn no_seed_turns_the_sense_of_a_safety_device_or_of_what_must_happen() {
    for seed in 0..16 {
        let model = read(&made(GUARDED, Taken::Connections, seed).model);
        let wired = |name: &str| {
            let at = |end: &netlist::CoreEnd| end.to.terminal().is_some_and(|t| model.written(t) == name);
            model.cores.iter().flat_map(|core| &core.ends).any(at)
        };
        assert!(wired("S1.NC") && wired("B3.NO") && !wired("S1.NO") && !wired("B3.NC"), "{seed}");
        let at_rest =
            |line: &netlist::CauseLine| line.when.iter().any(|c| c.state == netlist::StateWord::AtRest);
        assert!(!model.cause_and_effect.iter().any(at_rest), "{seed}");
    }
}

#[test]
fn the_drawing_of_an_exercise_is_no_record_of_the_job_and_bears_no_reading() {
    let plain = read(GUARDED);
    let drawing = bellwire::drawing::draw(&plain, &Circuit::of(&plain), &[], None);
    let record = Proven::new(&drawing, &plain).unwrap().svg().concat();
    for taken in LEVELS {
        let exercise = made(GUARDED, taken, 3);
        for ((drawing, job), kind, stamp) in
            [(&exercise.given, "Exercise", "EXERCISE"), (&exercise.answer, "Key to the exercise", "KEY")]
        {
            let svg = Proven::new(drawing, job).unwrap().svg().concat();
            for words in ["ST-4", "M. Hale", "P. Wren", "2026-05-04", "Connection diagram"] {
                assert!(record.contains(words), "{words}");
                assert!(!svg.contains(words), "{taken:?}: {words}");
            }
            assert!(svg.contains(&format!(">{kind}<")) && svg.contains(stamp), "{taken:?}");
            assert!(svg.contains("not for building"), "{taken:?}");
        }
        let given = Proven::new(&exercise.given.0, &exercise.given.1).unwrap().svg().concat();
        assert!(record.contains(" reads ") && !given.contains(" reads "), "{taken:?}");
    }
}

/// By hand: the lock of 0.48 A is all that hangs on G1; the siren is on G2.
#[test]
fn the_sum_of_a_supply_counts_its_own_loads_only() {
    let exercise = made(GUARDED, Taken::Connections, 2);
    let pages: String = exercise.pages.iter().map(svg).collect();
    let texts = pages.split('<').filter_map(|piece| piece.split('>').next_back());
    let words = texts.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ");
    assert!(words.contains("draw from G1: Y1 0.48 A."), "{words}");
}
