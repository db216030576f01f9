//! Which states can be reached: the logic of coils, settled after every move of the world.
//!
//! A coil that is fed by hard paths pulls in; one that nothing feeds drops out; one that is fed only by way of other
//! loads or resistors may do either, so both are followed (more states than there are, never fewer). Only the movers
//! that a question depends on are moved. Where they are too many, a way that no support can be found for is out of
//! reach for certain, and any other counts as reachable, marked as assumed.

use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};
use std::slice;
use std::sync::{Arc, Mutex, PoisonError};

use crate::netlist::Lists;
use crate::source::small;

use super::graph::Need;
use super::movers::{MovedBy, Mover, MoverId, State};
use super::needs::within;
use super::quick::{Marks, Set};

/// Whether a state with given positions can be reached.
#[derive(Clone, Debug, PartialEq)]
pub enum Reachable {
    /// It can: one such state, nearest to rest. Coils that the question does not depend on stand there as at rest.
    Yes(State),
    /// There are too many movers to be sure; it counts as reachable.
    Assumed(State),
    /// It cannot.
    No,
}

impl Reachable {
    /// The state, if it counts as reachable.
    #[must_use]
    pub fn state(self) -> Option<State> {
        match self {
            Self::Yes(state) | Self::Assumed(state) => Some(state),
            Self::No => None,
        }
    }
}

/// Ways of feeding a coil, each with whether it is sure to move it.
pub(super) type Terms = Box<[(Box<[Need]>, bool)]>;

/// What decides the position of a mover that is not the world's.
#[derive(Clone, Debug, Default)]
pub(super) struct Logic {
    /// The ways in which it is fed (or its input made active), and whether that is sure to move it.
    pub(super) terms: Terms,
    /// The same of the coil that puts it back, if it is one that is set and reset.
    pub(super) resets: Option<Terms>,
    /// Whether it may move at any time, because what feeds it is not known.
    pub(super) free: bool,
    /// Whether it changes over at each pulse and stays.
    pub(super) latching: bool,
    /// Whether it may stand at rest while it is fed.
    pub(super) timed: bool,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Fed {
    Yes,
    No,
    Maybe,
}

/// At most so many movers together, so many of the world, and so many states, are enumerated for one question.
const GROUP: usize = 40;
const WORLD: usize = 12;
const STATES: usize = 20_000;
/// At most so many steps are spent on finding support for a state that is not enumerated.
const SUPPORT: usize = 4_000;
/// Where more movers than this stand otherwise than at rest, those that follow others are told as well.
const MANY: usize = 100;

/// The movers and their logic.
pub(super) struct Reach {
    /// Of each mover that is not the world's, in order.
    logic: Vec<Logic>,
    /// By mover: where its logic stands.
    logic_at: Vec<Option<u32>>,
    /// By mover: the coils that depend on it.
    moves: Lists<MoverId>,
    /// By mover: those that it depends on itself; none for the world's.
    depends: Lists<MoverId>,
    pub(super) rest: State,
    walks: Mutex<Walks>,
}

/// The walks so far; `None` for a group that is too large.
#[derive(Default)]
struct Walks {
    by_group: BTreeMap<Vec<MoverId>, Option<Arc<Walked>>>,
    /// A large job has the same panel many times: groups that work alike are walked once.
    by_logic: HashMap<Local, Option<Arc<Walked>>>,
}

/// The reachable positions of a closed group of movers, nearest to rest first.
struct Walked {
    states: Box<[u64]>,
    /// A state from which the coils never come to stand.
    restless: Option<u64>,
}

/// Coils that never come to rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Chatter {
    /// How the movers of the world stand.
    pub state: State,
    /// What moves, and how, in the order of one round.
    pub cycle: Vec<(MoverId, bool)>,
}

impl Reach {
    /// Of the movers of a job, each with its logic unless the world moves it.
    pub(super) fn of(movers: &[Mover], logic_of: impl Fn(&Mover) -> Option<Logic>) -> Self {
        let mut logic = Vec::new();
        let mut logic_at = Vec::with_capacity(movers.len());
        for mover in movers {
            let rule = logic_of(mover);
            logic_at.push(rule.is_some().then_some(small(logic.len())));
            logic.extend(rule);
        }
        logic.shrink_to_fit();
        let coils: Vec<MoverId> =
            (0..).map(MoverId).zip(&logic_at).filter(|(_, at)| at.is_some()).map(|(coil, _)| coil).collect();
        // Each coil with each mover that it depends on.
        let mut pairs: Vec<(MoverId, MoverId)> = Vec::new();
        for (coil, rule) in coils.iter().zip(&logic) {
            let terms = rule.terms.iter().chain(rule.resets.iter().flatten());
            pairs.extend(terms.flat_map(|term| &term.0).map(|need| (*coil, need.mover)));
        }
        pairs.sort_unstable();
        pairs.dedup();
        let moves = pairs.iter().map(|(coil, by)| (by.index(), *coil));
        let depends = pairs.iter().map(|(coil, by)| (coil.index(), *by));
        let rest = State::resting(movers.iter().map(|m| m.by == MovedBy::World && m.rest_operated), &[]);
        let mut reach = Self {
            logic,
            logic_at,
            moves: Lists::of(movers.len(), moves),
            depends: Lists::of(movers.len(), depends),
            rest,
            walks: Mutex::default(),
        };
        let mut settled = reach.rest.clone();
        reach.settle(&mut settled, coils);
        let operated = (0..).take(movers.len()).map(|m| settled.operated(MoverId(m)));
        reach.rest = State::resting(operated, settled.fed());
        reach
    }

    /// What decides the position of a mover; `None` if the world does.
    fn logic(&self, mover: MoverId) -> Option<&Logic> {
        self.logic.get(self.logic_at(mover)?)
    }

    fn logic_at(&self, mover: MoverId) -> Option<usize> {
        self.logic_at.get(mover.index()).copied().flatten().map(|at| at as usize)
    }

    fn follows(&self, mover: MoverId) -> bool {
        self.logic_at(mover).is_some()
    }

    fn fed(logic: &Logic, operated: impl Fn(MoverId) -> bool) -> Fed {
        let holds = |needs: &[Need]| needs.iter().all(|need| operated(need.mover) == need.operated);
        if logic.free {
            return Fed::Maybe;
        }
        let mut fed = Fed::No;
        for (needs, sure) in &logic.terms {
            if holds(needs) {
                if *sure && !logic.timed {
                    return Fed::Yes;
                }
                fed = Fed::Maybe;
            }
        }
        fed
    }

    /// Lets the coils follow, beginning with `queue`; false if they never stand still. A coil that may do either
    /// counts as fed.
    pub(super) fn settle(&self, state: &mut State, queue: Vec<MoverId>) -> bool {
        if queue.is_empty() {
            return true;
        }
        // A coil waits once for every change that concerns it; those after which it was looked at need no other look.
        let mut concerned = Marks::none(self.logic.len());
        for at in queue.iter().filter_map(|coil| self.logic_at(*coil)) {
            concerned.insert(at);
        }
        // The state is put right at the end: which stand otherwise than it says, and every turn.
        let mut turned = Marks::none(self.logic_at.len());
        let mut turns: Vec<MoverId> = Vec::new();
        let mut queue: VecDeque<MoverId> = queue.into();
        let mut left = 64 + 16 * self.logic.len();
        let mut still = true;
        while let Some(coil) = queue.pop_front() {
            let Some(at) = self.logic_at(coil).filter(|at| concerned.remove(*at)) else { continue };
            let logic = &self.logic[at];
            let operated = |mover: MoverId| state.operated(mover) != turned.contains(mover.index());
            let fed = !logic.free && Self::fed(logic, operated) != Fed::No;
            let before = operated(coil);
            let after = if let Some(resets) = &logic.resets {
                let holds = |needs: &[Need]| needs.iter().all(|need| operated(need.mover) == need.operated);
                let reset = resets.iter().any(|(needs, _)| holds(needs));
                if fed == reset { before } else { fed }
            } else if logic.latching {
                let was = state.fed().binary_search(&coil).is_ok();
                state.feed(coil, fed);
                before != (fed && !was)
            } else {
                fed
            };
            if after == before {
                continue;
            }
            if left == 0 {
                still = false;
                break;
            }
            left -= 1;
            if !turned.insert(coil.index()) {
                turned.remove(coil.index());
            }
            turns.push(coil);
            let others = self.moves.get(coil.index());
            for at in others.iter().filter_map(|other| self.logic_at(*other)) {
                concerned.insert(at);
            }
            queue.extend(others);
        }
        turns.into_iter().for_each(|coil| state.turn(coil));
        still
    }

    /// Moves a world mover and lets the coils follow; false if they never stand still.
    pub(super) fn operate(&self, state: &mut State, mover: MoverId, operated: bool) -> bool {
        if state.operated(mover) == operated {
            return true;
        }
        state.set(mover, operated);
        self.settle(state, self.moves.get(mover.index()).to_vec())
    }

    /// The movers by which a state is told from all others: those of the world that stand otherwise than at rest, and of
    /// those that follow others only the ones whose position is not certain from that, such as a relay that holds itself.
    /// Of more than [`MANY`] all are told: nobody reads so many names.
    pub(super) fn told(&self, state: &State) -> Vec<MoverId> {
        if state.moved().len() > MANY {
            return state.moved().to_vec();
        }
        let (following, mut told): (Vec<MoverId>, Vec<MoverId>) =
            state.moved().iter().partition(|mover| self.follows(**mover));
        if following.is_empty() || told.is_empty() {
            return state.moved().to_vec();
        }
        let behind = self.close(following.iter().copied());
        let coils: Vec<MoverId> = behind.into_iter().filter(|mover| self.follows(*mover)).collect();
        // What two relays do that each hold the other off depends on which was first: then neither is certain.
        let [from_rest, from_fed] = [false, true].map(|fed| {
            let mut after = self.rest.clone();
            told.iter().for_each(|mover| after.set(*mover, state.operated(*mover)));
            if fed {
                coils.iter().for_each(|coil| after.set(*coil, true));
            }
            self.settle(&mut after, coils.clone());
            after
        });
        let certain = |mover: MoverId| {
            let stands = state.operated(mover);
            let as_fed = if stands { Fed::Yes } else { Fed::No };
            self.logic(mover).is_some_and(|logic| {
                !logic.latching
                    && [&from_rest, &from_fed].iter().all(|after| {
                        after.operated(mover) == stands
                            && Self::fed(logic, |other| after.operated(other)) == as_fed
                    })
            })
        };
        told.extend(following.into_iter().filter(|mover| !certain(*mover)));
        told.sort_unstable();
        told
    }

    /// Whether all of `needs` can be so at once, in a state that holds none of the sets `without`.
    pub(super) fn reachable(&self, needs: &[Need], without: &[&[Need]]) -> Reachable {
        if without.iter().any(|set| within(set, needs)) {
            return Reachable::No;
        }
        let all = needs.iter().chain(without.iter().copied().flatten()).map(|need| need.mover);
        let seeds = all.filter(|mover| self.follows(*mover));
        if seeds.clone().next().is_none() {
            let mut state = self.rest.clone();
            for need in needs {
                state.set(need.mover, need.operated);
            }
            return match self.step_round(needs, without, state, &BTreeSet::new()) {
                Some(state) => Reachable::Yes(state),
                None => Reachable::No,
            };
        }
        let group = self.close_to(seeds, GROUP);
        let walked = group.and_then(|group| Some((self.walk(&group)?, group)));
        let Some((walked, group)) = walked else { return self.supported(needs, without) };
        let inside: BTreeSet<MoverId> = group.iter().copied().collect();
        for &bits in &walked.states {
            let state = self.state(&group, bits);
            let mut wanted = state.clone();
            for need in needs.iter().filter(|need| !inside.contains(&need.mover)) {
                wanted.set(need.mover, need.operated);
            }
            if needs.iter().any(|need| wanted.operated(need.mover) != need.operated) {
                continue;
            }
            if let Some(state) = self.step_round(needs, without, wanted, &inside) {
                return Reachable::Yes(state);
            }
        }
        Reachable::No
    }

    /// Moves world movers that nothing else hangs on until none of the sets `without` holds.
    fn step_round(
        &self,
        needs: &[Need],
        without: &[&[Need]],
        mut state: State,
        inside: &BTreeSet<MoverId>,
    ) -> Option<State> {
        // A source may be shorted in thousands of ways at once: each round goes through all of them.
        for _ in 0..=without.len() {
            let mut still = true;
            for set in without {
                if set.iter().any(|need| state.operated(need.mover) != need.operated) {
                    continue;
                }
                still = false;
                let free = set.iter().find(|need| {
                    !inside.contains(&need.mover) && needs.iter().all(|n| n.mover != need.mover)
                })?;
                state.set(free.mover, !free.operated);
            }
            if still {
                return Some(state);
            }
        }
        None
    }

    /// All movers that the given ones depend on, themselves among them.
    fn close(&self, seeds: impl Iterator<Item = MoverId>) -> Vec<MoverId> {
        self.close_to(seeds, usize::MAX).unwrap_or_default()
    }

    /// The same; `None` where they are more than `most`.
    fn close_to(&self, seeds: impl Iterator<Item = MoverId>, most: usize) -> Option<Vec<MoverId>> {
        let mut known = Marks::none(self.logic_at.len());
        let mut all: Vec<MoverId> = seeds.filter(|mover| known.insert(mover.index())).collect();
        let mut next = 0;
        while let Some(mover) = all.get(next).filter(|_| all.len() <= most) {
            let others = self.depends.get(mover.index());
            all.extend(others.iter().filter(|other| known.insert(other.index())));
            next += 1;
        }
        all.sort_unstable();
        (all.len() <= most).then_some(all)
    }

    /// The movers that some positions depend on, their own among them.
    pub(super) fn behind(&self, needs: &[Need]) -> Vec<MoverId> {
        self.close(needs.iter().map(|need| need.mover))
    }

    fn state(&self, movers: &[MoverId], bits: u64) -> State {
        let mut state = self.rest.clone();
        for (n, &mover) in movers.iter().enumerate() {
            state.set(mover, bits >> n & 1 == 1);
        }
        state
    }

    /// All reachable positions of a closed group; `None` if it is too large.
    fn walk(&self, group: &[MoverId]) -> Option<Arc<Walked>> {
        if group.len() > GROUP {
            return None;
        }
        let mut walks = self.walks.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = walks.by_group.get(group) {
            return known.clone();
        }
        let walked = match Local::of(self, group) {
            Some(local) => match walks.by_logic.entry(local) {
                Entry::Occupied(known) => known.get().clone(),
                Entry::Vacant(new) => {
                    let walked = new.key().walk().map(Arc::new);
                    new.insert(walked).clone()
                }
            },
            None => None,
        };
        walks.by_group.insert(group.to_vec(), walked.clone());
        walked
    }

    /// The coils that never come to rest in some state, one round of each; those of groups too large to walk are left
    /// out.
    pub(super) fn chatters(&self) -> Vec<Chatter> {
        let mut found: Vec<Chatter> = Vec::new();
        for coil in (0..).map(MoverId).take(self.logic_at.len()).filter(|mover| self.follows(*mover)) {
            let Some(group) = self.close_to([coil].into_iter(), GROUP) else { continue };
            let Some(walked) = self.walk(&group) else { continue };
            let Some(start) = walked.restless else { continue };
            let chatter = self.round(self.state(&group, start), &group);
            let known = |other: &Chatter| other.cycle.iter().any(|(mover, _)| *mover == coil);
            if !chatter.cycle.is_empty() && !found.iter().any(known) {
                found.push(chatter);
            }
        }
        found
    }

    /// Lets coils follow one at a time until a state comes up again.
    fn round(&self, mut state: State, movers: &[MoverId]) -> Chatter {
        let mut seen = vec![state.clone()];
        let mut moves: Vec<(MoverId, bool)> = Vec::new();
        loop {
            let restless = movers.iter().find_map(|&coil| {
                let logic = self.logic(coil).filter(|logic| !logic.latching)?;
                let fed = Self::fed(logic, |mover| state.operated(mover)) == Fed::Yes;
                (fed != state.operated(coil)).then_some((coil, fed))
            });
            let Some((coil, operated)) = restless else { return Chatter { state, cycle: Vec::new() } };
            state.set(coil, operated);
            moves.push((coil, operated));
            if let Some(before) = seen.iter().position(|earlier| *earlier == state) {
                let mut world = state;
                for (mover, _) in &moves {
                    let rest = world.rests_operated(*mover);
                    world.set(*mover, rest);
                }
                return Chatter { state: world, cycle: moves.split_off(before) };
            }
            seen.push(state.clone());
        }
    }

    /// The reachable states of some movers, the others as at rest; and whether they are exactly those. Of more than
    /// `most` those nearest to rest and those furthest from it; beyond the bound: at rest, each world mover alone, and
    /// all of them together.
    pub(super) fn states(&self, movers: &[MoverId], most: usize) -> (Vec<State>, bool) {
        let group = self.close(movers.iter().copied());
        if let Some(walked) = self.walk(&group) {
            let all = &walked.states;
            let left_out = if all.len() > most { most / 2..all.len() - most / 2 } else { 0..0 };
            let kept = (0..all.len()).filter(|n| !left_out.contains(n));
            let states = kept.map(|n| self.state(&group, all[n])).collect();
            return (states, left_out.is_empty());
        }
        let world: Vec<MoverId> = group.into_iter().filter(|m| !self.follows(*m)).collect();
        let mut states = vec![self.rest.clone()];
        let mut all = self.rest.clone();
        for &mover in &world {
            let mut one = self.rest.clone();
            let away = !one.operated(mover);
            self.operate(&mut one, mover, away);
            self.operate(&mut all, mover, away);
            states.push(one);
        }
        states.push(all);
        states.dedup();
        (states, false)
    }

    /// For a group that is too large to walk: looks for support of every coil that must be operated. None to be
    /// found means out of reach for certain.
    fn supported(&self, needs: &[Need], without: &[&[Need]]) -> Reachable {
        let Some(support) = Support::of(self, needs) else { return Reachable::No };
        // A walk that moves what the support names, last cause first, may prove it.
        let mut state = self.rest.clone();
        let mut sound = true;
        for need in support.iter().rev().filter(|need| !self.follows(need.mover)) {
            sound &= self.operate(&mut state, need.mover, need.operated);
        }
        let proved = sound
            && needs.iter().all(|need| state.operated(need.mover) == need.operated)
            && !without.iter().any(|set| set.iter().all(|n| state.operated(n.mover) == n.operated));
        if proved {
            return Reachable::Yes(state);
        }
        let mut state = self.rest.clone();
        for need in &support {
            state.set(need.mover, need.operated);
        }
        Reachable::Assumed(state)
    }
}

/// Positions that support each other, coils by what feeds them.
struct Support<'r> {
    reach: &'r Reach,
    /// In the order in which they came up.
    needs: Vec<Need>,
    /// The same by mover: those not operated, and those operated.
    stand: [Marks; 2],
    /// The coils among them of which nobody has asked yet what puts them so.
    open: BTreeSet<MoverId>,
}

/// A coil that was asked what puts it so.
struct Asked<'r> {
    coil: MoverId,
    /// The ways of feeding it that are still to be tried.
    ways: slice::Iter<'r, (Box<[Need]>, bool)>,
    /// How many positions came up before.
    before: usize,
}

impl<'r> Support<'r> {
    /// What supports some positions, sorted, they among it; `None` if nothing does. Out of steps counts as supported.
    fn of(reach: &'r Reach, needs: &[Need]) -> Option<Vec<Need>> {
        let none = || Marks::none(reach.logic_at.len());
        let mut support = Self { reach, needs: Vec::new(), stand: [none(), none()], open: BTreeSet::new() };
        if !needs.iter().all(|need| support.put(*need)) {
            return None;
        }
        let mut asked: Vec<Asked> = Vec::new();
        for _ in 0..SUPPORT {
            let Some(coil) = support.open.pop_first() else { break };
            let logic = reach.logic(coil)?;
            let before = support.needs.len();
            let fed = support.stands(Need { mover: coil, operated: true });
            let free = logic.free || logic.latching;
            let ways = if fed && !free { logic.terms.iter() } else { [].iter() };
            asked.push(Asked { coil, ways, before });
            if !free && (fed || support.held(coil, logic)) {
                support.try_next(&mut asked)?;
            }
        }
        support.needs.sort_unstable();
        Some(support.needs)
    }

    fn stands(&self, need: Need) -> bool {
        self.stand[usize::from(need.operated)].contains(need.mover.index())
    }

    /// Puts a mover so; false if it must stand otherwise.
    fn put(&mut self, need: Need) -> bool {
        if self.stands(Need { operated: !need.operated, ..need }) {
            return false;
        }
        if self.stand[usize::from(need.operated)].insert(need.mover.index()) {
            self.needs.push(need);
            if self.reach.follows(need.mover) {
                self.open.insert(need.mover);
            }
        }
        true
    }

    /// Whether a coil that must not be operated is sure to be.
    fn held(&self, coil: MoverId, logic: &Logic) -> bool {
        !logic.timed
            && logic
                .terms
                .iter()
                .any(|(way, sure)| *sure && way.iter().all(|need| need.mover != coil && self.stands(*need)))
    }

    /// Goes on with the next way that is open to the coil that was asked last, or to one before it.
    fn try_next(&mut self, asked: &mut Vec<Asked>) -> Option<()> {
        loop {
            let Asked { coil, ways, before } = asked.last_mut()?;
            for need in self.needs.drain(*before..) {
                self.stand[usize::from(need.operated)].remove(need.mover.index());
                self.open.remove(&need.mover);
            }
            let Some((way, _)) = ways.next() else {
                self.open.insert(*coil);
                asked.pop();
                continue;
            };
            // A coil that cuts itself off chatters: both positions come up.
            let own = Need { mover: *coil, operated: false };
            if way.iter().all(|need| *need == own || self.put(*need)) {
                return Some(());
            }
        }
    }
}

/// Positions in bits, for telling whether a state came up before.
type States = Set<u64>;

/// A closed group in bits: one for each mover, one more for each latching coil that is fed.
#[derive(PartialEq, Eq, Hash)]
struct Local {
    movers: usize,
    world: Vec<usize>,
    coils: Vec<Coil>,
    start: u64,
}

#[derive(PartialEq, Eq, Hash)]
struct Coil {
    bit: usize,
    /// Mask and value of each way of feeding it, and whether it is sure.
    terms: Vec<(u64, u64, bool)>,
    free: bool,
    fed: Option<usize>,
    /// The ways of feeding the coil that resets it.
    resets: Option<Vec<(u64, u64, bool)>>,
}

/// What coils run through until they stand.
#[derive(Default)]
struct Run {
    through: Vec<u64>,
    still: Vec<u64>,
    seen: States,
}

impl Run {
    fn begin(&mut self, start: u64) {
        self.through.clear();
        self.still.clear();
        self.seen.clear();
        self.through.push(start);
    }

    /// Most runs are so short that looking through them is quicker than any set.
    fn reach(&mut self, state: u64) {
        const SHORT: usize = 16;
        if self.through.len() < SHORT {
            if !self.through.contains(&state) {
                self.through.push(state);
            }
            return;
        }
        if self.seen.is_empty() {
            self.seen.extend(self.through.iter().copied());
        }
        if self.seen.insert(state) {
            self.through.push(state);
        }
    }

    /// The states in which they may come to stand, or, if they never do, all that they run through.
    fn ends(&self) -> &[u64] {
        if self.still.is_empty() { &self.through } else { &self.still }
    }
}

impl Local {
    fn of(reach: &Reach, group: &[MoverId]) -> Option<Self> {
        let mut world = Vec::new();
        let mut coils = Vec::new();
        let mut bits = group.len();
        let mut start = 0_u64;
        for (bit, mover) in group.iter().enumerate() {
            let Some(logic) = reach.logic(*mover) else {
                world.push(bit);
                start |= u64::from(reach.rest.operated(*mover)) << bit;
                continue;
            };
            let in_bits = |(needs, sure): &(Box<[Need]>, bool)| {
                let mut term = (0_u64, 0_u64, *sure && !logic.timed);
                for need in needs {
                    let at = group.binary_search(&need.mover).ok()?;
                    term.0 |= 1 << at;
                    term.1 |= u64::from(need.operated) << at;
                }
                Some(term)
            };
            let terms = logic.terms.iter().filter_map(in_bits).collect();
            let resets = logic.resets.as_ref().map(|resets| resets.iter().filter_map(in_bits).collect());
            let fed = (logic.latching && logic.resets.is_none()).then(|| {
                bits += 1;
                bits - 1
            });
            coils.push(Coil { bit, terms, free: logic.free, fed, resets });
        }
        (world.len() <= WORLD && bits <= 60).then_some(Self { movers: group.len(), world, coils, start })
    }

    fn fed(coil: &Coil, state: u64) -> Fed {
        if coil.free { Fed::Maybe } else { Self::fed_by(&coil.terms, state) }
    }

    fn fed_by(terms: &[(u64, u64, bool)], state: u64) -> Fed {
        let mut fed = Fed::No;
        for (mask, value, sure) in terms {
            if state & mask == *value {
                if *sure {
                    return Fed::Yes;
                }
                fed = Fed::Maybe;
            }
        }
        fed
    }

    /// Where a coil would go: a state that it is driven to, and one that it may go to besides.
    fn moves(coil: &Coil, state: u64) -> (Option<u64>, Option<u64>) {
        let on = 1_u64 << coil.bit;
        let fed = Self::fed(coil, state);
        if let Some(resets) = &coil.resets {
            return match (fed, Self::fed_by(resets, state)) {
                (Fed::Yes, Fed::No) => ((state & on == 0).then_some(state | on), None),
                (Fed::No, Fed::Yes) => ((state & on != 0).then_some(state & !on), None),
                (Fed::No, Fed::No) | (Fed::Yes, Fed::Yes) => (None, None),
                _ => (None, Some(state ^ on)),
            };
        }
        if let Some(bit) = coil.fed {
            let mark = 1_u64 << bit;
            let was = state & mark != 0;
            return match fed {
                Fed::Yes if !was => (Some((state ^ on) | mark), None),
                Fed::No if was => (Some(state & !mark), None),
                Fed::Maybe if was => (None, Some(state & !mark)),
                Fed::Maybe => (None, Some((state ^ on) | mark)),
                _ => (None, None),
            };
        }
        let operated = state & on != 0;
        match fed {
            Fed::Yes if !operated => (Some(state | on), None),
            Fed::No if operated => (Some(state & !on), None),
            Fed::Maybe => (None, Some(state ^ on)),
            _ => (None, None),
        }
    }

    /// Runs through all states in which the coils may come to be; says whether they stand in any. `None` where they are
    /// too many.
    fn settle(&self, start: u64, run: &mut Run) -> Option<bool> {
        run.begin(start);
        let mut next = 0;
        while let Some(&state) = run.through.get(next) {
            next += 1;
            let mut stands = true;
            let mut together = state;
            for coil in &self.coils {
                let (driven, may) = Self::moves(coil, state);
                if let Some(after) = driven {
                    stands = false;
                    together ^= state ^ after;
                    run.reach(after);
                }
                may.into_iter().for_each(|after| run.reach(after));
            }
            run.reach(together);
            if stands {
                run.still.push(state);
            }
            if run.through.len() > STATES {
                return None;
            }
        }
        Some(!run.still.is_empty())
    }

    fn walk(&self) -> Option<Walked> {
        let marks = (1_u64 << self.movers) - 1;
        let mut run = Run::default();
        let mut restless = (!self.settle(self.start, &mut run)?).then_some(self.start);
        let mut order = run.ends().to_vec();
        let mut seen: States = order.iter().copied().collect();
        // What a move of the world led to before leads to nothing new.
        let mut moved_to = States::default();
        let mut next = 0;
        let mut spent = 0;
        while let Some(&state) = order.get(next) {
            next += 1;
            for &bit in &self.world {
                let moved = state ^ (1 << bit);
                if !moved_to.insert(moved) {
                    continue;
                }
                if !self.settle(moved, &mut run)? {
                    restless.get_or_insert(moved);
                }
                spent += run.ends().len();
                order.extend(run.ends().iter().filter(|after| seen.insert(**after)));
            }
            if order.len() > STATES || spent > 20 * STATES {
                return None;
            }
        }
        let mut known = States::default();
        let states = order.iter().map(|s| s & marks).filter(|s| known.insert(*s)).collect();
        Some(Walked { states, restless })
    }
}
