//! The slow weather of a region: lows and highs on their tracks, the fronts on the lows, the wind that
//! balances the field of pressure, and the air that it brings.
//!
//! Nothing here is a separate noise: pressure is the sum of moving vortices and slow planetary waves; the
//! wind is the gradient wind of that field; air masses come from where the wind has brought them. What the
//! air does at a front besides is attached to the low whose front it is.

mod air_mass;
mod ascent;
mod drift;
mod field;
mod front;
mod system;

pub(crate) use drift::{Drift, Spot};
pub(crate) use field::{HOUR_S, Jet, gradient_ratio};
pub(crate) use system::System;

use super::noise::{Curve, floor, sharpened};
use super::region::Offset;
use crate::entropy::{Key, Seed};
use air_mass::{BACK_H, BACKS, Origin, Path, follow};
use ascent::Ascent;
use field::Vortex;

/// Length of a slot of the train, s: at most one system is nearest in it, at any instant of it.
pub(crate) const SPACING_S: f64 = 1.6 * 86_400.0;
/// Slots held on each side of the present: systems live five days or so, and paths reach back three.
const SIDE: i64 = 6;
const HELD: usize = 2 * SIDE as usize + 1;
/// Speed at which what is not a vortex drifts with the westerlies, m/s.
pub(crate) const DRIFT_MS: f64 = 9.0;
/// Share of the geostrophic wind at which air masses travel near the ground (common practice, no source).
const CARRIED: f64 = 0.75;

/// What a place makes of the systems.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Setting {
    /// Sine of the latitude over that of 45 degrees, bounded: pressure contrasts shrink with the Coriolis
    /// parameter, winds do not.
    pub(crate) coriolis: f64,
    /// +1 north, -1 south of the equator.
    pub(crate) hemisphere: f64,
    /// Spread of air-mass temperature, K.
    pub(crate) contrast_k: f64,
    /// 0 in the middle latitudes, 1 in the tropics, where no fronts pass.
    pub(crate) tropical: f64,
    /// Contrast of pressure over that of 45 degrees.
    pub(crate) contrast: f64,
    latitude_deg: f64,
}

impl Setting {
    pub(crate) fn new(latitude_deg: f64, annual_range_k: f64) -> Self {
        let sine = libm::sin(latitude_deg.abs().to_radians()) / core::f64::consts::FRAC_1_SQRT_2;
        let coriolis = sine.clamp(0.25, 1.2);
        let tropical = 1.0 - super::noise::smooth_step(12.0, 27.0, latitude_deg.abs());
        Self {
            coriolis,
            hemisphere: if latitude_deg < 0.0 { -1.0 } else { 1.0 },
            // Continents have the larger contrasts as they have the larger year (common practice).
            contrast_k: (1.3 + 0.12 * annual_range_k).min(6.0),
            tropical,
            // Easterly waves are a few hPa deep (common practice, no source).
            contrast: coriolis * (1.0 - 0.65 * tropical),
            latitude_deg: latitude_deg.abs(),
        }
    }
    /// +1 in midwinter, -1 in midsummer.
    pub(crate) fn winterness(&self, day_of_year: f64) -> f64 {
        self.hemisphere * libm::cos(core::f64::consts::TAU * (day_of_year - 20.0) / 365.25)
    }
    /// How far towards the pole the mean storm track lies, km: near 57 degrees in winter, 63 in summer, and
    /// lows wander (common practice, no source).
    fn track_km(&self, winterness: f64) -> f64 {
        let away = 22.0 * (60.0 - 3.0 * winterness - self.latitude_deg);
        away.clamp(-350.0, 500.0) * (1.0 - self.tropical)
    }
}

/// The state that the systems impose on one point.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Air {
    /// Departure of sea-level pressure from its long mean, hPa.
    pub(crate) pressure_hpa: f64,
    /// Wind before friction (east, poleward), m/s.
    pub(crate) wind_ms: (f64, f64),
    /// Air-mass temperature, departure from the season, K.
    pub(crate) temperature_k: f64,
    /// Air-mass dew point, departure from the season, K.
    pub(crate) dew_point_k: f64,
    /// Index of low cloud: 1 in a front, negative in a ridge.
    pub(crate) low_cloud: f64,
    /// Index of high cloud.
    pub(crate) high_cloud: f64,
    /// 0 to 1: within the rain of a front.
    pub(crate) rain_shield: f64,
    /// 0 to 1: unstable air behind a cold front.
    pub(crate) unstable: f64,
}

/// The endless train, of which the systems around one instant are held.
#[derive(Debug, Clone)]
pub(crate) struct Train {
    setting: Setting,
    key: Key,
    activity: Curve,
    blocking: Curve,
    planetary: Planetary,
    small_wind: [Drift; 2],
    small_pressure: [Drift; 2],
    cloud: [Drift; 3],
    warmth: Drift,
    moisture: Drift,
    /// Systems as drawn around one of them, for its ascent.
    around_centre: i64,
    around: [System; HELD],
    /// Wind of eddies of some tens of kilometres, east and poleward.
    eddies: [Drift; 2],
    centre: i64,
    held: [System; HELD],
    path: Path,
    /// Follow each parcel at its own instant rather than on the grid: cheaper where instants lie far apart.
    scattered: bool,
    /// Those that a path may meet: memory that is kept.
    lively: Vec<Vortex>,
}

/// Slow waves that are not vortices: pressure, and a gradient that is even over the region.
#[derive(Debug, Clone)]
struct Planetary {
    pressure: Curve,
    east: [Curve; 2],
    poleward: [Curve; 2],
    hpa: f64,
}

impl Planetary {
    /// Geostrophic wind of the waves, m/s: those of days, those of a day (standard deviations; common
    /// practice, no source).
    const WIND_MS: [f64; 2] = [3.0, 3.0];

    fn jet(&mut self, time_s: f64, x_km: f64, y_km: f64, coriolis: f64) -> Jet {
        let gradient = Self::WIND_MS.map(|ms| ms / 808.0 * coriolis);
        let [slow, fast] = &mut self.east;
        let x = gradient[0] * slow.value(time_s) + gradient[1] * fast.value(time_s);
        let [slow, fast] = &mut self.poleward;
        let y = gradient[0] * slow.value(time_s) + gradient[1] * fast.value(time_s);
        Jet {
            p: self.hpa * self.pressure.value(time_s) + x * x_km + y * y_km,
            x,
            y,
            ..Jet::default()
        }
    }
}

impl Train {
    pub(crate) fn new(seed: Seed, owner: &str, setting: Setting) -> Self {
        let curve = |name: &str, hours: f64| Curve::new(seed.key(owner, name), hours * HOUR_S);
        let drift = |name: &str, hours: f64, width_km: f64| {
            Drift::new(seed, owner, name, hours * HOUR_S, width_km)
        };
        let mut train = Self {
            setting,
            key: seed.key(owner, "systems"),
            activity: curve("activity", 6.0 * 24.0),
            blocking: curve("blocking", 7.0 * 24.0),
            planetary: Planetary {
                pressure: curve("planetary pressure", 96.0),
                east: [
                    curve("planetary gradient east", 80.0),
                    curve("long wave gradient east", 20.0),
                ],
                poleward: [
                    curve("planetary gradient poleward", 80.0),
                    curve("long wave gradient poleward", 20.0),
                ],
                hpa: 3.0 * setting.contrast,
            },
            small_wind: [
                drift("small wind east", 4.0, 40.0),
                drift("small wind poleward", 4.0, 40.0),
            ],
            small_pressure: [
                drift("small pressure", 2.2, 120.0),
                drift("pressure of minutes", 0.7, 40.0),
            ],
            cloud: [
                drift("cloud hours", 1.6, 60.0),
                drift("cloud half days", 8.0, 200.0),
                drift("high cloud", 5.0, 200.0),
            ],
            warmth: drift("warmth days", 48.0, 700.0),
            moisture: drift("moisture days", 30.0, 250.0),
            around_centre: i64::MIN,
            around: [System::NONE; HELD],
            eddies: [
                drift("eddies east", 0.7, 10.0),
                drift("eddies poleward", 0.7, 10.0),
            ],
            centre: i64::MIN,
            held: [System::NONE; HELD],
            path: Path::new(),
            scattered: false,
            lively: Vec::new(),
        };
        train.load(0, &|system| system);
        train
    }

    /// For instants that lie far apart.
    pub(crate) fn scatter(&mut self) {
        self.scattered = true;
    }

    fn load(&mut self, centre: i64, mark: &dyn Fn(System) -> System) {
        if centre == self.centre {
            return;
        }
        let ahead = centre.wrapping_sub(self.centre);
        if (1..HELD as i64).contains(&ahead) {
            for number in self.centre + 1..=centre {
                self.held.rotate_left(1);
                self.held[HELD - 1] = mark(self.system(number + SIDE));
            }
        } else {
            for (slot, offset) in (-SIDE..=SIDE).enumerate() {
                self.held[slot] = mark(self.system(centre + offset));
            }
        }
        self.centre = centre;
    }

    /// System number `number`; it is nearest within its own slot, so any can be asked for.
    pub(crate) fn system(&mut self, number: i64) -> System {
        let ahead = number.wrapping_sub(self.around_centre);
        if ahead == 1 {
            self.around.rotate_left(1);
            self.around[HELD - 1] = self.drawn(number + SIDE);
        } else if ahead != 0 {
            self.around = core::array::from_fn(|slot| self.drawn(number + slot as i64 - SIDE));
        }
        self.around_centre = number;
        let mut system = self.around[SIDE as usize];
        let coriolis = self.setting.coriolis;
        let mut field = |time_s: f64| {
            let mut jet = self.planetary.jet(time_s, 0.0, 0.0, coriolis);
            for near in &self.around {
                near.low.add(time_s, 0.0, 0.0, &mut jet);
                near.high.add(time_s, 0.0, 0.0, &mut jet);
            }
            (jet.p / self.setting.contrast, jet.vorticity(coriolis))
        };
        system.ascent = Ascent::about(system.front_s, &mut field);
        system
    }

    fn drawn(&mut self, number: i64) -> System {
        let mut stream = self.key.stream(number);
        let nearest_s = (number as f64 + stream.uniform()) * SPACING_S;
        let activity = libm::exp(0.4 * self.activity.value(nearest_s) - 0.08);
        let blocked = super::noise::smooth_step(0.7, 1.6, self.blocking.value(nearest_s));
        System::draw(
            number,
            nearest_s,
            &mut stream,
            &self.setting,
            activity,
            blocked,
        )
    }

    /// The number of the slot of the train in which an instant lies.
    pub(crate) fn interval(time_s: f64) -> i64 {
        floor(time_s / SPACING_S)
    }

    /// Wind before friction (east, poleward, m/s) and pressure of the moving field alone at the reference point,
    /// for the fit.
    pub(crate) fn field_wind_ms(&mut self, time_s: f64) -> (f64, f64) {
        self.load(Self::interval(time_s), &|system| system);
        let mut jet = Jet::default();
        for system in &self.held {
            if system.strength > 0.0 {
                system.low.add(time_s, 0.0, 0.0, &mut jet);
                system.high.add(time_s, 0.0, 0.0, &mut jet);
            }
        }
        jet.geostrophic_ms(self.setting.coriolis)
    }

    /// The air at an instant, at an offset from the reference point; `mean_ms` is the mean geostrophic wind
    /// (east, poleward). `mark` completes a system with what the rain decides about it.
    pub(crate) fn air(
        &mut self,
        time_s: f64,
        offset: Offset,
        mean_ms: (f64, f64),
        mark: impl Fn(System) -> System,
    ) -> Air {
        self.load(Self::interval(time_s), &mark);
        let setting = self.setting;
        let (x_km, y_km) = (offset.east_km, setting.hemisphere * offset.north_km);
        let spot = Spot::of((x_km, y_km), self.drift(mean_ms), DRIFT_MS);
        let mut air = Air::default();

        // Pressure and wind.
        let mut jet = self.planetary.jet(time_s, x_km, y_km, setting.coriolis);
        let mut presence = [0.0_f64; 2];
        for system in &self.held {
            if system.strength == 0.0 {
                continue;
            }
            system.low.add(time_s, x_km, y_km, &mut jet);
            system.high.add(time_s, x_km, y_km, &mut jet);
            let hours = system.hours(time_s, x_km, y_km);
            if (-60.0..80.0).contains(&hours) {
                system.add_trough(hours, &mut jet);
                system.add_fronts(hours, &mut air, &mut presence, &setting);
            }
        }
        let warmth = self.warmth.value(time_s, spot);
        let [hours, minutes] = core::array::from_fn(|i| self.small_pressure[i].value(time_s, spot));
        let level_hpa = jet.p - WARM_HPA * setting.contrast * warmth;
        // The mean flow has pressure gradients, too, but its own level is the base pressure's.
        let mean = 1.0 / 808.0 * setting.coriolis;
        jet.x += mean * mean_ms.1;
        jet.y -= mean * mean_ms.0;
        let (east, poleward) = jet.geostrophic_ms(setting.coriolis);
        let speed = (east * east + poleward * poleward).sqrt();
        let ratio = gradient_ratio(&jet, speed, setting.coriolis);
        let lively = (0.45 + 0.55 / LIVELY_MS * speed).min(2.2);
        air.pressure_hpa = level_hpa + lively * (SMALL_HPA[0] * hours + SMALL_HPA[1] * minutes);
        let small: [f64; 2] = core::array::from_fn(|i| self.small_wind[i].value(time_s, spot));
        let eddy_ms = EDDY_MS * (0.45 + 0.55 / LIVELY_MS * speed).min(1.4);
        let eddy: [f64; 2] =
            core::array::from_fn(|i| sharpened(self.eddies[i].value(time_s, spot)));
        air.wind_ms = (
            east * ratio + SMALL_WIND_MS * small[0] + eddy_ms * eddy[0],
            poleward * ratio + SMALL_WIND_MS * small[1] + eddy_ms * eddy[1],
        );

        // Air masses.
        let origin = self.origin(time_s, (x_km, y_km), mean_ms);
        let contrast = setting.contrast_k
            * (1.0
                + 0.25
                    * setting.winterness(super::climate::day_of_year(time_s))
                    * (1.0 - setting.tropical));
        // Waves longer than the paths are, whose air differs with them.
        let slow = SLOW_AIR * warmth;
        air.temperature_k -= contrast * (origin.warmth_km * PER_KM - slow);
        let sinking = (-origin.lift).max(-0.1) + 0.1;
        air.dew_point_k -= contrast
            * (origin.moisture_km * MOISTURE_PER_KM + DRYING * sinking
                - SLOW_MOISTURE * slow
                - self.moisture.value(time_s, spot));

        // Cloud: where air has risen, and less where it has sunk.
        let lift = (0.5 * origin.lift + 0.5 * jet.vorticity(setting.coriolis)).clamp(-0.5, 0.8);
        let [hours, days, high] = core::array::from_fn(|i| self.cloud[i].value(time_s, spot));
        air.low_cloud += presence[0] + 0.5 * lift + 0.13 * hours + 0.24 * days;
        air.high_cloud += presence[1] + 0.35 * lift + 0.25 * high + 0.25 * days;
        air
    }

    /// Direction in which the small things drift: with the westerlies, in the tropics with the mean wind.
    fn drift(&self, mean_ms: (f64, f64)) -> (f64, f64) {
        let steering = 8.0 * (1.0 - self.setting.tropical);
        let (x, y) = (mean_ms.0 + steering, mean_ms.1);
        let length = (x * x + y * y).sqrt();
        if length < 1e-6 {
            return (1.0, 0.0);
        }
        (x / length, y / length)
    }

    /// Where the air at a point comes from.
    fn origin(&mut self, time_s: f64, point: (f64, f64), mean_ms: (f64, f64)) -> Origin {
        let Self {
            path,
            held,
            planetary,
            setting,
            scattered,
            lively,
            ..
        } = self;
        let coriolis = setting.coriolis;
        let mut origin = |time_s: f64| {
            // Most of those held are too old or too young.
            let back_s = HOUR_S * (BACKS as f64 * BACK_H);
            lively.clear();
            let vortices = held.iter().flat_map(|system| [&system.low, &system.high]);
            lively.extend(
                vortices
                    .filter(|v| v.amplitude_hpa != 0.0 && v.lives(time_s - back_s, time_s))
                    .copied(),
            );
            follow(time_s, point.0, point.1, |at_s, x, y| {
                let slow = planetary.jet(at_s, x, y, coriolis);
                let (mut gradient, mut laplacian) = ((slow.x, slow.y), 0.0);
                for vortex in lively.iter() {
                    if let Some(still) = vortex.still(at_s) {
                        still.add(x, y, &mut gradient, &mut laplacian);
                    }
                }
                let jet = Jet {
                    x: gradient.0,
                    y: gradient.1,
                    xx: laplacian,
                    ..Jet::default()
                };
                let (east, poleward) = jet.geostrophic_ms(coriolis);
                let speed = ((east * east + poleward * poleward) * (1.0 / 900.0)).min(1.0);
                // Around deep lows the wind is well below the geostrophic.
                let carried = 3.6 * CARRIED * (1.0 - 0.3 * speed);
                (
                    carried * (east + mean_ms.0),
                    carried * (poleward + mean_ms.1),
                    jet.vorticity(coriolis),
                )
            })
        };
        if *scattered {
            origin(time_s)
        } else {
            path.at(time_s, point, origin)
        }
    }
}

/// Change of the air's warmth and moisture with where it comes from, per km and per K of contrast.
const PER_KM: f64 = 1.0 / 520.0;
const MOISTURE_PER_KM: f64 = 1.0 / 280.0;
/// Fall of the dew point where air has sunk, per K of contrast and unit of negative vorticity.
const DRYING: f64 = 3.0;
/// Spread of the air of the longest waves, per K of contrast.
const SLOW_AIR: f64 = 0.7;
/// Fall of the dew point with it, over the fall of temperature: warm air is moist.
const SLOW_MOISTURE: f64 = 1.7;
/// Pressure that such warm air lacks, being light, hPa at 45 degrees.
const WARM_HPA: f64 = 1.8;
/// Small waves of pressure, of hours and of minutes, hPa, and wind of the scales between fronts and gusts, m/s
/// (sized by the roughness of an open hourly year; no other source).
const SMALL_HPA: [f64; 2] = [0.32, 0.17];
/// Geostrophic wind at which these waves have that size: where it is strong, in lows and at fronts, they are larger
/// (common practice, no source).
const LIVELY_MS: f64 = 9.0;
const SMALL_WIND_MS: f64 = 2.75;
/// Wind of eddies of some tens of kilometres, which neighbours do not share, m/s at [`LIVELY_MS`]: the stronger the
/// wind, the livelier they are, and a few are strong (sized as the small waves are).
const EDDY_MS: f64 = 1.65;

#[cfg(test)]
mod tests {
    use super::*;

    fn train(latitude_deg: f64) -> Train {
        Train::new(Seed(11), "t", Setting::new(latitude_deg, 18.0))
    }

    #[test]
    fn the_wind_turns_and_cold_dry_air_comes_with_a_cold_front() {
        // The plane is mirrored in the south, so a veer there is what backs on the map.
        for latitude_deg in [50.0, -45.0] {
            let mut train = train(latitude_deg);
            let mut fronts = 0;
            let (mut veers, mut colder, mut drier) = (0, 0, 0);
            for number in 9_000..10_500 {
                let system = train.system(number);
                if system.frontal < 0.95 || system.strength < 1.0 {
                    continue;
                }
                let mut at = |hours: f64| {
                    let time_s = system.front_s + hours * HOUR_S;
                    train.air(time_s, Offset::default(), (3.0, 0.0), |system| system)
                };
                let (before, after) = (at(-5.0), at(5.0));
                let turn = |w: (f64, f64)| libm::atan2(w.0, w.1).to_degrees();
                let turned = (turn(after.wind_ms) - turn(before.wind_ms) + 540.0) % 360.0 - 180.0;
                fronts += 1;
                veers += i32::from(turned > 0.0);
                colder += i32::from(after.temperature_k < before.temperature_k);
                drier += i32::from(after.dew_point_k < before.dew_point_k);
            }
            assert!(fronts > 100, "{fronts}");
            let share = |count: i32| f64::from(count) / f64::from(fronts);
            assert!(share(veers) > 0.8, "{latitude_deg}: {}", share(veers));
            assert!(share(colder) > 0.7, "{latitude_deg}: {}", share(colder));
            assert!(share(drier) > 0.7, "{latitude_deg}: {}", share(drier));
        }
    }

    #[test]
    fn a_front_reaches_a_place_downstream_when_its_lag_says() {
        let mut train = train(50.0);
        let system = (9_000..10_500)
            .map(|number| train.system(number))
            .find(|system| system.frontal > 0.99 && system.trough_hpa > 0.5)
            .expect("a front in some years");
        let offset = Offset {
            east_km: 50.0,
            north_km: 0.0,
        };
        let lag_s = system.lag_s(offset, (1.0, 0.0));
        // 50 km at 5 to 22 m/s.
        assert!((1_500.0..12_000.0).contains(&lag_s), "{lag_s}");
        let there = system.hours(system.front_s + lag_s, 50.0, 0.0);
        assert!(there.abs() < 1e-9, "{there}");
    }

    #[test]
    fn the_air_is_a_function_of_time_alone() {
        let time = |n: i32| 1_700_000_000.0 + f64::from(n) * 3_600.0;
        let mut forth = train(50.0);
        let series: Vec<Air> = (0..400)
            .map(|n| forth.air(time(n), Offset::default(), (3.0, 0.0), |s| s))
            .collect();
        for n in [399, 200, 17] {
            let fresh = train(50.0).air(time(n), Offset::default(), (3.0, 0.0), |s| s);
            let held = series[n as usize];
            assert_eq!(fresh.pressure_hpa, held.pressure_hpa);
            assert_eq!(fresh.wind_ms, held.wind_ms);
            // Paths reach back to systems that one of the two may hold no longer.
            assert!((fresh.temperature_k - held.temperature_k).abs() < 0.2);
        }
    }
}
