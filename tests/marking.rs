//! Answers held against a model: joined or apart, exchanges that the solver allows, dangers, workmanship.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::fs;
use std::path::Path;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::documents::marking::{Class, Lot, Mark, Model, class_table, mistakes_table};
use bellwire::netlist::{self, Job};
use bellwire::schedules::Cell;

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.findings))
}

/// Marks an answer, and gives its pairs of each kind as `A.1 B.2`.
fn mark(model: &str, answer: &str) -> (Mark, [Vec<String>; 3]) {
    let job = read(model);
    let circuit = Circuit::of(&job);
    let findings = checks::run(&job, &circuit);
    let model = Model::of(&job, &circuit, &findings);
    let marker = model.marker();
    let mark = marker.mark(&read(answer));
    let pairs = [Lot::Right, Lot::Missing, Lot::Extra]
        .map(|lot| marker.pairs(&mark, lot).map(|p| p.pair.join(" ")).collect());
    (mark, pairs)
}

fn replaced(text: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(text.to_owned(), |text, (old, new)| {
        assert!(text.contains(old), "{old} is not in the job");
        text.replace(old, new)
    })
}

const LAMP: &str = "
job: {title: Lamp}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 2 A}
  F1: {type: fuse, amps: 1 A}
  S1: {type: push-button-no}
  X1: {type: splice}
  E1: {type: lamp, volts: 12 V, amps: 0.4 A}
  H1: {type: siren, volts: 12 V, amps: 0.1 A}
cables:
  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, F1.1], black: [G1.V-, X1]}}
  W2: {type: single-0.75, length: 1 m, cores: {red: [F1.2, S1.13]}}
  W3: {type: twin-0.75, length: 4 m, cores: {red: [S1.14, E1.1], black: [X1, E1.2]}}
  W4: {type: alarm-4x0.22, length: 4 m, cores: {red: [F1.2, H1.V+], black: [X1, H1.V-], blue: taped, white: taped}}
";

#[test]
fn every_example_answers_itself_in_full() {
    for folder in ["examples", "tests/jobs"] {
        for file in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)).unwrap() {
            let text = fs::read_to_string(file.unwrap().path()).unwrap();
            let (mark, [_, missing, extra]) = mark(&text, &text);
            assert_eq!(mark.marks, mark.out_of);
            assert!(mark.out_of > 0 && missing.is_empty() && extra.is_empty());
            assert!(mark.advice.is_empty() && mark.faults.is_empty() && mark.exchanged.is_empty());
        }
    }
}

#[test]
fn how_it_was_drawn_does_not_count() {
    // No splice, the 0 V goes from terminal to terminal; other cores of the cable; another splice in the plus.
    let answer = replaced(
        LAMP,
        &[
            ("black: [G1.V-, X1]", "black: [G1.V-, H1.V-]"),
            ("  X1: {type: splice}\n", "  X9: {type: splice}\n"),
            ("black: [X1, E1.2]", "black: [H1.V-, E1.2]"),
            (
                "{red: [F1.2, H1.V+], black: [X1, H1.V-], blue: taped, white: taped}",
                "{white: [X9, H1.V+], black: taped, blue: taped, red: taped}",
            ),
            ("{red: [F1.2, S1.13]}", "{red: [F1.2, X9]}"),
            ("\n  W4:", "\n  W5: {type: single-0.75, length: 1 m, cores: {red: [X9, S1.13]}}\n  W4:"),
        ],
    );
    let (mark, _) = mark(LAMP, &answer);
    assert_eq!((mark.marks, mark.out_of, mark.joins), (6, 6, [6, 0, 0]));
}

#[test]
fn what_is_missing_and_what_is_too_much_is_told_pair_by_pair() {
    let answer = replaced(LAMP, &[("[S1.14, E1.1]", "[S1.13, E1.1]")]);
    let (mark, [right, missing, extra]) = mark(LAMP, &answer);
    assert_eq!(missing, ["S1.14 E1.1"]);
    assert_eq!(extra, ["F1.2 E1.1", "S1.13 E1.1", "E1.1 H1.V+"]);
    assert_eq!(right.len(), 1 + 3 + 3);
    assert_eq!((mark.marks, mark.out_of, mark.joins), (4, 6, [5, 1, 1]));
    assert_eq!(mark.advice.len(), 2);
    assert!(mark.advice[0].sentence.contains("join E1.1 to S1.14"), "{}", mark.advice[0].sentence);
}

#[test]
fn ends_of_what_has_no_polarity_may_be_exchanged() {
    let answer = replaced(
        LAMP,
        &[
            ("[G1.V+, F1.1]", "[G1.V+, F1.@]"),
            ("F1.2", "F1.1"),
            ("F1.@", "F1.2"),
            ("S1.13]", "S1.@]"),
            ("S1.14", "S1.13"),
            ("S1.@", "S1.14"),
            ("E1.1]", "E1.@]"),
            ("E1.2", "E1.1"),
            ("E1.@", "E1.2"),
        ],
    );
    let (mark, _) = mark(LAMP, &answer);
    assert_eq!((mark.marks, mark.joins), (6, [6, 0, 0]), "{:?}", mark.advice);
    assert_eq!(mark.exchanged.len(), 3);
}

#[test]
fn poles_of_what_has_polarity_may_not() {
    let answer = replaced(LAMP, &[("[F1.2, H1.V+]", "[F1.2, H1.V-]"), ("[X1, H1.V-]", "[X1, H1.V+]")]);
    let (mark, _) = mark(LAMP, &answer);
    assert_eq!(mark.joins, [4, 2, 2]);
    assert_eq!(mark.marks, 1, "two wrong joins and one reversed load");
    assert_eq!(mark.dangerous[0].pair, ["H1.V+", "H1.V-"]);
}

const POLES: &str = "
job: {title: Two poles}
devices:
  G1: {type: dc-supply, volts: 24 V, amps: 2 A}
  S1: {type: push-button-no}
  K1:
    type: two-pole
  V1: {type: diode, across: [K1.A1, K1.A2]}
  E1: {type: lamp, volts: 24 V, amps: 0.1 A}
  E2: {type: lamp, volts: 24 V, amps: 0.1 A}
cables:
  W1: {cores: {red: [G1.V+, S1.13], black: [G1.V-, K1.A2]}}
  W2: {cores: {red: [S1.14, K1.A1]}}
  W3: {cores: {red: [G1.V+, K1.11], blue: [G1.V+, K1.21], black: [G1.V-, E1.2], white: [G1.V-, E2.2]}}
  W4: {cores: {red: [K1.14, E1.1], blue: [K1.THROW, E2.1]}}
data_sheets:
  two-pole:
    terminals: [A1, A2, 11, 12, 14, 21, 22, 24]
    coils: {C: {between: [A1, A2], volts: 24 V, amps: 30 mA}}
    contacts:
      P1: {common: 11, nc: 12, no: 14, volts: 28 V, amps: 5 A, by: C}
      P2: {common: 21, nc: 22, no: 24, volts: 28 V, amps: 5 A, by: C}
";

#[test]
fn equal_poles_of_one_relay_may_be_exchanged_and_unequal_ones_not() {
    let crossed = |text: &str| {
        replaced(
            text,
            &[("[K1.14, E1.1]", "[K1.@, E1.1]"), ("[K1.24, E2.1]", "[K1.14, E2.1]"), ("K1.@", "K1.24")],
        )
    };
    let alike = POLES.replace("THROW", "24");
    let (marked, _) = mark(&alike, &crossed(&alike));
    assert_eq!((marked.marks, marked.out_of), (11, 11), "{:?}", marked.advice);
    assert_eq!(marked.exchanged.len(), 1);
    // One lamp on the break contact: the lamps would change their parts.
    let unlike = POLES.replace("THROW", "22");
    let answer = replaced(
        &unlike,
        &[("[K1.14, E1.1]", "[K1.@, E1.1]"), ("[K1.22, E2.1]", "[K1.24, E2.1]"), ("K1.@", "K1.12")],
    );
    let (marked, _) = mark(&unlike, &answer);
    assert_eq!(marked.joins, [9, 2, 2]);
}

#[test]
fn a_short_is_dangerous_and_an_empty_answer_is_worth_nothing() {
    let short = format!("{LAMP}links: [[S1.14, G1.V-]]\n");
    let (marked, _) = mark(LAMP, &short);
    assert_eq!(marked.dangerous[0].pair, ["G1.V+", "G1.V-"]);
    assert!(marked.dangerous[0].sentence.contains("shorted"), "{}", marked.dangerous[0].sentence);
    assert_eq!(marked.marks, 6 - 1 - 1, "one wrong join and the short");
    let empty = &LAMP[..LAMP.find("cables:").unwrap()];
    let (marked, [right, ..]) = mark(LAMP, empty);
    assert_eq!((marked.marks, right.len()), (0, 0));
}

#[test]
fn workmanship_costs_marks_and_is_named() {
    let answer = replaced(LAMP, &[("blue: taped, white: taped", "blue: bare, white: [taped, spare]")]);
    let (mark, _) = mark(LAMP, &answer);
    assert_eq!((mark.marks, mark.joins), (4, [6, 0, 0]));
    assert!(mark.faults.iter().all(|fault| fault.rule == "unterminated-core"));
    let job = read(&answer);
    let findings = mark.findings();
    assert_eq!(findings.len(), 2);
    let drawn = bellwire::drawing::draw(&job, &Circuit::of(&job), &findings, None);
    bellwire::output::Proven::new(&drawn, &job).unwrap();
}

#[test]
fn a_class_is_told_in_a_row_each_with_the_commonest_mistakes_first() {
    let job = read(LAMP);
    let circuit = Circuit::of(&job);
    let findings = checks::run(&job, &circuit);
    let model = Model::of(&job, &circuit, &findings);
    let marker = model.marker();
    let wrong = replaced(LAMP, &[("[S1.14, E1.1]", "[S1.13, E1.1]")]);
    let mut class = Class::default();
    class.add("ann", Ok(marker.mark(&read(LAMP))));
    class.add("bob", Ok(marker.mark(&read(&wrong))));
    class.add("cid", Ok(marker.mark(&read(&wrong))));
    class.add("dot", Err("cannot be read".to_owned()));
    let table = class_table(&class);
    let marks: Vec<&Cell> = table.rows.iter().map(|row| &row[1]).collect();
    assert_eq!(marks, [&Cell::Number(6.0), &Cell::Number(4.0), &Cell::Number(4.0), &Cell::Blank]);
    let mistakes = mistakes_table(&class);
    assert_eq!(mistakes.rows[0][0], Cell::Number(2.0));
    assert_eq!(mistakes.rows[0][2], Cell::Text("bob, cid".to_owned()));
}

/// Mistakes that `tests/corpus` has no answer with: the job as it must be, what becomes of it, and what must be told.
const FURTHER: &[(&str, &str, &str, &str)] = &[
    (
        "job: {title: Earthed once}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 1 A, location: Panel}
  H1: {type: siren, volts: 12 V, amps: 0.1 A, location: Hall}
  E1: {type: earth-bar, location: Panel}
  E2: {type: earth-bar, location: Hall}
cables:
  W2: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}
  W4: {type: single-2.5, length: 1 m, cores: {pink: [G1.V-, E1.PE]}}
  W5: {type: single-2.5, length: 1 m, cores: {pink: taped}}
",
        "{pink: taped}",
        "{pink: [H1.V-, E2.PE]}",
        "E2.PE",
    ),
    (
        "job: {title: A fuse for the core}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 10 A}
  F1: {type: fuse, amps: 3 A}
  H1: {type: siren, volts: 12 V, amps: 0.3 A}
cables:
  W1: {type: single-1.5, length: 0.4 m, cores: {red: [G1.V+, F1.1]}}
  W2: {type: bell, length: 3 m, cores: {red: [F1.2, H1.V+], black: [G1.V-, H1.V-]}}
cable_data:
  bell: {cores: [red, black], area: 0.5 mm², amps: 3 A}
",
        "amps: 3 A}\n  H1",
        "amps: 5 A}\n  H1",
        "cable-overcurrent",
    ),
    (
        "job: {title: Two sensors}
devices:
  B1: {type: driver, outputs: {Q: {at: Q, common: V+, drives: high}}}
  B2: {type: driver, outputs: {Q: {at: Q, common: V-, drives: low}}}
cables:
  W1: {type: single-0.5, length: 1 m, cores: {white: taped}}
  W2: {type: single-0.5, length: 1 m, cores: {white: [B1.V-, B2.V-]}}
data_sheets:
  driver: {terminals: [V+, V-, Q]}
",
        "{white: taped}",
        "{white: [B1.Q, B2.Q]}",
        "B2.Q off B1.Q",
    ),
    (
        "job: {title: Kept apart}
devices:
  T1: {type: ac-supply, volts: 110 V, amps: 1 A, location: Loft}
  G1: {type: dc-supply, volts: 12 V, amps: 1 A, location: Panel}
  H1: {type: lamp, volts: 110 V, amps: 0.1 A, location: Hall}
  H2: {type: siren, volts: 12 V, amps: 0.1 A, location: Yard}
cables:
  W1: {type: single-0.75, length: 1 m, cores: {brown: [T1.A, H1.1]}}
  W3: {type: single-0.75, length: 1 m, cores: {grey: [T1.B, H1.2]}}
  W4: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, H2.V+], black: [G1.V-, H2.V-]}}
",
        "location: Loft",
        "location: Panel",
        "DANGEROUS",
    ),
    (
        "job: {title: The lamp on the second supply alone}
devices:
  G1: {type: dc-supply, volts: 24 V, amps: 2 A}
  G2: {type: dc-supply, volts: 24 V, amps: 2 A}
  H1: {type: indicator, volts: 24 V, amps: 20 mA}
  H2: {type: lamp, volts: 24 V, amps: 100 mA}
cables:
  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}
  W2: {type: twin-0.75, length: 1 m, cores: {red: [G2.V+, H2.2], black: [G2.V-, H1.V-]}}
  W4: {type: twin-0.75, length: 2 m, cores: {red: taped, black: [H1.V-, H2.1]}}
",
        "{red: taped, black: [H1.V-, H2.1]}",
        "{red: [H1.V+, H2.1], black: taped}",
        "H2.1 off G1.V+",
    ),
];

#[test]
fn further_mistakes_lose_marks_and_are_named() {
    for (model, old, new, told) in FURTHER {
        let answer = replaced(model, &[(old, new)]);
        let (marked, _) = mark(model, &answer);
        let all: Vec<String> = marked.mistakes().collect();
        assert!(marked.marks < marked.out_of, "{new}: {marked:#?}");
        assert!(all.iter().any(|line| line.contains(told)), "{told}: {all:#?}");
    }
}

/// The core of the alarm cable that is too thin for its fuse may be another one: the mistake is the model's.
#[test]
fn a_fault_of_the_model_on_another_core_of_its_cable_costs_nothing() {
    let model = replaced(LAMP, &[("amps: 1 A}", "amps: 10 A}")]);
    let own = checks::run(&read(&model), &Circuit::of(&read(&model)));
    assert!(own.iter().any(|finding| finding.rule == "cable-overcurrent"), "{own:?}");
    let answer = replaced(
        &model,
        &[(
            "{red: [F1.2, H1.V+], black: [X1, H1.V-], blue: taped, white: taped}",
            "{white: [F1.2, H1.V+], blue: [X1, H1.V-], black: taped, red: taped}",
        )],
    );
    let (mark, _) = mark(&model, &answer);
    assert_eq!((mark.marks, mark.out_of), (6, 6), "{:?}", mark.faults);
}

/// The second lamp's plus was put on 0 V at the strip: W4 red joins the poles, and the cores of the rails are innocent.
#[test]
fn advice_names_the_core_that_makes_the_join() {
    const RAILS: &str = "
job: {title: Rails}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 2 A}
  X1: {type: terminal-strip, ways: 4}
  E1: {type: lamp, volts: 12 V, amps: 0.4 A}
cables:
  W1: {type: single-0.75, cores: {red: [G1.V+, X1.1]}}
  W2: {type: single-0.75, cores: {black: [G1.V-, X1.3]}}
  W3: {type: single-0.75, cores: {black: [X1.4, E1.2]}}
  W4: {type: single-0.75, cores: {red: [X1.2, E1.1]}}
links: [[X1.1, X1.2], [X1.3, X1.4]]
";
    let answer = replaced(RAILS, &[("red: [X1.2, E1.1]", "red: [X1.2, X1.4]")]);
    let (mark, _) = mark(RAILS, &answer);
    let advice: Vec<&str> = mark.advice.iter().map(|pair| pair.sentence.as_str()).collect();
    assert!(
        advice.iter().any(|line| line.starts_with("take ") && line.ends_with("; look at W4 red")),
        "{advice:?}"
    );
}
