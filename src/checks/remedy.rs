//! Cures that were tried: one conductor landed, moved, exchanged or added, the circuit made anew and held against every rule.
//!
//! A change is a cure where it takes findings away and brings nothing new. What would lead past a contact or a fuse leaves
//! that with one side from which nothing leads on, or with both sides on one conductor, and is none. What one cure takes away is
//! one mistake, and one finding.

use std::cmp::Reverse;
use std::collections::BTreeSet;
use std::mem::{replace, take};

use crate::circuit::Circuit;
use crate::diagnostic::{Change, Finding, Label, Severity, Subject};
use crate::netlist::{CoreId, DeviceId, Job, Kind, LinkId, PartId, Pole, TerminalId};
use crate::source::Place;

use super::changes::{self, Candidate, Sought, candidates};
use super::report::listed;

/// Notes that a cure may bring: what they tell is no fault of the wiring.
const HARMLESS: &[&str] = &["terminal-overfilled", "not-checked"];
/// So much is tried: changes times the conductors and parts of the job.
const WORK: usize = 10_000;
/// Larger jobs are not tried.
const LARGEST: usize = 600;
/// So many places are named where several do.
const NAMED: usize = 3;
/// Told of themselves whatever a cure takes away: an acceptance, and what the wiring leaves undone.
const APART: &[&str] = &["accepted-nothing", "unterminated-core", "unconnected-device"];

/// A change after which something is right and nothing new is wrong.
struct Cure {
    candidate: Candidate,
    /// The findings that it takes away, by their numbers.
    cures: BTreeSet<usize>,
    /// How many notes of terminals with too many conductors it takes away.
    relieves: usize,
}

impl Cure {
    /// What takes more away is likelier, then what stands first, then what leaves the terminals as one would wire them.
    fn order(&self) -> impl Ord + use<> {
        let relief = usize::MAX - self.relieves;
        (usize::MAX - self.cures.len(), self.candidate.rank, relief, self.candidate.odd)
    }
}

/// Gives findings the cure that was tried, and tells once what one change makes right.
pub(super) fn tried(
    job: &Job,
    circuit: &Circuit,
    mut findings: Vec<Finding>,
    check: &dyn Fn(&Job, &Circuit) -> Vec<Finding>,
) -> Vec<Finding> {
    let size = job.parts.len() + job.cores.len() + job.links.len();
    // Two outputs on one conductor leave open which of them belongs elsewhere.
    let drivers_joined = findings.iter().any(|finding| finding.rule == "drivers-joined");
    if size > LARGEST || drivers_joined || !findings.iter().any(explained) {
        return findings;
    }
    let mut candidates =
        candidates(job, circuit, Sought::by(findings.iter().filter(|finding| explained(finding))));
    candidates.truncate(WORK / size.max(1));
    let cures = cures(job, circuit, &findings, candidates, check);
    let mut told_with: BTreeSet<usize> = BTreeSet::new();
    let mut gravest: Vec<usize> = (0..findings.len()).collect();
    gravest.sort_by_key(|n| Reverse(findings[*n].severity));
    let likeliest = |n: usize| -> Vec<&Cure> {
        let fits = || cures.iter().filter(move |cure| cure.cures.contains(&n));
        let best = fits().map(Cure::order).min();
        fits().filter(|cure| Some(cure.order()) == best).collect()
    };
    for (at, &n) in gravest.iter().enumerate() {
        if told_with.contains(&n) || !explained(&findings[n]) {
            continue;
        }
        let best = likeliest(n);
        let Some(fix) = words(job, &best) else { continue };
        let changes = |of: &[&Cure]| -> Vec<Change> { of.iter().map(|cure| cure.candidate.change).collect() };
        let echo = |m: &usize| {
            let finding = &findings[*m];
            is_left_out(finding)
                && best.iter().all(|cure| cure.cures.contains(m))
                && (!explained(finding)
                    || told_once(&findings[n]) && told_once(finding)
                    || changes(&likeliest(*m)) == changes(&best))
        };
        // What no cure is looked for may stand before it.
        let milder = |m: &usize| {
            findings[*m].severity <= findings[n].severity
                && findings[*m].cures.is_empty()
                && (!explained(&findings[*m]) || gravest[at + 1..].contains(m))
        };
        let echoes = gravest.iter().copied().filter(|m| echo(m) && milder(m));
        let mut with: Vec<usize> = echoes.filter(|m| !told_with.contains(m)).collect();
        // That what happens is not what is wanted is told of nothing that an error explains.
        let graver = with.iter().position(|m| yields(&findings[n], &findings[*m]));
        let n = graver.map_or(n, |at| replace(&mut with[at], n));
        told_with.extend(&with);
        let devices: BTreeSet<String> =
            with.iter().filter_map(|m| named(job, &findings[*m], &findings[n])).collect();
        if !devices.is_empty() {
            let devices: Vec<&str> = devices.iter().map(String::as_str).collect();
            let comes = format!("; what is wrong at {} comes of the same", listed(&devices));
            findings[n].message.push_str(&comes);
        }
        for m in with {
            let (labels, subjects) = (take(&mut findings[m].labels), take(&mut findings[m].subjects));
            add(&mut findings[n], labels, subjects);
        }
        let finding = &mut findings[n];
        finding.fix = match finding.rule {
            "effect-not-met" => format!("{fix}, or correct the line").into(),
            _ => fix.into(),
        };
        finding.cures = changes(&best).into();
        let places: Vec<Place> = best.iter().flat_map(|cure| places(job, &cure.candidate.change)).collect();
        let pointed_at = finding.labels.first().is_some_and(|label| places.contains(&label.place));
        if let (Some(&place), false, "short-circuit") = (places.first(), pointed_at, finding.rule) {
            // What the path alone told of the conductor that stands wrong was a guess.
            let others = finding.labels.drain(..).skip(1).filter(|label| label.place != place);
            finding.labels = [Label { place, text: String::new() }].into_iter().chain(others).collect();
        }
    }
    let mut n = 0..;
    findings.retain(|_| n.next().is_none_or(|n| !told_with.contains(&n)));
    findings
}

/// What a finding that is told with another is about: its device, on the same device its terminal.
fn named(job: &Job, finding: &Finding, other: &Finding) -> Option<String> {
    let device = |finding: &Finding| match *finding.subjects.first()? {
        Subject::Device(id) => Some(DeviceId(id)),
        Subject::Terminal(id) => Some(job.terminal(TerminalId(id)).device),
        Subject::Cable(_) | Subject::Core(_) => None,
    };
    let at = device(finding)?;
    if device(other) != Some(at) {
        return Some(job.device(at).name.to_string());
    }
    match finding.subjects.first() {
        Some(Subject::Terminal(id)) if !other.subjects.contains(&Subject::Terminal(*id)) => {
            Some(job.label(TerminalId(*id)))
        }
        _ => None,
    }
}

/// Adds what another finding points at.
fn add(finding: &mut Finding, labels: Vec<Label>, subjects: Vec<Subject>) {
    for Label { place, .. } in labels {
        if !finding.labels.iter().any(|told| told.place == place) {
            finding.labels.push(Label { place, text: String::new() });
        }
    }
    for subject in subjects {
        if !finding.subjects.contains(&subject) {
            finding.subjects.push(subject);
        }
    }
}

/// Whether a finding is left out where the cure of a graver one, or of one that stands before it, takes it away too. A danger never
/// is.
fn is_left_out(finding: &Finding) -> bool {
    (Severity::Warning..=Severity::Error).contains(&finding.severity)
        && finding.accepted.is_none()
        && !APART.contains(&finding.rule)
}

/// Whether a finding only says of what another error explains that it is not what is wanted.
fn yields(finding: &Finding, other: &Finding) -> bool {
    const WANTED: &str = "effect-not-met";
    finding.rule == WANTED && other.rule != WANTED && other.severity >= finding.severity
}

/// Whether a finding tells of current that does not flow as it should: of those that one change makes right only the first is
/// told, even if another change would do for some of them as well.
fn told_once(finding: &Finding) -> bool {
    ["short-circuit", "reversed-polarity", "open-return", "unpowered"].contains(&finding.rule)
}

/// Where what is changed stands in the file; a conductor that is missing stands nowhere.
fn places(job: &Job, change: &Change) -> Vec<Place> {
    let of_core = |(core, end): (u32, u8)| job.core(CoreId(core)).ends[usize::from(end)].place;
    match *change {
        Change::Land(end, _) => vec![of_core(end)],
        Change::Exchange(one, other) => vec![of_core(one), of_core(other)],
        Change::Shift(link, ..) => vec![job.links[LinkId(link).index()].place],
        Change::Join(..) => Vec::new(),
    }
}

fn explained(finding: &Finding) -> bool {
    finding.severity > Severity::Note && finding.accepted.is_none() && changes::explained(finding.rule)
}

/// Those of the changes that are cures. They are tried in their order; once one takes away all that could be explained, no
/// less likely one is.
fn cures(
    job: &Job,
    circuit: &Circuit,
    findings: &[Finding],
    candidates: Vec<Candidate>,
    check: &dyn Fn(&Job, &Circuit) -> Vec<Finding>,
) -> Vec<Cure> {
    let before = Told::of(findings);
    let returning = fused_returns(job, circuit);
    let all = findings.iter().filter(|finding| finding.severity > Severity::Note).count();
    let mut cures: Vec<Cure> = Vec::new();
    let mut enough: Option<usize> = None;
    for candidate in candidates {
        if enough.is_some_and(|rank| rank < candidate.rank) {
            break;
        }
        let changed = job.after(&candidate.change);
        let changed_circuit = Circuit::of(&changed);
        let after = check(&changed, &changed_circuit);
        let told = Told::of(&after);
        if !told.brings_nothing_new(&before)
            || !fused_returns(&changed, &changed_circuit).is_subset(&returning)
        {
            continue;
        }
        let gone = |n: &usize| {
            let finding = &findings[*n];
            finding.severity > Severity::Note && !told.grave.contains(&key(finding))
        };
        let cured: BTreeSet<usize> = (0..findings.len()).filter(gone).collect();
        if !cured.iter().any(|n| explained(&findings[*n])) {
            continue;
        }
        if cured.len() == all {
            enough.get_or_insert(candidate.rank);
        }
        let relieves = before.crowded.difference(&told.crowded).count();
        cures.push(Cure { candidate, cures: cured, relieves });
    }
    cures
}

/// A finding by its rule and words.
fn key(finding: &Finding) -> (&'static str, String) {
    (finding.rule, finding.message.to_string())
}

/// What the findings of a job say.
struct Told {
    grave: BTreeSet<(&'static str, String)>,
    notes: BTreeSet<(&'static str, String)>,
    /// The notes of terminals with more than one conductor.
    crowded: BTreeSet<(&'static str, String)>,
}

impl Told {
    fn of(findings: &[Finding]) -> Self {
        let said = |wanted: &dyn Fn(&Finding) -> bool| {
            findings.iter().filter(|finding| wanted(finding)).map(key).collect()
        };
        let note = |finding: &Finding| finding.severity == Severity::Note;
        Self {
            // What was accepted may have gone with its cause.
            grave: said(&|finding| !note(finding) && finding.rule != "accepted-nothing"),
            notes: said(&|finding| note(finding) && !HARMLESS.contains(&finding.rule)),
            crowded: said(&|finding| finding.rule == "terminal-overfilled"),
        }
    }

    fn brings_nothing_new(&self, before: &Self) -> bool {
        self.grave.is_subset(&before.grave) && self.notes.is_subset(&before.notes)
    }
}

/// The fuses that lie in the minus of a source and not in its plus.
fn fused_returns(job: &Job, circuit: &Circuit) -> BTreeSet<PartId> {
    let in_return = |at| {
        let poles = circuit.hard_poles(at);
        !poles.is_empty() && poles.iter().all(|(_, pole)| *pole == Pole::Minus)
    };
    let fuses = job.part_ids().filter_map(|(id, part)| match &part.kind {
        Kind::Fuse(fuse) => Some((id, fuse.between[0])),
        _ => None,
    });
    fuses.filter(|(_, at)| in_return(*at)).map(|(id, _)| id).collect()
}

/// What the likeliest cures say together; `None` where they are so many that they say nothing.
fn words(job: &Job, best: &[&Cure]) -> Option<String> {
    let [first, others @ ..] = best else { return None };
    let Candidate { change, what, .. } = &first.candidate;
    let alike = others.iter().all(|other| other.candidate.what == *what);
    let at: Vec<&str> = best.iter().map(|cure| cure.candidate.at.as_str()).collect();
    match change {
        Change::Exchange((a, _), (b, _)) if !others.is_empty() => {
            let same = |cure: &&Cure| matches!(cure.candidate.change, Change::Exchange((c, _), (d, _)) if [c, d] == [*a, *b] || [d, c] == [*a, *b]);
            let [one, other] = [*a, *b].map(|core| job.core_label(CoreId(core)));
            others.iter().all(same).then(|| format!("exchange {one} and {other} at one of their ends"))
        }
        _ if alike && best.len() <= NAMED => Some(format!("{what} {}", at.join(" or "))),
        Change::Land((core, end), _)
            if alike && job.core(CoreId(*core)).ends[usize::from(*end)].to.terminal().is_none() =>
        {
            Some(format!("{what} the terminal that it is meant for"))
        }
        _ if best.len() <= NAMED => either(job, best),
        _ => None,
    }
}

/// What to move where any of the conductors on one terminal could go to the same other one.
fn either(job: &Job, best: &[&Cure]) -> Option<String> {
    let moved = |cure: &&Cure| match cure.candidate.change {
        Change::Land((core, end), to) => {
            let from = job.core(CoreId(core)).ends[usize::from(end)].to.terminal()?;
            Some((job.core_label(CoreId(core)), from, to))
        }
        Change::Shift(link, end, to) => {
            let ends = job.links[LinkId(link).index()].ends;
            let far = job.label(ends[usize::from(1 - end)]);
            Some((format!("the link, which comes from {far},"), ends[usize::from(end)], to))
        }
        Change::Exchange(..) | Change::Join(..) => None,
    };
    let moved: Vec<(String, TerminalId, u32)> = best.iter().map(moved).collect::<Option<_>>()?;
    let &(_, from, to) = moved.first()?;
    let which: Vec<&str> = moved.iter().map(|(which, ..)| which.as_str()).collect();
    let one_way = moved.iter().all(|(_, its_from, its_to)| (*its_from, *its_to) == (from, to));
    one_way.then(|| {
        format!("move {} from {} to {}", which.join(" or "), job.label(from), job.label(TerminalId(to)))
    })
}
