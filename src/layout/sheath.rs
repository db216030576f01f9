//! Sheaths that go on round corners.
//!
//! A cable lies level in its gap, so its sheath ends level too. Where its cores lead up or down into the frame of another
//! location it would end before that frame, as if the cable were stripped out in the open. So when all else stands, a
//! sheath goes on along its cores, as long as they keep together and nothing is in the way, until it is inside the frame
//! that it leads into. Its loose cores go with it, each beside its neighbour, and end there. A frame along whose line a
//! sheath comes to lie gives way.

use super::collect::Graph;
use super::label::{self, point};
use super::model::{GridPoint, LabelOf, Layout};
use super::order::What;
use super::route::Routed;
use crate::netlist::Job;
use crate::places::Places;
use crate::scene::{M, Point, Rect};

/// Millimetres from the edge of a frame to the end of a sheath inside it, where there is room and where there is less: never
/// on the edge of a frame within, which stands a module away,
const INSIDE: [f64; 2] = [1.5 * M, 0.5 * M];
/// and to one with loose cores, whose words need room too;
const DEEPER: [f64; 8] = [1.5 * M, 0.5 * M, 2.5 * M, 3.5 * M, 4.5 * M, 5.5 * M, 6.5 * M, 7.5 * M];
/// from a sheath's end to where the first of its cores turns,
const SHORT: f64 = 0.5;
/// from a core to the edge of an upright part,
const UPRIGHT: f64 = M / 2.0;
/// of a level one,
const LEVEL: f64 = 1.6;
/// and from a sheath to all else.
const CLEAR: f64 = 0.2;
/// Millimetres around the end of a loose core and its lettering,
const AROUND: f64 = 0.3;
/// that its sign is long and half as wide,
const SIGN: (f64, f64) = (3.2, 1.0);
/// and from its end to a terminal on its row.
const AHEAD: f64 = 12.0 * M;
/// Millimetres from a loose core to its neighbour after a corner: its code stands between them.
const LOOSE: f64 = 2.0 * M;
/// Millimetres between neighbouring cores that are still together.
const APART: f64 = 3.0 * M;
/// The most corners that a sheath goes round at either end.
const CORNERS: usize = 3;

/// Whose something on the paper is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Whose {
    /// Part of the line of a strand,
    Line(usize),
    /// a cable's,
    Sheath(usize),
    /// lettering,
    Label(LabelOf),
    /// or a device or lead.
    Part,
}

/// The loose cores at an end of a sheath.
struct Loose {
    /// Which end of their conductors it is.
    end: usize,
    /// Modules from the end of the sheath to theirs.
    stub: i32,
    /// Their strands, each with its place from the topmost core on.
    cores: Vec<(usize, usize)>,
}

impl Loose {
    fn of(job: &Job, routed: &Routed, bundle: usize, side: usize) -> Self {
        let o = &routed.placed.ordered;
        let graph = &o.ranked.graph;
        let end = end_at(routed, bundle, side);
        let rows = o.items[o.figures.len() + bundle].rows.iter().copied().enumerate();
        let cores = rows.filter(|(_, s)| graph.strands[*s].ends[end].is_none()).collect();
        Self { end, stub: label::stub(job, graph, bundle), cores }
    }

    fn has(&self, strand: usize) -> bool {
        self.cores.iter().any(|(_, s)| *s == strand)
    }

    /// Whether something moves along with them.
    fn take(&self, whose: Whose) -> bool {
        match whose {
            Whose::Line(s) => self.has(s),
            Whose::Label(LabelOf::WireEnd(s, e) | LabelOf::LooseEnd(s, e)) => e == self.end && self.has(s),
            _ => false,
        }
    }

    /// The end of one of them where the sheath ends somewhere along its last part.
    fn tip(&self, leg: &Leg, to: f64, at: Point) -> Point {
        let modules = (to / M - 1e-6).ceil() + f64::from(self.stub);
        leg.at(modules * M, leg.across(at))
    }
}

/// How a sheath goes on.
struct Way {
    level: Rect,
    legs: Vec<Rect>,
    /// Its last part and where that ends.
    last: Leg,
    to: f64,
}

/// Lets every sheath that ends before the frame it leads into go on.
pub(super) fn follow(job: &Job, routed: &Routed, layout: &mut Layout) {
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
    let graph = &routed.placed.ordered.ranked.graph;
    let mut taken = obstacles(layout);
    for (b, side, courses, frames) in wanted {
        let loose = Loose::of(job, routed, b, side);
        let free = |area: &Rect| {
            let area = area.grown(CLEAR);
            let own = |whose: Whose| match whose {
                Whose::Line(s) => graph.strands[s].bundle == Some(b),
                whose => whose == Whose::Sheath(b) || loose.take(whose),
            };
            taken.at(area).all(|(other, whose)| own(*whose) || !other.overlaps(&area))
        };
        let ends_well = |leg: &Leg, to: f64, at: &[Point], within: &[Rect]| {
            loose.cores.iter().all(|(row, s)| {
                at.get(*row).is_some_and(|at| {
                    let tip = loose.tip(leg, to, *at);
                    has_room(job, graph, layout, &taken, (&loose, *s), (leg, to, tip), within)
                })
            })
        };
        let insides = if loose.cores.is_empty() { &INSIDE[..] } else { &DEEPER };
        let found = way(&layout.sheaths[b].level, &courses, side, (&frames, insides), free, ends_well);
        let Some(found) = found else { continue };
        lead_along(job, layout, &loose, &found, &courses);
        let sheath = &mut layout.sheaths[b];
        sheath.level = found.level;
        sheath.legs[side] = found.legs;
        for part in sheath.parts() {
            taken.put(part, Whose::Sheath(b));
        }
        for (_, s) in &loose.cores {
            for piece in layout.wires[*s].points.windows(2).filter_map(line) {
                taken.put(piece, Whose::Line(*s));
            }
        }
        let moved = layout.labels.iter().filter(|label| loose.take(Whose::Label(label.of)));
        moved.for_each(|label| taken.put(label.ink, Whose::Label(label.of)));
        give_way(layout, &taken, b);
    }
}

/// The frames that a cable leads into at one end and not at the other, outer ones first.
fn targets(routed: &Routed, bundle: usize, side: usize) -> Vec<Rect> {
    let o = &routed.placed.ordered;
    let graph = &o.ranked.graph;
    let strands = &graph.bundles[bundle].strands;
    if strands.len() < 2 || o.items[o.figures.len() + bundle].what == What::Turned {
        return Vec::new();
    }
    let end = end_at(routed, bundle, side);
    let node = |e: usize| strands.iter().filter_map(move |s| Some(graph.strands[*s].ends[e]?.node));
    let place = |e: usize| node(e).map(|n| graph.nodes[n].place).reduce(|a, b| graph.common_place(a, b));
    let flagged = node(end).any(|n| graph.nodes[n].away.is_some());
    let (Some(here), Some(there)) = (place(end), place(1 - end)) else { return Vec::new() };
    if flagged {
        return Vec::new();
    }
    let shared = graph.path_to(graph.common_place(here, there));
    let own = graph.path_to(here).iter().filter(|p| !shared.contains(p));
    own.filter_map(|p| routed.frame(*p)).collect()
}

/// Which end of its conductors the left or right end of a cable is.
fn end_at(routed: &Routed, bundle: usize, side: usize) -> usize {
    let left = routed.placed.ordered.ranked.left_end[bundle];
    if side == 0 { left } else { 1 - left }
}

/// The box of a piece of a line.
fn line(pair: &[GridPoint]) -> Option<Rect> {
    if let [a, b] = pair { Some(Rect::between(point(*a), point(*b)).grown(0.35)) } else { None }
}

/// All that stands on the paper, and whose it is.
fn obstacles(layout: &Layout) -> Places<Whose> {
    let lines = layout.wires.iter().enumerate().flat_map(|(s, wire)| {
        wire.points.windows(2).filter_map(line).map(move |piece| (piece, Whose::Line(s)))
    });
    let sheaths = layout.sheaths.iter().enumerate().map(|(b, sheath)| (sheath.level, Whose::Sheath(b)));
    let leads = layout.leads.iter().filter_map(|lead| Some((line(&lead.points)?, Whose::Part)));
    let labels = layout.labels.iter().map(|label| (label.ink, Whose::Label(label.of)));
    let devices = layout.devices.iter().map(|device| (label::outline(device), Whose::Part));
    Places::new(lines.chain(sheaths).chain(leads).chain(labels).chain(devices))
}

/// Whether there is room within some frames for the end of a loose core, its sign and its lettering.
fn has_room(
    job: &Job,
    graph: &Graph,
    layout: &Layout,
    taken: &Places<Whose>,
    (loose, s): (&Loose, usize),
    (leg, to, tip): (&Leg, f64, Point),
    within: &[Rect],
) -> bool {
    let (along, across) = (leg.along(tip), leg.across(tip));
    let stub = Rect::between(leg.at(to, across), tip).grown(0.35);
    let sign = Rect::between(leg.at(along, across - SIGN.1), leg.at(along + SIGN.0, across + SIGN.1));
    let labels = label::loose_labels(job, graph.strands[s].conductor, (s, loose.end), tip, leg.step);
    let free = |area: Rect| {
        let area = area.grown(AROUND);
        within.iter().all(|frame| frame.holds(&area))
            && layout.frames.iter().all(|frame| !frame.rect.overlaps(&area) || frame.rect.holds(&area))
            && taken.at(area).all(|(other, whose)| loose.take(*whose) || !other.overlaps(&area))
    };
    // The end of a core on the row of a terminal might be taken for one that lands there.
    let faces = layout.devices.iter().flat_map(|device| {
        let corner = label::outline(device);
        device
            .figure
            .landings
            .iter()
            .map(move |l| Point { x: corner.x + f64::from(l.x) * M, y: corner.y + f64::from(l.y) * M })
    });
    let mut ahead = faces.filter(|at| leg.step.0 != 0.0 && (at.y - tip.y).abs() < M / 2.0);
    let [word, code] = labels;
    [stub, sign, word.ink, code.ink].into_iter().all(free)
        && !ahead.any(|at| (0.0..AHEAD).contains(&(leg.along(at) - along)))
}

/// Leads the loose cores of a sheath along the way that it goes, to their new ends.
fn lead_along(job: &Job, layout: &mut Layout, loose: &Loose, way: &Way, courses: &[Vec<Point>]) {
    let corners = way.legs.len();
    for (row, s) in &loose.cores {
        let Some(at) = courses[*row].get(corners) else { continue };
        let tip = loose.tip(&way.last, way.to, *at);
        let wire = &mut layout.wires[*s];
        if loose.end == 0 {
            wire.points.reverse();
        }
        wire.points.pop();
        let course = courses[*row].iter().take(corners).copied();
        wire.points.extend(
            course
                .chain([tip])
                .map(|p| GridPoint { x: (p.x / M).round() as i32, y: (p.y / M).round() as i32 }),
        );
        if loose.end == 0 {
            wire.points.reverse();
        }
        for new in label::loose_labels(job, wire.conductor, (*s, loose.end), tip, way.last.step) {
            let old = layout.labels.iter_mut().filter(|label| label.of == new.of);
            old.for_each(|label| *label = new.clone());
        }
    }
}

/// Moves the upper or lower line of a frame a module inwards where the level part of a sheath would lie along it, if nothing
/// stands there.
fn give_way(layout: &mut Layout, taken: &Places<Whose>, b: usize) {
    let level = layout.sheaths[b].level;
    for i in 0..layout.frames.len() {
        let old = layout.frames[i].rect;
        let over = level.x < old.right() && old.x < level.right();
        let below = (old.y - level.bottom()).abs() < M / 2.0;
        let above = (old.bottom() - level.y).abs() < M / 2.0;
        if !over || !(below || above) {
            continue;
        }
        let new = Rect { y: if below { old.y + M } else { old.y }, h: old.h - M, ..old };
        let strip = Rect { y: if below { old.y } else { new.bottom() - M / 2.0 }, h: 1.5 * M, ..old };
        let name = layout.labels.iter().position(|label| below && label.of == LabelOf::Frame(i));
        let moved = name.map(|n| layout.labels[n].ink.moved(0.0, M));
        let own = |whose: Whose| whose == Whose::Label(LabelOf::Frame(i));
        let passes = |other: &Rect, whose: Whose| matches!(whose, Whose::Line(_)) && other.h > other.w;
        let mut there = taken.at(strip).filter(|(other, _)| other.overlaps(&strip));
        let mut at_name = moved.into_iter().flat_map(|ink| taken.at(ink.grown(AROUND)));
        let inner = layout.frames.iter().filter(|other| other.rect != old && old.holds(&other.rect));
        if there.any(|(other, whose)| !own(*whose) && !passes(&other, *whose) && *whose != Whose::Sheath(b))
            || at_name.any(|(_, whose)| !own(*whose))
            || inner.into_iter().any(|other| !new.grown(-M / 2.0).holds(&other.rect))
        {
            continue;
        }
        layout.frames[i].rect = new;
        if let (Some(n), Some(ink)) = (name, moved) {
            let label = &mut layout.labels[n];
            label.ink = ink;
            label.at.y += M;
        }
    }
}

/// The corners of each core of a cable from one end of its sheath on, the topmost core first; a loose core goes beside its
/// nearest neighbour that lands.
fn courses(routed: &Routed, layout: &Layout, bundle: usize, side: usize) -> Option<Vec<Vec<Point>>> {
    let o = &routed.placed.ordered;
    let item = o.figures.len() + bundle;
    let level = &layout.sheaths[bundle].level;
    let end = end_at(routed, bundle, side);
    let y = |row: usize| routed.placed.rows[item].get(row).map(|below| routed.placed.y[item] + below);
    let landed = |(row, s): (usize, &usize)| {
        if o.ranked.graph.strands[*s].ends[end].is_none() {
            return Some(None);
        }
        let mut points = layout.wires[*s].points.clone();
        if end == 0 {
            points.reverse();
        }
        let y = y(row)?;
        let (left, right) = (level.x / M, level.right() / M);
        let inside = points.windows(2).position(|pair| {
            let [a, b] = pair else { return false };
            a.y == y && b.y == y && f64::from(a.x.min(b.x)) <= left && right <= f64::from(a.x.max(b.x))
        })?;
        Some(Some(points[inside + 1..].iter().map(|p| point(*p)).collect::<Vec<_>>()))
    };
    let mut courses: Vec<Option<Vec<Point>>> =
        o.items[item].rows.iter().enumerate().map(landed).collect::<Option<_>>()?;
    let start = (if side == 0 { -1.0 } else { 1.0 }, 0.0);
    for _ in 0..courses.len() {
        let known = courses.clone();
        for row in (0..courses.len()).filter(|row| known[*row].is_none()) {
            let beside = [row.checked_sub(1), Some(row + 1)].into_iter().flatten();
            let neighbour = beside.into_iter().find_map(|n| Some((n, known.get(n)?.as_ref()?)));
            let Some((n, course)) = neighbour else { continue };
            let apart = f64::from(y(row)? - y(n)?) * M;
            courses[row] = Some(course_beside(course, start, apart));
        }
    }
    courses.into_iter().collect()
}

/// The corners of a core that keeps to one side of another, which goes some way at first: so far below that, and beside it as
/// far as loose cores must stand after the first corner.
fn course_beside(course: &[Point], start: (f64, f64), below: f64) -> Vec<Point> {
    let mut step = start;
    // To the left of the way, as [`Leg::across`] counts.
    let mut across = -below * step.0;
    let mut corners = Vec::with_capacity(course.len());
    for (i, at) in course.iter().enumerate() {
        let aside = Point { x: at.x + across * step.1, y: at.y - across * step.0 };
        let Some(next) = course.get(i + 1) else {
            corners.push(aside);
            break;
        };
        step = self::step(*at, *next);
        across = LOOSE.copysign(across);
        corners.push(Point { x: aside.x + across * step.1, y: aside.y - across * step.0 });
    }
    corners
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
#[derive(Clone, Copy)]
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

    /// The point so far along and across its way.
    fn at(&self, along: f64, across: f64) -> Point {
        Point { x: along * self.step.0 + across * self.step.1, y: along * self.step.1 - across * self.step.0 }
    }

    /// The part from where it begins to somewhere.
    fn to(&self, to: f64) -> Rect {
        Rect::between(self.at(self.from, self.across.0), self.at(to, self.across.1))
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
                (before < 0.0) == (after < 0.0) && after != 0.0 && after.abs() <= APART
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

/// How a sheath goes on, its level part made longer and with legs after it, so that it ends in the innermost of some frames,
/// or in as many as can be, so far inside.
fn way(
    level: &Rect,
    courses: &[Vec<Point>],
    side: usize,
    (frames, insides): (&[Rect], &[f64]),
    free: impl Fn(&Rect) -> bool,
    ends_well: impl Fn(&Leg, f64, &[Point], &[Rect]) -> bool,
) -> Option<Way> {
    let mut best: Option<Way> = None;
    let mut reached = depth(frames, &end(level, side));
    let (step, from, across) = if side == 0 {
        ((-1.0, 0.0), -level.x, (level.y, level.bottom()))
    } else {
        ((1.0, 0.0), level.right(), (-level.bottom(), -level.y))
    };
    let mut leg = Leg { step, across, from, least: from };
    let mut parts: Vec<Rect> = Vec::new();
    for corner in 0..=CORNERS {
        let all_at =
            |corner: usize| courses.iter().map(|c| c.get(corner).copied()).collect::<Option<Vec<_>>>();
        let Some(at) = all_at(corner) else { break };
        let (nearest, _) = extent(at.iter().map(|p| leg.along(*p)));
        let gates = frames.iter().map(|frame| leg.span(frame).0);
        for to in gates.flat_map(|gate| insides.iter().map(move |inside| gate + inside)) {
            let within = depth(frames, &Leg { from: to, ..leg }.to(to));
            let part = leg.to(to);
            if leg.least < to
                && to <= nearest - SHORT
                && within > reached
                && free(&part)
                && ends_well(&leg, to, &at, &frames[..within])
            {
                let all = [parts.clone(), vec![part]].concat();
                let (first, legs) = all.split_first()?;
                best = Some(Way { level: level.with(first), legs: legs.to_vec(), last: leg, to });
                reached = within;
            }
        }
        if reached == frames.len() {
            break;
        }
        let Some((part, next)) = all_at(corner + 1).and_then(|next| leg.turned(&at, &next)) else { break };
        if !free(&part) {
            break;
        }
        parts.push(part);
        leg = next;
    }
    best
}
