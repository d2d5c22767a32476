//! How readily rain forms about a system: by whether air rises there in the field of pressure of all systems.
//!
//! Air rises where pressure falls ahead of a low, and in the low itself where friction carries air inwards; it
//! sinks in highs and behind troughs (quasi-geostrophic omega and Ekman pumping; Holton 2004, sections 6.4 and
//! 5.4). Rates: fitted by trial to how an open hourly year's rain goes with its pressure; no other source.

use super::field::HOUR_S;

const STEP_S: f64 = 6.0 * HOUR_S;
/// Values kept: the days of a system's slot lie up to two and a half days from its front.
const COUNT: usize = 21;
const BEFORE: f64 = 10.0;
/// Change of the logarithm of the chance: per unit of positive and of negative vorticity over the Coriolis
/// parameter of 45 degrees, and per hPa that pressure falls in 3 h (at 45 degrees' contrasts).
const IN_LOWS: f64 = 0.42;
const IN_HIGHS: f64 = 6.0;
const FALLING: f64 = 0.91;
/// Its bounds: some rain falls anywhere, and none falls more than always.
const LEAST: f64 = -3.0;
const MOST: f64 = 1.2;

/// Logarithm of what the chance of rain is multiplied by, every six hours about a system's front.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ascent {
    from_s: f64,
    values: [f64; COUNT],
}

impl Ascent {
    pub(super) const NONE: Self = Self {
        from_s: 0.0,
        values: [0.0; COUNT],
    };

    /// About a front's instant; `field` gives pressure (hPa at 45 degrees' contrasts) and vorticity over the
    /// Coriolis parameter of 45 degrees at an instant.
    pub(super) fn about(front_s: f64, mut field: impl FnMut(f64) -> (f64, f64)) -> Self {
        let from_s = front_s - BEFORE * STEP_S;
        let at = |n: usize| from_s + (n as f64 - 1.0) * STEP_S;
        let (mut before, mut now) = (field(at(0)), field(at(1)));
        let values = core::array::from_fn(|n| {
            let after = field(at(n + 2));
            let rise = (after.0 - before.0) * (3.0 * HOUR_S / (2.0 * STEP_S));
            let vorticity = now.1.clamp(-0.5, 0.8);
            let turning = if vorticity > 0.0 { IN_LOWS } else { IN_HIGHS };
            (before, now) = (now, after);
            turning * vorticity - FALLING * rise
        });
        Self { from_s, values }
    }

    /// What the chance of rain is multiplied by at an instant.
    pub(super) fn favour(&self, time_s: f64) -> f64 {
        let last = (COUNT - 1) as f64;
        let position = ((time_s - self.from_s) / STEP_S).clamp(0.0, last - 1e-9);
        let cell = position as usize;
        let (a, b) = (self.values[cell], self.values[cell + 1]);
        let value = a + (b - a) * (position - cell as f64);
        libm::exp(value.clamp(LEAST, MOST))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rain_is_likelier_in_falling_pressure_and_hardly_comes_in_a_high() {
        let falling = Ascent::about(0.0, |time_s| (-time_s / (3.0 * HOUR_S), 0.0));
        assert!((falling.favour(7200.0) - libm::exp(FALLING)).abs() < 1e-9);
        let high = Ascent::about(0.0, |_| (15.0, -0.3));
        assert!(high.favour(0.0) < 0.2);
        let low = Ascent::about(0.0, |_| (-15.0, 0.5));
        assert!(low.favour(0.0) > 1.2);
        assert_eq!(Ascent::NONE.favour(1e9), 1.0);
    }
}
