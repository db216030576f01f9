//! Potentials of one island whose parts follow straight lines joined end to end.
//!
//! All laws rise, so the sum of the areas under them is a convex function of the potentials, and its lowest place is
//! the solution. Each step solves for the lines on which the volts now lie and then goes exactly as far as that
//! function falls: it never gets worse, and it ends on the right lines.

use super::law::Law;
use super::linear::Grid;

/// No circuit of any size has needed more than a few dozen steps.
const STEPS: usize = 400;

/// Where a part stands at the very end of its line, on a dead branch at 0 V for one, rounding throws it from one line to the
/// next for ever. Steps of fewer volts than these are rounding.
const ROUNDING: f64 = 1e-12;

/// A part.
#[derive(Clone, Copy, Debug)]
pub(super) struct Branch {
    /// The terminal where current enters, and the one where it leaves.
    pub(super) ends: [u32; 2],
    /// The number of the law that it follows.
    pub(super) law: u32,
}

/// Where terminals stand: by terminal the number of its place, of which place 0 is the reference, and its volts above it; and
/// the laws of the parts between them.
#[derive(Clone, Copy)]
pub(super) struct Standing<'s> {
    pub(super) number: &'s [u32],
    pub(super) above: &'s [f64],
    pub(super) laws: &'s [Law],
}

impl<'s> Standing<'s> {
    fn law(&self, branch: &Branch) -> &'s Law {
        &self.laws[branch.law as usize]
    }

    fn places(&self, branch: &Branch) -> [u32; 2] {
        branch.ends.map(|end| self.number[end as usize])
    }

    /// The volts of the sources between the places of a part and the part.
    fn lift(&self, branch: &Branch) -> f64 {
        let [a, b] = branch.ends.map(|end| self.above[end as usize]);
        a - b
    }

    fn volts(&self, branch: &Branch, potentials: &[f64]) -> f64 {
        let [a, b] = self.places(branch).map(|place| potentials[place as usize]);
        a - b + self.lift(branch)
    }
}

/// The potentials of all places, that of the reference being 0; `None` if no solution was found.
pub(super) fn potentials(places: usize, branches: &[Branch], standing: Standing<'_>) -> Option<Vec<f64>> {
    let mut now = vec![0.0; places];
    for _ in 0..STEPS {
        let next = on_lines(&now, branches, standing)?;
        let (mut same, mut near) = (true, true);
        for branch in branches {
            let (from, to) = (standing.volts(branch, &now), standing.volts(branch, &next));
            let law = standing.law(branch);
            if law.line(from) != law.line(to) {
                same = false;
                near &= (from - to).abs() < ROUNDING;
            }
        }
        if near {
            let balanced = balanced(&next, branches, standing);
            if same || balanced {
                return balanced.then_some(next);
            }
        }
        let share = how_far(&now, &next, branches, standing);
        for (now, next) in now.iter_mut().zip(&next) {
            *now += share * (next - *now);
        }
    }
    balanced(&now, branches, standing).then_some(now)
}

/// The potentials if every part kept to the line that it is on.
fn on_lines(now: &[f64], branches: &[Branch], standing: Standing<'_>) -> Option<Vec<f64>> {
    let mut grid = Grid::new(now.len(), branches.len());
    let mut inflow = vec![0.0; now.len()];
    for branch in branches {
        let (slope, start) = standing.law(branch).line(standing.volts(branch, now));
        let [a, b] = standing.places(branch);
        grid.tie(a, b, slope);
        let amps = slope * standing.lift(branch) + start;
        inflow[a as usize] -= amps;
        inflow[b as usize] += amps;
    }
    grid.solve(inflow)
}

/// The share of the way at which the slope of the function along it is 0.
fn how_far(now: &[f64], next: &[f64], branches: &[Branch], standing: Standing<'_>) -> f64 {
    let ways: Vec<(f64, f64, &Law)> = branches
        .iter()
        .map(|branch| {
            let from = standing.volts(branch, now);
            (from, standing.volts(branch, next) - from, standing.law(branch))
        })
        .filter(|(_, by, _)| *by != 0.0)
        .collect();
    let slope = |share: f64| ways.iter().map(|(from, by, law)| law.amps(from + share * by) * by).sum::<f64>();
    if slope(1.0) <= 0.0 {
        return 1.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if slope(middle) <= 0.0 { low = middle } else { high = middle }
    }
    // Just beyond the place, so that the next step is on the line that begins there.
    high
}

/// Kirchhoff's current law: what flows into each place flows out again, to a millionth of what passes through it.
fn balanced(potentials: &[f64], branches: &[Branch], standing: Standing<'_>) -> bool {
    let mut sum = vec![0.0; potentials.len()];
    let mut through = vec![0.0; potentials.len()];
    for branch in branches {
        let amps = standing.law(branch).amps(standing.volts(branch, potentials));
        let [a, b] = standing.places(branch);
        for (place, amps) in [(a, amps), (b, -amps)] {
            sum[place as usize] += amps;
            through[place as usize] += amps.abs();
        }
    }
    // What the reference gets is the rest.
    sum.iter().zip(&through).skip(1).all(|(sum, through)| sum.abs() <= 1e-6 * through + 1e-7)
}
