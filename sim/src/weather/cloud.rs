//! Light through cloud: layers for the mean, and single clouds that pass before the sun.

use super::daylight::Daylight;
use super::rain::Fall;
use super::wind::Step;
use crate::entropy::{Seed, Stream};
use crate::physics::light::{diffuse_efficacy_lm_per_w, direct_efficacy_lm_per_w};

/// Size of a broken cloud along the wind, m (common practice, no source).
const CLOUD_LENGTH_M: f64 = 1400.0;
/// Time in which a cloud's edge crosses the sun, s (common practice, no source).
const EDGE_S: f64 = 12.0;
/// Time in which the base of a closed deck changes overhead, s, and over which the whole sky evens it out
/// (common practice, no source).
const BASE_S: f64 = 200.0;
const SKY_S: f64 = 60.0;
/// Time over which the rain overhead counts for its cloud, s: the cloud is wider than the rain at one point.
const RAIN_S: f64 = 400.0;

/// Global irradiance under raining cloud over that of a clear sky, by the rain's intensity, mm/h: 0.22 under
/// drizzle, 0.17 at 1 mm/h, 0.08 at 10 mm/h. Thick cumulonimbus leaves 5 to 10 %, raining stratus 15 to 25 %
/// (common practice, no source).
pub(crate) fn rain_transmission(rain_mmh: f64) -> f64 {
    0.05 + 0.17 / (1.0 + 0.4 * rain_mmh)
}

/// What the layers do to the light, on the mean of minutes.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Optics {
    /// Global irradiance over that of a clear sky.
    pub(crate) transmission: f64,
    /// Share of the time in which low cloud stands before the sun.
    pub(crate) obscured: f64,
    /// Share of the sun's beam that high cloud lets through.
    pub(crate) beam: f64,
}

impl Optics {
    /// From the cover of low and high cloud, how far a front's rain shield is overhead (0 to 1), and the
    /// thickness of the cloud against the usual (standard deviations).
    ///
    /// Low cloud: Kasten & Czeplak 1980, Solar Energy 24: `1 - 0.75 N^3.4`, as a mean over all clouds of
    /// that cover; spread by thickness, halved under rain, thin high cloud taking up to 12 %: common
    /// practice, no source. The sun is hidden less often than the cover says, because observed cover
    /// counts the sides of clouds: `N^1.5` (common practice, no source).
    pub(crate) fn new(low: f64, high: f64, rain_shield: f64, thickness: f64) -> Self {
        let darkness = (0.75 + 0.07 * thickness).clamp(0.5, 0.9);
        let layers = 1.0 - darkness * libm::pow(low, 3.4);
        let transmission = layers * (1.0 - 0.12 * high) * (1.0 - 0.45 * rain_shield);
        Self {
            transmission,
            obscured: (1.02 * low * low.sqrt() - 0.02).clamp(0.0, 1.0),
            beam: 1.0 - 0.45 * high,
        }
    }
}

/// Irradiance and light at the ground.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Light {
    pub(crate) global_wm2: f64,
    pub(crate) direct_normal_wm2: f64,
    pub(crate) diffuse_wm2: f64,
    pub(crate) illuminance_lx: f64,
    pub(crate) ultraviolet_index: f64,
    /// How far the sun is hidden now beyond its mean, times the clear-sky irradiance in kW/m2.
    pub(crate) shade: f64,
}

/// Clouds passing before the sun: a two-state process whose share of hidden time is the layers'.
#[derive(Debug, Clone)]
pub(crate) struct Shadow {
    stream: Stream,
    hidden: bool,
    /// Share of the beam that the present cloud lets through.
    thin: f64,
    cover: f64,
    edge: f64,
    base_stream: Stream,
    base_step: Step,
    /// Thickness of a closed deck overhead against the usual, and its mean over the sky.
    base: f64,
    sky: f64,
    sky_share: f64,
    /// Rain overhead, mm/h, evened out.
    rain_mmh: f64,
    rain_share: f64,
}

impl Shadow {
    pub(crate) fn new(seed: Seed, owner: &str, interval_s: f64) -> Self {
        let mut base_stream = seed.stream(owner, "cloud base");
        let base = base_stream.normal();
        Self {
            stream: seed.stream(owner, "cloud shadow"),
            base_step: Step::new(interval_s, BASE_S),
            base,
            sky: base,
            sky_share: 1.0 - libm::exp(-interval_s / SKY_S),
            rain_mmh: 0.0,
            rain_share: 1.0 - libm::exp(-interval_s / RAIN_S),
            base_stream,
            hidden: false,
            thin: 0.0,
            cover: 0.0,
            edge: 1.0 - libm::exp(-interval_s / EDGE_S),
        }
    }

    /// One step of `seconds` ends: clouds drift at the wind aloft, taken as twice `wind_ms` (10 m) and 2 m/s.
    pub(crate) fn step(
        &mut self,
        seconds: f64,
        optics: &Optics,
        wind_ms: f64,
        fall: Fall,
        day: &Daylight,
    ) -> Light {
        let bits = self.stream.bits();
        let chance = (bits >> 32).cast_signed() as f64 * (1.0 / 4_294_967_296.0);
        let turns = seconds * (2.0 * wind_ms + 2.0) / CLOUD_LENGTH_M;
        let rate = turns
            * if self.hidden {
                1.0 - optics.obscured
            } else {
                optics.obscured
            };
        if chance * (1.0 + rate) < rate {
            self.hidden = !self.hidden;
            let thin = (bits & 0xFFFF_FFFF).cast_signed() as f64 * (1.0 / 4_294_967_296.0);
            self.thin = 0.5 * thin * thin * thin;
        }
        let target = if self.hidden { 1.0 - self.thin } else { 0.0 };
        self.cover += (target - self.cover) * self.edge;
        self.base = self.base_step.next(self.base, self.base_stream.normal());
        self.sky += (self.base - self.sky) * self.sky_share;
        let rain_cloud = fall.cloud;
        if rain_cloud > 0.0 {
            let rate = fall.depth_mm * 3600.0 / seconds.max(1.0);
            self.rain_mmh += (rate - self.rain_mmh) * self.rain_share;
        } else {
            self.rain_mmh = 0.0;
        }
        if day.sun.up <= 0.0 {
            return Light::default();
        }

        let cover = self.cover + (1.0 - self.cover) * rain_cloud;
        let clear = &day.sky;
        let beam = clear.direct_normal_wm2 * optics.beam;
        let direct = beam * (1.0 - cover);
        // The diffuse light closes the mean: what the layers let through less the mean beam.
        let mean_beam = beam * day.sun.up * (1.0 - optics.obscured);
        let floor = 0.25 * clear.diffuse_wm2 * optics.transmission;
        let diffuse = (clear.global_wm2 * optics.transmission - mean_beam).max(floor);
        // A closed deck is nowhere quite even (common practice, no source: a tenth, under rain more).
        let diffuse = diffuse * (1.0 - 0.12 * optics.obscured * self.sky);
        let uneven = (1.0 - 0.25 * self.sky).clamp(0.4, 1.6);
        let dark = clear.global_wm2 * rain_transmission(self.rain_mmh) * uneven;
        let diffuse = diffuse + (dark.min(diffuse) - diffuse) * rain_cloud;
        let global = direct * day.sun.up + diffuse;
        // Cloud dims ultraviolet a little less than all light (common practice, no source).
        let index = global / clear.global_wm2.max(1e-9);
        let modification = if index < 1.0 {
            index * (1.2 - 0.2 * index)
        } else {
            1.0 + 0.6 * (index - 1.0)
        };
        let cloudy = optics.obscured + (1.0 - optics.obscured) * rain_cloud;
        Light {
            global_wm2: global,
            direct_normal_wm2: direct,
            diffuse_wm2: diffuse,
            illuminance_lx: direct * day.sun.up * direct_efficacy_lm_per_w(day.sun.up)
                + diffuse * diffuse_efficacy_lm_per_w(cloudy),
            ultraviolet_index: day.ultraviolet_index * modification,
            shade: (cover - optics.obscured) * clear.global_wm2 * 0.001,
        }
    }
}
