//! Jobs spoilt at random go the whole way: nothing stops the program, and every finding has a place.
//!
//! `BELLWIRE_SPOILT=20000 cargo test --test survival` spoils more of them; `tests/fuzz` does it without end.

#[path = "fuzz/through.rs"]
mod through;

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::netlist::read_text;

/// How many of each job are tried.
const EACH: usize = 30;

/// Jobs that are read, checked and drawn fast enough to be tried hundreds of times.
const JOBS: [&str; 8] = [
    "examples/roof-vent.yaml",
    "examples/door-strike.yaml",
    "examples/two-supplies.yaml",
    "examples/three-wire-sensor.yaml",
    "examples/screened-run.yaml",
    "examples/alarm-loop.yaml",
    "tests/jobs/charger-battery.yaml",
    "tests/jobs/ac-strike.yaml",
];

/// Numbers that look random and are the same every time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % most.max(1) as u64).unwrap_or(0)
    }
}

/// The words of a job, with what stands between them as words of their own.
fn words(text: &str) -> Vec<&str> {
    let part = |c: char| c.is_whitespace() || "[]{},:".contains(c);
    let mut words = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let end = rest.find(|c: char| part(c) != part(first)).unwrap_or(rest.len());
        words.push(&rest[..end]);
        rest = &rest[end..];
    }
    words
}

/// The job with a few words put for others of the same kind: most stay job files, few stay right.
fn spoilt(text: &str, dice: &mut Dice) -> String {
    const ODD: [&str; 12] =
        ["0 V", "-1", "1e9 V", "spare", "bare", "~", "NO", "\"\"", "240 V", "999", "ÄÖ \u{202e}x", "[]"];
    let mut all = words(text);
    let inner: Vec<usize> = (0..all.len()).filter(|n| all[*n].starts_with(char::is_alphanumeric)).collect();
    for _ in 0..=dice.below(2) {
        let at = inner[dice.below(inner.len())];
        let dotted = all[at].contains('.');
        let alike: Vec<usize> = inner.iter().copied().filter(|n| all[*n].contains('.') == dotted).collect();
        match dice.below(10) {
            0 => all[at] = ODD[dice.below(ODD.len())],
            1 => all[at] = "",
            2 => all.swap(at, alike[dice.below(alike.len())]),
            _ => all[at] = all[alike[dice.below(alike.len())]],
        }
    }
    all.concat()
}

#[test]
fn spoilt_jobs_go_the_whole_way() {
    let each = std::env::var("BELLWIRE_SPOILT")
        .ok()
        .and_then(|count| count.parse::<usize>().ok())
        .map_or(EACH, |count| count.div_ceil(JOBS.len()));
    let mut jobs = 0;
    for (n, name) in JOBS.iter().enumerate() {
        let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name))
            .unwrap_or_else(|error| panic!("{name}: {error}"));
        let mut dice = Dice(0x5EED_0000 + n as u64);
        for _ in 0..each {
            let job = spoilt(&text, &mut dice);
            let went = catch_unwind(AssertUnwindSafe(|| through::whole_way(job.as_bytes())));
            jobs += usize::from(went.unwrap_or_else(|_| panic!("{name}, spoilt, stops the program:\n{job}")));
        }
    }
    // Had hardly one of them stayed a job, nothing but the reading would have been tried.
    assert!(jobs * 10 > each * JOBS.len(), "only {jobs} of {} were jobs", each * JOBS.len());
}

/// The widest way to the load needs one word's make and break contact closed together; the other goes through so many fuses.
fn long_way(fuses: usize) -> String {
    let devices: String = (0..fuses).map(|n| format!("  F{n}: {{type: fuse, amps: 6 A}}\n")).collect();
    let links: String = (1..fuses).map(|n| format!(", [F{}.2, F{n}.1]", n - 1)).collect();
    format!(
        "job: {{title: A long way round}}
devices:
  G1: {{type: dc-supply, volts: 12 V, amps: 10 A}}
  S1: {{type: two-way}}
  H1: {{type: siren, volts: 12 V, amps: 0.3 A}}
{devices}data_sheets:
  two-way:
    terminals: [1, 2, 3, 4]
    contacts: {{A: {{common: 1, no: 2, by: KEY}}, B: {{common: 3, nc: 4, by: KEY}}}}
links: [[G1.V+, S1.1], [S1.2, S1.3], [G1.V+, F0.1]{links}]
cables:
  W2:
    type: bell
    length: 3 m
    cores: {{red: [F{}.2, H1.V+], blue: [S1.4, H1.V+], black: [G1.V-, H1.V-]}}
cable_data:
  bell: {{cores: [red, blue, black], area: 0.5 mm², amps: 3 A}}
",
        fuses - 1
    )
}

#[test]
fn a_way_through_very_many_parts_is_told_as_not_followed() {
    let told = |fuses| {
        let job = read_text("job.yaml", &long_way(fuses)).job.unwrap_or_else(|| panic!("it is a job"));
        let findings = checks::run(&job, &Circuit::of(&job));
        ["cable-overcurrent", "not-checked"].map(|rule| findings.iter().any(|finding| finding.rule == rule))
    };
    assert_eq!(told(300), [true, false]);
    // On the stack of a test's thread.
    assert_eq!(told(15_000), [false, true]);
}
