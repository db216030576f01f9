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
    let mut moving = Moving {
        items,
        distances: Index::of(count, system.least.iter().flat_map(|(a, b, _)| [*a, *b])),
        chords: Index::of(count, system.terms.iter().flat_map(|(a, b, ..)| [*a, *b])),
        system,
        group: Vec::new(),
        member: vec![false; count],
    };
    for _ in 0..ROUNDS {
        let mut moved = false;
        for item in 0..items {
            let entries: Vec<usize> = moving.chords.at(item).collect();
            for entry in entries {
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
    distances: Index,
    chords: Index,
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
            let y = &self.system.y;
            let mut more: Vec<usize> = Vec::new();
            if along.straight {
                let straight = self.chords.at(one).map(|entry| self.across(entry));
                more.extend(
                    straight
                        .filter(|(two, apart)| *two < self.items && y[*two] + apart == y[one])
                        .map(|(two, _)| two),
                );
            }
            if along.pushed {
                more.extend(self.blocking(one, by));
            }
            for two in more {
                self.join(two);
            }
            if self.group.len() > MOST {
                return false;
            }
        }
        self.group.iter().all(|one| *one < self.items && self.blocking(*one, by).next().is_none())
    }

    fn join(&mut self, value: usize) {
        if !std::mem::replace(&mut self.member[value], true) {
            self.group.push(value);
        }
    }

    /// What stays and is too near to a value once that has moved.
    fn blocking(&self, value: usize, by: i32) -> impl Iterator<Item = usize> + '_ {
        let System { y, least, .. } = &*self.system;
        self.distances.at(value).filter_map(move |entry| {
            let (a, b, distance) = least[entry / 2];
            let (other, room) = if a == value { (b, y[b] - y[a] - by) } else { (a, y[b] + by - y[a]) };
            (!self.member[other] && room < distance).then_some(other)
        })
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
