//! Ultraviolet index, ozone, illuminance and twilight.

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

/// Illuminance on a horizontal plane under a cloudless moonless sky, lx, by the sun's true elevation in
/// degrees; 0 below -18 degrees, where astronomical night begins.
///
/// Source: Seidelmann (ed.) 1992, Explanatory Supplement to the Astronomical Almanac, section 9.3: the
/// logarithm as cubics in the elevation over 90 degrees (coefficients from memory; they meet the handbooks'
/// 3.4 lx at -6, 0.008 lx at -12 and 0.0006 lx at -18 degrees). Here for -18 to 20 degrees; above, 20.
#[must_use]
pub fn low_sun_illuminance_lx(true_elevation_deg: f64) -> f64 {
    let [a, b, c, d] = match true_elevation_deg {
        e if e < -18.0 => return 0.0,
        e if e < -12.0 => [13.84, 262.72, 1447.42, 2797.93],
        e if e < -5.0 => [2.70, 12.17, -431.69, -1899.83],
        e if e < -0.8 => [2.88, 21.81, -258.11, -858.36],
        e if e < 5.0 => [2.88, 22.26, -207.64, 1034.30],
        _ => [3.05, 13.28, -45.98, 64.33],
    };
    let x = true_elevation_deg.min(20.0) / 90.0;
    libm::pow(10.0, a + x * (b + x * (c + x * d)))
}

/// What aerosol leaves of the clear-air UV index, by Linke turbidity (1 is clean and dry air).
///
/// Common practice, no source: 0.92 in ordinary clean air (turbidity 3), 0.85 in haze (5). The direction is
/// that of the clear-air formula standing about one index too high at an unpolluted lowland place.
#[must_use]
pub fn ultraviolet_aerosol_factor(linke_turbidity: f64) -> f64 {
    libm::exp(-0.04 * (linke_turbidity - 1.0).max(0.0))
}

/// UV index over that at sea level, by altitude in m: 8 % a kilometre (WHO 2002, Global Solar UV Index,
/// gives up to 10 to 12 %, measurements in clean mountain air 6 to 8 %; both from memory).
#[must_use]
pub fn ultraviolet_altitude_factor(altitude_m: f64) -> f64 {
    1.0 + 8.0e-5 * altitude_m.max(-400.0)
}

/// UV index under cloud over that without, by the same ratio of global irradiance (the clear-sky index).
///
/// Cloud takes less of the ultraviolet than of all light: about the 0.7th power of the ratio (after the
/// review of Calbo, Pages & Gonzalez 2005, Rev. Geophys. 43, from memory), here `x (1.55 - 0.55 x)`, within
/// 0.05 of it; bright cloud sides enhance it half as much as all light (common practice, no source).
#[must_use]
pub fn ultraviolet_cloud_factor(clear_sky_index: f64) -> f64 {
    if clear_sky_index < 1.0 {
        clear_sky_index.max(0.0) * (1.55 - 0.55 * clear_sky_index)
    } else {
        1.0 + 0.5 * (clear_sky_index - 1.0)
    }
}
