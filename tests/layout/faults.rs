//! An independent look at a layout: what is wrong with it, and how good it is. It uses only what the layout hands on.

use std::collections::{BTreeMap, BTreeSet};

use bellwire::layout::{GridPoint, LabelOf, Layout, WireEnd};
use bellwire::netlist::{DeviceId, End, Job};
use bellwire::scene::{M, Rect};

/// Half a core's line in millimetres.
const HALF: f64 = 0.35;

/// Half a thin line.
const THIN: f64 = 0.12;

/// A level or upright piece: the wire, the fixed coordinate, from, to.
type Segment = (usize, i32, i32, i32);

/// How good a layout is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Figures {
    pub crossings: usize,
    pub bends: usize,
    pub wires: usize,
    pub length: i64,
    pub bound: i64,
}

struct Paper {
    level: Vec<Segment>,
    upright: Vec<Segment>,
}

fn paper(layout: &Layout) -> Paper {
    let mut paper = Paper { level: Vec::new(), upright: Vec::new() };
    for (w, wire) in layout.wires.iter().enumerate() {
        for pair in wire.points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            if a.y == b.y {
                paper.level.push((w, a.y, a.x.min(b.x), a.x.max(b.x)));
            } else {
                paper.upright.push((w, a.x, a.y.min(b.y), a.y.max(b.y)));
            }
        }
    }
    paper
}

/// Where wires cross, as (point, level wire, upright wire).
fn crossings(paper: &Paper) -> Vec<(i32, i32, usize, usize)> {
    let mut rows: BTreeMap<i32, Vec<&Segment>> = BTreeMap::new();
    for s in &paper.level {
        rows.entry(s.1).or_default().push(s);
    }
    let mut found = Vec::new();
    for (w, x, from, to) in &paper.upright {
        for (y, row) in rows.range(from + 1..*to) {
            for (l, _, a, b) in row {
                if a < x && x < b {
                    found.push((*x, *y, *l, *w));
                }
            }
        }
    }
    found
}

pub fn figures(layout: &Layout) -> Figures {
    let mut f = Figures { crossings: crossings(&paper(layout)).len(), ..Figures::default() };
    for wire in &layout.wires {
        if let (Some(a), Some(b)) = (wire.points.first(), wire.points.last()) {
            f.wires += 1;
            f.bends += wire.points.len() - 2;
            f.bound += i64::from((a.x - b.x).abs() + (a.y - b.y).abs());
            for p in wire.points.windows(2) {
                f.length += i64::from((p[0].x - p[1].x).abs() + (p[0].y - p[1].y).abs());
            }
        }
    }
    f
}

fn mm(v: i32) -> f64 {
    f64::from(v) * M
}

fn line_box(a: GridPoint, b: GridPoint, by: f64) -> Rect {
    Rect { x: mm(a.x.min(b.x)), y: mm(a.y.min(b.y)), w: mm((a.x - b.x).abs()), h: mm((a.y - b.y).abs()) }
        .grown(by)
}

/// Boxes in squares of paper, so that neighbours are found fast.
struct Squares<T> {
    of: BTreeMap<(i32, i32), Vec<(Rect, T)>>,
}

impl<T: Copy + PartialEq> Squares<T> {
    fn new() -> Self {
        Self { of: BTreeMap::new() }
    }

    fn cells(r: &Rect) -> impl Iterator<Item = (i32, i32)> {
        let c = |v: f64| (v / 40.0).floor() as i32;
        let (x0, x1, y0, y1) = (c(r.x), c(r.right()), c(r.y), c(r.bottom()));
        (x0..=x1).flat_map(move |x| (y0..=y1).map(move |y| (x, y)))
    }

    fn put(&mut self, r: Rect, what: T) {
        for cell in Self::cells(&r) {
            self.of.entry(cell).or_default().push((r, what));
        }
    }

    fn meeting(&self, r: &Rect) -> Vec<T> {
        let mut found: Vec<T> = Vec::new();
        for cell in Self::cells(r) {
            for (other, what) in self.of.get(&cell).into_iter().flatten() {
                if other.overlaps(r) && !found.contains(what) {
                    found.push(*what);
                }
            }
        }
        found
    }
}

/// Everything that is wrong, one sentence each.
pub fn faults(job: &Job, layout: &Layout) -> Vec<String> {
    let mut faults = Vec::new();
    wires(job, layout, &mut faults);
    boxes(job, layout, &mut faults);
    labels(job, layout, &mut faults);
    frames(job, layout, &mut faults);
    sheaths(job, layout, &mut faults);
    faults
}

fn wires(job: &Job, layout: &Layout, faults: &mut Vec<String>) {
    let mut drawn = BTreeSet::new();
    let mut landed = BTreeSet::new();
    for (w, wire) in layout.wires.iter().enumerate() {
        drawn.insert(wire.conductor);
        if wire.points.len() < 2 {
            faults.push(format!("wire {w} has no line"));
        }
        for p in wire.points.windows(2) {
            if (p[0].x == p[1].x) == (p[0].y == p[1].y) {
                faults.push(format!("wire {w} has a slanted or empty piece at {:?}", p[0]));
            }
        }
        for p in wire.points.windows(3) {
            if (p[0].x == p[1].x) == (p[1].x == p[2].x) {
                faults.push(format!("wire {w} does not turn at {:?}", p[1]));
            }
        }
        let wanted = match wire.conductor {
            bellwire::layout::Conductor::Core(c) => job.core(c).ends.map(|e| match e.to {
                End::Terminal(t) => Some(t),
                _ => None,
            }),
            bellwire::layout::Conductor::Link(l) => job.links[l.index()].ends.map(Some),
        };
        for (e, end) in wire.ends.iter().enumerate() {
            let tip = if e == 0 { wire.points.first() } else { wire.points.last() };
            match (end, wanted[e]) {
                (WireEnd::Loose, None) => {}
                (WireEnd::Landing(d, l), Some(t)) => {
                    let device = &layout.devices[*d];
                    let landing = device.figure.landings[*l];
                    let at = GridPoint { x: device.at.x + landing.x, y: device.at.y + landing.y };
                    if landing.terminal != t || tip != Some(&at) {
                        faults.push(format!("wire {w} end {e} is not on its terminal"));
                    }
                    if !landed.insert((*d, *l)) {
                        faults.push(format!("two wires on landing {l} of device {d}"));
                    }
                }
                _ => faults.push(format!("wire {w} end {e} is not what the job says")),
            }
        }
    }
    if drawn.len() != job.cores.len() + job.links.len() {
        faults.push(format!("{} conductors drawn", drawn.len()));
    }
    let paper = paper(layout);
    for (name, pieces) in [("level", &paper.level), ("upright", &paper.upright)] {
        let mut sorted = pieces.clone();
        sorted.sort_by_key(|(w, at, a, b)| (*at, *a, *b, *w));
        for pair in sorted.windows(2) {
            let ((w, at, _, b), (v, at2, a2, _)) = (pair[0], pair[1]);
            if at == at2 && a2 <= b {
                faults.push(format!("wires {w} and {v} on one {name} line {at} at {a2}"));
            }
        }
    }
    let ends = |w: usize| {
        let p = &layout.wires[w].points;
        p.iter().map(|p| (p.x, p.y)).collect::<Vec<_>>()
    };
    let mut rows: BTreeMap<i32, Vec<&Segment>> = BTreeMap::new();
    let mut columns: BTreeMap<i32, Vec<&Segment>> = BTreeMap::new();
    paper.level.iter().for_each(|s| rows.entry(s.1).or_default().push(s));
    paper.upright.iter().for_each(|s| columns.entry(s.1).or_default().push(s));
    for w in 0..layout.wires.len() {
        for (x, y) in ends(w) {
            let on_row = rows.get(&y).into_iter().flatten().filter(|s| s.2 <= x && x <= s.3);
            let on_column = columns.get(&x).into_iter().flatten().filter(|s| s.2 <= y && y <= s.3);
            for s in on_row.chain(on_column) {
                if s.0 != w {
                    faults.push(format!("a corner of wire {w} touches wire {} at {x},{y}", s.0));
                }
            }
        }
    }
}

fn boxes(job: &Job, layout: &Layout, faults: &mut Vec<String>) {
    let name = |d: usize| &job.device(layout.devices[d].figure.device).name;
    let mut squares = Squares::new();
    for (d, placed) in layout.devices.iter().enumerate() {
        let figure = &placed.figure;
        let rect = Rect { x: mm(placed.at.x), y: mm(placed.at.y), w: mm(figure.w), h: mm(figure.h) };
        for other in squares.meeting(&rect.grown(0.5)) {
            faults.push(format!("{} and {} overlap", name(d), name(other)));
        }
        squares.put(rect, d);
        let below = Rect { h: rect.h + mm(figure.margin[3]), ..rect };
        if figure.margin[3] > 0 {
            squares.put(Rect { y: rect.bottom(), h: mm(figure.margin[3]), ..below }, d);
        }
    }
    for (w, wire) in layout.wires.iter().enumerate() {
        let last = wire.points.len().saturating_sub(2);
        for (i, p) in wire.points.windows(2).enumerate() {
            let line = line_box(p[0], p[1], 0.1);
            for d in squares.meeting(&line) {
                // The first and last piece may begin on the outline of their own device and must lead away from it.
                let own = |e: usize| matches!(wire.ends[e], WireEnd::Landing(at, _) if at == d);
                let inner = {
                    let placed = &layout.devices[d];
                    let f = &placed.figure;
                    Rect { x: mm(placed.at.x), y: mm(placed.at.y), w: mm(f.w), h: mm(f.h) }.grown(-0.2)
                };
                let allowed = ((i == 0 && own(0)) || (i == last && own(1))) && !line.overlaps(&inner);
                if !allowed {
                    faults.push(format!("wire {w} runs through or along {}", name(d)));
                }
            }
        }
    }
    for lead in &layout.leads {
        let line = line_box(lead.points[0], lead.points[1], HALF);
        for (w, wire) in layout.wires.iter().enumerate() {
            if wire.points.windows(2).any(|p| line_box(p[0], p[1], HALF).overlaps(&line)) {
                faults.push(format!("wire {w} meets an unused lead"));
            }
        }
    }
}

fn labels(job: &Job, layout: &Layout, faults: &mut Vec<String>) {
    let mut lines = Squares::new();
    for (w, wire) in layout.wires.iter().enumerate() {
        for p in wire.points.windows(2) {
            lines.put(line_box(p[0], p[1], HALF), w);
        }
    }
    let mut boxes = Squares::new();
    for (d, placed) in layout.devices.iter().enumerate() {
        let figure = &placed.figure;
        boxes.put(Rect { x: mm(placed.at.x), y: mm(placed.at.y), w: mm(figure.w), h: mm(figure.h) }, d);
    }
    let mut thin = Squares::new();
    for (i, frame) in layout.frames.iter().enumerate() {
        for edge in edges(&frame.rect) {
            thin.put(edge, i);
        }
    }
    let mut outlines = Squares::new();
    for (i, s) in layout.sheaths.iter().enumerate() {
        if s.level.h > 0.0 {
            let corners = s.outline();
            for (a, b) in corners.iter().zip(corners.iter().cycle().skip(1)) {
                outlines.put(Rect::between(*a, *b).grown(THIN), i);
            }
        }
    }
    let mut seen = Squares::new();
    for (i, label) in layout.labels.iter().enumerate() {
        let text = &label.text;
        for other in seen.meeting(&label.ink) {
            let other: &bellwire::layout::Label = &layout.labels[other];
            faults.push(format!("labels {text:?} and {:?} overlap", other.text));
        }
        seen.put(label.ink, i);
        for w in lines.meeting(&label.ink) {
            let own = match label.of {
                LabelOf::Tag(s) => match layout.wires[w].conductor {
                    bellwire::layout::Conductor::Core(c) => job.core(c).cable == layout.sheaths[s].cable,
                    bellwire::layout::Conductor::Link(_) => false,
                },
                _ => false,
            };
            if !own {
                faults.push(format!("wire {w} runs through the label {text:?} of {:?}", label.of));
            }
        }
        for d in boxes.meeting(&label.ink) {
            faults.push(format!("label {text:?} lies on device {d}"));
        }
        for f in thin.meeting(&label.ink) {
            faults.push(format!("label {text:?} lies on the edge of frame {f}"));
        }
        for s in outlines.meeting(&label.ink) {
            if label.of != LabelOf::Tag(s) {
                faults.push(format!("label {text:?} lies on the edge of sheath {s}"));
            }
        }
    }
}

fn edges(r: &Rect) -> [Rect; 4] {
    [
        Rect { x: r.x, y: r.y, w: r.w, h: 0.0 }.grown(THIN),
        Rect { x: r.x, y: r.bottom(), w: r.w, h: 0.0 }.grown(THIN),
        Rect { x: r.x, y: r.y, w: 0.0, h: r.h }.grown(THIN),
        Rect { x: r.right(), y: r.y, w: 0.0, h: r.h }.grown(THIN),
    ]
}

fn inside(a: &Rect, b: &Rect) -> bool {
    b.x <= a.x && b.y <= a.y && a.right() <= b.right() && a.bottom() <= b.bottom()
}

/// Where a device stands: one without a location that lies across others does so where they all are.
fn location(job: &Job, device: DeviceId) -> Vec<String> {
    let own = job.device(device).location.to_vec();
    let across = job.links.iter().filter(|link| link.across == Some(device)).flat_map(|link| link.ends);
    let hosts = across.map(|end| job.terminal(end).device).filter(|host| *host != device);
    let theirs: BTreeSet<Vec<String>> = hosts.map(|host| job.device(host).location.to_vec()).collect();
    if own.is_empty() && theirs.len() == 1 { theirs.into_iter().next().unwrap_or_default() } else { own }
}

fn frames(job: &Job, layout: &Layout, faults: &mut Vec<String>) {
    let mut wanted = BTreeSet::new();
    for d in &job.devices {
        for depth in 1..=d.location.len() {
            wanted.insert(d.location[..depth].to_vec());
        }
    }
    let drawn: BTreeSet<Vec<String>> = layout.frames.iter().map(|f| f.location.clone()).collect();
    if wanted != drawn || drawn.len() != layout.frames.len() {
        faults.push("the frames are not those of the locations".into());
    }
    for frame in &layout.frames {
        for placed in &layout.devices {
            let figure = &placed.figure;
            let rect = Rect { x: mm(placed.at.x), y: mm(placed.at.y), w: mm(figure.w), h: mm(figure.h) };
            let member = location(job, figure.device).starts_with(&frame.location);
            let name = &job.device(figure.device).name;
            if member && !inside(&rect.grown(1.0), &frame.rect) {
                faults.push(format!("{name} is not inside {:?}", frame.location));
            }
            if !member && rect.overlaps(&frame.rect) {
                faults.push(format!("{name} is inside {:?}", frame.location));
            }
        }
        for (w, wire) in layout.wires.iter().enumerate() {
            for p in wire.points.windows(2) {
                let (level, line) = (p[0].y == p[1].y, line_box(p[0], p[1], HALF));
                let along = edges(&frame.rect);
                let along = if level { &along[..2] } else { &along[2..] };
                if along.iter().any(|edge| edge.overlaps(&line)) {
                    faults.push(format!("wire {w} runs along the edge of {:?}", frame.location));
                }
            }
        }
        for other in &layout.frames {
            let nested =
                other.location.starts_with(&frame.location) || frame.location.starts_with(&other.location);
            if !nested && frame.rect.overlaps(&other.rect) {
                faults.push(format!("frames {:?} and {:?} overlap", frame.location, other.location));
            }
            if other.location.len() > frame.location.len()
                && nested
                && !inside(&other.rect.grown(0.5), &frame.rect)
            {
                faults.push(format!("frame {:?} is not inside {:?}", other.location, frame.location));
            }
        }
    }
}

fn sheaths(job: &Job, layout: &Layout, faults: &mut Vec<String>) {
    let mut lines = Squares::new();
    for (w, wire) in layout.wires.iter().enumerate() {
        for (i, p) in wire.points.windows(2).enumerate() {
            lines.put(line_box(p[0], p[1], 0.0).grown(0.01), (w, i));
        }
    }
    let crossings = crossings(&paper(layout));
    for sheath in layout.sheaths.iter().filter(|s| s.level.h > 0.0) {
        let name = &job.cable(sheath.cable).name;
        let own = |w: usize| match layout.wires[w].conductor {
            bellwire::layout::Conductor::Core(c) => job.core(c).cable == sheath.cable,
            bellwire::layout::Conductor::Link(_) => false,
        };
        for (n, part) in sheath.parts().iter().enumerate() {
            let within: BTreeSet<usize> = lines.meeting(part).into_iter().map(|(w, _)| w).collect();
            for w in within.iter().filter(|w| !own(**w)) {
                faults.push(format!("wire {w} runs in the sheath of {name}"));
            }
            if within.len() != job.cable(sheath.cable).cores.len() {
                faults.push(format!("{} cores in part {n} of the sheath of {name}", within.len()));
            }
            let at = |(x, y): (i32, i32)| Rect { x: mm(x), y: mm(y), w: 0.0, h: 0.0 };
            if crossings.iter().any(|(x, y, ..)| at((*x, *y)).overlaps(part)) {
                faults.push(format!("cores cross in the sheath of {name}"));
            }
        }
        // Its cores run through it from end to end.
        let level = &sheath.level;
        let through = lines.meeting(level).into_iter().filter(|(w, i)| {
            let p = &layout.wires[*w].points;
            let (from, to) = (mm(p[*i].x.min(p[i + 1].x)), mm(p[*i].x.max(p[i + 1].x)));
            let [left, right] = [&sheath.legs[0], &sheath.legs[1]].map(|legs| !legs.is_empty());
            p[*i].y == p[i + 1].y && (left || from <= level.x) && (right || level.right() <= to)
        });
        if through.count() != job.cable(sheath.cable).cores.len() {
            faults.push(format!("a core does not run through the sheath of {name}"));
        }
    }
}
