//! The vane's swing: a damped oscillator whose time is the run of the wind.

/// Damping ratio. WMO-No. 8, Part I, ch. 5 (from memory): 0.3 to 0.7 is wanted.
pub const DAMPING_RATIO: f64 = 0.4;
/// Run of wind in which the vane makes up half of a change, m (common practice, no source: 1 to 2 m for a small vane).
pub const DELAY_DISTANCE_M: f64 = 1.3;
/// Run of wind in one undamped swing, m: the delay distance times 5.0852, from the exact step response at this damping
/// ratio (`6.0 - 2.4 z` = 5.04 by the rule of ASTM D5366, from memory).
pub const NATURAL_WAVELENGTH_M: f64 = 5.0852 * DELAY_DISTANCE_M;

/// What becomes of a vane that is off its wind by `y` and turns at a rate `v` in one sub-sample:
/// `y' = keep y + carry v`, `v' = pull y + damp v`.
///
/// Exact solution of `y'' + 2 z w y' + w^2 y = 0`, `w = 2 pi u / L` (second-order vane of WMO-No. 8, Part I, ch. 5, from
/// memory), for a wind that is steady over the sub-sample; read from a table of the run of wind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swing {
    /// Share of the displacement that is left.
    pub keep: f64,
    /// Displacement that a turning rate makes, s.
    pub carry: f64,
    /// Turning rate that a displacement makes, 1/s.
    pub pull: f64,
    /// Share of the turning rate that is left.
    pub damp: f64,
}

/// Entries for each natural wavelength of run.
const PER_WAVELENGTH: f64 = CELLS as f64 / 3.0;
/// Entries of the table: it ends after three wavelengths, where a swing has died down to 5e-4.
const CELLS: usize = 256;

/// Displacement left of a displacement, rate times `w` from a rate (or displacement over `w` from a rate), and rate left of a
/// rate, by the run of wind.
const TABLE: [[f64; 3]; CELLS + 1] = table();

/// The table by its recurrence: each entry is the one before, turned and damped.
const fn table() -> [[f64; 3]; CELLS + 1] {
    // exp(-z a) cos(s a) and exp(-z a) sin(s a) for z = 0.4, s = sqrt(1 - z^2) and the angle a = 2 pi 3/256 of
    // one cell.
    const COSINE: f64 = 0.968_766_945_342_448_4;
    const SINE: f64 = 0.065_475_690_388_112_82;
    const S: f64 = 0.916_515_138_991_168;
    let mut table = [[0.0; 3]; CELLS + 1];
    let (mut cosine, mut sine) = (1.0, 0.0);
    let mut index = 0;
    while index < CELLS {
        let along = DAMPING_RATIO / S * sine;
        table[index] = [cosine + along, sine / S, cosine - along];
        let turned = cosine * COSINE - sine * SINE;
        sine = cosine * SINE + sine * COSINE;
        cosine = turned;
        index += 1;
    }
    table
}

impl Swing {
    /// A vane that does not move.
    pub const HELD: Self = Self {
        keep: 1.0,
        carry: 0.0,
        pull: 0.0,
        damp: 0.0,
    };

    /// After `seconds` of wind of `speed_ms`, whose reciprocal is `seconds_per_m`.
    #[must_use]
    pub fn after(speed_ms: f64, seconds: f64, seconds_per_m: f64) -> Self {
        const LAST: f64 = CELLS as f64 - 1e-9;
        const PER_M: f64 = PER_WAVELENGTH / NATURAL_WAVELENGTH_M;
        const ANGLE_PER_M: f64 = core::f64::consts::TAU / NATURAL_WAVELENGTH_M;
        // Adding this leaves no room for a fraction: the cell's number stands in the lowest bits, rounded.
        const NO_FRACTION: f64 = 6_755_399_441_055_744.0;
        let place = speed_ms * seconds * PER_M;
        let place = if place < LAST { place } else { LAST };
        let rounded = place - 0.5 + NO_FRACTION;
        let cell = (rounded.to_bits() & (CELLS as u64 - 1)) as usize;
        let part = place - (rounded - NO_FRACTION);
        let (low, high) = (&TABLE[cell], &TABLE[cell + 1]);
        let crossed = low[1] + part * (high[1] - low[1]);
        Self {
            keep: low[0] + part * (high[0] - low[0]),
            carry: crossed * (1.0 / ANGLE_PER_M) * seconds_per_m,
            pull: -crossed * ANGLE_PER_M * speed_ms,
            damp: low[2] + part * (high[2] - low[2]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the functions themselves.
    #[test]
    fn the_table_is_the_damped_swing() {
        let s = libm::sqrt(1.0 - DAMPING_RATIO * DAMPING_RATIO);
        let (mut worst, speed) = (0.0_f64, 2.0);
        for step in 0..3000 {
            let seconds = f64::from(step) * 0.001 * NATURAL_WAVELENGTH_M / speed;
            let w = core::f64::consts::TAU * speed / NATURAL_WAVELENGTH_M;
            let damped = libm::exp(-DAMPING_RATIO * w * seconds);
            let (sine, cosine) = (libm::sin(s * w * seconds) / s, libm::cos(s * w * seconds));
            let swing = Swing::after(speed, seconds, 1.0 / speed);
            for (ours, exact) in [
                (swing.keep, damped * (cosine + DAMPING_RATIO * sine)),
                (swing.carry * w, damped * sine),
                (swing.pull / w, -damped * sine),
                (swing.damp, damped * (cosine - DAMPING_RATIO * sine)),
            ] {
                worst = worst.max((ours - exact).abs());
            }
        }
        assert!(worst < 1e-3, "{worst}");
        let last = TABLE[CELLS - 1];
        assert!(last.iter().all(|part| part.abs() < 1e-3), "{last:?}");
    }
}
