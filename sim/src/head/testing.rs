//! Exposures that unit tests start from.

use crate::physics::moist_air::saturation_vapour_pressure_hpa;
use crate::site::Exposure;
use crate::truth::{WIND_SAMPLES, WindSample};

/// 16 s of calm, dark, dry air at 20 degC and 60 %.
pub(crate) fn still_air() -> Exposure {
    let saturation = saturation_vapour_pressure_hpa(20.0);
    Exposure {
        interval_s: 16.0,
        air_temperature_degc: 20.0,
        vapour_pressure_hpa: 0.6 * saturation,
        saturation_vapour_pressure_hpa: saturation,
        relative_humidity_percent: 60.0,
        air_pressure_hpa: 1013.25,
        wind: [WindSample::default(); WIND_SAMPLES],
        wind_speed_ms: 0.0,
        rainfall_mm: 0.0,
        global_irradiance_wm2: 0.0,
        direct_normal_irradiance_wm2: 0.0,
        direct_share: 0.0,
        sun_up: 0.0,
        reflected_irradiance_wm2: 0.0,
        net_longwave_wm2: 0.0,
        snowfall_mm: 0.0,
        wet_bulb_degc: 15.0,
        illuminance_lx: 0.0,
        ultraviolet_index: 0.0,
    }
}

/// The same with a wind from one direction.
pub(crate) fn with_wind(speeds_ms: &[f64; WIND_SAMPLES], from_direction_deg: f64) -> Exposure {
    let mut exposure = still_air();
    exposure.wind = speeds_ms.map(|speed_ms| WindSample {
        speed_ms,
        from_direction_deg,
    });
    exposure.wind_speed_ms = speeds_ms.iter().sum::<f64>() / WIND_SAMPLES as f64;
    exposure
}
