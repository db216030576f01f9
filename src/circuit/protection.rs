//! What limits the current of a core: the fuse or source behind it.
//!
//! A conductor can be made to carry what the widest of all ways to a plus lets through: on each way the smallest of its
//! fuses, of the source's own fuse and of the source's amps counts, of all ways the largest. A battery has no limit but
//! a fuse. For a core that brings current back it is the same figure for each load whose current returns through it, so
//! the cores on the ways of every load are told first, conductor by conductor, from the source outwards.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};
use std::ops::Deref;
use std::sync::Arc;

use crate::netlist::{CoreId, Current, Job, Kind, Lists, PartId, Pole, TerminalId};
use crate::units::Amps;

use super::conductors::Conductors;
use super::graph::Need;
use super::needs::both;
use super::{All, Circuit, Feed, small};

/// The largest current that a core can be made to carry before something cuts it off.
#[derive(Clone, Debug)]
pub struct Limit {
    /// The load whose current returns through the core; `None` for a core on the plus side.
    pub returns: Option<PartId>,
    /// What sets the limit; the cores of one conductor share it.
    by: Arc<Bound>,
}

impl Deref for Limit {
    type Target = Bound;

    fn deref(&self) -> &Bound {
        &self.by
    }
}

/// What the widest way from a plus lets through.
#[derive(Debug)]
pub struct Bound {
    /// The amps; `None` where nothing limits them.
    pub amps: Option<Amps>,
    /// The fuse or source that sets them; the battery that has no limit.
    pub set_by: PartId,
    /// The source from whose plus it comes.
    pub source: PartId,
    /// What the way needs.
    pub needs: Vec<Need>,
    /// A fuse or source on the way whose amps are not stated.
    pub unknown: Option<PartId>,
}

/// What each core can be made to carry.
#[derive(Clone, Debug, Default)]
pub struct Protection {
    known: Limits,
    possible: Limits,
    leads: BTreeMap<CoreId, Option<f64>>,
    unsure: BTreeSet<CoreId>,
}

/// The limit of each core, by its number.
type Limits = Vec<Option<Limit>>;

/// The widest way that was found to a conductor or into a load, and whether all ways there were followed.
type Found = (Option<Arc<Bound>>, bool);

/// A step of a way in a conductor.
struct Leg {
    /// The terminal on the pole's side.
    root: TerminalId,
    /// Whether the load lies behind it already.
    back: bool,
    /// The terminal beyond.
    end: TerminalId,
    load: PartId,
}

impl Protection {
    /// What each core of a job can be made to carry.
    #[must_use]
    pub fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut protection = Self::default();
        let legs = legs(job, circuit);
        let unknown = job.parts.iter().any(|part| match &part.kind {
            Kind::Fuse(fuse) => fuse.amps.is_none(),
            Kind::Source(source) => !source.battery && source.amps.is_none(),
            _ => false,
        });
        let (known, unsure) = protection.cores(job, circuit, &legs, 0.0);
        protection.known = known;
        protection.unsure = unsure;
        if unknown {
            protection.possible = protection.cores(job, circuit, &legs, f64::INFINITY).0;
        }
        protection
    }

    /// The limit of a core that carries a load's current; `None` where it carries none.
    #[must_use]
    pub fn core(&self, core: CoreId) -> Option<&Limit> {
        self.known.get(core.index())?.as_ref()
    }

    /// The limit if the amps that are not stated limit nothing; `None` where all are stated.
    #[must_use]
    pub fn at_worst(&self, core: CoreId) -> Option<&Limit> {
        self.possible.get(core.index())?.as_ref()
    }

    /// Whether a core is part of a lead that ends at fuses, and how long the lead is from the source's plus to the
    /// farthest of them; infinite where a length is not stated.
    #[must_use]
    pub fn lead(&self, core: CoreId) -> Option<f64> {
        self.leads.get(&core).copied().flatten()
    }

    /// Whether the ways to the core were too many or too long to follow them all.
    #[must_use]
    pub fn unsure(&self, core: CoreId) -> bool {
        self.unsure.contains(&core)
    }

    fn cores(
        &mut self,
        job: &Job,
        circuit: &Circuit,
        legs: &[Leg],
        unknown: f64,
    ) -> (Limits, BTreeSet<CoreId>) {
        let mut widest = Widest::of(job, circuit, unknown);
        let conductors = Conductors::of(job, circuit);
        let mut limits: Limits = vec![None; job.cores.len()];
        let mut unsure = BTreeSet::new();
        let mut keep = |core: CoreId, returns: Option<PartId>, (by, complete): Found| {
            if !complete {
                unsure.insert(core);
            }
            let Some(by) = by else { return };
            let known = &mut limits[core.index()];
            if known.as_ref().is_none_or(|before| value(&by) > value(before) + 1e-9) {
                *known = Some(Limit { returns, by });
            }
        };
        let pluses: BTreeSet<TerminalId> = widest.starts.iter().map(|start| start.plus).collect();
        for legs in legs.chunk_by(|a, b| (a.root, a.back) == (b.root, b.back)) {
            let Some(&Leg { root, back, .. }) = legs.first() else { continue };
            let from_source = pluses.contains(&root);
            let ends: BTreeMap<TerminalId, (f64, PartId)> = legs
                .iter()
                .map(|&Leg { end, load, .. }| {
                    let most =
                        if back { widest.of_load(job, load).0.as_deref().map_or(0.0, value) } else { 0.0 };
                    (end, (most, load))
                })
                .collect();
            for (core, beyond) in conductors.beyond(root, &ends) {
                let Some((_, load)) = beyond.load else { continue };
                if back {
                    keep(core, Some(load), widest.of_load(job, load));
                } else {
                    let at = job.core(core).ends[0].to.terminal().unwrap_or(root);
                    keep(core, None, widest.exact(at));
                    let lead = (from_source && !beyond.unfused).then_some(beyond.to_fuse);
                    self.leads.entry(core).and_modify(|before| *before = before.and(lead)).or_insert(lead);
                }
            }
        }
        (limits, unsure)
    }
}

fn value(bound: &Bound) -> f64 {
    bound.amps.map_or(f64::INFINITY, |amps| amps.0)
}

/// The steps of all ways that feed a load or coil in some state, without those between batteries in series: each once,
/// with the first load whose way it is on, those from one terminal together.
fn legs(job: &Job, circuit: &Circuit) -> Vec<Leg> {
    let mut legs: BTreeMap<(TerminalId, bool, TerminalId), PartId> = BTreeMap::new();
    for (&part, feeds) in &circuit.feeds {
        // What has lost its feed is told as that, and so is what others get by way of it.
        if lost(job, circuit, part) {
            continue;
        }
        // A part that is fed the wrong way round is told as that; what flows then is no measure of its cable.
        let polarised = match &job.part(part).kind {
            Kind::Load(load) => load.polarised,
            Kind::Coil(coil) => coil.polarised,
            _ => false,
        };
        for feed in
            once(feeds).filter(|feed| (feed.forward || !polarised) && !by_the_lost(job, circuit, feed))
        {
            if let Some(steps) = steps(job, circuit, part, feed)
                && steps.first().is_some_and(|s| {
                    circuit.sound(&feed.needs, s.0).state().is_some()
                        || circuit.sound_when_lost(job, &feed.needs, &feed.sources, s.0).is_some()
                })
            {
                for (from, to, back) in steps {
                    if !(battery_pole(job, from) && battery_pole(job, to)) {
                        let (root, end) = if back { (to, from) } else { (from, to) };
                        legs.entry((root, back, end)).or_insert(part);
                    }
                }
            }
        }
    }
    // What lies behind a terminal without sections may draw anything.
    for &id in &circuit.dark {
        let pole = job.part_ids().find_map(|(part, p)| match &p.kind {
            Kind::Source(source) if circuit.joined_past_fuses(source.plus, id) => Some((part, source.plus)),
            _ => None,
        });
        if let Some((source, plus)) = pole {
            legs.entry((plus, false, id)).or_insert(source);
        }
    }
    legs.into_iter().map(|((root, back, end), load)| Leg { root, back, end, load }).collect()
}

/// Whether a part has lost its feed.
fn lost(job: &Job, circuit: &Circuit, part: PartId) -> bool {
    job.part(part).kind.load_ends().is_some_and(|ends| circuit.fed_by_the_lost(job, ends))
}

/// Whether a way leads through such a part.
fn by_the_lost(job: &Job, circuit: &Circuit, feed: &Feed) -> bool {
    !feed.hard && feed.parts.iter().any(|part| lost(job, circuit, *part))
}

/// The ways into a load, those in AC once that are there in both halves of the wave: the fuse in one pole of a transformer
/// limits what flows through the other pole's core as well.
fn once(feeds: &All<Feed>) -> impl Iterator<Item = &Feed> {
    feeds.ways.iter().filter(|feed| {
        let other_half = |other: &Feed| {
            other.pole == Pole::Plus && other.sources == feed.sources && other.needs == feed.needs
        };
        feed.pole == Pole::Plus || !feeds.ways.iter().any(other_half)
    })
}

fn battery_pole(job: &Job, at: TerminalId) -> bool {
    job.device(job.terminal(at).device).parts.iter().map(PartId).any(
        |id| matches!(&job.part(id).kind, Kind::Source(s) if s.battery && [s.plus, s.minus].contains(&at)),
    )
}

/// A way cut into its conductors: where it enters and leaves each, and whether the load lies behind it already.
fn steps(
    job: &Job,
    circuit: &Circuit,
    part: PartId,
    feed: &Feed,
) -> Option<Vec<(TerminalId, TerminalId, bool)>> {
    let [plus, minus] = job.part(part).kind.terminals()[..] else { return None };
    let (enters, leaves) = if feed.forward { (plus, minus) } else { (minus, plus) };
    let Kind::Source(source) = &job.part(*feed.sources.first()?).kind else { return None };
    let pole = |pole| if pole == Pole::Plus { source.plus } else { source.minus };
    let joined = |a, b| circuit.joined_past_fuses(a, b);
    let mut at = pole(feed.pole);
    let mut back = false;
    let mut steps = Vec::new();
    let mut rest = feed.parts.iter();
    loop {
        if !back && joined(at, enters) {
            steps.push((at, enters, false));
            (at, back) = (leaves, true);
            continue;
        }
        let Some(&next) = rest.next() else { break };
        let kind = &job.part(next).kind;
        let [a, b] = match kind {
            Kind::Contact(contact) => {
                let mover = circuit.mover_of(next)?;
                let operated = feed.needs.iter().find(|need| need.mover == mover)?.operated;
                [contact.common, if operated { contact.no? } else { contact.nc? }]
            }
            _ => kind.terminals().get(..2)?.try_into().ok()?,
        };
        let (near, far) = if joined(at, a) {
            (a, b)
        } else if joined(at, b) {
            (b, a)
        } else {
            return None;
        };
        steps.push((at, near, back));
        at = far;
    }
    let end = pole(feed.pole.opposite());
    steps.push((at, end, back));
    (back && joined(at, end)).then_some(steps)
}

/// The widest ways from a plus to each conductor.
struct Widest<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    /// What a fuse or source counts for whose amps are not stated.
    unknown: f64,
    /// By conductor: where current may go, what limits it, and what it needs.
    edges: Lists<Edge>,
    starts: Vec<Start>,
    /// By conductor: the widest way, whatever its contacts need, and the step by which it came.
    tree: Vec<Option<Step>>,
    exact: BTreeMap<usize, Found>,
    of_load: BTreeMap<PartId, Found>,
}

#[derive(Clone, Copy)]
struct Edge {
    to: u32,
    /// The part that it goes through.
    by: PartId,
    need: Option<Need>,
}

struct Start {
    source: PartId,
    net: usize,
    plus: TerminalId,
    cap: f64,
    unknown: bool,
    /// Whether it is the second pole of an AC source, from which only that is limited which the first does not reach.
    second: bool,
}

#[derive(Clone, Copy)]
struct Step {
    cap: f64,
    /// The conductor before and the number of the edge there, or the start.
    from: Result<(u32, u32), u32>,
}

/// How many steps are spent on the ways to one conductor whose widest way cannot be.
const STEPS: usize = 20_000;

/// Longer ways are not gone to their end: a thread's stack holds no more. No real way goes through so many parts.
const LONGEST: usize = 400;

impl<'a> Widest<'a> {
    fn of(job: &'a Job, circuit: &'a Circuit, unknown: f64) -> Self {
        let net = |t: TerminalId| circuit.net_of(t).0;
        let mut edges: Vec<(u32, Edge)> = Vec::new();
        let mut starts = Vec::new();
        let mut both_ways = |a: TerminalId, b: TerminalId, edge: Edge| {
            edges.push((net(a), Edge { to: net(b), ..edge }));
            edges.push((net(b), Edge { to: net(a), ..edge }));
        };
        let mut diodes = Vec::new();
        for (id, part) in job.part_ids() {
            let free = Edge { to: 0, by: id, need: None };
            let when =
                |operated| Edge { need: circuit.mover_of(id).map(|mover| Need { mover, operated }), ..free };
            match &part.kind {
                Kind::Fuse(fuse) => both_ways(fuse.between[0], fuse.between[1], free),
                Kind::Contact(contact) => {
                    for (throw, operated) in [(contact.no, true), (contact.nc, false)] {
                        if let Some(throw) = throw {
                            both_ways(contact.common, throw, when(operated));
                        }
                    }
                }
                Kind::Output(output) => both_ways(output.at, output.common, when(true)),
                Kind::TwoWire(sensor) => both_ways(sensor.plus, sensor.minus, when(true)),
                Kind::Diode(diode) => {
                    diodes.push((net(diode.anode), Edge { to: net(diode.cathode), ..free }))
                }
                Kind::Source(source) => {
                    let none = if source.battery { f64::INFINITY } else { unknown };
                    let rated = source.amps.filter(|_| !source.battery).map_or(none, |amps| amps.0);
                    let cap = source.fused.map_or(rated, |fused| fused.0.min(rated));
                    let missing = !source.battery && source.amps.is_none();
                    let start = |plus: TerminalId, second: bool| Start {
                        source: id,
                        net: net(plus) as usize,
                        plus,
                        cap,
                        unknown: missing,
                        second,
                    };
                    starts.push(start(source.plus, false));
                    if source.current == Current::Ac {
                        starts.push(start(source.minus, true));
                    }
                }
                _ => {}
            }
        }
        edges.extend(diodes);
        let mut widest = Self {
            job,
            circuit,
            unknown,
            edges: Lists::of(circuit.net_count(), edges.iter().map(|(net, edge)| (*net as usize, *edge))),
            starts,
            tree: Vec::new(),
            exact: BTreeMap::new(),
            of_load: BTreeMap::new(),
        };
        widest.grow();
        widest
    }

    fn grow(&mut self) {
        self.tree = vec![None; self.edges.count()];
        for second in [false, true] {
            let starts = self.starts.iter().enumerate().filter(|(_, start)| start.second == second);
            let open = starts
                .map(|(n, start)| Open { net: start.net, step: Step { cap: start.cap, from: Err(small(n)) } })
                .collect();
            self.grow_from(open);
        }
    }

    fn grow_from(&mut self, mut heap: BinaryHeap<Open>) {
        while let Some(Open { net, step }) = heap.pop() {
            if step.cap <= 0.0 || self.tree[net].is_some() {
                continue;
            }
            self.tree[net] = Some(step);
            for (n, edge) in self.edges.get(net).iter().enumerate() {
                if self.tree[edge.to as usize].is_none() {
                    let step = Step { cap: step.cap.min(self.cap(edge)), from: Ok((small(net), small(n))) };
                    heap.push(Open { net: edge.to as usize, step });
                }
            }
        }
    }

    /// The widest way into a load, and so back from it: to the terminal at which the hard part of its feeding ends.
    fn of_load(&mut self, job: &Job, load: PartId) -> Found {
        if let Some(known) = self.of_load.get(&load) {
            return known.clone();
        }
        let found = self.search_load(job, load);
        self.of_load.insert(load, found.clone());
        found
    }

    fn search_load(&mut self, job: &Job, load: PartId) -> Found {
        let circuit = self.circuit;
        let mut best: Option<Arc<Bound>> = None;
        let mut complete = true;
        let mut entries: Vec<TerminalId> = Vec::new();
        for feed in once(circuit.feeds(load)).filter(|feed| !by_the_lost(job, circuit, feed)) {
            let soft = |id: &&PartId| {
                matches!(job.part(**id).kind, Kind::Load(_) | Kind::Coil(_) | Kind::Resistor(_))
            };
            let first = feed.parts.iter().find(soft).copied().unwrap_or(load);
            for entry in steps(job, circuit, load, feed).into_iter().flatten().filter(|step| !step.2) {
                let ends = job.part(first).kind.terminals();
                if ends.contains(&entry.1) && !entries.contains(&entry.1) {
                    entries.push(entry.1);
                }
            }
        }
        for entry in entries {
            let (bound, whole) = self.exact(entry);
            complete &= whole;
            if let Some(bound) = bound
                && best.as_ref().is_none_or(|before| value(&bound) > value(before))
            {
                best = Some(bound);
            }
        }
        (best, complete)
    }

    /// The widest way to a terminal's conductor that some state allows; and whether all were followed.
    fn exact(&mut self, terminal: TerminalId) -> Found {
        let net = self.circuit.net_of(terminal).index();
        if let Some(known) = self.exact.get(&net) {
            return known.clone();
        }
        let mut edges = Vec::new();
        let mut at = net;
        let mut start = None;
        while let Some(step) = self.tree[at] {
            match step.from {
                Ok((before, edge)) => {
                    at = before as usize;
                    edges.extend(self.edges.get(at).get(edge as usize));
                }
                Err(n) => {
                    start = Some(n as usize);
                    break;
                }
            }
        }
        edges.reverse();
        let found = match start {
            None => (None, true),
            Some(n) => match self.bound(n, &edges) {
                Some(bound) => (Some(Arc::new(bound)), true),
                None => {
                    let (bound, complete) = self.search(net);
                    (bound.map(Arc::new), complete)
                }
            },
        };
        self.exact.insert(net, found.clone());
        found
    }

    /// The amps that an edge lets through.
    fn cap(&self, edge: &Edge) -> f64 {
        match &self.job.part(edge.by).kind {
            Kind::Fuse(fuse) => fuse.amps.map_or(self.unknown, |amps| amps.0),
            _ => f64::INFINITY,
        }
    }

    /// What a way lets through, if some state allows it.
    fn bound(&self, start: usize, edges: &[Edge]) -> Option<Bound> {
        let start = self.starts.get(start)?;
        let mut needs: Vec<Need> = Vec::new();
        let (mut cap, mut set_by) = (start.cap, start.source);
        let mut unknown = start.unknown.then_some(start.source);
        for edge in edges {
            if let Some(need) = edge.need {
                needs = both(&needs, &[need])?;
            }
            if let Kind::Fuse(fuse) = &self.job.part(edge.by).kind {
                let own = self.cap(edge);
                if own < cap {
                    (cap, set_by) = (own, edge.by);
                }
                unknown = unknown.or(fuse.amps.is_none().then_some(edge.by));
            }
        }
        let sound = self.circuit.sound(&needs, start.plus).state().is_some();
        if !sound && self.circuit.sound_when_lost(self.job, &needs, &[start.source], start.plus).is_none() {
            return None;
        }
        let amps = cap.is_finite().then_some(Amps(cap));
        Some(Bound { amps, set_by, source: start.source, needs, unknown })
    }

    /// All ways to a conductor, for one whose widest way needs what cannot be.
    fn search(&self, net: usize) -> (Option<Bound>, bool) {
        let mut tried = Tried { best: None, left: STEPS, complete: true };
        for second in [false, true] {
            for n in (0..self.starts.len()).filter(|n| self.starts[*n].second == second) {
                let mut seen = vec![self.starts[n].net];
                self.walk(n, net, &mut seen, &mut Vec::new(), &mut tried);
            }
            if tried.best.is_some() {
                break;
            }
        }
        (tried.best, tried.complete)
    }

    fn walk(&self, start: usize, to: usize, seen: &mut Vec<usize>, edges: &mut Vec<Edge>, tried: &mut Tried) {
        if tried.left == 0 {
            tried.complete = false;
            return;
        }
        tried.left -= 1;
        let Some(&at) = seen.last() else { return };
        let cap = edges.iter().map(|edge| self.cap(edge)).fold(self.starts[start].cap, f64::min);
        if cap <= 0.0 || tried.best.as_ref().is_some_and(|bound| cap <= value(bound)) {
            return;
        }
        if at == to {
            if let Some(bound) = self.bound(start, edges) {
                tried.best = Some(bound);
            }
            return;
        }
        if edges.len() == LONGEST {
            tried.complete = false;
            return;
        }
        for edge in self.edges.get(at) {
            let against = |e: &Edge| e.need.zip(edge.need).is_some_and(|(a, b)| a.mover == b.mover && a != b);
            if !seen.contains(&(edge.to as usize)) && !edges.iter().any(against) {
                seen.push(edge.to as usize);
                edges.push(*edge);
                self.walk(start, to, seen, edges, tried);
                edges.pop();
                seen.pop();
            }
        }
    }
}

/// What came of trying all ways to a conductor.
struct Tried {
    best: Option<Bound>,
    /// How many steps may still be gone.
    left: usize,
    /// Whether no way was left untried.
    complete: bool,
}

/// A conductor that the widest way so far leads to.
struct Open {
    net: usize,
    step: Step,
}

impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        self.step.cap.total_cmp(&other.step.cap).then(other.net.cmp(&self.net))
    }
}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Open {}
