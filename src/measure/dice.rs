//! Whole-number draws that are the same everywhere.
//!
//! ChaCha8 is specified byte by byte; what is made of its words is spelled out here, so that no change of a library's
//! sampling can change a sample.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::Length;

/// A seeded source of draws.
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// Dice that fall the same way for the same seed.
    pub fn new(seed: u64) -> Dice {
        Dice(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A whole number from `low` to `high`, both included, each as likely as the other to within 2^-40 for the small
    /// ranges used here.
    pub fn roll(&mut self, low: i64, high: i64) -> i64 {
        debug_assert!(low <= high);
        let span = (high - low) as u64 + 1;
        low + (self.0.next_u64() % span) as i64
    }

    /// The mean of two rolls, rounded down: the middle is likelier.
    pub fn middling(&mut self, low: i64, high: i64) -> i64 {
        (self.roll(low, high) + self.roll(low, high)).div_euclid(2)
    }

    /// The lesser of two rolls.
    pub fn low(&mut self, low: i64, high: i64) -> i64 {
        self.roll(low, high).min(self.roll(low, high))
    }

    /// True `percent` times in a hundred.
    pub fn chance(&mut self, percent: i64) -> bool {
        self.roll(1, 100) <= percent
    }

    /// One of `choices`.
    pub fn pick<'a, T>(&mut self, choices: &'a [T]) -> &'a T {
        &choices[self.roll(0, choices.len() as i64 - 1) as usize]
    }

    /// Puts `things` into any order.
    pub fn shuffle<T>(&mut self, things: &mut [T]) {
        for last in (1..things.len()).rev() {
            things.swap(last, self.roll(0, last as i64) as usize);
        }
    }
}

/// `n` eighths of an inch.
pub const fn eighths(n: i64) -> Length {
    Length::from_inch_fraction(n, 8)
}

/// `n` thirty-seconds of an inch.
pub const fn thirty_seconds(n: i64) -> Length {
    Length::from_inch_fraction(n, 32)
}
