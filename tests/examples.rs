//! The jobs under `examples/` and `tests/jobs/`: checked, drawn, read back, and the same bytes every time.

use std::fs;
use std::path::{Path, PathBuf};

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::diagnostic::{Finding, Severity};
use bellwire::drawing;
use bellwire::netlist::{self, Job, Reading};
use bellwire::output::{self, Proven};
use bellwire::schedules::{self, Spots};

/// The one that is meant to be wrong.
const MISTAKES: &str = "mistakes.yaml";

fn jobs(folder: &str) -> Vec<(PathBuf, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let files = fs::read_dir(&folder).map(|entries| entries.filter_map(Result::ok).map(|entry| entry.path()));
    let mut jobs: Vec<(PathBuf, String)> = files
        .into_iter()
        .flatten()
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .filter_map(|path| fs::read_to_string(&path).ok().map(|text| (path, text)))
        .collect();
    jobs.sort();
    jobs
}

fn all() -> Vec<(PathBuf, String)> {
    let mut all = jobs("examples");
    assert_eq!(all.len(), 8, "examples");
    let further = jobs("tests/jobs");
    assert!(further.len() >= 12, "further jobs");
    all.extend(further);
    all
}

fn read(path: &Path, text: &str) -> (Job, Vec<Finding>) {
    let Reading { job: Some(job), findings, .. } = netlist::read_text(&path.display().to_string(), text)
    else {
        panic!("{} cannot be read", path.display())
    };
    let mut found = checks::run(&job, &Circuit::of(&job));
    found.extend(findings);
    (job, found)
}

/// Everything that the program makes of a job: findings, drawing, schedules.
fn made_of(path: &Path, text: &str) -> Vec<(&'static str, Vec<u8>)> {
    let (job, findings) = read(path, text);
    let told: Vec<String> = findings
        .iter()
        .map(|f| format!("{} {} {} {} {:?}", f.severity.word(), f.rule, f.message, f.fix, f.state))
        .collect();
    let drawing = drawing::draw(&job, &Circuit::of(&job), &findings, None);
    let proven = Proven::new(&drawing, &job).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()));
    let circuit = Circuit::of(&job);
    let terminals = schedules::terminals_table(&schedules::terminals(&job, &circuit, &Spots::default()));
    let cables = schedules::cables_table(&schedules::cables(&job, &circuit, &Spots::default()));
    vec![
        ("findings", told.join("\n").into_bytes()),
        ("svg", proven.svg().concat().into_bytes()),
        ("geometry", proven.geometry().into_bytes()),
        ("terminals", output::csv(&terminals).into_bytes()),
        ("cables", output::json(&cables).into_bytes()),
    ]
}

/// The same job in another hand: twice the indent, wide flow lists, comments and blank lines everywhere, CR LF.
fn in_another_hand(text: &str) -> String {
    let mut out = String::from("# written anew\r\n\r\n");
    for line in text.lines() {
        let content = line.trim_start();
        let indent = line.len() - content.len();
        // Commas and brackets part things only in flow collections; elsewhere and in quotes they are text.
        let flow = content.contains(['{', '[']) && !content.contains(['"', '\'', '#']);
        let content = if flow {
            content.replace(", ", " ,   ").replace('{', "{  ").replace('[', "[ ").replace(']', " ]")
        } else {
            content.to_owned()
        };
        out.push_str(&" ".repeat(2 * indent));
        out.push_str(content.trim_end());
        if !content.is_empty() && !content.contains('#') {
            out.push_str("    # as before");
        }
        out.push_str("\r\n");
        if content.ends_with(':') {
            out.push_str("\r\n      # more below\r\n");
        }
    }
    out
}

#[test]
fn a_correct_job_brings_nothing_above_a_note() {
    let mut wrong = Vec::new();
    for (path, text) in all() {
        if path.ends_with(MISTAKES) {
            continue;
        }
        for finding in read(&path, &text).1 {
            if finding.severity > Severity::Note {
                wrong.push(format!("{}: {} {}", path.display(), finding.rule, finding.message));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Each mistake that the example was built around is found, and found once.
#[test]
fn every_mistake_of_the_bad_example_is_found() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(MISTAKES);
    let (_, findings) = read(&path, &fs::read_to_string(&path).unwrap());
    let mut found: Vec<(&str, &str)> = findings
        .iter()
        .filter(|f| f.severity > Severity::Note)
        .map(|f| (f.severity.word(), f.rule))
        .collect();
    found.sort_unstable();
    let mut expected = vec![
        ("danger", "earth-colour"),        // 12 V on the green-yellow core of W11
        ("danger", "unfused-battery"),     // G2
        ("error", "contact-type"),         // B1 on its break contact
        ("error", "cut-aerial"),           // K1:ANT capped
        ("error", "open-return"),          // H2 without its black core
        ("error", "reversed-polarity"),    // P1
        ("error", "short-circuit"),        // S1 across the supply
        ("error", "unterminated-core"),    // W5 white, far end
        ("error", "unterminated-core"),    // W5 blue
        ("error", "voltage-on-dry-input"), // A1:START
        ("error", "wrong-voltage"),        // H1
        ("warning", "unconnected-device"), // B3
        ("warning", "unsafe-lead"),        // K1:COM2
        ("warning", "unsafe-lead"),        // K1:NO2
        ("warning", "unsuppressed-coil"),  // Y1
    ];
    // A rule that this version does not have yet cannot speak.
    expected.retain(|(_, rule)| checks::rule(rule).is_some());
    expected.sort_unstable();
    assert_eq!(found, expected);
}

/// Drawing a job reads it back from its own lines. Again, and from another hand, it comes out the same.
#[test]
fn every_job_is_drawn_reads_back_and_gives_the_same_bytes() {
    for (path, text) in all() {
        let other = in_another_hand(&text);
        assert_ne!(other, text);
        let made = made_of(&path, &text);
        for (run, again) in [("again", made_of(&path, &text)), ("in another hand", made_of(&path, &other))] {
            for ((what, first), (_, second)) in made.iter().zip(&again) {
                assert!(first == second, "{}: {what} differs {run}", path.display());
            }
        }
    }
}
