//! One passing system: a low with its fronts, and the high that follows it.

use super::Setting;
use super::ascent::Ascent;
use super::field::{HOUR_S, Vortex};
use crate::entropy::Stream;
use crate::weather::region::Offset;

/// One low with its fronts. Hours count from the cold front's passage of the reference point.
///
/// Where no front passes (the low goes by on the equator's side, or the place knows no fronts) that instant
/// is the low's nearest approach.
#[derive(Debug, Clone, Copy)]
pub(crate) struct System {
    pub(crate) number: i64,
    /// Passage of the cold front at the reference point, s since 1970.
    pub(crate) front_s: f64,
    /// Strength, mean near 1; 0 where the slot of the train is empty.
    pub(crate) strength: f64,
    /// Warm front ahead of the cold front, h; short when the fronts have joined.
    pub(crate) warm_h: f64,
    /// Wetness, mean 1.
    pub(crate) wetness: f64,
    /// Uniform variates that decide which rain phases are there (warm front, warm sector, cold front, showers
    /// behind, thunderstorms); 1 for those that the system cannot bring.
    pub(crate) chances: [f64; 5],
    /// Hours of rain ahead of the warm front.
    pub(crate) ahead_h: f64,
    /// Speed of travel, m/s.
    pub(crate) speed_ms: f64,
    /// Cloud of the warm and of the cold front's rain is there.
    pub(crate) rainy: [bool; 2],
    /// +1 in midwinter, -1 in midsummer; deep in the tropics always near summer.
    pub(crate) winterness: f64,
    /// How much of a front passes the place, 0 to 1.
    pub(crate) frontal: f64,
    /// How near it comes, 0 to 1: far lows bring little cloud.
    pub(crate) nearness: f64,
    pub(crate) low: Vortex,
    pub(crate) high: Vortex,
    /// Direction of travel (east, poleward) and slope of the cold front against the line across the track.
    pub(crate) heading: (f64, f64),
    pub(crate) slope: f64,
    /// Depth of the trough in which the front lies, hPa, and its width, km.
    pub(crate) trough_hpa: f64,
    pub(crate) trough_km: f64,
    /// Steps of temperature and dew point at the warm and at the cold front, relative.
    pub(crate) warm: f64,
    pub(crate) cold: f64,
    pub(crate) dry: f64,
    /// Hours that the cold front takes to pass.
    pub(crate) front_h: f64,
    /// 1 north of the equator, -1 south of it.
    hemisphere: f64,
    /// How readily rain forms about the front by the field of pressure at the reference point.
    pub(super) ascent: Ascent,
}

impl System {
    pub(crate) const NONE: Self = Self {
        number: i64::MIN,
        front_s: 0.0,
        strength: 0.0,
        warm_h: 1.0,
        wetness: 0.0,
        chances: [1.0; 5],
        ahead_h: 0.0,
        speed_ms: 10.0,
        rainy: [false; 2],
        winterness: 0.0,
        frontal: 0.0,
        nearness: 0.0,
        low: Vortex::NONE,
        high: Vortex::NONE,
        heading: (1.0, 0.0),
        slope: 0.5,
        trough_hpa: 0.0,
        trough_km: 200.0,
        warm: 0.0,
        cold: 0.0,
        dry: 0.0,
        front_h: 1.0,
        hemisphere: 1.0,
        ascent: Ascent::NONE,
    };

    /// System number `number` of a train, nearest at `nearest_s`; `activity` (mean 1) is how lively the
    /// season's weather is just then, `blocked` (0 to 1) how far a block holds systems away. All variates
    /// are drawn whatever comes of them.
    pub(crate) fn draw(
        number: i64,
        nearest_s: f64,
        stream: &mut Stream,
        setting: &Setting,
        activity: f64,
        blocked: f64,
    ) -> Self {
        let calendar = setting.winterness(super::super::climate::day_of_year(nearest_s));
        let tropical = setting.tropical;
        let winterness = calendar * (1.0 - tropical) - 0.7 * tropical;
        let present = stream.uniform() < OCCUPIED * (1.0 - 0.75 * blocked);
        let raw = stream.gamma3();
        let normal: [f64; 6] = core::array::from_fn(|_| stream.normal());
        let wetness = stream.gamma3();
        let mut chances: [f64; 5] = core::array::from_fn(|_| stream.uniform());
        let u: [f64; 16] = core::array::from_fn(|_| stream.uniform());
        let between = |i: usize, low: f64, high: f64| low + (high - low) * u[i];
        if !present {
            return Self {
                number,
                front_s: nearest_s,
                winterness,
                hemisphere: setting.hemisphere,
                ..Self::NONE
            };
        }

        let strength = (activity * raw).clamp(0.08, 2.1);
        let season = 1.0 + 0.3 * calendar * (1.0 - tropical);
        // Westerlies carry systems eastward, trades westward (common practice, no source).
        let speed_ms =
            (11.5 * season.sqrt() + 2.8 * normal[0]).clamp(5.0, 22.0) * (1.0 - 0.4 * tropical);
        let turn = 0.18 + 0.35 * normal[1];
        let (sine, cosine) = libm::sincos(turn);
        let side = if tropical > 0.5 { -1.0 } else { 1.0 };
        let heading = (side * cosine, sine);
        let left = (-heading.1 * side, heading.0 * side);
        let speed_kmh = 3.6 * speed_ms;

        let miss_km = setting.track_km(calendar) + 560.0 * normal[2];
        let life_h = between(0, 60.0, 110.0);
        let peak_s = nearest_s + HOUR_S * 26.0 * normal[3].clamp(-2.0, 2.0);
        let size_km = between(1, 620.0, 1250.0) * (1.0 - 0.2 * tropical);
        let lean = turn + 0.5 + 0.5 * normal[4];
        let low = Vortex {
            nearest_s,
            x_km: left.0 * miss_km,
            y_km: left.1 * miss_km,
            vx: heading.0 * speed_kmh,
            vy: heading.1 * speed_kmh,
            peak_s,
            life_h,
            amplitude_hpa: -DEPTH_HPA * strength * season * setting.contrast,
            size_km,
            stretch: between(2, 1.0, 1.9),
            axis: libm_axis(lean),
        };
        // The high behind: its distance, side, size and strength are its own; a block stays and is strong.
        let behind_km = between(3, 1100.0, 2300.0);
        let high_miss = setting.track_km(calendar) - 500.0 + 600.0 * normal[5];
        let high_s = nearest_s + HOUR_S * behind_km / speed_kmh;
        let high = Vortex {
            nearest_s: high_s,
            x_km: left.0 * high_miss,
            y_km: left.1 * high_miss,
            vx: low.vx * (1.0 - 0.5 * blocked),
            vy: low.vy * 0.5,
            peak_s: high_s + HOUR_S * between(4, -20.0, 20.0),
            life_h: between(5, 70.0, 110.0) * (1.0 + 0.4 * blocked),
            amplitude_hpa: HIGH_HPA
                * between(6, 0.3, 1.7)
                * season
                * setting.contrast
                * (1.0 + 0.6 * blocked),
            size_km: between(7, 1000.0, 1900.0),
            stretch: between(8, 1.0, 1.7),
            axis: libm_axis(lean + 0.6),
        };

        // The station lies `miss_km` on the equator's side of the track: the cold front trails there, the
        // warm front leads, and near the centre they have joined.
        let slope = between(9, 0.0, 0.45);
        let lead = between(10, 0.3, 1.4);
        let joined_km = between(11, -50.0, 450.0);
        let frontal =
            step(-250.0, 120.0, miss_km) * (1.0 - step(1100.0, 1900.0, miss_km)) * (1.0 - tropical);
        let reach_km = miss_km.max(0.0);
        let warm_h = ((miss_km - joined_km).max(0.0) * (slope + lead) / speed_kmh).clamp(0.7, 20.0);
        // The cold front swings round ahead of the centre.
        let front_s = nearest_s + HOUR_S * (reach_km * slope / speed_kmh - 4.0) * frontal;
        let nearness = 1.0 - 0.8 * step(0.5, 1.6, miss_km.abs() / size_km);
        if warm_h < 3.0 || frontal < 0.3 {
            chances[1] = 1.0;
        }
        if tropical > 0.5 {
            chances[0] = 1.0;
            chances[1] = 1.0;
        }
        // The band at the cold front is narrow and often dry; showers follow lows, not highs that come close
        // behind. A share `k` of the chance is left.
        let left = |chance: f64, k: f64| (chance / (k + 1e-9)).min(1.0);
        chances[2] = left(chances[2], 0.4 * frontal);
        chances[3] = left(chances[3], 0.1 + 0.3 * step(1300.0, 2000.0, behind_km));
        if u[15] > nearness {
            chances[0] = 1.0;
        }
        let vigour = strength.sqrt();
        Self {
            number,
            front_s,
            strength,
            warm_h,
            wetness,
            chances,
            // On the pole's side of the low the rain of the warm air aloft lasts longest.
            ahead_h: between(12, 3.0, 15.0) * (1.0 + 0.7 * (1.0 - step(-300.0, 200.0, miss_km))),
            speed_ms,
            rainy: [false; 2],
            winterness,
            frontal,
            nearness,
            low,
            high,
            heading,
            slope: slope * side,
            trough_hpa: TROUGH_HPA * strength * frontal * season * setting.coriolis,
            trough_km: between(13, 110.0, 260.0),
            warm: between(14, 0.2, 1.6) * vigour * frontal,
            cold: (0.2 + 0.7 * raw).min(1.8) * vigour * frontal,
            dry: between(15, 0.3, 1.9),
            front_h: 0.3 + 2.6 * u[12] * u[14],
            hemisphere: setting.hemisphere,
            ascent: Ascent::NONE,
        }
    }

    /// What the chance of rain is multiplied by at an instant, by the field of pressure then.
    pub(crate) fn favour(&self, time_s: f64) -> f64 {
        self.ascent.favour(time_s)
    }

    /// How much later than at the reference point the cold front passes at an offset, s. The direction of
    /// travel is the system's own; the prevailing flow is not needed.
    pub(crate) fn lag_s(&self, offset: Offset, _flow: (f64, f64)) -> f64 {
        if offset.east_km == 0.0 && offset.north_km == 0.0 {
            return 0.0;
        }
        self.lag_at(offset.east_km, self.hemisphere * offset.north_km)
    }

    /// Velocity of travel (east, north), m/s.
    pub(crate) fn motion_ms(&self) -> (f64, f64) {
        let (east, poleward) = self.heading;
        (
            self.speed_ms * east,
            self.speed_ms * self.hemisphere * poleward,
        )
    }

    /// The same as [`System::lag_s`] at a point of the plane (east, poleward, km).
    pub(crate) fn lag_at(&self, x_km: f64, y_km: f64) -> f64 {
        let along = self.heading.0 * x_km + self.heading.1 * y_km;
        let across = self.heading.0 * y_km - self.heading.1 * x_km;
        1000.0 * (along - across * self.slope * self.frontal) / self.speed_ms
    }
}

/// Share of the slots of the train that hold a system when nothing blocks.
const OCCUPIED: f64 = 0.8;
/// Mean depth of a low and height of a high at 45 degrees, hPa; depth of the trough at a front, hPa.
const DEPTH_HPA: f64 = 12.5;
const HIGH_HPA: f64 = 11.0;
const TROUGH_HPA: f64 = 1.0;

fn step(low: f64, high: f64, x: f64) -> f64 {
    super::super::noise::smooth_step(low, high, x)
}

fn libm_axis(angle: f64) -> (f64, f64) {
    let (sine, cosine) = libm::sincos(angle);
    (cosine, sine)
}
