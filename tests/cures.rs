//! Single mistakes made in correct wirings, and the cure that is named for each: made, it has to bring the wiring back.
//!
//! The wirings are those of `tests/corpus/`, of whose mistakes every so-and-so-many-th is tried; `BELLWIRE_CURES=FOLDER` tries all in the
//! jobs of another folder and prints what was not cured.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test may fail loudly")]

use std::collections::{BTreeMap, BTreeSet};
use std::num::NonZero;
use std::path::{Path, PathBuf};
use std::{env, fs, thread};

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::diagnostic::{Change, Finding, Severity};
use bellwire::netlist::{self, CoreId, End, Form, Job, Kind, Safe, TerminalId};

/// Of the mistakes in the corpus every so-many-th is tried.
const EVERY: usize = 7;

/// What came of the mistakes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Tally {
    /// Mistakes made.
    made: usize,
    /// Those that bring something above a note.
    found: usize,
    /// Of these: those with a finding that names a cure that was tried.
    named: usize,
    /// Of these: where a cure brings back the conductors of the correct wiring.
    right: usize,
    /// Of those named: where each cure leaves nothing above a note, and no contact or fuse with a side that leads nowhere.
    sound: usize,
}

/// What one mistake came to, and what is to be said of it.
type Tried = (Tally, Option<String>);

#[test]
fn a_named_cure_cures() {
    let given = env::var_os("BELLWIRE_CURES");
    let folder = given
        .as_ref()
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus"), PathBuf::from);
    let every = if given.is_some() { 1 } else { EVERY };
    let mut cases: Vec<(String, Job, Job)> = Vec::new();
    let mut at = 0;
    for (name, job) in jobs(&folder) {
        for (mistake, wrong) in mistakes(&job) {
            at += 1;
            if at % every == 0 {
                cases.push((format!("{name}: {mistake}"), job.clone(), wrong));
            }
        }
    }
    let workers = thread::available_parallelism().map_or(1, NonZero::get);
    let share = cases.len().div_ceil(workers).max(1);
    let tried: Vec<Tried> = thread::scope(|scope| {
        let work: Vec<_> = cases
            .chunks(share)
            .map(|cases| {
                scope.spawn(|| {
                    cases.iter().map(|(name, job, wrong)| trial(name, job, wrong)).collect::<Vec<_>>()
                })
            })
            .collect();
        work.into_iter().flat_map(|work| work.join().unwrap()).collect()
    });
    let tally = tried.iter().fold(Tally::default(), |all, (one, _)| Tally {
        made: all.made + one.made,
        found: all.found + one.found,
        named: all.named + one.named,
        right: all.right + one.right,
        sound: all.sound + one.sound,
    });
    println!("{tally:?}");
    let said: Vec<&str> = tried.iter().filter_map(|(_, said)| said.as_deref()).collect();
    if given.is_some() {
        println!("{}", said.join("\n"));
        return;
    }
    assert!(tally.found > 300, "{tally:?}");
    assert_eq!(tally.sound, tally.named, "{}", said.join("\n"));
    assert!(tally.named * 100 >= tally.found * 78, "{tally:?}");
    assert!(tally.right * 100 >= tally.named * 93, "{tally:?}\n{}", said.join("\n"));
}

fn jobs(folder: &Path) -> Vec<(String, Job)> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .collect();
    files.sort();
    let read = |file: &PathBuf| {
        let name = file.file_stem().unwrap().display().to_string();
        Some((name, netlist::read_text("job.yaml", &fs::read_to_string(file).unwrap()).job?))
    };
    files.iter().filter_map(read).collect()
}

/// Each single mistake in a wiring: a core end left loose or landed one terminal too far, two cores of a cable exchanged at one end, a
/// link left out.
fn mistakes(job: &Job) -> Vec<(String, Job)> {
    let mut made = Vec::new();
    let landed = |core: CoreId, end: usize| job.core(core).ends[end].to.terminal();
    for (core, _) in job.core_ids() {
        let label = job.core_label(core);
        for end in 0..2 {
            let Some(at) = landed(core, end) else { continue };
            let mut loose = job.clone();
            loose.cores[core.index()].ends[end].to = End::Safe(Safe::Taped);
            made.push((format!("{label} off {}", job.label(at)), loose));
            for to in beside(job, at) {
                let wrong = job.after(&Change::Land((core.0, u8::from(end == 1)), to.0));
                made.push((format!("{label} on {} instead of {}", job.label(to), job.label(at)), wrong));
            }
        }
    }
    for (_, cable) in job.cable_ids() {
        let cores: Vec<CoreId> = cable.cores.iter().map(CoreId).collect();
        for pair in cores.windows(2) {
            for end in 0..2 {
                let (Some(one), Some(other)) = (landed(pair[0], end), landed(pair[1], end)) else { continue };
                let at = u8::from(end == 1);
                let wrong = job.after(&Change::Exchange((pair[0].0, at), (pair[1].0, at)));
                let [a, b] = [pair[0], pair[1]].map(|core| job.core_label(core));
                made.push((
                    format!("{a} at {} and {b} at {} exchanged", job.label(one), job.label(other)),
                    wrong,
                ));
            }
        }
    }
    for (n, link) in job.links.iter().enumerate().filter(|(_, link)| link.across.is_none()) {
        let mut without = job.clone();
        without.links.remove(n);
        made.push((format!("no link {} to {}", job.label(link.ends[0]), job.label(link.ends[1])), without));
    }
    made
}

/// The terminals before and after one of the same device.
fn beside(job: &Job, at: TerminalId) -> Vec<TerminalId> {
    let device = job.device(job.terminal(at).device);
    if device.form == Form::Splice {
        return Vec::new();
    }
    device.terminals.iter().map(TerminalId).filter(|to| to.0.abs_diff(at.0) == 1).collect()
}

fn trial(name: &str, job: &Job, wrong: &Job) -> Tried {
    let mut tally = Tally { made: 1, ..Tally::default() };
    let grave = graver(checks::run(wrong, &Circuit::of(wrong)));
    if grave.is_empty() || conductors(job) == conductors(wrong) {
        return (tally, None);
    }
    tally.found = 1;
    let told = |what: &str| {
        let told: Vec<String> =
            grave.iter().map(|finding| format!("    {}: {}", finding.rule, finding.fix)).collect();
        Some(format!("{what} {name}\n{}", told.join("\n")))
    };
    let cured: Vec<Job> =
        grave.iter().flat_map(|finding| &finding.cures).map(|cure| wrong.after(cure)).collect();
    if cured.is_empty() {
        return (tally, told("no cure:"));
    }
    tally.named = 1;
    let right = cured.iter().any(|cured| conductors(cured) == conductors(job));
    let sound = cured.iter().all(|cured| {
        graver(checks::run(cured, &Circuit::of(cured))).is_empty() && nothing_passed_by(job, cured)
    });
    tally.right = usize::from(right);
    tally.sound = usize::from(sound);
    let said = match (right, sound) {
        (_, false) => told("unsound:"),
        (false, true) => told("otherwise:"),
        (true, true) => None,
    };
    (tally, said)
}

fn graver(findings: Vec<Finding>) -> Vec<Finding> {
    findings.into_iter().filter(|finding| finding.severity > Severity::Note).collect()
}

/// Which terminals are joined, each conductor by its terminals; what hangs alone is left out.
fn conductors(job: &Job) -> BTreeSet<Vec<TerminalId>> {
    let circuit = Circuit::of(job);
    let mut nets: BTreeMap<usize, Vec<TerminalId>> = BTreeMap::new();
    for (at, _) in job.terminal_ids() {
        nets.entry(circuit.net_of(at).index()).or_default().push(at);
    }
    nets.into_values().filter(|terminals| terminals.len() > 1).collect()
}

/// Whether every contact, fuse, output and sensor that the correct wiring goes through is gone through in another as well.
fn nothing_passed_by(job: &Job, other: &Job) -> bool {
    let [right, is] = [job, other].map(Circuit::of);
    let leads_on = |circuit: &Circuit, at: TerminalId| circuit.terminals_of(circuit.net_of(at)).len() > 1;
    job.parts.iter().all(|part| {
        let ends = match &part.kind {
            Kind::Fuse(fuse) => fuse.between.to_vec(),
            Kind::Contact(contact) => {
                [Some(contact.common), contact.no, contact.nc].into_iter().flatten().collect()
            }
            Kind::Output(_) | Kind::TwoWire(_) => part.kind.terminals().to_vec(),
            _ => return true,
        };
        ends.iter().all(|end| !leads_on(&right, *end) || leads_on(&is, *end))
    })
}
