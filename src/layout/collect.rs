//! From the job to a graph of devices and conductors.
//!
//! Before: a job whose names are resolved. After: every device is a node, every core and link is a strand with its ends on
//! terminals or loose, strands of one cable stand together in a bundle, and the locations form a tree whose root, number
//! 0, is everywhere. Devices are numbered as they are reached from the supplies, cables by name, figures in it counted as
//! numbers: the order of the file means nothing, but for the cores of a cable.
//!
//! Where only a share of the job is drawn, the ends of conductors that go on to another sheet are on flags: nodes after
//! those of the devices, each for what leads from one cable to one other sheet.

use std::collections::BTreeMap;

use super::share::Share;
use super::wish::{Wish, wishes};
use super::{Conductor, across, tree};
use crate::figure::{self, Preference, Side};
use crate::netlist::{CableId, DeviceId, End, Form, Job, Kind, LinkId, TerminalId};

/// The graph of a job.
#[derive(Debug)]
pub(super) struct Graph {
    /// One for each device, then one for each set of flags.
    pub nodes: Vec<Node>,
    /// Cores first, cable by cable in each cable's own order, then links.
    pub strands: Vec<Strand>,
    /// One for each cable.
    pub bundles: Vec<Bundle>,
    /// The locations; an outer one stands before those in it.
    pub places: Vec<Place>,
    /// The device through which each is reached on the shortest way from the supplies.
    pub parents: Vec<Option<usize>>,
    /// The devices that are reached through none, in order.
    pub roots: Vec<usize>,
    /// What devices ask of the layout.
    pub wishes: Vec<Wish>,
    /// The device across two terminals of which each lies, if it does and has no other wires.
    pub hosts: Vec<Option<usize>>,
}

/// A device, or a set of flags.
#[derive(Debug)]
pub(super) struct Node {
    /// The device; of flags the one on this sheet that their first conductor comes from.
    pub device: DeviceId,
    /// The other sheet, for flags.
    pub away: Option<usize>,
    /// Which part of the device this is, of how many, where it is not all of it.
    pub part: Option<(usize, usize)>,
    /// How its terminals behave.
    pub form: Form,
    /// The number of its first terminal in the job.
    pub first_terminal: u32,
    /// Its location.
    pub place: usize,
    /// Where its terminals would like to stand.
    pub pref: Preference,
    /// The strand ends on it, terminal by terminal: (strand, end).
    pub ends: Vec<(usize, usize)>,
    /// Whether nothing is known of what lies between its terminals, so that any side is as good as the other.
    pub plain: bool,
    /// Whether power comes from it.
    pub source: bool,
}

/// A core or a link.
#[derive(Debug)]
pub(super) struct Strand {
    /// Which.
    pub conductor: Conductor,
    /// Its cable.
    pub bundle: Option<usize>,
    /// Near and far end; `None` where it is loose.
    pub ends: [Option<Joint>; 2],
    /// Whether its two ends are written the other way round than most cores of its cable tell.
    pub turned: bool,
}

/// A strand's end on a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Joint {
    /// The device.
    pub node: usize,
    /// The terminal by its number in the device.
    pub terminal: usize,
}

/// A cable.
#[derive(Debug)]
pub(super) struct Bundle {
    /// Which.
    pub cable: CableId,
    /// Its strands.
    pub strands: Vec<usize>,
}

/// A location.
#[derive(Debug)]
pub(super) struct Place {
    /// Its path; empty for the root.
    pub path: Vec<String>,
    /// The location that it stands in.
    pub parent: usize,
    /// The locations from the root down to it.
    pub chain: Vec<usize>,
}

impl Graph {
    /// The locations from the root down to that one.
    pub fn path_to(&self, place: usize) -> &[usize] {
        &self.places[place].chain
    }

    /// The other devices to which wires lead from one.
    pub fn neighbours(&self, node: usize) -> Vec<usize> {
        let far = |(s, e): &(usize, usize)| self.strands[*s].ends[1 - *e].map(|j| j.node);
        let mut others: Vec<usize> =
            self.nodes[node].ends.iter().filter_map(far).filter(|n| *n != node).collect();
        others.sort_unstable();
        others.dedup();
        others
    }

    /// The locations of all ends of a cable, or of those of its cores that stay in a location, if any do.
    pub fn locations(&self, bundle: &Bundle) -> Vec<usize> {
        let places =
            |s: &usize| self.strands[*s].ends.iter().flatten().map(|joint| self.nodes[joint.node].place);
        let stays = |s: &&usize| match places(s).collect::<Vec<_>>()[..] {
            [a, b] => self.common_place(a, b) != 0,
            _ => false,
        };
        let staying: Vec<usize> = bundle.strands.iter().filter(stays).flat_map(places).collect();
        if staying.is_empty() { bundle.strands.iter().flat_map(places).collect() } else { staying }
    }

    /// The innermost location that holds both.
    pub fn common_place(&self, a: usize, b: usize) -> usize {
        common(&self.places, a, b)
    }
}

/// The innermost location that holds both.
fn common(places: &[Place], a: usize, b: usize) -> usize {
    let [a, b] = [a, b].map(|p| places.get(p).map_or(&[][..], |place| &place.chain));
    a.iter().zip(b).take_while(|(x, y)| x == y).last().map_or(0, |(x, _)| *x)
}

/// The most conductors that one set of flags bears.
const MOST_FLAGS: usize = 10;

/// Collects the graph of a share of the job.
pub(super) fn collect(job: &Job, share: &Share) -> Graph {
    let devices = share.devices.iter().map(|id| (*id, job.device(*id).name.as_str()));
    let named = graph(job, share, &by_name(devices));
    let reached = tree::reached(&named).into_iter().filter_map(|n| named.nodes.get(n));
    let devices = reached.filter(|node| node.away.is_none()).map(|node| node.device);
    graph(job, share, &devices.collect::<Vec<_>>())
}

/// The graph with its devices in that order.
fn graph(job: &Job, share: &Share, order: &[DeviceId]) -> Graph {
    let mut places = vec![Place { path: Vec::new(), parent: 0, chain: vec![0] }];
    let mut known: BTreeMap<Vec<String>, usize> = BTreeMap::from([(Vec::new(), 0)]);
    let mut nodes: Vec<Node> = Vec::with_capacity(order.len());
    let mut node_of = vec![0; job.devices.len()];
    for id in order.iter().copied() {
        let device = job.device(id);
        let mut place = 0;
        let location = share.location(job, id);
        for depth in 1..=location.len() {
            let path = location[..depth].to_vec();
            place = *known.entry(path.clone()).or_insert_with(|| {
                let mut chain: Vec<usize> = places[place].chain.clone();
                chain.push(places.len());
                places.push(Place { path, parent: place, chain });
                places.len() - 1
            });
        }
        let source = device.parts.iter().any(|p| matches!(job.parts[p as usize].kind, Kind::Source(_)));
        let mut pref = figure::default_sides(job, id);
        let terminals = device.terminals.iter().map(TerminalId);
        for (optional, terminal) in pref.optional.iter_mut().zip(terminals) {
            *optional |= share.elsewhere(terminal).is_some();
        }
        node_of[id.index()] = nodes.len();
        nodes.push(Node {
            device: id,
            away: None,
            part: share.part(job, id),
            form: device.form,
            first_terminal: device.terminals.start,
            place,
            pref,
            ends: Vec::new(),
            plain: device.parts.is_empty(),
            source,
        });
    }
    let joint = |end: End| {
        let End::Terminal(terminal) = end else { return None };
        let device = job.terminal(terminal).device;
        let first = job.device(device).terminals.start;
        Some(Joint { node: node_of[device.index()], terminal: (terminal.0 - first) as usize })
    };
    let mut strands: Vec<Strand> = Vec::new();
    let mut bundles: Vec<Bundle> = Vec::with_capacity(share.cables.len());
    let mut flags = Flags { share, node_of: &node_of, places: &places, sets: BTreeMap::new() };
    let cables = share.cables.iter().map(|cable| (cable, job.cable(cable.0).name.as_str()));
    for (cable, cores) in by_name(cables) {
        let first = strands.len();
        for core in cores.iter().copied() {
            let bundle = Some(bundles.len());
            let conductor = Conductor::Core(core);
            let ends = flags.ends(job, &mut nodes, conductor, bundle, &joint);
            strands.push(Strand { conductor, bundle, ends, turned: false });
        }
        bundles.push(Bundle { cable: *cable, strands: (first..strands.len()).collect() });
    }
    for bundle in &bundles {
        turn(&mut strands, bundle, &nodes);
    }
    let mut links: Vec<LinkId> = share.links.clone();
    links.sort_by_key(|id| {
        let ends = job.links[id.index()].ends;
        ends.map(|end| (share.elsewhere(end), joint(End::Terminal(end)).map(|j| (j.node, j.terminal))))
    });
    for id in links {
        let conductor = Conductor::Link(id);
        let ends = flags.ends(job, &mut nodes, conductor, None, &joint);
        strands.push(Strand { conductor, bundle: None, ends, turned: false });
    }
    for (s, strand) in strands.iter().enumerate() {
        for (e, end) in strand.ends.iter().enumerate() {
            if let Some(joint) = end {
                nodes[joint.node].ends.push((s, e));
            }
        }
    }
    for node in &mut nodes {
        node.ends.sort_by_key(|(s, e)| (strands[*s].ends[*e].map_or(0, |j| j.terminal), *s, *e));
    }
    let drawn: BTreeMap<DeviceId, usize> = order.iter().copied().zip(0..).collect();
    let wishes = wishes(job, |device| drawn.get(&device).copied());
    let (parents, roots, hosts) = (Vec::new(), Vec::new(), Vec::new());
    let mut graph = Graph { nodes, strands, bundles, places, parents, roots, wishes, hosts };
    (graph.parents, graph.roots) = tree::parents(&graph);
    graph.hosts = across::hosts(&graph);
    graph
}

/// What a set of flags bears: the conductors of one cable, or the links of one device, that lead to one other sheet.
type Led = (Option<usize>, usize, usize);

/// The flags of a share in the making.
struct Flags<'a> {
    share: &'a Share<'a>,
    node_of: &'a [usize],
    places: &'a [Place],
    /// The node of each set that is not full, and how many conductors are on it.
    sets: BTreeMap<Led, (usize, usize)>,
}

impl Flags<'_> {
    /// The ends of a conductor: where one is on another sheet, a flag stands for it.
    fn ends(
        &mut self,
        job: &Job,
        nodes: &mut Vec<Node>,
        conductor: Conductor,
        bundle: Option<usize>,
        joint: &impl Fn(End) -> Option<Joint>,
    ) -> [Option<Joint>; 2] {
        let (ends, seats) = (conductor.ends(job), conductor.seats(job));
        let mut joints = [None; 2];
        for (e, end) in ends.into_iter().enumerate() {
            joints[e] = match self.share.away(seats[e]) {
                None => joint(end),
                Some(sheet) => {
                    let from = match ends[1 - e] {
                        End::Terminal(terminal) => job.terminal(terminal).device,
                        End::Safe(_) | End::Bare | End::Spare => DeviceId(0),
                    };
                    let of = if bundle.is_none() { self.node_of[from.index()] } else { 0 };
                    let place = self.shared_place(job, nodes, seats);
                    let set = self.sets.entry((bundle, of, sheet)).or_insert((nodes.len(), 0));
                    if set.1 == MOST_FLAGS {
                        *set = (nodes.len(), 0);
                    }
                    set.1 += 1;
                    match nodes.get_mut(set.0) {
                        Some(node) => node.place = common(self.places, node.place, place),
                        None => nodes.push(Node::flags(from, sheet, place)),
                    }
                    Some(Joint { node: set.0, terminal: 0 })
                }
            };
        }
        joints
    }

    /// The innermost location of this sheet that both ends of a conductor are in, whichever sheet they stand on.
    fn shared_place(&self, job: &Job, nodes: &[Node], seats: [Option<TerminalId>; 2]) -> usize {
        let [Some(a), Some(b)] = seats.map(|seat| Some(job.terminal(seat?).device)) else { return 0 };
        let near = if self.share.away(seats[0]).is_none() { a } else { b };
        let [at, other] = [a, b].map(|device| self.share.location(job, device));
        let locations = at.iter().zip(other);
        let depth = locations.take_while(|(x, y)| x == y).count();
        let own = nodes.get(self.node_of[near.index()]).and_then(|node| self.places.get(node.place));
        own.and_then(|place| place.chain.get(depth)).copied().unwrap_or(0)
    }
}

impl Node {
    fn flags(from: DeviceId, sheet: usize, place: usize) -> Self {
        Self {
            device: from,
            away: Some(sheet),
            part: None,
            form: Form::Splice,
            first_terminal: 0,
            place,
            pref: Preference { sides: vec![Side::Left], groups: vec![vec![0]], optional: vec![true] },
            ends: Vec::new(),
            source: false,
            plain: false,
        }
    }
}

/// Marks the cores of a cable that are written the other way round: one after the other the core that turned has more
/// of its devices where the other cores have them.
fn turn(strands: &mut [Strand], bundle: &Bundle, nodes: &[Node]) {
    let mut written: Vec<(usize, [usize; 2])> = Vec::new();
    for s in bundle.strands.iter().copied() {
        match strands[s].ends {
            [Some(a), Some(b)] if a.node != b.node => written.push((s, [a.node, b.node])),
            _ => {}
        }
    }
    for _ in 0..written.len() {
        let mut at: BTreeMap<(usize, usize), i32> = BTreeMap::new();
        let mut alike: BTreeMap<[usize; 2], i32> = BTreeMap::new();
        for (_, nodes) in &written {
            nodes.iter().enumerate().for_each(|(e, node)| *at.entry((*node, e)).or_default() += 1);
            *alike.entry(*nodes).or_default() += 1;
        }
        let count = |node: usize, e: usize| at.get(&(node, e)).copied().unwrap_or(0);
        let gain = |[near, far]: [usize; 2]| {
            let ends = [near, far].into_iter().enumerate().map(|(e, node)| {
                if nodes[node].form == Form::Splice {
                    // It may stand at both ends of a cable: only cores that join the same two things tell.
                    let of = |pair| alike.get(&pair).copied().unwrap_or(0);
                    of([far, near]) - (of([near, far]) - 1)
                } else {
                    count(node, 1 - e) - (count(node, e) - 1)
                }
            });
            ends.sum::<i32>()
        };
        let first = |pair: [usize; 2]| written.iter().position(|(_, other)| *other == pair);
        let clear = |[a, b]: [usize; 2], gain: i32| {
            // A core that only one end speaks against may lead to a neighbour at the same end of the cable.
            gain > 1 || gain == 1 && nodes[a].place != nodes[b].place
        };
        // Of cores that are as wrong as each other that of which the like is written last: the first core tells the way.
        let wrong = (0..written.len())
            .filter(|n| !strands[written[*n].0].turned)
            .map(|n| (gain(written[n].1), n))
            .filter(|(gain, n)| clear(written[*n].1, *gain))
            .max_by_key(|(gain, n)| (*gain, first(written[*n].1), *n));
        let Some((_, n)) = wrong else { break };
        strands[written[n].0].turned = true;
        written[n].1.reverse();
    }
}

/// All in the order of their names, figures in them counted as numbers.
fn by_name<'a, T: Copy>(named: impl Iterator<Item = (T, &'a str)>) -> Vec<T> {
    let key = |(_, name): &(T, &'a str)| {
        let name = *name;
        let mut parts: Vec<(&str, u64)> = Vec::new();
        let mut rest = name;
        while !rest.is_empty() {
            let figures = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
            let (word, tail) = rest.split_at(figures);
            let end = tail.find(|c: char| !c.is_ascii_digit()).unwrap_or(tail.len());
            let (number, tail) = tail.split_at(end);
            parts.push((word, number.parse().unwrap_or(0)));
            rest = tail;
        }
        (parts, name)
    };
    let mut all: Vec<(T, &str)> = named.collect();
    all.sort_by_cached_key(key);
    all.into_iter().map(|(one, _)| one).collect()
}
