//! Which findings one job has and another has not.

use std::collections::BTreeMap;

use crate::diagnostic::{Finding, Severity, Subject};
use crate::netlist::{CableId, CoreId, DeviceId, Job, TerminalId};

/// What a finding is about, by name, so that two jobs can be compared.
type Key = (&'static str, Severity, Vec<String>);

/// Which cores of two jobs are the same.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Cores {
    /// Those of one name.
    OfOneName,
    /// Any two of a cable.
    OfOneCable,
}

/// The findings of `job` that `other` has not: alike are those of one rule and severity about things of the same names. `name` turns
/// a name in `other` into the one that `job` uses. Accepted findings count on neither side.
#[must_use]
pub fn gained<'a>(
    (job, findings): (&Job, &'a [Finding]),
    (other, others): (&Job, &[Finding]),
    name: &dyn Fn(&str) -> String,
    cores: Cores,
) -> Vec<&'a Finding> {
    let mut known: BTreeMap<Key, usize> = BTreeMap::new();
    for finding in others.iter().filter(|finding| finding.accepted.is_none()) {
        *known.entry(key(other, finding, name, cores)).or_default() += 1;
    }
    let as_is = |text: &str| text.to_owned();
    let fresh = findings.iter().filter(|finding| {
        finding.accepted.is_none()
            && match known.get_mut(&key(job, finding, &as_is, cores)) {
                Some(left) if *left > 0 => {
                    *left -= 1;
                    false
                }
                _ => true,
            }
    });
    fresh.collect()
}

fn key(job: &Job, finding: &Finding, name: &dyn Fn(&str) -> String, cores: Cores) -> Key {
    let mut about: Vec<String> = finding.subjects.iter().map(|s| subject(job, *s, name, cores)).collect();
    about.sort();
    (finding.rule, finding.severity, about)
}

/// What a subject is called: `K1`, `K1.IN1`, `W2`, `W2 red`.
fn subject(job: &Job, subject: Subject, name: &dyn Fn(&str) -> String, cores: Cores) -> String {
    match subject {
        Subject::Device(i) => name(&job.device(DeviceId(i)).name),
        Subject::Terminal(i) => {
            let terminal = job.terminal(TerminalId(i));
            format!("{}.{}", name(&job.device(terminal.device).name), terminal.name)
        }
        Subject::Cable(i) => name(&job.cable(CableId(i)).name),
        Subject::Core(i) => {
            let core = job.core(CoreId(i));
            let cable = name(&job.cable(core.cable).name);
            match cores {
                Cores::OfOneName => format!("{cable} {}", core.name),
                Cores::OfOneCable => cable,
            }
        }
    }
}
