//! Reading job files: what is right is read as written, what is wrong is reported with its place.

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
