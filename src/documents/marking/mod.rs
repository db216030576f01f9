//! A trainee's answer held against the model: what is electrically joined counts, not how it was drawn.
//!
//! Two answers are equal if every pair of terminals is joined or apart alike. Marks are given for joins: a conductor of
//! n terminals takes n − 1 of them, whichever way they are made. Each right join earns a mark; each join that should not
//! be, each danger, and each fault of workmanship loses one.

mod class;
mod exchange;
mod joins;
mod paper;

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::checks;
use crate::circuit::{Circuit, Reachable};
use crate::diagnostic::{Finding, Severity, Subject};
use crate::netlist::{CoreId, Job, Kind, PartId, TerminalId};

use super::gained::{Cores, gained};
use super::spread::spread;
use exchange::{Exchange, Exchanges, exchanged};
use joins::{Ground, Sorting, distance, meet, members, rank};

pub use class::{Class, class_table, mistakes_table};
pub use paper::Line;

/// Rules about how the work was done: they cost a mark whatever is joined. The other rules tell what wrong joins do, and
/// cost a mark of their own only where every join is right.
const WORKMANSHIP: [&str; 9] = [
    "unterminated-core",
    "unsafe-lead",
    "cut-aerial",
    "earth-colour",
    "pole-colour",
    "terminal-overfilled",
    "split-pair",
    "mixed-voltages",
    "unfused-battery",
];

/// Rules whose findings may hurt somebody or destroy something at once, besides those of severity `danger`.
const DANGEROUS: [&str; 4] = ["short-circuit", "reversed-diode", "reversed-polarity", "parallel-supplies"];

/// What an answer is worth, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// The marks.
    pub marks: usize,
    /// The most that can be had: the joins of the model that the sheet did not give, and the questions.
    pub out_of: usize,
    /// Joins that are right, that are missing, that should not be.
    pub joins: [usize; 3],
    /// What to do about each join that is missing or should not be.
    pub advice: Vec<Pair>,
    /// What may hurt somebody.
    pub dangerous: Vec<Pair>,
    /// Other faults of the answer: the rule, and what happens.
    pub faults: Vec<Fault>,
    /// What was exchanged and makes no difference, each in a sentence.
    pub exchanged: Vec<String>,
    /// The questions besides the wiring.
    pub questions: Vec<Line>,
    right: Sorting,
    answer: Sorting,
}

/// Two terminals as the job file writes them, and a sentence about them.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// The terminals; the second is empty where only one is concerned.
    pub pair: [String; 2],
    /// The sentence.
    pub sentence: String,
    /// The same terminals in the answer, for the flag on its drawing.
    pub subjects: Vec<Subject>,
}

/// A fault that is no wrong join.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// The rule that names it.
    pub rule: &'static str,
    /// What it does.
    pub sentence: String,
    /// What it is about, in the answer.
    pub subjects: Vec<Subject>,
}

/// Which pairs of terminals a list tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lot {
    /// Joined, as in the model.
    Right,
    /// Joined in the model only.
    Missing,
    /// Joined in the answer only.
    Extra,
}

/// A model, ready to mark any number of answers.
pub struct Marker<'a> {
    ground: &'a Ground<'a>,
    findings: &'a [Finding],
    model: Sorting,
    exchanges: Exchanges<'a>,
}

/// What a [`Marker`] stands on.
pub struct Model<'a> {
    ground: Ground<'a>,
    circuit: &'a Circuit,
    findings: &'a [Finding],
}

impl<'a> Model<'a> {
    /// A checked job as a model.
    #[must_use]
    pub fn of(job: &'a Job, circuit: &'a Circuit, findings: &'a [Finding]) -> Self {
        Self { ground: Ground::of(job), circuit, findings }
    }

    /// Makes it ready to mark.
    #[must_use]
    pub fn marker(&'a self) -> Marker<'a> {
        let ground = &self.ground;
        Marker {
            ground,
            findings: self.findings,
            model: ground.sorted(&ground.wires(ground.model)),
            exchanges: Exchanges::of(ground, self.circuit),
        }
    }
}

impl Marker<'_> {
    /// Marks many answers. Where there is none, the reason stays.
    #[must_use]
    pub fn mark_all(&self, answers: &[Result<Job, String>]) -> Vec<Result<Mark, String>> {
        spread(answers, |answer| Ok(self.mark(answer.as_ref().map_err(String::clone)?)))
    }

    /// Marks an answer.
    #[must_use]
    pub fn mark(&self, answer: &Job) -> Mark {
        let circuit = Circuit::of(answer);
        let findings = checks::run(answer, &circuit);
        let wires = self.ground.wires(answer);
        let own_mistakes = self.ground.model.exercise.own_mistakes;
        // What is joined in a model with mistakes is no measure of an answer.
        let (wires, taken) =
            if own_mistakes { (wires, Vec::new()) } else { self.exchanges.nearest(&wires, &self.model) };
        let sorted = self.ground.sorted(&wires);
        let right = meet(&sorted, &self.model);
        let own = rank(&self.ground.inside);
        let [all, made, both] = [&self.model, &sorted, &right].map(|s| rank(s).saturating_sub(own));
        let fresh = fresh((answer, &findings), (self.ground.model, self.findings));
        let equal = distance(&sorted, &self.model) == 0;
        let mut unconnected = self.unconnected(answer);
        let lost: Vec<&Finding> = fresh
            .into_iter()
            .filter(|finding| {
                finding.severity > Severity::Note
                    && finding.rule != "core-direction"
                    && (own_mistakes || equal || is_dangerous(finding) || WORKMANSHIP.contains(&finding.rule))
                    && !excused(answer, finding, &mut unconnected)
            })
            .collect();
        let dangers = findings.iter().filter(|f| f.accepted.is_none() && is_dangerous(f));
        let faults = lost.iter().filter(|finding| !is_dangerous(finding));
        let mut questions = paper::lines(&self.ground.model.exercise, &answer.exercise);
        if own_mistakes {
            questions.splice(0..0, self.cured(answer, &findings));
        }
        let whole = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
        let start = self.ground.model.exercise.start as usize;
        let (earned, wiring) = match own_mistakes {
            true => (-whole(lost.len()), 0),
            false => (
                (whole(both) - whole(made - both + lost.len()) - whole(start)).max(0),
                all.saturating_sub(start),
            ),
        };
        let total = earned + questions.iter().map(|line| line.marks).sum::<i64>();
        Mark {
            marks: usize::try_from(total).unwrap_or(0),
            out_of: wiring + questions.iter().map(|line| line.out_of as usize).sum::<usize>(),
            joins: [both, all - both, made - both],
            advice: if own_mistakes { Vec::new() } else { self.advice(answer, &sorted, &right, &taken) },
            dangerous: dangers.map(|finding| danger(answer, &circuit, finding)).collect(),
            faults: faults
                .map(|finding| Fault {
                    rule: finding.rule,
                    sentence: finding.message.to_string(),
                    subjects: finding.subjects.clone(),
                })
                .collect(),
            exchanged: taken.iter().map(|exchange| self.exchange_words(exchange)).collect(),
            questions,
            right,
            answer: sorted,
        }
    }

    /// By cable how many cores the model connects and the answer does not: their joins are missing, and that they were
    /// left loose is not another mistake.
    fn unconnected(&self, answer: &Job) -> BTreeMap<String, usize> {
        let model = connected(self.ground.model);
        let own = connected(answer);
        let left = |(name, count): (&String, &usize)| {
            (name.clone(), count.saturating_sub(own.get(name).copied().unwrap_or(0)))
        };
        model.iter().map(left).collect()
    }

    /// The mistakes of the model, and which of them the answer put right. What a mistake is about must still be there.
    fn cured(&self, answer: &Job, findings: &[Finding]) -> Vec<Line> {
        let model = self.ground.model;
        let gone = fresh((model, self.findings), (answer, findings));
        let whole = kept(model, answer);
        let counted = |f: &&Finding| f.accepted.is_none() && f.severity > Severity::Note;
        let line = |finding: &Finding| {
            let right = whole && gone.iter().any(|gone| std::ptr::eq(*gone, finding));
            let verdict = match (right, whole) {
                (true, _) => "put right",
                (false, true) => "still there",
                (false, false) => "something that the job had was taken out",
            };
            Line {
                question: finding.rule.to_owned(),
                given: verdict.to_owned(),
                marks: i64::from(right),
                out_of: 1,
                right,
                sentence: format!("{}, {verdict}: {}", finding.rule, finding.message),
            }
        };
        self.findings.iter().filter(counted).map(line).collect()
    }

    /// Every pair of terminals of a kind, in the order of the model; pairs that a device joins inside are no work of the
    /// trainee's and left out.
    pub fn pairs<'m>(&'m self, mark: &'m Mark, lot: Lot) -> impl Iterator<Item = Pair> + 'm {
        let sorting = match lot {
            Lot::Right => &mark.right,
            Lot::Missing => &self.model,
            Lot::Extra => &mark.answer,
        };
        let inside = &self.ground.inside;
        members(sorting).into_iter().flat_map(move |points| {
            let mut pairs = Vec::new();
            for (n, &a) in points.iter().enumerate() {
                for &b in &points[n + 1..] {
                    if inside[a] != inside[b] && (lot == Lot::Right || mark.right[a] != mark.right[b]) {
                        pairs.push(self.pair(a, b, lot));
                    }
                }
            }
            pairs
        })
    }

    fn pair(&self, a: usize, b: usize, lot: Lot) -> Pair {
        let pair = [a, b].map(|point| self.ground.name(point));
        let [first, second] = &pair;
        let sentence = match lot {
            Lot::Right => format!("{first} and {second} are joined, as they must be"),
            Lot::Missing => format!("{first} and {second} must be joined and are apart"),
            Lot::Extra => format!("{first} and {second} must be apart and are joined"),
        };
        Pair { pair, sentence, subjects: Vec::new() }
    }

    /// One line for each join that is missing or should not be.
    fn advice(&self, answer: &Job, sorted: &Sorting, right: &Sorting, taken: &[Exchange]) -> Vec<Pair> {
        let missing = self.parted(&self.model, right).map(|[a, b]| {
            let with = self.conductor(self.ground.model, b).or_else(|| self.conductor(self.ground.model, a));
            let by = with.map(|core| format!(" (in the model by {core})")).unwrap_or_default();
            ([a, b], format!("join {} to {}{by}", self.ground.name(b), self.ground.name(a)))
        });
        let extra = self.parted(sorted, right).map(|[a, b]| {
            let by = self.joining(answer, [a, b], taken);
            let by = by.map(|core| format!("; look at {}", answer.core_label(core))).unwrap_or_default();
            ([a, b], format!("take {} off {}{by}", self.ground.name(b), self.ground.name(a)))
        });
        missing
            .chain(extra)
            .map(|(points, sentence)| Pair {
                pair: points.map(|point| self.ground.name(point)),
                sentence,
                subjects: points
                    .iter()
                    .filter_map(|point| self.in_answer(answer, *point))
                    .map(Subject::from)
                    .collect(),
            })
            .collect()
    }

    /// For each conductor of a sorting that is in pieces in the other: the largest piece's first point, and that of each
    /// further piece.
    fn parted(&self, sorting: &Sorting, right: &Sorting) -> impl Iterator<Item = [usize; 2]> {
        let mut found = Vec::new();
        for points in members(sorting) {
            let mut pieces: Vec<(usize, usize, usize)> = Vec::new();
            for point in points {
                match pieces.iter_mut().find(|(number, ..)| *number == right[point]) {
                    Some((.., count)) => *count += 1,
                    None => pieces.push((right[point], point, 1)),
                }
            }
            let largest =
                pieces.iter().max_by_key(|(number, _, count)| (*count, usize::MAX - number)).copied();
            let Some((main, at, _)) = largest else { continue };
            found.extend(
                pieces.iter().filter(|(number, ..)| *number != main).map(|(_, point, _)| [at, *point]),
            );
        }
        found.into_iter()
    }

    /// The terminal of a point in an answer.
    fn in_answer(&self, answer: &Job, point: usize) -> Option<TerminalId> {
        answer.terminal_ids().map(|(id, _)| id).find(|id| self.ground.point(answer, *id) == Some(point))
    }

    /// A core that lands on a point in a job: `W2 red`.
    fn conductor(&self, job: &Job, point: usize) -> Option<String> {
        let terminal = self.in_answer(job, point)?;
        let lands = |core: &&(CoreId, [Option<TerminalId>; 2])| core.1.contains(&Some(terminal));
        let cores: Vec<_> =
            job.core_ids().map(|(id, core)| (id, core.ends.map(|end| end.to.terminal()))).collect();
        cores.iter().find(lands).map(|(id, _)| job.core_label(*id))
    }

    /// The core of an answer without which two points are apart; of several the one that takes the fewest right joins
    /// with it.
    fn joining(&self, answer: &Job, [a, b]: [usize; 2], taken: &[Exchange]) -> Option<CoreId> {
        let right_without = |core: CoreId| {
            let wires = self.ground.wires_without(answer, Some(core));
            let wires = taken.iter().fold(wires, |wires, exchange| exchanged(&wires, exchange));
            let sorted = self.ground.sorted(&wires);
            (sorted[a] != sorted[b]).then(|| rank(&meet(&sorted, &self.model)))
        };
        let cores = answer.core_ids().filter_map(|(core, _)| Some((right_without(core)?, core)));
        cores.min_by_key(|(right, _)| Reverse(*right)).map(|(_, core)| core)
    }

    fn exchange_words(&self, exchange: &Exchange) -> String {
        let pairs: Vec<String> = exchange
            .iter()
            .map(|(a, b)| format!("{} and {}", self.ground.name(*a), self.ground.name(*b)))
            .collect();
        format!("{} are exchanged, which makes no difference", pairs.join(", "))
    }
}

/// The findings that one of two jobs has and the other has not. Which core of a cable it is makes no difference.
fn fresh<'a>(has: (&Job, &'a [Finding]), has_not: (&Job, &[Finding])) -> Vec<&'a Finding> {
    gained(has, has_not, &str::to_owned, Cores::OfOneCable)
}

/// How many joins a job takes: the most marks that an answer to it can get.
#[must_use]
pub fn joins_of(job: &Job) -> usize {
    let ground = Ground::of(job);
    rank(&ground.sorted(&ground.wires(job))).saturating_sub(rank(&ground.inside))
}

/// By cable how many of its cores go from one terminal to another.
fn connected(job: &Job) -> BTreeMap<String, usize> {
    let mut all: BTreeMap<String, usize> = BTreeMap::new();
    for core in &job.cores {
        let both = core.ends.iter().all(|end| end.to.terminal().is_some());
        *all.entry(job.cable(core.cable).name.to_string()).or_default() += usize::from(both);
    }
    all
}

/// Whether a finding is about a core that was left loose and whose join is missing anyhow; one is then used up.
fn excused(answer: &Job, finding: &Finding, unconnected: &mut BTreeMap<String, usize>) -> bool {
    if finding.rule != "unterminated-core" {
        return false;
    }
    let cable = finding.subjects.iter().find_map(|subject| match subject {
        Subject::Core(core) => Some(answer.core(CoreId(*core)).cable),
        _ => None,
    });
    let left = cable.and_then(|cable| unconnected.get_mut(answer.cable(cable).name.as_str()));
    left.is_some_and(|left| {
        let any = *left > 0;
        *left = left.saturating_sub(1);
        any
    })
}

/// Whether an answer has every device, cable and line of cause and effect of a job.
fn kept(job: &Job, answer: &Job) -> bool {
    job.devices.iter().all(|device| answer.devices.iter().any(|own| own.name == device.name))
        && job.cables.iter().all(|cable| answer.cables.iter().any(|own| own.name == cable.name))
        && job.cause_and_effect.len() <= answer.cause_and_effect.len()
}

fn is_dangerous(finding: &Finding) -> bool {
    finding.severity == Severity::Danger
        || (finding.severity > Severity::Note && DANGEROUS.contains(&finding.rule))
}

/// A danger with the two terminals that it is about.
fn danger(answer: &Job, circuit: &Circuit, finding: &Finding) -> Pair {
    let mut at: Vec<TerminalId> = Vec::new();
    if finding.rule == "short-circuit" {
        let device = |terminal: TerminalId| {
            finding.subjects.contains(&Subject::from(answer.terminal(terminal).device))
        };
        let short = circuit.shorts().ways.iter().find(|short| {
            device(short.between[0]) && !matches!(circuit.reachable(&short.needs), Reachable::No)
        });
        at.extend(short.map(|short| short.between).into_iter().flatten());
    }
    for subject in &finding.subjects {
        match *subject {
            Subject::Terminal(i) => at.push(TerminalId(i)),
            Subject::Core(i) => at.extend(answer.core(CoreId(i)).ends.iter().filter_map(|e| e.to.terminal())),
            Subject::Device(i) => at.extend(
                answer.devices[i as usize]
                    .parts
                    .iter()
                    .map(|part| &answer.part(PartId(part)).kind)
                    .filter(|kind| !matches!(kind, Kind::Bridge(_)))
                    .flat_map(Kind::terminals),
            ),
            Subject::Cable(_) => {}
        }
    }
    let mut seen: Vec<TerminalId> = Vec::new();
    at.retain(|terminal| {
        !seen.contains(terminal) && {
            seen.push(*terminal);
            true
        }
    });
    at.truncate(2);
    at.sort_unstable();
    let name = |n: usize| at.get(n).map(|t| answer.label(*t).replacen(':', ".", 1)).unwrap_or_default();
    Pair {
        pair: [name(0), name(1)],
        sentence: finding.message.to_string(),
        subjects: finding.subjects.clone(),
    }
}

impl Mark {
    /// What the drawing of the answer flags: every line of advice, danger and fault as a finding.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        let flag = |rule, severity, sentence: &str, subjects: &[Subject]| Finding {
            subjects: subjects.to_vec(),
            ..Finding::new(rule, severity, sentence, "")
        };
        let dangers =
            self.dangerous.iter().map(|d| flag("dangerous", Severity::Danger, &d.sentence, &d.subjects));
        let advice = self.advice.iter().map(|a| flag("join", Severity::Error, &a.sentence, &a.subjects));
        let faults = self.faults.iter().map(|f| flag(f.rule, Severity::Warning, &f.sentence, &f.subjects));
        dangers.chain(advice).chain(faults).collect()
    }

    /// What went wrong, line by line, as a class table counts it.
    pub fn mistakes(&self) -> impl Iterator<Item = String> + '_ {
        let dangers = self.dangerous.iter().map(|danger| format!("DANGEROUS: {}", danger.sentence));
        let faults = self.faults.iter().map(|fault| format!("{}: {}", fault.rule, fault.sentence));
        let questions = self.questions.iter().filter(|line| !line.right).map(|line| line.sentence.clone());
        dangers.chain(self.advice.iter().map(|advice| advice.sentence.clone())).chain(faults).chain(questions)
    }
}
