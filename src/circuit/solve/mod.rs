//! The solver: volts at every terminal, amps in every core, contact, load and supply, in one state.
//!
//! A job falls into *systems*, which nothing joins whatever the contacts do; each is solved by itself. In a state a
//! system falls into *islands*, which conducting parts hold together. Conductors without resistance are joined first,
//! sources tie what they join into one place of known differences, and what is left is a symmetric positive definite
//! set of equations; diodes, polarised parts and constant currents are straight lines joined end to end
//! ([`piecewise`]). Every solution is held against Kirchhoff's current law before it is given.
//!
//! What the parts are to the solver:
//!
//! - A source holds its volts and takes back what it is given. In AC the magnitudes are treated as DC, for one half-wave at
//!   a time ([`Ask::reversed_ac`]).
//! - A conducting diode drops 0.7 V, a two-wire sensor that is on its `drop`; neither conducts backwards, nor does a
//!   polarised load or coil.
//! - A load or coil given in amps draws them from the lower end of its range upwards, and in proportion below it; one
//!   given in ohms or watts is a resistance. One that states no current draws none.
//! - A 4–20 mA transmitter that its loop feeds draws the current that is asked for ([`Ask::loops`]). A loop that one of its
//!   ends feeds is not worked out.
//! - Contacts, fuses, links, bridges and outputs that are on have no resistance, nor has a core whose length or
//!   resistance is not stated. Where several lie side by side they share the current alike.
//! - Sources joined pole to pole carry the loads one at a time ([`Solver::turns`]); what flows between them is not worked
//!   out.
//! - Earth is no conductor.

mod islands;
mod law;
mod linear;
mod parts;
mod piecewise;
mod settle;

use std::collections::{BTreeMap, BTreeSet};
use std::num::NonZeroU32;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use petgraph::unionfind::UnionFind;

use crate::netlist::{Active, CableId, CoreId, Job, Kind, LinkId, Lists, Part, PartId, Pull, TerminalId};
use crate::units::{Amps, Celsius, Ohms, Volts};

use super::small;
pub(super) use islands::Maybe;
use islands::Solved;
use parts::{Assembly, Element, Elements, Lies, What};

pub use law::DIODE_DROP;
pub use parts::input_limits;
pub(in crate::circuit) use parts::source_volts;
pub use settle::{Settled, settle};

/// The volts from which an input whose limits are not known counts as reached. Our own choice.
pub const SIGNAL: f64 = 2.5;

/// What a 4–20 mA transmitter draws from its loop at the lower and at the upper end of its range (IEC 60381-1).
pub const LOOP: [Amps; 2] = [Amps(0.004), Amps(0.020)];

/// The most that it draws: with a fault to tell (NAMUR NE 43).
pub const LOOP_MOST: Amps = Amps(0.021);

/// Which of a source's volts count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mains {
    /// Its lowest, where stated.
    Low,
    /// Its nominal.
    Nominal,
    /// Its highest, where stated.
    High,
}

/// The state and the conditions for which a job is solved.
#[derive(Clone, Copy)]
pub struct Ask<'a> {
    /// Whether a contact, output or two-wire sensor is operated.
    pub operated: &'a dyn Fn(PartId) -> bool,
    /// The volts that the sources hold.
    pub mains: Mains,
    /// Sources that are off, and fuses that have blown: they are then open.
    pub off: &'a [PartId],
    /// Which of the sources that may only carry the loads one at a time does, from 0 ([`Solver::turns`]).
    pub turn: usize,
    /// The half-wave of AC sources: their second pole is the positive one.
    pub reversed_ac: bool,
    /// The temperature of the conductors.
    pub celsius: Celsius,
    /// What a 4–20 mA transmitter draws from its loop.
    pub loops: Amps,
}

impl<'a> Ask<'a> {
    /// All sources on at their nominal volts, conductors at 20 °C, loops at the upper end of their range.
    #[must_use]
    pub fn new(operated: &'a dyn Fn(PartId) -> bool) -> Self {
        Self {
            operated,
            mains: Mains::Nominal,
            off: &[],
            turn: 0,
            reversed_ac: false,
            celsius: Celsius(20.0),
            loops: LOOP[1],
        }
    }
}

/// Why something was not solved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// These sources are joined without resistance in a way in which they cannot all hold their volts.
    Contradiction(Vec<PartId>),
    /// No solution was found for the island of this terminal.
    NotFound(TerminalId),
    /// This source states no volts and was left off.
    NoVolts(PartId),
}

/// What nothing outside joins, whatever the contacts do: by system what belongs to it, in the order of the job.
struct Systems {
    terminals: Lists<TerminalId>,
    cores: Lists<CoreId>,
    links: Lists<LinkId>,
    parts: Lists<PartId>,
}

/// The job, made ready to be solved.
pub struct Solver<'a> {
    job: &'a Job,
    systems: Systems,
    /// By terminal: its system and its number there.
    place: Vec<(u32, u32)>,
    /// By input: the terminal to which its pull-up leads.
    pull_up: BTreeMap<PartId, TerminalId>,
    /// By part: whether an input's common is joined to the plus of a source.
    common_plus: Vec<bool>,
    /// By system: what was solved last. Who lets a state settle and then looks at it asks twice for the same.
    last: Mutex<BTreeMap<usize, Last>>,
}

/// What was solved last of a system: its elements, and what came of them.
type Last = (Elements, Arc<Solved>);

impl<'a> Solver<'a> {
    /// Makes a job ready.
    #[must_use]
    pub fn of(job: &'a Job) -> Self {
        let mut joined = UnionFind::<u32>::new(job.terminals.len());
        let cores = || job.core_ids().filter_map(|(id, _)| Some((id, parts::core_ends(job, id)?)));
        for (_, [a, b]) in cores() {
            joined.union(a.0, b.0);
        }
        for link in &job.links {
            joined.union(link.ends[0].0, link.ends[1].0);
        }
        for part in &job.parts {
            match &part.kind {
                Kind::Bridge(terminals) => {
                    for pair in terminals.windows(2) {
                        joined.union(pair[0].0, pair[1].0);
                    }
                }
                Kind::Fuse(fuse) => {
                    joined.union(fuse.between[0].0, fuse.between[1].0);
                }
                _ => {}
            }
        }
        let poles = Poles::of(job, &joined);
        let pull_up: BTreeMap<PartId, TerminalId> =
            job.part_ids().filter_map(|(id, _)| Some((id, poles.pull_up(job, id, &joined)?))).collect();
        let common_plus = job.parts.iter().map(|part| poles.common_plus(&part.kind, &joined)).collect();
        for (id, part) in job.part_ids() {
            let terminals = part.kind.terminals();
            if let (true, Some(first)) = (carries(&part.kind), terminals.first()) {
                for other in terminals.iter().chain(pull_up.get(&id)) {
                    joined.union(first.0, other.0);
                }
            }
        }
        let mut sizes: Vec<u32> = Vec::new();
        let mut number: Vec<Option<NonZeroU32>> = vec![None; job.terminals.len()];
        let mut place = Vec::with_capacity(job.terminals.len());
        for (id, _) in job.terminal_ids() {
            let first = || {
                sizes.push(0);
                NonZeroU32::MIN.saturating_add(small(sizes.len() - 1))
            };
            let at = number[joined.find(id.0) as usize].get_or_insert_with(first).get() - 1;
            place.push((at, sizes[at as usize]));
            sizes[at as usize] += 1;
        }
        let count = sizes.len();
        drop((joined, number, sizes));
        let system = |at: TerminalId| place[at.index()].0 as usize;
        let carrying = |(id, part): (PartId, &Part)| {
            let first = part.kind.terminals().first().copied().filter(|_| carries(&part.kind))?;
            Some((system(first), id))
        };
        let links = (0..).map(LinkId).zip(&job.links).map(|(id, link)| (system(link.ends[0]), id));
        let systems = Systems {
            terminals: Lists::of(count, job.terminal_ids().map(|(id, _)| (system(id), id))),
            cores: Lists::of(count, cores().map(|(id, [a, _])| (system(a), id))),
            links: Lists::of(count, links),
            parts: Lists::of(count, job.part_ids().filter_map(carrying)),
        };
        Self { job, systems, place, pull_up, common_plus, last: Mutex::default() }
    }

    /// The whole job in one state.
    #[must_use]
    pub fn solve(&self, ask: &Ask) -> Solution<'_> {
        let solved = (0..self.systems.terminals.count()).map(|n| (n, self.system(n, ask))).collect();
        Solution { solver: self, celsius: ask.celsius, solved }
    }

    /// Only what hangs together with a terminal.
    #[must_use]
    pub fn solve_around(&self, terminal: TerminalId, ask: &Ask) -> Solution<'_> {
        let at = self.system_of(terminal);
        let solved = BTreeMap::from([(at, self.system(at, ask))]);
        Solution { solver: self, celsius: ask.celsius, solved }
    }

    /// How often to solve a state so that each of the sources that carry the loads one at a time has its turn; 1
    /// where there are none such.
    #[must_use]
    pub fn turns(&self, around: TerminalId, ask: &Ask) -> usize {
        let at = self.system_of(around);
        let source = |id: &&PartId| matches!(self.job.part(**id).kind, Kind::Source(_));
        if self.systems.parts.get(at).iter().filter(source).nth(1).is_none() {
            return 1;
        }
        let elements = self.elements(at, ask);
        self.sharing(at, &elements).iter().map(Vec::len).max().unwrap_or(1)
    }

    /// Which of the sources that hang together with a terminal and carry the loads one at a time do so in the turn that is
    /// asked for; none where each source always does.
    #[must_use]
    pub fn on_turn(&self, around: TerminalId, ask: &Ask) -> Vec<PartId> {
        let at = self.system_of(around);
        let groups = self.sharing(at, &self.elements(at, ask));
        let on = |group: &Vec<Stack>| group.get(ask.turn % group.len()).cloned().unwrap_or_default();
        groups.iter().flat_map(on).collect()
    }

    /// What was told of each turn, with the sources that carry the loads in it: `12 V on G1 or 13.6 V on G2`; of turns that
    /// bring the same, or nothing, but once.
    #[must_use]
    pub fn by_turn(&self, told: &[(String, Vec<PartId>)]) -> String {
        let mut different: Vec<&(String, Vec<PartId>)> = Vec::new();
        for one in told.iter().filter(|one| !one.0.is_empty()) {
            if !different.iter().any(|known| known.0 == one.0) {
                different.push(one);
            }
        }
        match different[..] {
            [] => String::new(),
            [(words, _)] if told.iter().all(|(other, _)| other == words) => words.clone(),
            _ => {
                let on = different.iter().map(|(words, sources)| {
                    let names: Vec<String> = sources.iter().map(|id| self.job.part_label(*id)).collect();
                    format!("{words} on {}", names.join(" and "))
                });
                on.collect::<Vec<_>>().join(" or ")
            }
        }
    }

    /// The ohms between two terminals through cores, contacts and resistors, all sources off; `None` if these do not
    /// join them. Diodes, loads and inputs count as open.
    #[must_use]
    pub fn ohms(&self, a: TerminalId, b: TerminalId, ask: &Ask) -> Option<Ohms> {
        let at = self.system_of(a);
        let mut elements = self.elements(at, ask);
        elements.all.retain(|element| match (element.what, element.owner) {
            (Lies::Join, _) | (_, parts::Owner::Core(_)) => true,
            (Lies::Law(_), parts::Owner::Part(id)) => matches!(self.job.part(id).kind, Kind::Resistor(_)),
            _ => false,
        });
        (at == self.system_of(b)).then(|| islands::ohms(self, at, &elements, a, b))?.map(Ohms)
    }

    /// The number of the system of a terminal, for telling whether two have one.
    #[must_use]
    pub fn system_of(&self, terminal: TerminalId) -> usize {
        self.place[terminal.index()].0 as usize
    }

    /// The contacts, outputs, sensors, loads and sources, that hang together with a terminal whatever the contacts do.
    #[must_use]
    pub fn parts_around(&self, terminal: TerminalId) -> &[PartId] {
        self.systems.parts.get(self.system_of(terminal))
    }

    /// The terminals that hang together with a terminal whatever the contacts do.
    #[must_use]
    pub fn terminals_around(&self, terminal: TerminalId) -> &[TerminalId] {
        self.systems.terminals.get(self.system_of(terminal))
    }

    /// The cores that hang together with a terminal whatever the contacts do.
    #[must_use]
    pub fn cores_around(&self, terminal: TerminalId) -> &[CoreId] {
        self.systems.cores.get(self.system_of(terminal))
    }

    /// The terminal to which the pull-up of an active-low input leads, if it has one.
    #[must_use]
    pub fn pull_up(&self, input: PartId) -> Option<TerminalId> {
        self.pull_up.get(&input).copied()
    }

    /// Whether the common of an input is joined to the plus of a source.
    #[must_use]
    pub fn common_on_plus(&self, input: PartId) -> bool {
        self.common_plus.get(input.index()).copied().unwrap_or(false)
    }

    /// The ohms of a core at a temperature; `None` where its length or resistance is not stated.
    #[must_use]
    pub fn core_ohms(&self, core: CoreId, at: Celsius) -> Option<Ohms> {
        parts::core_ohms(self.job, core, at).map(Ohms)
    }

    fn local(&self, terminal: TerminalId) -> u32 {
        self.place[terminal.index()].1
    }

    /// The elements of a system, whichever source has its turn.
    fn elements(&self, at: usize, ask: &Ask) -> Elements {
        let Systems { cores, links, parts, .. } = &self.systems;
        let (cores, links, parts) = (cores.get(at), links.get(at), parts.get(at));
        let mut all = Assembly::with_room(cores.len() + links.len() + parts.len());
        let local = |terminal| self.local(terminal);
        for id in cores {
            parts::of_core(self.job, *id, ask, local, &mut all);
        }
        for id in links {
            all.add(self.job.links[id.index()].ends.map(local), What::Join, parts::Owner::Link(*id));
        }
        for id in parts {
            parts::of_part(self.job, *id, ask, || self.pull_up(*id), local, &mut all);
        }
        all.finish()
    }

    /// The same without the sources whose turn it is not.
    fn in_turn(&self, at: usize, ask: &Ask) -> Elements {
        let mut elements = self.elements(at, ask);
        for group in self.sharing(at, &elements) {
            let on = &group[ask.turn % group.len()];
            elements.all.retain(|element| match element.owner {
                parts::Owner::Part(id) => on.contains(&id) || !group.iter().flatten().any(|off| *off == id),
                _ => true,
            });
        }
        elements
    }

    /// Groups of sources that carry the loads one at a time, joined pole to pole: each source alone, and what stands one
    /// upon the other across one that charges it.
    fn sharing(&self, at: usize, elements: &Elements) -> Vec<Vec<Stack>> {
        let sources: Vec<(&Element, PartId)> = elements
            .all
            .iter()
            .filter_map(|element| match (element.what, element.owner) {
                (Lies::Volts(_), parts::Owner::Part(id)) => Some((element, id)),
                _ => None,
            })
            .collect();
        if sources.len() < 2 {
            return Vec::new();
        }
        let mut joined = UnionFind::<u32>::new(self.systems.terminals.get(at).len());
        for element in &elements.all {
            if matches!((element.what, element.owner), (Lies::Join, _) | (_, parts::Owner::Core(_))) {
                joined.union(element.a, element.b);
            }
        }
        let mut across: BTreeMap<[u32; 2], Vec<PartId>> = BTreeMap::new();
        for (source, id) in sources {
            across.entry([source.a, source.b].map(|end| joined.find(end))).or_default().push(id);
        }
        let charges =
            |id: &PartId| matches!(&self.job.part(*id).kind, Kind::Source(source) if source.charges);
        let groups = across.iter().map(|(poles, alone)| {
            let above = if alone.iter().any(charges) { stacks(&across, *poles) } else { Vec::new() };
            alone.iter().map(|id| vec![*id]).chain(above).collect::<Vec<Stack>>()
        });
        groups.filter(|group| group.len() > 1).collect()
    }

    /// Gives back what was kept of the system of a terminal, for one who goes on to the next.
    pub fn forget(&self, around: TerminalId) {
        self.last().remove(&self.system_of(around));
    }

    fn last(&self) -> MutexGuard<'_, BTreeMap<usize, Last>> {
        self.last.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn system(&self, at: usize, ask: &Ask) -> Arc<Solved> {
        let in_turn = || self.in_turn(at, ask);
        let elements = in_turn();
        // What is not asked for again makes room before the next is solved.
        let before = self.last().remove(&at);
        if let Some((known, solved)) = before.filter(|(known, _)| *known == elements) {
            self.last().insert(at, (known, Arc::clone(&solved)));
            return solved;
        }
        let (elements, mut solved) = Solved::of(self, at, elements, in_turn);
        for id in self.systems.parts.get(at) {
            if matches!(&self.job.part(*id).kind, Kind::Source(source) if source.volts.is_none()) {
                solved.troubles.push(Trouble::NoVolts(*id));
            }
        }
        let solved = Arc::new(solved);
        self.last().insert(at, (elements, Arc::clone(&solved)));
        solved
    }
}

/// Sources one upon the other, from minus to plus.
type Stack = Vec<PartId>;

/// So many steps are taken to find stacks. What is not found then is solved as it stands, and its currents are told.
const STEPS: usize = 1_000;

/// The stacks of two sources and more between two poles, from what stands across each two. Of sources side by side the first
/// stands for all, for these take turns of their own.
fn stacks(across: &BTreeMap<[u32; 2], Vec<PartId>>, [plus, minus]: [u32; 2]) -> Vec<Stack> {
    let mut found = Vec::new();
    let mut open: Vec<(Vec<u32>, Stack)> = vec![(vec![minus], Vec::new())];
    for _ in 0..STEPS {
        let Some((passed, stack)) = open.pop() else { break };
        for ([above, below], alone) in across {
            let (Some(source), true) = (alone.first(), passed.last() == Some(below)) else { continue };
            let higher: Stack = stack.iter().copied().chain([*source]).collect();
            if *above == plus {
                found.extend(Some(higher).filter(|stack| stack.len() > 1));
            } else if !passed.contains(above) {
                open.push((passed.iter().copied().chain([*above]).collect(), higher));
            }
        }
    }
    found
}

/// Whether a part can carry current between its terminals.
fn carries(kind: &Kind) -> bool {
    matches!(
        kind,
        Kind::Source(_)
            | Kind::Load(_)
            | Kind::Coil(_)
            | Kind::Contact(_)
            | Kind::Output(_)
            | Kind::TwoWire(_)
            | Kind::Bridge(_)
            | Kind::Fuse(_)
            | Kind::Resistor(_)
            | Kind::Diode(_)
            | Kind::Input(_)
            | Kind::Analogue(_)
    )
}

/// Where the poles of the sources lie, fuses counted as closed.
struct Poles {
    plus: BTreeSet<u32>,
    /// By what a minus is joined to: the plus of the first such source.
    above: BTreeMap<u32, TerminalId>,
}

impl Poles {
    fn of(job: &Job, joined: &UnionFind<u32>) -> Self {
        let mut poles = Self { plus: BTreeSet::new(), above: BTreeMap::new() };
        for part in &job.parts {
            if let Kind::Source(source) = &part.kind {
                poles.plus.insert(joined.find(source.plus.0));
                poles.above.entry(joined.find(source.minus.0)).or_insert(source.plus);
            }
        }
        poles
    }

    /// Where an input's pull-up leads: to the plus of the part of its own device whose minus its common is, else of
    /// the first source whose minus its common is joined to; to the common itself where that is on a plus.
    fn pull_up(&self, job: &Job, id: PartId, joined: &UnionFind<u32>) -> Option<TerminalId> {
        let part = job.part(id);
        let Kind::Input(input) = &part.kind else { return None };
        if input.active != Active::Low && input.pull != Pull::Up {
            return None;
        }
        let common = joined.find(input.common.0);
        let own = job.device(part.device).parts.iter().find_map(|own| {
            let (plus, minus) = match &job.part(PartId(own)).kind {
                Kind::Load(load) if load.polarised => (load.plus, load.minus),
                Kind::Source(source) => (source.plus, source.minus),
                _ => return None,
            };
            (joined.find(minus.0) == common).then_some(plus)
        });
        own.or_else(|| self.above.get(&common).copied())
            .or_else(|| self.plus.contains(&common).then_some(input.common))
    }

    /// Whether a part is an input whose common is joined to the plus of a source.
    fn common_plus(&self, kind: &Kind, joined: &UnionFind<u32>) -> bool {
        matches!(kind, Kind::Input(input) if self.plus.contains(&joined.find(input.common.0)))
    }
}

/// What was solved.
pub struct Solution<'a> {
    solver: &'a Solver<'a>,
    celsius: Celsius,
    /// By the number of the system.
    solved: BTreeMap<usize, Arc<Solved>>,
}

impl Solution<'_> {
    fn at(&self, terminal: TerminalId) -> Option<(&Solved, usize)> {
        let (system, local) = *self.solver.place.get(terminal.index())?;
        Some((self.solved.get(&(system as usize))?, local as usize))
    }

    /// The volts at a terminal, against the minus of the first source of its island; `None` where no source holds it,
    /// or it was not solved.
    #[must_use]
    pub fn volts(&self, terminal: TerminalId) -> Option<Volts> {
        let (solved, local) = self.at(terminal)?;
        solved.volts[local].get().map(Volts)
    }

    /// The volts of one terminal against another; `None` unless conducting parts hold both on one island.
    #[must_use]
    pub fn between(&self, a: TerminalId, b: TerminalId) -> Option<Volts> {
        let ((first, a), (second, b)) = (self.at(a)?, self.at(b)?);
        (std::ptr::eq(first, second) && first.island[a] == first.island[b])
            .then(|| Some(Volts(first.volts[a].get()? - first.volts[b].get()?)))?
    }

    /// The amps in a core, from its near end to its far end; 0 if it does not join two terminals, `None` if it was not
    /// solved.
    #[must_use]
    pub fn core_amps(&self, core: CoreId) -> Option<Amps> {
        let Some([a, _]) = parts::core_ends(self.solver.job, core) else { return Some(Amps(0.0)) };
        let system = self.solver.system_of(a);
        let n = self.solver.systems.cores.get(system).binary_search(&core).ok()?;
        self.solved.get(&system)?.core_amps[n].get().map(Amps)
    }

    /// The amps through a part: out of a source's plus, into a load's, coil's or sensor's plus (or its first
    /// terminal), into a contact's common or an output's terminal, into a diode's anode; for a part that is open or
    /// was not solved 0 or `None`.
    #[must_use]
    pub fn part_amps(&self, part: PartId) -> Option<Amps> {
        let kind = &self.solver.job.part(part).kind;
        let Some(first) = kind.terminals().first().copied().filter(|_| carries(kind)) else {
            return Some(Amps(0.0));
        };
        let system = self.solver.system_of(first);
        let n = self.solver.systems.parts.get(system).binary_search(&part).ok()?;
        self.solved.get(&system)?.part_amps[n].get().map(Amps)
    }

    /// The amps in the cores and through the parts that hang together with a terminal, as [`Self::core_amps`] and
    /// [`Self::part_amps`] give them, in the order of [`Solver::cores_around`] and [`Solver::parts_around`].
    pub(super) fn amps_around(&self, terminal: TerminalId) -> [&[Maybe]; 2] {
        let solved = self.at(terminal).map(|(solved, _)| solved);
        solved.map_or([&[], &[]], |solved| [&solved.core_amps, &solved.part_amps])
    }

    /// The volts that a core loses, from its near end to its far end; `None` where its resistance is not known.
    #[must_use]
    pub fn core_drop(&self, core: CoreId) -> Option<Volts> {
        let ohms = self.solver.core_ohms(core, self.celsius)?;
        Some(Volts(self.core_amps(core)?.0 * ohms.0))
    }

    /// The volts that a cable loses there and back: in the core that loses most one way and in the one that loses
    /// most the other way. `None` where the resistance of a core that carries current is not known.
    #[must_use]
    pub fn cable_drop(&self, cable: CableId) -> Option<Volts> {
        let (mut there, mut back) = (0.0_f64, 0.0_f64);
        for core in self.solver.job.cable(cable).cores.iter().map(CoreId) {
            if self.core_amps(core)?.0 != 0.0 {
                let drop = self.core_drop(core)?.0;
                there = there.max(drop);
                back = back.max(-drop);
            }
        }
        Some(Volts(there + back))
    }

    /// Whether a digital input reads as active: by its limits where these are known, else from half of the volts that
    /// feed its pull-up, or from [`SIGNAL`] volts where it has none. An input that nothing holds is not active.
    #[must_use]
    pub fn active(&self, input: PartId) -> bool {
        let Kind::Input(at) = &self.solver.job.part(input).kind else { return false };
        let from = input_limits(at).map(|(_, from)| from);
        let got = self.between(at.at, at.common).map(|volts| volts.0);
        match (at.active, self.solver.pull_up(input)) {
            // Measured against the plus, the level that counts is the far or the near one.
            (Active::Low, _) if self.solver.common_on_plus(input) => {
                got.is_some_and(|got| -got >= from.unwrap_or(SIGNAL))
            }
            (Active::High, _) if self.solver.common_on_plus(input) => {
                got.is_some_and(|got| got.abs() < SIGNAL)
            }
            (Active::High, _) => got.is_some_and(|got| got >= from.unwrap_or(SIGNAL)),
            (Active::Either, _) => got.is_some_and(|got| got.abs() >= from.unwrap_or(SIGNAL)),
            (Active::Low, Some(plus)) => {
                let (Some(rail), Some(away)) = (self.between(plus, at.common), self.between(plus, at.at))
                else {
                    return false;
                };
                rail.0 > SIGNAL && away.0 >= from.unwrap_or(rail.0 / 2.0).min(0.9 * rail.0)
            }
            (Active::Low, None) => got.is_some_and(|got| got.abs() < SIGNAL),
        }
    }

    /// What could not be solved, and why.
    pub fn troubles(&self) -> impl Iterator<Item = &Trouble> {
        self.solved.values().flat_map(|solved| &solved.troubles)
    }

    /// The islands that no source holds though something draws current or measures there, each by its first terminal.
    pub fn floating(&self) -> impl Iterator<Item = TerminalId> + '_ {
        self.solved.values().flat_map(|solved| solved.floating.iter().copied())
    }
}
