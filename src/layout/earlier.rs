//! The order of an earlier drawing of the job, kept as far as the job still allows it.
//!
//! Before: where devices stood and on which side their terminals were. After: a choice of columns and sides to start from,
//! and about how far down things stand. What was not on the earlier drawing stands beside what it is joined to.

use std::collections::BTreeMap;

use super::collect::{Graph, Strand};
use super::groups::Guide;
use super::rank::{Choice, Ranking, other};
use crate::figure::Side;
use crate::lettering::printable;
use crate::netlist::{Job, TerminalId};
use crate::scene::{Point, Rect};

/// Where devices and conductors were on a drawing, under the names that are lettered on it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Earlier {
    devices: BTreeMap<String, Stood>,
    /// By cable and core.
    wires: BTreeMap<(String, String), Lay>,
}

/// A conductor on an earlier drawing.
#[derive(Clone, Debug, Default, PartialEq)]
struct Lay {
    /// In which layers it lay level, and how far down.
    level: Vec<(usize, usize)>,
    /// How far down its two ends were.
    tips: [usize; 2],
}

/// A device on an earlier drawing.
#[derive(Clone, Debug, PartialEq)]
struct Stood {
    column: usize,
    /// How far down its middle was.
    down: usize,
    /// The sides of its terminals.
    sides: BTreeMap<String, Side>,
}

/// A device as it was seen on a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Its name.
    pub name: String,
    /// Its outline.
    pub area: Rect,
    /// Its terminals, each with a point where conductors land on it.
    pub landings: Vec<(String, Point)>,
}

/// A conductor as it was seen on a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// The names of its cable and of itself.
    pub names: (String, String),
    /// Its corners from end to end.
    pub points: Vec<Point>,
}

impl Earlier {
    /// From what was seen of a diagram. Devices one above the other stand in one column.
    #[must_use]
    pub fn new(mut outlines: Vec<Outline>, runs: Vec<Run>) -> Self {
        outlines.sort_by(|a, b| a.area.x.total_cmp(&b.area.x).then(a.name.cmp(&b.name)));
        let highest = |o: &Outline| o.area.y;
        let corners = runs.iter().flat_map(|run| run.points.iter().map(|p| p.y));
        let top = outlines.iter().map(highest).chain(corners).fold(f64::MAX, f64::min);
        let down = |y: f64| (FINE * (y - top)).round().clamp(0.0, DEEPEST) as usize;
        let mut columns: Vec<(f64, f64)> = Vec::new();
        let mut devices = BTreeMap::new();
        for Outline { name, area, landings } in outlines {
            let right = area.x + area.w;
            match columns.last_mut() {
                Some((_, reach)) if area.x < *reach => *reach = reach.max(right),
                _ => columns.push((area.x, right)),
            }
            let middle = area.x + area.w / 2.0;
            let side = |at: Point| if at.x < middle { Side::Left } else { Side::Right };
            let sides = landings.into_iter().map(|(terminal, at)| (terminal, side(at))).collect();
            let column = columns.len() - 1;
            devices.insert(name, Stood { column, down: down(area.y + area.h / 2.0), sides });
        }
        let layers = layers(&columns);
        let mut wires: BTreeMap<(String, String), Lay> = BTreeMap::new();
        for Run { names, points } in runs {
            let lay = wires.entry(names).or_default();
            lay.level.extend(level(&points, &layers).into_iter().map(|(layer, y)| (layer, down(y))));
            if let (Some(first), Some(last)) = (points.first(), points.last()) {
                lay.tips = [first, last].map(|tip| down(tip.y));
            }
        }
        Self { devices, wires }
    }

    /// Whether it shows any device of a job.
    #[must_use]
    pub fn shows(&self, job: &Job) -> bool {
        job.devices.iter().any(|device| self.devices.contains_key(&printable(&device.name)))
    }
}

/// So many steps are told apart in a unit of the drawing.
const FINE: f64 = 100.0;
/// No drawing is deeper than so many steps; what a file puts farther down is there.
const DEEPEST: f64 = 1e9;

/// From where to where the layers reach: the gap left of the first column, the column, the gap right of it, and so on.
fn layers(columns: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut layers = Vec::with_capacity(2 * columns.len() + 1);
    let mut reach = f64::MIN;
    for (from, to) in columns {
        layers.extend([(reach, *from), (*from, *to)]);
        reach = *to;
    }
    layers.push((reach, f64::MAX));
    layers
}

/// The layers in which a line runs level, and how far down the longest such piece in each is.
fn level(points: &[Point], layers: &[(f64, f64)]) -> Vec<(usize, f64)> {
    let mut longest: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for pair in points.windows(2) {
        let &[a, b] = pair else { continue };
        let (from, to) = (a.x.min(b.x), a.x.max(b.x));
        let first = layers.partition_point(|(_, end)| *end <= from);
        for (layer, (start, end)) in layers.iter().enumerate().skip(first).take_while(|(_, (s, _))| *s < to) {
            let length = to.min(*end) - from.max(*start);
            let known = longest.entry(layer).or_insert((0.0, 0.0));
            if length > known.0 {
                *known = (length, a.y);
            }
        }
    }
    longest.into_iter().map(|(layer, (_, y))| (layer, y)).collect()
}

fn lettered((cable, core): (String, String)) -> (String, String) {
    (printable(&cable), printable(&core))
}

/// What an earlier drawing says of a job.
#[derive(Debug)]
pub(super) struct Kept {
    /// Columns and sides.
    pub choice: Choice,
    /// How far down things stand.
    pub guide: Guide,
    /// The devices that were not on it.
    pub new: Vec<usize>,
}

/// What an earlier drawing says of a job.
pub(super) fn kept(job: &Job, ranking: &mut Ranking, earlier: &Earlier) -> Kept {
    let graph = ranking.graph();
    let stood: Vec<Option<&Stood>> = graph
        .nodes
        .iter()
        .map(|node| earlier.devices.get(&printable(&job.device(node.device).name)))
        .collect();
    let first = ranking.choice.clone();
    let mut down: Vec<usize> = vec![0; stood.len()];
    let mut unknown: Vec<usize> = Vec::new();
    for (n, stood) in stood.iter().enumerate() {
        let Some(stood) = stood else { continue };
        ranking.choice.column[n] = i32::try_from(stood.column).unwrap_or(0);
        down[n] = stood.down;
        for u in ranking.units_of(n).to_vec() {
            let side_of = |t: &usize| {
                let id = TerminalId(graph.nodes[n].first_terminal + *t as u32);
                stood.sides.get(&printable(&job.terminal(id).name)).copied()
            };
            match ranking.units[u].terminals.iter().find_map(side_of) {
                Some(side) => ranking.choice.side[u] = side,
                None => unknown.push(u),
            }
        }
    }
    let mut known: Vec<bool> = stood.iter().map(Option::is_some).collect();
    let new: Vec<usize> = (0..known.len()).filter(|n| !known[*n]).collect();
    // One after the other, as they are joined to what stands.
    let mut left = new.clone();
    while !left.is_empty() {
        let next = left.iter().position(|n| joined(&graph, &known, *n).is_some());
        let n = left.remove(next.unwrap_or(0));
        if let Some((s, e, neighbour)) = joined(&graph, &known, n) {
            let facing = ranking.choice.side[ranking.unit_of[s][1 - e]];
            let step = if facing == Side::Right { 1 } else { -1 };
            ranking.choice.column[n] = ranking.choice.column[neighbour] + step;
            down[n] = down[neighbour];
            for u in ranking.units_of(n).to_vec() {
                ranking.choice.side[u] = other(facing);
            }
        }
        known[n] = true;
        unknown.extend(ranking.units_of(n));
    }
    ranking.choose_sides_of(&unknown);
    let choice = std::mem::replace(&mut ranking.choice, first);
    let along = along(job, &graph, &choice, &down, earlier);
    let tips =
        |strand: &Strand| earlier.wires.get(&lettered(strand.conductor.names(job))).map(|lay| lay.tips);
    let tips = graph.strands.iter().map(tips).collect();
    Kept { choice, guide: Guide::new(down, along, tips), new }
}

/// What lies along each strand: layer and row.
fn along(
    job: &Job,
    graph: &Graph,
    choice: &Choice,
    down: &[usize],
    earlier: &Earlier,
) -> Vec<Vec<(usize, usize)>> {
    let mut columns: Vec<i32> = choice.column.clone();
    columns.sort_unstable();
    columns.dedup();
    // The layer of today for a column of then, and for the gap left of it.
    let column = |then: i32| 2 * columns.partition_point(|c| *c < then) + 1;
    let today = |layer: usize| column(i32::try_from(layer / 2).unwrap_or(i32::MAX)) - (layer + 1) % 2;
    let of_strand = |strand: &Strand| {
        let known = earlier.wires.get(&lettered(strand.conductor.names(job)));
        match known {
            Some(lay) => lay.level.iter().map(|(layer, row)| (today(*layer), *row)).collect(),
            None => {
                let ends = strand.ends.iter().flatten();
                ends.map(|joint| (column(choice.column[joint.node]), down[joint.node])).collect()
            }
        }
    };
    graph.strands.iter().map(of_strand).collect()
}

/// The first strand that joins a device to one that has its place: the strand, its end on the device, and the other.
fn joined(graph: &Graph, known: &[bool], n: usize) -> Option<(usize, usize, usize)> {
    graph.nodes[n].ends.iter().find_map(|(s, e)| {
        let far = graph.strands[*s].ends[1 - e]?;
        known[far.node].then_some((*s, *e, far.node))
    })
}
