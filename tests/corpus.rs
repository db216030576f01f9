//! A textbook of wirings: each file of `tests/corpus/` is a correct job that brings no warning or worse, with the single
//! mistakes that can be made in it written above it. Each mistake brings exactly the findings that its comment names.
//!
//! A mistake is a comment of this form; the lines after `-` are found once in the job and become those after `+`
//! (`\n` breaks the line):
//!
//! ```text
//! # mistake: the strike's return is left off
//! #   - black: [Y1.2, X1]
//! #   + black: [Y1.2, taped]
//! #   brings: open-return
//! ```
//!
//! `brings: nothing, because …` says of a change that it is none that the program could find, and why.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout, reason = "a test may fail loudly")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use bellwire::circuit::Circuit;
use bellwire::diagnostic::{Finding, Severity};
use bellwire::documents::marking::Model;
use bellwire::{checks, netlist};

/// One mistake of a file.
struct Mistake {
    title: String,
    edits: Vec<(String, String)>,
    brings: Vec<String>,
}

#[test]
fn correct_wirings_bring_nothing_and_each_mistake_its_own_finding() {
    let mut wrong = Vec::new();
    let mut correct = 0;
    let mut mistakes = 0;
    let mut shown = BTreeSet::new();
    for file in files() {
        let name = file.file_name().unwrap().display().to_string();
        let text = fs::read_to_string(&file).unwrap();
        correct += 1;
        compare(&mut wrong, &name, &text, &[]);
        let listed = mistakes_of(&text);
        if listed.len() < 3 {
            wrong.push(format!("{name}: only {} mistakes", listed.len()));
        }
        if !text.starts_with("# ") {
            wrong.push(format!("{name}: nothing says what the wiring is for"));
        }
        for mistake in listed {
            mistakes += 1;
            shown.extend(mistake.brings.iter().cloned());
            let case = format!("{name}: {}", mistake.title);
            match edited(&text, &mistake.edits) {
                Ok(text) => compare(&mut wrong, &case, &text, &mistake.brings),
                Err(why) => wrong.push(format!("{case}\n    {why}")),
            }
        }
    }
    println!(
        "{correct} correct wirings, {mistakes} mistakes of {} rules, {} wrong",
        shown.len(),
        wrong.len()
    );
    assert!(correct >= 60, "{correct} wirings");
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}

/// The correct wiring as a model, each mistake as a trainee's answer: it loses marks, and is told.
#[test]
fn each_mistake_as_an_answer_loses_marks_and_is_named() {
    let mut wrong = Vec::new();
    let mut named: BTreeSet<String> = BTreeSet::new();
    let mut shorted = 0;
    for file in files() {
        let name = file.file_name().unwrap().display().to_string();
        let text = fs::read_to_string(&file).unwrap();
        let Some(job) = netlist::read_text("job.yaml", &text).job else { continue };
        let circuit = Circuit::of(&job);
        let findings = checks::run(&job, &circuit);
        let model = Model::of(&job, &circuit, &findings);
        let marker = model.marker();
        for mistake in mistakes_of(&text).iter().filter(|mistake| !mistake.brings.is_empty()) {
            let text = edited(&text, &mistake.edits).unwrap();
            let Some(answer) = netlist::read_text("job.yaml", &text).job else {
                // What cannot be read is told by the reader, and earns nothing.
                named.extend(mistake.brings.iter().cloned());
                continue;
            };
            let mark = marker.mark(&answer);
            let told: Vec<String> = mark.mistakes().collect();
            // Which end of a core is written first is how it was drawn, and does not count.
            let drawn = mistake.brings == ["core-direction"];
            if !drawn && (mark.marks >= mark.out_of || told.is_empty()) {
                wrong.push(format!("{name}: {}: {} of {}", mistake.title, mark.marks, mark.out_of));
            }
            named.extend(mistake.brings.iter().cloned());
            if mistake.brings.iter().any(|rule| rule == "short-circuit") {
                shorted += 1;
                let dangerous = mark.dangerous.iter().any(|danger| danger.sentence.contains("shorted"));
                if !dangerous {
                    wrong.push(format!("{name}: {}: not told as dangerous", mistake.title));
                }
            }
        }
    }
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/mistakes.md");
    let page = fs::read_to_string(page).unwrap();
    let rules =
        page.lines().filter_map(|line| line.split(" | ").nth(1)?.strip_prefix('`')?.strip_suffix('`'));
    let unmarked: Vec<&str> = rules.filter(|rule| !named.contains(*rule)).collect();
    println!("{} rules marked, {shorted} shorts; not in any answer: {unmarked:?}", named.len());
    // A missing figure is a note, and no trainee's mistake; `tests/marking.rs` has answers with the others.
    let elsewhere =
        ["earthed-twice", "cable-overcurrent", "drivers-joined", "mixed-voltages", "back-feed", "unreadable"];
    assert!(unmarked.iter().all(|rule| elsewhere.contains(rule) || *rule == "not-checked"), "{unmarked:?}");
    assert!(shorted > 0);
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .collect();
    files.sort();
    files
}

fn mistakes_of(text: &str) -> Vec<Mistake> {
    let mut found: Vec<Mistake> = Vec::new();
    for line in text.lines() {
        let Some(comment) = line.strip_prefix('#') else { continue };
        let comment = comment.trim();
        if let Some(title) = comment.strip_prefix("mistake: ") {
            found.push(Mistake { title: title.into(), edits: Vec::new(), brings: Vec::new() });
        } else if let Some(mistake) = found.last_mut() {
            if let Some(old) = comment.strip_prefix("- ") {
                mistake.edits.push((old.into(), String::new()));
            } else if let Some(new) = comment.strip_prefix("+ ") {
                mistake.edits.last_mut().expect("`+` comes after `-`").1 = new.replace("\\n", "\n");
            } else if let Some(brings) = comment.strip_prefix("brings: ") {
                let nothing = brings.starts_with("nothing");
                let rules = brings.split(',').map(|rule| rule.trim().to_owned());
                mistake.brings = if nothing { Vec::new() } else { rules.collect() };
            }
        }
    }
    found
}

/// The job with the edits made, its comments of mistakes taken off so that they cannot be hit.
fn edited(text: &str, edits: &[(String, String)]) -> Result<String, String> {
    let mut job: String =
        text.lines().filter(|line| !line.starts_with('#')).fold(String::new(), |mut job, line| {
            job.push_str(line);
            job.push('\n');
            job
        });
    let mut marks = Vec::new();
    for (number, (old, new)) in edits.iter().enumerate() {
        let places = job.matches(old.as_str()).count();
        if places != 1 {
            return Err(format!("`{old}` stands {places} times in the job"));
        }
        let mark = format!("\u{1}{number}\u{1}");
        job = job.replacen(old.as_str(), &mark, 1);
        marks.push((mark, new));
    }
    for (mark, new) in marks {
        job = job.replacen(&mark, new, 1);
    }
    Ok(job)
}

fn compare(wrong: &mut Vec<String>, case: &str, text: &str, expected: &[String]) {
    let reading = netlist::read_text("job.yaml", text);
    let findings: Vec<Finding> = match &reading.job {
        Some(job) => checks::run(job, &Circuit::of(job)),
        None => reading.findings,
    };
    let mut rules: Vec<String> = findings
        .iter()
        .filter(|finding| finding.severity > Severity::Note)
        .map(|finding| finding.rule.to_owned())
        .collect();
    rules.sort();
    let mut expected = expected.to_vec();
    expected.sort();
    if rules != expected {
        let mut report = format!("{case}\n    expected {expected:?}\n    found    {rules:?}");
        for finding in findings.iter().filter(|finding| finding.severity > Severity::Note) {
            report.push_str(&format!("\n      {}: {}", finding.rule, finding.message));
            if let Some(state) = &finding.state {
                report.push_str(&format!(" ({state})"));
            }
        }
        wrong.push(report);
    }
}
