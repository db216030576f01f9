//! Potentials of a grid of conductances, by taking one place after the other out of it.
//!
//! A place that is taken out leaves its neighbours tied to each other, each pair by the product of their conductances to it over
//! the sum of all. This is the elimination of a symmetric positive definite matrix, written so that nothing is ever
//! subtracted: a leakage of nanosiemens beside a core of kilosiemens keeps all its digits. Places with few neighbours go
//! first, so a tree never grows a tie.

use super::small;

/// Conductances between potentials. That of place 0 is known: it is 0.
pub(super) struct Grid {
    /// All ties: each place has a chain of them. Those to places that were taken out no longer count, and a neighbour stands
    /// in the chain as often as it is tied.
    ties: Vec<Tie>,
    /// By place: the last of its ties, or [`NONE`].
    last: Vec<u32>,
    /// By place: how many of its ties count.
    count: Vec<u32>,
    /// By place: its conductance to place 0; once it is taken out, the sum of all that it had.
    ground: Vec<f64>,
}

/// Where there is no tie.
const NONE: u32 = u32::MAX;

/// A conductance between two places, and of each of them the tie before it, or [`NONE`].
#[derive(Clone, Copy)]
struct Tie {
    ends: [u32; 2],
    before: [u32; 2],
    siemens: f64,
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
    /// So many places, place 0 among them, with room for so many conductances.
    pub(super) fn new(places: usize, ties: usize) -> Self {
        Self {
            ties: Vec::with_capacity(ties),
            last: vec![NONE; places],
            count: vec![0; places],
            ground: vec![0.0; places],
        }
    }

    /// Adds a conductance.
    pub(super) fn tie(&mut self, a: u32, b: u32, siemens: f64) {
        match (a, b) {
            (a, b) if a == b => {}
            (0, at) | (at, 0) => self.ground[at as usize] += siemens,
            _ => {
                if self.ties.len() == self.ties.capacity() {
                    // Most grids need little more room than they were given, and a large one should not get twice as much.
                    self.ties.reserve_exact(self.ties.len() / 8 + 4);
                }
                let number = small(self.ties.len());
                let before = [a, b].map(|end| std::mem::replace(&mut self.last[end as usize], number));
                self.ties.push(Tie { ends: [a, b], before, siemens });
                self.count[a as usize] += 1;
                self.count[b as usize] += 1;
            }
        }
    }

    /// A tie of a place by its number: the place at its other end, its siemens, and the number of the tie before it.
    fn tie_of(&self, place: usize, number: u32) -> Option<(u32, f64, u32)> {
        let Tie { ends: [a, b], before: [of_a, of_b], siemens } = *self.ties.get(number as usize)?;
        Some(if a as usize == place { (b, siemens, of_a) } else { (a, siemens, of_b) })
    }

    /// The ties of a place, those among them that no longer count: the place at the other end, and the siemens.
    fn ties_of(&self, place: usize) -> impl Iterator<Item = (u32, f64)> {
        let mut next = self.last[place];
        std::iter::from_fn(move || {
            let (to, siemens, before) = self.tie_of(place, next)?;
            next = before;
            Some((to, siemens))
        })
    }

    /// The potentials at which the given currents flow into the places; `None` if some place is tied to nothing.
    pub(super) fn solve(mut self, mut inflow: Vec<f64>) -> Option<Vec<f64>> {
        let places = self.last.len();
        let mut waiting = Waiting::of(&self.count);
        let mut out = vec![false; places];
        out.iter_mut().take(1).for_each(|known| *known = true);
        // By place, while one is taken out: where it stands among the neighbours of that one.
        let mut stands: Vec<u32> = vec![NONE; places];
        let mut near: Vec<(u32, f64)> = Vec::new();
        let mut order: Vec<u32> = Vec::with_capacity(places);
        while let Some((ties, place)) = waiting.pop() {
            if out[place] || self.count[place] as usize != ties {
                continue;
            }
            near.clear();
            let mut next = self.last[place];
            while let Some((to, siemens, before)) = self.tie_of(place, next) {
                next = before;
                let at = to as usize;
                if out[at] {
                    continue;
                }
                self.count[at] -= 1;
                match near.get_mut(stands[at] as usize) {
                    Some(known) => known.1 += siemens,
                    None => {
                        stands[at] = small(near.len());
                        near.push((to, siemens));
                    }
                }
            }
            out[place] = true;
            let ground = self.ground[place];
            let siemens = ground + near.iter().map(|tie| tie.1).sum::<f64>();
            if siemens <= 0.0 {
                return None;
            }
            for (n, &(a, to_a)) in near.iter().enumerate() {
                let at = a as usize;
                stands[at] = NONE;
                self.ground[at] += to_a * ground / siemens;
                inflow[at] += inflow[place] * to_a / siemens;
                for &(b, to_b) in near.iter().skip(n + 1) {
                    self.tie(a, b, to_a * to_b / siemens);
                }
            }
            for &(a, _) in &near {
                waiting.push(self.count[a as usize], a);
            }
            self.ground[place] = siemens;
            order.push(small(place));
        }
        drop((waiting, out, stands, near, std::mem::take(&mut self.count)));
        // What was taken out before a place still stands at 0 when its turn comes, and so counts for nothing here too.
        let mut potentials = vec![0.0; places];
        for place in order.into_iter().rev().map(|place| place as usize) {
            let drawn: f64 = self.ties_of(place).map(|(to, siemens)| siemens * potentials[to as usize]).sum();
            potentials[place] = (inflow[place] + drawn) / self.ground[place];
        }
        potentials.iter().all(|potential| potential.is_finite()).then_some(potentials)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ladder_of_three() {
        let mut grid = Grid::new(4, 3);
        grid.tie(0, 1, 1.0);
        grid.tie(1, 2, 1.0);
        grid.tie(2, 3, 1.0);
        let potentials = grid.solve(vec![0.0, 0.0, 0.0, 1.0]).unwrap_or_default();
        assert_eq!(potentials.len(), 4);
        for (k, potential) in potentials.iter().enumerate() {
            assert!((potential - k as f64).abs() < 1e-12);
        }
    }

    #[test]
    fn a_ring_with_a_double_tie() {
        let mut grid = Grid::new(4, 5);
        for (a, b) in [(0, 1), (1, 2), (2, 3), (3, 0), (2, 3)] {
            grid.tie(a, b, 1.0);
        }
        // From 1 to 0 there are 1 ohm one way and 2.5 ohms the other.
        let potentials = grid.solve(vec![0.0, 3.5, 0.0, 0.0]).unwrap_or_default();
        let expected = [0.0, 2.5, 1.5, 1.0];
        assert_eq!(potentials.len(), 4);
        for (potential, expected) in potentials.iter().zip(expected) {
            assert!((potential - expected).abs() < 1e-12, "{potentials:?}");
        }
    }

    #[test]
    fn a_place_tied_to_nothing_has_no_potential() {
        assert_eq!(Grid::new(3, 0).solve(vec![0.0; 3]), None);
    }
}
