//! Ultraviolet index, ozone and illuminance.

/// UV index under a clean, cloudless sky at sea level.
///
/// Source: Madronich 2007, Photochem. Photobiol. 83: `12.5 mu^2.42 (O3/300)^-1.23`; `sine_elevation` is
/// the cosine of the zenith angle, ozone in Dobson units (200 to 400). An upper value: no aerosol.
#[must_use]
pub fn clear_ultraviolet_index(sine_elevation: f64, ozone_du: f64) -> f64 {
    if sine_elevation <= 0.0 {
        return 0.0;
    }
    12.5 * libm::pow(sine_elevation, 2.42) * libm::pow(ozone_du / 300.0, -1.23)
}

/// Column ozone, Dobson units, by latitude and longitude (degrees) and day of the year.
///
/// Source: Van Heuklon 1979, Solar Energy 22 (coefficients from memory); a smooth climate mean, about
/// 235 to 470 DU.
#[must_use]
pub fn mean_ozone_du(latitude_deg: f64, longitude_deg: f64, day_of_year: f64) -> f64 {
    let north = latitude_deg >= 0.0;
    let (a, beta, c, f, h, i) = if north {
        let i = if longitude_deg > 0.0 { 20.0 } else { 0.0 };
        (150.0, 1.28, 40.0, -30.0, 3.0, i)
    } else {
        (100.0, 1.5, 30.0, 152.625, 2.0, -75.0)
    };
    let season = c * libm::sin((0.9865 * (day_of_year + f)).to_radians());
    let wave = 20.0 * libm::sin((h * (longitude_deg + i)).to_radians());
    let sine = libm::sin((beta * latitude_deg).to_radians());
    235.0 + (a + season + wave) * sine * sine
}

/// Luminous efficacy of direct sunlight, lm/W, by the sine of the sun's elevation.
///
/// Littlefair 1985 (Lighting Res. Technol. 17) reviews 70 to 105 lm/W, rising with the sun; here linear
/// in the sine from 70 at 10 degrees to 105 at 60 degrees and above (shape: common practice, no source).
#[must_use]
pub fn direct_efficacy_lm_per_w(sine_elevation: f64) -> f64 {
    (61.22 + 50.6 * sine_elevation).clamp(55.0, 105.0)
}

/// Luminous efficacy of the diffuse sky, lm/W: 130 when clear, 112 when overcast, in between by the
/// share of cloud that the sky shows. Source: Littlefair 1985 and 1988 (130 to 144; 110 to 115).
#[must_use]
pub fn diffuse_efficacy_lm_per_w(cloud_share: f64) -> f64 {
    130.0 - 18.0 * cloud_share
}
