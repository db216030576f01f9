//! The job as a circuit: connectivity, reachable states, paths and the solver.
//!
//! Terms: a *net* is one conductor (cores, links, bridges). A *hard path* goes through conductors, closed contacts,
//! fuses, forward diodes, outputs and sensors that are on; a *soft path* through resistors, loads and coils besides. A
//! *mover* is what moves contacts together. A *state* gives every mover a position; it is *reachable* if a walk gets
//! there from all at rest, one world mover at a time, coils settling after each.
//!
//! Nothing here goes through all states of a job. Each question is turned into ways through the graph, each with the
//! positions that it needs ([`Need`]), and only the movers on which those depend are then walked ([`Circuit::reachable`]).

mod blocks;
mod conductors;
mod deed;
mod graph;
mod landings;
mod losses;
mod lost;
mod movers;
mod needs;
mod nets;
mod protection;
mod quick;
mod reach;
mod signals;
pub mod solve;
mod survey;
mod trace;
mod walk;
mod ways;

pub use deed::Deed;
pub use graph::Need;
pub use landings::{Landing, Landings};
pub use losses::{CableLoss, Losses};
pub use movers::{MovedBy, Mover, MoverId, State};
pub use nets::NetId;
pub use protection::{Bound, Limit, Protection};
pub use reach::{Chatter, Reachable};
pub use signals::{Signal, Switched};
pub use survey::{Driven, Fed, Loss, Survey, Turned, Worst};
pub use trace::{Hop, Path, Through, Way};
pub use ways::{All, Feed, Level, PoleOf, ShortWay};

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use crate::netlist::{Form, Job, Kind, PartId, TerminalId};
use crate::source::small;

/// How many of the things that are moved in one state are named.
const NAMED: usize = 16;

/// The circuit of one job.
pub struct Circuit {
    nets: nets::Nets,
    landings: Landings,
    movers: Vec<Mover>,
    mover_of: Vec<Option<MoverId>>,
    finder: ways::Finder,
    reach: reach::Reach,
    feeds: BTreeMap<PartId, All<Feed>>,
    signals: BTreeMap<PartId, Signal>,
    shorts: All<ShortWay>,
    /// The terminals of devices without sections.
    dark: Vec<TerminalId>,
    survey: OnceLock<Survey>,
    losses: OnceLock<Losses>,
    lost_feeds: OnceLock<lost::Lost>,
    /// By source: the logic of the coils while it is lost, worked out when first asked for.
    lost: Mutex<BTreeMap<PartId, Arc<reach::Reach>>>,
}

impl Circuit {
    /// The circuit of a job.
    #[must_use]
    pub fn of(job: &Job) -> Self {
        let nets = nets::Nets::of(job);
        let (movers, mover_of) = movers::collect(job);
        let mut finder = ways::Finder::of(job, &nets, graph::Graph::of(job, &nets, &mover_of));
        // Maps that are made of sorted lists have no room left over.
        let (mut feeds, mut signals) = (Vec::new(), Vec::new());
        for (id, part) in job.part_ids() {
            match &part.kind {
                Kind::Load(load) => {
                    feeds.push((id, finder.feeds(job, id, load.plus, load.minus)));
                }
                Kind::Coil(coil) => {
                    feeds.push((id, finder.feeds(job, id, coil.plus, coil.minus)));
                }
                Kind::Input(input) => {
                    signals.push((id, Signal::of(&finder, input)));
                }
                _ => {}
            }
        }
        finder.shrink();
        let dark = job
            .terminal_ids()
            .filter(|(_, terminal)| {
                let device = job.device(terminal.device);
                device.form == Form::Box && device.parts.is_empty()
            })
            .map(|(id, _)| id)
            .collect();
        let shorts = finder.shorts();
        let mut circuit = Self {
            nets,
            landings: Landings::of(job),
            reach: reach::Reach::of(&[], |_| None),
            movers,
            mover_of,
            finder,
            feeds: feeds.into_iter().collect(),
            signals: signals.into_iter().collect(),
            shorts,
            dark,
            survey: OnceLock::new(),
            losses: OnceLock::new(),
            lost_feeds: OnceLock::new(),
            lost: Mutex::default(),
        };
        circuit.reach = circuit.reach(job, None);
        circuit
    }

    /// How coils follow, while the source `lost`, if there is one, gives nothing.
    fn reach(&self, job: &Job, lost: Option<PartId>) -> reach::Reach {
        reach::Reach::of(&self.movers, |mover| {
            let logic = match mover.by {
                MovedBy::World => return None,
                MovedBy::Coil(coil) => reach::Logic {
                    resets: mover.reset.map(|reset| self.coil_logic(job, reset, lost).terms),
                    ..self.coil_logic(job, coil, lost)
                },
                MovedBy::Input(input) => self.input_logic(job, input, lost),
            };
            Some(reach::Logic { latching: mover.latching, timed: mover.timed, ..logic })
        })
    }

    /// When a coil pulls in. The one place that decides it: fed by hard paths, it does, whatever the volts and
    /// whichever way round, for those are findings of their own; fed by way of other loads or resistors, it may.
    fn coil_logic(&self, job: &Job, coil: PartId, lost: Option<PartId>) -> reach::Logic {
        let Some(feeds) = self.feeds.get(&coil) else { return reach::Logic::default() };
        let ends = match &job.part(coil).kind {
            Kind::Coil(coil) => [coil.plus, coil.minus],
            _ => return reach::Logic::default(),
        };
        let outside =
            || job.part(coil).existing || ends.iter().any(|end| self.dark_end(*end, coil).is_some());
        let there = |feed: &&Feed| lost.is_none_or(|lost| !feed.sources.contains(&lost));
        let terms = feeds.ways.iter().filter(there).map(|feed| (feed.needs.clone(), feed.hard)).collect();
        reach::Logic {
            free: !feeds.complete || (feeds.ways.is_empty() && outside()),
            terms,
            ..Default::default()
        }
    }

    /// When an input is active: reached by its active level on a hard path, it is; by way of a resistor, load or
    /// coil, it may be.
    fn input_logic(&self, job: &Job, input: PartId, lost: Option<PartId>) -> reach::Logic {
        let (Some(signal), Kind::Input(at)) = (self.signals.get(&input), &job.part(input).kind) else {
            return reach::Logic { free: true, ..Default::default() };
        };
        let outside = || job.part(input).existing || self.dark_end(at.at, input).is_some();
        let there = |way: &&Switched| lost.is_none_or(|lost| way.pole.0 != lost && way.common.0 != lost);
        let mut terms: Vec<_> =
            signal.active.iter().filter(there).map(|way| (Box::from(way.needs.as_slice()), true)).collect();
        if signal.soft {
            terms.push((Box::default(), false));
        }
        let seen = !signal.active.is_empty() || signal.soft;
        reach::Logic {
            free: !signal.complete || (!seen && outside()),
            terms: terms.into(),
            ..Default::default()
        }
    }

    /// The highest amps and lowest volts of all states. Worked out when it is first asked for.
    #[must_use]
    pub fn survey(&self, job: &Job) -> &Survey {
        self.survey.get_or_init(|| Survey::of(job, self))
    }

    /// The largest drops of all states. Worked out when they are first asked for: no rule asks.
    #[must_use]
    pub fn losses(&self, job: &Job) -> &Losses {
        self.losses.get_or_init(|| Losses::of(job, self))
    }

    /// The conductor that a terminal is part of.
    #[must_use]
    pub fn net_of(&self, terminal: TerminalId) -> NetId {
        self.nets.net[terminal.index()]
    }

    /// Whether conductors and fuses join two terminals.
    #[must_use]
    pub fn joined_past_fuses(&self, a: TerminalId, b: TerminalId) -> bool {
        self.past_fuses(a) == self.past_fuses(b)
    }

    /// The number of what conductors and fuses join to a terminal, for telling whether two have one.
    #[must_use]
    pub fn past_fuses(&self, terminal: TerminalId) -> u32 {
        self.nets.node[terminal.index()]
    }

    /// The terminals of a conductor, in the order of the job.
    #[must_use]
    pub fn terminals_of(&self, net: NetId) -> &[TerminalId] {
        self.nets.members.get(net.index())
    }

    /// What lands on each terminal.
    #[must_use]
    pub fn landings(&self) -> &Landings {
        &self.landings
    }

    /// How many conductors there are; they are numbered from 0 in the order of their first terminal.
    #[must_use]
    pub fn net_count(&self) -> usize {
        self.nets.members.count()
    }

    /// All movers: index by [`MoverId`].
    #[must_use]
    pub fn movers(&self) -> &[Mover] {
        &self.movers
    }

    /// The mover of a contact, output or two-wire sensor.
    #[must_use]
    pub fn mover_of(&self, part: PartId) -> Option<MoverId> {
        self.mover_of.get(part.index()).copied().flatten()
    }

    /// The coil or input that moves a mover; `None` if the world does.
    #[must_use]
    pub fn moved_by(&self, mover: MoverId) -> Option<PartId> {
        match self.movers.get(mover.index())?.by {
            MovedBy::Coil(part) | MovedBy::Input(part) => Some(part),
            MovedBy::World => None,
        }
    }

    /// The state in which everything is at rest and the coils have settled.
    #[must_use]
    pub fn at_rest(&self) -> State {
        self.reach.rest.clone()
    }

    /// The state after a world mover was moved and the coils followed; and whether they came to stand still.
    #[must_use]
    pub fn after(&self, state: &State, mover: MoverId, operated: bool) -> (State, bool) {
        let mut state = state.clone();
        let still = self.reach.operate(&mut state, mover, operated);
        (state, still)
    }

    /// The state before power comes on: the world at rest, every coil let go.
    #[must_use]
    pub fn unpowered(&self) -> State {
        let mut state = self.at_rest();
        for (id, mover) in (0..).map(MoverId).zip(&self.movers) {
            if mover.by != MovedBy::World {
                state.set(id, false);
                state.feed(id, false);
            }
        }
        state
    }

    /// The same state with one mover put by hand; nothing follows it. [`solve::settle`] lets the rest follow by the
    /// solved volts, [`Circuit::after`] by the paths.
    #[must_use]
    pub fn put(&self, state: &State, mover: MoverId, operated: bool) -> State {
        let mut state = state.clone();
        state.set(mover, operated);
        state
    }

    /// The same state with every coil of the job where the world movers put it. [`Reachable`] leaves those alone that
    /// its question does not depend on.
    #[must_use]
    pub fn settled(&self, state: &State) -> (State, bool) {
        let mut state = state.clone();
        let coils =
            (0..).map(MoverId).zip(&self.movers).filter(|(_, m)| m.by != MovedBy::World).map(|(id, _)| id);
        let still = self.reach.settle(&mut state, coils.collect());
        (state, still)
    }

    /// The reachable positions of some movers and of all that they depend on, the others as at rest, nearest to rest
    /// first; and whether these are exactly the reachable ones. Where there are too many it gives the state at rest,
    /// each world mover alone, and all together, and says false.
    #[must_use]
    pub fn states(&self, movers: &[MoverId]) -> (Vec<State>, bool) {
        self.reach.states(movers, usize::MAX)
    }

    /// The same, but of more than so many states only those nearest to rest and those furthest from it.
    #[must_use]
    pub(crate) fn few_states(&self, movers: &[MoverId], most: usize) -> (Vec<State>, bool) {
        self.reach.states(movers, most)
    }

    /// The coils that never come to rest in some state, each with one round of what they do.
    #[must_use]
    pub fn chatters(&self) -> Vec<Chatter> {
        self.reach.chatters()
    }

    /// Whether movers can stand so together.
    #[must_use]
    pub fn reachable(&self, needs: &[Need]) -> Reachable {
        self.reach.reachable(needs, &[])
    }

    /// The same, in a state in which no source on the conductor system of `near` is shorted.
    #[must_use]
    pub fn sound(&self, needs: &[Need], near: TerminalId) -> Reachable {
        self.reach.reachable(needs, &self.shorted(near, None))
    }

    /// What the shorts on the conductor system of `near` need, those of a source that is lost apart.
    fn shorted(&self, near: TerminalId, lost: Option<PartId>) -> Vec<&[Need]> {
        let system = self.finder.system(near);
        let ways = self.shorts.ways.iter();
        ways.filter(|short| self.finder.system(short.between[0]) == system)
            .filter(|short| lost.is_none_or(|lost| !short.sources.contains(&lost)))
            .map(|short| short.needs.as_slice())
            .collect()
    }

    /// A source, other than those that `by` names, and a state in which movers stand so while that source is lost: the
    /// break contact of a relay that watches a supply is closed only then.
    #[must_use]
    pub fn when_lost(&self, job: &Job, needs: &[Need], by: &[PartId]) -> Option<(PartId, State)> {
        self.lost_beside(job, needs, by, None)
    }

    /// The same, in a state in which no source that is left on the conductor system of `near` is shorted.
    #[must_use]
    pub fn sound_when_lost(
        &self,
        job: &Job,
        needs: &[Need],
        by: &[PartId],
        near: TerminalId,
    ) -> Option<(PartId, State)> {
        self.lost_beside(job, needs, by, Some(near))
    }

    fn lost_beside(
        &self,
        job: &Job,
        needs: &[Need],
        by: &[PartId],
        near: Option<TerminalId>,
    ) -> Option<(PartId, State)> {
        let behind = self.reach.behind(needs);
        let coils = behind.iter().filter_map(|mover| match self.movers.get(mover.index())?.by {
            MovedBy::Coil(coil) => Some(coil),
            _ => None,
        });
        let sources: BTreeSet<PartId> = coils
            .flat_map(|coil| &self.feeds(coil).ways)
            .flat_map(|feed| feed.sources.iter().copied())
            .filter(|source| !by.contains(source))
            .collect();
        sources.into_iter().find_map(|source| {
            let shorted = near.map_or_else(Vec::new, |near| self.shorted(near, Some(source)));
            Some((source, self.without(job, source).reachable(needs, &shorted).state()?))
        })
    }

    /// How coils follow while a source is lost.
    fn without(&self, job: &Job, source: PartId) -> Arc<reach::Reach> {
        let mut lost = self.lost.lock().unwrap_or_else(PoisonError::into_inner);
        let of = || Arc::new(self.reach(job, Some(source)));
        Arc::clone(lost.entry(source).or_insert_with(of))
    }

    /// Both sets of positions together, if no mover would have to stand two ways.
    #[must_use]
    pub fn both(&self, a: &[Need], b: &[Need]) -> Option<Vec<Need>> {
        needs::both(a, b)
    }

    /// Whether a state gives all these positions.
    #[must_use]
    pub fn holds(&self, needs: &[Need], state: &State) -> bool {
        needs.iter().all(|need| state.operated(need.mover) == need.operated)
    }

    /// The ways in which a load or coil is fed; none for other parts.
    #[must_use]
    pub fn feeds(&self, part: PartId) -> &All<Feed> {
        const NONE: &All<Feed> = &All { ways: Vec::new(), complete: true };
        self.feeds.get(&part).unwrap_or(NONE)
    }

    /// What a digital input may see.
    #[must_use]
    pub fn signal(&self, input: PartId) -> Option<&Signal> {
        self.signals.get(&input)
    }

    /// All ways in which sources are shorted, those included that the coils' own logic rules out.
    #[must_use]
    pub fn shorts(&self) -> &All<ShortWay> {
        &self.shorts
    }

    /// The sources in series from one pole to an opposite one: the source itself where both are its own; `None` where the
    /// poles are not of one stack.
    #[must_use]
    pub fn stack(&self, from: PoleOf, to: PoleOf) -> Option<Vec<PartId>> {
        let mut above = self.finder.in_series(from.0, to.1);
        let at = above.iter().position(|source| *source == to.0)?;
        above.truncate(at + 1);
        Some(above)
    }

    /// The hard paths from a terminal to poles: against the current to a plus, with it to a minus.
    #[must_use]
    pub fn levels(&self, terminal: TerminalId) -> All<Level> {
        self.finder.levels(terminal)
    }

    /// The poles that hard paths bring a terminal, some of them perhaps more than once.
    #[must_use]
    pub fn hard_poles(&self, terminal: TerminalId) -> Vec<PoleOf> {
        self.levels(terminal).ways.iter().flat_map(|level| level.poles.iter().copied()).collect()
    }

    /// The poles that a terminal might reach with a resistor, load or coil on the way, other than the part `without`.
    #[must_use]
    pub fn soft_poles(&self, terminal: TerminalId, without: PartId) -> Vec<PoleOf> {
        self.finder.soft_poles(terminal, without)
    }

    /// Whether a terminal might reach any pole in that way.
    #[must_use]
    pub fn has_soft_pole(&self, terminal: TerminalId, without: PartId) -> bool {
        self.finder.has_soft_pole(terminal, without)
    }

    /// The ways in which two terminals are joined without a diode: what each needs, and the parts on it.
    #[must_use]
    pub fn joins(&self, a: TerminalId, b: TerminalId) -> All<(Vec<Need>, Vec<PartId>)> {
        self.finder.joins(a, b)
    }

    /// The loads and coils whose two ends are joined, fuses counted as closed, to two terminals.
    #[must_use]
    pub fn between(&self, job: &Job, a: TerminalId, b: TerminalId) -> Vec<PartId> {
        let mut parts = self.finder.soft_between(a, b);
        parts.retain(|part| matches!(job.part(*part).kind, Kind::Load(_) | Kind::Coil(_)));
        parts
    }

    /// The number of all that conductors, fuses, diodes and contacts, however they stand, join to a terminal, if no source is
    /// among that.
    #[must_use]
    pub fn lost_feed(&self, job: &Job, terminal: TerminalId) -> Option<u32> {
        self.lost_feeds(job).feed(self.past_fuses(terminal))
    }

    /// Whether nothing but a way through other loads that have lost their feed as well could bring current to a part with
    /// these ends: one of them is on no source, and all that hangs there leads to one kind of pole.
    #[must_use]
    pub fn fed_by_the_lost(&self, job: &Job, ends: [TerminalId; 2]) -> bool {
        ends.iter().any(|end| self.lost_feeds(job).one_sided(self.past_fuses(*end)))
    }

    fn lost_feeds(&self, job: &Job) -> &lost::Lost {
        self.lost_feeds.get_or_init(|| self.finder.lost(job))
    }

    /// Whether two terminals hang together by any path at all, sources included.
    #[must_use]
    pub fn same_system(&self, a: TerminalId, b: TerminalId) -> bool {
        self.finder.system(a) == self.finder.system(b)
    }

    /// The number of what hangs together with a terminal by any path at all, for telling whether two have one.
    #[must_use]
    pub fn system_of(&self, terminal: TerminalId) -> u32 {
        self.finder.system(terminal)
    }

    /// What hangs together with some terminals without the poles of sources, by number; nothing for those that are poles
    /// themselves.
    #[must_use]
    pub fn branches(&self, ends: &[TerminalId]) -> BTreeSet<u32> {
        self.finder.branches(ends)
    }

    /// Whether hard paths might lead from some terminals to poles that are not one conductor. If not, nothing but what is
    /// in their branches draws current through a contact with these ends.
    #[must_use]
    pub fn joins_poles(&self, ends: &[TerminalId]) -> bool {
        self.finder.joins_poles(ends)
    }

    /// The terminal of a device without sections at which a path from `terminal` ends, if one does. What lies behind
    /// it is not known.
    #[must_use]
    pub fn dark_end(&self, terminal: TerminalId, without: PartId) -> Option<TerminalId> {
        if self.dark.is_empty() {
            return None;
        }
        let around = self.finder.around(terminal, without);
        self.dark.iter().copied().find(|dark| around.contains(&self.nets.node[dark.index()]))
    }

    /// The movers of all that hangs together with a terminal by any path that passes no pole, nor the part `without`: those
    /// that may change the volts there.
    #[must_use]
    pub fn movers_around(&self, terminal: TerminalId, without: PartId) -> Vec<MoverId> {
        self.finder.movers_around(terminal, without).into_iter().collect()
    }

    /// The shortest path from one terminal to another in a state, if there is one. With [`Way::Hard`] it goes with
    /// the current, so diodes count from anode to cathode.
    #[must_use]
    pub fn path(&self, job: &Job, state: &State, way: Way, from: TerminalId, to: TerminalId) -> Option<Path> {
        trace::path(job, &self.landings, from, to, &|part, from, to| match &job.part(part).kind {
            Kind::Diode(diode) => way == Way::Soft || way == Way::Hard && diode.anode == from,
            Kind::Resistor(_) | Kind::Load(_) | Kind::Coil(_) => way == Way::Soft,
            _ => self
                .mover_of(part)
                .is_some_and(|mover| trace::throw(job, part, from, to, state.operated(mover))),
        })
    }

    /// The path of a way that was found, from one terminal to another: through conductors, fuses and its `parts`,
    /// whose movers stand as it needs.
    #[must_use]
    pub fn follow(
        &self,
        job: &Job,
        needs: &[Need],
        parts: &[PartId],
        from: TerminalId,
        to: TerminalId,
    ) -> Option<Path> {
        trace::path(job, &self.landings, from, to, &|part, from, to| {
            parts.contains(&part)
                && self.mover_of(part).is_none_or(|mover| {
                    needs
                        .iter()
                        .any(|need| need.mover == mover && trace::throw(job, part, from, to, need.operated))
                })
        })
    }

    /// Whether, in a state, no closed contact bridges any of what a way of feeding goes through: no conductor is
    /// visited twice.
    #[must_use]
    pub fn unbridged(&self, job: &Job, part: PartId, feed: &Feed, state: &State) -> bool {
        let soft = feed.parts.iter().chain([&part]);
        let mut ends: Vec<[TerminalId; 2]> = soft.filter_map(|id| job.part(*id).kind.soft_ends()).collect();
        while let Some([a, b]) = ends.pop() {
            let joined = |x: TerminalId, y: TerminalId| self.path(job, state, Way::Closed, x, y).is_some();
            if joined(a, b)
                || ends
                    .iter()
                    .any(|[c, d]| (joined(a, *c) && joined(b, *d)) || (joined(a, *d) && joined(b, *c)))
            {
                return false;
            }
        }
        true
    }

    /// The state in words, as an installer would say it: `with B1 operated and S1 operated`; `at rest`. What follows from
    /// the movers that are named is not named itself. Of very many only the first are.
    #[must_use]
    pub fn words(&self, state: &State) -> String {
        let moved = self.reach.told(state);
        let named = if moved.len() > NAMED + 1 { NAMED } else { moved.len() };
        let mut words: Vec<String> = moved[..named]
            .iter()
            .map(|&mover| {
                let name = self.movers.get(mover.index()).map_or("", |m| m.name.as_str());
                format!("{name} {}", if state.operated(mover) { "operated" } else { "not operated" })
            })
            .collect();
        if named < moved.len() {
            words.push(format!("{} others not at rest", moved.len() - named));
        }
        match words.as_slice() {
            [] => "at rest".to_owned(),
            [one] => format!("with {one}"),
            [first @ .., last] => format!("with {} and {last}", first.join(", ")),
        }
    }

    /// The one mover that a state's words name, if it is operated.
    #[must_use]
    pub fn operated_alone(&self, state: &State) -> Option<&str> {
        match self.reach.told(state)[..] {
            [mover] if state.operated(mover) => self.movers.get(mover.index()).map(|m| m.name.as_str()),
            _ => None,
        }
    }

    /// The words for the state in which a way holds; `None` if it needs nothing and so holds always.
    #[must_use]
    pub fn when(&self, needs: &[Need], state: &State) -> Option<String> {
        (!needs.is_empty()).then(|| self.words(state))
    }
}
