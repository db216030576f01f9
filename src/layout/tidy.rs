//! Jogs that need not be: a level piece between two upright ones is moved to the row of the piece before or after it.
//!
//! Rows are handed out layer by layer, so a line may step where it passes a layer although all its way is free. When all
//! lines are drawn that is seen, and a step is taken back if nothing is in the way, nothing more is crossed, and the line
//! leads in and out of no frame more often.

use std::collections::BTreeMap;

use super::model::GridPoint;

/// Where nothing upright may stand; from the first row or column to the last.
#[derive(Clone, Copy, Debug)]
pub(super) struct Block {
    pub x: (i32, i32),
    pub y: (i32, i32),
    /// Whether nothing level may pass either.
    pub whole: bool,
}

/// A frame by its edges: left and right column, and top and bottom row, which it is half a row above.
pub(super) type Edges = ((i32, i32), (i32, i32));

/// How often all lines are gone through at most.
const ROUNDS: usize = 4;

/// Takes needless steps back. Lines that are `fixed` stay as they are.
pub(super) fn tidy(lines: &mut [Vec<GridPoint>], blocks: &[Block], frames: &[Edges], fixed: &[bool]) {
    let mut ground = Ground::new(lines, blocks, frames);
    for _ in 0..ROUNDS {
        let mut changed = false;
        for line in (0..lines.len()).filter(|line| !fixed[*line]) {
            while let Some(better) = ground.better(line, &lines[line]) {
                ground.take(line, &lines[line]);
                ground.put(line, &better);
                lines[line] = better;
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
}

/// What stands on each row and in each column: from, to, and whose it is.
type Tracks = BTreeMap<i32, Vec<(i32, i32, usize)>>;

/// All that lies on the paper.
struct Ground<'a> {
    /// The blocks that reach each row.
    blocks: BTreeMap<i32, Vec<Block>>,
    frames: &'a [Edges],
    level: Tracks,
    upright: Tracks,
}

impl<'a> Ground<'a> {
    fn new(lines: &[Vec<GridPoint>], blocks: &[Block], frames: &'a [Edges]) -> Self {
        let mut rows: BTreeMap<i32, Vec<Block>> = BTreeMap::new();
        for block in blocks {
            for y in block.y.0..=block.y.1 {
                rows.entry(y).or_default().push(*block);
            }
        }
        let mut ground = Self { blocks: rows, frames, level: Tracks::new(), upright: Tracks::new() };
        for (line, points) in lines.iter().enumerate() {
            ground.put(line, points);
        }
        ground
    }

    fn put(&mut self, line: usize, points: &[GridPoint]) {
        for (a, b) in pieces(points) {
            let (tracks, at, from, to) = self.tracks_of(a, b);
            tracks.entry(at).or_default().push((from, to, line));
        }
    }

    fn take(&mut self, line: usize, points: &[GridPoint]) {
        for (a, b) in pieces(points) {
            let (tracks, at, from, to) = self.tracks_of(a, b);
            if let Some(track) = tracks.get_mut(&at)
                && let Some(i) = track.iter().position(|piece| *piece == (from, to, line))
            {
                track.swap_remove(i);
            }
        }
    }

    /// Where a piece belongs: the tracks, its row or column, and from where to where it goes.
    fn tracks_of(&mut self, a: GridPoint, b: GridPoint) -> (&mut Tracks, i32, i32, i32) {
        if a.y == b.y {
            (&mut self.level, a.y, a.x.min(b.x), a.x.max(b.x))
        } else {
            (&mut self.upright, a.x, a.y.min(b.y), a.y.max(b.y))
        }
    }

    /// The line with one step less, if it can be taken back anywhere.
    fn better(&self, line: usize, points: &[GridPoint]) -> Option<Vec<GridPoint>> {
        points.windows(6).enumerate().find_map(|(i, window)| {
            let &[a, b, c, d, e, f] = window else { return None };
            // Level, upright, level, upright, level.
            if a.y != b.y || b.x != c.x || c.y != d.y || d.x != e.x || e.y != f.y {
                return None;
            }
            // What lies in a cable stays in it.
            if self.is_blocked(c.y, (c.x.min(d.x), c.x.max(d.x))) {
                return None;
            }
            let onto = |row: i32| {
                let (c, d) = (GridPoint { y: row, ..c }, GridPoint { y: row, ..d });
                // What is new of the line: a level piece, and the upright piece that is left.
                let (from, to) = if row == b.y { (d, e) } else { (b, c) };
                if !self.is_free(line, (c, d), (from, to)) {
                    return None;
                }
                let new = straightened([&points[..=i], &[b, c, d, e], &points[i + 5..]].concat());
                (new.len() < points.len()
                    && turns_only(&new)
                    && self.crossed(line, &new) <= self.crossed(line, points)
                    && self.entered(&new) <= self.entered(points))
                .then_some(new)
            };
            onto(b.y).or_else(|| onto(e.y))
        })
    }

    /// Whether anything but a line is in the way on a row.
    fn is_blocked(&self, row: i32, across: (i32, i32)) -> bool {
        self.blocks.get(&row).into_iter().flatten().any(|block| block.whole && meets(block.x, across))
    }

    /// Whether nothing is in the way of a level piece and of an upright one.
    fn is_free(&self, line: usize, level: (GridPoint, GridPoint), upright: (GridPoint, GridPoint)) -> bool {
        let (row, across) = (level.0.y, (level.0.x.min(level.1.x), level.0.x.max(level.1.x)));
        let (column, along) = (upright.0.x, (upright.0.y.min(upright.1.y), upright.0.y.max(upright.1.y)));
        let other = |tracks: &Tracks, at: i32, span: (i32, i32)| {
            let mut all = tracks.get(&at).into_iter().flatten();
            all.any(|(from, to, whose)| *whose != line && meets((*from, *to), span))
        };
        let mut in_column = self.blocks.range(along.0..=along.1).flat_map(|(_, blocks)| blocks);
        !other(&self.level, row, across)
            && !self.is_blocked(row, across)
            && (along.0 == along.1
                || (!other(&self.upright, column, along)
                    && !in_column.any(|block| meets(block.x, (column, column)))))
    }

    /// How many other lines a line crosses, each as often as it does.
    fn crossed(&self, line: usize, points: &[GridPoint]) -> usize {
        let over = |tracks: &Tracks, at: i32, (from, to): (i32, i32)| {
            let inside = tracks.range(from + 1..to).flat_map(|(_, track)| track);
            inside.filter(|(a, b, whose)| *whose != line && *a < at && at < *b).count()
        };
        let crossed = pieces(points).map(|(a, b)| {
            if a.y == b.y {
                over(&self.upright, a.y, (a.x.min(b.x), a.x.max(b.x)))
            } else {
                over(&self.level, a.x, (a.y.min(b.y), a.y.max(b.y)))
            }
        });
        crossed.sum()
    }

    /// How often a line leads into frames or out of them.
    fn entered(&self, points: &[GridPoint]) -> usize {
        let inside = |(x, y): &Edges, p: GridPoint| x.0 < p.x && p.x < x.1 && y.0 <= p.y && p.y < y.1;
        let over = |(a, b): (GridPoint, GridPoint)| {
            let cut = |frame: &&Edges| {
                let (x, y) = **frame;
                let (left, right) = (a.x.min(b.x), a.x.max(b.x));
                let (top, bottom) = (a.y.min(b.y), a.y.max(b.y));
                if inside(frame, a) != inside(frame, b) {
                    return 1;
                }
                let through = if a.y == b.y {
                    y.0 <= a.y && a.y < y.1 && left <= x.0 && x.1 <= right
                } else {
                    x.0 < a.x && a.x < x.1 && top < y.0 && y.1 <= bottom
                };
                2 * usize::from(through)
            };
            self.frames.iter().map(|frame| cut(&frame)).sum::<usize>()
        };
        pieces(points).map(over).sum()
    }
}

/// Whether two spans have a row or column in common.
fn meets(p: (i32, i32), q: (i32, i32)) -> bool {
    p.0 <= q.1 && q.0 <= p.1
}

/// Whether a line turns at each of its points, and never meets itself.
fn turns_only(points: &[GridPoint]) -> bool {
    let all: Vec<(GridPoint, GridPoint)> = pieces(points).collect();
    let turns = all.windows(2).all(|pair| match pair {
        [(a, b), (_, c)] => (a.x == b.x) != (b.x == c.x),
        _ => true,
    });
    let apart = |p: &(GridPoint, GridPoint), q: &(GridPoint, GridPoint)| {
        let over = |f: fn(&GridPoint) -> i32| {
            f(&p.0).min(f(&p.1)) <= f(&q.0).max(f(&q.1)) && f(&q.0).min(f(&q.1)) <= f(&p.0).max(f(&p.1))
        };
        !(over(|point| point.x) && over(|point| point.y))
    };
    turns && all.iter().enumerate().all(|(i, p)| all.iter().skip(i + 2).all(|q| apart(p, q)))
}

/// The pieces of a line.
fn pieces(points: &[GridPoint]) -> impl Iterator<Item = (GridPoint, GridPoint)> {
    points.windows(2).filter_map(|pair| if let &[a, b] = pair { Some((a, b)) } else { None })
}

/// The same line without points in the middle of a straight piece.
pub(super) fn straightened(points: Vec<GridPoint>) -> Vec<GridPoint> {
    let mut line: Vec<GridPoint> = Vec::with_capacity(points.len());
    for p in points {
        if line.last() == Some(&p) {
            continue;
        }
        if let [.., a, b] = line[..]
            && ((a.x == b.x && b.x == p.x) || (a.y == b.y && b.y == p.y))
        {
            line.pop();
        }
        line.push(p);
    }
    line
}
