//! The settings record, held against the wiring.

use std::fs;
use std::path::Path;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::documents::{self, Agrees};
use bellwire::netlist;

/// `K1|IN1|contact|normally-open|agrees` for each setting of a job.
fn told(text: &str) -> Vec<(String, Agrees, String)> {
    let reading = netlist::read_text("job.yaml", text);
    let Some(job) = reading.job else { panic!("{:#?}", reading.findings) };
    let circuit = Circuit::of(&job);
    documents::settings(&job, &circuit, &checks::run(&job, &circuit))
        .into_iter()
        .map(|row| {
            (format!("{} {} {} {}", row.device, row.entry, row.setting, row.value), row.agrees, row.checked)
        })
        .collect()
}

fn example(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
    fs::read_to_string(&path).unwrap_or_else(|why| panic!("{}: {why}", path.display()))
}

#[test]
fn the_roof_vent_settings_agree() {
    let rows = told(&example("roof-vent.yaml"));
    let expected = [
        ("K1 OUT1 pulse 1 s", "A1.START takes 0.2 s to 2 s"),
        ("K1 IN1 contact normally-open", "not active at rest"),
        ("K1 IN1 drives nothing", "nothing follows K1.IN1"),
    ];
    let expected = expected.map(|(what, why)| (what.to_owned(), Agrees::Yes, why.to_owned()));
    assert_eq!(rows, expected);
}

#[test]
fn what_the_wiring_contradicts_is_told() {
    let text = example("roof-vent.yaml");
    let broken = told(&text.replace("[X1, B1.NO]", "[X1, B1.NC]"));
    assert_eq!((broken[1].1, broken[1].2.as_str()), (Agrees::No, "active at rest"));
    let long = told(&text.replace("{pulse: 1 s}", "{pulse: 5 s}"));
    assert_eq!(long[0].1, Agrees::No, "{long:?}");
    assert!(told(&text.replace("pulse: 1 s", "colour: red")).iter().any(|row| row.1 == Agrees::NotChecked));
}

#[test]
fn terminators_are_held_against_the_line() {
    let text = example("screened-run.yaml");
    assert!(told(&text).iter().filter(|row| row.0.contains("terminator")).all(|row| row.1 == Agrees::Yes));
    let third = told(&text.replace("address: 11, terminator: off", "address: 11, terminator: on"));
    assert!(
        third.iter().filter(|row| row.0.contains("terminator")).any(|row| row.1 != Agrees::Yes),
        "{third:?}"
    );
}
