//! Sets and maps of numbers that the program itself gives out: ids, and states in bits.
//!
//! Searches look up millions of them, and nobody chooses them to do harm. Nothing depends on the order in which they stand.

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};

/// A quick map.
pub(super) type Map<K, V> = HashMap<K, V, BuildHasherDefault<Mixed>>;

/// A quick set.
pub(super) type Set<K> = HashSet<K, BuildHasherDefault<Mixed>>;

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
