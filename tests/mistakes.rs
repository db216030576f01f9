//! The mistakes of the trade in `docs/mistakes.md`: each row names the rule that finds it and a job that shows it found.
//!
//! `tests/rules.rs` and `tests/corpus.rs` hold that the jobs bring exactly what they say; here the rows are held against
//! the jobs, and against what the rules find in them.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use std::fs;
use std::path::Path;

use bellwire::circuit::Circuit;
use bellwire::{checks, netlist};

fn rows(page: &str) -> Vec<[String; 4]> {
    let cells = |line: &str| -> Vec<String> {
        line.trim_matches('|').split('|').map(|cell| cell.trim().trim_matches('`').to_owned()).collect()
    };
    page.lines()
        .filter(|line| line.starts_with("| ") && !line.starts_with("| mistake |"))
        .map(|line| cells(line).try_into().expect("a row has four cells"))
        .collect()
}

#[test]
fn every_mistake_is_found_in_the_job_that_its_row_names() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = fs::read_to_string(root.join("docs/mistakes.md")).unwrap();
    let rows = rows(&page);
    assert!(rows.len() >= 42, "only {} rows", rows.len());
    let mut titles: Vec<&String> = rows.iter().map(|row| &row[0]).collect();
    titles.sort();
    titles.dedup();
    assert_eq!(titles.len(), rows.len(), "a mistake stands twice");
    for [mistake, rule, job, _] in &rows {
        assert!(checks::rule(rule).is_some(), "{mistake}: there is no rule {rule}");
        let text = fs::read_to_string(root.join(job)).unwrap_or_else(|_| panic!("{mistake}: no {job}"));
        assert!(shows(&text, rule), "{mistake}: {job} does not bring {rule}");
    }
}

/// Whether one of a fixture's jobs, or one of a wiring's mistakes, brings a rule.
fn shows(text: &str, rule: &str) -> bool {
    if text.contains("# mistake: ") {
        return text
            .lines()
            .filter_map(|line| line.strip_prefix("#   brings: "))
            .any(|brings| brings.split(", ").any(|brought| brought == rule));
    }
    text.split("---\n").any(|job| {
        let reading = netlist::read_text("job.yaml", job);
        let mut findings = reading.findings;
        if let Some(job) = &reading.job {
            findings.extend(checks::run(job, &Circuit::of(job)));
        }
        findings.iter().any(|finding| finding.rule == rule)
    })
}
