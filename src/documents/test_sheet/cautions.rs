//! What to mind, and what must not be done: it stands before every test.

use super::{Expect, Kind, Test};
use crate::diagnostic::{self, Finding, Severity};
use crate::drawing::LIMITS;
use crate::netlist::{Job, Kind as Part, PartId, listed};

pub(super) fn add(job: &Job, findings: &[Finding], tests: &mut Vec<Test>) {
    let mut say = |at: &str, how: String| {
        tests.push(Test::new(Kind::Caution, at, how, Expect::Nothing, ""));
    };
    let whole = "whole job";
    say(whole, format!("{LIMITS} Local codes and the makers' instructions come first."));
    let counted = diagnostic::counted(findings, &[Severity::Danger, Severity::Error]);
    if !counted.is_empty() {
        say(
            whole,
            format!(
                "The check found {} in this job. Do not put power on before that is cleared; the values below are those \
                 of the job as it is written.",
                listed(&counted)
            ),
        );
    }
    let named = |wanted: &dyn Fn(&Part) -> bool| {
        let mut names: Vec<&str> = Vec::new();
        for part in job.parts.iter().filter(|part| wanted(&part.kind)) {
            let name = job.device(part.device).name.as_str();
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names.join(", ")
    };
    let sources = named(&|kind| matches!(kind, Part::Source(_)));
    let batteries = named(&|kind| matches!(kind, Part::Source(source) if source.battery));
    if !sources.is_empty() {
        say(
            &sources,
            format!(
                "Before the dead tests: isolate every supply,{} lock off, prove dead. What this list calls a dead test \
                 is never done on a live conductor.",
                if batteries.is_empty() { "" } else { " take the batteries off," }
            ),
        );
    }
    if !batteries.is_empty() {
        say(
            &batteries,
            "A battery gives enough current to burn: insulated tools, no rings or watches, its fuse is put in last."
                .to_owned(),
        );
    }
    say(
        whole,
        "Do not test insulation with electronics connected, and do not use an insulation tester as an ohm meter.".to_owned(),
    );
    let moves = named(&|kind| match kind {
        Part::Load(load) => load.inductive || load.lock.is_some(),
        Part::DryInput(_) => true,
        _ => false,
    });
    if !moves.is_empty() {
        say(
            &moves,
            "May move, lock or let go when power comes on or an input is made: keep people and hands clear, and work only \
             with the agreement of whoever is responsible for the machine or door."
                .to_owned(),
        );
    }
    let locks = named(&|kind| matches!(kind, Part::Load(load) if load.lock.is_some()));
    if !locks.is_empty() {
        say(
            &locks,
            "A door on an escape route: its release, with and without power, is proved by the person responsible for it, \
             after the local code."
                .to_owned(),
        );
    }
    let safety = named(&|kind| matches!(kind, Part::DryInput(input) if input.safety));
    if !safety.is_empty() {
        say(&safety, "Do not bridge a safety input, not even for a test.".to_owned());
    }
    for device in &job.devices {
        for caution in device.cautions.iter() {
            say(&device.name, caution.clone());
        }
    }
    look(job, tests);
}

fn look(job: &Job, tests: &mut Vec<Test>) {
    let mut ask = |at: String, how: &str| {
        tests.push(Test::new(Kind::Look, at, how, Expect::word("yes"), ""));
    };
    ask(
        "whole job".to_owned(),
        "Power off. Same label at both ends of every cable, every core on the terminal of the schedule, no bare strands, no \
         sharp bends, spare cores made safe.",
    );
    for (id, part) in job.part_ids() {
        if let Part::Fuse(fuse) = &part.kind
            && let Some(amps) = fuse.amps
        {
            let name = job.part_label(id);
            ask(format!("{name}, {amps}"), "Power off. The fuse that is in it has this rating; take it out.");
        }
    }
    let leads: Vec<String> =
        job.unused.iter().filter(|(_, unused)| unused.way.is_some()).map(|(id, _)| job.label(*id)).collect();
    if !leads.is_empty() {
        ask(leads.join(", "), "Unused leads are made safe one by one, as the schedule says.");
    }
    let aerials: Vec<String> = (0..)
        .map(PartId)
        .zip(&job.parts)
        .filter_map(|(_, part)| match part.kind {
            Part::Aerial(terminal) => Some(job.label(terminal)),
            _ => None,
        })
        .collect();
    if !aerials.is_empty() {
        ask(aerials.join(", "), "The aerial is whole: not cut, lengthened or joined to anything.");
    }
}
