//! PDF and XLSX as far as Rust can see into them; `tests/outside/documents.py` opens them with programs from outside.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::fs;
use std::path::Path;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::documents;
use bellwire::drawing::{self, Titled};
use bellwire::netlist::{self, Job};
use bellwire::output::{self, About, Proven};
use bellwire::scene::{Group, Shape, Sheet};

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.findings))
}

fn example(name: &str) -> Job {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
    read(&fs::read_to_string(path).unwrap())
}

fn pdf(job: &Job) -> Vec<u8> {
    let circuit = Circuit::of(job);
    let drawing = drawing::draw(job, &circuit, &checks::run(job, &circuit), None);
    Proven::new(&drawing, job).unwrap().pdf(&About::of(&job.info, "Connection diagram")).unwrap()
}

#[test]
fn a_pdf_has_the_same_bytes_twice_and_no_date_but_the_jobs() {
    let job = example("roof-vent.yaml");
    let one = pdf(&job);
    assert!(one.starts_with(b"%PDF-1."));
    assert_eq!(one, pdf(&job));
    let text = String::from_utf8_lossy(&one);
    assert!(text.contains("pdfaid") && text.contains("2026-03-14"), "no PDF/A mark or date");
    let mut undated = job.clone();
    undated.info.date = None;
    assert!(String::from_utf8_lossy(&pdf(&undated)).contains("1980-01-01"));
}

/// A letter that the font lacks, control characters (which no job file brings in) and markup in every text field end in no
/// failure.
#[test]
fn odd_texts_do_not_break_a_pdf() {
    let mut job = read(
        "job: {title: \"<script>中 & \\\"quotes\\\" \\u200b\", site: '中', drawn_by: '''x'''}
devices:
  '<b>1': {type: dc-supply, volts: 12 V, amps: 1 A, name: \"a\\u202eb ⏚\"}
  E1: {type: lamp, volts: 12 V, amps: 0.1 A}
cables:
  W1: {type: twin-0.75, length: 2 m, cores: {red: ['<b>1.V+', E1.1], black: ['<b>1.V-', E1.2]}}
",
    );
    job.info.title.push('\u{7}');
    assert!(pdf(&job).len() > 10_000);
}

fn texts(sheet: &Sheet) -> String {
    let mut all = String::new();
    let mut groups: Vec<&Group> = sheet.content.iter().collect();
    while let Some(group) = groups.pop() {
        groups.extend(group.groups());
        for shape in group.shapes() {
            if let Shape::Text(text) = shape {
                all.push_str(&text.text);
                all.push(' ');
            }
        }
    }
    all
}

/// Every row of a document is on one of its sheets, nothing stands outside the frame, and a box waits for each reading.
#[test]
fn a_test_sheet_on_paper() {
    let job = example("alarm-loop.yaml");
    let circuit = Circuit::of(&job);
    let findings = checks::run(&job, &circuit);
    let tests = documents::tests(&job, &circuit, &findings);
    let table = documents::tests_table(&tests);
    let sheets =
        drawing::table_sheets(&job, &circuit, &findings, &[Titled { kind: "Test sheet", table: &table }]);
    assert!(sheets.len() > 1);
    let all: String = sheets.iter().map(texts).collect();
    for test in &tests {
        for word in test.at.split_whitespace() {
            assert!(all.contains(word), "{word} of {}", test.at);
        }
    }
    for sheet in &sheets {
        assert_eq!(sheet.size, (297.0, 210.0));
        let mut groups: Vec<&Group> = sheet.content.iter().collect();
        while let Some(group) = groups.pop() {
            groups.extend(group.groups());
            for bounds in group.shapes().filter_map(Shape::bounds) {
                let inside = bounds.x >= -0.1 && bounds.right() <= 297.1 && bounds.bottom() <= 210.1;
                assert!(inside && bounds.y >= -0.1, "{bounds:?}");
            }
        }
    }
    let about = About::of(&job.info, "Test sheet");
    let bytes = output::pdf(&sheets.iter().collect::<Vec<_>>(), &about).unwrap();
    assert_eq!(bytes, output::pdf(&sheets.iter().collect::<Vec<_>>(), &about).unwrap());
    let book = output::xlsx(&[("Test sheet", &table)], &about).unwrap();
    assert!(book.starts_with(b"PK"));
    assert_eq!(book, output::xlsx(&[("Test sheet", &table)], &about).unwrap());
}
