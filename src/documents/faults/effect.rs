//! What is seen of a job, at rest and under every line of cause and effect.

use std::collections::BTreeMap;

use super::super::stand::{Pose, Spread, Stand};
use super::super::test_sheet::charged;
use super::Fault;
use super::inject::inject;
use crate::circuit::Circuit;
use crate::circuit::solve::{LOOP, LOOP_MOST, Solution, Trouble};
use crate::netlist::{CauseLine, Job, Kind, LoopValue, PartId, TerminalId};
use crate::source::small;
use crate::units::{self, Rated};

/// A fuse opens above so many times its rating. IEC 60127-2: at 2.1 times it opens within 30 minutes (from memory).
const BLOWS: f64 = 2.1;

/// A supply that gives up at its limit does so above so many times its rating. Our own choice.
const GIVES_UP: f64 = 1.5;

/// A supply whose amps are not stated gives up at a load of fewer ohms. Our own choice.
const SHORT_OF_SUPPLY: f64 = 0.5;

/// Fuses and supplies that go one after the other in one condition; more than these is no single fault.
const MOST_TRIPS: usize = 4;

/// So many conditions are always named.
const FEW: usize = 3;

/// Below so many amps a 4–20 mA input tells of a fault (NAMUR NE 43).
const LOOP_BROKEN: f64 = 0.0036;

/// A volt-free input counts as closed up to so many ohms. Our own choice.
const CLOSED: f64 = 1000.0;

/// The complaint where nothing is seen.
pub const UNSEEN: &str = "nothing is seen under any line of cause and effect";

/// What is to be known of the chart of a job without lines of cause and effect.
pub const AT_REST_ONLY: &str =
    "the job states no cause_and_effect: what is seen of a fault is looked for at rest only";

/// What is seen of one load, input or loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Seen {
    /// A load below half of its volts.
    Dead,
    /// A load between half of its volts and its range.
    Weak,
    /// A load in its range.
    Powered,
    /// A load above its range.
    Over,
    /// A load fed the other way round.
    Reverse,
    /// An input.
    Inactive,
    /// An input.
    Active,
    /// A volt-free input.
    Open,
    /// A volt-free input.
    Closed,
    /// A 4–20 mA input.
    NoCurrent,
    /// A 4–20 mA input.
    OnScale,
    /// A 4–20 mA input.
    TooMuch,
    /// A watched loop as at rest.
    Rest,
    /// A watched loop in alarm.
    Alarm,
    /// A watched loop tampered with.
    Tamper,
    /// A watched loop with a value that its panel does not know.
    Unknown,
}

impl Seen {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Dead => "dead",
            Self::Weak => "weak",
            Self::Powered => "powered",
            Self::Over => "overfed",
            Self::Reverse => "reversed",
            Self::Inactive => "not active",
            Self::Active => "active",
            Self::Open => "open",
            Self::Closed => "closed",
            Self::NoCurrent => "below 4 mA",
            Self::OnScale => "on its scale",
            Self::TooMuch => "above 20 mA",
            Self::Rest => "as at rest",
            Self::Alarm => "in alarm",
            Self::Tamper => "in tamper",
            Self::Unknown => "at a value that is none of its own",
        }
    }
}

/// What is seen in one condition: every observed part in order, the fuses and supplies that go, and whether the relays
/// come to rest.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Glance {
    /// The observed parts.
    pub seen: Vec<Seen>,
    /// Fuses that blow and supplies that give up.
    pub tripped: Vec<PartId>,
    /// Whether everything comes to stand still.
    pub still: bool,
}

/// What is seen in all conditions.
pub type Signature = Vec<Glance>;

/// What is looked at, and under which conditions.
pub struct Scene<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    /// The parts that are seen: loads, inputs, volt-free and 4–20 mA inputs and watched loops that are asked for.
    pub observed: Vec<PartId>,
    /// The conditions in words, at rest first.
    pub conditions: Vec<String>,
    puts: Vec<Put<'a>>,
}

/// How a condition is brought about.
enum Put<'a> {
    /// Everything at rest, without these sources.
    Rest(Vec<PartId>),
    /// The cause of a line.
    Line(&'a CauseLine),
}

/// The conductor volts of one condition, by terminal: those of the first turn, and the lowest and highest of all turns of
/// a charger and what it charges.
pub(super) type Volts = Vec<Spread>;

impl<'a> Scene<'a> {
    /// The scene of a job.
    #[must_use]
    pub fn of(job: &'a Job, circuit: &'a Circuit) -> Self {
        let observed =
            job.part_ids().filter(|(_, part)| !part.existing).filter(|(_, part)| match &part.kind {
                Kind::Load(_) | Kind::Input(_) | Kind::DryInput(_) | Kind::Supervised(_) => true,
                Kind::Analogue(end) => end.reads_loop() && !end.is_silent(),
                _ => false,
            });
        let observed = observed.map(|(id, _)| id).collect();
        let stand = Stand::of(job, circuit);
        let mut conditions = vec!["at rest".to_owned()];
        let mut known: Vec<Pose> = vec![stand.rest()];
        let mut puts = vec![Put::Rest(Vec::new())];
        for line in &job.cause_and_effect {
            let Some(pose) = stand.cause(line) else { continue };
            let same = |other: &Pose| other.state == pose.state && other.off == pose.off;
            if !conditions.contains(&pose.words) && !known.iter().any(same) {
                conditions.push(pose.words.clone());
                known.push(pose);
                puts.push(Put::Line(line));
            }
        }
        // A battery shows by itself what it is good for while its charger is off, and only then.
        let chargers = stand.chargers();
        if !chargers.is_empty() {
            let pose = stand.without(&chargers).rest();
            if !known.iter().any(|other| other.state == pose.state && other.off == pose.off) {
                let names: Vec<String> = chargers.iter().map(|id| job.part_label(*id)).collect();
                conditions.push(format!("with {} off", names.join(" and ")));
                puts.push(Put::Rest(chargers));
            }
        }
        Self { job, circuit, observed, conditions, puts }
    }

    /// What is seen, and the volts at every terminal in every condition.
    pub(super) fn measured(
        &self,
        fault: Option<Fault>,
        references: &[Option<TerminalId>],
    ) -> Option<(Signature, Vec<Volts>)> {
        let faulty = match fault {
            Some(fault) => Some(inject(self.job, fault)?),
            None => None,
        };
        Some(self.measured_in(faulty.as_ref().unwrap_or(self.job), references))
    }

    /// The same, with the volts reaching up to those that charged batteries give.
    pub(super) fn measured_charged(
        &self,
        fault: Option<Fault>,
        references: &[Option<TerminalId>],
    ) -> Option<(Signature, Vec<Volts>)> {
        let (signature, mut volts) = self.measured(fault, references)?;
        let mut full = match fault {
            Some(fault) => inject(self.job, fault)?,
            None => self.job.clone(),
        };
        let mut batteries = false;
        for part in &mut full.parts {
            if let Kind::Source(source) = &mut part.kind
                && let (true, Some(volts)) = (source.battery, source.volts)
            {
                batteries = true;
                source.volts = Some(units::Volts(charged(source, volts.0)));
            }
        }
        if batteries {
            let (_, full) = self.measured_in(&full, references);
            for (known, full) in volts.iter_mut().flatten().zip(full.iter().flatten()) {
                known.low = known.low.min(full.low);
                known.high = known.high.max(full.high);
            }
        }
        Some((signature, volts))
    }

    fn measured_in(&self, job: &Job, references: &[Option<TerminalId>]) -> (Signature, Vec<Volts>) {
        let mut volts: Vec<Volts> = Vec::with_capacity(self.conditions.len());
        let mut keep = |turn: usize, solution: &Solution| {
            let at = |(n, reference): (usize, &Option<TerminalId>)| {
                let terminal = TerminalId(small(n));
                reference
                    .and_then(|reference| solution.between(terminal, reference))
                    .map_or(0.0, |volts| volts.0)
            };
            let read = references.iter().enumerate().map(at);
            match volts.last_mut().filter(|_| turn > 0) {
                Some(known) => known.iter_mut().zip(read).for_each(|(known, volts)| {
                    known.low = known.low.min(volts);
                    known.high = known.high.max(volts);
                }),
                None => volts.push(read.map(|v| Spread { expect: v, low: v, high: v }).collect()),
            }
        };
        let signature = self.all(job, &mut keep);
        (signature, volts)
    }

    fn all(&self, job: &Job, keep: &mut dyn FnMut(usize, &Solution)) -> Signature {
        let stand = Stand::of(job, self.circuit);
        self.puts.iter().map(|put| self.glance(&stand, put, keep)).collect()
    }

    /// One condition. What is overloaded goes, one at a time, and the circuit is put up again without it.
    fn glance(&self, stand: &Stand, put: &Put, keep: &mut dyn FnMut(usize, &Solution)) -> Glance {
        let mut tripped: Vec<PartId> = Vec::new();
        let (line, off) = match put {
            Put::Rest(off) => (None, off.as_slice()),
            Put::Line(line) => (Some(line), [].as_slice()),
        };
        let mut without = (!off.is_empty()).then(|| stand.without(off));
        loop {
            let stand = without.as_ref().unwrap_or(stand);
            let pose = line.and_then(|line| stand.cause(line)).unwrap_or_else(|| stand.rest());
            let looked = stand.look(&pose, |solution| {
                let overloaded = overloaded(stand.job, solution);
                if let Some(id) = overloaded.filter(|id| !tripped.contains(id) && tripped.len() < MOST_TRIPS)
                {
                    return Err(id);
                }
                keep(0, solution);
                Ok(self.observed.iter().map(|id| seen(stand, &pose, solution, *id)).collect())
            });
            match looked {
                Ok(seen) => {
                    for turn in 1..stand.turns(&pose) {
                        stand.look_with(&pose, LOOP[1], turn, |solution| keep(turn, solution));
                    }
                    tripped.sort_unstable();
                    return Glance { seen, tripped, still: pose.still };
                }
                Err(id) => {
                    tripped.push(id);
                    without = Some(stand.without(&[off, &tripped].concat()));
                }
            }
        }
    }

    /// What is seen otherwise than in the sound job, in words: `K1 dead always; A1.START open with K1.OUT1 operated`.
    #[must_use]
    pub fn complaint(&self, sound: &Signature, now: &Signature) -> String {
        // What is wrong, in which conditions, and of which parts.
        let mut wrong: BTreeMap<PartId, BTreeMap<Seen, Vec<usize>>> = BTreeMap::new();
        let mut trips: BTreeMap<PartId, Vec<usize>> = BTreeMap::new();
        let mut chatter = Vec::new();
        for (n, (sound, now)) in sound.iter().zip(now).enumerate() {
            for (id, (was, is)) in self.observed.iter().zip(sound.seen.iter().zip(&now.seen)) {
                if was != is {
                    wrong.entry(*id).or_default().entry(*is).or_default().push(n);
                }
            }
            for id in now.tripped.iter().filter(|id| !sound.tripped.contains(id)) {
                trips.entry(*id).or_default().push(n);
            }
            if sound.still && !now.still {
                chatter.push(n);
            }
        }
        // What is said of one and of several, when, and of which parts.
        let mut clauses: Vec<([&str; 2], String, Vec<String>)> = Vec::new();
        let mut say = |what, when: String, name| match clauses
            .iter_mut()
            .find(|(known, then, _)| *known == what && *then == when)
        {
            Some((_, _, names)) => names.push(name),
            None => clauses.push((what, when, vec![name])),
        };
        for (id, conditions) in trips {
            let verbs = match &self.job.part(id).kind {
                Kind::Fuse(_) => ["blows", "blow"],
                Kind::Source(source) if source.battery && source.fused.is_none() => {
                    ["is shorted and may burn", "are shorted and may burn"]
                }
                _ => ["gives up", "give up"],
            };
            say(verbs, self.when(&conditions, &conditions), self.job.part_label(id));
        }
        for (n, id) in self.observed.iter().enumerate() {
            for (is, conditions) in wrong.remove(id).into_iter().flatten() {
                let so = |glance: &Glance| glance.seen.get(n) == Some(&is);
                let holds: Vec<usize> = (0..now.len()).filter(|c| now.get(*c).is_some_and(so)).collect();
                say([is.word(); 2], self.when(&conditions, &holds), self.job.part_label(*id));
            }
        }
        let words = clauses.into_iter().map(|(what, when, names)| {
            format!("{} {} {when}", names.join(", "), what[usize::from(names.len() > 1)])
        });
        let mut words: Vec<String> = words.collect();
        if !chatter.is_empty() {
            words.push(format!("relays chatter {}", self.when(&chatter, &chatter)));
        }
        if words.is_empty() {
            return UNSEEN.to_owned();
        }
        words.join("; ")
    }

    /// When something is seen: the conditions in which it is wrong, or, of more than a few where that is shorter, those in
    /// which it is not seen, whether it would be right there or not.
    fn when(&self, wrong: &[usize], holds: &[usize]) -> String {
        let words = |conditions: &[usize]| {
            let words = conditions.iter().filter_map(|n| self.conditions.get(*n)).map(String::as_str);
            words.collect::<Vec<_>>().join(", or ")
        };
        let others: Vec<usize> = (0..self.conditions.len()).filter(|n| !holds.contains(n)).collect();
        match (wrong.len(), others.len()) {
            (all, _) if all == self.conditions.len() => "always".to_owned(),
            (..=FEW, _) => words(wrong),
            (_, 0) => "always".to_owned(),
            (many, few) if few < many => format!("always except {}", words(&others)),
            _ => words(wrong),
        }
    }
}

/// The fuse that is most overloaded, or else the supply.
fn overloaded(job: &Job, solution: &Solution) -> Option<PartId> {
    let mut worst: Option<(bool, f64, PartId)> = None;
    let mut weigh = |fuse: bool, share: f64, id: PartId| {
        if worst.is_none_or(|(was_fuse, was, _)| (fuse, share) > (was_fuse, was)) {
            worst = Some((fuse, share, id));
        }
    };
    for (id, part) in job.part_ids() {
        let amps = || solution.part_amps(id).map_or(0.0, |amps| amps.0);
        match &part.kind {
            Kind::Fuse(fuse) => {
                let share = fuse.amps.map_or(0.0, |rating| amps().abs() / rating.0);
                if share > BLOWS {
                    weigh(true, share, id);
                }
            }
            Kind::Source(source) => {
                let own = match (source.amps, source.volts) {
                    (Some(rating), _) => amps() / rating.0 / GIVES_UP,
                    (None, Some(volts)) => amps() * SHORT_OF_SUPPLY / volts.0,
                    (None, None) => 0.0,
                };
                let fused = source.fused.map_or(0.0, |rating| amps() / rating.0 / BLOWS);
                if own.max(fused) > 1.0 {
                    weigh(false, own.max(fused), id);
                }
            }
            _ => {}
        }
    }
    for trouble in solution.troubles() {
        if let Trouble::Contradiction(sources) = trouble {
            for id in sources {
                weigh(false, f64::MAX, *id);
            }
        }
    }
    worst.map(|(_, _, id)| id)
}

fn seen(stand: &Stand, pose: &Pose, solution: &Solution, id: PartId) -> Seen {
    let job = stand.job;
    match &job.part(id).kind {
        Kind::Load(load) => {
            let volts = solution.between(load.plus, load.minus).map_or(0.0, |volts| volts.0);
            // A meter on AC shows no sign, and a lamp knows none.
            let ac = stand.is_ac(load.plus);
            fed(if ac { volts.abs() } else { volts }, load.volts, load.polarised)
        }
        Kind::Input(_) if solution.active(id) => Seen::Active,
        Kind::Input(_) => Seen::Inactive,
        Kind::DryInput(dry) => {
            let ohms = stand.ohms(pose, dry.between[0], dry.between[1]);
            if ohms.is_some_and(|ohms| ohms <= CLOSED) { Seen::Closed } else { Seen::Open }
        }
        Kind::Supervised(watched) => {
            let ohms = stand.ohms(pose, watched.at, watched.common);
            let shows = |value: Option<LoopValue>| value.is_some_and(|value| watched.shows(value, ohms));
            if shows(watched.rest) {
                Seen::Rest
            } else if shows(watched.alarm) {
                Seen::Alarm
            } else if shows(watched.tamper) {
                Seen::Tamper
            } else {
                Seen::Unknown
            }
        }
        Kind::Analogue(_) => match solution.part_amps(id).map_or(0.0, |amps| amps.0) {
            amps if amps < LOOP_BROKEN => Seen::NoCurrent,
            amps if amps > 1.01 * LOOP_MOST.0 => Seen::TooMuch,
            _ => Seen::OnScale,
        },
        _ => Seen::Dead,
    }
}

/// How a load is fed by so many volts from its first terminal to its second. A polarised one is dead the wrong way round.
fn fed(got: f64, rated: Option<Rated>, polarised: bool) -> Seen {
    let (least, low, high) = rated.map_or((1.0, 1.0, f64::INFINITY), |r| {
        (r.nominal.0 / 2.0, r.range.low.0 * 0.98, r.range.high.0 * 1.02)
    });
    if got.abs() < least.min(low) {
        Seen::Dead
    } else if got < 0.0 {
        if polarised { Seen::Dead } else { Seen::Reverse }
    } else if got < low {
        Seen::Weak
    } else if got > high {
        Seen::Over
    } else {
        Seen::Powered
    }
}
