//! The train of passing systems: lows with a warm and a cold front, and the ridges between them.
//!
//! One system sets everything that comes with it. Pressure is a trough with a kink at the cold front and a
//! ridge behind it; the wind is geostrophic in that same pressure field, carried along at the system's
//! speed, so falling pressure brings a wind from the equator's side and the kink turns it at the front
//! (veering in the north, backing in the south); air masses, cloud and rain sit where the fronts are. The
//! shapes follow the textbook cyclone (Bjerknes & Solberg 1922); lengths and strengths are common practice,
//! no source.

use super::noise::{Curve, floor, smooth_step};
use crate::entropy::{Key, Seed};

/// Mean time between cold fronts, s. Mid-latitude systems pass every three to four days (common
/// practice, no source).
pub(crate) const SPACING_S: f64 = 3.4 * 86_400.0;
/// Share of the spacing by which a front may be early or late.
const JITTER: f64 = 0.7;
const HOUR_S: f64 = 3600.0;
/// Poleward geostrophic wind, m/s, per hPa/h of falling pressure at 12 m/s of system speed and 45 degrees:
/// `1/(rho f c)` gives 19; curved flow is weaker than straight (common practice, no source).
const WIND_PER_TENDENCY: f64 = 14.0;
/// Along-track geostrophic wind, m/s, per hPa of depth: a low some 800 km poleward of the point.
const WIND_PER_DEPTH: f64 = 0.8;
/// Mean along-track geostrophic wind, m/s.
const MEAN_FLOW_MS: f64 = 4.0;

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
}

impl Setting {
    pub(crate) fn new(latitude_deg: f64, annual_range_k: f64) -> Self {
        let sine = libm::sin(latitude_deg.abs().to_radians()) / core::f64::consts::FRAC_1_SQRT_2;
        Self {
            coriolis: sine.clamp(0.25, 1.2),
            hemisphere: if latitude_deg < 0.0 { -1.0 } else { 1.0 },
            // Continents have the larger contrasts as they have the larger year (common practice).
            contrast_k: (1.3 + 0.12 * annual_range_k).min(6.0),
        }
    }
    /// +1 in midwinter, -1 in midsummer.
    pub(crate) fn winterness(&self, day_of_year: f64) -> f64 {
        self.hemisphere * libm::cos(core::f64::consts::TAU * (day_of_year - 20.0) / 365.25)
    }
}

/// One low with its fronts. Hours count from the cold front's passage of the reference point.
#[derive(Debug, Clone, Copy)]
pub(crate) struct System {
    pub(crate) number: i64,
    /// Passage of the cold front at the reference point, s since 1970.
    pub(crate) front_s: f64,
    /// Strength, mean near 1.
    pub(crate) strength: f64,
    /// Warm front ahead of the cold front, h.
    pub(crate) warm_h: f64,
    /// Wetness, mean 1.
    pub(crate) wetness: f64,
    /// Uniform variates that decide which rain phases are there.
    pub(crate) chances: [f64; 5],
    /// Hours of rain ahead of the warm front.
    pub(crate) ahead_h: f64,
    /// Speed of travel, m/s.
    pub(crate) speed_ms: f64,
    /// Turn of the track against the prevailing wind, radians.
    pub(crate) turn_rad: f64,
    /// Cloud of the warm and of the cold front's rain is there.
    pub(crate) rainy: [bool; 2],
    /// +1 in midwinter, -1 in midsummer.
    pub(crate) winterness: f64,
    depth_hpa: f64,
    ridge_hpa: f64,
    fall_h: f64,
    rise_h: f64,
    warm: f64,
    cold: f64,
    moist: f64,
    /// Hours that the cold front takes to pass, and the share of the cooling that comes with it.
    front_h: f64,
    front_share: f64,
}

/// The state that the systems impose on one point.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Air {
    /// Departure of sea-level pressure from its long mean, hPa.
    pub(crate) pressure_hpa: f64,
    /// Geostrophic wind along the prevailing flow, m/s.
    pub(crate) along_ms: f64,
    /// Geostrophic wind towards the pole's side of the prevailing flow, m/s.
    pub(crate) poleward_ms: f64,
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
    /// Long waves: pressure, and the flow across it.
    long_pressure: Curve,
    long_flow: Curve,
    short_flow: [Curve; 2],
    short_pressure: Curve,
    cloud: [Curve; 2],
    slow_warmth: Curve,
    slow_moisture: Curve,
    centre: i64,
    held: [System; 5],
}

impl Train {
    pub(crate) fn new(seed: Seed, owner: &str, setting: Setting) -> Self {
        let curve = |name: &str, hours: f64| Curve::new(seed.key(owner, name), hours * HOUR_S);
        let mut train = Self {
            setting,
            key: seed.key(owner, "systems"),
            activity: curve("activity", 5.0 * 24.0),
            long_pressure: curve("long wave pressure", 84.0),
            long_flow: curve("long wave flow", 50.0),
            short_flow: [
                curve("short wave flow along", 9.0),
                curve("short wave flow across", 9.0),
            ],
            short_pressure: curve("short wave pressure", 2.5),
            cloud: [curve("cloud hours", 1.6), curve("cloud half days", 8.0)],
            slow_warmth: curve("slow warmth", 96.0),
            slow_moisture: curve("slow moisture", 30.0),
            centre: 0,
            held: [System::NONE; 5],
        };
        train.load(0);
        train
    }

    fn load(&mut self, centre: i64) {
        self.centre = centre;
        for (slot, offset) in (-2..=2).enumerate() {
            self.held[slot] = self.system(centre + offset);
        }
    }

    /// System number `number`; its front passes within its own spacing interval, so any can be asked for.
    pub(crate) fn system(&mut self, number: i64) -> System {
        let mut stream = self.key.stream(number);
        let place = number as f64 + 0.5 + JITTER * (stream.uniform() - 0.5);
        let front_s = place * SPACING_S;
        let winterness = self
            .setting
            .winterness(super::climate::day_of_year(front_s));
        let activity = libm::exp(0.4 * self.activity.value(front_s) - 0.08);
        let strength = (activity * stream.gamma3()).clamp(0.08, 2.2);
        let season = 1.0 + 0.35 * winterness;
        System {
            number,
            front_s,
            strength,
            winterness,
            depth_hpa: 10.0 * strength * season * self.setting.coriolis,
            ridge_hpa: stream.between(4.0, 10.0) * season * self.setting.coriolis,
            fall_h: stream.between(12.0, 19.0),
            rise_h: stream.between(9.0, 16.0),
            warm_h: stream.between(4.0, 16.0),
            speed_ms: stream.between(9.0, 15.0),
            turn_rad: stream.between(-0.35, 0.35),
            warm: stream.between(0.5, 1.5) * strength.sqrt(),
            cold: stream.between(0.5, 1.5) * strength.sqrt(),
            moist: stream.between(0.6, 1.4),
            wetness: stream.gamma3(),
            ahead_h: stream.between(2.5, 9.0),
            chances: core::array::from_fn(|_| stream.uniform()),
            front_h: 0.4 + 2.2 * stream.uniform() * stream.uniform(),
            front_share: stream.between(0.2, 0.65),
            rainy: [false; 2],
        }
    }

    /// The number of the interval of the train in which an instant lies.
    pub(crate) fn interval(time_s: f64) -> i64 {
        floor(time_s / SPACING_S)
    }

    /// The air at an instant, at a point that the systems reach `east_km`/`north_km` from the reference
    /// point; `flow` is the unit vector (east, north) of the prevailing flow. `mark` completes a system
    /// with what the rain decides about it.
    pub(crate) fn air(
        &mut self,
        time_s: f64,
        offset: super::region::Offset,
        flow: (f64, f64),
        mark: impl Fn(System) -> System,
    ) -> Air {
        let centre = Self::interval(time_s);
        if centre != self.centre || self.held[0].number == System::NONE.number {
            self.load(centre);
            self.held = self.held.map(mark);
        }
        let mut air = Air::default();
        let mut presence = [0.0_f64; 2];
        let mut trough_hpa = 0.0;
        let mut poleward = 0.0;
        for system in &self.held {
            let hours = (time_s - system.front_s - system.lag_s(offset, flow)) / HOUR_S;
            // Beyond, its bells are below a thousandth and its cold air is forgotten.
            if (-70.0..150.0).contains(&hours) {
                let (trough, wind) = system.add(hours, &mut air, &mut presence, self.setting);
                trough_hpa += trough;
                poleward += wind;
            }
        }
        air.low_cloud += presence[0];
        air.high_cloud += presence[1];

        let (long, long_rate) = self.long_pressure.at(time_s);
        let long_hpa = 5.5 * self.setting.coriolis;
        air.pressure_hpa += long_hpa * long + 0.3 * self.short_pressure.value(time_s);
        let (hours, days) = (self.cloud[0].value(time_s), self.cloud[1].value(time_s));
        air.low_cloud += 0.13 * hours + 0.24 * days;
        air.high_cloud += 0.2 * hours + 0.3 * days;
        poleward -= long_hpa * long_rate * HOUR_S * WIND_PER_TENDENCY / self.setting.coriolis;
        air.along_ms = MEAN_FLOW_MS
            + WIND_PER_DEPTH * trough_hpa / self.setting.coriolis
            + 4.0 * self.long_flow.value(time_s)
            + 2.0 * self.short_flow[0].value(time_s);
        air.poleward_ms = poleward + 2.0 * self.short_flow[1].value(time_s);
        let warmth = self.slow_warmth.value(time_s);
        air.temperature_k += 0.85 * self.setting.contrast_k * warmth;
        air.dew_point_k +=
            self.setting.contrast_k * (0.85 * warmth + 0.35 * self.slow_moisture.value(time_s));
        air
    }
}

impl System {
    const NONE: Self = Self {
        number: i64::MIN,
        front_s: 0.0,
        strength: 0.0,
        warm_h: 1.0,
        wetness: 0.0,
        chances: [1.0; 5],
        ahead_h: 0.0,
        speed_ms: 10.0,
        turn_rad: 0.0,
        rainy: [false; 2],
        winterness: 0.0,
        depth_hpa: 0.0,
        ridge_hpa: 0.0,
        fall_h: 1.0,
        rise_h: 1.0,
        warm: 0.0,
        cold: 0.0,
        moist: 0.0,
        front_h: 1.0,
        front_share: 0.5,
    };

    /// How much later than at the reference point the system passes at an offset, s.
    pub(crate) fn lag_s(&self, offset: super::region::Offset, flow: (f64, f64)) -> f64 {
        if offset.east_km == 0.0 && offset.north_km == 0.0 {
            return 0.0;
        }
        let (sine, cosine) = libm::sincos(self.turn_rad);
        let east = flow.0 * cosine - flow.1 * sine;
        let north = flow.0 * sine + flow.1 * cosine;
        1000.0 * (offset.east_km * east + offset.north_km * north) / self.speed_ms
    }

    /// Adds what the system does `hours` after its cold front; returns its trough (hPa, positive) and
    /// poleward wind (m/s).
    fn add(
        &self,
        hours: f64,
        air: &mut Air,
        presence: &mut [f64; 2],
        setting: Setting,
    ) -> (f64, f64) {
        let bell = |x: f64| libm::exp(-0.5 * x * x);
        // Trough: broad, deeper on the side of its front, with a kink there.
        let width = if hours < 0.0 {
            self.fall_h
        } else {
            self.rise_h
        };
        let broad = bell(hours / width);
        let distance = (hours * hours + 0.05).sqrt();
        let kink = libm::exp(-distance / 3.0);
        let trough = self.depth_hpa * (0.84 * broad + 0.16 * kink);
        let trough_rate = -self.depth_hpa
            * (0.84 * broad * hours / (width * width) + 0.16 * kink * hours / distance / 3.0);
        // Ridge behind it.
        let x = (hours - 31.0) / 14.0;
        let ridge = self.ridge_hpa * bell(x);
        let ridge_rate = -ridge * x / 14.0;
        air.pressure_hpa += ridge - trough;
        let wind = WIND_PER_TENDENCY * (12.0 / self.speed_ms) * (trough_rate - ridge_rate)
            / setting.coriolis;

        // Air masses: warm between the fronts, cold behind, slowly forgotten.
        let warm_front = smooth_step(-self.warm_h - 3.0, -self.warm_h + 3.0, hours);
        let cold_front = smooth_step(-0.2, self.front_h, hours);
        let ahead = 0.35 * smooth_step(-self.warm_h - 30.0, -self.warm_h - 2.0, hours);
        let sector = (ahead + 0.65 * warm_front) * (1.0 - cold_front);
        let behind = if hours > -0.2 {
            cold_front
                * (1.0 - (1.0 - self.front_share) * libm::exp(-hours.max(0.0) / 9.0))
                * libm::exp(-hours / 42.0)
        } else {
            0.0
        };
        let contrast = setting.contrast_k * (1.0 + 0.25 * self.winterness);
        air.temperature_k += contrast * 0.85 * (self.warm * sector - self.cold * behind);
        air.dew_point_k +=
            contrast * 1.1 * (self.moist * self.warm * sector - 1.15 * self.cold * behind);

        // Cloud: high cloud leads, the shield thickens to the warm front, the band marks the cold front.
        let grip = (0.35 + 0.75 * self.strength).min(1.0);
        let to_warm = hours + self.warm_h;
        let shield = smooth_step(-16.0, -4.0, to_warm) * (1.0 - smooth_step(0.0, 2.5, to_warm));
        let stratus = 0.6 * smooth_step(-2.0, 1.0, to_warm) * (1.0 - smooth_step(-0.5, 0.7, hours));
        let band = smooth_step(-3.5, -1.2, hours) * (1.0 - smooth_step(0.9, 3.0, hours));
        let low = grip * (1.1 * shield).max(stratus).max(1.1 * band);
        let high = grip * smooth_step(-30.0, -15.0, to_warm) * (1.0 - smooth_step(1.0, 4.0, hours));
        presence[0] = presence[0].max(low);
        presence[1] = presence[1].max(high);
        air.low_cloud -= 0.45 * bell((hours - 32.0) / 15.0) * (self.ridge_hpa / 8.0).min(1.3);
        if hours > 2.0 {
            let showery = smooth_step(2.0, 4.5, hours) * libm::exp(-(hours - 2.0) / 14.0) * grip;
            air.unstable = air.unstable.max(showery);
        }
        if self.rainy[0] {
            let rain = smooth_step(-self.ahead_h - 1.5, -self.ahead_h - 0.3, to_warm)
                * (1.0 - smooth_step(1.3, 2.6, to_warm));
            air.rain_shield = air.rain_shield.max(rain);
        }
        if self.rainy[1] {
            let rain = smooth_step(-2.2, -1.2, hours) * (1.0 - smooth_step(1.5, 2.6, hours));
            air.rain_shield = air.rain_shield.max(rain);
        }
        (trough, wind)
    }
}
