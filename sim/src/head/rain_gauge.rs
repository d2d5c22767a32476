//! The rain gauge: an unheated funnel with an outlet above a tipping bucket.
//!
//! Water is never made nor lost without a name: what fell is counted, stored, evaporated, overflowed, blown
//! off, splashed out or lost while tipping, and [`Balance`] tells how much of each.

pub mod catch;
pub mod surface;

use crate::condition::Condition;
use crate::head::relaxation::decay;
use crate::site::Exposure;
use catch::{RIM_WIND_SHARE, rain_catch, snow_catch, splash_share};

/// Area of the collector, cm2 (common practice, no source).
pub const COLLECTOR_AREA_CM2: f64 = 100.0;
/// Height of the funnel's cone, mm: with its area it holds 200 ml (common practice, no source).
pub const CONE_HEIGHT_MM: f64 = 60.0;
/// What the funnel holds to the brim, mm over the collector: a third of its height, being a cone.
pub const BRIM_MM: f64 = CONE_HEIGHT_MM / 3.0;
/// Bore of the funnel's outlet, mm (common practice, no source).
pub const OUTLET_MM: f64 = 4.0;
/// Discharge of the open outlet with the funnel full, mm over the collector per second:
/// [`orifice_mm_s`] of the outlet under the whole cone.
pub const OUTLET_CAPACITY_MM_S: f64 = 0.817_95;
/// Resistance of a plug of debris, per `(1 - n)^2 / n^3` of its porosity `n`, against that of the open outlet: a plug of half
/// porosity lets some 20 mm/h through (common practice, no source).
pub const PLUG_RESISTANCE: f64 = 70.0;
/// Water the dry funnel holds on its walls before any runs off, mm (from memory: 0.05 to 0.2 mm).
pub const WETTING_MM: f64 = 0.1;
/// Time in which 63 % of the water runs down the walls to the outlet when hardly any falls, s; it shrinks as
/// `1 / (1 + I / 20)` with the rain rate `I` in mm/h. Fitted to the film of Nusselt's law on a slope of 6 cm: 10 s at 10 mm/h
/// and 1.4 s at 200 mm/h (hand calculation); thinner films gather into drops.
pub const FILM_S: f64 = 15.0;
/// Rain rate that halves that time, mm/h.
pub const FILM_RATE_MM_H: f64 = 20.0;
/// Film below which the rest is taken to run off at once, mm.
const FILM_END_MM: f64 = 5e-4;
/// Snow the funnel holds, mm of water; more falls off the cap (common practice, no source).
pub const SNOW_CAPACITY_MM: f64 = 15.0;
/// Wind at the rim above which dry snow is blown out of the funnel, m/s (common practice, no source).
pub const BLOW_OFF_MS: f64 = 8.0;
/// Share of the snow that is blown out in an hour for each m/s above that (common practice, no source).
pub const BLOW_OFF_PER_H_MS: f64 = 0.1;
/// Evaporation from the bucket, as a share of that from a wet surface over the whole collector: its water has an
/// eighth of the collector's area, and the housing keeps off sun and wind (common practice, no source).
pub const BUCKET_DRYING_SHARE: f64 = 0.1;
/// How much a half of the bucket grows and the other shrinks per degree of tilt, share (common practice, no source).
pub const IMBALANCE_PER_DEG: f64 = 0.01;
/// Slow states of the gauge move on after this time, s.
const SLOW_S: f64 = 60.0;
/// Time from the start of a tip until the bucket is level, in which the water that arrives still runs
/// into the full half and is lost, s. Duchon, Fiebrich and Grimsley 2014, J. Atmos. Oceanic Technol. 31,
/// 1330 (abstract): mean of eight tips at two rain rates.
pub const TIP_S: f64 = 0.450;

/// Discharge of a round hole, mm over the collector per second: Torricelli's law with a discharge
/// coefficient of 0.6 (textbook hydraulics, from memory).
///
/// `bore_mm`: diameter of the hole; `head_mm`: height of water above it; `collector_cm2`: area the depth
/// is told over. Validity: sharp-edged hole, head well above the bore.
#[must_use]
pub fn orifice_mm_s(bore_mm: f64, head_mm: f64, collector_cm2: f64) -> f64 {
    const DISCHARGE_COEFFICIENT: f64 = 0.6;
    const GRAVITY_MM_S2: f64 = 9806.65;
    let hole_mm2 = 0.25 * core::f64::consts::PI * bore_mm * bore_mm;
    DISCHARGE_COEFFICIENT * hole_mm2 * (2.0 * GRAVITY_MM_S2 * head_mm).sqrt()
        / (100.0 * collector_cm2)
}

/// Flow through the outlet as a share of the open one's, 0 to 1, when debris leaves this share of it open.
///
/// The open share is the porosity of a plug; its resistance, in series with the outlet's, goes as
/// `(1 - n)^2 / n^3` (Kozeny-Carman, from memory). Exactly 1 for a clear outlet and 0 for a closed one.
#[must_use]
pub fn outlet_share(opening: f64) -> f64 {
    let solid = 1.0 - opening;
    let cube = opening * opening * opening;
    cube / (cube + PLUG_RESISTANCE * solid * solid)
}

/// Share of steady rain that is lost while tipping, 0 to 1: of every `bucket + rate * tip` that falls the
/// second part is lost.
///
/// `rate_mm_h`; `tip_s`: time in which water is lost; `bucket_mm`. Source: Marsalek 1981, J. Hydrol. 53
/// (from memory). Against what is *counted* the loss is `rate * tip / bucket`, the undercatch that Duchon
/// et al. 2014 measured.
#[must_use]
pub fn tipping_loss(rate_mm_h: f64, tip_s: f64, bucket_mm: f64) -> f64 {
    let lost = rate_mm_h * tip_s / 3600.0;
    lost / (bucket_mm + lost)
}

/// Where the water of a gauge has gone, mm over the collector since it was made.
///
/// `fallen + condensed + what was in the bucket at the start` is the sum of all the others.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Balance {
    /// Rain and snow that fell at the funnel's place.
    pub fallen_mm: f64,
    /// Carried over the rim by the wind.
    pub blown_past_mm: f64,
    /// Water that came into the funnel in any way, and what was in the bucket at the start.
    pub received_mm: f64,
    /// Dew and rime on the funnel, a part of what was received.
    pub condensed_mm: f64,
    /// Tipped out: tips of each half times its size.
    pub tipped_mm: f64,
    /// Still on the funnel's walls, in the funnel as water or snow, and in the bucket.
    pub stored_mm: f64,
    /// Evaporated from the funnel and from the bucket.
    pub evaporated_mm: f64,
    /// Splashed out of the funnel.
    pub splashed_mm: f64,
    /// Snow blown out of the funnel.
    pub blown_off_mm: f64,
    /// Overflowed the brim, fell off a full cap of snow, or ran over a frozen bucket.
    pub overflowed_mm: f64,
    /// Arrived in the bucket while it tipped.
    pub lost_mm: f64,
}

impl Balance {
    /// What was received and is neither stored nor accounted for, mm: zero but for rounding.
    #[must_use]
    pub fn gap_mm(&self) -> f64 {
        self.received_mm
            - self.tipped_mm
            - self.stored_mm
            - self.evaporated_mm
            - self.splashed_mm
            - self.blown_off_mm
            - self.overflowed_mm
            - self.lost_mm
    }
}

/// The rain gauge of one head.
#[derive(Debug, Clone, PartialEq)]
pub struct RainGauge {
    /// Size of the two halves of the bucket, mm.
    halves_mm: [f64; 2],
    /// Which half is up.
    up: usize,
    tip_s: f64,
    walls_mm: f64,
    film_mm: f64,
    pond_mm: f64,
    snow_mm: f64,
    content_mm: f64,
    /// Part of the content that is ice.
    ice_mm: f64,
    tipping_s: f64,
    /// Time since the slow states moved.
    slow_s: f64,
    /// Neither rain nor snow in that time.
    dry: bool,
    tips: [u64; 2],
    start_mm: f64,
    fallen_mm: f64,
    blown_past_mm: f64,
    condensed_mm: f64,
    evaporated_mm: f64,
    splashed_mm: f64,
    blown_off_mm: f64,
    overflowed_mm: f64,
    lost_mm: f64,
}

impl RainGauge {
    /// A dry gauge with a bucket of `bucket_mm` that already holds `content_mm` (0 to `bucket_mm`).
    #[must_use]
    pub fn new(bucket_mm: f64, content_mm: f64) -> Self {
        Self::with_tip_time(bucket_mm, content_mm, TIP_S)
    }

    /// The same with another time in which water is lost at each tip, s.
    #[must_use]
    pub fn with_tip_time(bucket_mm: f64, content_mm: f64, tip_s: f64) -> Self {
        Self {
            halves_mm: [bucket_mm; 2],
            up: 0,
            tip_s,
            walls_mm: 0.0,
            film_mm: 0.0,
            pond_mm: 0.0,
            snow_mm: 0.0,
            content_mm,
            ice_mm: 0.0,
            tipping_s: 0.0,
            slow_s: 0.0,
            dry: true,
            tips: [0; 2],
            start_mm: content_mm,
            fallen_mm: 0.0,
            blown_past_mm: 0.0,
            condensed_mm: 0.0,
            evaporated_mm: 0.0,
            splashed_mm: 0.0,
            blown_off_mm: 0.0,
            overflowed_mm: 0.0,
            lost_mm: 0.0,
        }
    }

    /// The same gauge, not yet used, with halves that hold more or less than they should: `gain` times the nominal
    /// size on the whole, and `imbalance` (a share of it, -0.5 to 0.5) more in the first and less in the second.
    ///
    /// The water left in the bucket is scaled with its half.
    #[must_use]
    pub fn adjusted(mut self, gain: f64, imbalance: f64) -> Self {
        let imbalance = imbalance.clamp(-0.5, 0.5);
        let first = gain * (1.0 + imbalance);
        self.halves_mm[0] *= first;
        self.halves_mm[1] *= gain * (1.0 - imbalance);
        self.content_mm *= first;
        self.start_mm = self.content_mm;
        self
    }

    /// Size of the two halves of the bucket, mm over the collector.
    #[must_use]
    pub fn halves_mm(&self) -> [f64; 2] {
        self.halves_mm
    }

    /// Where all water has gone.
    #[must_use]
    pub fn balance(&self) -> Balance {
        let [first, second] = self.halves_mm;
        Balance {
            fallen_mm: self.fallen_mm,
            blown_past_mm: self.blown_past_mm,
            received_mm: self.start_mm + self.fallen_mm - self.blown_past_mm + self.condensed_mm,
            condensed_mm: self.condensed_mm,
            tipped_mm: self.tips[0] as f64 * first + self.tips[1] as f64 * second,
            stored_mm: self.walls_mm + self.film_mm + self.pond_mm + self.snow_mm + self.content_mm,
            evaporated_mm: self.evaporated_mm,
            splashed_mm: self.splashed_mm,
            blown_off_mm: self.blown_off_mm,
            overflowed_mm: self.overflowed_mm,
            lost_mm: self.lost_mm,
        }
    }

    /// Water that stands in the funnel, mm over the collector.
    #[must_use]
    pub fn pond_mm(&self) -> f64 {
        self.pond_mm
    }

    /// Snow and ice in the funnel, mm of water over the collector.
    #[must_use]
    pub fn snow_mm(&self) -> f64 {
        self.snow_mm
    }

    /// One interval on; the tips in it.
    pub fn step(&mut self, exposure: &Exposure, condition: &Condition) -> u32 {
        let interval_s = exposure.interval_s;
        self.slow_s += interval_s;
        let falling = exposure.rainfall_mm + exposure.snowfall_mm;
        if falling > 0.0 {
            self.dry = false;
            self.collect(exposure);
        }
        if self.slow_s >= SLOW_S {
            self.weather(exposure);
        }
        if self.film_mm + self.pond_mm <= 0.0 {
            if self.tipping_s > 0.0 {
                self.tipping_s = (self.tipping_s - interval_s).max(0.0);
            }
            return 0;
        }
        self.run_down(falling, interval_s);
        let outflow = self.drain(condition.funnel_opening, interval_s);
        if self.pond_mm > BRIM_MM {
            self.overflowed_mm += self.pond_mm - BRIM_MM;
            self.pond_mm = BRIM_MM;
        }
        self.fill(outflow, interval_s)
    }

    /// What falls in an interval: past the rim, onto the walls, into the film that runs down, or into the snow.
    fn collect(&mut self, exposure: &Exposure) {
        let (rain, snow) = (exposure.rainfall_mm, exposure.snowfall_mm);
        let wind = RIM_WIND_SHARE * exposure.wind_speed_ms;
        self.fallen_mm += rain + snow;
        if snow > 0.0 {
            let caught = snow * snow_catch(exposure.air_temperature_degc, wind);
            self.blown_past_mm += snow - caught;
            self.snow_mm += caught;
        }
        if rain > 0.0 {
            let rate = if exposure.interval_s > 0.0 {
                3600.0 * rain / exposure.interval_s
            } else {
                0.0
            };
            let caught = rain * rain_catch(rate, wind);
            self.blown_past_mm += rain - caught;
            let splash = caught * splash_share(rate, wind);
            self.splashed_mm += splash;
            let mut water = caught - splash;
            if exposure.wet_bulb_degc < 0.0 {
                // Freezing rain: what the cold can freeze stays as ice.
                let hours = exposure.interval_s * (1.0 / 3600.0);
                let could = -surface::MELT_MM_PER_H_K * exposure.wet_bulb_degc * hours;
                let frozen = could.min(water);
                self.snow_mm += frozen;
                water -= frozen;
            } else if self.snow_mm > 0.0 {
                let could = surface::MELT_PER_RAIN_K * water * exposure.wet_bulb_degc;
                let melted = could.min(self.snow_mm);
                self.snow_mm -= melted;
                water += melted;
            }
            let onto_walls = water.min((WETTING_MM - self.walls_mm).max(0.0));
            self.walls_mm += onto_walls;
            self.film_mm += water - onto_walls;
        }
        if self.snow_mm > SNOW_CAPACITY_MM {
            self.overflowed_mm += self.snow_mm - SNOW_CAPACITY_MM;
            self.snow_mm = SNOW_CAPACITY_MM;
        }
    }

    /// Slow states, once a minute: drying and dew, snow and ice, and the water in the bucket.
    fn weather(&mut self, exposure: &Exposure) {
        let hours = self.slow_s * (1.0 / 3600.0);
        let dry = core::mem::replace(&mut self.dry, true);
        self.slow_s = 0.0;
        let temperature = exposure.air_temperature_degc;
        let saturation = exposure.saturation_vapour_pressure_hpa;
        let deficit = saturation - exposure.vapour_pressure_hpa;
        let wind = RIM_WIND_SHARE * exposure.wind_speed_ms;
        let net =
            surface::ABSORBED_SHARE * exposure.global_irradiance_wm2 + exposure.net_longwave_wm2;
        let rate = surface::evaporation_mm_h(temperature, saturation, deficit, net, wind);
        if rate > 0.0 {
            self.evaporate(rate * hours);
        } else if dry {
            self.condense(-surface::DEW_SHARE * rate * hours, temperature);
        }
        if self.snow_mm > 0.0 {
            self.age_snow(exposure, wind, hours);
        }
        if temperature < 0.0 {
            let could = -surface::MELT_MM_PER_H_K * temperature * hours;
            // In the sun the funnel is warmer than the air and its bottom stays open.
            if surface::melt_mm_h(temperature, exposure.global_irradiance_wm2) <= 0.0 {
                let frozen = could.min(self.pond_mm);
                self.pond_mm -= frozen;
                self.snow_mm += frozen;
            }
            self.ice_mm = (self.ice_mm + could).min(self.content_mm);
        } else if self.ice_mm > 0.0 {
            let could = surface::MELT_MM_PER_H_K * temperature * hours;
            self.ice_mm = (self.ice_mm - could).max(0.0);
        }
        let open = self.content_mm - self.ice_mm;
        if open > 0.0 && deficit > 0.0 {
            let could = BUCKET_DRYING_SHARE * surface::drying_power_mm_h(deficit, 0.0) * hours;
            let gone = could.min(open);
            self.content_mm -= gone;
            self.evaporated_mm += gone;
        }
    }

    /// So much could evaporate: standing water first, then the walls, then snow.
    fn evaporate(&mut self, could_mm: f64) {
        let from_pond = could_mm.min(self.pond_mm);
        let from_walls = (could_mm - from_pond).min(self.walls_mm);
        self.pond_mm -= from_pond;
        self.walls_mm -= from_walls;
        self.evaporated_mm += from_pond + from_walls;
    }

    /// Dew wets the walls and then runs down; in frost it stays as rime.
    fn condense(&mut self, dew_mm: f64, temperature_degc: f64) {
        self.condensed_mm += dew_mm;
        if temperature_degc < 0.0 {
            self.snow_mm += dew_mm;
        } else {
            let onto_walls = dew_mm.min((WETTING_MM - self.walls_mm).max(0.0));
            self.walls_mm += onto_walls;
            self.film_mm += dew_mm - onto_walls;
        }
    }

    /// Snow in the funnel melts, dries into the air and is blown out.
    fn age_snow(&mut self, exposure: &Exposure, wind_ms: f64, hours: f64) {
        let temperature = exposure.air_temperature_degc;
        let melt = surface::melt_mm_h(temperature, exposure.global_irradiance_wm2) * hours;
        if melt > 0.0 {
            let melted = melt.min(self.snow_mm);
            self.snow_mm -= melted;
            self.film_mm += melted;
            return;
        }
        if wind_ms > BLOW_OFF_MS {
            let share = (BLOW_OFF_PER_H_MS * (wind_ms - BLOW_OFF_MS) * hours).min(1.0);
            let gone = share * self.snow_mm;
            self.snow_mm -= gone;
            self.blown_off_mm += gone;
        }
        let over_ice = exposure.saturation_vapour_pressure_hpa
            * surface::ice_over_water(temperature)
            - exposure.vapour_pressure_hpa;
        let gone = (surface::drying_power_mm_h(over_ice, wind_ms) * hours).min(self.snow_mm);
        self.snow_mm -= gone;
        self.evaporated_mm += gone;
    }

    /// The film runs down the walls: a linear reservoir, the faster the more falls into it.
    fn run_down(&mut self, falling_mm: f64, interval_s: f64) {
        const PER_MM: f64 = 3600.0 / (FILM_RATE_MM_H * FILM_S);
        let times = interval_s * (1.0 / FILM_S) + PER_MM * falling_mm;
        let left = self.film_mm * decay(times);
        let left = if left > FILM_END_MM { left } else { 0.0 };
        self.pond_mm += self.film_mm - left;
        self.film_mm = left;
    }

    /// What runs out of the funnel in an interval, mm over the collector.
    ///
    /// Torricelli's law in a cone: the head goes with the cube root of what stands in the funnel, the
    /// discharge with its sixth root, so that a choked outlet lets water through almost evenly until it is
    /// dry. With `x` the filling (1 is the brim) and `k` the discharge at the brim,
    /// `dx/dt = -k x^(1/6)`, whose solution is `x^(5/6) = x0^(5/6) - 5/6 k t`.
    fn drain(&mut self, opening: f64, interval_s: f64) -> f64 {
        if self.pond_mm <= 0.0 {
            return 0.0;
        }
        let capacity = OUTLET_CAPACITY_MM_S * outlet_share(opening);
        let run = 5.0 / 6.0 * capacity * interval_s / BRIM_MM;
        let filling = self.pond_mm / BRIM_MM;
        // For less than a full funnel x^(5/6) is below the square root of x, which spares two powers in
        // every rain that a clear funnel swallows.
        let left = if filling <= 1.0 && filling.sqrt() <= run {
            0.0
        } else {
            let rest = libm::pow(filling, 5.0 / 6.0) - run;
            if rest <= 0.0 {
                0.0
            } else {
                (BRIM_MM * libm::pow(rest, 1.2)).min(self.pond_mm)
            }
        };
        let outflow = self.pond_mm - left;
        self.pond_mm = left;
        outflow
    }

    /// `inflow_mm` reaches the bucket evenly over the interval; the tips it makes.
    fn fill(&mut self, inflow_mm: f64, interval_s: f64) -> u32 {
        let half = self.halves_mm[self.up];
        if self.tipping_s <= 0.0 && self.content_mm + inflow_mm < half {
            self.content_mm += inflow_mm;
            return 0;
        }
        if self.ice_mm > 0.0 {
            // Frozen to its rest: it fills and runs over.
            let room = (half - self.content_mm).max(0.0).min(inflow_mm);
            self.content_mm += room;
            self.overflowed_mm += inflow_mm - room;
            return 0;
        }
        if inflow_mm <= 0.0 {
            self.tipping_s = (self.tipping_s - interval_s).max(0.0);
            return 0;
        }
        let rate = inflow_mm / interval_s;
        let (mut left_s, mut tips) = (interval_s, 0);
        loop {
            let wasted_s = self.tipping_s.min(left_s);
            self.lost_mm += rate * wasted_s;
            self.tipping_s -= wasted_s;
            left_s -= wasted_s;
            let needed_s = (self.halves_mm[self.up] - self.content_mm) / rate;
            if needed_s > left_s {
                self.content_mm += rate * left_s;
                break;
            }
            left_s -= needed_s;
            self.content_mm = 0.0;
            self.tipping_s = self.tip_s;
            self.tips[self.up] += 1;
            self.up = 1 - self.up;
            tips += 1;
        }
        tips
    }
}

#[cfg(test)]
mod tests;
