//! The whole way of a job file, for whatever bytes somebody hands in.

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::diagnostic::{self, Finding};
use bellwire::drawing;
use bellwire::netlist;
use bellwire::output::Proven;
use bellwire::source::Sources;

/// Reads, checks, lays out, draws and reads back. True if the bytes were a job.
///
/// # Panics
/// If a finding has no place, or the drawing does not say what the job says: the program is at fault.
pub fn whole_way(bytes: &[u8]) -> bool {
    let reading =
        netlist::read("job.yaml", bytes.to_vec(), &mut |_| Err("there are no other files here".to_owned()));
    placed(&reading.findings, &reading.sources);
    let Some(job) = reading.job else {
        assert!(!reading.findings.is_empty(), "it is no job, and nothing says why");
        return false;
    };
    let circuit = Circuit::of(&job);
    let findings = checks::run(&job, &circuit);
    placed(&findings, &reading.sources);
    let drawing = drawing::draw(&job, &circuit, &findings, None);
    if let Err(fault) = Proven::new(&drawing, &job) {
        panic!("{fault}");
    }
    true
}

/// Every finding has a sentence, and a place that lies in its file; both renderings show it.
fn placed(findings: &[Finding], sources: &Sources) {
    for finding in findings {
        assert!(!finding.message.words().is_empty() && !finding.labels.is_empty(), "{finding:?}");
        for label in &finding.labels {
            let at = sources.locate(label.place);
            assert!(at.line >= 1 && at.column >= 1, "{finding:?}");
            assert!(
                sources.file(label.place.file()).text.get(label.place.bytes()).is_some(),
                "outside its file: {finding:?}"
            );
        }
    }
    let shown = diagnostic::human("job.yaml", findings, sources, false);
    assert!(findings.iter().all(|finding| shown.contains(finding.rule)), "{shown}");
}
