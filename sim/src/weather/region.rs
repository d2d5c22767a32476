//! The weather of a region: one slow state, a function of seed and time, that stations sample.

use super::calibration::Calibration;
use super::climate::{Climate, MonthPoint, Normals, day_of_year, mean_preserving};
use super::daylight::Turbidity;
use super::noise::{Curve, floor, smooth_step};
use super::rain::phases_with;
use super::synoptic::{DRIFT_MS, Setting, Spot, System, Train};
use super::wind::mixing;
use crate::entropy::Seed;
use crate::site::Place;

/// Owner of the entropy streams that all stations of a region share.
pub(crate) const OWNER: &str = "region";
/// Turn of the wind near the ground across the isobars towards low pressure, degrees (common practice:
/// 10 to 20 over sea, 20 to 35 over land; no source).
const CROSS_ISOBAR_DEG: f64 = 22.0;

/// Mean geostrophic wind of the prevailing flow, m/s: in the middle latitudes, and what the trades have more
/// (common practice, no source).
const MEAN_FLOW_MS: f64 = 5.5;
const TRADES_MS: f64 = 3.0;
/// Wind of the smallest scales, m/s: it blows when nothing else does (common practice, no source).
const CALM_MS: f64 = 1.3;

/// Geostrophic wind at which the ground takes twice the share that it takes of a light one, m/s: the drag
/// grows with the wind (the geostrophic drag law, Blackadar & Tennekes 1968; this form of it is common
/// practice, no source).
const DRAG_MS: f64 = 33.0;

/// Spread of temperature and dew point of an air mass, K: as it is where it is wide, never below nothing: air
/// over which cloud has formed has lost what it could not hold (common practice, no source).
pub(crate) fn least_spread_k(spread_k: f64) -> f64 {
    0.5 * (spread_k + (spread_k * spread_k + 30.0).sqrt())
}

/// Share of the day's mixing that open coastal plains show, and how long it follows the sun, s: the wind of the
/// afternoon is highest some two hours after the sun, when the mixed layer is deepest (sized by the mean day and the
/// correlation over 24 h of an open hourly year; no other source).
const DAY_SHARE: f64 = 0.75;
pub(crate) const DAY_LAG_S: f64 = 7200.0;

/// Wind at 10 m over what it would be without the day; `sun_up` is the sine of the sun's elevation [`DAY_LAG_S`]
/// before.
pub(crate) fn stirred(sun_up: f64, low_cloud: f64, speed_ms: f64) -> f64 {
    1.0 + DAY_SHARE * (mixing(sun_up, low_cloud, speed_ms) - 1.0)
}

/// Time in which the wind changes between its sectors, s.
const REGIME_S: f64 = 3.0 * 86_400.0;

/// Share of the rain that falls from the day's own convection, 0 to 1: more in summer, and where the hours
/// with rain are heavy (common practice, no source).
fn convective_share(normals: &Normals, summer: f64) -> f64 {
    let heavy_mmh = normals.rain_mm / normals.wet_hours.max(0.1);
    (0.25 * summer).max(0.8 * smooth_step(1.0, 4.0, heavy_mmh))
}

/// Mean sea-level pressure at a latitude, hPa: the equatorial trough, the subtropical belt, the subpolar
/// low and the polar high (Peixoto & Oort 1992, figure 7.1, from memory; both hemispheres alike).
fn mean_sea_level_hpa(latitude_deg: f64) -> f64 {
    const BELTS: [f64; 10] = [
        1010.5, 1011.0, 1013.0, 1016.5, 1017.0, 1014.0, 1011.0, 1011.5, 1013.0, 1013.5,
    ];
    let position = (latitude_deg.abs() / 10.0).min(8.999);
    let belt = position as usize;
    BELTS[belt] + (BELTS[belt + 1] - BELTS[belt]) * (position - belt as f64)
}

/// Where a point lies from the region's reference point.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Offset {
    /// East, km.
    pub east_km: f64,
    /// North, km.
    pub north_km: f64,
}

/// Kilometres of one degree of latitude, on a sphere of 6371 km.
pub const KM_PER_DEG: f64 = 6371.0 * core::f64::consts::PI / 180.0;

impl Offset {
    /// Where a place lies from another, on a sphere of 6371 km; for regions of some hundred kilometres.
    #[must_use]
    pub fn between(from: &Place, to: &Place) -> Self {
        let middle = 0.5 * (to.latitude_deg + from.latitude_deg);
        let turn = to.longitude_deg - from.longitude_deg;
        let turn = turn - 360.0 * libm::floor(turn / 360.0 + 0.5);
        Self {
            east_km: turn * KM_PER_DEG * libm::cos(middle.to_radians()),
            north_km: (to.latitude_deg - from.latitude_deg) * KM_PER_DEG,
        }
    }
}

/// The slow state of the region at one point and instant.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Regional {
    /// Sea-level pressure without the tide, hPa.
    pub(crate) pressure_hpa: f64,
    /// Wind at 10 m before the day's mixing, m/s.
    pub(crate) wind_speed_ms: f64,
    /// Where it comes from, degrees.
    pub(crate) wind_from_deg: f64,
    /// Air-mass temperature and dew point near the ground, degC: the middle of the day's swing.
    pub(crate) temperature_degc: f64,
    pub(crate) dew_point_degc: f64,
    /// Low and high cloud, 0 to 1.
    pub(crate) low_cloud: f64,
    pub(crate) high_cloud: f64,
    /// 0 to 1: within the rain of a front.
    pub(crate) rain_shield: f64,
    /// What the day's swing is multiplied by.
    pub(crate) range_gain: f64,
    /// Spread of temperature and dew point before it is kept positive, K, for the fit.
    pub(crate) spread_k: f64,
    /// The systems' departure of pressure, hPa, for the fit.
    pub(crate) departure_hpa: f64,
    /// Air-mass departures, K, and the index of low cloud, for the fit.
    pub(crate) anomalies: (f64, f64, f64),
}

impl Regional {
    /// The state at a place that lies so much higher than the reference place, km.
    ///
    /// Temperature falls by 6.5 K/km (ISO 2533), the dew point by 2 K/km (common practice) as long as the air
    /// is dry enough for it; higher up, towards the clouds, a third of the spread stays.
    pub(crate) fn raised(&self, km: f64) -> Self {
        let spread = self.temperature_degc - self.dew_point_degc;
        let temperature_degc = self.temperature_degc - 6.5 * km;
        let drier = (spread - 4.5 * km).max(spread.min(0.35 * spread));
        Self {
            temperature_degc,
            dew_point_degc: temperature_degc - drier,
            ..*self
        }
    }
}

/// A region with one weather, a function of its climate, its reference place and one seed.
///
/// Setting one up fits the free figures to the normals, which takes about a fifth of a second; stations
/// share it (see [`Weather::synthetic`](super::Weather::synthetic)).
#[derive(Debug, Clone)]
pub struct Region {
    seed: Seed,
    reference: Place,
    train: Train,
    longitude_deg: f64,
    setting: Setting,
    base_pressure_hpa: f64,
    temperature: [f64; 12],
    dew_point: [f64; 12],
    flow: [(f64, f64); 12],
    second: [(f64, f64); 12],
    second_share: [f64; 12],
    daily_range: [f64; 12],
    regime: Curve,
    /// Share of the rain that falls from the day's own convection.
    convection: [f64; 12],
    /// Of its cloudless air.
    pub(crate) turbidity: Turbidity,
    /// What was fitted to the normals.
    pub(crate) calibration: Calibration,
}

impl Region {
    /// The region around a reference place at which the normals hold, fitted to them.
    #[must_use]
    pub fn new(climate: &Climate, reference: Place, seed: Seed) -> Self {
        let calibration = Calibration::fit(climate, &reference);
        Self::with(climate, &reference, seed, calibration)
    }

    /// Where a place lies from the reference place, on a sphere of 6371 km; for regions of some hundred
    /// kilometres.
    #[must_use]
    pub fn offset(&self, place: &Place) -> Offset {
        Offset::between(&self.reference, place)
    }

    /// The seed that all of its weather comes from.
    #[must_use]
    pub fn seed(&self) -> Seed {
        self.seed
    }

    /// A region whose fitted figures are given.
    pub(crate) fn with(
        climate: &Climate,
        place: &Place,
        seed: Seed,
        calibration: Calibration,
    ) -> Self {
        let months = &climate.months;
        let of = |pick: fn(&Normals) -> f64| core::array::from_fn(|i| pick(&months[i]));
        let of_unit = |pick: fn(&Normals) -> f64| {
            of(pick).map(|from_deg| {
                let (sine, cosine) = libm::sincos(from_deg.to_radians());
                (-sine, -cosine)
            })
        };
        let temperature: [f64; 12] = of(|m| m.mean_temperature_degc);
        let warmest = temperature.iter().copied().fold(f64::MIN, f64::max);
        let coldest = temperature.iter().copied().fold(f64::MAX, f64::min);
        let setting = Setting::new(place.latitude_deg, warmest - coldest);
        Self {
            seed,
            reference: *place,
            train: Train::new(seed, OWNER, setting),
            longitude_deg: place.longitude_deg,
            setting,
            base_pressure_hpa: mean_sea_level_hpa(place.latitude_deg),
            temperature: mean_preserving(&temperature),
            dew_point: mean_preserving(&of(|m| m.mean_dew_point_degc)),
            flow: of_unit(|m| m.prevailing_direction_deg),
            second: of_unit(|m| m.second_direction_deg),
            second_share: of(|m| m.second_share),
            daily_range: of(|m| m.daily_range_k),
            regime: Curve::new(seed.key(OWNER, "wind regime"), REGIME_S),
            convection: core::array::from_fn(|i| {
                let summer = 0.5 - 0.5 * setting.winterness(30.44 * (i as f64 + 0.5));
                convective_share(&months[i], summer).max(0.75 * setting.tropical)
            }),
            turbidity: Turbidity::of(climate),
            calibration,
        }
    }

    /// How much higher a place lies than the reference place, km.
    pub(crate) fn above_km(&self, place: &Place) -> f64 {
        0.001 * (place.altitude_m - self.reference.altitude_m)
    }

    /// Normal range of the day, K.
    pub(crate) fn daily_range_k(&self, month: MonthPoint) -> f64 {
        month.of(&self.daily_range)
    }

    /// Where an offset lies in what drifts past: eastward in the westerlies, westward in the trades.
    pub(crate) fn spot(&self, offset: Offset) -> Spot {
        let point = (offset.east_km, self.setting.hemisphere * offset.north_km);
        let towards = if self.setting.tropical > 0.5 {
            -1.0
        } else {
            1.0
        };
        Spot::of(point, (towards, 0.0), DRIFT_MS)
    }

    /// The same region for instants that lie far apart.
    pub(crate) fn scattered(mut self) -> Self {
        self.train.scatter();
        self
    }

    /// Wind of the systems alone before friction; see [`Train::field_wind_ms`].
    pub(crate) fn field_wind_ms(&mut self, time_s: f64) -> (f64, f64) {
        self.train.field_wind_ms(time_s)
    }

    /// Surface of a sea or large lake near the region, degC: the air's normal of a month before (common
    /// practice, no source).
    pub(crate) fn water_degc(&self, time_s: f64) -> f64 {
        MonthPoint::at(time_s - 30.0 * 86_400.0).of(&self.temperature)
    }

    /// A copy of the train of systems, for the rain.
    pub(crate) fn train(&self) -> Train {
        self.train.clone()
    }

    /// Unit vector (east, north) of the prevailing flow.
    pub(crate) fn flow(&self, month: MonthPoint) -> (f64, f64) {
        let east = month.of(&self.flow.map(|f| f.0));
        let north = month.of(&self.flow.map(|f| f.1));
        let length = (east * east + north * north).sqrt();
        if length < 1e-6 {
            return (1.0, 0.0);
        }
        (east / length, north / length)
    }

    /// Share of the rain that falls from the day's own convection, at the middles of the months.
    pub(crate) fn convection(&self) -> [f64; 12] {
        self.convection
    }

    /// Mean geostrophic wind (east, poleward), m/s: its wind near the ground blows from the prevailing
    /// sector, or for some days from the second.
    fn mean_wind_ms(&mut self, time_s: f64, month: MonthPoint) -> (f64, f64) {
        let speed = MEAN_FLOW_MS + TRADES_MS * self.setting.tropical;
        let (sine, cosine) = libm::sincos(CROSS_ISOBAR_DEG.to_radians());
        let share = month.of(&self.second_share);
        let mut flow = self.flow(month);
        if share > 0.0 {
            // The curve is near normal: above this it is for the share of the time (logistic quantile).
            let above = libm::log((1.0 - share) / share) / 1.702;
            let second = smooth_step(above - 0.5, above + 0.5, self.regime.value(time_s));
            flow.0 += second * (month.of(&self.second.map(|f| f.0)) - flow.0);
            flow.1 += second * (month.of(&self.second.map(|f| f.1)) - flow.1);
        }
        let (east, poleward) = (flow.0, self.setting.hemisphere * flow.1);
        // The systems' own mean wind, by the side on which they pass, is part of the prevailing one.
        let there = self.calibration.field_wind_ms.map(|w| month.of(&w));
        (
            speed * (east * cosine + poleward * sine) - there[0],
            speed * (poleward * cosine - east * sine) - there[1],
        )
    }

    /// What the afternoon adds to the index of low cloud: cumulus, most behind a cold front and in summer;
    /// it is gone by night (common practice, no source).
    fn cumulus(&self, time_s: f64, unstable: f64) -> f64 {
        let day = time_s / 86_400.0 + self.longitude_deg / 360.0;
        let from_peak_h = ((day - floor(day) as f64) * 24.0 - 14.0).abs();
        let afternoon = 1.0 - smooth_step(1.0, 6.0, from_peak_h);
        let calendar = self.setting.winterness(day_of_year(time_s));
        let summer = 0.5 - 0.5 * calendar * (1.0 - self.setting.tropical);
        (0.12 + 0.35 * unstable) * (afternoon - 0.4) * (0.3 + 0.7 * summer)
    }

    /// The state at an instant, s since 1970, at a point of the region.
    pub(crate) fn at(&mut self, time_s: f64, offset: Offset) -> Regional {
        let month = MonthPoint::at(time_s);
        let (abundance, longitude) = (self.calibration.abundance, self.longitude_deg);
        let convection = self.convection;
        let mark = |mut system: System| {
            let here = MonthPoint::at(system.front_s).of(&abundance).max(0.0);
            let share = MonthPoint::at(system.front_s).of(&convection);
            let there = phases_with(&system, here, longitude, share);
            system.rainy = [there[0].is_some(), there[2].is_some()];
            system
        };
        let mean_ms = self.mean_wind_ms(time_s, month);
        let mut air = self.train.air(time_s, offset, mean_ms, mark);
        air.low_cloud += self.cumulus(time_s, air.unstable);
        let c = &self.calibration;

        // Friction turns the wind towards low pressure: against the clock in the north.
        let (sine, cosine) = libm::sincos(CROSS_ISOBAR_DEG.to_radians());
        let (east, poleward) = air.wind_ms;
        let surface = (
            east * cosine - poleward * sine,
            self.setting.hemisphere * (poleward * cosine + east * sine),
        );
        let balanced = (east * east + poleward * poleward + CALM_MS * CALM_MS).sqrt();
        let balanced = balanced / (1.0 + balanced / DRAG_MS);
        let from = libm::atan2(-surface.0, -surface.1).to_degrees();

        let low = low_cover(air.low_cloud, month.of(&c.cloud_threshold), air.rain_shield);
        let high = logistic(6.0 * (air.high_cloud - 0.75));
        let temperature_degc =
            month.of(&self.temperature) + air.temperature_k - month.of(&c.mean_warmth_k);
        let spread = temperature_degc
            - (month.of(&self.dew_point) + air.dew_point_k - month.of(&c.mean_moisture_k));
        Regional {
            pressure_hpa: self.base_pressure_hpa + air.pressure_hpa
                - month.of(&c.mean_pressure_hpa),
            departure_hpa: air.pressure_hpa,
            wind_speed_ms: balanced * month.of(&c.wind_factor),
            wind_from_deg: from,
            temperature_degc: temperature_degc - month.of(&c.local_warmth_k),
            dew_point_degc: temperature_degc
                - least_spread_k(spread)
                - month.of(&c.local_moisture_k),
            spread_k: spread,
            low_cloud: low,
            high_cloud: high,
            rain_shield: air.rain_shield,
            range_gain: month.of(&c.range_gain),
            anomalies: (air.temperature_k, air.dew_point_k, air.low_cloud),
        }
    }
}

/// Cover of all cloud from that of its layers; thin high cloud counts in part.
pub(crate) fn total_cover(low: f64, high: f64) -> f64 {
    1.0 - (1.0 - low) * (1.0 - 0.55 * high)
}

/// Cover of low cloud from its index, the index at which half the sky is covered, and how far a front's rain
/// is overhead.
pub(crate) fn low_cover(index: f64, threshold: f64, rain_shield: f64) -> f64 {
    logistic(6.5 * (index - threshold)).max(0.96 * rain_shield)
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-x))
}
