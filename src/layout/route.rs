//! From rows to points.
//!
//! Before: rows for everything. After: every strand is a line of level and upright pieces from landing to landing;
//! devices, sheaths and frames have their left and right edges.
//!
//! All that stands upright or takes room is listed gap by gap in its order from left to right; `stand` puts it down.

use std::collections::BTreeSet;

use super::label::{self, Room};
use super::model::GridPoint;
use super::order::{What, partner};
use super::place::{self, Placed};
use super::stand::{self, Is, Pull, Thing};
use super::tidy::{self, Block};
use super::tracks::{self, Piece};
use crate::figure::Side;
use crate::netlist::Job;
use crate::scene::{M, Rect};

/// The graph in points.
#[derive(Debug)]
pub(super) struct Routed {
    /// The rows.
    pub placed: Placed,
    /// The left edge of each device.
    pub x: Vec<i32>,
    /// The line of each strand from its near end to its far end; empty for one that has no place.
    pub lines: Vec<Vec<GridPoint>>,
    /// Left edge, left and right edge of the room for labels, right edge of each bundle.
    pub sheaths: Vec<[i32; 4]>,
    /// Where the tag of a cable stands that turns back at once: modules to the right, half modules downwards.
    pub turned: Vec<Option<(i32, i32)>>,
    /// Left and right edge of each location's frame.
    pub frames: Vec<Option<(i32, i32)>>,
}

impl Routed {
    /// The frame of a location in millimetres, if it has one.
    pub fn frame(&self, place: usize) -> Option<Rect> {
        let ((top, bottom), (left, right)) = (self.placed.frames[place]?, self.frames[place]?);
        let mm = |modules: i32| f64::from(modules) * M;
        // Between two rows: cores may run past a frame on the rows of its edges.
        Some(Rect { x: mm(left), y: mm(top) - M / 2.0, w: mm(right - left), h: mm(bottom - top) })
    }
}

/// Routes.
pub(super) fn route(job: &Job, placed: Placed) -> Routed {
    let channels = channels(&placed);
    let gaps = gaps(job, &placed, &channels);
    let things = stand::stand(&placed, gaps);
    finish(job, placed, &channels, things)
}

/// The pieces of each channel in order.
fn channels(placed: &Placed) -> Vec<Vec<Piece>> {
    let o = &placed.ordered;
    let count = o.layers.len() + 1;
    let mut pieces: Vec<Vec<Piece>> = vec![Vec::new(); count];
    let mut taken: Vec<BTreeSet<i32>> = vec![BTreeSet::new(); count];
    for chord in 0..o.ends.len() / 2 {
        let mut piece = Piece { chord, left: Vec::new(), right: Vec::new() };
        let mut channel = 0;
        for end in [2 * chord, 2 * chord + 1] {
            let e = o.ends[end];
            channel = o.items[e.item].layer + usize::from(e.side == Side::Right);
            let rows = if e.side == Side::Right { &mut piece.left } else { &mut piece.right };
            rows.push(placed.row[end]);
        }
        taken[channel].extend(piece.left.iter().chain(&piece.right).copied());
        let (top, bottom) = piece.span();
        if top != bottom {
            pieces[channel].push(piece);
        }
    }
    pieces.into_iter().zip(taken).map(|(p, t)| tracks::in_order(p, t)).collect()
}

/// What stands in each gap and the column right of it, from left to right.
fn gaps(job: &Job, placed: &Placed, channels: &[Vec<Piece>]) -> Vec<Vec<Thing>> {
    let o = &placed.ordered;
    let graph = &o.ranked.graph;
    let thing = |rows, pull, is| Thing { rows, pull, is, x: 0 };
    let frames = |g: usize, left: bool| {
        let mut ends: Vec<(usize, usize)> = Vec::new();
        for (p, span) in o.spans.iter().enumerate() {
            if placed.frames[p].is_some() && (if left { span.0 } else { span.1 }) == g {
                ends.push((graph.path_to(p).len(), p));
            }
        }
        ends.sort_unstable();
        if !left {
            ends.reverse();
        }
        ends.into_iter()
            .filter_map(|(_, p)| {
                let (top, bottom) = placed.frames[p]?;
                let name = label::frame_name_width(&graph.places[p].path);
                let is = if left { Is::FrameLeft(p) } else { Is::FrameRight(p) };
                let mut rows = vec![(top, bottom, 0, 0)];
                if left {
                    rows.push((top, top + 2, 0, name));
                }
                Some(thing(rows, if left { Pull::Right } else { Pull::Left }, is))
            })
            .collect::<Vec<_>>()
    };
    let track = |channel: usize, pull: Pull| {
        let mut halves: Vec<usize> = Vec::new();
        channels[channel]
            .iter()
            .map(|piece| {
                let (top, bottom) = piece.span();
                let half = halves.iter().filter(|c| **c == piece.chord).count();
                halves.push(piece.chord);
                // What turns back keeps to the border that it comes from.
                let pull = match (piece.left.is_empty(), piece.right.is_empty()) {
                    (false, true) => Pull::Left,
                    (true, false) => Pull::Right,
                    _ => pull,
                };
                let mut rows = vec![(top, bottom, 0, 0)];
                if let Some(width) = label::turned_width(job, placed, piece.chord) {
                    let middle = i32::midpoint(top, bottom);
                    rows.push((middle - 1, middle + 1, width, width));
                }
                thing(rows, pull, Is::Piece { chord: piece.chord, half })
            })
            .collect::<Vec<_>>()
    };
    let mut gaps = Vec::new();
    for g in 0..=o.ranked.columns {
        let layer = 2 * g;
        let bundles: Vec<(usize, usize)> = o.layers[layer]
            .iter()
            .filter_map(|i| if let What::Bundle(b) = o.items[*i].what { Some((*i, b)) } else { None })
            .collect();
        let sheath = |(item, b): (usize, usize), left: bool| {
            let room = label::bundle_room(job, placed, b);
            let (first, last) =
                (placed.y[item], placed.y[item] + placed.rows[item].last().copied().unwrap_or(0));
            let mut rows = vec![(first - 1, last + 1, 0, 0)];
            let words = if left { &room.left } else { &room.right };
            for (y, width) in words {
                let (l, r) = if left { (*width, 0) } else { (0, *width) };
                rows.push((y - 1, y + 1, l, r));
            }
            let (pull, is) =
                if left { (Pull::Left, Is::SheathLeft(b)) } else { (Pull::Right, Is::SheathRight(b)) };
            thing(rows, pull, is)
        };
        // A sheath ends inside the frame that it leads into, and before any other.
        let edges = if layer > 0 { frames(layer - 1, false) } else { Vec::new() };
        let own = frames(layer, true);
        let sheaths = bundles.iter().map(|at| sheath(*at, true)).collect();
        let (homely, sheaths) = divided(sheaths, |t| within(placed, t, &own));
        let (mut inner, mut things) =
            divided(track(layer, Pull::Left), |t| within(placed, t, &own) && !t.meets_any(&sheaths));
        let (out, entering) = divided(sheaths, |t| foreign(placed, t, &edges));
        inner.extend(homely);
        things.extend(entering);
        things.extend(edges);
        things.extend(out);
        things.extend(enclosed(placed, own, inner, true));
        for (item, b) in &bundles {
            let (up, down) = place::extent(o, &placed.rows, *item, job);
            let last = placed.rows[*item].last().copied().unwrap_or(0);
            let (y, Room { width, beyond, .. }) = (placed.y[*item], label::bundle_room(job, placed, *b));
            let rows = vec![(y - up, y + down, 0, width), (y + last + 1, y + down, beyond, width + beyond)];
            things.push(thing(rows, Pull::Middle, Is::Zone(*b)));
        }
        let own = frames(layer, false);
        let edges = frames(layer + 1, true);
        let sheaths = bundles.iter().map(|at| sheath(*at, false)).collect();
        let (mut inner, sheaths) = divided(sheaths, |t| within(placed, t, &own));
        let (homely, pieces) =
            divided(track(layer + 1, Pull::Right), |t| within(placed, t, &own) && !t.meets_any(&sheaths));
        let (out, entering) = divided(sheaths, |t| foreign(placed, t, &edges));
        inner.extend(homely);
        things.extend(enclosed(placed, own, inner, false));
        things.extend(out);
        things.extend(edges);
        things.extend(entering);
        things.extend(pieces);
        if let Some(column) = o.layers.get(layer + 1) {
            for item in column {
                if let What::Device(d) = o.items[*item].what {
                    things.push(thing(device_rows(job, placed, d), Pull::Left, Is::Device(d)));
                }
            }
        }
        gaps.push(things);
    }
    gaps
}

/// Those of which something is true, and the others.
fn divided(things: Vec<Thing>, test: impl Fn(&Thing) -> bool) -> (Vec<Thing>, Vec<Thing>) {
    things.into_iter().partition(test)
}

/// The end of a sheath: the item of its bundle and whether it is the left one.
fn end_of_sheath(placed: &Placed, thing: &Thing) -> Option<(usize, bool)> {
    match thing.is {
        Is::SheathLeft(b) => Some((placed.ordered.figures.len() + b, true)),
        Is::SheathRight(b) => Some((placed.ordered.figures.len() + b, false)),
        _ => None,
    }
}

/// The location of a frame of which this is an edge.
fn edge_of(thing: &Thing) -> Option<usize> {
    if let Is::FrameLeft(p) | Is::FrameRight(p) = thing.is { Some(p) } else { None }
}

/// Whether one of these frame edges stands on the rows of a sheath's end that does not lead into that frame.
fn foreign(placed: &Placed, thing: &Thing, edges: &[Thing]) -> bool {
    let o = &placed.ordered;
    let Some((item, left)) = end_of_sheath(placed, thing) else { return false };
    let (top, bottom) =
        (placed.y[item] - 1, placed.y[item] + placed.rows[item].last().copied().unwrap_or(0) + 1);
    edges.iter().filter_map(edge_of).any(|p| {
        let Some((from, to)) = placed.frames[p] else { return false };
        let ends = &o.items[item].ends;
        // A cable that lands nowhere leads into none.
        let lands = ends.iter().any(|border| !border.is_empty());
        let leads_in = lands
            && ends[usize::from(!left)].iter().all(|e| {
                let beside = o.ends[partner(*e)].item;
                o.ranked.graph.path_to(o.items[beside].place).contains(&p)
            });
        from <= bottom && top <= to && !leads_in
    })
}

/// The innermost location that holds all that a thing has to do with on its way to the next layer.
fn home(placed: &Placed, thing: &Thing) -> usize {
    let o = &placed.ordered;
    let place = |end: &usize| o.items[o.ends[*end].item].place;
    let places: Vec<usize> = if let Is::Piece { chord, .. } = thing.is {
        [2 * chord, 2 * chord + 1].iter().map(place).collect()
    } else if let Some((item, left)) = end_of_sheath(placed, thing) {
        let beside = o.items[item].ends[usize::from(!left)].iter().map(|end| place(&partner(*end)));
        beside.chain([o.items[item].place]).collect()
    } else {
        Vec::new()
    };
    places.into_iter().reduce(|a, b| o.ranked.graph.common_place(a, b)).unwrap_or(0)
}

/// Whether a thing belongs within a frame that ends here.
fn within(placed: &Placed, thing: &Thing, edges: &[Thing]) -> bool {
    let path = placed.ordered.ranked.graph.path_to(home(placed, thing));
    edges.iter().filter_map(edge_of).any(|p| path.contains(&p))
}

/// Edges of frames, the outer ones first on the left and last on the right, each with what belongs within it on its inner
/// side, but not within the next.
fn enclosed(placed: &Placed, edges: Vec<Thing>, things: Vec<Thing>, left: bool) -> Vec<Thing> {
    let mut all = Vec::new();
    let mut rest = things;
    // From the innermost outwards.
    let outwards: Vec<Thing> = if left { edges.into_iter().rev().collect() } else { edges };
    for edge in outwards {
        let (inner, others) = divided(rest, |thing| within(placed, thing, std::slice::from_ref(&edge)));
        rest = others;
        all.push((inner, edge));
    }
    let run = |(inner, edge): (Vec<Thing>, Thing)| {
        if left { [vec![edge], inner].concat() } else { [inner, vec![edge]].concat() }
    };
    if left { all.into_iter().rev().flat_map(run).collect() } else { all.into_iter().flat_map(run).collect() }
}

/// The rows of a device and of the labels at its landings.
fn device_rows(job: &Job, placed: &Placed, device: usize) -> Vec<(i32, i32, i32, i32)> {
    let figure = &placed.ordered.figures[device];
    let y = placed.y[device];
    let [left, top, right, bottom] = figure.margin;
    let title = place::title(&placed.ordered, device);
    let mut rows = vec![(y - title - top, y + figure.h + bottom, 1 + left, figure.w + right + 1)];
    if title > 0 {
        rows.push((y - title, y - 1, 0, label::title_room(figure)));
    }
    for (at, side, width) in label::landing_room(job, placed, device) {
        match side {
            Side::Left => rows.push((y + at - 1, y + at, width, figure.w)),
            Side::Right => rows.push((y + at - 1, y + at, 0, figure.w + width)),
        }
    }
    rows
}

/// Reads the places off and draws the lines.
fn finish(job: &Job, placed: Placed, channels: &[Vec<Piece>], gaps: Vec<Vec<Thing>>) -> Routed {
    let o = &placed.ordered;
    let mut x = vec![0; o.figures.len()];
    let mut tracks: Vec<Vec<i32>> = vec![Vec::new(); o.ends.len() / 2];
    let mut middle: Vec<Option<i32>> = vec![None; o.ends.len() / 2];
    let mut sheaths = vec![[0; 4]; o.ranked.graph.bundles.len()];
    let mut frames: Vec<Option<(i32, i32)>> = vec![None; o.spans.len()];
    let mut uprights: Vec<(usize, usize, i32, (i32, i32))> = Vec::new();
    for thing in gaps.iter().flatten() {
        match thing.is {
            Is::Piece { chord, .. } => {
                tracks[chord].push(thing.x);
                if let (Some(b), Some((top, bottom, ..))) =
                    (label::turned(&placed, chord), thing.rows.first().copied())
                {
                    uprights.push((b, chord, thing.x, (top, bottom)));
                }
            }
            Is::SheathLeft(b) => sheaths[b][0] = thing.x,
            Is::Zone(b) => {
                sheaths[b][1] = thing.x;
                sheaths[b][2] = thing.x + thing.rows.first().map_or(0, |r| r.3);
            }
            Is::SheathRight(b) => sheaths[b][3] = thing.x,
            Is::FrameLeft(p) => frames[p] = Some((thing.x, thing.x)),
            Is::FrameRight(p) => frames[p] = frames[p].map(|(left, _)| (left, thing.x)),
            Is::Device(d) => x[d] = thing.x,
        }
    }
    for piece in channels.iter().flatten() {
        let ends = [placed.row[2 * piece.chord], placed.row[2 * piece.chord + 1]];
        let rows = piece.left.iter().chain(&piece.right);
        middle[piece.chord] = middle[piece.chord].or(rows.copied().find(|y| !ends.contains(y)));
    }
    let graph = &o.ranked.graph;
    let stubs: Vec<i32> = (0..graph.bundles.len()).map(|b| label::stub(job, graph, b)).collect();
    let line = |s: usize| {
        let chain = &o.chains[s];
        let mut points: Vec<GridPoint> = Vec::new();
        let strand = &o.ranked.graph.strands[s];
        let loose = |e: usize| {
            let b = strand.bundle?;
            let item = o.figures.len() + b;
            let row = o.items[item].rows.iter().position(|r| *r == s)?;
            let y = placed.y[item] + placed.rows[item].get(row)?;
            let x =
                if e == o.ranked.left_end[b] { sheaths[b][0] - stubs[b] } else { sheaths[b][3] + stubs[b] };
            Some(GridPoint { x, y })
        };
        let landed = |end: usize| {
            let (device, landing) = place::landing(o, end);
            let at = o.figures[device].landings.get(landing).map_or((0, 1), |l| (l.x, l.y));
            GridPoint { x: x[device] + at.0, y: placed.y[device] + at.1 }
        };
        match (strand.ends[0], chain.first()) {
            (Some(_), Some(end)) => points.push(landed(*end)),
            _ => points.extend(loose(0)),
        }
        for pair in chain.chunks(2) {
            let &[a, b] = pair else { continue };
            let chord = a / 2;
            let (from, to) = (placed.row[a], placed.row[b]);
            let mut xs = tracks[chord].clone();
            // Tracks run from left to right; the chord may run the other way.
            if o.ends[a].side == Side::Left && o.ends[partner(a)].side == Side::Right {
                xs.reverse();
            }
            match (xs[..].first(), xs.get(1), middle[chord]) {
                (Some(first), Some(second), Some(m)) => points.extend(
                    [(*first, from), (*first, m), (*second, m), (*second, to)]
                        .map(|(x, y)| GridPoint { x, y }),
                ),
                (Some(first), ..) => {
                    points.extend([(*first, from), (*first, to)].map(|(x, y)| GridPoint { x, y }));
                }
                _ => {}
            }
        }
        match (strand.ends[1], chain.last()) {
            (Some(_), Some(end)) => points.push(landed(*end)),
            _ => points.extend(loose(1)),
        }
        tidy::straightened(points)
    };
    let mut lines: Vec<Vec<GridPoint>> = (0..o.chains.len()).map(line).collect();
    let mut fixed = vec![false; lines.len()];
    for (_, chord, ..) in &uprights {
        fixed[o.ends[2 * chord].strand] = true;
    }
    let blocks = blocks(&gaps, &sheaths);
    let edges: Vec<tidy::Edges> = frames.iter().zip(&placed.frames).filter_map(|(x, y)| x.zip(*y)).collect();
    tidy::tidy(&mut lines, &blocks, &edges, &fixed);
    let mut turned = vec![None; sheaths.len()];
    for (b, chord, x, span) in uprights {
        let half = label::turned_width(job, &placed, chord).unwrap_or(0);
        let own = o.ends[2 * chord].strand;
        let others = lines.iter().enumerate().filter(|(s, _)| *s != own).map(|(_, line)| line);
        turned[b] = Some((x, clear_spot(others, (x - half, x + half), span)));
    }
    Routed { x, lines, sheaths, turned, frames, placed }
}

/// Where no line may go that does not already: devices with the texts beside them, cables, the tags of those that turn back,
/// and the edges of frames.
fn blocks(gaps: &[Vec<Thing>], sheaths: &[[i32; 4]]) -> Vec<Block> {
    let mut blocks = Vec::new();
    for thing in gaps.iter().flatten() {
        let on = |(top, bottom, left, right): &(i32, i32, i32, i32), whole: bool| Block {
            x: (thing.x - left, thing.x + right),
            y: (*top, *bottom),
            whole,
        };
        // The first rows of an upright piece are the line itself.
        let from = usize::from(matches!(thing.is, Is::Piece { .. }));
        let whole = edge_of(thing).is_none();
        blocks.extend(thing.rows.iter().skip(from).map(|rows| on(rows, whole)));
        if let Is::SheathLeft(b) = thing.is {
            let rows = thing.rows.first().map(|(top, bottom, ..)| (*top, *bottom));
            blocks.extend(rows.map(|y| Block { x: (sheaths[b][0], sheaths[b][3]), y, whole: true }));
        }
    }
    blocks
}

/// The spot nearest to the middle of an upright piece, in half modules, that no line passes within a module over a width;
/// the middle if there is none.
fn clear_spot<'a>(
    lines: impl Iterator<Item = &'a Vec<GridPoint>>,
    (from, to): (i32, i32),
    (top, bottom): (i32, i32),
) -> i32 {
    let passes = |pair: &&[GridPoint]| match pair {
        [a, b] => a.y == b.y && a.x.min(b.x) < to && from < a.x.max(b.x),
        _ => false,
    };
    let taken: BTreeSet<i32> = lines
        .flat_map(|line| line.windows(2).filter(passes))
        .filter_map(|pair| Some(2 * pair.first()?.y))
        .collect();
    let middle = top + bottom;
    let mut spots = (0..bottom - top).flat_map(|d| [middle - d, middle + d]);
    let clear = |spot: &i32| {
        2 * top + 1 < *spot && *spot + 1 < 2 * bottom && taken.range(spot - 1..=spot + 1).next().is_none()
    };
    spots.find(clear).unwrap_or(middle)
}
