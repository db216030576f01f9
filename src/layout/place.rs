//! From an order to rows.
//!
//! Before: every layer in its order from the top. After: every item has a row, so that no two items of a layer and no
//! two frames come too near, and every frame has a top and a bottom that hold its items and nothing else.
//!
//! Rows are chosen so that the sum of the heights of all steps, each by its weight, is small.

use super::Air;
use super::order::{End, Item, Ordered, What, partner};
use super::settle::System;
use super::straighten::straighten;
use super::walk::walk;
use crate::figure::Side;
use crate::netlist::Job;

/// The graph in rows.
#[derive(Debug)]
pub(super) struct Placed {
    /// The order.
    pub ordered: Ordered,
    /// Room beyond what has to be.
    pub air: Air,
    /// The row of each item: the top of a device's outline, the first row of a bundle or lane.
    pub y: Vec<i32>,
    /// The rows of each bundle and lane, from its first.
    pub rows: Vec<Vec<i32>>,
    /// Top and bottom of each location's frame; the root has none.
    pub frames: Vec<Option<(i32, i32)>>,
    /// The row of each chord end.
    pub row: Vec<i32>,
}

/// Modules that the lettering above a device takes.
const TITLE: i32 = 2;
/// Modules that the name of a frame takes.
const NAME: i32 = 2;
/// Modules between a frame and what it holds or what is beside it.
const CLEAR: i32 = 1;

/// What a module beyond the height that is asked for counts, in steps of wires.
const BEYOND: i64 = 100_000;

/// Places, within a height as far as can be.
pub(super) fn place(job: &Job, ordered: Ordered, air: Air, within: Option<i32>) -> Placed {
    let rows: Vec<Vec<i32>> = ordered.items.iter().map(|item| item_rows(&ordered, item)).collect();
    let offset: Vec<i32> = (0..ordered.ends.len()).map(|e| end_offset(&ordered, &rows, e)).collect();
    let mut standing = Standing::new(job, &ordered, &rows, &offset, air);
    if let Some(height) = within {
        standing.keep_within(height, &ordered, &rows, job);
    }
    standing.settle(&ordered);
    if air.beside > 0 {
        // Room that need not be there gives way to a straight line.
        let close = Standing::new(job, &ordered, &rows, &offset, Air::default());
        standing.system.least = close.system.least;
    }
    straighten(&mut standing.system, standing.items);
    let mut placed = standing.finish(ordered, rows, offset, air);
    placed.clear_loose_rows();
    placed
}

/// The least height that keeps everything apart, in modules.
pub(super) fn least_height(job: &Job, o: &Ordered) -> i32 {
    let rows: Vec<Vec<i32>> = o.items.iter().map(|item| item_rows(o, item)).collect();
    let mut standing = Standing::apart(job, o, &rows, Air::default());
    standing.system.lowest();
    let y = &standing.system.y;
    let reach = |item: usize| {
        let (up, down) = extent(o, &rows, item, job);
        (y[item] - up, y[item] + down)
    };
    let reaches = || o.layers.iter().flatten().copied().map(reach);
    let (top, bottom) =
        (reaches().map(|r| r.0).min().unwrap_or(0), reaches().map(|r| r.1).max().unwrap_or(0));
    y[standing.items..].iter().copied().fold(bottom, i32::max) - top.min(0)
}

/// The rows of a bundle or lane from its first: where most neighbours stand as they land the rows stand so too.
fn item_rows(o: &Ordered, item: &Item) -> Vec<i32> {
    if item.rows.is_empty() {
        return Vec::new();
    }
    let mut votes = [0_usize; 4];
    for pair in item.rows.windows(2) {
        let &[a, b] = pair else { continue };
        for e in 0..2 {
            let strands = &o.ranked.graph.strands;
            // The number of a strand's end on this end of the cable.
            let end = |s: usize| e ^ usize::from(strands[s].turned);
            let (Some(p), Some(q)) = (strands[a].ends[end(a)], strands[b].ends[end(b)]) else { continue };
            if p.node != q.node {
                continue;
            }
            let landing = |s: usize| {
                let end = if end(s) == 0 { o.chains[s].first() } else { o.chains[s].last() };
                end.map_or(0, |end| landing_row(o, *end))
            };
            let apart = landing(b) - landing(a);
            if (1..=3).contains(&apart) {
                votes[apart as usize] += 1;
            }
        }
    }
    let pitch = if votes[3] > votes[2] && item.rows.len() <= 12 {
        3
    } else if item.rows.len() > 12 {
        1
    } else {
        2
    };
    // The code of a loose core stands above its end and needs the row there.
    let step = |s: &usize| if is_loose(o, *s) { pitch.max(2) } else { pitch };
    let steps = item.rows.iter().skip(1).map(step);
    let rows = steps.scan(0, |row, step| {
        *row += step;
        Some(*row)
    });
    std::iter::once(0).chain(rows).collect()
}

/// Whether a strand has an end that lands nowhere.
fn is_loose(o: &Ordered, strand: usize) -> bool {
    o.ranked.graph.strands[strand].ends.iter().any(Option::is_none)
}

/// The row of a landing from the top of its device.
fn landing_row(o: &Ordered, end: usize) -> i32 {
    let (figure, landing) = landing(o, end);
    o.figures[figure].landings.get(landing).map_or(1, |l| l.y)
}

/// The device of a chord end and the number of its landing.
pub(super) fn landing(o: &Ordered, end: usize) -> (usize, usize) {
    let End { item, side, terminal, slot, .. } = o.ends[end];
    // The ends of one terminal follow each other on the border.
    let border = &o.items[item].ends[side as usize];
    let first = border.iter().position(|e| o.ends[*e].terminal == terminal).unwrap_or(slot);
    let place = slot - first;
    let landings = o.figures[item].landings.iter().enumerate();
    let number = |t: u32| t.wrapping_sub(terminal_base(o, item));
    let mine = landings.filter(|(_, l)| l.side == side && number(l.terminal.0) as usize == terminal);
    (item, mine.map(|(i, _)| i).nth(place).unwrap_or(0))
}

fn terminal_base(o: &Ordered, device: usize) -> u32 {
    o.ranked.graph.nodes[device].first_terminal
}

fn end_offset(o: &Ordered, rows: &[Vec<i32>], end: usize) -> i32 {
    let End { item, strand, .. } = o.ends[end];
    match o.items[item].what {
        What::Device(_) => landing_row(o, end),
        What::Bundle(_) | What::Turned | What::Lane => {
            let row = o.items[item].rows.iter().position(|s| *s == strand);
            row.and_then(|r| rows[item].get(r)).copied().unwrap_or(0)
        }
    }
}

/// The rows in the making.
struct Standing {
    /// Rows of the items, then tops, then bottoms of the locations.
    system: System,
    items: usize,
    places: usize,
    used: Vec<bool>,
}

impl Standing {
    /// What must stand apart, and nothing that pulls.
    fn apart(job: &Job, o: &Ordered, rows: &[Vec<i32>], air: Air) -> Self {
        let (items, places) = (o.items.len(), o.ranked.graph.places.len());
        let used = o.spans.iter().enumerate().map(|(p, (from, to))| p != 0 && from <= to).collect();
        let mut standing = Self { system: System::new(items + 2 * places), items, places, used };
        for layer in &o.layers {
            for item in layer {
                standing.hold(o, rows, *item, job);
            }
            for pair in layer.windows(2) {
                if let &[a, b] = pair {
                    standing.keep_apart(o, rows, (a, b), job, air);
                }
            }
        }
        for (p, place) in o.ranked.graph.places.iter().enumerate().skip(1) {
            if !standing.used[p] {
                continue;
            }
            let (top, bottom) = (standing.top(p), standing.bottom(p));
            standing.system.keep((top, bottom, NAME + 2 * CLEAR));
            if place.parent != 0 {
                let (outer_top, outer_bottom) = (standing.top(place.parent), standing.bottom(place.parent));
                standing.system.keep((outer_top, top, NAME + CLEAR));
                standing.system.keep((bottom, outer_bottom, CLEAR));
            }
        }
        standing
    }

    fn new(job: &Job, o: &Ordered, rows: &[Vec<i32>], offset: &[i32], air: Air) -> Self {
        let mut standing = Self::apart(job, o, rows, air);
        for p in (0..standing.places).filter(|p| standing.used[*p]) {
            standing.system.pull((standing.top(p), standing.bottom(p), 0, 1));
        }
        standing.enter_frames(o, rows, job);
        for chord in 0..o.ends.len() / 2 {
            let (a, b) = (2 * chord, 2 * chord + 1);
            let (i, j) = (o.ends[a].item, o.ends[b].item);
            if i != j {
                let weight = if o.ends[a].side == o.ends[b].side { 1 } else { weight(o, a) };
                let apart = offset[a] - offset[b];
                standing.system.pull(if i < j {
                    (i, j, apart, 8 * weight)
                } else {
                    (j, i, -apart, 8 * weight)
                });
            }
        }
        standing
    }

    /// Keeps everything between two more values that are pulled to a height.
    fn keep_within(&mut self, height: i32, o: &Ordered, rows: &[Vec<i32>], job: &Job) {
        let (top, bottom) = (self.system.y.len(), self.system.y.len() + 1);
        self.system.y.extend([0, 0]);
        for item in o.layers.iter().flatten().copied() {
            let (up, down) = extent(o, rows, item, job);
            self.system.keep((top, item, up));
            self.system.keep((item, bottom, down));
        }
        for place in (0..self.places).filter(|p| self.used[*p]) {
            self.system.keep((top, self.top(place), 0));
            self.system.keep((self.bottom(place), bottom, 0));
        }
        self.system.pull((top, bottom, height, BEYOND));
    }

    fn top(&self, place: usize) -> usize {
        self.items + place
    }

    fn bottom(&self, place: usize) -> usize {
        self.items + self.places + place
    }

    /// An item lies within its frame.
    fn hold(&mut self, o: &Ordered, rows: &[Vec<i32>], item: usize, job: &Job) {
        let place = o.items[item].place;
        if place != 0 && self.used[place] {
            let (up, down) = extent(o, rows, item, job);
            self.system.keep((self.top(place), item, NAME + CLEAR + up));
            self.system.keep((item, self.bottom(place), CLEAR + down));
        }
    }

    /// What leads into a frame from the layer beside it does so between its top and its bottom, unless that goes
    /// against what is above what.
    fn enter_frames(&mut self, o: &Ordered, rows: &[Vec<i32>], job: &Job) {
        let graph = &o.ranked.graph;
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); self.system.y.len()];
        for (a, b, _) in &self.system.least {
            after[*a].push(*b);
        }
        for (i, item) in o.items.iter().enumerate() {
            if matches!(item.what, What::Device(_) | What::Turned) || item.rows.is_empty() {
                continue;
            }
            let (up, down) = extent(o, rows, i, job);
            for border in &item.ends {
                // The locations that all strands lead into on this border.
                let beside = border.iter().map(|e| graph.path_to(o.items[o.ends[partner(*e)].item].place));
                let into = beside
                    .reduce(|a, b| &a[..a.iter().zip(b).take_while(|(x, y)| x == y).count()])
                    .unwrap_or_default();
                let own = graph.path_to(item.place);
                for frame in into.iter().copied().filter(|p| *p != 0 && self.used[*p] && !own.contains(p)) {
                    let (top, bottom) = (self.top(frame), self.bottom(frame));
                    if reaches(&after, i, top) || reaches(&after, bottom, i) {
                        continue;
                    }
                    self.system.keep((top, i, NAME + CLEAR + up));
                    self.system.keep((i, bottom, CLEAR + down));
                    after[top].push(i);
                    after[i].push(bottom);
                }
            }
        }
    }

    /// Two neighbours of a layer, and the frames that end between them.
    fn keep_apart(&mut self, o: &Ordered, rows: &[Vec<i32>], (a, b): (usize, usize), job: &Job, air: Air) {
        let graph = &o.ranked.graph;
        let (p, q) = (graph.path_to(o.items[a].place), graph.path_to(o.items[b].place));
        let shared = p.iter().zip(q).take_while(|(x, y)| x == y).count();
        let (from, down) = match p.get(shared) {
            Some(frame) => (self.bottom(*frame), 0),
            None => (a, extent(o, rows, a, job).1),
        };
        let (to, up) = match q.get(shared) {
            Some(frame) => (self.top(*frame), 0),
            None => (b, extent(o, rows, b, job).0),
        };
        let lane = |i: usize| o.items[i].what == What::Lane;
        let device = |i: usize| matches!(o.items[i].what, What::Device(_));
        let clear = if device(a) && device(b) { 2 } else { 1 };
        let clear = if lane(a) && lane(b) && !o.items[a].rows.is_empty() { 1 } else { clear };
        let clear = if lane(a) || lane(b) { clear } else { clear + air.beside };
        self.system.keep((from, to, down + up + clear));
    }

    /// Lets everything stand where the sum of steps is small.
    fn settle(&mut self, o: &Ordered) {
        // Frames begin as soon and end as late as they can.
        let mut numbers = o.guided.clone().unwrap_or_else(|| walk(o));
        numbers.resize(self.items + self.places, 0);
        numbers.resize(self.system.y.len(), usize::MAX);
        self.system.settle(&numbers);
    }

    fn finish(self, ordered: Ordered, rows: Vec<Vec<i32>>, offset: Vec<i32>, air: Air) -> Placed {
        let frames = (0..self.places)
            .map(|p| self.used[p].then(|| (self.system.y[self.top(p)], self.system.y[self.bottom(p)])))
            .collect();
        let row =
            offset.iter().enumerate().map(|(e, off)| self.system.y[ordered.ends[e].item] + off).collect();
        let y = self.system.y[..self.items].to_vec();
        Placed { ordered, air, y, rows, frames, row }
    }
}

/// Whether a chain of least distances leads from one variable to another.
fn reaches(after: &[Vec<usize>], from: usize, to: usize) -> bool {
    let mut seen = vec![false; after.len()];
    let mut open = vec![from];
    while let Some(v) = open.pop() {
        if v == to {
            return true;
        }
        if !std::mem::replace(&mut seen[v], true) {
            open.extend(after[v].iter().filter(|w| !seen[**w]));
        }
    }
    false
}

/// How much a chord should be straight.
fn weight(o: &Ordered, end: usize) -> i64 {
    let lanes = [end, partner(end)].iter().filter(|e| o.items[o.ends[**e].item].what == What::Lane).count();
    [2, 3, 6][lanes]
}

/// Modules that the lettering above a device takes; above a flag stands the text of its conductor.
pub(super) fn title(o: &Ordered, device: usize) -> i32 {
    if o.ranked.graph.nodes[device].away.is_some() { 0 } else { TITLE }
}

/// The modules that an item takes above and below its row.
pub(super) fn extent(o: &Ordered, rows: &[Vec<i32>], item: usize, job: &Job) -> (i32, i32) {
    let last = rows[item].last().copied().unwrap_or(0);
    match o.items[item].what {
        What::Device(d) => {
            let figure = &o.figures[d];
            (title(o, d) + figure.margin[1], figure.h + figure.margin[3])
        }
        What::Bundle(b) => {
            let loose = loose_rows(o, item).count() as i32;
            let words = super::label::make_up(job, o, b).len() as i32;
            if rows[item].len() == 1 && loose == 0 {
                (1, 1)
            } else {
                (1, last + loose + 1 + (3 * words + 1) / 2)
            }
        }
        What::Turned | What::Lane => (0, last),
    }
}

/// The rows of a bundle whose strands are loose somewhere.
pub(super) fn loose_rows(o: &Ordered, item: usize) -> impl Iterator<Item = usize> {
    o.items[item].rows.iter().enumerate().filter(|(_, s)| is_loose(o, **s)).map(|(r, _)| r)
}

impl Placed {
    /// Moves loose rows of bundles off the rows of the terminals that they face.
    fn clear_loose_rows(&mut self) {
        let o = &self.ordered;
        for item in 0..o.items.len() {
            if !matches!(o.items[item].what, What::Bundle(_)) {
                continue;
            }
            let layer = o.items[item].layer;
            let loose: Vec<usize> = loose_rows(o, item).collect();
            // So much room was kept for this.
            let room = loose.len() as i32;
            let mut pushed = 0;
            for r in loose {
                let strand = o.items[item].rows[r];
                let graph = &o.ranked.graph;
                let bundle = graph.strands[strand].bundle.unwrap_or(0);
                let left = o.ranked.left_end[bundle];
                let open = |end: usize| graph.strands[strand].ends[end].is_none();
                let mut taken: Vec<i32> = Vec::new();
                for (beside, side, faces) in [
                    (layer.checked_sub(1), Side::Right, open(left)),
                    (Some(layer + 1), Side::Left, open(1 - left)),
                ] {
                    let devices = beside.and_then(|l| o.layers.get(l)).into_iter().flatten();
                    for d in devices.filter(|_| faces) {
                        if let What::Device(d) = o.items[*d].what {
                            let on = o.figures[d].landings.iter().filter(|l| l.side == side);
                            taken.extend(on.map(|l| self.y[d] + l.y));
                        }
                    }
                }
                while pushed < room && taken.contains(&(self.y[item] + self.rows[item][r] + pushed)) {
                    pushed += 1;
                }
                self.rows[item][r] += pushed;
            }
        }
        for end in 0..o.ends.len() {
            let End { item, strand, .. } = o.ends[end];
            if let Some(r) = o.items[item].rows.iter().position(|s| *s == strand) {
                self.row[end] = self.y[item] + self.rows[item][r];
            }
        }
    }
}
