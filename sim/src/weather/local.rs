//! The point's own fine structure on top of the slow state, step by step. Every step draws the same number
//! of variates whatever the weather.

use super::cloud::Shadow;
use super::daylight::Path;
use super::knot::Slow;
use super::rain::Fall;
use super::wind::{Step, Turbulence};
use crate::entropy::{Seed, Stream};
use crate::physics::moist_air::{dew_point_degc, saturation_vapour_pressure_hpa};
use crate::site::{Place, Site};
use crate::truth::Truth;

/// Memory of the fine structure of temperature and vapour, s, and of pressure (common practice, no source).
const EDDY_S: f64 = 60.0;
const WAVE_S: f64 = 400.0;
/// Time in which the air near the ground follows sun and shade, s.
const SHADE_S: f64 = 200.0;

#[derive(Debug, Clone)]
pub(crate) struct Local {
    path: Path,
    shadow: Shadow,
    turbulence: Turbulence,
    stream: Stream,
    eddy: Step,
    wave: Step,
    shade: f64,
    temperature: f64,
    vapour: f64,
    pressure: f64,
    shaded: f64,
}

impl Local {
    pub(crate) fn new(place: Place, site: Site, seed: Seed, owner: &str, interval_s: f64) -> Self {
        Self {
            path: Path::new(place),
            shadow: Shadow::new(seed, owner, interval_s),
            turbulence: Turbulence::new(seed.stream(owner, "turbulence"), &site, interval_s),
            stream: seed.stream(owner, "fine air"),
            eddy: Step::new(interval_s, EDDY_S),
            wave: Step::new(interval_s, WAVE_S),
            shade: 1.0 - libm::exp(-interval_s / SHADE_S),
            temperature: 0.0,
            vapour: 0.0,
            pressure: 0.0,
            shaded: 0.0,
        }
    }

    pub(crate) fn step(&mut self, time_us: i64, interval_s: f64, slow: &Slow, fall: Fall) -> Truth {
        let day = self.path.at(super::seconds(time_us));
        let light = self
            .shadow
            .step(interval_s, &slow.optics, slow.wind_ms, fall, &day);
        let blow = self.turbulence.step(
            slow.wind_ms,
            slow.wind_from_deg,
            slow.heat_flux_wm2,
            slow.stable,
        );

        let [warm, moist, wave] = core::array::from_fn(|_| self.stream.normal());
        self.temperature = self.eddy.next(self.temperature, warm);
        self.vapour = self.eddy.next(self.vapour, moist);
        self.pressure = self.wave.next(self.pressure, wave);
        self.shaded += (light.shade - self.shaded) * self.shade;
        let eddy_k = 0.03 + 0.0004 * slow.heat_flux_wm2;
        let shade_k = -0.9 * self.shaded / (1.0 + 0.25 * slow.wind_ms);
        let temperature = slow.temperature_degc
            + slow.fineness * eddy_k * self.temperature
            + slow.freedom * shade_k;
        let outflow = fall.outflow.unwrap_or_default();
        let temperature = temperature + outflow.cooled * (slow.wet_bulb_degc - temperature);
        let saturation = saturation_vapour_pressure_hpa(temperature);
        let eddy_share = 0.003 + 0.00002 * slow.heat_flux_wm2;
        let wanted = slow.vapour_pressure_hpa * (1.0 + slow.fineness * eddy_share * self.vapour);
        let vapour = wanted.min(saturation).max(1e-4);
        // The inverse of the saturation formula may round up past the temperature.
        let dew_point = dew_point_degc(vapour).min(temperature);

        let cover = slow.cover + (0.95 - slow.cover).max(0.0) * fall.cloud;
        Truth {
            time_us,
            interval_s,
            air_temperature_degc: temperature,
            dew_point_degc: dew_point,
            vapour_pressure_hpa: vapour,
            relative_humidity_percent: (100.0 * vapour / saturation).min(100.0),
            air_pressure_hpa: slow.pressure_hpa
                + outflow.pressure_hpa
                + slow.fineness * 0.025 * self.pressure,
            wind: blow.samples,
            wind_speed_ms: blow.mean_ms,
            wind_speed_of_gust_ms: blow.gust_ms,
            wind_from_direction_deg: blow.from_deg,
            rainfall_mm: fall.depth_mm * (1.0 - slow.solid_share),
            snowfall_mm: fall.depth_mm * slow.solid_share,
            wet_bulb_degc: slow.wet_bulb_degc.clamp(dew_point, temperature),
            net_longwave_wm2: slow.net_longwave_wm2,
            cloud_area_fraction: cover,
            sun: day.sun,
            global_irradiance_wm2: light.global_wm2,
            direct_normal_irradiance_wm2: light.direct_normal_wm2,
            diffuse_irradiance_wm2: light.diffuse_wm2,
            illuminance_lx: light.illuminance_lx,
            ultraviolet_index: light.ultraviolet_index,
        }
    }
}
