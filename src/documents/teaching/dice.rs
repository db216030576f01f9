//! Choices that are the same for the same seed.

/// A stream of numbers from a seed (SplitMix64, Steele, Lea and Flood 2014).
pub struct Dice(u64);

impl Dice {
    /// The stream of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `n`; 0 if `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        let n = u64::try_from(n).unwrap_or(1).max(1);
        usize::try_from(self.next() % n).unwrap_or(0)
    }

    /// One of them; `None` if there are none.
    pub fn one<'a, T>(&mut self, of: &'a [T]) -> Option<&'a T> {
        of.get(self.below(of.len()))
    }

    /// The same in another order.
    pub fn shuffled<T>(&mut self, mut all: Vec<T>) -> Vec<T> {
        for last in (1..all.len()).rev() {
            let with = self.below(last + 1);
            all.swap(last, with);
        }
        all
    }
}
