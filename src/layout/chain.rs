//! Items and chains: what stands in the layers, and from item to item the chords of every strand.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::collect::{Graph, Joint};
use super::gap;
use super::order::{End, Item, Ordered, What};
use super::rank::Ranked;
use crate::figure::{Figure, Landing, Side};

/// The rows between two terminals of one device that the label of a cable needs on an upright piece.
const LABEL_ROWS: u32 = 3;

/// Whether a cable has one core, and both its ends face the same channel from the same side in one location: no frame
/// lies between them, so that there is room for its label on the upright piece.
fn turns_back(ranked: &Ranked, figures: &[Rc<Figure>], bundle: usize) -> bool {
    let &[s] = &ranked.graph.bundles[bundle].strands[..] else { return false };
    let [Some(a), Some(b)] = ranked.graph.strands[s].ends else { return false };
    let row = |joint: Joint| {
        let node = &ranked.graph.nodes[joint.node];
        let is = |l: &&Landing| {
            l.side == ranked.side[s][0]
                && l.terminal.0.wrapping_sub(node.first_terminal) as usize == joint.terminal
        };
        figures[joint.node].landings.iter().find(is).map_or(0, |l| l.y)
    };
    ranked.column[a.node] == ranked.column[b.node]
        && ranked.side[s][0] == ranked.side[s][1]
        && (a.node != b.node || row(a).abs_diff(row(b)) >= LABEL_ROWS)
        && ranked.graph.nodes[a.node].place == ranked.graph.nodes[b.node].place
}

struct Building {
    items: Vec<Item>,
    ends: Vec<End>,
    lanes: BTreeMap<(usize, usize, usize), usize>,
    column_spans: Vec<(usize, usize)>,
}

/// Items and chains, in no order yet.
pub(super) fn build(ranked: Ranked, figures: Vec<Rc<Figure>>) -> Ordered {
    let graph = Rc::clone(&ranked.graph);
    let graph = &*graph;
    let mut b = Building {
        items: Vec::new(),
        ends: Vec::new(),
        lanes: BTreeMap::new(),
        column_spans: gap::spans(graph, &ranked.column),
    };
    for (n, node) in graph.nodes.iter().enumerate() {
        b.item(What::Device(n), 2 * ranked.column[n] + 1, node.place);
    }
    for (i, bundle) in graph.bundles.iter().enumerate() {
        let layer = 2 * ranked.gap[i];
        if turns_back(&ranked, &figures, i) {
            b.item(What::Turned, layer, 0);
            continue;
        }
        let at = b.item(What::Bundle(i), layer, 0);
        b.items[at].place = b.place_of(graph, graph.locations(bundle), layer, true);
        let mut rows = bundle.strands.clone();
        let loose = |s: &usize| graph.strands[*s].ends.iter().filter(|e| e.is_none()).count();
        rows.sort_by_key(loose);
        b.items[at].rows = rows;
    }
    let mut chains = Vec::with_capacity(graph.strands.len());
    let mut stations: Vec<(usize, Side, Side)> = Vec::new();
    for (s, strand) in graph.strands.iter().enumerate() {
        let channel = |e: usize| {
            let joint = strand.ends[e]?;
            Some(2 * ranked.column[joint.node] + 1 + usize::from(ranked.side[s][e] == Side::Right))
        };
        // Stations from the near to the far end: item, border towards the near end, border towards the far end.
        stations.clear();
        match strand.bundle.filter(|i| b.items[graph.nodes.len() + i].what != What::Turned) {
            None => {
                let (Some(from), Some(to)) = (channel(0), channel(1)) else { continue };
                b.pass(&ranked, s, 2, from, to, &mut stations);
            }
            Some(i) => {
                let left = ranked.left_end[i] ^ usize::from(strand.turned);
                let layer = 2 * ranked.gap[i];
                // Borders and channels of the bundle towards the near and the far end.
                let (sides, ports) = if left == 0 {
                    ([Side::Left, Side::Right], [layer, layer + 1])
                } else {
                    ([Side::Right, Side::Left], [layer + 1, layer])
                };
                // The end of the cable on which its near end lies.
                let near = usize::from(strand.turned);
                if let Some(from) = channel(0) {
                    b.pass(&ranked, s, near, from, ports[0], &mut stations);
                }
                stations.push((graph.nodes.len() + i, sides[0], sides[1]));
                if let Some(to) = channel(1) {
                    b.pass(&ranked, s, 1 - near, ports[1], to, &mut stations);
                }
            }
        }
        let mut chain = Vec::with_capacity(2 * (stations.len() + 1));
        let mut previous = strand.ends[0].map(|j| (j.node, ranked.side[s][0], j.terminal));
        for (item, towards_near, towards_far) in stations.iter().copied() {
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
    b.stay_inside(graph, &spans);
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
        guided: None,
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
        let sides = if from <= to { (Side::Left, Side::Right) } else { (Side::Right, Side::Left) };
        for step in 0..from.abs_diff(to) {
            let layer = if from <= to { from + step } else { from - 1 - step };
            let lane = match self.lanes.get(&(of, part, layer)) {
                Some(lane) => *lane,
                None => {
                    let places = |ends: &[Option<Joint>]| -> Vec<usize> {
                        ends.iter().flatten().map(|j| graph.nodes[j.node].place).collect()
                    };
                    // What leads to one end of a bundle keeps to the location of that end, where it is in its columns.
                    let end = part ^ usize::from(graph.strands[strand].turned);
                    let own = match ends.get(end) {
                        Some(end) => self.place_of(graph, places(std::slice::from_ref(end)), layer, false),
                        None => 0,
                    };
                    let place = match own {
                        0 => self.place_of(graph, places(&ends), layer, true),
                        own => own,
                    };
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
    fn place_of(&self, graph: &Graph, places: Vec<usize>, layer: usize, whole: bool) -> usize {
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

    /// Lets a lane stay in the location that its end of the cable is in as far as anything of that location reaches.
    fn stay_inside(&mut self, graph: &Graph, spans: &[(usize, usize)]) {
        for ((of, part, layer), lane) in &self.lanes {
            let Some(bundle) = graph.bundles.get(*of) else { continue };
            let ends = bundle.strands.iter().filter_map(|s| {
                let strand = &graph.strands[*s];
                strand.ends.get(part ^ usize::from(strand.turned)).copied().flatten()
            });
            let places = ends.map(|joint| graph.nodes[joint.node].place);
            let own = places.reduce(|a, b| graph.common_place(a, b)).unwrap_or(0);
            let reaches = |p: &usize| (spans[*p].0..=spans[*p].1).contains(layer);
            let inside = graph.path_to(own).iter().rev().copied().find(|p| *p != 0 && reaches(p));
            let item = &mut self.items[*lane];
            if let Some(place) = inside.filter(|p| graph.path_to(*p).contains(&item.place)) {
                item.place = place;
            }
        }
    }

    /// An empty lane for each location in each layer of its span where it has nothing, so that it keeps its place.
    fn keep_places(&mut self, graph: &Graph, spans: &[(usize, usize)]) {
        let layers = 1 + spans.iter().skip(1).map(|(_, to)| *to).max().unwrap_or(0);
        let mut held = vec![false; spans.len() * layers];
        let hold = |held: &mut [bool], place: usize, layer: usize| {
            for p in graph.path_to(place).iter().skip(1) {
                held[p * layers + layer] = true;
            }
        };
        for item in &self.items {
            hold(&mut held, item.place, item.layer);
        }
        // Inner locations stand after outer ones, and what holds an inner one holds the outer one.
        for (place, (from, to)) in spans.iter().enumerate().skip(1).rev() {
            for layer in *from..=*to {
                if !held[place * layers + layer] {
                    self.item(What::Lane, layer, place);
                    hold(&mut held, place, layer);
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
