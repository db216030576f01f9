//! Columns and sides of a job that is no tree and too large to be searched as a whole: each group of devices that hang
//! together is searched alone, what leads to others on flags, and what is found of each is taken over.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use super::collect::{self, Graph};
use super::order::{Item, Ordered, What};
use super::rank::{self, Choice, Ranking};
use super::search::{Paper, Search};
use super::share::Share;
use super::{Air, Conductor, FEW, place};
use crate::netlist::{CoreId, DeviceId, Job, LinkId};

/// The most devices of a group; flags stand beside them.
const MOST: usize = 48;
/// The most trials from one start for a group.
const TRIALS: usize = 60;
/// A job is nearly a tree where no more than one device in so many is joined to another that the tree does not join it to.
const NEARLY: usize = 4;
/// The paper of a group is about as wide as high.
const ASPECT: f64 = 1.0;

/// About how far down things stand where the groups stand one above the other, in modules.
#[derive(Clone, Debug)]
pub(super) struct Guide {
    /// Each device.
    device: Vec<usize>,
    /// What lies along each strand: layer and row.
    along: Vec<Vec<(usize, usize)>>,
    /// The rows of the two ends of each strand whose place among its neighbours is to be kept.
    tips: Vec<Option<[usize; 2]>>,
}

impl Guide {
    /// From the rows of the devices, what lies along each strand, and the rows of its ends where these are to be kept.
    pub fn new(device: Vec<usize>, along: Vec<Vec<(usize, usize)>>, tips: Vec<Option<[usize; 2]>>) -> Self {
        Self { device, along, tips }
    }

    /// The row of a strand nearest to a layer.
    fn row_near(&self, strand: usize, layer: usize) -> Option<usize> {
        self.along[strand].iter().min_by_key(|(at, _)| at.abs_diff(layer)).map(|(_, row)| *row)
    }

    /// Puts the rows of cables and the landings of one terminal in the order that is to be kept.
    pub fn keep_neighbours(&self, o: &mut Ordered) {
        let kept = |s: usize| self.tips.get(s).copied().flatten();
        let count = if self.tips.is_empty() { 0 } else { o.items.len() };
        for n in 0..count {
            let layer = o.items[n].layer;
            if let What::Device(_) = o.items[n].what {
                let mut ends: Vec<usize> = o.items[n].ends.concat();
                ends.sort_by_key(|e| {
                    let s = o.ends[*e].strand;
                    kept(s).map(|tips| tips[usize::from(o.chains[s].first() != Some(e))])
                });
                for (slot, e) in ends.into_iter().enumerate() {
                    o.ends[e].slot = slot;
                }
            } else {
                let rows = &o.items[n].rows;
                let stays = |row: &usize| kept(rows[*row]).is_some() && !o.is_loose(rows[*row]);
                let places: Vec<usize> = (0..rows.len()).filter(stays).collect();
                let mut strands: Vec<usize> = places.iter().map(|row| rows[*row]).collect();
                strands.sort_by_key(|s| self.row_near(*s, layer));
                for (row, strand) in places.into_iter().zip(strands) {
                    o.items[n].rows[row] = strand;
                }
            }
            o.set_slots(n);
        }
    }

    /// The rows of all items.
    pub fn keys(&self, o: &Ordered) -> Vec<usize> {
        let row = |item: &Item| {
            if let What::Device(n) = item.what {
                return self.device[n];
            }
            let rows: Vec<usize> = item.rows.iter().filter_map(|s| self.row_near(*s, item.layer)).collect();
            rows.iter().sum::<usize>() / rows.len().max(1)
        };
        o.items.iter().map(row).collect()
    }
}

/// Columns and sides found group by group, and where things stand; `None` for a job that needs none of it.
pub(super) fn choice(job: &Job, ranking: &Ranking) -> Option<(Choice, Guide)> {
    let graph = ranking.graph();
    let parted = graph.nodes.iter().any(|node| node.away.is_some());
    if graph.nodes.len() <= FEW || parted || nearly_a_tree(&graph) {
        return None;
    }
    let group_of = groups(&graph);
    let count = group_of.iter().max().map_or(0, |last| last + 1);
    let mut node_of: Vec<usize> = vec![0; job.devices.len()];
    let mut sheet_of = vec![usize::MAX; job.terminals.len()];
    for (n, node) in graph.nodes.iter().enumerate() {
        node_of[node.device.index()] = n;
        for t in job.device(node.device).terminals.iter() {
            sheet_of[t as usize] = group_of[n];
        }
    }
    let mut devices: Vec<Vec<DeviceId>> = vec![Vec::new(); count];
    for (n, node) in graph.nodes.iter().enumerate() {
        devices[group_of[n]].push(node.device);
    }
    let mut cores: Vec<BTreeSet<CoreId>> = vec![BTreeSet::new(); count];
    let mut links: Vec<BTreeSet<LinkId>> = vec![BTreeSet::new(); count];
    let mut strand_of: BTreeMap<Conductor, usize> = BTreeMap::new();
    for (s, strand) in graph.strands.iter().enumerate() {
        strand_of.insert(strand.conductor, s);
        for joint in strand.ends.iter().flatten() {
            match strand.conductor {
                Conductor::Core(id) => cores[group_of[joint.node]].insert(id),
                Conductor::Link(id) => links[group_of[joint.node]].insert(id),
            };
        }
    }
    let mut choice = ranking.choice.clone();
    let mut guide = Guide::new(vec![0; graph.nodes.len()], vec![Vec::new(); graph.strands.len()], Vec::new());
    let mut down = 0;
    for (own, mut devices) in devices.into_iter().enumerate() {
        devices.sort_unstable();
        let share = Share::new(job, &sheet_of, own, devices, &cores[own], &links[own]);
        let ranked = rank::rank(collect::collect(job, &share));
        let ordered = Search::new(job, ranked, None).best_unshaken(Paper::of(ASPECT), TRIALS);
        let placed = place::place(job, ordered, Air::default(), None);
        let found = &placed.ordered.ranked;
        let top = placed.y.iter().copied().min().unwrap_or(0);
        let row = |item: usize| down + usize::try_from(placed.y[item] - top).unwrap_or(0);
        let drawn = || found.graph.nodes.iter().enumerate().filter(|(_, node)| node.away.is_none());
        let first = drawn().map(|(k, _)| found.column[k]).min().unwrap_or(0);
        for (k, node) in drawn() {
            let n = node_of[node.device.index()];
            guide.device[n] = row(k);
            choice.column[n] = i32::try_from(found.column[k] - first).unwrap_or(0);
            for u in &ranking.units_of[n] {
                if let Some(terminal) = ranking.units[*u].terminals.first() {
                    choice.side[*u] = found.terminal_side[k][*terminal];
                }
            }
        }
        for (s, strand) in found.graph.strands.iter().enumerate() {
            let Some(whole) = strand_of.get(&strand.conductor) else { continue };
            for end in &placed.ordered.chains[s] {
                let item = placed.ordered.ends[*end].item;
                let layer = placed.ordered.items[item].layer.saturating_sub(2 * first);
                guide.along[*whole].push((layer, row(item)));
            }
            for e in 0..2 {
                let u = ranking.unit_of[*whole][e];
                let here = strand.ends[e].is_some_and(|joint| found.graph.nodes[joint.node].away.is_none());
                if here && ranking.units.get(u).is_some_and(|unit| unit.terminals.is_empty()) {
                    choice.side[u] = found.side[s][e];
                }
            }
        }
        down = (0..placed.y.len()).map(row).max().unwrap_or(down) + 1;
    }
    Some((choice, guide))
}

/// Whether few devices are joined otherwise than the tree does.
fn nearly_a_tree(graph: &Graph) -> bool {
    let pairs: usize = (0..graph.nodes.len()).map(|n| graph.neighbours(n).len()).sum();
    let joined = pairs / 2;
    let needed = graph.nodes.len() - graph.roots.len();
    joined.saturating_sub(needed) <= graph.nodes.len() / NEARLY
}

/// Two groups that may become one: how closely they are joined, their numbers, and how often each has grown before.
type Offer = (u64, Reverse<(usize, usize)>, [usize; 2]);

/// Devices that come together group by group, those first that most of their wires join.
struct Gathering {
    members: Vec<Vec<usize>>,
    /// The wires to other groups.
    beside: Vec<BTreeMap<usize, usize>>,
    grown: Vec<usize>,
    offers: BinaryHeap<Offer>,
}

/// A number for each device, that of its group.
fn groups(graph: &Graph) -> Vec<usize> {
    let count = graph.nodes.len();
    let mut gathering = Gathering {
        members: (0..count).map(|n| vec![n]).collect(),
        beside: vec![BTreeMap::new(); count],
        grown: vec![0; count],
        offers: BinaryHeap::new(),
    };
    for strand in &graph.strands {
        if let [Some(a), Some(b)] = strand.ends
            && a.node != b.node
        {
            *gathering.beside[a.node].entry(b.node).or_default() += 1;
            *gathering.beside[b.node].entry(a.node).or_default() += 1;
        }
    }
    for n in 0..count {
        gathering.offer(n);
    }
    while let Some((_, Reverse((a, b)), grown)) = gathering.offers.pop() {
        let sizes = [a, b].map(|n| gathering.members[n].len());
        if grown == [a, b].map(|n| gathering.grown[n]) && sizes.iter().sum::<usize>() <= MOST {
            gathering.join(a, b);
        }
    }
    let mut groups: Vec<Vec<usize>> = gathering.members;
    groups.retain(|group| !group.is_empty());
    groups.iter_mut().for_each(|group| group.sort_unstable());
    groups.sort_unstable();
    let mut group_of = vec![0; count];
    for (number, group) in groups.iter().enumerate() {
        for n in group {
            group_of[*n] = number;
        }
    }
    group_of
}

impl Gathering {
    /// Offers a group to all that it is joined to.
    fn offer(&mut self, a: usize) {
        let leading_out = |n: usize| self.beside[n].values().sum::<usize>() as u64;
        for (b, wires) in &self.beside[a] {
            let wires = *wires as u64;
            let close = ((wires * wires) << 20) / (leading_out(a) * leading_out(*b)).max(1);
            let pair = (a.min(*b), a.max(*b));
            self.offers.push((close, Reverse(pair), [self.grown[pair.0], self.grown[pair.1]]));
        }
    }

    /// Takes the second group into the first.
    fn join(&mut self, a: usize, b: usize) {
        let taken = std::mem::take(&mut self.members[b]);
        self.members[a].extend(taken);
        for (c, wires) in std::mem::take(&mut self.beside[b]) {
            self.beside[c].remove(&b);
            if c != a {
                *self.beside[a].entry(c).or_default() += wires;
                *self.beside[c].entry(a).or_default() += wires;
            }
        }
        self.grown[a] += 1;
        self.grown[b] += 1;
        self.offer(a);
    }
}
