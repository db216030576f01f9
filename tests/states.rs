//! A state is told by what somebody or something moves, and by no more than tells it from all others.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use bellwire::circuit::{Circuit, MoverId, State};
use bellwire::netlist::{self, Job};

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.findings))
}

/// All that can be reached.
fn states(circuit: &Circuit) -> (Vec<State>, bool) {
    let all: Vec<MoverId> = (0..).map(MoverId).take(circuit.movers().len()).collect();
    circuit.states(&all)
}

/// How all reachable states of a job are told.
fn told(text: &str) -> Vec<String> {
    let job = read(text);
    let circuit = Circuit::of(&job);
    states(&circuit).0.iter().map(|state| circuit.words(state)).collect()
}

const HEAD: &str = "
job: {title: Pump}
devices:
  G1: {type: dc-supply, volts: 24 V, amps: 2 A}
  S1: {type: push-button-no}
  K1: {type: relay-2-pole, volts: 24 V, amps: 40 mA}
";

#[test]
fn a_relay_that_follows_a_button_is_not_named() {
    let told =
        told(&format!("{HEAD}links: [[G1.V+, S1.13], [S1.14, K1.A1], [K1.A2, G1.V-], [G1.V+, K1.11]]\n"));
    assert_eq!(told, ["at rest", "with S1 operated"]);
}

#[test]
fn a_relay_that_holds_itself_is_named_once_the_button_is_let_go() {
    let told = told(&format!(
        "{HEAD}links: [[G1.V+, S1.13], [S1.14, K1.A1], [K1.A2, G1.V-], [G1.V+, K1.11], [K1.14, K1.A1]]\n"
    ));
    assert_eq!(told, ["at rest", "with S1 operated", "with K1 operated"]);
}

#[test]
fn of_two_relays_that_hold_each_other_off_the_one_that_was_first_is_named() {
    let mut told = told(&format!(
        "{HEAD}  S2: {{type: push-button-no}}
  K2: {{type: relay-2-pole, volts: 24 V, amps: 40 mA}}
links: [[G1.V+, S1.13], [S1.14, K2.11], [K2.12, K1.A1], [K1.A2, G1.V-], [G1.V+, S2.13], [S2.14, K1.11],
  [K1.12, K2.A1], [K2.A2, G1.V-]]
"
    ));
    told.sort();
    assert_eq!(
        told,
        [
            "at rest",
            "with S1 operated",
            "with S1 operated, K1 operated and S2 operated",
            "with S1 operated, S2 operated and K2 operated",
            "with S2 operated",
        ]
    );
}

#[test]
fn no_two_states_of_a_job_are_told_alike_and_fewer_words_do() {
    let (mut told, mut shorter) = (0, 0);
    for folder in ["examples", "tests/jobs", "tests/corpus"] {
        for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|ending| ending != "yaml") {
                continue;
            }
            let Some(job) = netlist::read_text("job.yaml", &fs::read_to_string(&path).unwrap()).job else {
                continue;
            };
            let circuit = Circuit::of(&job);
            let (states, all) = states(&circuit);
            let mut by_words: BTreeMap<String, &State> = BTreeMap::new();
            for state in states.iter().filter(|state| all && state.moved().len() < 6) {
                let words = circuit.words(state);
                told += 1;
                shorter += usize::from(words.matches("operated").count() < state.moved().len());
                if let Some(other) = by_words.insert(words.clone(), state) {
                    let moved = |state: &State| -> Vec<String> {
                        let name = |m: &MoverId| circuit.movers()[m.index()].name.to_string();
                        state.moved().iter().map(name).collect()
                    };
                    panic!("{}: {words} is {:?} and {:?}", path.display(), moved(other), moved(state));
                }
            }
        }
    }
    assert!(told > 500 && shorter > 50, "{told} states were told, {shorter} without what follows");
}
