//! Sheaths that go on round corners.
//!
//! A cable lies level in its gap, so its sheath ends level too. Where its cores lead up or down into the frame of another
//! location it would end before that frame, as if the cable were stripped out in the open. So when all else stands, a
//! sheath goes on along its cores, as long as they keep together and nothing is in the way, until it is inside the frame
//! that it leads into.

use super::label::point;
use super::model::Layout;
use super::order::What;
use super::route::Routed;
use crate::places::Places;
use crate::scene::{M, Point, Rect};

/// Millimetres from the edge of a frame to the end of a sheath inside it, where there is room and where there is less: never
/// on the edge of a frame within, which stands a module away,
const INSIDE: [f64; 2] = [1.5 * M, 0.5 * M];
/// from a sheath's end to where the first of its cores turns,
const SHORT: f64 = 0.5;
/// from a core to the edge of an upright part,
const UPRIGHT: f64 = M / 2.0;
/// of a level one,
const LEVEL: f64 = 1.6;
/// and from a sheath to all else.
const CLEAR: f64 = 0.2;
/// Millimetres between neighbouring cores that are still together.
const APART: f64 = 3.0 * M;
/// The most corners that a sheath goes round at either end.
const CORNERS: usize = 3;

/// Lets every sheath that ends before the frame it leads into go on.
pub(super) fn follow(routed: &Routed, layout: &mut Layout) {
    let ends = (0..layout.sheaths.len()).flat_map(|b| [(b, 0), (b, 1)]);
    let wanted: Vec<_> = ends
        .filter_map(|(b, side)| {
            let frames = targets(routed, b, side);
            let ends_before = depth(&frames, &end(&layout.sheaths[b].level, side)) < frames.len();
            Some((b, side, if ends_before { courses(routed, layout, b, side)? } else { return None }, frames))
        })
        .collect();
    if wanted.is_empty() {
        return;
    }
    let mut taken = obstacles(routed, layout);
    for (b, side, courses, frames) in wanted {
        let free = |area: &Rect| {
            let area = area.grown(CLEAR);
            taken.at(area).all(|(other, whose)| *whose == Some(b) || !other.overlaps(&area))
        };
        let sheath = &mut layout.sheaths[b];
        let Some((level, legs)) = way(&sheath.level, &courses, side, &frames, free) else { continue };
        sheath.level = level;
        sheath.legs[side] = legs;
        for part in sheath.parts() {
            taken.put(part, Some(b));
        }
    }
}

/// The frames that a cable leads into at one end and not at the other, outer ones first; none where a core of it is loose.
fn targets(routed: &Routed, bundle: usize, side: usize) -> Vec<Rect> {
    let o = &routed.placed.ordered;
    let graph = &o.ranked.graph;
    let strands = &graph.bundles[bundle].strands;
    if strands.len() < 2 || o.items[o.figures.len() + bundle].what == What::Turned {
        return Vec::new();
    }
    let end = if side == 0 { o.ranked.left_end[bundle] } else { 1 - o.ranked.left_end[bundle] };
    let node = |e: usize| strands.iter().filter_map(move |s| Some(graph.strands[*s].ends[e]?.node));
    let place = |e: usize| node(e).map(|n| graph.nodes[n].place).reduce(|a, b| graph.common_place(a, b));
    let flagged = node(end).any(|n| graph.nodes[n].away.is_some());
    let (Some(here), Some(there)) = (place(end), place(1 - end)) else { return Vec::new() };
    if flagged || node(end).count() < strands.len() {
        return Vec::new();
    }
    let shared = graph.path_to(graph.common_place(here, there));
    let own = graph.path_to(here).iter().filter(|p| !shared.contains(p));
    own.filter_map(|p| routed.frame(*p)).collect()
}

/// All that stands on the paper, and whose it is if it is a cable's own.
fn obstacles(routed: &Routed, layout: &Layout) -> Places<Option<usize>> {
    let strands = &routed.placed.ordered.ranked.graph.strands;
    let lines = layout.wires.iter().enumerate().flat_map(|(s, wire)| {
        wire.points.windows(2).filter_map(move |pair| {
            let [a, b] = pair else { return None };
            Some((Rect::between(point(*a), point(*b)).grown(0.35), strands[s].bundle))
        })
    });
    let sheaths = layout.sheaths.iter().enumerate().map(|(b, sheath)| (sheath.level, Some(b)));
    let leads = layout.leads.iter().map(|lead| {
        let [a, b] = &lead.points;
        (Rect::between(point(*a), point(*b)).grown(0.35), None)
    });
    let labels = layout.labels.iter().map(|label| (label.ink, None));
    let devices = layout.devices.iter().map(|device| {
        let at = point(device.at);
        let (w, h) = (f64::from(device.figure.w) * M, f64::from(device.figure.h) * M);
        (Rect { x: at.x, y: at.y, w, h }, None)
    });
    Places::new(lines.chain(sheaths).chain(leads).chain(labels).chain(devices))
}

/// The corners of each core of a cable from one end of its sheath on, the topmost core first.
fn courses(routed: &Routed, layout: &Layout, bundle: usize, side: usize) -> Option<Vec<Vec<Point>>> {
    let o = &routed.placed.ordered;
    let item = o.figures.len() + bundle;
    let level = &layout.sheaths[bundle].level;
    let end = if side == 0 { o.ranked.left_end[bundle] } else { 1 - o.ranked.left_end[bundle] };
    let rows = o.items[item].rows.iter().zip(&routed.placed.rows[item]);
    rows.map(|(s, row)| {
        let mut points = layout.wires[*s].points.clone();
        if end == 0 {
            points.reverse();
        }
        let y = routed.placed.y[item] + row;
        let (left, right) = (level.x / M, level.right() / M);
        let inside = points.windows(2).position(|pair| {
            let [a, b] = pair else { return false };
            a.y == y && b.y == y && f64::from(a.x.min(b.x)) <= left && right <= f64::from(a.x.max(b.x))
        })?;
        Some(points[inside + 1..].iter().map(|p| point(*p)).collect())
    })
    .collect()
}

/// How many of some nested frames hold an area.
fn depth(frames: &[Rect], area: &Rect) -> usize {
    frames.iter().take_while(|frame| frame.holds(area)).count()
}

/// The left or right end of a level sheath.
fn end(level: &Rect, side: usize) -> Rect {
    Rect { x: if side == 0 { level.x } else { level.right() }, w: 0.0, ..*level }
}

/// A part of a sheath that is being laid.
struct Leg {
    /// The way that it goes, a step of one.
    step: (f64, f64),
    /// From right to left of that way.
    across: (f64, f64),
    /// Where it begins along that way, and where it ends at the earliest.
    from: f64,
    least: f64,
}

impl Leg {
    fn along(&self, p: Point) -> f64 {
        p.x * self.step.0 + p.y * self.step.1
    }

    fn across(&self, p: Point) -> f64 {
        p.x * self.step.1 - p.y * self.step.0
    }

    /// The part from where it begins to somewhere.
    fn to(&self, to: f64) -> Rect {
        let point = |along: f64, across: f64| Point {
            x: along * self.step.0 + across * self.step.1,
            y: along * self.step.1 - across * self.step.0,
        };
        Rect::between(point(self.from, self.across.0), point(to, self.across.1))
    }

    /// Where along its way an area begins and ends.
    fn span(&self, area: &Rect) -> (f64, f64) {
        let corners = [Point { x: area.x, y: area.y }, Point { x: area.right(), y: area.bottom() }];
        let [a, b] = corners.map(|p| self.along(p));
        (a.min(b), a.max(b))
    }

    /// The leg after a corner of all cores, if they keep their order round it, and the part up to that corner.
    fn turned(&self, at: &[Point], next: &[Point]) -> Option<(Rect, Self)> {
        let steps: Vec<(f64, f64)> = at.iter().zip(next).map(|(a, b)| step(*a, *b)).collect();
        let step = *steps.first()?;
        let (from, least) = (0.0, 0.0);
        let mut leg = Self { step, across: (0.0, 0.0), from, least };
        let together = |pair: &[Point]| match pair {
            [a, b] => {
                let [before, after] = [&*self, &leg].map(|leg| leg.across(*b) - leg.across(*a));
                (before < 0.0) == (after < 0.0) && after.abs() <= APART
            }
            _ => true,
        };
        if steps.iter().any(|other| *other != step) || !at.windows(2).all(together) {
            return None;
        }
        let margin = if step.0 == 0.0 { UPRIGHT } else { LEVEL };
        let (right, left) = extent(at.iter().map(|p| leg.across(*p)));
        leg.across = (right - margin, left + margin);
        let (_, furthest) = extent(at.iter().map(|p| self.along(*p)));
        let part = self.to(furthest + margin);
        (leg.from, leg.least) = leg.span(&part);
        Some((part, leg))
    }
}

/// The way from a point to the next, a step of one.
fn step(a: Point, b: Point) -> (f64, f64) {
    let sign = |d: f64| if d == 0.0 { 0.0 } else { d.signum() };
    (sign(b.x - a.x), sign(b.y - a.y))
}

/// The least and the largest.
fn extent(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
}

/// The level part of a sheath made longer and the legs after it, so that it ends in the innermost of some frames, or in as
/// many as can be.
fn way(
    level: &Rect,
    courses: &[Vec<Point>],
    side: usize,
    frames: &[Rect],
    free: impl Fn(&Rect) -> bool,
) -> Option<(Rect, Vec<Rect>)> {
    let mut best = (depth(frames, &end(level, side)), Vec::new());
    let (step, from, across) = if side == 0 {
        ((-1.0, 0.0), -level.x, (level.y, level.bottom()))
    } else {
        ((1.0, 0.0), level.right(), (-level.bottom(), -level.y))
    };
    let mut leg = Leg { step, across, from, least: from };
    let mut parts = Vec::new();
    for corner in 0..=CORNERS {
        let all_at =
            |corner: usize| courses.iter().map(|c| c.get(corner).copied()).collect::<Option<Vec<_>>>();
        let Some(at) = all_at(corner) else { break };
        let (nearest, _) = extent(at.iter().map(|p| leg.along(*p)));
        let gates = frames.iter().map(|frame| leg.span(frame).0);
        for to in gates.flat_map(|gate| INSIDE.map(|inside| gate + inside)) {
            let reached = depth(frames, &Leg { from: to, ..leg }.to(to));
            let part = leg.to(to);
            if leg.least < to && to <= nearest - SHORT && reached > best.0 && free(&part) {
                best = (reached, [parts.clone(), vec![part]].concat());
            }
        }
        if best.0 == frames.len() {
            break;
        }
        let Some((part, next)) = all_at(corner + 1).and_then(|next| leg.turned(&at, &next)) else { break };
        if !free(&part) {
            break;
        }
        parts.push(part);
        leg = next;
    }
    let (first, legs) = best.1.split_first()?;
    Some((level.with(first), legs.to_vec()))
}
