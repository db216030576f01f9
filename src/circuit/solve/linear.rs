//! Potentials of a grid of conductances, by taking one place after the other out of it.
//!
//! A place that is taken out leaves its neighbours tied to each other, each pair by the product of their conductances to it over
//! the sum of all. This is the elimination of a symmetric positive definite matrix, written so that nothing is ever
//! subtracted: a leakage of nanosiemens beside a core of kilosiemens keeps all its digits. Places with few neighbours go
//! first, so a tree never grows a tie.

use std::ops::Range;

/// Conductances between unknown potentials, and from them to a known one.
pub(super) struct Grid {
    /// All ties, each from one end: a place has a chain of them. Those to places that were taken out no longer count, and a
    /// neighbour stands in the chain as often as it is tied.
    ties: Vec<Tie>,
    /// By place: the last of its ties, or [`NONE`].
    last: Vec<u32>,
    /// By place: how many of its ties count.
    count: Vec<u32>,
    /// By place: its conductance to the place whose potential is 0.
    ground: Vec<f64>,
}

/// Where there is no tie.
const NONE: u32 = u32::MAX;

/// A conductance to another place, and the tie before it of the same place, or [`NONE`].
struct Tie {
    to: u32,
    before: u32,
    siemens: f64,
}

/// A place that was taken out, and the ties that it had then: a stretch of the list of all of them.
struct Taken {
    place: usize,
    siemens: f64,
    inflow: f64,
    ties: Range<usize>,
}

/// The places that are still in, by how many ties they have. A place that gains or loses ties is put in again, and what
/// stands there with an old number is passed over.
struct Waiting {
    by_count: Vec<Vec<u32>>,
    fewest: usize,
}

impl Waiting {
    fn of(count: &[u32]) -> Self {
        let most = count.iter().copied().max().unwrap_or(0) as usize;
        let mut waiting = Self { by_count: vec![Vec::new(); most + 1], fewest: 0 };
        for (place, ties) in (0..).zip(count) {
            waiting.by_count[*ties as usize].push(place);
        }
        waiting.by_count.iter_mut().for_each(|places| places.reverse());
        waiting
    }

    fn push(&mut self, ties: u32, place: u32) {
        let ties = ties as usize;
        if ties >= self.by_count.len() {
            self.by_count.resize(ties + 1, Vec::new());
        }
        self.by_count[ties].push(place);
        self.fewest = self.fewest.min(ties);
    }

    fn pop(&mut self) -> Option<(usize, usize)> {
        while let Some(places) = self.by_count.get_mut(self.fewest) {
            if let Some(place) = places.pop() {
                return Some((self.fewest, place as usize));
            }
            self.fewest += 1;
        }
        None
    }
}

impl Grid {
    pub(super) fn new(unknowns: usize) -> Self {
        Self {
            ties: Vec::with_capacity(4 * unknowns),
            last: vec![NONE; unknowns],
            count: vec![0; unknowns],
            ground: vec![0.0; unknowns],
        }
    }

    /// Adds a conductance; `None` is the place whose potential is 0.
    pub(super) fn tie(&mut self, a: Option<usize>, b: Option<usize>, siemens: f64) {
        match (a, b) {
            (Some(a), Some(b)) if a != b => {
                self.lead(a, b, siemens);
                self.lead(b, a, siemens);
            }
            (Some(a), None) | (None, Some(a)) => self.ground[a] += siemens,
            _ => {}
        }
    }

    fn lead(&mut self, from: usize, to: usize, siemens: f64) {
        let before = std::mem::replace(&mut self.last[from], small(self.ties.len()));
        self.ties.push(Tie { to: small(to), before, siemens });
        self.count[from] += 1;
    }

    /// The potentials at which the given currents flow in; `None` if some place is tied to nothing.
    pub(super) fn solve(mut self, inflow: &[f64]) -> Option<Vec<f64>> {
        let places = self.last.len();
        let mut inflow = inflow.to_vec();
        let mut waiting = Waiting::of(&self.count);
        let mut out = vec![false; places];
        // By place, while one is taken out: where it stands among the neighbours of that one.
        let mut stands: Vec<u32> = vec![NONE; places];
        let mut all: Vec<(u32, f64)> = Vec::with_capacity(places);
        let mut taken: Vec<Taken> = Vec::with_capacity(places);
        while let Some((ties, place)) = waiting.pop() {
            if out[place] || self.count[place] as usize != ties {
                continue;
            }
            let from = all.len();
            let mut next = self.last[place];
            while let Some(&Tie { to, before, siemens }) = self.ties.get(next as usize) {
                next = before;
                let at = to as usize;
                if out[at] {
                    continue;
                }
                self.count[at] -= 1;
                match all.get_mut(stands[at] as usize) {
                    Some(known) => known.1 += siemens,
                    None => {
                        stands[at] = small(all.len());
                        all.push((to, siemens));
                    }
                }
            }
            out[place] = true;
            let near = &all[from..];
            let siemens = self.ground[place] + near.iter().map(|tie| tie.1).sum::<f64>();
            if siemens <= 0.0 {
                return None;
            }
            for (n, &(a, to_a)) in near.iter().enumerate() {
                let a = a as usize;
                stands[a] = NONE;
                self.ground[a] += to_a * self.ground[place] / siemens;
                inflow[a] += inflow[place] * to_a / siemens;
                for &(b, to_b) in near.iter().skip(n + 1) {
                    self.tie(Some(a), Some(b as usize), to_a * to_b / siemens);
                }
            }
            for &(a, _) in near {
                waiting.push(self.count[a as usize], a);
            }
            taken.push(Taken { place, siemens, inflow: inflow[place], ties: from..all.len() });
        }
        let mut potentials = vec![0.0; places];
        for Taken { place, siemens, inflow, ties } in taken.into_iter().rev() {
            let drawn: f64 = all[ties].iter().map(|(to, tie)| tie * potentials[*to as usize]).sum();
            potentials[place] = (inflow + drawn) / siemens;
        }
        potentials.iter().all(|potential| potential.is_finite()).then_some(potentials)
    }
}

fn small(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(NONE)
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
