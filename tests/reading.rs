//! Reading job files: what is right is read as written, what is wrong is reported with its place.

#![allow(clippy::expect_used, reason = "a test may stop")]

use bellwire::netlist::{Reading, read_text};

const ROOF_VENT: &str = include_str!("reading/roof-vent.yaml");

/// Every finding as `line:column severity message | fix`.
fn told(reading: &Reading) -> Vec<String> {
    let tell = |finding: &bellwire::diagnostic::Finding| {
        let at: Vec<String> = finding
            .labels
            .iter()
            .map(|label| {
                let place = reading.sources.locate(label.place);
                format!("{}:{}", place.line, place.column)
            })
            .collect();
        format!("{} {} {} | {}", at.join(" "), finding.severity.word(), finding.message, finding.fix)
    };
    reading.findings.iter().map(tell).collect()
}

#[test]
fn the_whole_job_is_read() {
    let reading = read_text("roof-vent.yaml", ROOF_VENT);
    assert_eq!(told(&reading), Vec::<String>::new());
    let job = reading.job.expect("a job");
    assert_eq!(job.devices.len(), 6);
    assert_eq!(job.cores.len(), 10);
    assert_eq!(job.cause_and_effect.len(), 3);
}

/// Every type that the program ships is read without a fault by a device or cable that bears it.
#[test]
fn every_shipped_type_is_in_order() {
    for name in bellwire::library::device_types() {
        let ways = if name == "terminal-strip" { ", ways: 4" } else { "" };
        let text = format!("job: {{title: x}}\ndevices:\n  D1: {{type: {name}{ways}}}\n");
        assert_eq!(told(&read_text("x.yaml", &text)), Vec::<String>::new(), "{name}");
    }
    for name in bellwire::library::cable_types() {
        let name = name.replace("-S", "-0.75");
        let cores = if name.starts_with("single") { ", cores: {red: taped}" } else { "" };
        let text = format!("job: {{title: x}}\ncables:\n  W1: {{type: {name}{cores}}}\n");
        assert_eq!(told(&read_text("x.yaml", &text)), Vec::<String>::new(), "{name}");
    }
}

/// One case of `faults.txt`: a title, a job file and what is to be told about it.
struct Case<'c> {
    title: &'c str,
    text: String,
    told: Vec<&'c str>,
}

/// `faults.txt` shows tabs and control characters as pictures.
fn cases(all: &str) -> Vec<Case<'_>> {
    let mut cases = Vec::new();
    for block in all.split("==== ").skip(1) {
        let (title, rest) = block.split_once('\n').expect("a title");
        let (text, told) = rest.split_once("----\n").expect("a line of dashes");
        let text = text.replace('→', "\t").replace('␀', "\0").replace('␇', "\u{7}");
        cases.push(Case { title, text, told: told.lines().collect() });
    }
    cases
}

/// With `BELLWIRE_BLESS` set the expected lines are written anew, to be read over before they are kept.
#[test]
fn every_fault_is_told_with_its_place_and_a_fix() {
    const FILE: &str = "tests/reading/faults.txt";
    let all = std::fs::read_to_string(FILE).expect("the cases");
    let mut fresh = String::new();
    let mut wrong = Vec::new();
    for case in cases(&all) {
        let reading = read_text("job.yaml", &case.text);
        let now = told(&reading);
        let shown = case.text.replace('\t', "→").replace('\0', "␀").replace('\u{7}', "␇");
        fresh.push_str(&format!("==== {}\n{shown}----\n", case.title));
        for line in &now {
            fresh.push_str(line);
            fresh.push('\n');
        }
        let unreadable = reading.findings.iter().any(|f| f.rule == "unreadable");
        assert_eq!(reading.job.is_none(), unreadable, "{}", case.title);
        assert!(reading.findings.iter().all(|f| !f.fix.is_empty()), "{}", case.title);
        if now != case.told {
            wrong.push(format!("{}\n  now  {now:#?}\n  then {:#?}", case.title, case.told));
        }
    }
    if std::env::var_os("BELLWIRE_BLESS").is_some() {
        std::fs::write(FILE, fresh).expect("to write the cases");
    } else {
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}
