//! The order of the upright pieces in one channel, from its left border to its right.
//!
//! A piece has rows on which it leaves to the left border and rows on which it leaves to the right. Where a row leads
//! left from one piece and right from another, the first must stand left of the second, or they would lie on one line:
//! this is the only thing that must hold, and it is kept by a topological order. Where the conditions go round in a
//! circle a piece is split in two over a row that nothing uses; the left half then has conditions in one direction only
//! and so has the right half, so that every split ends its circles for good. All else is a matter of fewer crossings.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

/// An upright piece of a chord.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Piece {
    /// The chord.
    pub chord: usize,
    /// Its rows towards the left border.
    pub left: Vec<i32>,
    /// Its rows towards the right border.
    pub right: Vec<i32>,
}

impl Piece {
    /// Its highest and lowest row.
    pub fn span(&self) -> (i32, i32) {
        let rows = || self.left.iter().chain(&self.right).copied();
        (rows().min().unwrap_or(0), rows().max().unwrap_or(0))
    }
}

/// What a broken condition counts in crossings while the order is sought.
const MUST: i64 = 10_000;

/// Puts the pieces of a channel in order. `taken` are all rows on which anything ends in the channel.
pub(super) fn in_order(pieces: Vec<Piece>, mut taken: BTreeSet<i32>) -> Vec<Piece> {
    let mut ordered: Vec<Piece> = Vec::with_capacity(pieces.len());
    for group in meeting(pieces) {
        let sifted = sifted(group);
        ordered.extend(lawful(sifted, &mut taken));
    }
    ordered
}

/// Groups of pieces that stand side by side somewhere.
fn meeting(mut pieces: Vec<Piece>) -> Vec<Vec<Piece>> {
    pieces.sort_by_key(|p| (p.span(), p.chord));
    let mut groups: Vec<Vec<Piece>> = Vec::new();
    let mut lowest = i32::MIN;
    for piece in pieces {
        let (top, bottom) = piece.span();
        if top > lowest {
            groups.push(Vec::new());
        }
        lowest = lowest.max(bottom);
        if let Some(group) = groups.last_mut() {
            group.push(piece);
        }
    }
    groups
}

/// Crossings of two pieces that stand side by side, the first left of the second.
fn cost(a: &Piece, b: &Piece) -> i64 {
    let ((a0, a1), (b0, b1)) = (a.span(), b.span());
    let inside =
        |rows: &[i32], top: i32, bottom: i32| rows.iter().filter(|y| top < **y && **y < bottom).count();
    let crossings = inside(&a.right, b0, b1) + inside(&b.left, a0, a1);
    let broken = a.right.iter().filter(|y| b.left.contains(y)).count();
    crossings as i64 + MUST * broken as i64
}

/// An order with few crossings: greedily the piece that gains most from standing leftmost, then moves of one piece with
/// those that must keep to one side of it.
fn sifted(pieces: Vec<Piece>) -> Vec<Piece> {
    let beside = beside(&pieces);
    let mut row = Row::new(greedy(&beside), &beside);
    for _ in 0..4 {
        let moves = (0..pieces.len()).map(|a| row.move_best(a));
        if moves.filter(|moved| *moved).count() == 0 {
            break;
        }
    }
    let mut pieces: Vec<Option<Piece>> = pieces.into_iter().map(Some).collect();
    row.order.into_iter().filter_map(|i| pieces[i].take()).collect()
}

/// Pieces from left to right while the order is sought.
struct Row<'a> {
    order: Vec<usize>,
    /// Where each piece stands in it.
    place: Vec<usize>,
    beside: &'a [Vec<(usize, i64)>],
    /// What those on the move cost more left of each piece than right of it.
    more: Vec<i64>,
}

/// A move that is worth while: what it saves, the place of the last that is passed, and how many move.
type Move = (i64, usize, usize);

impl<'a> Row<'a> {
    fn new(order: Vec<usize>, beside: &'a [Vec<(usize, i64)>]) -> Self {
        let mut place = vec![0; order.len()];
        order.iter().enumerate().for_each(|(i, a)| place[*a] = i);
        Self { more: vec![0; order.len()], order, place, beside }
    }

    /// Moves a piece to where it costs least, and with it what must not change places with it; says whether it moved.
    fn move_best(&mut self, a: usize) -> bool {
        let tied = self.beside[a].iter().any(|(_, more)| more.abs() >= MUST / 2);
        let (mut movers, (gain, to, count)) = if tied { self.tied(a) } else { (vec![a], self.alone(a)) };
        if gain <= 0 {
            return false;
        }
        movers.truncate(count);
        let at = self.place[a];
        let (from, last) = (at.min(to), at.max(to));
        let moves = |piece: &usize| movers.contains(piece);
        let (moved, passed): (Vec<usize>, Vec<usize>) =
            self.order[from..=last].iter().partition(|p| moves(p));
        let run = if to > at { [passed, moved] } else { [moved, passed] };
        for (i, piece) in (from..).zip(run.into_iter().flatten()) {
            self.order[i] = piece;
            self.place[piece] = i;
        }
        true
    }

    /// The best move of a piece that may change places with any other.
    fn alone(&self, a: usize) -> Move {
        let at = self.place[a];
        let mut others: Vec<(usize, i64)> =
            self.beside[a].iter().map(|(b, more)| (self.place[*b], *more)).collect();
        others.sort_unstable();
        let (before, after) = others.split_at(others.partition_point(|(p, _)| *p < at));
        let mut best = (0, at, 1);
        let mut gain = 0;
        for (to, more) in before.iter().rev() {
            gain -= more;
            best = if gain > best.0 { (gain, *to, 1) } else { best };
        }
        gain = 0;
        for (to, more) in after {
            gain += more;
            best = if gain > best.0 { (gain, *to, 1) } else { best };
        }
        best
    }

    /// The best move of a piece that takes those along that it must not pass, and those in turn; with these.
    fn tied(&mut self, a: usize) -> (Vec<usize>, Move) {
        let at = self.place[a];
        let mut best = (Vec::new(), (0, at, 0));
        let right = (at + 1..self.order.len()).map(|i| (i, 1));
        let left = (0..at).rev().map(|i| (i, -1));
        for passing in [right.collect::<Vec<_>>(), left.collect()] {
            let mut movers = vec![a];
            let mut found = (0, at, 1);
            let mut gain = 0;
            self.count(a, 1);
            for (to, way) in passing {
                let next = self.order[to];
                let saved = way * self.more[next];
                if saved <= -MUST / 2 {
                    movers.push(next);
                    self.count(next, 1);
                } else {
                    gain += saved;
                    found = if gain > found.0 { (gain, to, movers.len()) } else { found };
                }
            }
            movers.iter().for_each(|piece| self.count(*piece, -1));
            if found.0 > best.1.0 {
                best = (movers, found);
            }
        }
        best
    }

    /// Counts a piece among those on the move, or no more.
    fn count(&mut self, a: usize, times: i64) {
        for (b, more) in &self.beside[a] {
            self.more[*b] += times * more;
        }
    }
}

/// For each piece those that stand beside it somewhere, with the crossings that there are more if it is left of them than
/// if it is right of them.
fn beside(pieces: &[Piece]) -> Vec<Vec<(usize, i64)>> {
    let mut beside: Vec<Vec<(usize, i64)>> = vec![Vec::new(); pieces.len()];
    let mut open: Vec<(usize, i32)> = Vec::new();
    // Pieces are sorted by their highest row.
    for (b, piece) in pieces.iter().enumerate() {
        let (top, bottom) = piece.span();
        open.retain(|(_, lowest)| *lowest >= top);
        for (a, _) in &open {
            let more = cost(&pieces[*a], piece) - cost(piece, &pieces[*a]);
            if more != 0 {
                beside[*a].push((b, more));
                beside[b].push((*a, -more));
            }
        }
        open.push((b, bottom));
    }
    beside
}

/// One after the other the piece that gains most from standing left of all that are left.
fn greedy(beside: &[Vec<(usize, i64)>]) -> Vec<usize> {
    let mut gain: Vec<i64> = beside.iter().map(|others| others.iter().map(|(_, more)| -more).sum()).collect();
    let mut done = vec![false; beside.len()];
    let mut next: BinaryHeap<(i64, Reverse<usize>)> =
        gain.iter().enumerate().map(|(a, gain)| (*gain, Reverse(a))).collect();
    let mut order = Vec::with_capacity(beside.len());
    while let Some((worth, Reverse(a))) = next.pop() {
        if done[a] || worth != gain[a] {
            continue;
        }
        done[a] = true;
        order.push(a);
        for (b, more) in &beside[a] {
            if !done[*b] {
                gain[*b] -= more;
                next.push((gain[*b], Reverse(*b)));
            }
        }
    }
    order
}

/// The nearest order in which all conditions hold.
fn lawful(pieces: Vec<Piece>, taken: &mut BTreeSet<i32>) -> Vec<Piece> {
    let mut waiting = pieces;
    let mut ordered: Vec<Piece> = Vec::with_capacity(waiting.len());
    loop {
        let before = conditions(&waiting);
        let mut missing: Vec<usize> = before.iter().map(Vec::len).collect();
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); waiting.len()];
        for (i, list) in before.iter().enumerate() {
            for b in list {
                after[*b].push(i);
            }
        }
        let mut ready: BTreeSet<usize> = (0..waiting.len()).filter(|i| missing[*i] == 0).collect();
        let mut done = vec![false; waiting.len()];
        while let Some(i) = ready.pop_first() {
            done[i] = true;
            ordered.push(waiting[i].clone());
            for next in &after[i] {
                missing[*next] -= 1;
                if missing[*next] == 0 {
                    ready.insert(*next);
                }
            }
        }
        let Some(mut at) = done.iter().position(|d| !d) else { return ordered };
        // Going back from what waits leads into a circle.
        let mut seen = vec![false; waiting.len()];
        while !seen[at] {
            seen[at] = true;
            let Some(back) = before[at].iter().find(|b| !done[**b]) else { break };
            at = *back;
        }
        let (top, bottom) = waiting[at].span();
        let middle = i32::midpoint(top, bottom);
        let free =
            (0..).flat_map(|d| [middle - d, middle + d]).find(|y| !taken.contains(y)).unwrap_or(middle);
        taken.insert(free);
        let right_half = Piece { left: vec![free], ..waiting[at].clone() };
        waiting[at].right = vec![free];
        let mut done = done.into_iter();
        waiting.retain(|_| !done.next().unwrap_or(false));
        waiting.push(right_half);
    }
}

/// For each piece those that must stand left of it: what leaves to the left on a row on which it leaves to the right,
/// and the left half of a right half.
fn conditions(pieces: &[Piece]) -> Vec<Vec<usize>> {
    let mut leaves_left: BTreeMap<i32, usize> = BTreeMap::new();
    let mut leaves_right: BTreeMap<i32, usize> = BTreeMap::new();
    for (i, piece) in pieces.iter().enumerate() {
        leaves_left.extend(piece.left.iter().map(|y| (*y, i)));
        leaves_right.extend(piece.right.iter().map(|y| (*y, i)));
    }
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
    for (y, l) in &leaves_left {
        if let Some(r) = leaves_right.get(y) {
            if pieces[*l].chord == pieces[*r].chord {
                before[*l].push(*r);
            } else {
                before[*r].push(*l);
            }
        }
    }
    before
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(chord: usize, left: i32, right: i32) -> Piece {
        Piece { chord, left: vec![left], right: vec![right] }
    }

    fn rows(pieces: &[Piece]) -> BTreeSet<i32> {
        pieces.iter().flat_map(|p| p.left.iter().chain(&p.right).copied()).collect()
    }

    #[test]
    fn two_steps_down_nest_without_a_crossing() {
        let pieces = vec![piece(0, 0, 10), piece(1, 2, 12)];
        let order = in_order(pieces.clone(), rows(&pieces));
        let chords: Vec<usize> = order.iter().map(|p| p.chord).collect();
        assert_eq!(chords, [1, 0], "the lower one turns first");
    }

    #[test]
    fn what_must_stand_right_of_a_piece_moves_along() {
        // The second must stand left of the third, whose lower row it shares; right of the others both cross nothing.
        let pieces = vec![piece(0, 10, 0), piece(1, 20, 5), piece(2, 24, 20), piece(3, 14, 2)];
        let order = in_order(pieces.clone(), rows(&pieces));
        let crossings: i64 =
            order.iter().enumerate().flat_map(|(i, p)| order[i + 1..].iter().map(|q| cost(p, q))).sum();
        assert_eq!(crossings, 0, "{order:?}");
    }

    #[test]
    fn rows_that_change_places_are_split_over_a_free_row() {
        let pieces = vec![piece(0, 1, 2), piece(1, 2, 1)];
        let order = in_order(pieces.clone(), rows(&pieces));
        assert_eq!(order.len(), 3);
        for (i, p) in order.iter().enumerate() {
            for q in &order[i + 1..] {
                assert!(p.right.iter().all(|y| !q.left.contains(y) || p.chord == q.chord), "{order:?}");
            }
        }
    }
}
