//! What the rules find, while they are still finding it.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::rc::Rc;
use std::sync::Arc;

use crate::circuit::Circuit;
use crate::diagnostic::{Finding, Label, Message, Severity, Subject};
use crate::netlist::{CoreId, DeviceId, Job, PartId, TerminalId};
use crate::source::Place;

pub(super) use crate::netlist::listed;

use super::Rule;
use super::loose::{LooseEnd, loose_ends};
use super::reversed_polarity::turned_sources;

/// For so many findings a gap is looked for that explains them.
const LOOKS: usize = 100;

/// The findings so far, and the rule that is at work.
#[derive(Default)]
pub(super) struct Report {
    rule: Option<&'static Rule>,
    drafts: Drafts,
    loose: Option<Rc<Vec<LooseEnd>>>,
    turned: Option<Rc<BTreeSet<PartId>>>,
    /// The parts of loose ends that a finding names as the gap to close.
    named: BTreeSet<PartId>,
    /// By finding: the parts of the loose ends that it names.
    gaps: Vec<(usize, BTreeSet<PartId>)>,
    /// How often a gap was looked for.
    looks: usize,
    /// What lies on either side of each conductor that makes a short.
    shorting: Vec<[BTreeSet<TerminalId>; 2]>,
    /// The words of the states in which something was found.
    states: BTreeSet<Arc<String>>,
}

/// The findings one by one: a large job has thousands, and a list of them all would be moved each time it grows.
pub(super) type Drafts = Vec<Box<Draft>>;

/// A finding with what [`super::precedence`] needs to know of it.
pub(super) struct Draft {
    pub(super) finding: Finding,
    /// The loads, coils or inputs that the finding is about, for rules of which only the first that holds is told.
    pub(super) parts: Vec<PartId>,
    /// For a note of something not checked, whose message says what is missing: the rule that wanted it.
    pub(super) wanted_by: Option<&'static Rule>,
    /// Whether it follows from what is told of another part: it is left out then, and so is what follows from it.
    pub(super) follows: bool,
    /// For a line of cause and effect: whether something is on that should be off.
    pub(super) unwanted: bool,
}

impl Report {
    /// Says which rule makes the findings from here on.
    pub(super) fn begin(&mut self, rule: &'static Rule) {
        self.rule = Some(rule);
    }

    /// A finding of the rule at work, of its severity: what will happen on site, and what to change. The caller adds
    /// at least one place and one subject to it.
    pub(super) fn find(
        &mut self,
        message: impl Into<Message>,
        fix: impl Into<Cow<'static, str>>,
    ) -> &mut Draft {
        let (name, severity) = self.rule.map_or(("", Severity::Note), |rule| (rule.name, rule.severity));
        self.add(Finding::new(name, severity, message, fix), None)
    }

    /// A note that the rule at work could not look at something, because of what `missing` says (`W2 has no length`).
    /// `fix` says what to write into the job file.
    pub(super) fn not_checked(
        &mut self,
        missing: impl Into<Message>,
        fix: impl Into<Cow<'static, str>>,
    ) -> &mut Draft {
        self.add(Finding::new("not-checked", Severity::Note, missing, fix), self.rule)
    }

    /// The parts of the job that are wired on one side only.
    pub(super) fn loose_ends(&mut self, job: &Job, circuit: &Circuit) -> Rc<Vec<LooseEnd>> {
        Rc::clone(self.loose.get_or_insert_with(|| Rc::new(loose_ends(job, circuit))))
    }

    /// The sources that feed all their parts the wrong way round.
    pub(super) fn turned_sources(&mut self, job: &Job, circuit: &Circuit) -> Rc<BTreeSet<PartId>> {
        Rc::clone(self.turned.get_or_insert_with(|| Rc::new(turned_sources(job, circuit))))
    }

    /// Whether a gap may be looked for once more: whoever has more findings than this begins with the first.
    pub(super) fn may_look_for_gap(&mut self) -> bool {
        self.looks += 1;
        self.looks <= LOOKS
    }

    /// Says that the finding that comes next names loose ends of these parts as the gap to close.
    pub(super) fn names_gap(&mut self, parts: impl IntoIterator<Item = PartId>) {
        let parts: BTreeSet<PartId> = parts.into_iter().collect();
        self.named.extend(&parts);
        self.gaps.push((self.drafts.len(), parts));
    }

    /// The number of an earlier finding that names the very gap that the one that comes next would name.
    pub(super) fn same_gap(&self) -> Option<usize> {
        let (_, gap) = self.gaps.last().filter(|(at, _)| *at == self.drafts.len())?;
        self.gaps.iter().find(|(at, other)| *at < self.drafts.len() && other == gap).map(|(at, _)| *at)
    }

    /// Whether a finding names the loose end of a part as the gap to close.
    pub(super) fn is_named_gap(&self, part: PartId) -> bool {
        self.named.contains(&part)
    }

    /// Takes down what lies on either side of a conductor that makes a short.
    pub(super) fn shorted_by(&mut self, sides: [BTreeSet<TerminalId>; 2]) {
        self.shorting.push(sides);
    }

    /// Whether nothing but a conductor that makes a short joins two terminals.
    pub(super) fn joined_by_short(&self, [a, b]: [TerminalId; 2]) -> bool {
        self.shorting
            .iter()
            .any(|[near, far]| near.contains(&a) && far.contains(&b) || near.contains(&b) && far.contains(&a))
    }

    /// The devices that an error or a danger is about.
    pub(super) fn graver_devices(&self, job: &Job) -> BTreeSet<DeviceId> {
        let grave = self.drafts.iter().filter(|draft| draft.finding.severity >= Severity::Error);
        let subjects = grave.flat_map(|draft| &draft.finding.subjects);
        subjects
            .filter_map(|subject| match *subject {
                Subject::Device(id) => Some(DeviceId(id)),
                Subject::Terminal(id) => Some(job.terminal(TerminalId(id)).device),
                Subject::Cable(_) | Subject::Core(_) => None,
            })
            .collect()
    }

    /// The parts that a rule has told of.
    pub(super) fn told_by(&self, rule: &str) -> BTreeSet<PartId> {
        let drafts = self.drafts.iter().filter(|draft| draft.finding.rule == rule);
        drafts.flat_map(|draft| draft.parts.iter().copied()).collect()
    }

    /// The terminals that a rule has told of.
    pub(super) fn terminals_told_by(&self, rule: &str) -> BTreeSet<TerminalId> {
        let of =
            |subject: Subject| if let Subject::Terminal(id) = subject { Some(TerminalId(id)) } else { None };
        self.subjects_told_by(rule).filter_map(of).collect()
    }

    /// The cores that a rule has told of.
    pub(super) fn cores_told_by(&self, rule: &str) -> BTreeSet<CoreId> {
        let of = |subject: Subject| if let Subject::Core(id) = subject { Some(CoreId(id)) } else { None };
        self.subjects_told_by(rule).filter_map(of).collect()
    }

    fn subjects_told_by(&self, rule: &str) -> impl Iterator<Item = Subject> {
        let drafts = self.drafts.iter().filter(move |draft| draft.finding.rule == rule);
        drafts.flat_map(|draft| draft.finding.subjects.iter().copied())
    }

    /// What was found so far.
    pub(super) fn drafts(&mut self) -> &mut Drafts {
        &mut self.drafts
    }

    pub(super) fn into_drafts(self) -> Drafts {
        self.drafts
    }

    /// Gives back what the last finding, to which nothing is added any more, does not need; a large job may have
    /// thousands. It shares the words of its state with those before it.
    fn pack_last(&mut self) {
        let Some(finding) = self.drafts.last_mut().map(|draft| &mut draft.finding) else { return };
        if let Cow::Owned(fix) = &mut finding.fix {
            fix.shrink_to_fit();
        }
        finding.labels.shrink_to_fit();
        finding.subjects.shrink_to_fit();
        let Some(state) = finding.state.as_mut() else { return };
        match self.states.get(state) {
            Some(known) => *state = Arc::clone(known),
            None => {
                self.states.insert(Arc::clone(state));
            }
        }
        finding.message.share(state);
    }

    fn add(&mut self, finding: Finding, wanted_by: Option<&'static Rule>) -> &mut Draft {
        self.pack_last();
        let at = self.drafts.len();
        let draft = Draft { finding, parts: Vec::new(), wanted_by, follows: false, unwanted: false };
        self.drafts.push(Box::new(draft));
        &mut self.drafts[at]
    }
}

impl Draft {
    /// Points at a place, with a few words for its caret. The first one is the main one.
    pub(super) fn at(&mut self, place: Place, text: impl Into<String>) -> &mut Self {
        let label = Label { place, text: text.into() };
        if !self.finding.labels.iter().any(|told| told.place == label.place) {
            self.finding.labels.push(label);
        }
        self
    }

    /// Names what it is about. The first one bears the flag on the drawing.
    pub(super) fn about(&mut self, subject: impl Into<Subject>) -> &mut Self {
        self.finding.subjects.push(subject.into());
        self
    }

    /// Names a load, coil or input that it is about, of which only the first mistake is told.
    pub(super) fn of(&mut self, part: PartId) -> &mut Self {
        self.parts.push(part);
        self
    }

    /// Says in which state it happens.
    pub(super) fn when(&mut self, state: impl Into<String>) -> &mut Self {
        self.finding.state = Some(Arc::new(state.into()));
        self
    }

    /// Makes it graver or milder than the rule is.
    pub(super) fn severity(&mut self, severity: Severity) -> &mut Self {
        self.finding.severity = severity;
        self
    }
}
