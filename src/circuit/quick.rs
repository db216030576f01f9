//! Sets and maps of numbers that the program itself gives out: ids, and states in bits.
//!
//! Searches look up millions of them, and nobody chooses them to do harm. Nothing depends on the order in which they stand.

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};

/// A quick map.
pub(super) type Map<K, V> = HashMap<K, V, BuildHasherDefault<Mixed>>;

/// A quick set.
pub(super) type Set<K> = HashSet<K, BuildHasherDefault<Mixed>>;

/// A set of numbers below a given one, a bit each.
pub(super) struct Marks(Vec<u64>);

impl Marks {
    /// The empty set of numbers below `count`.
    pub(super) fn none(count: usize) -> Self {
        Self(vec![0; count.div_ceil(64)])
    }

    pub(super) fn contains(&self, number: usize) -> bool {
        self.0[number / 64] >> (number % 64) & 1 == 1
    }

    /// Puts a number in; false if it was there.
    pub(super) fn insert(&mut self, number: usize) -> bool {
        let new = !self.contains(number);
        self.0[number / 64] |= 1 << (number % 64);
        new
    }

    /// Takes a number out; false if it was not there.
    pub(super) fn remove(&mut self, number: usize) -> bool {
        let there = self.contains(number);
        self.0[number / 64] &= !(1 << (number % 64));
        there
    }
}

/// Spreads the bits of a number.
#[derive(Default)]
pub(super) struct Mixed(u64);

impl Hasher for Mixed {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.write_u64(byte.into());
        }
    }

    fn write_u32(&mut self, bits: u32) {
        self.write_u64(bits.into());
    }

    fn write_usize(&mut self, bits: usize) {
        self.write_u64(bits as u64);
    }

    fn write_u64(&mut self, bits: u64) {
        let mixed = (self.0 ^ bits).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        self.0 = mixed ^ (mixed >> 32);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_put_in_and_taken_out_once() {
        let mut marks = Marks::none(130);
        assert!(marks.insert(129) && !marks.insert(129) && marks.insert(64));
        assert!(marks.contains(129) && !marks.contains(65) && !marks.contains(0));
        assert!(marks.remove(129) && !marks.remove(129) && marks.contains(64));
    }
}
