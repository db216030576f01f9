//! A 4–20 mA loop without a supply or with two, without a receiver, or with too few volts left for its transmitter.
//!
//! ## On site
//!
//! The reading stands at nothing, or sticks below full scale: everything looks right until the tank is really full.
//!
//! ## Why
//!
//! In a current loop exactly one thing gives power: a supply, an input card that feeds its loops, or a transmitter with
//! a supply of its own. Two of them fight or add up. What the input's resistance and the cable take at the largest
//! current is lost to the transmitter, which stops regulating below its least volts.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   G1: {type: dc-supply, volts: 12 V, amps: 1 A}        # in a loop with 250 Ω and a transmitter for 10 to 30 V
//! ```
//!
//! 12 V less 0.021 A through 250 Ω leave 6.8 V.
//!
//! ## Cure
//!
//! Put one supply into the loop, the right way round. Where too little is left, use a supply of more volts, an input of
//! fewer ohms or thicker cable.
//!
//! ## Limits
//!
//! A loop is followed from its transmitter through conductors, fuses, contacts, resistors, diodes, receivers and supplies.
//! A resistor counts as a receiver: somebody takes the volts across it. Sources in series count as one supply. The lowest
//! volts of a source count where they are stated, a diode takes 0.7 V, cores are taken at 20 °C. What other circuits take in
//! shared cores is told by `shared-return`. A loop that passes a device without sections is not checked. A receiver that is
//! wired and lies in no loop is told where one of its ends leads nowhere, both are joined, or nothing but a supply is between
//! them; an input that is left empty beside others with the same common is a note. Where a transmitter's loop on the same
//! wiring is open, passes every receiver or was not followed, that is told alone.
//!
//! ## Sources
//!
//! IEC 60381-1 for 4–20 mA; NAMUR NE 43 for 21 mA, from which on a loop tells a fault.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::solve::{Ask, DIODE_DROP, LOOP_MOST, Solver};
use crate::circuit::{Circuit, Landings, NetId, Way};
use crate::diagnostic::Severity;
use crate::netlist::{Analogue, AnalogueKind, AnalogueRole, CoreId, Current, Job, Kind, PartId, TerminalId};
use crate::units::{Celsius, Volts};

use super::report::Report;
use super::reversed_polarity::exchange_source;
use super::telling;

/// At most so many loops are followed from one transmitter.
const LOOPS: usize = 64;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let transmitter = |kind: &Kind| {
        matches!(kind, Kind::Analogue(a)
            if a.kind == AnalogueKind::Loop && a.role == Some(AnalogueRole::Transmitter))
    };
    if !job.parts.iter().any(|part| transmitter(&part.kind) || receives(&part.kind)) {
        return;
    }
    let (solver, landings, steps) = (Solver::of(job), circuit.landings(), Steps::of(job, circuit));
    let (turned, reversed) = (report.turned_sources(job, circuit), report.told_by("reversed-polarity"));
    let mut followed = Followed::default();
    for (id, part) in job.part_ids() {
        let Kind::Analogue(end) = &part.kind else { continue };
        let wired = landings.wired(end.plus) || landings.wired(end.minus);
        if !transmitter(&part.kind) || !wired {
            continue;
        }
        let look = Look { job, circuit, solver: &solver, id, end };
        if part.existing {
            followed.take(&look, &steps.loops(job, circuit, id, end));
            continue;
        }
        let name = job.part_label(id);
        if let Some(dark) = [end.plus, end.minus].iter().find_map(|t| circuit.dark_end(*t, id)) {
            let missing = format!(
                "the loop of {name} leads to {}, and what lies behind that is not known",
                job.label(dark)
            );
            let fix = "give that device sections that say what lies between its terminals";
            report.not_checked(missing, fix).at(job.device(part.device).place, "").about(part.device);
            followed.leave(&look);
            continue;
        }
        let loops = steps.loops(job, circuit, id, end);
        followed.take(&look, &loops);
        // A card whose supply is turned feeds no loop, and is told of already.
        let on_turned_card = |step: &Step| {
            let card = job.part(step.part).device;
            matches!(job.part(step.part).kind, Kind::Analogue(_))
                && reversed.iter().any(|part| job.part(*part).device == card)
        };
        if loops.0.iter().flatten().any(on_turned_card) {
            followed.leave(&look);
            continue;
        }
        match look.judge(&loops) {
            Judged::Right => {}
            Judged::Unknown(missing) => {
                for (what, fix) in missing {
                    report.not_checked(what, fix).at(job.device(part.device).place, "").about(part.device);
                }
            }
            Judged::Turned(source, message, fix) => {
                let at_source = source.and_then(|source| exchange_source(job, landings, &turned, source));
                let fix = at_source.unwrap_or(fix);
                tell(job, landings, &[end], message, fix, report);
            }
            Judged::Wrong(message, fix) => tell(job, landings, &[end], message, fix, report),
            Judged::Backwards(other, receiver) => {
                let other = job.part_label(other);
                let message =
                    format!("the current of {name} enters {other} by its minus: it reads below nothing");
                let fix = format!("exchange the two cores at {other}");
                tell(job, landings, &[receiver, end], message, fix, report);
            }
        }
    }
    left_out(job, circuit, &steps, &followed, report);
}

/// Whether a part reads the current of a loop.
fn receives(kind: &Kind) -> bool {
    matches!(kind, Kind::Analogue(a) if a.kind == AnalogueKind::Loop && a.role == Some(AnalogueRole::Receiver))
}

/// What the loops of the transmitters lead through.
#[derive(Default)]
struct Followed {
    parts: BTreeSet<PartId>,
    /// The conductor systems of transmitters whose loop could not be followed or is wrong: what is told of them may be why a
    /// receiver there is in none.
    unclear: BTreeSet<u32>,
}

impl Followed {
    fn take(&mut self, look: &Look, (loops, complete): &(Vec<Vec<Step>>, bool)) {
        let powered: Vec<_> = loops.iter().filter(|steps| !look.power(steps).is_empty()).collect();
        self.parts.extend(powered.iter().copied().flatten().map(|step| step.part));
        if !complete || loops.len() >= LOOPS || !powered.iter().any(|steps| look.is_read(steps)) {
            self.leave(look);
        }
    }

    fn leave(&mut self, look: &Look) {
        self.unclear.extend([look.end.plus, look.end.minus].map(|at| look.circuit.system_of(at)));
    }
}

/// Tells of the receivers that no loop leads through.
fn left_out(job: &Job, circuit: &Circuit, steps: &Steps, followed: &Followed, report: &mut Report) {
    let landings = circuit.landings();
    for (id, part) in job.part_ids() {
        let Kind::Analogue(end) = &part.kind else { continue };
        let ends = [end.plus, end.minus];
        let leads = ends.map(|at| telling::leads_out(job, circuit, at));
        let wired = ends.iter().any(|at| landings.wired(*at)) || leads[0] || leads[1];
        if !receives(&part.kind)
            || !wired
            || part.existing
            || followed.parts.contains(&id)
            || ends.iter().any(|at| job.unused(*at).is_some())
            || ends.iter().any(|at| followed.unclear.contains(&circuit.system_of(*at)))
        {
            continue;
        }
        let (name, place) = (job.part_label(id), job.device(part.device).place);
        let [plus, minus] = ends.map(|at| job.label(at));
        if let Some(dark) = ends.iter().find_map(|at| circuit.dark_end(*at, id)) {
            let missing =
                format!("{name} is wired to {}, and what lies behind that is not known", job.label(dark));
            let fix = "give that device sections that say what lies between its terminals";
            report.not_checked(missing, fix).at(place, "").about(part.device);
            continue;
        }
        if circuit.joined_past_fuses(end.plus, end.minus) {
            let message =
                format!("{plus} and {minus} are joined: the current goes past {name}, which reads nothing");
            tell(job, landings, &[end], message, format!("take off what joins {plus} and {minus}"), report);
            continue;
        }
        if leads == [true; 2] {
            let alone = |step: &Step| match &job.part(step.part).kind {
                Kind::Analogue(other) => other.role == Some(AnalogueRole::Receiver),
                Kind::Resistor(_) => false,
                _ => true,
            };
            let across =
                steps.walk(circuit, id, end, &alone).0.into_iter().flatten().find_map(|step| {
                    matches!(job.part(step.part).kind, Kind::Source(_)).then_some(step.part)
                });
            match across {
                Some(source) => {
                    let message = format!(
                        "{name} lies across {} with no transmitter in between: it may be destroyed",
                        job.part_label(source)
                    );
                    let fix = format!("lead the loop of a transmitter in at {plus} and out at {minus}");
                    tell(job, landings, &[end], message, fix, report);
                }
                None => {
                    let missing = format!("no transmitter in this file drives the loop of {name}");
                    let fix = "give the part that does an `analogue:` section with `part: transmitter`";
                    report.not_checked(missing, fix).at(place, "").about(part.device);
                }
            }
            continue;
        }
        // An input of several is left empty where the terminal that it shares with the others is all that leads on.
        let (open, other) = if leads[0] { (end.minus, end.plus) } else { (end.plus, end.minus) };
        let spare = !landings.wired(open) && (!landings.wired(other) || job.parts_on(other).count() > 1);
        let message =
            format!("nothing leads on from {}: {name} is in no loop and reads nothing", job.label(open));
        let fix = format!("lead a loop in at {plus} and out at {minus}, or list them under `unused:`");
        let draft = report.find(message, fix);
        for at in [other, open] {
            draft.at(telling::landing(job, landings, at), "").about(at);
        }
        if spare {
            draft.severity(Severity::Note);
        }
    }
}

/// Tells of a loop at the ends at which something lands wrong.
fn tell(
    job: &Job,
    landings: &Landings,
    ends: &[&Analogue],
    message: String,
    fix: String,
    report: &mut Report,
) {
    let draft = report.find(message, fix);
    for at in ends.iter().flat_map(|end| [end.plus, end.minus]) {
        draft.at(telling::landing(job, landings, at), "").about(at);
    }
}

/// What came of a transmitter's loop.
enum Judged<'a> {
    Right,
    /// Its supply drives it the wrong way round; what is amiss, and the fix.
    Turned(Option<PartId>, String, String),
    /// What is missing, and what to write.
    Unknown(Vec<(String, &'static str)>),
    /// The message and the fix.
    Wrong(String, String),
    /// A receiver that the current enters by its minus.
    Backwards(PartId, &'a Analogue),
}

/// One part on a loop, in by the first terminal, out by the second.
#[derive(Clone, Copy)]
struct Step {
    part: PartId,
    from: TerminalId,
    to: TerminalId,
}

/// What a loop may lead through, by conductor.
struct Steps(BTreeMap<NetId, Vec<Step>>);

impl Steps {
    fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut at: BTreeMap<NetId, Vec<Step>> = BTreeMap::new();
        let mut join = |part: PartId, a: TerminalId, b: TerminalId| {
            at.entry(circuit.net_of(a)).or_default().push(Step { part, from: a, to: b });
            at.entry(circuit.net_of(b)).or_default().push(Step { part, from: b, to: a });
        };
        for (id, part) in job.part_ids() {
            match &part.kind {
                Kind::Source(source) => join(id, source.plus, source.minus),
                Kind::Analogue(end) if end.kind == AnalogueKind::Loop => join(id, end.plus, end.minus),
                Kind::Fuse(fuse) => join(id, fuse.between[0], fuse.between[1]),
                Kind::Resistor(resistor) => join(id, resistor.between[0], resistor.between[1]),
                Kind::Diode(diode) => join(id, diode.anode, diode.cathode),
                Kind::Contact(contact) => {
                    for throw in [contact.no, contact.nc].into_iter().flatten() {
                        join(id, contact.common, throw);
                    }
                }
                _ => {}
            }
        }
        Self(at)
    }

    /// The loops of a transmitter, from its plus round to its minus, the shortest first; those past another
    /// transmitter only where there is no other. And whether all were followed.
    fn loops(&self, job: &Job, circuit: &Circuit, id: PartId, end: &Analogue) -> (Vec<Vec<Step>>, bool) {
        let others = |step: &Step| {
            !matches!(&job.part(step.part).kind,
                Kind::Analogue(other) if other.role == Some(AnalogueRole::Transmitter))
        };
        match self.walk(circuit, id, end, &others) {
            (found, true) if found.is_empty() => self.walk(circuit, id, end, &|_| true),
            found => found,
        }
    }

    fn walk(
        &self,
        circuit: &Circuit,
        id: PartId,
        end: &Analogue,
        allowed: &dyn Fn(&Step) -> bool,
    ) -> (Vec<Vec<Step>>, bool) {
        let goal = circuit.net_of(end.minus);
        let mut found = Vec::new();
        let mut queue = std::collections::VecDeque::from([Vec::new()]);
        let mut left = 20_000;
        while let Some(so_far) = queue.pop_front() {
            let here = so_far.last().map_or(end.plus, |step: &Step| step.to);
            if circuit.net_of(here) == goal {
                found.push(so_far);
                if found.len() >= LOOPS {
                    break;
                }
                continue;
            }
            for step in self.0.get(&circuit.net_of(here)).into_iter().flatten() {
                let next = circuit.net_of(step.to);
                let again = next == circuit.net_of(end.plus)
                    || so_far
                        .iter()
                        .any(|before: &Step| before.part == step.part || circuit.net_of(before.to) == next);
                if step.part == id || again || left == 0 || !allowed(step) {
                    continue;
                }
                left -= 1;
                let mut longer = so_far.clone();
                longer.push(*step);
                queue.push_back(longer);
            }
        }
        (found, left > 0)
    }
}

/// What gives power in a loop.
struct Power {
    /// Its parts; several sources in series are one supply.
    parts: Vec<PartId>,
    /// Whether it drives the loop's current the way the transmitter wants it.
    helps: bool,
}

struct Look<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    solver: &'a Solver<'a>,
    id: PartId,
    end: &'a Analogue,
}

impl Look<'_> {
    fn judge(&self, (loops, complete): &(Vec<Vec<Step>>, bool)) -> Judged<'_> {
        let name = self.job.part_label(self.id);
        if loops.is_empty() && !complete {
            let missing = format!("too many ways lead from {name} to follow its loop");
            return Judged::Unknown(vec![(missing, "measure its current on site")]);
        }
        if loops.is_empty() {
            return Judged::Wrong(
                format!("the loop of {name} is open: nothing feeds it and no current can flow"),
                format!(
                    "close it: supply plus to {}, from {} to the input, and back to the supply",
                    self.job.label(self.end.plus),
                    self.job.label(self.end.minus)
                ),
            );
        }
        let with: Vec<(&Vec<Step>, Vec<Power>)> =
            loops.iter().map(|steps| (steps, self.power(steps))).collect();
        if let Some((_, power)) = with.iter().find(|(_, power)| power.len() > 1) {
            let names: Vec<String> = power.iter().map(|p| telling::sources(self.job, &p.parts)).collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            return Judged::Wrong(
                format!(
                    "{} {} the loop of {name}, which takes one supply",
                    super::report::listed(&names),
                    if names.len() == 2 { "both feed" } else { "all feed" }
                ),
                "leave one of them in the loop".to_owned(),
            );
        }
        let Some((steps, power)) = with.iter().find_map(|(steps, power)| Some((*steps, power.first()?)))
        else {
            return Judged::Wrong(
                format!("nothing feeds the loop of {name}: it has no supply"),
                "put one supply into the loop, or use an input that feeds its loops".to_owned(),
            );
        };
        let alternating = power.parts.iter().find(|part| {
            matches!(&self.job.part(**part).kind, Kind::Source(source) if source.current == Current::Ac)
        });
        if let Some(source) = alternating {
            return Judged::Wrong(
                format!("{} gives AC, and the loop of {name} takes DC", self.job.part_label(*source)),
                "feed the loop from a DC supply".to_owned(),
            );
        }
        if !power.helps {
            return Judged::Turned(
                power.parts.first().copied(),
                format!(
                    "{} drives the loop of {name} the wrong way round: no current can flow",
                    telling::sources(self.job, &power.parts)
                ),
                format!(
                    "exchange the cores at {} and {}",
                    self.job.label(self.end.plus),
                    self.job.label(self.end.minus)
                ),
            );
        }
        if !loops.iter().any(|steps| self.is_read(steps)) {
            return Judged::Wrong(
                format!("the loop of {name} goes past every receiver: nothing reads it"),
                self.lead_through_receiver(),
            );
        }
        if let Some((receiver, end)) = self.backwards(steps) {
            return Judged::Backwards(receiver, end);
        }
        self.volts(steps, power)
    }

    /// Whether the walk from the transmitter's plus goes with the current: it does where the transmitter gives it.
    fn with_current(&self) -> bool {
        self.end.drives_self == Some(true)
    }

    /// Everything that gives power in a loop, the transmitter itself first.
    fn power(&self, steps: &[Step]) -> Vec<Power> {
        let mut all: Vec<Power> = Vec::new();
        if self.with_current() {
            all.push(Power { parts: vec![self.id], helps: true });
        }
        let mut joined = false;
        for step in steps {
            let (plus, own) = match &self.job.part(step.part).kind {
                Kind::Source(source) => (source.plus, false),
                Kind::Analogue(end) if end.drives_self == Some(true) => (end.plus, true),
                Kind::Fuse(_) => continue,
                _ => {
                    joined = false;
                    continue;
                }
            };
            // Against the current one comes into a source by its plus.
            let helps = (step.from == plus) != self.with_current();
            match all.last_mut() {
                Some(last) if joined && !own && last.helps == helps => last.parts.push(step.part),
                _ => all.push(Power { parts: vec![step.part], helps }),
            }
            joined = !own;
        }
        all
    }

    /// Whether something on a loop reads its current: a receiver, or a resistor across which its volts are taken.
    fn is_read(&self, steps: &[Step]) -> bool {
        steps.iter().any(|step| match &self.job.part(step.part).kind {
            Kind::Analogue(end) => end.role != Some(AnalogueRole::Transmitter),
            Kind::Resistor(_) => true,
            _ => false,
        })
    }

    /// What to move where the loop goes past every receiver: to the empty side of the one on whose other side it lies.
    fn lead_through_receiver(&self) -> String {
        let landings = self.circuit.landings();
        let mut found = self.job.part_ids().filter_map(|(_, part)| {
            let Kind::Analogue(receiver) = &part.kind else { return None };
            let reads = receiver.kind == AnalogueKind::Loop
                && receiver.role != Some(AnalogueRole::Transmitter)
                && !part.existing;
            let ways = [
                (self.end.minus, receiver.minus, receiver.plus),
                (self.end.plus, receiver.plus, receiver.minus),
            ];
            ways.into_iter()
                .filter(|_| reads)
                .find(|(at, on, open)| self.circuit.joined_past_fuses(*at, *on) && !landings.wired(*open))
        });
        match (found.next(), found.next()) {
            (Some((at, on, open)), None) => {
                let [at, on, open] = [at, on, open].map(|at| self.job.label(at));
                format!("bring {at} to {open}, on which nothing is, and not to {on}")
            }
            _ => format!(
                "lead it from {} through the input that is to read it",
                self.job.label(self.end.minus)
            ),
        }
    }

    /// A receiver that the current enters by its minus.
    fn backwards(&self, steps: &[Step]) -> Option<(PartId, &Analogue)> {
        steps.iter().find_map(|step| match &self.job.part(step.part).kind {
            Kind::Analogue(end) if end.drives_self != Some(true) => {
                let enters = if self.with_current() { step.from } else { step.to };
                (enters == end.minus).then_some((step.part, &**end))
            }
            _ => None,
        })
    }

    /// What is left for the transmitter at the largest current.
    fn volts(&self, steps: &[Step], power: &Power) -> Judged<'_> {
        let name = self.job.part_label(self.id);
        let mut missing: Vec<(String, &'static str)> = Vec::new();
        let needs = match (self.with_current(), self.end.volts) {
            (true, _) => 0.0,
            (false, Some(rated)) => rated.range.low.0,
            (false, None) => {
                missing.push((
                    format!("{name} does not say its volts"),
                    "write `volts:` of its loop, as its data sheet says",
                ));
                0.0
            }
        };
        let mut given = 0.0;
        for &part in &power.parts {
            let volts = match &self.job.part(part).kind {
                Kind::Source(source) => source.low.or(source.volts),
                Kind::Analogue(end) => end.volts.map(|rated| rated.nominal),
                _ => None,
            };
            match volts {
                Some(volts) => given += volts.0,
                None => {
                    let what = self.job.part_label(part);
                    missing
                        .push((format!("{what} does not say what volts it feeds"), "write `volts:` for it"));
                }
            }
        }
        let mut ohms = 0.0;
        let mut lost = 0.0;
        for step in steps {
            match &self.job.part(step.part).kind {
                Kind::Analogue(end) => match end.ohms {
                    Some(own) => ohms += own.0,
                    None => {
                        let what = self.job.part_label(step.part);
                        missing.push((
                            format!("{what} does not say its ohms"),
                            "write `ohms:` of its loop input",
                        ));
                    }
                },
                Kind::Resistor(resistor) => ohms += resistor.ohms.map_or(0.0, |ohms| ohms.0),
                Kind::Diode(_) => lost += DIODE_DROP,
                _ => {}
            }
        }
        let (cable, unknown) = self.cable(steps);
        ohms += cable;
        let known = missing.is_empty();
        missing.extend(unknown);
        let left = given - lost - LOOP_MOST.0 * ohms;
        if known && left < needs - 1e-9 {
            return Judged::Wrong(
                format!(
                    "at 21 mA {} of {} are left for {name}, which needs {}",
                    Volts((left.max(0.0) * 10.0).round() / 10.0),
                    Volts(given),
                    Volts(needs)
                ),
                "use a supply of more volts, an input of fewer ohms or thicker cores".to_owned(),
            );
        }
        if missing.is_empty() { Judged::Right } else { Judged::Unknown(missing) }
    }

    /// The ohms of the conductors round a loop, and of which cables they are not known.
    fn cable(&self, steps: &[Step]) -> (f64, Vec<(String, &'static str)>) {
        let rest = self.circuit.at_rest();
        let shut = |_: PartId| false;
        let mut ohms = 0.0;
        let mut missing = Vec::new();
        let mut from = self.end.plus;
        let ends = steps.iter().map(|step| (step.from, step.to)).chain([(self.end.minus, self.end.minus)]);
        for (to, next) in ends {
            if from != to {
                ohms += self.solver.ohms(from, to, &Ask::new(&shut)).map_or(0.0, |ohms| ohms.0);
                let path = self.circuit.path(self.job, &rest, Way::Closed, from, to).unwrap_or_default();
                for core in path.cores() {
                    missing.extend(unknown(self.job, self.solver, core));
                }
            }
            from = next;
        }
        missing.dedup();
        (ohms, missing)
    }
}

/// What is missing to know the resistance of a core, and what to write.
pub(super) fn unknown(job: &Job, solver: &Solver, core: CoreId) -> Option<(String, &'static str)> {
    if solver.core_ohms(core, Celsius(20.0)).is_some() {
        return None;
    }
    let cable = job.cable(job.core(core).cable);
    Some(if cable.length.is_none() {
        (format!("{} has no length", cable.name), "write `length:` for it")
    } else {
        (format!("{} has no conductor size", cable.name), "state `area:` in its cable data")
    })
}
