//! Light through cloud: layers for the mean, and single clouds that pass before the sun.

mod field;

use super::daylight::{Daylight, NIGHT_UP, TWILIGHT_UP, twilight};
use super::knot::Slow;
use super::rain::Fall;
use super::wind::Step;
use crate::entropy::{Seed, Stream};
use crate::physics::light::{
    diffuse_efficacy_lm_per_w, direct_efficacy_lm_per_w, ultraviolet_cloud_factor,
};
use field::{Field, mean_leak, mean_sides};

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

/// Share of the beam in the global irradiance of a clear sky that the layers' shares are worked out with: the
/// sun at middle height (common practice, no source).
const USUAL_BEAM_SHARE: f64 = 0.8;

impl Optics {
    /// From the cover of low and high cloud, how far a front's rain shield is overhead (0 to 1), and the
    /// thickness of the cloud against the usual (standard deviations).
    ///
    /// Low cloud: Kasten & Czeplak 1980, Solar Energy 24: `1 - 0.75 N^3.4`, as a mean over all clouds of
    /// that cover; spread by thickness, halved under rain, thin high cloud taking up to 12 %: common
    /// practice, no source. The share of the time in which the sun is hidden follows from that mean and from
    /// what is left when it is hidden: the clear sky's diffuse light alone under few clouds, more between
    /// many, the deck's under a closed one. So the index has one peak a little above 1 and one near 0.3, as
    /// minute values have under broken cloud (Suehrcke and `McCormick`, 1988, Solar Energy 40, from memory).
    pub(crate) fn new(low: f64, high: f64, rain_shield: f64, thickness: f64) -> Self {
        let darkness = (0.75 + 0.07 * thickness).clamp(0.5, 0.9);
        let layers = 1.0 - darkness * libm::pow(low, 3.4);
        let transmission = layers * (1.0 - 0.12 * high) * (1.0 - 0.45 * rain_shield);
        let hidden_index = 0.2 + (0.8 - darkness) * low * low + 0.35 * low * (1.0 - low);
        let mean = 1.0 - (layers - hidden_index) * (1.0 / USUAL_BEAM_SHARE);
        // Clouds let some of the beam through, those of a closed deck none.
        let taken = mean.clamp(0.0, 1.0);
        let obscured = taken / (1.0 - mean_leak(taken));
        let obscured = taken / (1.0 - mean_leak(obscured.min(1.0)));
        Self {
            transmission,
            obscured: obscured.min(1.0),
            beam: 1.0 - 0.45 * high,
        }
    }
}

/// What fog leaves of the beam and of the global irradiance, by its share (0 none, 1 dense: an optical depth
/// of 8, such as 150 m of it at a visibility of 75 m).
///
/// The beam goes by nearly its exponential; the global irradiance by the two-stream form for cloud of small
/// droplets over dark ground, `1 / (1 + 0.75 (1 - g) tau)` with g = 0.85 (e.g. Petty 2006, A First Course in
/// Atmospheric Radiation, ch. 13, from memory).
pub(crate) fn fog_transmission(fog: f64) -> (f64, f64) {
    let clear = (1.0 - fog.clamp(0.0, 1.0)) * (1.0 - fog.clamp(0.0, 1.0));
    (clear * clear, 1.0 / (1.0 + 0.9 * fog))
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

/// Clouds passing before the sun, and the uneven base of a closed deck.
#[derive(Debug, Clone)]
pub(crate) struct Shadow {
    field: Field,
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

/// Global irradiance is kept below this many times that of a clear sky, and of that above the atmosphere on a
/// horizontal plane: cloud sides reach 1.3 to 1.5 for moments (Gueymard 2017, Solar Energy 153, from memory,
/// reviews records up to 1.5 to 1.8 of the clear sky; most of them are milder).
const BRIGHTEST_INDEX: f64 = 1.48;
const BRIGHTEST_BEYOND: f64 = 1.27;

impl Shadow {
    pub(crate) fn new(seed: Seed, owner: &str, interval_s: f64) -> Self {
        let mut base_stream = seed.stream(owner, "cloud base");
        let base = base_stream.normal();
        Self {
            field: Field::new(seed.stream(owner, "cloud shadow")),
            base_step: Step::new(interval_s, BASE_S),
            base,
            sky: base,
            sky_share: 1.0 - libm::exp(-interval_s / SKY_S),
            rain_mmh: 0.0,
            rain_share: 1.0 - libm::exp(-interval_s / RAIN_S),
            base_stream,
        }
    }

    /// One step of `seconds` ends under a sky of `slow` and whatever `fall` brings.
    ///
    /// Clouds drift with the wind aloft, taken as 1.6 times that at 10 m and 3 m/s (common practice, no
    /// source).
    pub(crate) fn step(&mut self, seconds: f64, slow: &Slow, fall: &Fall, day: &Daylight) -> Light {
        let optics = &slow.optics;
        let moved_m = seconds * (1.6 * slow.wind_ms + 3.0);
        let sight = self.field.step(moved_m, optics.obscured);
        self.base = self.base_step.next(self.base, self.base_stream.normal());
        self.sky += (self.base - self.sky) * self.sky_share;
        let rain_cloud = fall.cloud;
        if rain_cloud > 0.0 {
            let rate = fall.depth_mm * 3600.0 / seconds.max(1.0);
            self.rain_mmh += (rate - self.rain_mmh) * self.rain_share;
        } else {
            self.rain_mmh = 0.0;
        }
        let up = day.sun.up;
        if up <= NIGHT_UP {
            return Light::default();
        }

        let cover = sight.cover + (1.0 - sight.cover) * rain_cloud;
        let clear = &day.sky;
        let (fog_beam, fog_global) = fog_transmission(slow.fog);
        // Thin high cloud is streaky, too.
        let veil = (1.0 - optics.beam) * (1.0 + 0.35 * self.base).clamp(0.0, 2.0);
        let beam = clear.direct_normal_wm2 * (1.0 - veil.min(0.9));
        let level_beam = clear.direct_normal_wm2 * optics.beam * up.max(0.0);
        let direct = beam * (1.0 - cover) * fog_beam;
        // The diffuse light closes the mean: what the layers let through less the mean beam and the mean of
        // what the sides add.
        let open = 1.0 - optics.obscured;
        let mean_beam = level_beam * (open + optics.obscured * mean_leak(optics.obscured));
        let mean_sides = level_beam * open * mean_sides(optics.obscured);
        let floor = 0.25 * clear.diffuse_wm2 * optics.transmission;
        let diffuse = (clear.global_wm2 * optics.transmission - mean_beam - mean_sides).max(floor);
        // A closed deck is nowhere quite even (common practice, no source: a fifth, under rain more).
        let diffuse = diffuse * (1.0 - 0.2 * optics.obscured * self.sky).max(0.4);
        let uneven = (1.0 - 0.25 * self.sky).clamp(0.4, 1.6);
        let dark = clear.global_wm2 * rain_transmission(self.rain_mmh) * uneven;
        let diffuse = diffuse + (dark.min(diffuse) - diffuse) * rain_cloud;
        let level_direct = direct * up.max(0.0);
        let brightest = (BRIGHTEST_INDEX * clear.global_wm2)
            .min(BRIGHTEST_BEYOND * day.extraterrestrial_wm2 * up);
        // The bound is for all of it: a bright deck may be uneven, too.
        let diffuse = diffuse.min((brightest - level_direct).max(0.0));
        let sides = (level_beam * sight.sides * (1.0 - rain_cloud))
            .min(brightest - level_direct - diffuse)
            .max(0.0);
        let diffuse = (diffuse + sides) * fog_global;
        let index = (level_direct + diffuse) / clear.global_wm2.max(1e-9);

        let cloudy = optics.obscured + (1.0 - optics.obscured) * rain_cloud;
        let efficacy = diffuse_efficacy_lm_per_w(cloudy);
        let day_lx = level_direct * direct_efficacy_lm_per_w(up) + diffuse * efficacy;
        let (mut twilight_lx, mut twilight_wm2) = (0.0, 0.0);
        if up < TWILIGHT_UP {
            let clear_lx = clear.direct_normal_wm2 * up.max(0.0) * direct_efficacy_lm_per_w(up)
                + clear.diffuse_wm2 * diffuse_efficacy_lm_per_w(0.0);
            let left = fog_global
                * (optics.transmission + (0.2 - optics.transmission).min(0.0) * rain_cloud);
            let (lx, wm2) = twilight(up, clear_lx);
            twilight_lx = lx * left;
            twilight_wm2 = wm2 * left;
        }
        let diffuse = diffuse + twilight_wm2;
        Light {
            global_wm2: level_direct + diffuse,
            direct_normal_wm2: direct,
            diffuse_wm2: diffuse,
            illuminance_lx: day_lx + twilight_lx,
            ultraviolet_index: day.ultraviolet_index * ultraviolet_cloud_factor(index),
            shade: (cover - optics.obscured) * clear.global_wm2 * 0.001,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::sun::{ClearSky, SunDirection};

    fn noon(altitude: f64) -> Daylight {
        // A sun at 45 degrees; the thinner the air, the more of the beam.
        let direct = 850.0 + 0.04 * altitude;
        let diffuse = 110.0 - 0.01 * altitude;
        let up = core::f64::consts::FRAC_1_SQRT_2;
        Daylight {
            sun: SunDirection {
                east: 0.0,
                north: -up,
                up,
            },
            sky: ClearSky {
                global_wm2: direct * up + diffuse,
                direct_normal_wm2: direct,
                diffuse_wm2: diffuse,
            },
            ultraviolet_index: 5.0,
            extraterrestrial_wm2: 1361.0,
        }
    }

    fn run(low: f64, steps: i32, day: &Daylight, mut see: impl FnMut(Light)) {
        let slow = Slow {
            optics: Optics::new(low, 0.0, 0.0, 0.0),
            wind_ms: 5.0,
            ..Slow::default()
        };
        let mut shadow = Shadow::new(Seed(6), "t", 16.0);
        for _ in 0..steps {
            see(shadow.step(16.0, &slow, &Fall::default(), day));
        }
    }

    #[test]
    fn the_mean_transmission_is_the_published_one() {
        // Kasten & Czeplak 1980: 1 - 0.75 N^3.4.
        let day = noon(0.0);
        for low in [0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0] {
            let mut sum = 0.0;
            run(low, 300_000, &day, |light| {
                sum += light.global_wm2 / 300_000.0;
            });
            let (index, expected) = (sum / day.sky.global_wm2, 1.0 - 0.75 * libm::pow(low, 3.4));
            assert!((index - expected).abs() < 0.03, "{low}: {index} {expected}");
        }
    }

    #[test]
    fn broken_cloud_has_two_peaks_and_a_bright_edge_that_is_bounded() {
        for altitude in [0.0, 4000.0] {
            let day = noon(altitude);
            let mut counts = [0_u32; 20];
            let (mut bright, mut brightest) = (0, 0.0_f64);
            run(0.65, 200_000, &day, |light| {
                let index = light.global_wm2 / day.sky.global_wm2;
                counts[(index * 10.0) as usize] += 1;
                bright += u32::from(index > 1.05);
                brightest = brightest.max(index);
                assert!(light.global_wm2 <= 1.3 * 1361.0 * day.sun.up, "{light:?}");
            });
            // Suehrcke & McCormick 1988: one peak about 1 and one about 0.3 with a valley in between.
            let dark = counts[2..5].iter().max().unwrap();
            let valley = counts[5..8].iter().max().unwrap();
            let open = counts[9..12].iter().max().unwrap();
            assert!(*dark > 2 * valley && *open > 2 * valley, "{counts:?}");
            let share = f64::from(bright) / 200_000.0;
            assert!((0.05..0.6).contains(&share), "{share}");
            assert!(
                (1.3..1.5).contains(&brightest) || altitude > 0.0,
                "{brightest}"
            );
        }
    }

    #[test]
    fn two_stations_see_other_edges_and_the_same_statistics() {
        let day = noon(0.0);
        let series = |owner: &str| {
            let slow = Slow {
                optics: Optics::new(0.6, 0.0, 0.0, 0.0),
                wind_ms: 5.0,
                ..Slow::default()
            };
            let mut shadow = Shadow::new(Seed(6), owner, 16.0);
            let light: Vec<f64> = (0..400_000)
                .map(|_| shadow.step(16.0, &slow, &Fall::default(), &day).global_wm2)
                .collect();
            light
        };
        let (a, b) = (series("a"), series("b"));
        let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
        let (ma, mb) = (mean(&a), mean(&b));
        let product = |x: &[f64], mx: f64, y: &[f64], my: f64| {
            x.iter()
                .zip(y)
                .map(|(p, q)| (p - mx) * (q - my))
                .sum::<f64>()
                / x.len() as f64
        };
        let (va, vb) = (product(&a, ma, &a, ma), product(&b, mb, &b, mb));
        assert!((ma / mb - 1.0).abs() < 0.03 && (va / vb - 1.0).abs() < 0.1);
        let correlation = product(&a, ma, &b, mb) / (va * vb).sqrt();
        assert!(correlation.abs() < 0.1, "{correlation}");
    }

    #[test]
    fn fog_takes_the_beam_and_leaves_a_milky_light() {
        assert_eq!(fog_transmission(0.0), (1.0, 1.0));
        let (beam, global) = fog_transmission(1.0);
        assert_eq!(beam, 0.0);
        assert!((0.4..0.6).contains(&global));
    }
}
