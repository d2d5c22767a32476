//! Weather from normals: the region sampled at knots, with the day acting on it.

use super::climate::{MonthPoint, day_of_year};
use super::cloud::Optics;
use super::daylight::Daylight;
use super::knot::{Knot, Slow};
use super::noise::Curve;
use super::pressure::{station_hpa, tide_at};
use super::rain::{Fall, Rain};
use super::region::{OWNER, Offset, Region, total_cover};
use super::temperature::{Forcing, Surface, patchiness_k, solid_share, through_fog};
use super::wind::mixing;
use crate::physics::moist_air::{saturation_vapour_pressure_hpa, wet_bulb_degc};
use crate::site::{Place, Site, net_longwave_wm2};

/// Distance of the knots, s: a front passes in two or three of them.
const KNOT_S: f64 = 600.0;
/// Days that the surface is run before the start.
const SPIN_UP_S: f64 = 3.0 * 86_400.0;

#[derive(Debug, Clone)]
pub(crate) struct Synthetic {
    region: Region,
    rain: Rain,
    surface: Surface,
    place: Place,
    offset: Offset,
    /// Number of the next knot.
    next: i64,
    /// The sun's height at the last six knots: mixing follows it by about an hour.
    ups: [f64; 6],
    thickness: Curve,
    speed: Curve,
    turn: Curve,
    warmth: Curve,
    moisture: [Curve; 2],
}

impl Synthetic {
    pub(crate) fn new(
        region: &Region,
        place: Place,
        _site: Site,
        owner: &str,
        start_s: f64,
    ) -> Self {
        let region = region.clone();
        let (seed, offset) = (region.seed(), region.offset(&place));
        let rain = Rain::new(
            region.train(),
            seed,
            OWNER,
            place.longitude_deg,
            offset,
            region.calibration.abundance,
            region.calibration.intensity_mmh,
        );
        let start = libm::floor(start_s / KNOT_S) as i64;
        let spin_up = (SPIN_UP_S / KNOT_S) as i64;
        let mut synthetic = Self {
            region,
            rain,
            surface: Surface::new(),
            place,
            offset,
            next: start - spin_up,
            ups: [0.0; 6],
            thickness: Curve::new(seed.key(owner, "cloud thickness"), 3600.0),
            speed: Curve::new(seed.key(owner, "wind speed"), 2400.0),
            turn: Curve::new(seed.key(owner, "wind turn"), 2400.0),
            warmth: Curve::new(seed.key(owner, "warmth"), 1500.0),
            moisture: [
                Curve::new(seed.key(owner, "moisture minutes"), 1500.0),
                Curve::new(seed.key(owner, "moisture hours"), 7200.0),
            ],
        };
        while synthetic.next < start {
            let _ = synthetic.next_knot();
        }
        synthetic
    }

    pub(crate) fn next_knot(&mut self) -> Knot {
        let time_s = self.next as f64 * KNOT_S;
        let month = MonthPoint::at(time_s);
        let air = self.region.at(time_s, self.offset);
        let flow = self.region.flow(month);
        let rain_mmh = self.rain.smooth_rate_mmh(time_s - KNOT_S, time_s, flow);
        let light = Daylight::at(time_s - 0.5 * KNOT_S, &self.place, day_of_year(time_s));
        let slot = self.next.rem_euclid(6) as usize;
        let up_an_hour_ago = core::mem::replace(&mut self.ups[slot], light.sun.up);

        let thickness = self.thickness.value(time_s);
        let optics = Optics::new(air.low_cloud, air.high_cloud, air.rain_shield, thickness);
        let gusty = 1.0 + 0.16 * self.speed.value(time_s);
        let wind = air.wind_speed_ms
            * mixing(up_an_hour_ago, air.low_cloud, air.wind_speed_ms)
            * gusty.max(0.2);
        let sea_level = air.pressure_hpa + tide_at(time_s, &self.place);
        // The air mass stands for the column under the station: its own day hardly reaches the pressure.
        let column_hpa = saturation_vapour_pressure_hpa(air.dew_point_degc);
        let pressure = station_hpa(sea_level, &self.place, air.temperature_degc, column_hpa);
        let near = self.surface.step(&Forcing {
            seconds: KNOT_S,
            temperature_degc: air.temperature_degc,
            dew_point_degc: air.dew_point_degc,
            global_wm2: light.sky.global_wm2 * optics.transmission,
            cover: air.low_cloud + 0.3 * (1.0 - air.low_cloud) * air.high_cloud,
            wind_ms: wind,
            pressure_hpa: pressure,
            rain_mmh,
            range_gain: air.range_gain,
        });
        self.next += 1;
        let open = 1.0 - air.low_cloud;
        let patch_k = patchiness_k(air.low_cloud, near.heat_flux_wm2);
        let temperature = near.temperature_degc + patch_k * self.warmth.value(time_s);
        let moisture =
            0.007 * self.moisture[0].value(time_s) + 0.014 * self.moisture[1].value(time_s);
        let vapour = (near.vapour_pressure_hpa * (1.0 + moisture))
            .min(saturation_vapour_pressure_hpa(temperature));
        let cover = total_cover(air.low_cloud, air.high_cloud).max(near.fog);
        let optics = Optics {
            transmission: optics.transmission * through_fog(near.fog),
            obscured: optics.obscured.max(near.fog),
            ..optics
        };
        let wet_bulb = wet_bulb_degc(temperature, vapour, pressure);
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
                wind_from_deg: air.wind_from_deg
                    + self.turn.value(time_s) * (4.0 + 30.0 / (wind + 1.0)),
                cover,
                optics,
                heat_flux_wm2: near.heat_flux_wm2,
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
