//! From a job to shares, one a sheet.
//!
//! Before: a job that no sheet holds. After: every terminal has a sheet, and each sheet holds what stands on it.
//!
//! What may not be torn apart is an atom: a device, a strip of few ways, or a way of a longer one. Small atoms that many
//! conductors join come together first, as long as a sheet holds what they make; so a sensor comes to its controller, and few
//! conductors are left between sheets. What one cable lands on in a location is held together besides. At last devices
//! that are torn between sheets are mended where that costs little.

mod mend;

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use super::collect::{self, Graph};
use super::share::Share;
use super::{Conductor, OTHER_SHAPES, Planner, Room, fits};
use crate::figure::{self, Readings};
use crate::netlist::{Cable, CoreId, DeviceId, End, Form, Job, LinkId, TerminalId};

/// What one conductor between two atoms weighs.
const CONDUCTOR: u32 = 10;
/// What it weighs besides if both stand in one location.
const SAME_PLACE: u32 = 4;
/// What holds two neighbouring terminals together of a strip, and of another device that may be drawn in parts.
const BOND: (u32, u32) = (3, 7);
/// What holds two terminals of one location together where a cable lands.
const CABLE: u32 = 20;
/// A strip with more ways may be drawn in parts.
const WHOLE_STRIP: usize = 12;
/// A device without parts that has so many terminals, and conductors to so many others, may be drawn in parts.
const MANY: (usize, usize) = (10, 5);
/// Modules that a column takes with the gap beside it, and rows that a device takes besides its outline, in a first guess.
const COLUMN: i32 = 38;
const BESIDE: i32 = 4;
/// Modules of paper that a flag takes, in a first guess.
const FLAG: i32 = 60;
/// Modules that titles may grow by once the parts of devices are numbered.
const SPARE: i32 = 2;
/// What a guess must not be more than, and what it must be more than to be worth a trial, in hundredths of the paper.
const GUESS: (i64, i64) = (170, 15);
/// How large a sketch may be for its layout to be worth a search, in hundredths of the room.
const NEAR: i32 = 150;
/// The layouts of a job with more devices are not searched while it is gathered: it would take too long.
pub(super) const SEARCHED: usize = 120;

/// A job in shares.
#[derive(Clone, Debug)]
pub struct Divided {
    sheet_of: Vec<usize>,
    sheets: Vec<Contents>,
}

/// What stands on a sheet.
#[derive(Clone, Debug, Default)]
struct Contents {
    devices: BTreeSet<DeviceId>,
    cores: BTreeSet<CoreId>,
    links: BTreeSet<LinkId>,
}

impl Contents {
    fn share<'a>(&self, job: &Job, sheet_of: &'a [usize], own: usize) -> Share<'a> {
        let devices = self.devices.iter().copied().collect();
        Share::new(job, sheet_of, own, devices, &self.cores, &self.links)
    }

    fn with(&self, other: &Self) -> Self {
        let mut both = self.clone();
        both.devices.extend(&other.devices);
        both.cores.extend(&other.cores);
        both.links.extend(&other.links);
        both
    }
}

impl Divided {
    /// The shares, in the order of the sheets.
    pub fn shares<'a>(&'a self, job: &'a Job) -> impl Iterator<Item = Share<'a>> {
        self.sheets.iter().enumerate().map(|(n, sheet)| sheet.share(job, &self.sheet_of, n))
    }

    /// Whether a conductor leads from one share to another.
    pub fn joins(&self, a: usize, b: usize) -> bool {
        let [a, b] = [&self.sheets[a], &self.sheets[b]];
        !a.cores.is_disjoint(&b.cores) || !a.links.is_disjoint(&b.links)
    }

    /// The same with one share taken into one before it.
    #[must_use]
    pub fn joined(&self, first: usize, second: usize) -> Self {
        let of = |sheet: usize| if sheet == second { first } else { sheet - usize::from(sheet > second) };
        let sheet_of = self.sheet_of.iter().map(|sheet| of(*sheet)).collect();
        let mut sheets = self.sheets.clone();
        let taken = sheets.remove(second);
        sheets[first] = sheets[first].with(&taken);
        Self { sheet_of, sheets }
    }
}

/// Divides a job so that each share, laid out, keeps to the first of some rooms, or to a larger one if a device in it alone
/// needs that; a share of a device for which all are too small takes more.
#[must_use]
pub fn divide(job: &Job, rooms: &[Room], readings: Option<&Readings>) -> Divided {
    let whole = collect::collect(job, &Share::whole(job));
    let mut making = Making::new(job, &whole, rooms, readings);
    making.find_rooms();
    making.gather();
    making.mend();
    making.finish()
}

/// Something that may become a sheet.
#[derive(Debug, Default)]
struct Cluster {
    contents: Contents,
    terminals: Vec<TerminalId>,
    /// What it weighs between it and others.
    beside: BTreeMap<usize, u32>,
    /// The paper that its devices take, in a first guess.
    paper: i64,
    /// The room that it must keep to; not the first where a device alone needs more.
    room: usize,
    /// Changes with every change; 0 for one that was taken in by another.
    version: usize,
}

struct Making<'a> {
    job: &'a Job,
    rooms: &'a [Room],
    readings: Option<&'a Readings>,
    clusters: Vec<Cluster>,
    /// The cluster of each terminal.
    cluster_of: Vec<usize>,
    /// When each device is reached on a walk from the supplies.
    reached: Vec<usize>,
}

impl<'a> Making<'a> {
    fn new(job: &'a Job, whole: &Graph, rooms: &'a [Room], readings: Option<&'a Readings>) -> Self {
        let mut reached = vec![0; job.devices.len()];
        for (n, node) in walk(whole).into_iter().enumerate() {
            reached[whole.nodes[node].device.index()] = n;
        }
        let mut order: Vec<DeviceId> = job.device_ids().map(|(id, _)| id).collect();
        order.sort_by_key(|id| reached[id.index()]);
        let mut making = Self {
            job,
            rooms,
            readings,
            clusters: Vec::new(),
            cluster_of: vec![0; job.terminals.len()],
            reached,
        };
        let far = far_devices(job);
        for id in order {
            making.atoms(id, far[id.index()].len());
        }
        making.join();
        making
    }

    /// The atoms of a device.
    fn atoms(&mut self, id: DeviceId, far: usize) {
        let device = self.job.device(id);
        let count = device.terminals.len();
        let in_parts = match device.form {
            Form::Strip => count > WHOLE_STRIP,
            Form::Splice => false,
            Form::Box => device.parts.is_empty() && count >= MANY.0 && far >= MANY.1,
        };
        let terminals: Vec<TerminalId> = device.terminals.iter().map(TerminalId).collect();
        let sides = figure::default_sides(self.job, id).plain(device.form);
        let outline =
            figure::design(self.job, id, &sides, self.readings.map_or(&[], |readings| readings.at(id)));
        let pieces: Vec<Vec<TerminalId>> =
            if in_parts { terminals.into_iter().map(|t| vec![t]).collect() } else { vec![terminals] };
        let rows = if in_parts { 3 } else { outline.h + BESIDE };
        for (n, terminals) in pieces.iter().enumerate() {
            let own = self.clusters.len();
            let mut cluster = Cluster { paper: i64::from(rows * COLUMN), version: 1, ..Cluster::default() };
            cluster.contents.devices.insert(id);
            for terminal in terminals {
                self.cluster_of[terminal.index()] = own;
            }
            cluster.terminals.clone_from(terminals);
            self.clusters.push(cluster);
            if n > 0 {
                self.add(own - 1, own, if device.form == Form::Box { BOND.1 } else { BOND.0 });
            }
        }
    }

    fn add(&mut self, a: usize, b: usize, weight: u32) {
        if a != b {
            *self.clusters[a].beside.entry(b).or_default() += weight;
            *self.clusters[b].beside.entry(a).or_default() += weight;
        }
    }

    /// Conductors between the atoms.
    fn join(&mut self) {
        let job = self.job;
        let mut loose: Vec<CoreId> = Vec::new();
        for conductor in conductors(job) {
            let seats = conductor.seats(job);
            for terminal in seats.iter().flatten() {
                let contents = &mut self.clusters[self.cluster_of[terminal.index()]].contents;
                match conductor {
                    Conductor::Core(id) => contents.cores.insert(id),
                    Conductor::Link(id) => contents.links.insert(id),
                };
            }
            match (conductor.ends(job).map(End::terminal), conductor) {
                // What joins the terminals of one device is no reason to draw it in one piece.
                ([Some(a), Some(b)], _) if job.terminal(a).device == job.terminal(b).device => {}
                ([Some(a), Some(b)], _) => {
                    let place = |t: TerminalId| &job.device(job.terminal(t).device).location;
                    let same = !place(a).is_empty() && place(a) == place(b);
                    let weight = CONDUCTOR + if same { SAME_PLACE } else { 0 };
                    self.add(self.cluster_of[a.index()], self.cluster_of[b.index()], weight);
                }
                (_, Conductor::Core(id)) if seats == [None; 2] => loose.push(id),
                _ => {}
            }
        }
        for (_, cable) in job.cable_ids() {
            self.hold_together(cable);
        }
        // A cable that lands nowhere stands on the first sheet.
        if let Some(cluster) = self.clusters.first_mut() {
            cluster.contents.cores.extend(loose);
        }
    }

    /// Holds what a cable lands on in one location together, or on one device that has none.
    fn hold_together(&mut self, cable: &Cable) {
        let job = self.job;
        let mut last: BTreeMap<(&[String], Option<DeviceId>), usize> = BTreeMap::new();
        for end in cable.cores.iter().flat_map(|core| job.core(CoreId(core)).ends) {
            let End::Terminal(terminal) = end.to else { continue };
            let cluster = self.cluster_of[terminal.index()];
            let device = job.terminal(terminal).device;
            let place = &*job.device(device).location;
            let alone = place.is_empty().then_some(device);
            if let Some(before) = last.insert((place, alone), cluster) {
                self.add(before, cluster, CABLE);
            }
        }
    }

    /// Lets clusters come together, small ones with many conductors between them first.
    fn gather(&mut self) {
        let mut heap = BinaryHeap::new();
        for a in 0..self.clusters.len() {
            self.offer(a, &mut heap);
        }
        while let Some((_, Reverse(a), Reverse(b), versions)) = heap.pop() {
            if versions == [a, b].map(|c| self.clusters[c].version) && self.take_in(a, b) {
                self.offer(a, &mut heap);
            }
        }
    }

    fn offer(&self, a: usize, heap: &mut BinaryHeap<Offer>) {
        for (b, weight) in &self.clusters[a].beside {
            // The smaller the two are, the sooner; papers are at most some millions of modules.
            let papers = (self.clusters[a].paper.max(1), self.clusters[*b].paper.max(1));
            let papers = u128::from((papers.0 * papers.1).unsigned_abs());
            let worth = u128::from(*weight).pow(2) * 1_000_000_000_000 / papers;
            let (first, second) = (a.min(*b), a.max(*b));
            let versions = [first, second].map(|c| self.clusters[c].version);
            heap.push((worth, Reverse(first), Reverse(second), versions));
        }
    }

    /// Lets one cluster take in another if a sheet holds both.
    fn take_in(&mut self, a: usize, b: usize) -> bool {
        let contents = self.clusters[a].contents.with(&self.clusters[b].contents);
        let room = self.clusters[a].room.max(self.clusters[b].room);
        let page = self.page(room);
        let between = self.clusters[a].beside.get(&b).copied().unwrap_or(0);
        let out = |c: usize| self.clusters[c].beside.values().sum::<u32>() - between;
        let flags = i64::from((out(a) + out(b)) / CONDUCTOR) * i64::from(FLAG);
        let guess = self.clusters[a].paper + self.clusters[b].paper + flags;
        if guess * 100 > page * GUESS.0 {
            return false;
        }
        let moved = std::mem::take(&mut self.clusters[b].terminals);
        for terminal in &moved {
            self.cluster_of[terminal.index()] = a;
        }
        let searched = self.job.devices.len() <= SEARCHED;
        if guess * 100 > page * GUESS.1 && !self.holds(a, (&contents, room), searched) {
            for terminal in &moved {
                self.cluster_of[terminal.index()] = b;
            }
            self.clusters[b].terminals = moved;
            return false;
        }
        let gone = std::mem::take(&mut self.clusters[b]);
        for (c, weight) in gone.beside {
            self.clusters[c].beside.remove(&b);
            if c != a {
                *self.clusters[a].beside.entry(c).or_default() += weight;
                *self.clusters[c].beside.entry(a).or_default() += weight;
            }
        }
        let cluster = &mut self.clusters[a];
        cluster.contents = contents;
        cluster.terminals.extend(moved);
        cluster.paper += gone.paper;
        cluster.room = room;
        cluster.version += 1;
        true
    }

    /// Whether a sheet holds what a cluster would be; where a sketch of it misses the room by little and it is to be
    /// `searched`, the layout itself is asked.
    fn holds(&self, cluster: usize, (contents, room): (&Contents, usize), searched: bool) -> bool {
        let Some(paper) = self.rooms.get(room).copied() else { return true };
        let share = contents.share(self.job, &self.cluster_of, cluster);
        let mut planner = Planner::of(self.job, share, self.readings);
        let room = (paper.0 - SPARE, paper.1);
        let sketch = planner.sketch(paper);
        let near = (room.0 * NEAR / 100, room.1 * NEAR / 100);
        fits(sketch, room)
            || (searched && fits(sketch, near) && fits(planner.lay_out_in(paper, &OTHER_SHAPES).1.size, room))
    }

    /// The area of a room; that of the largest beyond them.
    fn page(&self, room: usize) -> i64 {
        let (w, h) = self.rooms.get(room).or(self.rooms.last()).copied().unwrap_or_default();
        i64::from(w) * i64::from(h)
    }

    /// Finds the rooms of devices that are too large for the first.
    fn find_rooms(&mut self) {
        for c in 0..self.clusters.len() {
            if self.clusters[c].terminals.len() < MANY.0 {
                continue;
            }
            let contents = self.clusters[c].contents.clone();
            let mut room = 0;
            while !self.holds(c, (&contents, room), true) {
                room += 1;
            }
            self.clusters[c].room = room;
        }
    }

    fn kept(&self) -> impl Iterator<Item = usize> {
        (0..self.clusters.len()).filter(|c| self.clusters[*c].version > 0)
    }

    /// The clusters as sheets, in the order in which they are reached from the supplies.
    fn finish(self) -> Divided {
        let first = |c: &usize| {
            let devices = self.clusters[*c].contents.devices.iter();
            (devices.map(|id| self.reached[id.index()]).min(), *c)
        };
        let mut kept: Vec<usize> = self.kept().collect();
        kept.sort_by_key(first);
        let mut number = vec![0; self.clusters.len()];
        for (n, c) in kept.iter().enumerate() {
            number[*c] = n;
        }
        let sheet_of = self.cluster_of.iter().map(|c| number.get(*c).copied().unwrap_or(0)).collect();
        let sheets = kept.into_iter().map(|c| self.clusters[c].contents.clone()).collect();
        Divided { sheet_of, sheets }
    }
}

/// The devices on a walk over the tree that the job nearly is, depth first.
fn walk(graph: &Graph) -> Vec<usize> {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); graph.nodes.len()];
    for (n, parent) in graph.parents.iter().enumerate().rev() {
        if let Some(parent) = parent {
            children[*parent].push(n);
        }
    }
    let mut walked = Vec::with_capacity(graph.nodes.len());
    let mut open: Vec<usize> = graph.roots.iter().rev().copied().collect();
    while let Some(n) = open.pop() {
        walked.push(n);
        open.extend(&children[n]);
    }
    walked
}

/// Two clusters that might come together: how much they are worth it, which they are, and in which state they were.
type Offer = (u128, Reverse<usize>, Reverse<usize>, [usize; 2]);

/// All cores, then all links.
fn conductors(job: &Job) -> impl Iterator<Item = Conductor> {
    let cores = job.core_ids().map(|(id, _)| Conductor::Core(id));
    cores.chain((0..).map(LinkId).take(job.links.len()).map(Conductor::Link))
}

/// The other devices to which each device has conductors.
fn far_devices(job: &Job) -> Vec<BTreeSet<DeviceId>> {
    let mut far = vec![BTreeSet::new(); job.devices.len()];
    for conductor in conductors(job) {
        if let [End::Terminal(a), End::Terminal(b)] = conductor.ends(job) {
            let (a, b) = (job.terminal(a).device, job.terminal(b).device);
            if a != b {
                far[a.index()].insert(b);
                far[b.index()].insert(a);
            }
        }
    }
    far
}
