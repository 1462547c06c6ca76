//! Numbers by chance, for tests that trade and reckon at random.
#![cfg(test)]

/// The same seed makes the same numbers (xorshift64*).
pub struct Chance(u64);

impl Chance {
    pub fn of(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 16
    }

    /// From zero up to, but not including, `end`.
    pub fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % u64::try_from(end.max(1)).unwrap()).unwrap()
    }

    pub fn one_in(&mut self, odds: usize) -> bool {
        self.below(odds) == 0
    }

    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len())]
    }

    /// Cents from 1 to `most`.
    pub fn cents(&mut self, most: usize) -> i64 {
        i64::try_from(self.below(most) + 1).unwrap()
    }

    /// From `least` to `most`, both included.
    pub fn between(&mut self, least: i64, most: i64) -> i64 {
        let span = u64::try_from(most - least).unwrap() + 1;
        least + i64::try_from(self.next() % span).unwrap()
    }

    /// Small numbers as often as large ones, for it is at small ones that rounding shows.
    pub fn up_to(&mut self, most: i64) -> i64 {
        let digits = u32::try_from(self.between(0, 12)).unwrap();
        self.between(0, most.min(10_i64.pow(digits)))
    }
}
