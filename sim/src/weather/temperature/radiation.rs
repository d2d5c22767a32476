//! Radiation at the ground: what it reflects, what the sky sends down, what fog does to both.

/// Stefan-Boltzmann constant, W/(m2 K4).
const STEFAN_BOLTZMANN: f64 = 5.670_374e-8;
/// Emissivity of ground, grass and snow in the long waves (0.95 to 0.99; Oke 1987, table 1.1, from memory).
pub(super) const EMISSIVITY: f64 = 0.98;
/// 0 degC in kelvin.
pub(super) const ICE_POINT_K: f64 = 273.15;
/// Light that dense fog takes from the ground (common practice, no source: 30 to 60 %).
const FOG_DIMMING: f64 = 0.4;

/// Net long-wave loss of the ground, W/m2, by air temperature (degC), vapour pressure (hPa) and cloud.
///
/// Source: FAO Irrigation and Drainage Paper 56, eq. 39 (Brunt's emissivity); cloud by a factor of
/// 1 - 0.85 cover (common practice, no source). Fair weather and moist air to 30 hPa; never below 0.
#[must_use]
pub fn long_wave_loss_wm2(
    temperature_degc: f64,
    vapour_pressure_hpa: f64,
    cloud_area_fraction: f64,
) -> f64 {
    let emissivity = 0.34 - 0.14 * (vapour_pressure_hpa / 10.0).sqrt();
    (black_body_wm2(temperature_degc + ICE_POINT_K)
        * emissivity
        * (1.0 - 0.85 * cloud_area_fraction))
        .max(0.0)
}

pub(super) fn black_body_wm2(kelvin: f64) -> f64 {
    let square = kelvin * kelvin;
    STEFAN_BOLTZMANN * square * square
}

/// Emissivity of a cloudless sky by screen temperature (K) and vapour pressure (hPa).
///
/// Prata 1996, Q. J. R. Meteorol. Soc. 122, eq. 18 (from memory): `1 - (1 + w) exp(-sqrt(1.2 + 3 w))` with
/// w = 46.5 e/T, cm of precipitable water. From polar winter air (0.1 hPa) to 35 hPa.
pub(super) fn clear_sky_emissivity(kelvin: f64, vapour_pressure_hpa: f64) -> f64 {
    let w = 46.5 * vapour_pressure_hpa / kelvin;
    1.0 - (1.0 + w) * libm::exp(-(1.2 + 3.0 * w).sqrt())
}

/// Long-wave irradiance from the sky, W/m2, below a cover of cloud.
///
/// A cloud radiates as a black body through the window that the vapour leaves open; its base stands 125 m
/// per kelvin of dew-point spread above the ground (Espy's rule, to 3000 m) in air that cools by
/// 6.5 K/km (ISO 2533).
pub(super) fn sky_wm2(kelvin: f64, vapour_pressure_hpa: f64, spread_k: f64, cover: f64) -> f64 {
    let clear = clear_sky_emissivity(kelvin, vapour_pressure_hpa);
    let base_m = (125.0 * spread_k).clamp(100.0, 3000.0);
    clear * black_body_wm2(kelvin)
        + (1.0 - clear) * cover * black_body_wm2(kelvin - 0.0065 * base_m)
}

/// Share of the light that comes through fog, by the share of fog.
pub(crate) fn through_fog(fog: f64) -> f64 {
    1.0 - FOG_DIMMING * fog
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn net_radiation_of_the_published_example() {
        // FAO Irrigation and Drainage Paper 56, example 11 (from memory): Rio de Janeiro in May, 25.1 and
        // 19.1 degC, 2.1 kPa, Rs/Rso = 0.77: net long wave 3.5 MJ/m2 a day = 40.5 W/m2, cloud factor
        // 1.35*0.77 - 0.35 = 0.69. The cloudless loss is then 58.8 W/m2.
        let loss = long_wave_loss_wm2(22.1, 21.0, 0.0);
        assert!((loss - 40.5 / 0.69).abs() < 2.5, "{loss}");
    }

    #[test]
    fn a_clear_sky_is_colder_than_a_cloudy_one_and_dry_air_than_moist() {
        let of = |t: f64, e: f64| clear_sky_emissivity(t + ICE_POINT_K, e);
        // Brunt's form of the paper above at 15 degC and 10 hPa: 1 - 0.34 + 0.14 = 0.80.
        assert!((of(15.0, 10.0) - 0.80).abs() < 0.03, "{}", of(15.0, 10.0));
        assert!(of(-30.0, 0.3) < 0.7 && of(30.0, 35.0) > 0.88);
        let sky = |cover: f64| sky_wm2(288.0, 10.0, 4.0, cover);
        let loss = black_body_wm2(288.0) - sky(1.0);
        assert!(sky(0.0) < sky(0.5) && (2.0..25.0).contains(&loss), "{loss}");
    }
}
