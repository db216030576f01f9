//! Which lines on paper read as one conductor, and which terminals they touch.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::unionfind::UnionFind;

use super::paper_reader::{Found, Landing, Name};
use crate::places::Places;
use crate::scene::{Point, Rect};

/// What one connected set of lines joins.
#[derive(Clone, Debug, Default)]
pub struct Joined {
    /// The names that its lines bear.
    pub names: BTreeSet<Name>,
    /// Its lines, by their number in [`Found::lines`].
    pub lines: Vec<usize>,
    /// The landings that it touches, by their number in [`Found::landings`].
    pub landings: BTreeSet<usize>,
    /// Where lines of different names touch each other: their names and a point.
    pub contacts: Vec<(Name, Name, Point)>,
    /// Its ends that touch neither a landing nor another of its lines.
    pub free: Vec<Point>,
}

/// No two things touch whose boxes are farther apart, in millimetres: half the width of two lines.
const REACH: f64 = 2.0;

/// Two coordinates that differ by less are the same, in millimetres.
const SAME: f64 = 0.05;

/// Lines of one name that run alike: the strokes of one core over each other.
struct Run<'a> {
    name: &'a Name,
    points: &'a [Point],
    half: f64,
    lines: Vec<usize>,
}

/// Puts lines that touch together. Lines touch when an end or a corner of one is on the other; lines that merely cross do
/// not.
#[must_use]
pub fn joints(found: &Found) -> Vec<Joined> {
    let runs = runs(found);
    let pieces = Pieces::new(&runs);
    let landings = Places::new(found.landings.iter().map(|l| (l.area, l)));
    let mut sets = UnionFind::new(runs.len());
    let mut free = Vec::new();
    let mut contacts = Vec::new();
    for (i, run) in runs.iter().enumerate() {
        let last = run.points.len().saturating_sub(1);
        for (n, p) in run.points.iter().enumerate() {
            let touched = pieces.touching(*p, i, &runs);
            for j in &touched {
                sets.union(i, *j);
                contacts.extend(runs.get(*j).filter(|r| r.name != run.name).map(|other| (i, other.name, *p)));
            }
            if touched.is_empty() && (n == 0 || n == last) {
                free.push((i, *p));
            }
        }
    }
    let set = first_members(sets);
    let mut joined: BTreeMap<usize, Joined> = BTreeMap::new();
    for (i, run) in runs.iter().enumerate() {
        let entry = joined.entry(set[i]).or_default();
        entry.names.insert(run.name.clone());
        entry.lines.extend(&run.lines);
    }
    for (i, other, p) in contacts {
        if let Some(run) = runs.get(i) {
            joined.entry(set[i]).or_default().contacts.push((run.name.clone(), other.clone(), p));
        }
    }
    for (n, landing) in found.landings.iter().enumerate() {
        for i in pieces.on(landing, &runs) {
            joined.entry(set[i]).or_default().landings.insert(n);
        }
    }
    for (i, p) in free {
        let landed = landings.near(p, REACH).any(|(_, landing)| reaches(landing, (p, p), 0.0));
        if !landed {
            joined.entry(set[i]).or_default().free.push(p);
        }
    }
    joined.into_values().collect()
}

/// The points of a run, coarse enough to be compared.
type Course = Vec<(i64, i64)>;

fn runs(found: &Found) -> Vec<Run<'_>> {
    let mut runs: Vec<Run<'_>> = Vec::new();
    let mut known: BTreeMap<(&Name, Course), usize> = BTreeMap::new();
    for (i, line) in found.lines.iter().enumerate() {
        let key = |p: &Point| ((p.x / SAME).round() as i64, (p.y / SAME).round() as i64);
        let key = (&line.name, line.points.iter().map(key).collect::<Course>());
        let half = line.seen.width / 2.0;
        match known.get(&key).and_then(|at| runs.get_mut(*at)) {
            Some(run) => {
                run.lines.push(i);
                run.half = run.half.max(half);
            }
            None => {
                known.insert(key, runs.len());
                runs.push(Run { name: &line.name, points: &line.points, half, lines: vec![i] });
            }
        }
    }
    runs
}

type Straight = (Point, Point);

/// The straight pieces of all runs, by where they are.
struct Pieces(Places<(usize, Straight)>);

impl Pieces {
    fn new(runs: &[Run<'_>]) -> Self {
        let pieces = runs.iter().enumerate().flat_map(|(i, run)| {
            let of_run = run.points.windows(2).map(|piece| (piece[0], piece[1]));
            of_run.map(move |piece| (Rect::between(piece.0, piece.1), (i, piece)))
        });
        Self(Places::new(pieces))
    }

    /// The other runs that touch a point of run `i`.
    fn touching(&self, p: Point, i: usize, runs: &[Run<'_>]) -> BTreeSet<usize> {
        let half = |i: usize| runs.get(i).map_or(0.0, |run| run.half);
        let near = self.0.near(p, REACH).map(|(_, at)| *at);
        let touching = near.filter(|(j, piece)| *j != i && distance(p, *piece) <= half(i) + half(*j));
        touching.map(|(j, _)| j).collect()
    }

    /// The runs that touch a landing.
    fn on(&self, landing: &Landing, runs: &[Run<'_>]) -> BTreeSet<usize> {
        let half = |i: usize| runs.get(i).map_or(0.0, |run| run.half);
        let near = self.0.at(landing.area.grown(REACH)).map(|(_, at)| *at);
        let touching = near.filter(|(i, piece)| reaches(landing, *piece, half(*i).min(SAME)));
        touching.map(|(i, _)| i).collect()
    }
}

/// Whether a straight piece touches a landing: comes into its circle, or on the bar of a splice.
fn reaches(landing: &Landing, piece: Straight, half: f64) -> bool {
    let area = landing.area;
    if landing.bar {
        let (a, b) = piece;
        let on = area.grown(half + SAME);
        let (left, right) = (a.x.min(b.x), a.x.max(b.x));
        let (top, bottom) = (a.y.min(b.y), a.y.max(b.y));
        return left <= on.right() && right >= on.x && top <= on.bottom() && bottom >= on.y;
    }
    let middle = Point { x: area.x + area.w / 2.0, y: area.y + area.h / 2.0 };
    distance(middle, piece) <= area.w.max(area.h) / 2.0 + half
}

/// From a point to a straight piece.
fn distance(p: Point, (a, b): Straight) -> f64 {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let length = dx * dx + dy * dy;
    let along = if length > 0.0 { ((p.x - a.x) * dx + (p.y - a.y) * dy) / length } else { 0.0 };
    let t = along.clamp(0.0, 1.0);
    (p.x - a.x - t * dx).hypot(p.y - a.y - t * dy)
}

/// By member the first member of its set.
fn first_members(sets: UnionFind<usize>) -> Vec<usize> {
    let mut first = BTreeMap::new();
    let labels = sets.into_labeling().into_iter().enumerate();
    labels.map(|(member, label)| *first.entry(label).or_insert(member)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::paper_reader;

    /// Landings at the left and right of each of four rows, and the lines given.
    fn joined(lines: &str) -> Vec<(Vec<String>, Vec<String>, usize)> {
        let mut svg = String::from("<svg viewBox='0 0 100 100' width='100mm' height='100mm'>");
        for (row, y) in [("1", 10), ("2", 20), ("3", 30), ("4", 40)] {
            for (side, x) in [("A", 10), ("B", 90)] {
                svg.push_str(&format!(
                    "<g class='landing' data-device='{side}' data-terminal='{row}'><circle cx='{x}' cy='{y}' r='0.9'/></g>"
                ));
            }
        }
        svg.push_str(lines);
        svg.push_str("</svg>");
        let found = paper_reader::read(&[svg]).unwrap();
        let mut joined: Vec<_> = joints(&found)
            .iter()
            .map(|j| {
                let names = j.names.iter().map(|n| format!("{n:?}")).collect();
                let landings = j.landings.iter().filter_map(|l| found.landings[*l].terminal.clone());
                (names, landings.map(|(d, t)| d + &t).collect(), j.free.len())
            })
            .collect();
        joined.sort();
        joined
    }

    fn core(name: &str, d: &str) -> String {
        format!(
            "<g class='core' data-cable='W' data-core='{name}'><path d='{d}' stroke='#000' stroke-width='0.7'/></g>"
        )
    }

    fn landings(lines: &str) -> Vec<String> {
        joined(lines).iter().map(|(_, l, _)| l.join(" ")).collect()
    }

    #[test]
    fn crossing_is_not_joining() {
        let lines = core("a", "M10 10H50V40H90") + &core("b", "M10 20H90");
        assert_eq!(landings(&lines), ["A1 B4", "A2 B2"]);
    }

    #[test]
    fn ends_corners_and_overlaps_join() {
        for other in ["M10 20H50", "M10 20H50V30H90", "M10 20H60V10H70V40H90", "M10 20H30V15V10H35V40H90"] {
            let lines = core("a", "M10 10H50V40H90") + &core("b", other);
            assert_eq!(joined(&lines).len(), 1, "{other}");
        }
    }

    #[test]
    fn a_line_through_a_terminal_is_on_it() {
        assert_eq!(landings(&core("a", "M10 10V30H90")), ["A1 A2 A3 B3"]);
        assert_eq!(landings(&core("a", "M10 10H11.2V30H90")), ["A1 B3"]);
    }

    #[test]
    fn loose_ends_are_counted() {
        let found = joined(&core("a", "M10 10H50"));
        assert_eq!(found[0].2, 1);
        let two = core("a", "M10 10H50") + &core("a", "M50 10V40H90");
        assert_eq!((joined(&two).len(), joined(&two)[0].2), (1, 0));
    }

    #[test]
    fn edited_files_are_read_the_same() {
        let plain = joined(&core("a", "M10 10H50V40H90"));
        for other in [
            "<g transform='translate(5 0)'><g class='core' data-cable='W' data-core='a'><polyline points='5,10 45,10 45,40 85,40' style='stroke:#000;stroke-width:0.7'/></g></g>",
            "<g class='core' data-cable='W' data-core='a' transform='matrix(.5 0 0 .5 0 0)' stroke='black'><path d='m20 20l80,0v60h80'/></g>",
            "<g class='core' data-cable='W' data-core='a'><line x1='10' y1='10' x2='50' y2='10' stroke='#000'/><line x1='50' y1='10' x2='50' y2='40' stroke='#000'/><path stroke='#000' d='M50 40C60 40 80 40 90 40'/></g>",
        ] {
            assert_eq!(joined(other), plain, "{other}");
        }
    }
}
