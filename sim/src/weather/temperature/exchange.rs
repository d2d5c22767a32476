//! Turbulent exchange between the ground and the air 10 m above it.

/// Roughness length of the open ground of a reference station for momentum and for heat, m: short grass
/// (WMO-No. 8, Part I, chapter 5, roughness class 4; heat a tenth of it, Garratt 1992, from memory).
const ROUGHNESS_M: f64 = 0.03;
/// Height of the wind and of the air that exchanges with the ground, m.
pub(super) const LEVEL_M: f64 = 10.0;
/// ln(10/0.03) and ln(10/0.003), and ln(10/2).
const LOG_MOMENTUM: f64 = 5.809_142_990_314_028;
const LOG_HEAT: f64 = 8.111_728_083_308_073;
const LOG_ABOVE_SCREEN: f64 = 1.609_437_912_434_1;
/// von Karman's constant squared.
const KARMAN_SQUARED: f64 = 0.16;
/// Neutral bulk coefficient of heat and vapour.
const NEUTRAL: f64 = KARMAN_SQUARED / (LOG_MOMENTUM * LOG_HEAT);
/// Gravity, m/s2.
const GRAVITY: f64 = 9.81;
/// Wind that there always is over some minutes, m/s (common practice, no source).
const LEAST_WIND_MS: f64 = 0.8;

/// Largest share of the difference between 10 m and ground above 2 m: in very stable air, grass and hollows
/// keep more of it to themselves than the profile says (common practice, no source).
const MOST_ABOVE_SCREEN: f64 = 0.4;

/// Bulk exchange of heat and vapour.
#[derive(Debug, Clone, Copy)]
pub(super) struct Exchange {
    /// Velocity of exchange between ground and 10 m, m/s.
    pub(super) velocity_ms: f64,
    /// Share of the difference between 10 m and ground that lies above 2 m.
    pub(super) above_screen: f64,
}

/// Exchange by wind at 10 m (m/s), convective velocity (m/s), excess of the ground over the air (K), and air
/// temperature (K).
///
/// Bulk Richardson number. Unstable: Louis, Tiedtke & Geleyn 1982 (ECMWF workshop on boundary layer
/// parametrisation; b = c = 5, from memory). Stable: the long-tailed `1/(1 + 10 Ri)` (King, Connolley &
/// Derbyshire 2001, Q. J. R. Meteorol. Soc. 127, from memory), which stands for the mean over a landscape
/// where some mixing goes on in every night. Convection adds 1.2 w* to the wind (Beljaars 1995,
/// Q. J. R. Meteorol. Soc. 121, from memory). The temperature at 2 m follows the log-linear profile (Dyer
/// 1974, `1 + 5 z/L`) that has the same exchange; in convection the share above 2 m shrinks with the root
/// of the exchange (common practice, no source).
pub(super) fn exchange(wind_ms: f64, convective_ms: f64, excess_k: f64, kelvin: f64) -> Exchange {
    let gusts = 1.2 * convective_ms;
    let square = wind_ms * wind_ms + gusts * gusts + LEAST_WIND_MS * LEAST_WIND_MS;
    let speed = square.sqrt();
    let richardson = -GRAVITY * LEVEL_M * excess_k / (kelvin * square);
    if richardson >= 0.0 {
        let factor = 1.0 / (1.0 + 10.0 * richardson);
        // (Lm + y)(Lh + y) = Lm Lh / factor, where y = 5 * 10 m / L.
        let (half, product) = (0.5 * (LOG_MOMENTUM + LOG_HEAT), LOG_MOMENTUM * LOG_HEAT);
        let y = (half * half - product + product / factor).sqrt() - half;
        Exchange {
            velocity_ms: NEUTRAL * speed * factor,
            above_screen: ((LOG_ABOVE_SCREEN + 0.8 * y) / (LOG_HEAT + y)).min(MOST_ABOVE_SCREEN),
        }
    } else {
        let root = (-richardson * (1.0 + LEVEL_M / ROUGHNESS_M)).sqrt();
        let factor = 1.0 - 15.0 * richardson / (1.0 + 75.0 * NEUTRAL * root);
        Exchange {
            velocity_ms: NEUTRAL * speed * factor,
            above_screen: LOG_ABOVE_SCREEN / LOG_HEAT / factor.sqrt(),
        }
    }
}

/// Convective velocity scale, m/s, from the upward flux of heat (K m/s), the depth (m) and temperature (K)
/// of the mixed layer: Deardorff 1970, J. Atmos. Sci. 27.
pub(super) fn convective_ms(flux_kms: f64, depth_m: f64, kelvin: f64) -> f64 {
    if flux_kms <= 0.0 {
        return 0.0;
    }
    libm::cbrt(GRAVITY / kelvin * flux_kms * depth_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logs_are_what_they_say() {
        assert!((libm::log(LEVEL_M / ROUGHNESS_M) - LOG_MOMENTUM).abs() < 1e-9);
        assert!((libm::log(10.0 * LEVEL_M / ROUGHNESS_M) - LOG_HEAT).abs() < 1e-9);
        assert!((libm::log(LEVEL_M / 2.0) - LOG_ABOVE_SCREEN).abs() < 1e-9);
    }

    #[test]
    fn stable_air_exchanges_little_and_hot_ground_much() {
        let at = |excess: f64| exchange(3.0, 0.0, excess, 288.0);
        let neutral = at(0.0);
        let square = 9.0 + LEAST_WIND_MS * LEAST_WIND_MS;
        assert!((neutral.velocity_ms / square.sqrt() - NEUTRAL).abs() < 1e-12);
        assert!((neutral.above_screen - 0.198).abs() < 0.01);
        let mut last = exchange(3.0, 0.0, -30.0, 288.0);
        for k in -29..30 {
            let next = at(f64::from(k));
            assert!(next.velocity_ms > last.velocity_ms, "{k}");
            assert!(next.above_screen <= last.above_screen && last.above_screen < 0.8);
            last = next;
        }
        // At a bulk Richardson number of 1 an eleventh of the neutral exchange is left.
        let square = 1.0 + LEAST_WIND_MS * LEAST_WIND_MS;
        let calm = exchange(1.0, 0.0, -288.0 * square / (GRAVITY * LEVEL_M), 288.0);
        let left = calm.velocity_ms / (NEUTRAL * square.sqrt());
        assert!((left - 1.0 / 11.0).abs() < 1e-6, "{left}");
    }
}
