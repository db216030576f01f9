//! Fewer steps: items are put where one of their chords is straight, alone, with all that they are straight with, or
//! with all that is in their way.

use super::settle::{Index, System};

/// What a step counts beside its height, in modules.
const BEND: i32 = 8;
/// The most items that move together.
const MOST: usize = 60;
/// The most rounds over all items.
const ROUNDS: usize = 4;

/// What moves along with an item.
#[derive(Clone, Copy)]
struct Along {
    /// All that it is straight with.
    straight: bool,
    /// All that is in its way.
    pushed: bool,
}

/// From the least to the most that may move along.
const ALONG: [Along; 4] = [
    Along { straight: false, pushed: false },
    Along { straight: true, pushed: false },
    Along { straight: false, pushed: true },
    Along { straight: true, pushed: true },
];

/// Moves the first values of a system, the items, as long as that saves steps and keeps all distances.
pub(super) fn straighten(system: &mut System, items: usize) {
    let count = system.y.len();
    let distances = Index::of(count, system.least.iter().flat_map(|(a, b, _)| [*a, *b]));
    let chords = Index::of(count, system.terms.iter().flat_map(|(a, b, ..)| [*a, *b]));
    let member = vec![false; count];
    let mut moving =
        Moving { items, distances: &distances, chords: &chords, system, group: Vec::new(), member };
    for _ in 0..ROUNDS {
        let mut moved = false;
        for item in 0..items {
            for entry in chords.at(item) {
                moved |= moving.straighten(item, entry);
            }
        }
        if !moved {
            break;
        }
    }
}

/// Items on the move.
struct Moving<'a> {
    system: &'a mut System,
    items: usize,
    /// The distances and the chords of each value.
    distances: &'a Index,
    chords: &'a Index,
    /// What moves now.
    group: Vec<usize>,
    member: Vec<bool>,
}

impl Moving<'_> {
    /// The other end of a chord, and what it is above this one when the chord is straight.
    fn across(&self, entry: usize) -> (usize, i32) {
        let (a, b, offset, _) = self.system.terms[entry / 2];
        if entry.is_multiple_of(2) { (b, -offset) } else { (a, offset) }
    }

    /// Moves an item so that a chord of it is straight, if that saves anything; says whether it did.
    fn straighten(&mut self, item: usize, entry: usize) -> bool {
        let (other, apart) = self.across(entry);
        let by = self.system.y[other] + apart - self.system.y[item];
        if by == 0 || other >= self.items || other == item {
            return false;
        }
        for along in ALONG {
            let better = self.gather(item, by, along) && !self.member[other] && self.gain(by) > 0;
            for one in self.group.drain(..) {
                self.member[one] = false;
                self.system.y[one] += if better { by } else { 0 };
            }
            if better {
                return true;
            }
        }
        false
    }

    /// Gathers what moves with an item; says whether it can.
    fn gather(&mut self, item: usize, by: i32, along: Along) -> bool {
        self.join(item);
        let mut next = 0;
        while let Some(one) = self.group.get(next).copied() {
            next += 1;
            if along.straight {
                for entry in self.chords.at(one) {
                    let (two, apart) = self.across(entry);
                    if two < self.items && self.system.y[two] + apart == self.system.y[one] {
                        self.join(two);
                    }
                }
            }
            if along.pushed {
                for entry in self.distances.at(one) {
                    if let Some(two) = self.blocks(entry, one, by) {
                        self.join(two);
                    }
                }
            }
            if self.group.len() > MOST {
                return false;
            }
        }
        let free = |one: &usize| self.distances.at(*one).all(|entry| self.blocks(entry, *one, by).is_none());
        self.group.iter().all(|one| *one < self.items && free(one))
    }

    fn join(&mut self, value: usize) {
        if !std::mem::replace(&mut self.member[value], true) {
            self.group.push(value);
        }
    }

    /// What is at the other end of a distance, if it stays and is too near to a value once that has moved.
    fn blocks(&self, entry: usize, value: usize, by: i32) -> Option<usize> {
        let System { y, least, .. } = &*self.system;
        let (a, b, distance) = least[entry / 2];
        let (other, room) = if a == value { (b, y[b] - y[a] - by) } else { (a, y[b] + by - y[a]) };
        (!self.member[other] && room < distance).then_some(other)
    }

    /// What is saved when the group moves.
    fn gain(&self, by: i32) -> i32 {
        let y = &self.system.y;
        let steps =
            self.group.iter().flat_map(|one| self.chords.at(*one).map(|entry| (*one, self.across(entry))));
        let outside = steps.filter(|(_, (two, _))| !self.member[*two] && *two < self.items);
        let gains = outside.map(|(one, (two, apart))| {
            let step = y[two] + apart - y[one];
            cost(step) - cost(step - by)
        });
        gains.sum()
    }
}

fn cost(step: i32) -> i32 {
    step.abs() + if step == 0 { 0 } else { BEND }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_straight_moves_as_one() {
        // A device and its cable are straight; both are two rows off the device at the cable's other end.
        let mut system = System::new(3);
        system.y = vec![0, 2, 2];
        system.pull((0, 1, 0, 1));
        system.pull((1, 2, 0, 1));
        straighten(&mut system, 3);
        assert!(system.y.windows(2).all(|pair| pair[0] == pair[1]), "{:?}", system.y);
    }

    #[test]
    fn no_distance_is_broken() {
        let mut system = System::new(3);
        system.y = vec![0, 4, 5];
        system.pull((0, 1, 0, 1));
        system.keep((0, 1, 2));
        system.keep((1, 2, 1));
        straighten(&mut system, 3);
        assert!(system.least.iter().all(|(a, b, least)| system.y[*b] - system.y[*a] >= *least));
    }
}
