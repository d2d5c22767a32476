//! Named entropy streams: one seed, one independent stream per station and component.
//!
//! Adding a draw in one component shifts no other, and a component draws a fixed number of variates a
//! step whatever its condition, so that a fault moves nothing but its own effect.
//!
//! The normal variate is made here, not by a library: the usual ones call the platform's `exp` and `ln`
//! as soon as any crate of the build switches that on, and then bytes differ between machines.

use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// The one seed of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seed(pub u64);

impl Seed {
    /// The stream of one component of one station (or of the region, by whatever name it goes).
    #[must_use]
    pub fn stream(self, owner: &str, component: &str) -> Stream {
        // FNV-1a over both names with a separator; xoshiro's own seeding (SplitMix64) spreads it.
        let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
        for byte in owner.bytes().chain([0xFF]).chain(component.bytes()) {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
        let mixed = (self.0 ^ hash.rotate_left(32)).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ hash;
        Stream(Xoshiro256PlusPlus::seed_from_u64(mixed))
    }
}

/// A stream of variates.
#[derive(Debug, Clone)]
pub struct Stream(Xoshiro256PlusPlus);

impl Stream {
    /// Sixty-four uniform bits.
    pub fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }
    /// Uniform in [0, 1).
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }
    /// Uniform in (0, 1].
    pub fn uniform_positive(&mut self) -> f64 {
        1.0 - self.uniform()
    }
    /// Exponential with mean 1.
    pub fn exponential(&mut self) -> f64 {
        -libm::log(self.uniform_positive())
    }
    /// Normal with mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        let radius = libm::sqrt(2.0 * self.exponential());
        radius * libm::cos(core::f64::consts::TAU * self.uniform())
    }
}
