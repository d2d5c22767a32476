//! Weather from normals: the region sampled at knots, with the day acting on it.

use super::breeze::{Breeze, Context};
use super::climate::{MonthPoint, day_of_year};
use super::cloud::Optics;
use super::daylight::Daylight;
use super::knot::{Knot, Slow};
use super::noise::sharpened;
use super::pressure::{station_hpa, tide_at};
use super::rain::{Fall, Moistened, Rain};
use super::region::{DAY_LAG_S, OWNER, Offset, Region, stirred, total_cover};
use super::synoptic::{Drift, Spot};
use super::temperature::{Forcing, Surface, patchiness_k, solid_share, through_fog};
use super::wind::blown;
use crate::physics::moist_air::{saturation_vapour_pressure_hpa, wet_bulb_degc};
use crate::site::{Place, Site, net_longwave_wm2};

/// Distance of the knots, s: a front passes in two or three of them.
const KNOT_S: f64 = 600.0;
/// Knots by which the day's wind lags.
const LAGGED: usize = (DAY_LAG_S / KNOT_S) as usize;
/// More rain with height, per km (common practice, no source).
const RAIN_PER_KM: f64 = 0.35;
/// Room for vapour, over the vapour, at which patches differ by half of what they do in dry air (common practice,
/// no source).
const MOIST_ROOM: f64 = 0.05;
/// Filaments of moist and dry air that the flow draws out, tens of kilometres long: their period, s, and width, km;
/// spread of their vapour over the vapour, at a room for vapour as large as the vapour: they differ the more the drier
/// the air is, at all hours, and most are faint beside a few sharp ones (sized by an open hourly year: second
/// differences of the dew point by its spread below the temperature; no other source).
const FILAMENT_S: f64 = 2400.0;
const FILAMENT_KM: f64 = 20.0;
const FILAMENT_SHARE: f64 = 0.030;
/// Vapour that the driest patch keeps.
const MOST_DRIED: f64 = 0.3;
/// Where the ground stirs the air they come from above, dry and warm: warmth of one dry by its spread, K, and upward
/// flux of heat at which it is half of that, W/m2 (common practice, no source).
const ENTRAINED_K: f64 = 0.2;
const STIRRING_WM2: f64 = 60.0;
/// Days that the surface is run before the start.
const SPIN_UP_S: f64 = 3.0 * 86_400.0;

#[derive(Debug, Clone)]
pub(crate) struct Synthetic {
    region: Region,
    rain: Rain,
    moistened: Moistened,
    /// The air near the ground at the last knot, degC and hPa.
    near: (f64, f64),
    surface: Surface,
    breeze: Breeze,
    place: Place,
    offset: Offset,
    /// Number of the next knot.
    next: i64,
    /// The sun's height at the last knots: the day's wind follows it.
    ups: [f64; LAGGED],
    /// Above the reference place, km, and where the station lies in what drifts past.
    above_km: f64,
    spot: Spot,
    thickness: Drift,
    speed: Drift,
    turn: Drift,
    warmth: Drift,
    moisture: [Drift; 2],
    filaments: Drift,
}

impl Synthetic {
    pub(crate) fn new(
        region: &Region,
        place: Place,
        site: Site,
        _owner: &str,
        start_s: f64,
    ) -> Self {
        let region = region.clone();
        let (seed, offset) = (region.seed(), region.offset(&place));
        let above_km = region.above_km(&place);
        let wetter = (1.0 + RAIN_PER_KM * above_km).clamp(0.4, 2.5);
        let rain = Rain::new(
            region.train(),
            seed,
            OWNER,
            place.longitude_deg,
            offset,
            region.calibration.abundance,
            region.calibration.intensity_mmh.map(|mmh| mmh * wetter),
        )
        .with_convection(region.convection());
        // What happens between the knots of neighbours is one field, too: only minutes are a station's own.
        let drift = |name: &str, period_s: f64, width_km: f64| {
            Drift::new(seed, OWNER, name, period_s, width_km)
        };
        let start = libm::floor(start_s / KNOT_S) as i64;
        let spin_up = (SPIN_UP_S / KNOT_S) as i64;
        let region_spot = region.spot(offset);
        let mut synthetic = Self {
            region,
            rain,
            moistened: Moistened::default(),
            // Too cold and moist to be moistened.
            near: (-40.0, 10.0),
            surface: Surface::new(),
            breeze: Breeze::new(site.local_wind),
            place,
            offset,
            next: start - spin_up,
            ups: [0.0; LAGGED],
            above_km,
            spot: region_spot,
            thickness: drift("cloud thickness", 3600.0, 30.0),
            speed: drift("wind speed", 2400.0, 10.0),
            turn: drift("wind turn", 2400.0, 15.0),
            warmth: drift("warmth", 1500.0, 12.0),
            moisture: [
                drift("moisture minutes", 1500.0, 12.0),
                drift("moisture hours", 7200.0, 50.0),
            ],
            filaments: drift("moist and dry filaments", FILAMENT_S, FILAMENT_KM),
        };
        while synthetic.next < start {
            let _ = synthetic.next_knot();
        }
        synthetic
    }

    pub(crate) fn next_knot(&mut self) -> Knot {
        let time_s = self.next as f64 * KNOT_S;
        let month = MonthPoint::at(time_s);
        let air = self.region.at(time_s, self.offset).raised(self.above_km);
        let spot = self.spot;
        let flow = self.region.flow(month);
        let rain_mmh = self.rain.smooth_rate_mmh(time_s - KNOT_S, time_s, flow);
        let (temperature_degc, dew_point_degc) = self.moistened.step(
            KNOT_S,
            self.rain.precipitating(time_s),
            self.near,
            (air.temperature_degc, air.dew_point_degc),
        );
        let light = Daylight::through(
            time_s - 0.5 * KNOT_S,
            &self.place,
            day_of_year(time_s),
            self.region.turbidity.at(time_s),
        );
        let slot = self.next.rem_euclid(LAGGED as i64) as usize;
        let up_before = core::mem::replace(&mut self.ups[slot], light.sun.up);

        let thickness = self.thickness.value(time_s, spot);
        let optics = Optics::new(air.low_cloud, air.high_cloud, air.rain_shield, thickness);
        let gusty = 1.0 + 0.10 * self.speed.value(time_s, spot);
        let wind = air.wind_speed_ms
            * stirred(up_before, air.low_cloud, air.wind_speed_ms)
            * gusty.max(0.2);
        let sea_level =
            air.pressure_hpa + tide_at(time_s, &self.place, self.region.daily_range_k(month));
        // The air mass stands for the column under the station: its own day hardly reaches the pressure.
        let column_hpa = saturation_vapour_pressure_hpa(air.dew_point_degc);
        let pressure = station_hpa(sea_level, &self.place, air.temperature_degc, column_hpa);
        let near = self.surface.step(&Forcing {
            seconds: KNOT_S,
            temperature_degc,
            dew_point_degc,
            global_wm2: light.sky.global_wm2 * optics.transmission,
            cover: air.low_cloud + 0.3 * (1.0 - air.low_cloud) * air.high_cloud,
            wind_ms: wind,
            pressure_hpa: pressure,
            rain_mmh,
            range_gain: air.range_gain,
        });
        self.near = (near.temperature_degc, near.vapour_pressure_hpa);
        self.next += 1;
        let open = 1.0 - air.low_cloud;
        let patch_k = patchiness_k(air.low_cloud, near.heat_flux_wm2);
        let effect = self.breeze.act(&Context {
            seconds: KNOT_S,
            latitude_deg: self.place.latitude_deg,
            sun_up: light.sun.up,
            global_wm2: light.sky.global_wm2 * optics.transmission,
            cover: air.low_cloud + 0.3 * open * air.high_cloud,
            land_degc: near.temperature_degc,
            dew_point_degc: near.dew_point_degc(),
            water_degc: self.region.water_degc(time_s),
            wind_ms: wind,
            wind_from_deg: air.wind_from_deg,
        });
        let (wind, wind_from_deg) =
            blown((wind, air.wind_from_deg), effect.east_ms, effect.north_ms);
        let filament = sharpened(self.filaments.value(time_s, spot));
        let stirring_wm2 = near.heat_flux_wm2 * effect.depth;
        let entrained_k = ENTRAINED_K * stirring_wm2 / (stirring_wm2 + STIRRING_WM2);
        let temperature = near.temperature_degc
            + effect.temperature_k
            + patch_k * self.warmth.value(time_s, spot)
            - entrained_k * filament;
        let moisture = 0.015 * self.moisture[0].value(time_s, spot)
            + 0.022 * self.moisture[1].value(time_s, spot);
        let near_hpa = if effect.dew_point_k == 0.0 {
            near.vapour_pressure_hpa
        } else {
            saturation_vapour_pressure_hpa(near.dew_point_degc() + effect.dew_point_k)
        };
        let saturation = saturation_vapour_pressure_hpa(temperature);
        // A moist patch has no more room than there is: what is too much lies on the grass.
        let room = (saturation / near_hpa - 1.0).max(0.0);
        let patches = moisture * room / (room + MOIST_ROOM)
            + FILAMENT_SHARE * (room * room.sqrt()).sqrt() * filament;
        let vapour = (near_hpa * (1.0 + patches).max(MOST_DRIED)).min(saturation);
        let cover = total_cover(air.low_cloud, air.high_cloud).max(near.fog);
        let optics = Optics {
            transmission: optics.transmission * through_fog(near.fog),
            obscured: optics.obscured.max(near.fog),
            ..optics
        };
        let wet_bulb = wet_bulb_degc(temperature, vapour, pressure);
        self.rain.air_is(temperature - wet_bulb);
        Knot {
            time_s,
            slow: Slow {
                wet_bulb_degc: wet_bulb,
                solid_share: solid_share(wet_bulb),
                net_longwave_wm2: net_longwave_wm2(temperature, vapour, cover),
                temperature_degc: temperature,
                vapour_pressure_hpa: vapour,
                pressure_hpa: pressure,
                wind_ms: wind,
                wind_from_deg: wind_from_deg
                    + sharpened(self.turn.value(time_s, spot)) * (1.8 + 20.0 / (wind + 0.8)),
                cover,
                optics,
                // The cube of the convective velocity goes with flux times depth.
                heat_flux_wm2: stirring_wm2,
                stable: if light.sky.global_wm2 > 0.0 {
                    0.0
                } else {
                    open / (1.0 + 0.1 * wind * wind)
                },
                freedom: 1.0,
                ..Slow::default()
            },
        }
    }

    pub(crate) fn fall(&mut self, from_s: f64, to_s: f64) -> Fall {
        self.rain.fall(from_s, to_s)
    }
}
