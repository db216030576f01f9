//! What a reader has to follow: how often lines cross and turn, and how long they are.

use super::model::GridPoint;

/// Modules of line that a corner, and that a crossing, is to a reader: crossings are what hinders one most (H. C. Purchase,
/// "Which aesthetic has the greatest effect on human understanding?", Graph Drawing 1997, from memory); the figures are our
/// own.
const CORNER: i64 = 8;
const CROSSING: i64 = 60;

/// What there is to follow in a diagram.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Followed {
    /// Pairs of a level and an upright piece of two conductors that cross.
    pub crossings: usize,
    /// Corners of all conductors.
    pub corners: usize,
    /// Modules of all conductors.
    pub length: i64,
}

impl Followed {
    /// Of some lines.
    pub fn of<'a>(lines: impl Iterator<Item = &'a [GridPoint]>) -> Self {
        let (mut level, mut upright): (Vec<_>, Vec<_>) = (Vec::new(), Vec::new());
        let (mut corners, mut length) = (0, 0);
        for (n, line) in lines.enumerate() {
            corners += line.len().saturating_sub(2);
            for pair in line.windows(2) {
                let [a, b] = pair else { continue };
                length += i64::from((a.x - b.x).abs() + (a.y - b.y).abs());
                if a.y == b.y {
                    level.push((a.y, a.x.min(b.x), a.x.max(b.x), n));
                } else {
                    upright.push((a.x, a.y.min(b.y), a.y.max(b.y), n));
                }
            }
        }
        level.sort_unstable();
        let mut crossings = 0;
        for (x, top, bottom, n) in upright {
            let from = level.partition_point(|(y, ..)| *y <= top);
            let passed = level[from..].iter().take_while(|(y, ..)| *y < bottom);
            crossings += passed.filter(|(_, left, right, m)| *m != n && *left < x && x < *right).count();
        }
        Self { crossings, corners, length }
    }

    /// That and more.
    pub(super) fn with(self, other: Self) -> Self {
        Self {
            crossings: self.crossings + other.crossings,
            corners: self.corners + other.corners,
            length: self.length + other.length,
        }
    }

    /// Whether there are no more crossings to follow and all in all less.
    #[must_use]
    pub fn beats(self, other: Self) -> bool {
        self.crossings <= other.crossings && self.effort() < other.effort()
    }

    /// All of it in modules of line.
    #[must_use]
    pub fn effort(self) -> i64 {
        self.length + CORNER * self.corners as i64 + CROSSING * self.crossings as i64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_cross_where_one_passes_the_other_and_not_where_they_meet() {
        let at = |x: i32, y: i32| GridPoint { x, y };
        let level = [at(0, 5), at(10, 5)];
        let passing = [at(4, 0), at(4, 9), at(8, 9)];
        let ending = [at(6, 5), at(6, 9)];
        let lines: [&[GridPoint]; 3] = [&level, &passing, &ending];
        let followed = Followed::of(lines.into_iter());
        assert_eq!(followed, Followed { crossings: 1, corners: 1, length: 10 + 9 + 4 + 4 });
        assert_eq!(followed.effort(), 27 + 8 + 60);
    }
}
