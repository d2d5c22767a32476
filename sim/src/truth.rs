//! What the weather really is at one point over one interval: free air at the height of the head.

use crate::physics::sun::SunDirection;

/// Short means of the wind in one interval, from which mean, gust and vane follow.
pub const WIND_SAMPLES: usize = 4;

/// One short mean of the wind.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WindSample {
    /// Speed, m/s.
    pub speed_ms: f64,
    /// Where it comes from, degrees clockwise from true north, in [0, 360).
    pub from_direction_deg: f64,
}

/// Free-air truth over the interval that ends at `time_us`.
///
/// Instantaneous quantities are at the end of the interval; wind and rain cover the whole of it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Truth {
    /// End of the interval, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// Length of the interval, s.
    pub interval_s: f64,
    /// Air temperature, degC.
    pub air_temperature_degc: f64,
    /// Dew point over water, degC; never above the air temperature.
    pub dew_point_degc: f64,
    /// Vapour pressure, hPa.
    pub vapour_pressure_hpa: f64,
    /// Relative humidity over water, percent, 0 to 100.
    pub relative_humidity_percent: f64,
    /// Pressure at station level, hPa.
    pub air_pressure_hpa: f64,
    /// Short means of the wind, in order of time.
    pub wind: [WindSample; WIND_SAMPLES],
    /// Mean speed of the interval, m/s.
    pub wind_speed_ms: f64,
    /// Highest short mean of the interval, m/s.
    pub wind_speed_of_gust_ms: f64,
    /// Direction of the mean wind vector, degrees clockwise from true north, in [0, 360).
    pub wind_from_direction_deg: f64,
    /// Rain that fell in the interval, mm: its liquid part.
    pub rainfall_mm: f64,
    /// Snow that fell in the interval, mm of water.
    pub snowfall_mm: f64,
    /// Wet-bulb temperature, degC; between dew point and air temperature.
    pub wet_bulb_degc: f64,
    /// Net long-wave irradiance of an upward plane at air temperature, W/m2; negative is a loss.
    pub net_longwave_wm2: f64,
    /// Share of the sky covered by cloud, 0 to 1.
    pub cloud_area_fraction: f64,
    /// Where the sun stands.
    pub sun: SunDirection,
    /// Global irradiance on a horizontal plane, W/m2.
    pub global_irradiance_wm2: f64,
    /// Direct irradiance on a plane that faces the sun, W/m2.
    pub direct_normal_irradiance_wm2: f64,
    /// Diffuse irradiance on a horizontal plane, W/m2.
    pub diffuse_irradiance_wm2: f64,
    /// Illuminance on a horizontal plane, lx.
    pub illuminance_lx: f64,
    /// UV index.
    pub ultraviolet_index: f64,
}
