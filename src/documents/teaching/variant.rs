//! One job made into many: other lengths, other cores, parts turned round, contacts used by their other throw, and what
//! is put wrong.

use std::collections::BTreeMap;

use super::dice::Dice;
use super::text::{self, Edit, Lengths, ends};
use crate::checks;
use crate::circuit::Circuit;
use crate::diagnostic::Severity;
use crate::netlist::{
    CableId, Colour, Condition, Contact, Contacting, CoreId, End, Form, Job, Kind, Meaning, Part, PartId,
    StateWord, TerminalId,
};
use crate::units::Metres;

/// A job with the edits that make its file from the file it came from.
#[derive(Clone)]
pub struct Variant {
    /// The job.
    pub job: Job,
    /// The edits.
    pub edits: Vec<Edit>,
}

/// Lengths are multiplied by one of these.
const FACTORS: [f64; 7] = [0.6, 0.7, 0.8, 0.9, 1.1, 1.2, 1.3];

/// What is wrong with a job: how many places each rule names above a note.
struct Wrong(BTreeMap<&'static str, usize>);

impl Wrong {
    fn of(job: &Job) -> Self {
        let mut places = BTreeMap::new();
        for finding in checks::untried(job, &Circuit::of(job)) {
            if finding.accepted.is_none() && finding.severity >= Severity::Warning {
                *places.entry(finding.rule).or_default() += finding.labels.len();
            }
        }
        Self(places)
    }

    /// Whether nothing is wrong that is not wrong in the other as well. A mistake is no match for one of another rule.
    fn is_within(&self, other: &Self) -> bool {
        self.0.iter().all(|(rule, places)| other.0.get(rule).is_some_and(|known| places <= known))
    }
}

/// A change that makes another exercise.
#[derive(Clone, Copy)]
enum Step {
    /// A cable of another length.
    Length(CableId, f64),
    /// Two cores of a cable, one of them spare, change places.
    Cores(CoreId, CoreId),
    /// What goes to two terminals of a part that may be turned round, or to two ways of a strip, changes places.
    Turn(TerminalId, TerminalId),
    /// A contact is used by its other throw, and what must happen is told the other way round.
    Throw(PartId),
}

/// The job with other lengths, other cores, parts turned round and contacts used by their other throw. No variation that
/// brings a new fault is kept. `lengths` gives where each cable's length is written.
#[must_use]
pub fn varied(job: &Job, lengths: &Lengths, dice: &mut Dice) -> Variant {
    let mut steps: Vec<Step> = Vec::new();
    for (id, cable) in job.cable_ids() {
        let factor = dice.one(&FACTORS).copied().unwrap_or(1.0);
        if cable.length.is_some_and(|length| length.0 >= 1.0) {
            steps.push(Step::Length(id, factor));
        }
    }
    let mut perhaps: Vec<Step> =
        job.cable_ids().filter_map(|(id, _)| exchanged_cores(job, id, dice)).collect();
    perhaps.extend(turns(job));
    perhaps.extend(throws(job));
    steps.extend(perhaps.into_iter().filter(|_| dice.below(2) == 0));
    let mut variant = Variant { job: job.clone(), edits: Vec::new() };
    put(&mut variant, &steps, lengths, &Wrong::of(job));
    variant
}

/// Puts steps into a variant: all together where that brings nothing new, else each half for itself.
fn put(variant: &mut Variant, steps: &[Step], lengths: &Lengths, plain: &Wrong) {
    if steps.is_empty() {
        return;
    }
    let mut tried = variant.clone();
    steps.iter().for_each(|step| tried.take(*step, lengths));
    if Wrong::of(&tried.job).is_within(plain) {
        *variant = tried;
    } else if steps.len() > 1 {
        let (first, second) = steps.split_at(steps.len() / 2);
        put(variant, first, lengths, plain);
        put(variant, second, lengths, plain);
    }
}

impl Variant {
    fn take(&mut self, step: Step, lengths: &Lengths) {
        match step {
            Step::Length(id, factor) => {
                let name = self.job.cable(id).name.clone();
                if let (Some(cable), Some(place)) =
                    (self.job.cables.get_mut(id.index()), lengths.get(name.as_str()))
                {
                    let old = cable.length.map_or(1.0, |length| length.0);
                    let new = Metres((old * factor * 2.0).round().max(1.0) / 2.0);
                    cable.length = Some(new);
                    text::changed(&mut self.edits, vec![(place.clone(), new.to_string())]);
                }
            }
            Step::Cores(a, b) => {
                let [first, second] = [a, b].map(|core| self.job.core(core).ends.map(|end| end.to));
                self.rewire(a, second);
                self.rewire(b, first);
            }
            Step::Turn(a, b) => self.exchange(a, b),
            Step::Throw(id) => self.throw(id),
        }
    }

    /// Gives a core other ends, in the job and in its file.
    fn rewire(&mut self, core: CoreId, to: [End; 2]) {
        text::changed(&mut self.edits, ends(&self.job, core, to));
        set(&mut self.job, core, to);
    }

    /// What goes to one terminal goes to the other, and the other way round.
    fn exchange(&mut self, a: TerminalId, b: TerminalId) {
        let turned = |to: End| match to {
            End::Terminal(t) if t == a => End::Terminal(b),
            End::Terminal(t) if t == b => End::Terminal(a),
            to => to,
        };
        let cores: Vec<(CoreId, [End; 2])> =
            self.job.core_ids().map(|(id, core)| (id, core.ends.map(|end| end.to))).collect();
        for (core, to) in cores {
            if to.map(turned) != to {
                self.rewire(core, to.map(turned));
            }
        }
    }

    /// Uses a contact by its other throw. Where a line says what must happen when it is operated, the line now says it
    /// of the contact at rest, and an input that it works is set for the other kind.
    fn throw(&mut self, id: PartId) {
        let Kind::Contact(contact) = &self.job.part(id).kind else { return };
        let (Some(no), Some(nc)) = (contact.no, contact.nc) else { return };
        self.exchange(no, nc);
        let device = self.job.part(id).device;
        let mut worked: Vec<PartId> = Vec::new();
        for line in &mut self.job.cause_and_effect {
            let mut turned = false;
            for condition in line.first.iter_mut().chain(&mut line.when) {
                if condition.device != device || condition.part.is_some_and(|part| part != id) {
                    continue;
                }
                condition.state = match condition.state {
                    StateWord::Operated => StateWord::AtRest,
                    StateWord::AtRest => StateWord::Operated,
                    other => other,
                };
                turned = true;
            }
            if turned {
                worked.extend(line.then.iter().filter_map(|condition| condition.part));
            }
        }
        let lines = self.job.cause_and_effect.iter();
        for condition in lines.flat_map(|line| line.first.iter().chain(&line.when)) {
            if condition.device == device {
                let words = text::quoted(&written(&self.job, condition));
                text::changed(&mut self.edits, vec![(condition.place.bytes(), words)]);
            }
        }
        for setting in self.job.devices.iter_mut().flat_map(|device| &mut device.settings) {
            if let (Meaning::Contact(kind), Some(part)) = (&setting.meaning, setting.part)
                && worked.contains(&part)
            {
                let (kind, word) = match kind {
                    Contacting::NormallyOpen => (Contacting::NormallyClosed, "normally-closed"),
                    Contacting::NormallyClosed => (Contacting::NormallyOpen, "normally-open"),
                };
                setting.meaning = Meaning::Contact(kind);
                setting.value = word.to_owned();
                text::changed(&mut self.edits, vec![(setting.place.bytes(), word.to_owned())]);
            }
        }
    }
}

/// A condition on a contact as the job file writes it.
fn written(job: &Job, condition: &Condition) -> String {
    let device = &job.device(condition.device).name;
    let name = match condition.part {
        Some(part) => format!("{device}.{}", job.part(part).name),
        None => device.to_string(),
    };
    let state = if condition.state == StateWord::AtRest { "at rest" } else { "operated" };
    format!("{name} {state}")
}

/// Two cores of a cable, one of them spare, neither of a colour that is kept for a pole.
fn exchanged_cores(job: &Job, cable: CableId, dice: &mut Dice) -> Option<Step> {
    let spare = |core: &CoreId| job.core(*core).ends.iter().all(|end| end.to.terminal().is_none());
    let polar = |core: &CoreId| {
        let colours = &job.core(*core).colours;
        colours.contains(&Colour::Red) || colours.contains(&Colour::Black)
    };
    let all = job.cable(cable).cores.iter().map(CoreId);
    let (spares, used): (Vec<CoreId>, Vec<CoreId>) =
        all.filter(|core| job.core(*core).mentioned && !polar(core)).partition(spare);
    Some(Step::Cores(dice.one(&spares).copied()?, dice.one(&used).copied()?))
}

/// Whether everything that goes to a terminal is a core that the file mentions, so that it can be moved.
fn movable(job: &Job, terminal: TerminalId) -> bool {
    let on = |end: &crate::netlist::CoreEnd| end.to.terminal() == Some(terminal);
    let linked = job.links.iter().any(|link| link.ends.contains(&terminal));
    let unsaid = job.cores.iter().any(|core| !core.mentioned && core.ends.iter().any(on));
    job.unused(terminal).is_none() && !linked && !unsaid
}

/// Parts that have two terminals alike, and neighbouring ways of strips. Whether it makes a difference the rules say.
fn turns(job: &Job) -> Vec<Step> {
    let mut all = Vec::new();
    for part in &job.parts {
        let pair = match &part.kind {
            Kind::Load(load) if !load.polarised => [load.plus, load.minus],
            Kind::Fuse(fuse) => fuse.between,
            Kind::Resistor(resistor) => resistor.between,
            Kind::Contact(contact) => match (contact.no, contact.nc) {
                (Some(throw), None) | (None, Some(throw)) => [contact.common, throw],
                _ => continue,
            },
            _ => continue,
        };
        if job.device(part.device).parts.len() == 1 {
            all.push(pair);
        }
    }
    for device in job.devices.iter().filter(|device| device.form == Form::Strip) {
        let ways: Vec<TerminalId> = device.terminals.iter().map(TerminalId).collect();
        all.extend(ways.chunks(2).filter_map(|pair| <[TerminalId; 2]>::try_from(pair).ok()));
    }
    // Where the part says what each end is for, it is not turned.
    all.retain(|[a, b]| job.terminal(*a).label == job.terminal(*b).label || job.terminal(*b).label.is_none());
    all.retain(|pair| pair.iter().all(|terminal| movable(job, *terminal)));
    all.into_iter().map(|[a, b]| Step::Turn(a, b)).collect()
}

/// Contacts that change over, of which one throw is used, and which may be used by the other.
fn throws(job: &Job) -> Vec<Step> {
    let used = |terminal: TerminalId| {
        job.cores.iter().flat_map(|core| &core.ends).any(|end| end.to.terminal() == Some(terminal))
    };
    let fit = |id: PartId, part: &Part| match &part.kind {
        Kind::Contact(contact) => match (contact.no, contact.nc) {
            (Some(no), Some(nc)) => {
                used(no) != used(nc)
                    && movable(job, no)
                    && movable(job, nc)
                    && works_set_inputs(job, id)
                    && !guards(job, part, contact)
            }
            _ => false,
        },
        _ => false,
    };
    job.part_ids().filter(|(id, part)| fit(*id, part)).map(|(id, _)| Step::Throw(id)).collect()
}

/// Whether all that a contact does is to work inputs for which it is set of what kind it is: the setting is turned with
/// it, so that the device takes it as before. The other throw of any other contact turns the sense of the wiring.
fn works_set_inputs(job: &Job, id: PartId) -> bool {
    let device = job.part(id).device;
    let names = |at: &Condition| at.device == device && at.part.is_none_or(|part| part == id);
    let set = |at: &Condition| {
        let mut settings = job.device(at.device).settings.iter();
        at.part.is_some()
            && settings.any(|set| set.part == at.part && matches!(set.meaning, Meaning::Contact(_)))
    };
    let mut lines =
        job.cause_and_effect.iter().filter(|line| line.first.iter().chain(&line.when).any(names)).peekable();
    lines.peek().is_some() && lines.all(|line| line.then.iter().all(set))
}

/// Whether a contact is there for safety: a break-glass, an emergency stop, what frees a lock, a tamper contact.
fn guards(job: &Job, part: &Part, contact: &Contact) -> bool {
    const SYMBOLS: [&str; 2] = ["act-break-glass", "act-emergency"];
    let device = job.device(part.device);
    let tamper = |words: &str| words.to_lowercase().contains("tamper");
    let label = |at: TerminalId| job.terminal(at).label.as_ref().is_some_and(|label| tamper(label));
    contact.unlocks.is_some()
        || device.symbol.as_ref().is_some_and(|symbol| SYMBOLS.contains(&symbol.as_str()))
        || tamper(&part.name)
        || device.title.as_ref().is_some_and(|title| tamper(title))
        || part.kind.terminals().into_iter().any(label)
}

/// Gives a core other ends.
pub fn set(job: &mut Job, core: CoreId, to: [End; 2]) {
    if let Some(core) = job.cores.get_mut(core.index()) {
        for (end, to) in core.ends.iter_mut().zip(to) {
            end.to = to;
        }
    }
}

/// Puts mistakes into a sound job: an end on the neighbouring terminal, two cores exchanged at one end, a spare core
/// left bare. Each is a core, the ends that it gets, and what is wrong, in a sentence. `counts` says whether the job with
/// it is worse than without.
#[must_use]
pub fn mistakes(job: &Job, count: usize, dice: &mut Dice, counts: &dyn Fn(&Rewired) -> bool) -> Vec<Mistake> {
    let mut made: Vec<Mistake> = Vec::new();
    let mut touched: Vec<CoreId> = Vec::new();
    let cores = dice.shuffled(job.core_ids().map(|(id, _)| id).collect());
    let mut kind = dice.below(3);
    for core in cores {
        if made.len() == count {
            break;
        }
        if touched.contains(&core) || !job.core(core).mentioned {
            continue;
        }
        for turn in 0..3 {
            if let Some((changes, words)) = mistake(job, core, (kind + turn) % 3, &touched)
                && counts(&changes)
            {
                touched.extend(changes.iter().map(|(core, _)| *core));
                made.push((changes, words));
                kind += 1;
                break;
            }
        }
    }
    made
}

/// Cores with the ends that they get.
pub type Rewired = [(CoreId, [End; 2])];

/// The cores that a mistake concerns with the ends that it gives them, and what is wrong, in a sentence.
pub type Mistake = (Vec<(CoreId, [End; 2])>, String);

fn mistake(job: &Job, core: CoreId, kind: usize, touched: &[CoreId]) -> Option<Mistake> {
    let [near, far] = job.core(core).ends.map(|end| end.to);
    let label = job.core_label(core);
    match (kind, far) {
        (0, End::Terminal(at)) => {
            let device = job.device(job.terminal(at).device);
            let next = [at.0 + 1, at.0.wrapping_sub(1)]
                .into_iter()
                .find(|t| device.terminals.iter().any(|own| own == *t))?;
            let next = TerminalId(next);
            let words = format!("{label} is on {} and belongs on {}", job.label(next), job.label(at));
            Some((vec![(core, [near, End::Terminal(next)])], words))
        }
        (1, End::Terminal(at)) => {
            let cable = job.cable(job.core(core).cable);
            let other = cable.cores.iter().map(CoreId).find(|other| {
                *other != core
                    && job.core(*other).mentioned
                    && !touched.contains(other)
                    && job.core(*other).ends[1].to.terminal().is_some_and(|t| t != at)
            })?;
            let [with, there] = job.core(other).ends.map(|end| end.to);
            let words = format!("{label} and {} are exchanged at their far ends", job.core_label(other));
            Some((vec![(core, [near, there]), (other, [with, far])], words))
        }
        (2, End::Safe(_)) => {
            Some((vec![(core, [near, End::Bare])], format!("{label} was left bare at its far end")))
        }
        _ => None,
    }
}
