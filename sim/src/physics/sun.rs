//! Where the sun stands and what a clear sky lets through.

use crate::site::Place;
use solar_positioning::time::JulianDate;
use solar_positioning::{Location, SolarPosition, SolarPositions};

/// Unit vector towards the sun: east, north, up.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SunDirection {
    /// East component.
    pub east: f64,
    /// North component.
    pub north: f64,
    /// Up component: the sine of the true elevation.
    pub up: f64,
}

impl SunDirection {
    /// Elevation above the true horizon without refraction, degrees.
    #[must_use]
    pub fn elevation_deg(&self) -> f64 {
        libm::asin(self.up.clamp(-1.0, 1.0)).to_degrees()
    }
    /// Azimuth clockwise from true north, degrees in [0, 360).
    #[must_use]
    pub fn azimuth_deg(&self) -> f64 {
        let azimuth = libm::atan2(self.east, self.north).to_degrees();
        if azimuth < 0.0 {
            azimuth + 360.0
        } else {
            azimuth
        }
    }
    /// Direction from true elevation and azimuth, degrees.
    #[must_use]
    pub fn from_angles(elevation_deg: f64, azimuth_deg: f64) -> Self {
        let elevation = elevation_deg.to_radians();
        let azimuth = azimuth_deg.to_radians();
        let level = libm::cos(elevation);
        Self {
            east: level * libm::sin(azimuth),
            north: level * libm::cos(azimuth),
            up: libm::sin(elevation),
        }
    }
}

/// Terrestrial minus universal time, s, near the year 2020 (from memory: 69.2). A whole decade's drift
/// of it moves the sun by less than 0.0001 degrees.
const DELTA_T_S: f64 = 69.2;

/// Where the sun stands at an instant given in seconds since 1970-01-01T00:00:00Z.
///
/// Source: Grena 2012, Solar Energy 86:1323, algorithm 3 (0.01 degrees, 2010 to 2110), by a library.
/// Outside those years it falls back to the NREL solar position algorithm (Reda & Andreas 2004).
/// No refraction; seen from the Earth's surface at sea level.
#[must_use]
pub fn position(time_s: f64, place: &Place) -> SunDirection {
    let located = at(SolarPositions::grena3(), time_s, DELTA_T_S, place, 0.0).or_else(|| {
        at(
            SolarPositions::new(),
            time_s,
            DELTA_T_S,
            place,
            place.altitude_m,
        )
    });
    located.map_or(SunDirection::default(), |p| {
        SunDirection::from_angles(p.elevation_angle(), p.azimuth())
    })
}

/// The same by the NREL solar position algorithm (Reda & Andreas 2004; 0.0003 degrees, years -2000 to
/// 6000), some twenty times slower; `delta_t_s` is terrestrial minus universal time. `None` where the
/// library refuses the place or the time.
#[must_use]
pub fn precise_position(time_s: f64, delta_t_s: f64, place: &Place) -> Option<SunDirection> {
    at(
        SolarPositions::new(),
        time_s,
        delta_t_s,
        place,
        place.altitude_m,
    )
    .map(|p| SunDirection::from_angles(p.elevation_angle(), p.azimuth()))
}

fn at(
    model: SolarPositions,
    time_s: f64,
    delta_t_s: f64,
    place: &Place,
    height_m: f64,
) -> Option<SolarPosition> {
    let time = JulianDate::new(2_440_587.5 + time_s / 86_400.0, delta_t_s).ok()?;
    let location = Location {
        latitude: place.latitude_deg,
        longitude: place.longitude_deg,
    };
    model.at_from_julian(time, location, height_m, None).ok()
}

/// Refraction, degrees, to be added to a true elevation in degrees.
///
/// Source: NREL solar position algorithm (Reda & Andreas 2004, eq. 42; after Meeus); above about
/// -0.8 degrees, zero below; pressure in hPa, temperature in degC.
#[must_use]
pub fn refraction_deg(true_elevation_deg: f64, pressure_hpa: f64, temperature_degc: f64) -> f64 {
    if true_elevation_deg < -0.8333 {
        return 0.0;
    }
    let angle = true_elevation_deg + 10.3 / (true_elevation_deg + 5.11);
    (pressure_hpa / 1010.0) * (283.0 / (273.0 + temperature_degc)) * 1.02
        / (60.0 * libm::tan(angle.to_radians()))
}

/// Irradiance above the atmosphere on a plane that faces the sun, W/m2, by day of the year (1.0 is the
/// start of 1 January).
///
/// Source: Spencer 1971 with a solar constant of 1366.1 W/m2 (ASTM E490).
#[must_use]
pub fn extraterrestrial_wm2(day_of_year: f64) -> f64 {
    let day = core::f64::consts::TAU * (day_of_year - 1.0) / 365.0;
    let (sin1, cos1) = libm::sincos(day);
    let (sin2, cos2) = libm::sincos(2.0 * day);
    1366.1 * (1.00011 + 0.034221 * cos1 + 0.00128 * sin1 + 0.000719 * cos2 + 0.000077 * sin2)
}

/// Relative optical air mass by refracted elevation, degrees.
///
/// Source: Kasten & Young 1989, Appl. Opt. 28:4735; 0 to 90 degrees.
#[must_use]
pub fn air_mass(refracted_elevation_deg: f64) -> f64 {
    let elevation = refracted_elevation_deg.max(0.0);
    1.0 / (libm::sin(elevation.to_radians()) + 0.50572 * libm::pow(elevation + 6.07995, -1.6364))
}

/// Irradiance under a cloudless sky, W/m2.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ClearSky {
    /// Global on a horizontal plane.
    pub global_wm2: f64,
    /// Direct on a plane that faces the sun.
    pub direct_normal_wm2: f64,
    /// Diffuse on a horizontal plane.
    pub diffuse_wm2: f64,
}

/// Clear-sky irradiance by refracted elevation (degrees), pressure (hPa), altitude (m), irradiance above
/// the atmosphere (W/m2) and Linke turbidity (2 very clean, 3 clean, 5 hazy).
///
/// Source: Ineichen & Perez 2002, Solar Energy 73:151, without the enhancement factor of Perez; the
/// direct-diffuse split is theirs too. Zero when the sun is down.
#[must_use]
pub fn clear_sky(
    refracted_elevation_deg: f64,
    pressure_hpa: f64,
    altitude_m: f64,
    extraterrestrial_wm2: f64,
    linke_turbidity: f64,
) -> ClearSky {
    let sine = libm::sin(refracted_elevation_deg.to_radians());
    if sine <= 0.0 {
        return ClearSky::default();
    }
    let mass = air_mass(refracted_elevation_deg) * pressure_hpa / 1013.25;
    let fh1 = libm::exp(-altitude_m / 8000.0);
    let fh2 = libm::exp(-altitude_m / 1250.0);
    let cg1 = 5.09e-5 * altitude_m + 0.868;
    let cg2 = 3.92e-5 * altitude_m + 0.0387;
    let global = cg1
        * extraterrestrial_wm2
        * sine
        * libm::exp(-cg2 * mass * (fh1 + fh2 * (linke_turbidity - 1.0)));
    let b = 0.664 + 0.163 / fh1;
    let direct = extraterrestrial_wm2 * b * libm::exp(-0.09 * mass * (linke_turbidity - 1.0));
    let ceiling = global
        * ((1.0 - (0.1 - 0.2 * libm::exp(-linke_turbidity)) / (0.1 + 0.882 / fh1)) / sine).max(0.0);
    let direct = direct.max(0.0).min(ceiling);
    ClearSky {
        global_wm2: global,
        direct_normal_wm2: direct,
        diffuse_wm2: global - direct * sine,
    }
}
