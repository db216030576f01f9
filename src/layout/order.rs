//! From columns to an order from the top.
//!
//! Before: columns, sides, gaps. After: every layer (gap 0, column 0, gap 1, …) has its items in their order from the
//! top: devices, bundles, and lanes where a cable passes. Every strand is a chain of chords from item to item, one in
//! each channel that it goes through; channel `i` is left of layer `i`. Landings and rows are handed out. The items of
//! a location stand together in every layer, and two locations stand in the same order everywhere.
//!
//! Two chords of a channel cross when their ends alternate on the channel's border. The order starts from a walk over
//! the tree that a job nearly is; then items, rows and landings change places as long as that saves crossings.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use super::collect::Graph;
use super::rank::{self, Ranked};
use crate::figure::{self, Figure, Readings, Side, Sides};
use crate::netlist::{DeviceId, Form, Job};

/// The graph in order.
#[derive(Debug)]
pub(super) struct Ordered {
    /// Columns and sides.
    pub ranked: Ranked,
    /// The figure of each device.
    pub figures: Vec<Rc<Figure>>,
    /// What stands in the layers.
    pub items: Vec<Item>,
    /// The items of each layer from the top.
    pub layers: Vec<Vec<usize>>,
    /// The ends of the chords: chord `c` has the ends `2c` and `2c + 1`.
    pub ends: Vec<End>,
    /// The chord ends that each strand goes through, from its near end to its far end.
    pub chains: Vec<Vec<usize>>,
    /// First and last layer of each location; the first is larger for one without items.
    pub spans: Vec<(usize, usize)>,
    /// Numbers in whose order locations stand that have the same location around them.
    pub place_keys: Vec<usize>,
}

/// Where the far ends of chords are met on the way round a channel's border.
type Far = Option<Vec<(Reverse<usize>, Reverse<usize>)>>;

/// Crossings more if the chords that end at `a` change from above those at `b` to below them.
fn gain(a: &[(Reverse<usize>, Reverse<usize>)], b: &[(Reverse<usize>, Reverse<usize>)]) -> i64 {
    let before: usize = b.iter().map(|x| a.partition_point(|y| y < x)).sum();
    // No two chords end on one point, so that each pair crosses in just one of the two orders.
    (a.len() * b.len()) as i64 - 2 * before as i64
}

/// What an item is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// A device.
    Device(usize),
    /// A cable where its labels are.
    Bundle(usize),
    /// A cable of one core that turns back at once: it stands in no layer, its label is on the upright piece.
    Turned,
    /// Rows kept free for strands that pass.
    Lane,
}

/// Something in a layer.
#[derive(Debug)]
pub(super) struct Item {
    /// What it is.
    pub what: What,
    /// Where.
    pub layer: usize,
    /// The innermost location whose frame holds it.
    pub place: usize,
    /// The strands of a bundle or lane from the top.
    pub rows: Vec<usize>,
    /// The chord ends on its left and right border, from the top.
    pub ends: [Vec<usize>; 2],
}

/// An end of a chord.
#[derive(Clone, Copy, Debug)]
pub(super) struct End {
    /// The strand.
    pub strand: usize,
    /// The item that it is on.
    pub item: usize,
    /// The border of that item.
    pub side: Side,
    /// For a device the terminal's number; else of no meaning.
    pub terminal: usize,
    /// Its number among the ends of that border.
    pub slot: usize,
}

/// The other end of a chord.
pub(super) fn partner(end: usize) -> usize {
    end ^ 1
}

/// Figures that were made before, and the readings that stand in them.
#[derive(Debug)]
pub(super) struct Known<'a> {
    figures: BTreeMap<Asked, Rc<Figure>>,
    readings: Option<&'a Readings>,
}

impl<'a> Known<'a> {
    /// None yet.
    pub(super) fn new(readings: Option<&'a Readings>) -> Self {
        Self { figures: BTreeMap::new(), readings }
    }
}

/// A device and where its terminals shall stand.
type Asked = (usize, Vec<(Side, u32)>);

/// The most devices for which whole locations change places on trial.
const FEW: usize = 80;

/// Orders.
///
/// Locations stand as the given numbers say, if any, and change places as far as that saves crossings if `exchange`.
pub(super) fn order(
    job: &Job,
    ranked: Ranked,
    known: &mut Known,
    place_keys: Option<&[usize]>,
    exchange: bool,
) -> Ordered {
    let figures = figures(job, &ranked, known);
    let mut ordered = build(ranked, figures);
    let keys = walk(&ordered);
    ordered.sort_layers(&keys, place_keys);
    ordered.improve();
    if exchange && ordered.figures.len() <= FEW {
        ordered.exchange_places();
    }
    ordered
}

/// The figure of each device with a landing for every end.
fn figures(job: &Job, ranked: &Ranked, known: &mut Known) -> Vec<Rc<Figure>> {
    let graph = &ranked.graph;
    let mut figure = |(n, node): (usize, &super::collect::Node)| {
        let count = node.pref.sides.len();
        let mut landings = vec![[0_u32; 2]; count];
        for (s, e) in &node.ends {
            if let Some(joint) = graph.strands[*s].ends[*e] {
                landings[joint.terminal][ranked.side[*s][*e] as usize] += 1;
            }
        }
        let of: Vec<(Side, u32)> = match node.form {
            Form::Box => {
                let one = |t: usize| {
                    let wanted = landings[t][0] + landings[t][1];
                    let least = u32::from(!node.pref.aerial[t]);
                    (ranked.terminal_side[n][t], wanted.max(least))
                };
                (0..count).map(one).collect()
            }
            Form::Splice | Form::Strip => {
                let both = |t: usize| {
                    let [left, right] = landings[t];
                    // A way or splice that nothing reaches is drawn all the same.
                    [(Side::Left, left.max(u32::from(right == 0))), (Side::Right, right)]
                };
                (0..count).flat_map(both).collect()
            }
        };
        let device = DeviceId(n as u32);
        let lines = known.readings.map_or(&[][..], |readings| readings.at(device));
        let made = known.figures.entry((n, of));
        let made = made.or_insert_with_key(|(_, of)| {
            Rc::new(figure::design(job, device, &Sides { of: of.clone() }, lines))
        });
        Rc::clone(made)
    };
    graph.nodes.iter().enumerate().map(&mut figure).collect()
}

/// Whether a cable has one core, and both its ends face the same channel from the same side.
fn turns_back(ranked: &Ranked, bundle: usize) -> bool {
    let &[s] = &ranked.graph.bundles[bundle].strands[..] else { return false };
    let [Some(a), Some(b)] = ranked.graph.strands[s].ends else { return false };
    ranked.column[a.node] == ranked.column[b.node]
        && ranked.side[s][0] == ranked.side[s][1]
        && a.node != b.node
}

struct Building {
    items: Vec<Item>,
    ends: Vec<End>,
    lanes: BTreeMap<(usize, usize, usize), usize>,
    column_spans: Vec<(usize, usize)>,
}

/// Items and chains, in no order yet.
fn build(ranked: Ranked, figures: Vec<Rc<Figure>>) -> Ordered {
    let graph = Rc::clone(&ranked.graph);
    let graph = &*graph;
    let mut b = Building {
        items: Vec::new(),
        ends: Vec::new(),
        lanes: BTreeMap::new(),
        column_spans: rank::spans(graph, &ranked.column),
    };
    for (n, node) in graph.nodes.iter().enumerate() {
        b.item(What::Device(n), 2 * ranked.column[n] + 1, node.place);
    }
    for (i, bundle) in graph.bundles.iter().enumerate() {
        let layer = 2 * ranked.gap[i];
        if turns_back(&ranked, i) {
            b.item(What::Turned, layer, 0);
            continue;
        }
        let at = b.item(What::Bundle(i), layer, 0);
        let ends = bundle.strands.iter().flat_map(|s| graph.strands[*s].ends).flatten();
        b.items[at].place = b.place_of(graph, ends.map(|j| graph.nodes[j.node].place), layer, true);
        let mut rows = bundle.strands.clone();
        let loose = |s: &usize| graph.strands[*s].ends.iter().filter(|e| e.is_none()).count();
        rows.sort_by_key(loose);
        b.items[at].rows = rows;
    }
    let mut chains = Vec::with_capacity(graph.strands.len());
    for (s, strand) in graph.strands.iter().enumerate() {
        let channel = |e: usize| {
            let joint = strand.ends[e]?;
            Some(2 * ranked.column[joint.node] + 1 + usize::from(ranked.side[s][e] == Side::Right))
        };
        // Stations from the near to the far end: item, border towards the near end, border towards the far end.
        let mut stations: Vec<(usize, Side, Side)> = Vec::new();
        match strand.bundle.filter(|i| b.items[graph.nodes.len() + i].what != What::Turned) {
            None => {
                let (Some(from), Some(to)) = (channel(0), channel(1)) else { continue };
                b.pass(&ranked, s, 2, from, to, &mut stations);
            }
            Some(i) => {
                let left = ranked.left_end[i];
                let layer = 2 * ranked.gap[i];
                // Borders and channels of the bundle towards the near and the far end.
                let (sides, ports) = if left == 0 {
                    ([Side::Left, Side::Right], [layer, layer + 1])
                } else {
                    ([Side::Right, Side::Left], [layer + 1, layer])
                };
                if let Some(from) = channel(0) {
                    b.pass(&ranked, s, 0, from, ports[0], &mut stations);
                }
                stations.push((graph.nodes.len() + i, sides[0], sides[1]));
                if let Some(to) = channel(1) {
                    b.pass(&ranked, s, 1, ports[1], to, &mut stations);
                }
            }
        }
        let mut chain = Vec::new();
        let mut previous = strand.ends[0].map(|j| (j.node, ranked.side[s][0], j.terminal));
        for (item, towards_near, towards_far) in stations {
            if let Some((from, side, terminal)) = previous {
                chain.extend(b.chord(s, (from, side, terminal), (item, towards_near, 0)));
            }
            previous = Some((item, towards_far, 0));
        }
        if let (Some(from), Some(joint)) = (previous, strand.ends[1]) {
            chain.extend(b.chord(s, from, (joint.node, ranked.side[s][1], joint.terminal)));
        }
        chains.push(chain);
    }
    let layers = 2 * ranked.columns + 1;
    let spans = b.layer_spans(graph);
    b.keep_places(graph, &spans);
    let Building { items, ends, .. } = b;
    let mut ordered = Ordered {
        ranked,
        figures,
        items,
        layers: vec![Vec::new(); layers],
        ends,
        chains,
        spans,
        place_keys: Vec::new(),
    };
    for item in 0..ordered.items.len() {
        let layer = ordered.items[item].layer;
        if ordered.items[item].what != What::Turned {
            ordered.layers[layer].push(item);
        }
        ordered.set_slots(item);
    }
    ordered
}

impl Building {
    fn item(&mut self, what: What, layer: usize, place: usize) -> usize {
        self.items.push(Item { what, layer, place, rows: Vec::new(), ends: [Vec::new(), Vec::new()] });
        self.items.len() - 1
    }

    /// Adds the chord of a strand between two borders.
    fn chord(&mut self, strand: usize, from: (usize, Side, usize), to: (usize, Side, usize)) -> [usize; 2] {
        [from, to].map(|(item, side, terminal)| {
            let end = self.ends.len();
            self.ends.push(End { strand, item, side, terminal, slot: 0 });
            self.items[item].ends[side as usize].push(end);
            end
        })
    }

    /// The stations of a strand between two channels: a lane in every layer between. Part 0 leads to the near end of
    /// the bundle, 1 to the far end, 2 is a link.
    fn pass(
        &mut self,
        ranked: &Ranked,
        strand: usize,
        part: usize,
        from: usize,
        to: usize,
        stations: &mut Vec<(usize, Side, Side)>,
    ) {
        let graph = &ranked.graph;
        let of = graph.strands[strand].bundle.unwrap_or(graph.bundles.len() + strand);
        let ends = graph.strands[strand].ends;
        let layers: Vec<usize> = if from <= to { (from..to).collect() } else { (to..from).rev().collect() };
        let sides = if from <= to { (Side::Left, Side::Right) } else { (Side::Right, Side::Left) };
        for layer in layers {
            let lane = match self.lanes.get(&(of, part, layer)) {
                Some(lane) => *lane,
                None => {
                    let places = ends.iter().flatten().map(|j| graph.nodes[j.node].place);
                    let place = self.place_of(graph, places, layer, part == 2);
                    let lane = self.item(What::Lane, layer, place);
                    self.lanes.insert((of, part, layer), lane);
                    lane
                }
            };
            self.items[lane].rows.push(strand);
            stations.push((lane, sides.0, sides.1));
        }
    }

    /// The innermost location among those of the given devices whose columns enclose a layer; with `whole`, one that
    /// holds all of the devices holds the item wherever it is.
    fn place_of(
        &self,
        graph: &Graph,
        places: impl Iterator<Item = usize>,
        layer: usize,
        whole: bool,
    ) -> usize {
        let places: Vec<usize> = places.collect();
        let common = places.iter().copied().reduce(|a, b| graph.common_place(a, b)).unwrap_or(0);
        let encloses = |p: usize| {
            let (from, to) = self.column_spans[p];
            p == 0 || (2 * from + 1..=2 * to + 1).contains(&layer)
        };
        let inside = places.iter().map(|p| {
            graph
                .path_to(*p)
                .iter()
                .rev()
                .copied()
                .find(|p| encloses(*p) || (whole && *p == common))
                .unwrap_or(0)
        });
        let mut found: Vec<usize> = inside.filter(|p| *p != 0).collect();
        found.sort_unstable();
        found.dedup();
        // Two frames one above the other cannot both hold it.
        if let [one] = found[..] {
            one
        } else {
            found.into_iter().reduce(|a, b| graph.common_place(a, b)).unwrap_or(0)
        }
    }

    /// An empty lane for each location in each layer of its span where it has nothing, so that it keeps its place.
    fn keep_places(&mut self, graph: &Graph, spans: &[(usize, usize)]) {
        let mut held = BTreeSet::new();
        for item in &self.items {
            held.extend(graph.path_to(item.place).iter().map(|p| (*p, item.layer)));
        }
        // Inner locations stand after outer ones, and what holds an inner one holds the outer one.
        for (place, (from, to)) in spans.iter().enumerate().skip(1).rev() {
            for layer in *from..=*to {
                if !held.contains(&(place, layer)) {
                    self.item(What::Lane, layer, place);
                    held.extend(graph.path_to(place).iter().map(|p| (*p, layer)));
                }
            }
        }
    }

    fn layer_spans(&self, graph: &Graph) -> Vec<(usize, usize)> {
        let mut spans = vec![(usize::MAX, 0); graph.places.len()];
        for item in self.items.iter().filter(|i| i.what != What::Turned) {
            for place in graph.path_to(item.place) {
                let (from, to) = spans[*place];
                spans[*place] = (from.min(item.layer), to.max(item.layer));
            }
        }
        spans
    }
}

/// Numbers for the items from a walk over the devices, depth first: what is left of a device from the top, the device,
/// what is right of it. What lies along a strand takes the number of the end that is nearer.
fn walk(o: &Ordered) -> Vec<usize> {
    let mut keys = vec![usize::MAX; o.items.len()];
    let mut number = 0;
    let graph = &o.ranked.graph;
    let mut roots: Vec<usize> = (0..graph.nodes.len()).collect();
    roots.sort_by_key(|n| (!graph.nodes[*n].source, o.ranked.column[*n], *n));
    let mut seen = vec![false; graph.nodes.len()];
    for root in roots {
        if seen[root] {
            continue;
        }
        seen[root] = true;
        let mut stack = vec![(root, 0_usize)];
        while let Some((n, at)) = stack.pop() {
            let [left, right] = &o.items[n].ends;
            if at == left.len() {
                keys[n] = number;
                number += 1;
            }
            let all = left.len() + right.len();
            if at > all {
                continue;
            }
            stack.push((n, at + 1));
            let Some(end) = (if at < left.len() { left.get(at) } else { right.get(at - left.len()) }) else {
                continue;
            };
            let chain = &o.chains[o.ends[*end].strand];
            let forwards = chain.first() == Some(end);
            let along: Vec<usize> =
                if forwards { chain.clone() } else { chain.iter().rev().copied().collect() };
            let passed: Vec<usize> = along.iter().skip(1).step_by(2).map(|e| o.ends[*e].item).collect();
            let far = passed.last().copied().filter(|i| *i < graph.nodes.len() && !seen[*i]);
            let half = passed.len().div_ceil(2);
            for (i, item) in passed.iter().enumerate() {
                let mine = far.is_none() || i < half;
                if mine && *item >= graph.nodes.len() && keys[*item] == usize::MAX {
                    keys[*item] = number;
                    number += 1;
                }
            }
            if let Some(far) = far {
                seen[far] = true;
                stack.push((far, 0));
            }
        }
    }
    for key in &mut keys {
        if *key == usize::MAX {
            *key = number;
            number += 1;
        }
    }
    keys
}

impl Ordered {
    /// Sorts all layers by the items' numbers, the items of a location together at the mean of its devices' numbers.
    fn sort_layers(&mut self, keys: &[usize], wanted: Option<&[usize]>) {
        let graph = &self.ranked.graph;
        let mut sums = vec![(0_usize, 0_usize); graph.places.len()];
        for (n, node) in graph.nodes.iter().enumerate() {
            for place in graph.path_to(node.place) {
                sums[*place].0 += keys[n];
                sums[*place].1 += 1;
            }
        }
        let mut of: Vec<usize> = sums.iter().map(|(sum, count)| 1000 * sum / count.max(&1)).collect();
        if let Some(wanted) = wanted {
            // The numbers of brothers are dealt out anew in the wanted order.
            let mut families: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
            for (p, place) in graph.places.iter().enumerate().skip(1) {
                families.entry(place.parent).or_default().push(p);
            }
            for mut brothers in families.into_values() {
                let mut numbers: Vec<usize> = brothers.iter().map(|p| of[*p]).collect();
                numbers.sort_unstable();
                brothers.sort_by_key(|p| (wanted[*p], *p));
                for (p, number) in brothers.into_iter().zip(numbers) {
                    of[p] = number;
                }
            }
        }
        let of_place = |p: &usize| (of[*p], 1 + *p);
        let path = |item: usize| {
            let mut path: Vec<(usize, usize)> =
                graph.path_to(self.items[item].place).iter().skip(1).map(of_place).collect();
            path.push((1000 * keys[item], 0));
            path
        };
        let paths: Vec<_> = (0..self.items.len()).map(path).collect();
        for layer in &mut self.layers {
            layer.sort_by(|a, b| paths[*a].cmp(&paths[*b]).then(a.cmp(b)));
        }
        self.place_keys = of;
    }

    /// Lets items, rows and landings change places until nothing is gained.
    fn improve(&mut self) {
        for _ in 0..4 {
            let mut changed = self.sort_rows();
            changed |= self.sift_all();
            if !changed {
                break;
            }
        }
    }

    /// Lets neighbouring locations change places as long as that saves crossings.
    fn exchange_places(&mut self) {
        let graph = Rc::clone(&self.ranked.graph);
        let mut crossings = self.crossings();
        for _ in 0..3 {
            let mut changed = false;
            for a in 1..graph.places.len() {
                for b in a + 1..graph.places.len() {
                    let (p, q) = (self.spans[a], self.spans[b]);
                    if graph.places[a].parent != graph.places[b].parent
                        || p.1 < q.0
                        || q.1 < p.0
                        || crossings == 0
                    {
                        continue;
                    }
                    let before = (self.layers.clone(), self.ends.clone());
                    let rows: Vec<_> = self.items.iter().map(|i| (i.rows.clone(), i.ends.clone())).collect();
                    self.exchange(a, b);
                    let fits = self.agree();
                    if fits {
                        self.improve();
                    }
                    let now = self.crossings();
                    if fits && now < crossings {
                        crossings = now;
                        changed = true;
                        self.place_keys.swap(a, b);
                        continue;
                    }
                    (self.layers, self.ends) = before;
                    for (item, (rows, ends)) in self.items.iter_mut().zip(rows) {
                        (item.rows, item.ends) = (rows, ends);
                    }
                }
            }
            if !changed {
                break;
            }
        }
    }

    /// Whether locations stand in one order in all layers.
    fn agree(&self) -> bool {
        let graph = &self.ranked.graph;
        let mut below: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); graph.places.len()];
        for layer in &self.layers {
            let mut last: BTreeMap<usize, usize> = BTreeMap::new();
            for item in layer {
                for pair in graph.path_to(self.items[*item].place).windows(2) {
                    let &[parent, place] = pair else { continue };
                    if let Some(above) = last.insert(parent, place)
                        && above != place
                    {
                        below[above].insert(place);
                    }
                }
            }
        }
        let mut above = vec![0_usize; below.len()];
        below.iter().flatten().for_each(|p| above[*p] += 1);
        let mut free: Vec<usize> = (0..above.len()).filter(|p| above[*p] == 0).collect();
        let mut done = 0;
        while let Some(p) = free.pop() {
            done += 1;
            for q in &below[p] {
                above[*q] -= 1;
                if above[*q] == 0 {
                    free.push(*q);
                }
            }
        }
        done == above.len()
    }

    /// Puts the items of one location where those of another are and the other way round, in every layer.
    fn exchange(&mut self, a: usize, b: usize) {
        let graph = &self.ranked.graph;
        for layer in &mut self.layers {
            let of = |item: &usize| {
                let path = graph.path_to(self.items[*item].place);
                if path.contains(&a) { 1 } else { 2 * usize::from(path.contains(&b)) }
            };
            let kinds: Vec<usize> = layer.iter().map(of).collect();
            let (Some(first), Some(last)) =
                (kinds.iter().position(|k| *k > 0), kinds.iter().rposition(|k| *k > 0))
            else {
                continue;
            };
            let upper = kinds[first];
            let pick = |wanted: usize| {
                let within = layer.iter().zip(&kinds).skip(first).take(last + 1 - first);
                within.filter(move |(_, k)| **k == wanted).map(|(i, _)| *i)
            };
            let run: Vec<usize> = pick(3 - upper).chain(pick(0)).chain(pick(upper)).collect();
            layer.splice(first..=last, run);
        }
    }

    /// All crossings of chords.
    pub fn crossings(&self) -> usize {
        let rank = self.places_in_layers();
        let mut channels: Vec<Vec<[(u8, isize, isize); 2]>> = vec![Vec::new(); self.layers.len() + 1];
        for chord in 0..self.ends.len() / 2 {
            // Where its ends are met on the way round the border, down on the left and up on the right.
            let mut met = [2 * chord, 2 * chord + 1].map(|e| {
                let End { item, side, slot, .. } = self.ends[e];
                let (r, s) = (rank[item].cast_signed(), slot.cast_signed());
                if side == Side::Right { (0, r, s) } else { (1, -r, -s) }
            });
            met.sort_unstable();
            let end = self.ends[2 * chord];
            channels[self.items[end.item].layer + usize::from(end.side == Side::Right)].push(met);
        }
        let mut crossings = 0;
        for channel in &mut channels {
            channel.sort_unstable();
            for (i, [_, end]) in channel.iter().enumerate() {
                let inside = channel[i + 1..].iter().take_while(|[from, _]| from < end);
                crossings += inside.filter(|[_, to]| end < to).count();
            }
        }
        crossings
    }

    /// How many chords turn back, and how many strands pass a column.
    pub fn detours(&self) -> (usize, usize) {
        let turns =
            (0..self.ends.len() / 2).filter(|c| self.ends[2 * c].side == self.ends[2 * c + 1].side).count();
        let lanes = self.items.iter().filter(|i| i.what == What::Lane && i.layer % 2 == 1);
        (turns, lanes.map(|i| i.rows.len()).sum())
    }

    /// About how large it will be, in modules: width and height.
    pub fn size(&self) -> (i32, i32) {
        let (mut width, mut height) = (0, 0);
        for (i, layer) in self.layers.iter().enumerate() {
            let figures = || layer.iter().filter_map(|d| self.figures.get(*d));
            if i % 2 == 1 {
                width += figures().map(|f| f.w).max().unwrap_or(0) + 20;
            }
            let rows: i32 = layer.iter().map(|item| 2 * self.items[*item].rows.len() as i32).sum();
            height = height.max(figures().map(|f| f.h + 5).sum::<i32>() + rows);
        }
        let wide =
            (0..self.layers.len()).filter(|l| l % 2 == 0 && !self.layers[*l].is_empty()).count() as i32;
        (width + 8 * wide, height)
    }

    /// Renumbers the ends on the borders of an item.
    fn set_slots(&mut self, item: usize) {
        let (items, ends) = (&mut self.items, &mut self.ends);
        let Item { what, rows, ends: borders, .. } = &mut items[item];
        let row_of: BTreeMap<usize, usize> = rows.iter().enumerate().map(|(i, s)| (*s, i)).collect();
        for border in borders {
            match what {
                What::Device(_) => border.sort_by_key(|e| (ends[*e].terminal, ends[*e].slot)),
                What::Bundle(_) | What::Turned | What::Lane => {
                    border.sort_by_key(|e| row_of.get(&ends[*e].strand))
                }
            }
            for (slot, end) in border.iter().enumerate() {
                ends[*end].slot = slot;
            }
        }
    }

    fn places_in_layers(&self) -> Vec<usize> {
        let mut rank = vec![0; self.items.len()];
        for layer in &self.layers {
            for (i, item) in layer.iter().enumerate() {
                rank[*item] = i;
            }
        }
        rank
    }

    /// Where an end is met on the way round the channel's border, starting below an item on that border.
    fn met(&self, rank: &[usize], below: usize, side: Side, end: usize) -> (u8, isize, isize) {
        let End { item, side: at, slot, .. } = self.ends[end];
        let (r, s) = (rank[item].cast_signed(), slot.cast_signed());
        if at != side {
            (1, -r, -s)
        } else if rank[item] > below {
            (0, r, s)
        } else {
            (2, r, s)
        }
    }

    /// Crossings between the chords of two items of a layer, `upper` above `lower`, all else as it is.
    fn pair(&self, rank: &[usize], upper: usize, lower: usize) -> i64 {
        let below = rank[upper].max(rank[lower]);
        let mut crossings = 0;
        for side in [Side::Left, Side::Right] {
            let outside = |item: usize, other: usize| {
                let far = self.items[item].ends[side as usize].iter().map(|e| partner(*e));
                let far = far.filter(move |e| self.ends[*e].item != other);
                let mut met: Vec<_> = far.map(|e| self.met(rank, below, side, e)).collect();
                met.sort_unstable();
                met
            };
            let (a, b) = (outside(upper, lower), outside(lower, upper));
            for x in &b {
                crossings += a.partition_point(|y| y < x) as i64;
            }
        }
        crossings
    }

    /// Whether the chords of two ends that are neighbours on one border cross, the first above the second.
    fn crosses(&self, rank: &[usize], upper: usize, lower: usize) -> bool {
        let End { item, side, slot, .. } = self.ends[lower];
        let met = |end: usize| {
            let far = partner(end);
            let End { item: i, side: s, slot: at, .. } = self.ends[far];
            if i == item && s == side {
                // On the same border: below comes first on the way round, above last.
                let at_signed = at.cast_signed();
                return if at > slot { (0, -1, at_signed) } else { (3, 0, at_signed) };
            }
            self.met(rank, rank[item], side, far)
        };
        met(upper) < met(lower)
    }

    /// Exchanges neighbouring rows of bundles and lanes, and landings of one terminal, as long as that saves crossings.
    fn sort_rows(&mut self) -> bool {
        let rank = self.places_in_layers();
        let mut any = false;
        for round in 0..6 {
            let mut changed = false;
            for item in 0..self.items.len() {
                changed |= match self.items[item].what {
                    What::Device(_) => self.sort_landings(&rank, item),
                    What::Bundle(_) | What::Turned | What::Lane => self.sort_item_rows(&rank, item),
                };
            }
            any |= changed && round > 0;
            if !changed {
                break;
            }
        }
        any
    }

    fn sort_item_rows(&mut self, rank: &[usize], item: usize) -> bool {
        let mut changed = false;
        for _ in 0..self.items[item].rows.len() {
            let mut swapped = false;
            for i in 1..self.items[item].rows.len() {
                let (a, b) = (self.items[item].rows[i - 1], self.items[item].rows[i]);
                let loose = |s: usize| self.ranked.graph.strands[s].ends.iter().any(Option::is_none);
                if loose(a) || loose(b) {
                    continue;
                }
                let mut gain = 0;
                for side in 0..2 {
                    let on = |s: usize| {
                        self.items[item].ends[side].iter().copied().find(|e| self.ends[*e].strand == s)
                    };
                    if let (Some(x), Some(y)) = (on(a), on(b)) {
                        gain += if self.crosses(rank, x, y) { 1 } else { -1 };
                    }
                }
                if gain > 0 {
                    self.items[item].rows.swap(i - 1, i);
                    self.set_slots(item);
                    swapped = true;
                }
            }
            changed |= swapped;
            if !swapped {
                break;
            }
        }
        changed
    }

    fn sort_landings(&mut self, rank: &[usize], item: usize) -> bool {
        let mut changed = false;
        for side in 0..2 {
            let count = self.items[item].ends[side].len();
            for _ in 0..count {
                let mut swapped = false;
                for i in 1..count {
                    let (a, b) = (self.items[item].ends[side][i - 1], self.items[item].ends[side][i]);
                    if self.ends[a].terminal == self.ends[b].terminal && self.crosses(rank, a, b) {
                        self.items[item].ends[side].swap(i - 1, i);
                        self.ends[a].slot = i;
                        self.ends[b].slot = i - 1;
                        swapped = true;
                    }
                }
                changed |= swapped;
                if !swapped {
                    break;
                }
            }
        }
        changed
    }

    /// Where the far ends of an item's chords are met on its left and right, in order; `None` where one turns back.
    fn far_ends(&self, rank: &[usize], item: usize) -> [Far; 2] {
        [Side::Left, Side::Right].map(|side| {
            let ends = self.items[item].ends[side as usize].iter().map(|e| &self.ends[partner(*e)]);
            let met = |e: &End| (e.side != side).then(|| (Reverse(rank[e.item]), Reverse(e.slot)));
            let mut met = ends.map(met).collect::<Option<Vec<_>>>()?;
            met.sort_unstable();
            Some(met)
        })
    }

    /// Moves single items over their neighbours of the same location to where their chords cross least.
    fn sift_all(&mut self) -> bool {
        const REACH: usize = 40;
        let mut rank = self.places_in_layers();
        let mut any = false;
        for layer in 0..self.layers.len() {
            let far: BTreeMap<usize, [Far; 2]> =
                self.layers[layer].iter().map(|item| (*item, self.far_ends(&rank, *item))).collect();
            for item in self.layers[layer].clone() {
                let at = rank[item];
                let mut best = (0_i64, at);
                for up in [true, false] {
                    let mut sum = 0;
                    let mut i = at;
                    let mut passed = 0;
                    while let Some(q) = (if up { i.checked_sub(1) } else { Some(i + 1) })
                        .and_then(|j| self.layers[layer].get(j).copied())
                    {
                        let Some(run) = self.run_beside(layer, item, rank[q], up) else { break };
                        for q in run {
                            let (upper, lower) = if up { (q, item) } else { (item, q) };
                            sum += match (&far[&upper], &far[&lower]) {
                                ([Some(a), Some(b)], [Some(c), Some(d)]) => gain(a, c) + gain(b, d),
                                _ => self.pair(&rank, lower, upper) - self.pair(&rank, upper, lower),
                            };
                            i = rank[q];
                            passed += 1;
                        }
                        if sum < best.0 {
                            best = (sum, i);
                        }
                        if passed > REACH {
                            break;
                        }
                    }
                }
                if best.1 != at {
                    let items = &mut self.layers[layer];
                    let moved = items.remove(at);
                    items.insert(best.1, moved);
                    for (i, item) in items.iter().enumerate() {
                        rank[*item] = i;
                    }
                    any = true;
                }
            }
        }
        any
    }

    /// The items that `item` passes in one step, nearest first: one neighbour, or all of a location beside it; `None`
    /// at the edge of its own location.
    fn run_beside(&self, layer: usize, item: usize, at: usize, up: bool) -> Option<Vec<usize>> {
        let graph = &self.ranked.graph;
        let mine = self.items[item].place;
        let within = |q: usize| {
            let path = graph.path_to(self.items[q].place);
            path.iter().position(|p| *p == mine).map(|i| path.get(i + 1).copied())
        };
        let first = self.layers[layer][at];
        let block = within(first)?;
        let Some(block) = block else { return Some(vec![first]) };
        let mut run = vec![first];
        let mut i = at;
        while let Some(q) =
            (if up { i.checked_sub(1) } else { Some(i + 1) }).and_then(|j| self.layers[layer].get(j).copied())
        {
            if within(q) != Some(Some(block)) {
                break;
            }
            run.push(q);
            i = if up { i - 1 } else { i + 1 };
        }
        Some(run)
    }
}
