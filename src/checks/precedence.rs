//! One mistake, one finding.

use std::collections::{BTreeMap, BTreeSet};

use crate::diagnostic::{Finding, Severity, Subject};
use crate::netlist::{DeviceId, Job, PartId, TerminalId};

use super::report::{Draft, Drafts};

/// Of each group a part gets only the first that holds.
const GROUPS: &[&[&str]] = &[
    &["reversed-polarity", "wrong-voltage", "open-return", "unpowered", "volt-drop"],
    &["voltage-on-dry-input", "no-common", "sink-source-mismatch", "contact-type", "floating-input"],
    &["reversed-polarity", "two-wire-leak"],
];

/// Leaves out what follows from a mistake that is told already. A danger is never left out.
pub(super) fn one_a_mistake(job: &Job, drafts: Drafts) -> Vec<Finding> {
    let lone: BTreeSet<DeviceId> = drafts
        .iter()
        .filter(|draft| draft.finding.rule == "unconnected-device")
        .filter_map(|draft| device(job, *draft.finding.subjects.first()?))
        .collect();
    let of_those = |told: &dyn Fn(&Finding) -> bool| -> BTreeSet<Subject> {
        let findings = drafts.iter().map(|draft| &draft.finding).filter(|finding| told(finding));
        findings.flat_map(|finding| finding.subjects.iter().copied()).collect()
    };
    let faulty = of_those(&|f| f.severity >= Severity::Error && f.rule != "effect-not-met");
    let together = of_those(&|f| f.rule == "exclusive-together");
    let mut of_part: BTreeMap<PartId, Vec<&'static str>> = BTreeMap::new();
    for draft in &drafts {
        for &part in &draft.parts {
            of_part.entry(part).or_default().push(draft.finding.rule);
        }
    }
    let exchanges: BTreeSet<&str> = drafts
        .iter()
        .filter(|draft| !draft.follows && draft.finding.severity > Severity::Warning)
        .map(|draft| &*draft.finding.fix)
        .collect();
    // The colours come right with the exchange that cures an error.
    let comes_right = |finding: &Finding| finding.rule == "pole-colour" && exchanges.contains(&*finding.fix);
    let kept: Vec<bool> = drafts
        .iter()
        .map(|draft| {
            let finding = &draft.finding;
            finding.severity == Severity::Danger
                || !(draft.follows
                    || comes_right(finding)
                    || follows_in_group(draft, &of_part)
                    || stands_on_lone_device(job, finding, &lone)
                    || finding.rule == "effect-not-met"
                        && finding
                            .subjects
                            .iter()
                            .any(|s| faulty.contains(s) || draft.unwanted && together.contains(s)))
        })
        .collect();
    drafts.into_iter().zip(kept).filter(|(_, kept)| *kept).map(|(draft, _)| draft.finding).collect()
}

fn follows_in_group(draft: &Draft, of_part: &BTreeMap<PartId, Vec<&'static str>>) -> bool {
    let rule = draft.finding.rule;
    let before = GROUPS.iter().find_map(|group| {
        let at = group.iter().position(|name| *name == rule)?;
        (at > 0).then(|| &group[..at])
    });
    let Some(before) = before else { return false };
    let told = |part| of_part.get(part).is_some_and(|rules| rules.iter().any(|rule| before.contains(rule)));
    !draft.parts.is_empty() && draft.parts.iter().all(told)
}

fn stands_on_lone_device(job: &Job, finding: &Finding, lone: &BTreeSet<DeviceId>) -> bool {
    finding.rule != "unconnected-device"
        && finding
            .subjects
            .first()
            .and_then(|subject| device(job, *subject))
            .is_some_and(|d| lone.contains(&d))
}

/// The device that a subject belongs to.
fn device(job: &Job, subject: Subject) -> Option<DeviceId> {
    match subject {
        Subject::Device(id) => Some(DeviceId(id)),
        Subject::Terminal(id) => Some(job.terminal(TerminalId(id)).device),
        Subject::Cable(_) | Subject::Core(_) => None,
    }
}
