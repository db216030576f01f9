//! Potentials of a grid of conductances, by taking one place after the other out of it.
//!
//! A place that is taken out leaves its neighbours tied to each other, each pair by the product of their conductances to it over
//! the sum of all. This is the elimination of a symmetric positive definite matrix, written so that nothing is ever
//! subtracted: a leakage of nanosiemens beside a core of kilosiemens keeps all its digits. Places with few neighbours go
//! first, so a tree never grows a tie.

use std::collections::{BTreeMap, BTreeSet};

/// Conductances between unknown potentials, and from them to a known one.
pub(super) struct Grid {
    /// By place: its neighbours.
    ties: Vec<BTreeMap<usize, f64>>,
    /// By place: its conductance to the place whose potential is 0.
    ground: Vec<f64>,
}

/// A place that was taken out.
struct Taken {
    place: usize,
    siemens: f64,
    inflow: f64,
    ties: BTreeMap<usize, f64>,
}

impl Grid {
    pub(super) fn new(unknowns: usize) -> Self {
        Self { ties: vec![BTreeMap::new(); unknowns], ground: vec![0.0; unknowns] }
    }

    /// Adds a conductance; `None` is the place whose potential is 0.
    pub(super) fn tie(&mut self, a: Option<usize>, b: Option<usize>, siemens: f64) {
        match (a, b) {
            (Some(a), Some(b)) if a != b => {
                *self.ties[a].entry(b).or_default() += siemens;
                *self.ties[b].entry(a).or_default() += siemens;
            }
            (Some(a), None) | (None, Some(a)) => self.ground[a] += siemens,
            _ => {}
        }
    }

    /// The potentials at which the given currents flow in; `None` if some place is tied to nothing.
    pub(super) fn solve(mut self, inflow: &[f64]) -> Option<Vec<f64>> {
        let mut inflow = inflow.to_vec();
        let mut waiting: BTreeSet<(usize, usize)> =
            self.ties.iter().enumerate().map(|(place, ties)| (ties.len(), place)).collect();
        let mut taken: Vec<Taken> = Vec::with_capacity(self.ties.len());
        while let Some((_, place)) = waiting.pop_first() {
            let ties = std::mem::take(&mut self.ties[place]);
            let siemens = self.ground[place] + ties.values().sum::<f64>();
            if siemens <= 0.0 {
                return None;
            }
            for (&a, &to_a) in &ties {
                waiting.remove(&(self.ties[a].len(), a));
                self.ties[a].remove(&place);
                self.ground[a] += to_a * self.ground[place] / siemens;
                inflow[a] += inflow[place] * to_a / siemens;
                for (&b, &to_b) in &ties {
                    if a != b {
                        *self.ties[a].entry(b).or_default() += to_a * to_b / siemens;
                    }
                }
                waiting.insert((self.ties[a].len(), a));
            }
            taken.push(Taken { place, siemens, inflow: inflow[place], ties });
        }
        let mut potentials = vec![0.0; inflow.len()];
        for Taken { place, siemens, inflow, ties } in taken.into_iter().rev() {
            let drawn: f64 = ties.iter().map(|(to, tie)| tie * potentials[*to]).sum();
            potentials[place] = (inflow + drawn) / siemens;
        }
        potentials.iter().all(|potential| potential.is_finite()).then_some(potentials)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ladder_of_three() {
        let mut grid = Grid::new(3);
        grid.tie(None, Some(0), 1.0);
        grid.tie(Some(0), Some(1), 1.0);
        grid.tie(Some(1), Some(2), 1.0);
        let potentials = grid.solve(&[0.0, 0.0, 1.0]).unwrap_or_default();
        assert_eq!(potentials.len(), 3);
        for (k, potential) in potentials.iter().enumerate() {
            assert!((potential - (k + 1) as f64).abs() < 1e-12);
        }
    }

    #[test]
    fn a_place_tied_to_nothing_has_no_potential() {
        let mut grid = Grid::new(2);
        grid.tie(None, Some(0), 1.0);
        assert_eq!(grid.solve(&[0.0, 0.0]), None);
    }
}
