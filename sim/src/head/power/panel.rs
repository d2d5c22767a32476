//! The solar panel: a string of thin-film cells under a cover, coupled through a diode straight to the store.

use super::cells::interpolate;
use crate::head::relaxation::decay;

/// Short-circuit current of the string at 1000 W/m2 and 25 degC, A per m2 of panel: five strips of amorphous silicon at
/// 12 mA/cm2, half of it after cover and rims (common practice, no source).
pub const CURRENT_A_M2: f64 = 12.0;
/// Growth of that current with temperature, share per K (amorphous silicon, from memory).
pub const CURRENT_PER_K: f64 = 0.001;
/// Open-circuit voltage of the string at 1000 W/m2 and 25 degC, V: five cells of 0.8 V (from memory).
pub const OPEN_V: f64 = 4.0;
/// Fall of that voltage with temperature, V per K: 0.3 % (from memory).
pub const OPEN_V_PER_K: f64 = 0.012;
/// Ideality times the thermal voltage of the string at 25 degC, V: five cells of 1.8 x 25.7 mV (from memory).
pub const SLOPE_V: f64 = 0.231;
/// Leak of the string past its junctions, A per V and m2 of panel: what makes a small panel useless in the dusk (common practice,
/// no source).
pub const SHUNT_A_V_M2: f64 = 0.125;
/// Drop of the diode between panel and store, V (common practice, no source).
pub const DIODE_V: f64 = 0.2;
/// Warming of the panel above the air, K per W/m2 (the 20 to 25 K of a panel under 800 W/m2, from memory).
pub const WARMING_K_M2_W: f64 = 0.028;
/// Snow through which a third of the light passes, mm of water (common practice, no source: some centimetres of fresh snow
/// are dark).
pub const SNOW_MM: f64 = 1.0;

/// Current that a panel feeds into a store, A, never negative: the one-diode law with a shunt.
///
/// `panel_m2`; `irradiance_wm2` on the panel; `temperature_degc` of the air; `store_v`. Source: one-diode model of a
/// solar cell (textbook, from memory), without series resistance. Validity: 0 to 1400 W/m2, -50 to 50 degC.
#[must_use]
pub fn current_a(panel_m2: f64, irradiance_wm2: f64, temperature_degc: f64, store_v: f64) -> f64 {
    if irradiance_wm2 <= 0.0 {
        return 0.0;
    }
    let over_k = temperature_degc + WARMING_K_M2_W * irradiance_wm2 - 25.0;
    let light = 1e-3 * irradiance_wm2 * (1.0 + CURRENT_PER_K * over_k);
    let volt = store_v + DIODE_V;
    let leak = SHUNT_A_V_M2 * volt;
    let most = CURRENT_A_M2 * light - leak;
    if most <= 0.0 {
        return 0.0;
    }
    let below_open = OPEN_V - OPEN_V_PER_K * over_k - volt;
    if below_open <= 0.0 {
        return 0.0;
    }
    let knee = decay(below_open * (1.0 / SLOPE_V));
    panel_m2 * (most - CURRENT_A_M2 * knee).max(0.0)
}

/// Share of the light that passes snow of `snow_mm` (mm of water) on the panel: Beer's law.
#[must_use]
pub fn through_snow(snow_mm: f64) -> f64 {
    decay(snow_mm * (1.0 / SNOW_MM))
}

/// Snow that slides off a panel in an hour, share of what lies on it, by air temperature, degC: it stands at a slant and clears
/// itself in the first thaw (common practice, no source).
const SLIDING: [(f64, f64); 4] = [(-15.0, 0.01), (-5.0, 0.03), (0.0, 0.3), (3.0, 3.0)];

/// Snow left on the panel after so many hours without new snow, mm of water.
#[must_use]
pub fn snow_left_mm(snow_mm: f64, temperature_degc: f64, irradiance_wm2: f64, hours: f64) -> f64 {
    // What light comes through warms the panel from below.
    let warm = temperature_degc + 0.01 * irradiance_wm2;
    let left = snow_mm * (1.0 - interpolate(&SLIDING, warm) * hours).max(0.0);
    if left > 1e-3 { left } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hand calculation at 25 degC of the panel: 800 W/m2 on 16 cm2, store at 2.5 V.
    #[test]
    fn the_current_is_that_of_the_one_diode_law() {
        let air = 25.0 - 0.028 * 800.0;
        let knee = libm::exp((2.7 - 4.0) / 0.231);
        let expected = 16e-4 * (12.0 * 0.8 - 0.125 * 2.7 - 12.0 * knee);
        let current = current_a(16e-4, 800.0, air, 2.5);
        assert!((current - expected).abs() < 1e-6, "{current} {expected}");
        assert!((0.012..0.020).contains(&current), "{current} A");
    }

    #[test]
    fn a_warm_panel_gives_less_and_dusk_gives_nothing() {
        let (cold, hot) = (
            current_a(16e-4, 1000.0, -20.0, 2.7),
            current_a(16e-4, 1000.0, 50.0, 2.7),
        );
        assert!(hot < 0.95 * cold, "{hot} {cold}");
        let mut last = 0.0;
        for watt in [0.0, 10.0, 20.0, 50.0, 100.0, 400.0, 1000.0] {
            let current = current_a(16e-4, watt, 10.0, 2.5);
            assert!(current >= last, "{watt}");
            assert_eq!(current > 0.0, watt > 30.0, "{watt}: {current}");
            last = current;
        }
    }

    #[test]
    fn snow_hides_the_panel_until_it_slides() {
        assert_eq!(through_snow(0.0), 1.0);
        assert!(through_snow(5.0) < 0.01);
        assert_eq!(snow_left_mm(5.0, 5.0, 0.0, 1.0), 0.0);
        assert!(snow_left_mm(5.0, -20.0, 0.0, 24.0) > 3.0);
    }
}
