//! How the devices of a column stand in line.
//!
//! Before: how far to the left each of them may stand, from the top. After: the column in runs, each in one line. A run ends
//! where the cores become so much shorter by it that it is worth a step in the column, and the step is one that is seen. No
//! run stands wholly to the left of the others: it would be taken for a column of its own.

use std::cmp::Reverse;
use std::ops::Range;

/// Modules by which all cores together must get shorter for a break of the column.
const WORTH: i64 = 40;
/// Modules between the lines of two runs, one below the other, at least.
const SEEN: i32 = 4;
/// What stands in for a step that is too small to be seen.
const HARDLY: i64 = 1 << 32;

/// A device that shall stand in a line: how far to the left it may stand, and its cores.
#[derive(Clone, Copy, Debug)]
pub(super) struct Member {
    pub least: i32,
    pub cores: usize,
}

/// Devices one below the other that stand in one line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Run {
    /// Their places in the column.
    pub devices: Range<usize>,
    /// The left edge of the widest,
    pub line: i32,
    /// and its width.
    pub wide: i32,
}

/// Draws runs to the right until the column holds together.
pub(super) fn join(runs: &mut [Run]) {
    runs.sort_by_key(|run| Reverse(run.line));
    let mut left = None;
    for run in runs {
        let least = left.map_or(run.line, |left: i32| left - run.wide + 1);
        run.line = run.line.max(least);
        left = Some(run.line);
    }
}

/// How far to the right a run may go, at most so far, while the column holds together.
pub(super) fn room(runs: &[Run], number: usize, most: i32) -> i32 {
    let Some(run) = runs.get(number) else { return 0 };
    let others = || {
        runs.iter().enumerate().filter(|(n, _)| *n != number).map(|(_, run)| (run.line, run.line + run.wide))
    };
    let Some(reach) = others().map(|(_, right)| right).max() else { return most };
    let room = most.min(reach - 1 - run.line).max(0);
    let mut moved: Vec<(i32, i32)> =
        others().chain([(run.line + room, run.line + room + run.wide)]).collect();
    moved.sort_unstable();
    let mut reach = None;
    let holds = moved.iter().all(|(left, right)| {
        let joined = reach.is_none_or(|reach| *left < reach);
        reach = reach.max(Some(*right));
        joined
    });
    if holds { room } else { 0 }
}

/// The best division of the first few devices of a column.
#[derive(Clone, Copy)]
struct Division {
    cost: i64,
    /// Where its last run begins,
    from: usize,
    /// and the line of that.
    line: i32,
}

/// Where the runs of a column begin and end, from the bottom.
pub(super) fn divided(column: &[Member]) -> Vec<Range<usize>> {
    let mut divisions: Vec<Division> = Vec::with_capacity(column.len());
    for to in 1..=column.len() {
        let mut found = Division { cost: i64::MAX, from: 0, line: 0 };
        let (mut line, mut cores, mut waste) = (i32::MIN, 0, 0);
        for (from, member) in column[..to].iter().enumerate().rev() {
            if member.least > line {
                waste += i64::from(member.least.saturating_sub(line)) * cores;
                line = member.least;
            }
            waste += i64::from(line - member.least) * member.cores as i64;
            cores += member.cores as i64;
            let (before, step) = match from.checked_sub(1).and_then(|last| divisions.get(last)) {
                Some(above) if (above.line - line).abs() < SEEN => (above.cost, HARDLY),
                Some(above) => (above.cost, WORTH),
                None => (0, 0),
            };
            let cost = before + step + waste;
            if cost < found.cost {
                found = Division { cost, from, line };
            }
            if waste >= found.cost {
                break;
            }
        }
        divisions.push(found);
    }
    let mut runs = Vec::new();
    let mut to = column.len();
    while let Some(last) = to.checked_sub(1).and_then(|last| divisions.get(last)) {
        runs.push(last.from..to);
        to = last.from;
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ranges(column: &[(i32, usize)]) -> Vec<(usize, usize)> {
        let column: Vec<Member> = column.iter().map(|&(least, cores)| Member { least, cores }).collect();
        divided(&column).into_iter().map(|range| (range.start, range.end)).collect()
    }

    fn run(line: i32, wide: i32) -> Run {
        Run { devices: 0..1, line, wide }
    }

    #[test]
    fn a_column_stands_in_one_line_where_little_is_lost_by_it() {
        assert_eq!(ranges(&[(40, 2), (44, 3), (38, 2), (41, 1)]), [(0, 4)]);
        assert_eq!(ranges(&[(40, 2)]), [(0, 1)]);
        assert_eq!(ranges(&[]), []);
    }

    #[test]
    fn a_part_of_many_cores_stands_in_a_line_of_its_own() {
        assert_eq!(ranges(&[(60, 2), (30, 4), (31, 4), (60, 2)]), [(3, 4), (1, 3), (0, 1)]);
        assert_eq!(ranges(&[(30, 4), (30, 4), (60, 2)]), [(2, 3), (0, 2)]);
    }

    #[test]
    fn a_step_is_one_that_is_seen() {
        assert_eq!(ranges(&[(40, 400), (43, 400)]), [(0, 2)]);
        assert_eq!(ranges(&[(40, 400), (44, 400)]), [(1, 2), (0, 1)]);
    }

    #[test]
    fn no_run_stands_wholly_beside_the_others() {
        let mut runs = [run(10, 8), run(30, 8), run(40, 8)];
        join(&mut runs);
        assert_eq!(runs.map(|run| run.line), [40, 33, 26]);
    }

    #[test]
    fn a_run_goes_to_the_right_as_long_as_the_column_holds_together() {
        assert_eq!(room(&[run(10, 8), run(14, 8)], 0, 5), 5);
        assert_eq!(room(&[run(10, 8), run(14, 8)], 0, 50), 11);
        assert_eq!(room(&[run(10, 8), run(14, 8)], 1, 50), 3);
        // The middle one holds the others together.
        assert_eq!(room(&[run(10, 8), run(16, 8), run(22, 8)], 1, 3), 0);
        assert_eq!(room(&[run(10, 8)], 0, 50), 50);
    }
}
