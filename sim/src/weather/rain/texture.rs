//! The unevenness of rain inside a cell, from half an hour down to seconds.

use super::super::noise::floor;
use crate::entropy::Key;

/// Length of one block of the texture, s, and its number of pieces (16 s each).
const BLOCK_S: f64 = 2048.0;
const PIECES: usize = 128;
const PIECE_S: f64 = BLOCK_S / PIECES as f64;

/// A positive curve with mean 1 over every block, that the rate of a point's cells is multiplied by.
#[derive(Debug, Clone)]
pub(super) struct Texture {
    key: Key,
    /// Added to the number of a block: another point has another texture.
    spot: i64,
    block: i64,
    /// Rates over the mean.
    rates: [f64; PIECES],
}

impl Texture {
    pub(super) fn new(key: Key, spot: i64) -> Self {
        Self {
            key,
            spot,
            block: i64::MIN,
            rates: [1.0; PIECES],
        }
    }

    /// Cuts an interval at the borders of the pieces: each part with its rate over the mean.
    pub(super) fn pieces(&mut self, from_s: f64, to_s: f64, mut part: impl FnMut(f64, f64, f64)) {
        let mut number = floor(from_s * (1.0 / PIECE_S));
        let mut start_s = from_s;
        while start_s < to_s {
            let end_s = ((number + 1) as f64 * PIECE_S).min(to_s);
            part(start_s, end_s, self.rate(number));
            start_s = end_s;
            number += 1;
        }
    }

    fn rate(&mut self, number: i64) -> f64 {
        let block = number.div_euclid(PIECES as i64);
        if block != self.block {
            self.block = block;
            let sums: [f64; PIECES + 1] =
                cascade(self.key, block.wrapping_add(self.spot), PIECES as f64);
            for (rate, pair) in self.rates.iter_mut().zip(sums.windows(2)) {
                *rate = pair[1] - pair[0];
            }
        }
        self.rates[number.rem_euclid(PIECES as i64) as usize]
    }
}

/// Running sums of a random cascade: the total is split in two again and again, at each level in random
/// shares, and so is kept exactly. (Conservative multiplicative cascade; Gupta & Waymire 1993.)
pub(crate) fn cascade<const N: usize>(key: Key, number: i64, total: f64) -> [f64; N] {
    let pieces = N - 1;
    let mut stream = key.stream(number);
    let mut weights = [0.0; N];
    weights[0] = 1.0;
    let mut filled = 1;
    while filled < pieces {
        for i in (0..filled).rev() {
            // The mean of two uniforms: shares near a half are likelier, none is ever 0.
            let share = 0.06 + 0.88 * 0.5 * (stream.uniform() + stream.uniform());
            let weight = weights[i];
            weights[2 * i] = weight * share;
            weights[2 * i + 1] = weight * (1.0 - share);
        }
        filled *= 2;
    }
    let mut sums = [0.0; N];
    for i in 0..pieces {
        sums[i + 1] = sums[i] + weights[i] * total;
    }
    sums[pieces] = total;
    sums
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entropy::Seed;

    #[test]
    fn a_cascade_keeps_its_total_and_never_falls() {
        for number in 0..200 {
            let sums: [f64; 33] = cascade(Seed(9).key("t", "c"), number, 3.5);
            assert_eq!(sums[0], 0.0);
            assert_eq!(sums[32], 3.5);
            assert!(sums.windows(2).all(|p| p[1] > p[0]));
        }
    }

    #[test]
    fn the_texture_is_exact_over_any_interval() {
        let mut texture = Texture::new(Seed(9).key("t", "c"), 3);
        let mut integral = |a: f64, b: f64| {
            let mut sum = 0.0;
            texture.pieces(a, b, |x, y, rate| sum += (y - x) * rate);
            sum
        };
        let whole = integral(100.0, 5000.0);
        let parts: f64 = (0..4900)
            .map(|i| integral(100.0 + f64::from(i), 101.0 + f64::from(i)))
            .sum();
        assert!((whole - parts).abs() < 1e-8);
        assert!((integral(2048.0, 2048.0 * 50.0) - 2048.0 * 49.0).abs() < 1e-7);
    }
}
