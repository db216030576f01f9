//! Wirings invented to fool the checker: right ones that look wrong, wrong ones that look right, odd names and odd values.
//!
//! Above each job of `tests/adversary/` stands what is electrically right, worked out by hand before the program saw it,
//! and the whole list of findings, notes included, that the job must bring:
//!
//! ```text
//! # finds: error reversed-polarity devices.H1
//! # finds: nothing
//! # cure: move W3 blue from K1:A2 to K1:A1
//! ```
//!
//! A line gives severity, rule and the finding's first place; the order is the order in which they are told. `cure:` is what a
//! finding has to say of what to change.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use std::fs;
use std::path::{Path, PathBuf};

use bellwire::circuit::Circuit;
use bellwire::diagnostic::Finding;
use bellwire::{checks, netlist};

#[test]
fn each_wiring_brings_just_the_findings_above_it() {
    let mut wrong = Vec::new();
    let files = files();
    assert!(files.len() >= 40, "only {} wirings", files.len());
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        let (found, told) = findings(&text);
        let expected = expected(&text);
        let name = file.file_name().unwrap().display();
        for cure in text.lines().filter_map(|line| line.strip_prefix("# cure: ")) {
            if !told.iter().any(|told| told.ends_with(&format!("Fix: {cure}"))) {
                wrong.push(format!("{name}\n    no such cure: {cure}\n{}", told.join("\n")));
            }
        }
        if found != expected {
            wrong.push(format!(
                "{name}\n    expected {expected:#?}\n    found    {found:#?}\n{}",
                told.join("\n")
            ));
        }
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn the_findings_come_in_the_same_order_each_time() {
    for file in files() {
        let text = fs::read_to_string(&file).unwrap();
        assert_eq!(findings(&text).1, findings(&text).1, "{}", file.display());
    }
}

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/adversary");
    let mut files: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

fn expected(text: &str) -> Vec<String> {
    let told: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("# finds: ")).collect();
    assert!(!told.is_empty(), "a wiring says what it brings:\n{text}");
    told.into_iter().filter(|line| *line != "nothing").map(str::to_owned).collect()
}

/// `severity rule path` of each finding, and its sentences for the report of a failure.
fn findings(text: &str) -> (Vec<String>, Vec<String>) {
    let reading = netlist::read_text("job.yaml", text);
    let findings: Vec<Finding> = match &reading.job {
        Some(job) => checks::run(job, &Circuit::of(job)),
        None => reading.findings,
    };
    let short = findings.iter().map(|finding| {
        let path = finding.labels.first().map(|label| reading.sources.locate(label.place).path);
        format!("{} {} {}", finding.severity.word(), finding.rule, path.unwrap_or_default())
    });
    let long = findings.iter().map(|finding| {
        let state = finding.state.as_ref().map_or("every state", |state| state.as_str());
        format!("      {}: {} [{state}] Fix: {}", finding.rule, finding.message, finding.fix)
    });
    (short.collect(), long.collect())
}
