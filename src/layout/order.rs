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
use std::collections::BTreeMap;
use std::rc::Rc;

use super::chain::build;
use super::groups::Guide;
use super::rank::Ranked;
use super::sift::{met_at, met_upwards};
use super::walk::walk;
use crate::figure::{self, Figure, Readings, Side, Sides};
use crate::netlist::{Form, Job};

/// The graph in order.
#[derive(Clone, Debug)]
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
    /// The numbers that the order started from, where that is not a walk.
    pub guided: Option<Vec<usize>>,
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
#[derive(Clone, Debug)]
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
type Asked = (usize, Vec<(Side, u32)>, bool);

/// How often items, rows and landings change places at most: for one choice of many, and for the one that is drawn.
const BRIEFLY: usize = 2;
pub(super) const LONG: usize = 4;

/// What is done to put a choice in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Effort {
    /// Items, rows and landings change places, but not for long.
    Glance,
    /// Items, rows and landings change places as far as that saves crossings.
    Sift,
    /// So do whole locations.
    Exchange,
}

/// Items and chains of a choice, in no order yet.
pub(super) fn unordered(job: &Job, ranked: Ranked, known: &mut Known) -> Ordered {
    let figures = figures(job, &ranked, known);
    build(ranked, figures)
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
                    let least = u32::from(!node.pref.optional[t]);
                    (ranked.terminal_side[n][t], wanted.max(least))
                };
                (0..count).map(one).collect()
            }
            Form::Splice | Form::Strip => {
                let both = |t: usize| {
                    let [left, right] = landings[t];
                    // A way or splice that nothing reaches is drawn all the same.
                    let least = u32::from(right == 0 && !node.pref.optional[t]);
                    [(Side::Left, left.max(least)), (Side::Right, right)]
                };
                (0..count).flat_map(both).collect()
            }
        };
        let device = node.device;
        let lines = known.readings.map_or(&[][..], |readings| readings.at(device));
        let made = known.figures.entry((n, of, ranked.upturned[n]));
        let made = made.or_insert_with_key(|(_, of, upturned)| {
            Rc::new(match (node.away, &of[..]) {
                (Some(_), [(_, left), (_, right)]) => figure::flags(device, *left, *right),
                _ => figure::design(job, device, &Sides { of: of.clone(), upturned: *upturned }, lines)
                    .in_part(node.part),
            })
        });
        Rc::clone(made)
    };
    graph.nodes.iter().enumerate().map(&mut figure).collect()
}

impl Ordered {
    /// Orders. Locations stand as the given numbers say, if any.
    pub(super) fn put_in_order(
        &mut self,
        (place_keys, guide): (Option<&[usize]>, Option<&Guide>),
        effort: Effort,
    ) {
        self.guided = guide.map(|guide| guide.keys(self));
        let keys = self.guided.clone().unwrap_or_else(|| walk(self));
        self.sort_layers(&keys, place_keys);
        if let Some(guide) = guide {
            guide.keep_neighbours(self);
        }
        self.improve(if effort == Effort::Glance { BRIEFLY } else { LONG });
        if effort == Effort::Exchange {
            self.exchange_places();
        }
        self.bring_beside();
    }

    /// All crossings of chords.
    pub fn crossings(&self) -> usize {
        let rank = self.places_in_layers();
        let met = |chord: usize| {
            // Where its ends are met on the way round the border, down on the left and up on the right.
            let [a, b] = [2 * chord, 2 * chord + 1].map(|e| {
                let End { item, side, slot, .. } = self.ends[e];
                let met = if side == Side::Right { met_at } else { met_upwards };
                met(u64::from(side == Side::Left), rank[item], slot)
            });
            let end = self.ends[2 * chord];
            let channel = self.items[end.item].layer + usize::from(end.side == Side::Right);
            (channel, a.min(b), a.max(b))
        };
        let mut chords: Vec<_> = (0..self.ends.len() / 2).map(met).collect();
        chords.sort_unstable();
        let mut crossings = 0;
        for (i, (channel, _, end)) in chords.iter().enumerate() {
            let inside = chords[i + 1..].iter().take_while(|(other, from, _)| other == channel && from < end);
            crossings += inside.filter(|(.., to)| end < to).count();
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

    /// About how wide it will be, in modules.
    pub fn width(&self) -> i32 {
        let column = |layer: &Vec<usize>| {
            20 + layer.iter().filter_map(|d| self.figures.get(*d)).map(|f| f.w).max().unwrap_or(0)
        };
        let columns: i32 = self.layers.iter().skip(1).step_by(2).map(column).sum();
        let wide = self.layers.iter().step_by(2).filter(|layer| !layer.is_empty()).count();
        columns + 8 * wide as i32
    }

    /// Renumbers the ends on the borders of an item.
    pub(super) fn set_slots(&mut self, item: usize) {
        let upturned = self.ranked.upturned.get(item).is_some_and(|upturned| *upturned);
        let (items, ends) = (&mut self.items, &mut self.ends);
        let Item { what, rows, ends: borders, .. } = &mut items[item];
        for border in borders {
            match what {
                What::Device(_) if upturned => {
                    border.sort_by_key(|e| (Reverse(ends[*e].terminal), ends[*e].slot));
                }
                What::Device(_) => border.sort_by_key(|e| (ends[*e].terminal, ends[*e].slot)),
                What::Bundle(_) | What::Turned | What::Lane => {
                    border.sort_by_key(|e| rows.iter().position(|s| *s == ends[*e].strand));
                }
            }
            for (slot, end) in border.iter().enumerate() {
                ends[*end].slot = slot;
            }
        }
    }

    pub(super) fn places_in_layers(&self) -> Vec<usize> {
        let mut rank = vec![0; self.items.len()];
        for layer in &self.layers {
            for (i, item) in layer.iter().enumerate() {
                rank[*item] = i;
            }
        }
        rank
    }
}
