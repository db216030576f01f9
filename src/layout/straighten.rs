//! Fewer steps: items are put where one of their chords is straight, alone or with all that they are straight with.

use super::settle::{Index, System};

/// What a step counts beside its height, in modules.
const BEND: i32 = 8;
/// The most items that move together.
const MOST: usize = 24;
/// The most rounds over all items.
const ROUNDS: usize = 4;

/// Moves the first values of a system, the items, as long as that saves steps and keeps all distances.
pub(super) fn straighten(system: &mut System, items: usize) {
    let System { y, least, terms } = system;
    let count = y.len();
    let distances = Index::of(count, least.iter().flat_map(|(a, b, _)| [*a, *b]));
    let chords = Index::of(count, terms.iter().flat_map(|(a, b, ..)| [*a, *b]));
    // The other end of an entry, and what it is above this one when the chord is straight.
    let across = |entry: usize| {
        let (a, b, offset, _) = terms[entry / 2];
        if entry.is_multiple_of(2) { (b, -offset) } else { (a, offset) }
    };
    let mut group: Vec<usize> = Vec::new();
    let mut member = vec![false; count];
    for _ in 0..ROUNDS {
        let mut moved = false;
        for item in 0..items {
            for entry in chords.at(item) {
                let (other, apart) = across(entry);
                let by = y[other] + apart - y[item];
                if by == 0 || other >= items || other == item {
                    continue;
                }
                for together in [false, true] {
                    group.clear();
                    group.push(item);
                    member[item] = true;
                    let mut next = 0;
                    while together && next < group.len() && group.len() <= MOST {
                        let one = group[next];
                        next += 1;
                        for entry in chords.at(one) {
                            let (two, apart) = across(entry);
                            if two < items && y[two] + apart == y[one] && !member[two] {
                                member[two] = true;
                                group.push(two);
                            }
                        }
                    }
                    let fits = || {
                        group.iter().all(|one| {
                            distances.at(*one).all(|entry| {
                                let (a, b, distance) = least[entry / 2];
                                let (to_a, to_b) = (by * i32::from(member[a]), by * i32::from(member[b]));
                                y[b] + to_b - y[a] - to_a >= distance
                            })
                        })
                    };
                    let gains = || {
                        let steps =
                            group.iter().flat_map(|one| chords.at(*one).map(move |entry| (*one, entry)));
                        let change = steps.map(|(one, entry)| {
                            let (two, apart) = across(entry);
                            if member[two] || two >= items {
                                return 0;
                            }
                            let step = y[two] + apart - y[one];
                            cost(step - by) - cost(step)
                        });
                        change.sum::<i32>() < 0
                    };
                    let better = group.len() <= MOST && !member[other] && gains() && fits();
                    for one in &group {
                        member[*one] = false;
                        y[*one] += if better { by } else { 0 };
                    }
                    moved |= better;
                    if better {
                        break;
                    }
                }
            }
        }
        if !moved {
            break;
        }
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
