//! The point's own fine structure on top of the slow state, step by step. Every step draws the same number
//! of variates whatever the weather.

use super::cloud::Shadow;
use super::daylight::{Path, Turbidity};
use super::knot::Slow;
use super::rain::Fall;
use super::wind::{Step, Turbulence, blown};
use crate::entropy::{Seed, Stream};
use crate::physics::moist_air::psychrometer_coefficient_per_k;
use crate::physics::saturation_table::{DewPoints, quick_saturation_hpa};
use crate::site::{Place, Site};
use crate::truth::Truth;

/// Memory of the fine structure of temperature and vapour, s (common practice, no source).
const EDDY_S: f64 = 60.0;
/// Time in which the air near the ground follows sun and shade, s.
const SHADE_S: f64 = 200.0;
/// Mean time between two convective ramps, s: minutes at the height of a screen (common practice, no source;
/// the ramps themselves: Antonia, Chambers, Friehe & Van Atta 1979, J. Atmos. Sci. 36, from memory).
const RAMP_S: f64 = 140.0;
/// Mean of a ramp that ends at 4: 1 less the exponential of -4.
const RAMP_MEAN: f64 = 0.981_684_361_111_265_8;
/// Period and memory of the waves on stable nights, s: near the buoyancy period of a strong inversion, for
/// some waves (common practice, no source).
const WAVE_PERIOD_S: f64 = 540.0;
const WAVE_MEMORY_S: f64 = 1500.0;
/// Time in which a burst of turbulence on a stable night grows and dies, s (common practice, no source).
const STIRRING_S: f64 = 200.0;
/// Spread of a wave's pressure (hPa), wind (m/s) and temperature (K), and of the temperature eddies of a
/// stable night (K), in the most stable air; of the pressure in ordinary air (common practice, no source).
const WAVE_HPA: f64 = 0.04;
const WAVE_MS: f64 = 0.22;
const WAVE_K: f64 = 0.22;
const STABLE_EDDY_K: f64 = 0.06;
const PRESSURE_HPA: f64 = 0.02;

#[derive(Debug, Clone)]
pub(crate) struct Local {
    path: Path,
    shadow: Shadow,
    turbulence: Turbulence,
    stream: Stream,
    eddy: Step,
    shade: f64,
    temperature: f64,
    vapour: f64,
    /// A wave and its quarter turn.
    wave: (f64, f64),
    wave_turn: (f64, f64),
    wave_fresh: f64,
    /// Strength of waves and eddies on a stable night, over their usual one, and its share of change a step.
    stirring: f64,
    stirring_share: f64,
    /// The warming of the present ramp: exponential with mean 1.
    ramp: f64,
    ramp_step: f64,
    ramp_chance: f64,
    shaded: f64,
    dew_points: DewPoints,
}

/// Strength of waves and eddies by the burst (mean 0, spread 1): quiet for a third of the time, strong for a tenth
/// of it. Stable nights are quiet between bursts (e.g. Mahrt 1999, Boundary-Layer Meteorol. 90, from memory, for
/// the kind; the figures are common practice, no source).
fn stirring(burst: f64) -> f64 {
    let above = (burst + 0.5).clamp(0.0, 1.7);
    0.1 + 0.32 * above * above
}

impl Local {
    pub(crate) fn new(
        place: Place,
        turbidity: Turbidity,
        site: Site,
        seed: Seed,
        owner: &str,
        interval_s: f64,
    ) -> Self {
        let mut stream = seed.stream(owner, "fine air");
        let [temperature, vapour, wave] = core::array::from_fn(|_| stream.normal());
        let keep = libm::exp(-interval_s / WAVE_MEMORY_S);
        let (sine, cosine) = libm::sincos(core::f64::consts::TAU * interval_s / WAVE_PERIOD_S);
        Self {
            path: Path::new(place, turbidity),
            shadow: Shadow::new(seed, owner, interval_s),
            turbulence: Turbulence::new(seed.stream(owner, "turbulence"), &site, interval_s),
            stream,
            eddy: Step::new(interval_s, EDDY_S),
            shade: 1.0 - libm::exp(-interval_s / SHADE_S),
            temperature,
            vapour,
            wave: (wave, 0.0),
            wave_turn: (keep * cosine, keep * sine),
            stirring: 1.0,
            stirring_share: 1.0 - libm::exp(-interval_s / STIRRING_S),
            // The push goes to one of the two, which share it.
            wave_fresh: (2.0 * (1.0 - keep * keep)).sqrt(),
            ramp: 1.0,
            ramp_step: interval_s / RAMP_S,
            ramp_chance: 1.0 - libm::exp(-interval_s / RAMP_S),
            shaded: 0.0,
            dew_points: DewPoints::default(),
        }
    }

    pub(crate) fn step(&mut self, time_us: i64, interval_s: f64, slow: &Slow, fall: Fall) -> Truth {
        let day = self.path.at(super::seconds(time_us));
        let light = self.shadow.step(interval_s, slow, &fall, &day);

        let [warm, moist, push] = core::array::from_fn(|_| self.stream.normal());
        let (a, b) = self.wave;
        let (along, across) = self.wave_turn;
        self.wave = (
            along * a - across * b + self.wave_fresh * push,
            across * a + along * b,
        );
        self.stirring += (stirring(self.turbulence.burst()) - self.stirring) * self.stirring_share;
        let stable = slow.stable * self.stirring;
        let wave = slow.fineness * stable;

        let mut wind = (
            (slow.wind_ms + WAVE_MS * wave * self.wave.1).max(0.0),
            slow.wind_from_deg,
        );
        if let Some(outflow) = &fall.outflow {
            wind = blown(wind, outflow.east_ms, outflow.north_ms);
        }
        let blow = self
            .turbulence
            .step(wind.0, wind.1, slow.heat_flux_wm2, slow.stable);

        self.temperature = self.eddy.next(self.temperature, warm);
        self.vapour = self.eddy.next(self.vapour, moist);
        // Over hot ground the air warms slowly and is swept away at once, at random: what counts is the time
        // since the last sweep.
        let swept = self.stream.uniform();
        self.ramp = if swept < self.ramp_chance {
            -libm::log(1.0 - swept)
        } else {
            self.ramp + self.ramp_step
        };
        let ramp = self.ramp.min(4.0) - RAMP_MEAN;
        self.shaded += (light.shade - self.shaded) * self.shade;
        let eddy_k = 0.03 + STABLE_EDDY_K * stable + 0.0003 * slow.heat_flux_wm2;
        let ramp_k = 0.0006 * slow.heat_flux_wm2;
        let shade_k = -1.1 * self.shaded / (1.0 + 0.25 * slow.wind_ms);
        let mut temperature = slow.temperature_degc
            + slow.fineness * (eddy_k * self.temperature + ramp_k * ramp)
            + wave * WAVE_K * self.wave.0
            + slow.freedom * shade_k;
        // What rises from moist ground is moist where it is warm.
        let moist_share = 0.003 + 0.000_02 * slow.heat_flux_wm2;
        let ramp_share = 0.000_02 * slow.heat_flux_wm2;
        let mut vapour = slow.vapour_pressure_hpa
            * (1.0 + slow.fineness * (moist_share * self.vapour + ramp_share * ramp));
        let mut pressure =
            slow.pressure_hpa + slow.fineness * (PRESSURE_HPA + WAVE_HPA * stable) * self.wave.1;
        if let Some(outflow) = &fall.outflow {
            // Rain evaporates into the outflow: heat and vapour follow the psychrometer's line to the wet bulb.
            let cooling = outflow.cooled * (temperature - slow.wet_bulb_degc).max(0.0);
            temperature -= cooling;
            vapour += psychrometer_coefficient_per_k(slow.wet_bulb_degc) * pressure * cooling;
            pressure += outflow.pressure_hpa;
        }
        let saturation = quick_saturation_hpa(temperature);
        let vapour = vapour.min(saturation).max(1e-4);
        // The inverse of the saturation formula may round up past the temperature.
        let dew_point = self.dew_points.dew_point_degc(vapour).min(temperature);

        let cover = slow.cover + (0.95 - slow.cover).max(0.0) * fall.cloud;
        Truth {
            time_us,
            interval_s,
            air_temperature_degc: temperature,
            dew_point_degc: dew_point,
            vapour_pressure_hpa: vapour,
            relative_humidity_percent: (100.0 * vapour / saturation).min(100.0),
            air_pressure_hpa: pressure,
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
