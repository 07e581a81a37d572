//! Repeatable random numbers for tests: xorshift64* (Vigna 2016, doi 10.1145/2845077).

/// A generator; the same seed gives the same numbers on every machine.
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// A generator for `seed`.
    pub fn new(seed: u64) -> Random {
        // Spread small seeds (splitmix64's increment) and keep away from 0, which stays 0.
        Random(seed.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// Evenly from 0 up to, but not including, 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Between two numbers above 0, every factor alike.
    pub fn scale(&mut self, low: f64, high: f64) -> f64 {
        low * libm::pow(high / low, self.unit())
    }

    /// A whole number below `most`.
    pub fn below(&mut self, most: usize) -> usize {
        (self.unit() * most as f64) as usize
    }

    /// One of them.
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }

    /// True in this share of cases.
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }
}
