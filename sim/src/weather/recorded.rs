//! Recorded weather: a series of observations drives the head, filled in between the records.
//!
//! A record's own values are kept: at its instant, temperature, dew point and sea-level pressure are
//! exactly the record's, and the slow part of the wind is (turbulence lies on top of it); its rain falls,
//! to rounding, between the record before and itself, as rain or snow by the wet bulb of the moment: a light
//! fall in spells, a heavy one without a break, rising and falling towards its neighbours. In between, monotone curves and the same fine
//! structure as in computed weather, which vanishes at the records and is back a minute or two from them.
//!
//! - A dew point above the temperature, as rounding makes it, is taken as the temperature.
//! - Rain of the first record is left out, since nobody knows when it began. Rain not recorded is none.
//! - A direction with a speed of 0 means nothing and is filled in from its neighbours.
//! - A speed of 0 is a calm: not still air, but wind too weak to be reported (below 0.5 to 1.5 m/s by the
//!   usage of most services). At the record's instant the slow wind is 0 as recorded; away from it, light air
//!   of 0.2 to 1 m/s blows from directions that wander widely. Its speed is invented: the record only bounds it.
//! - Gaps are bridged up to [`LONGEST_GAP_S`] (temperature, dew point, wind speed) and
//!   [`LONGEST_PRESSURE_GAP_S`]; a longer one is an error. Directions are bridged at any length.
//! - Where no record has a cloud cover, it follows from humidity and rain.
//! - Before the first and after the last record the values of that record are held, without rain; see
//!   [`coverage_us`].

mod series;
mod showers;

use super::climate::day_of_year;
use super::cloud::{Optics, rain_transmission};
use super::daylight::Daylight;
use super::knot::{Knot, Slow};
use super::noise::Curve;
use super::pressure::station_hpa;
use super::rain::Fall;
use super::seconds;
use super::temperature::{patchiness_k, solid_share};
use crate::entropy::Seed;
use crate::physics::moist_air::{saturation_vapour_pressure_hpa, wet_bulb_degc};
use crate::physics::wind_profile::{
    OPEN_TERRAIN_ROUGHNESS_M, REFERENCE_HEIGHT_M, logarithmic_ratio,
};
use crate::site::{Place, net_longwave_wm2};
use series::Series;
use showers::Showers;

/// Longest time between two values of temperature, dew point or wind speed that is bridged, s.
pub const LONGEST_GAP_S: f64 = 6.0 * 3600.0;
/// Longest time between two values of pressure that is bridged, s.
pub const LONGEST_PRESSURE_GAP_S: f64 = 12.0 * 3600.0;
/// Longest distance of knots, s.
const KNOT_S: f64 = 600.0;

/// One record. What was not observed is `None` and is filled in from its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Record {
    /// When, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// Air temperature at that time, degC.
    pub air_temperature_degc: Option<f64>,
    /// Dew point at that time, degC.
    pub dew_point_degc: Option<f64>,
    /// Pressure reduced to mean sea level at that time, hPa.
    pub air_pressure_at_mean_sea_level_hpa: Option<f64>,
    /// Wind speed at that time, m/s, at `wind_height_m`.
    pub wind_speed_ms: Option<f64>,
    /// Where the wind comes from at that time, degrees.
    pub wind_from_direction_deg: Option<f64>,
    /// Rain since the record before, mm.
    pub rainfall_mm: Option<f64>,
    /// Cloud cover at that time, 0 to 1.
    pub cloud_area_fraction: Option<f64>,
}

/// A quantity of a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecordQuantity {
    /// Air temperature.
    AirTemperature,
    /// Dew point.
    DewPoint,
    /// Sea-level pressure.
    Pressure,
    /// Wind speed.
    WindSpeed,
    /// Wind direction.
    WindDirection,
    /// Rain.
    Rain,
    /// Cloud cover.
    Cloud,
}

impl RecordQuantity {
    /// The CF standard name of its column.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::AirTemperature => "air_temperature",
            Self::DewPoint => "dew_point_temperature",
            Self::Pressure => "air_pressure_at_mean_sea_level",
            Self::WindSpeed => "wind_speed",
            Self::WindDirection => "wind_from_direction",
            Self::Rain => "thickness_of_rainfall_amount",
            Self::Cloud => "cloud_area_fraction",
        }
    }
    /// The unit of its column and the lowest and highest value that is believed: WMO record extremes,
    /// rounded outwards (from memory).
    #[must_use]
    pub const fn limits(self) -> (&'static str, f64, f64) {
        match self {
            Self::AirTemperature => ("degC", -90.0, 60.0),
            Self::DewPoint => ("degC", -95.0, 40.0),
            Self::Pressure => ("hPa", 850.0, 1100.0),
            Self::WindSpeed => ("m s-1", 0.0, 115.0),
            Self::WindDirection => ("degree", 0.0, 360.0),
            Self::Rain => ("mm", 0.0, 2000.0),
            Self::Cloud => ("1", 0.0, 1.0),
        }
    }
    fn of(self, record: &Record) -> Option<f64> {
        match self {
            Self::AirTemperature => record.air_temperature_degc,
            Self::DewPoint => record.dew_point_degc,
            Self::Pressure => record.air_pressure_at_mean_sea_level_hpa,
            Self::WindSpeed => record.wind_speed_ms,
            Self::WindDirection => record.wind_from_direction_deg,
            Self::Rain => record.rainfall_mm,
            Self::Cloud => record.cloud_area_fraction,
        }
    }
    const ALL: [Self; 7] = [
        Self::AirTemperature,
        Self::DewPoint,
        Self::Pressure,
        Self::WindSpeed,
        Self::WindDirection,
        Self::Rain,
        Self::Cloud,
    ];
}

/// Why records cannot drive a head. Indices count records from 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RecordError {
    /// Fewer than two records.
    TooFew,
    /// A record that has the same time as the one before it.
    Duplicate {
        /// The later of the two.
        index: usize,
    },
    /// A record that is earlier than the one before it.
    Unordered {
        /// The record that comes too late in the list.
        index: usize,
    },
    /// A value that cannot be.
    Impossible {
        /// The record.
        index: usize,
        /// The quantity.
        quantity: RecordQuantity,
        /// Its value.
        value: f64,
    },
    /// No record has the quantity, which cannot be inferred.
    Absent {
        /// The quantity.
        quantity: RecordQuantity,
    },
    /// Too long a time without a value.
    Gap {
        /// The last record before the gap that has a value; the first record if none has.
        index: usize,
        /// The quantity.
        quantity: RecordQuantity,
        /// Length of the gap, s.
        seconds: f64,
        /// Longest gap that is bridged, s.
        longest_s: f64,
    },
    /// The height of the recorded wind is not above 0.1 m, or not a number.
    WindHeight,
}

impl core::fmt::Display for RecordError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::TooFew => f.write_str("fewer than two records"),
            Self::Duplicate { index } => {
                write!(f, "record {index} has the same time as the one before it")
            }
            Self::Unordered { index } => {
                write!(f, "record {index} is earlier than the one before it")
            }
            Self::Impossible {
                index,
                quantity,
                value,
            } => {
                let (unit, low, high) = quantity.limits();
                let name = quantity.name();
                write!(
                    f,
                    "record {index}: {name} is {value} {unit}; it must be from {low} to {high}"
                )
            }
            Self::Absent { quantity } => write!(f, "no record has a {}", quantity.name()),
            Self::Gap {
                index,
                quantity,
                seconds,
                longest_s,
            } => write!(
                f,
                "after record {index}, {} is missing for {:.1} h; at most {:.0} h are bridged",
                quantity.name(),
                seconds / 3600.0,
                longest_s / 3600.0
            ),
            Self::WindHeight => f.write_str("the height of the recorded wind must be above 0.1 m"),
        }
    }
}

impl core::error::Error for RecordError {}

/// First and last instant of a series, microseconds since 1970; `None` if it is empty.
#[must_use]
pub fn coverage_us(records: &[Record]) -> Option<(i64, i64)> {
    Some((records.first()?.time_us, records.last()?.time_us))
}

fn check(records: &[Record]) -> Result<(), RecordError> {
    if records.len() < 2 {
        return Err(RecordError::TooFew);
    }
    for (i, pair) in records.windows(2).enumerate() {
        let index = i + 1;
        match pair[1].time_us.cmp(&pair[0].time_us) {
            core::cmp::Ordering::Greater => {}
            core::cmp::Ordering::Equal => return Err(RecordError::Duplicate { index }),
            core::cmp::Ordering::Less => return Err(RecordError::Unordered { index }),
        }
    }
    for (index, record) in records.iter().enumerate() {
        for quantity in RecordQuantity::ALL {
            let (_, low, high) = quantity.limits();
            if let Some(value) = quantity.of(record)
                && !(low..=high).contains(&value)
            {
                return Err(RecordError::Impossible {
                    index,
                    quantity,
                    value,
                });
            }
        }
    }
    Ok(())
}

/// The values of one quantity as a curve, gaps up to `longest_s` bridged.
fn series(
    records: &[Record],
    quantity: RecordQuantity,
    longest_s: f64,
) -> Result<Series, RecordError> {
    let (mut times, mut values) = (Vec::new(), Vec::new());
    let mut last = (0, seconds(records[0].time_us));
    let gap = |last: (usize, f64), time_s: f64| {
        if time_s - last.1 > longest_s {
            return Err(RecordError::Gap {
                index: last.0,
                quantity,
                seconds: time_s - last.1,
                longest_s,
            });
        }
        Ok(())
    };
    for (index, record) in records.iter().enumerate() {
        let time_s = seconds(record.time_us);
        if let Some(value) = quantity.of(record) {
            if values.is_empty() || longest_s.is_finite() {
                gap(last, time_s)?;
            }
            last = (index, time_s);
            times.push(time_s);
            values.push(value);
        }
    }
    if values.is_empty() {
        return Err(RecordError::Absent { quantity });
    }
    gap(last, seconds(records[records.len() - 1].time_us))?;
    Ok(Series::new(times, values))
}

/// Directions run on past 360 so that the curve takes the shorter way round.
fn directions(records: &[Record]) -> Result<Series, RecordError> {
    let (mut times, mut values): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    for record in records {
        let calm = record.wind_speed_ms == Some(0.0);
        let Some(from) = record.wind_from_direction_deg.filter(|_| !calm) else {
            continue;
        };
        let value = values.last().map_or(from, |&before| {
            let turn = from - before;
            before + turn - 360.0 * libm::floor(turn / 360.0 + 0.5)
        });
        times.push(seconds(record.time_us));
        values.push(value);
    }
    if values.is_empty() {
        if records
            .iter()
            .all(|r| r.wind_speed_ms.unwrap_or(0.0) == 0.0)
        {
            return Ok(Series::new(vec![0.0], vec![0.0]));
        }
        return Err(RecordError::Absent {
            quantity: RecordQuantity::WindDirection,
        });
    }
    Ok(Series::new(times, values))
}

/// Where it is calm.
fn calms(records: &[Record]) -> Series {
    let (times, values) = records
        .iter()
        .filter_map(|record| Some((seconds(record.time_us), record.wind_speed_ms?)))
        .map(|(time_s, speed_ms)| (time_s, f64::from(u8::from(speed_ms == 0.0))))
        .unzip();
    Series::new(times, values)
}

/// Cover from the humidity of the day around and from rain, where none was recorded.
///
/// Form of Sundqvist 1978 (`1 - sqrt((1 - U)/(1 - Uc))`) with the humidity near the ground averaged over 24 h
/// and a critical value of 0.5: common practice, no source. Rain means at least 0.9.
fn inferred_cover(records: &[Record], temperature: &Series, dew_point: &Series) -> Series {
    let times: Vec<f64> = records.iter().map(|r| seconds(r.time_us)).collect();
    let values = records
        .iter()
        .zip(&times)
        .map(|(record, &time_s)| {
            let mean: f64 = (-4..=4)
                .map(|k| {
                    let t = time_s + f64::from(k) * 3.0 * 3600.0;
                    let vapour = saturation_vapour_pressure_hpa(dew_point.at(t));
                    (vapour / saturation_vapour_pressure_hpa(temperature.at(t))).min(1.0)
                })
                .sum::<f64>()
                / 9.0;
            let cover = 1.0 - libm::sqrt(((1.0 - mean) / 0.5).clamp(0.0, 1.0));
            let wet = record.rainfall_mm.is_some_and(|mm| mm > 0.0);
            if wet { cover.max(0.9) } else { cover }
        })
        .collect();
    Series::new(times, values)
}

/// Records as a source of knots and rain.
#[derive(Debug, Clone)]
pub(crate) struct Recorded {
    times: Vec<f64>,
    temperature: Series,
    dew_point: Series,
    pressure: Series,
    /// At 10 m over open ground.
    wind: Series,
    direction: Series,
    /// 1 at a calm, 0 at any other wind.
    calm: Series,
    cover: Series,
    rain: Showers,
    place: Place,
    next_s: f64,
    warmth: Curve,
    moisture: Curve,
    speed: Curve,
    turn: Curve,
    light_air: Curve,
    light_turn: Curve,
    thickness: [Curve; 2],
}

impl Recorded {
    pub(crate) fn new(
        records: &[Record],
        wind_height_m: f64,
        place: Place,
        seed: Seed,
        owner: &str,
        start_s: f64,
    ) -> Result<Self, RecordError> {
        check(records)?;
        if !(wind_height_m > 0.1 && wind_height_m.is_finite()) {
            return Err(RecordError::WindHeight);
        }
        let times: Vec<f64> = records.iter().map(|r| seconds(r.time_us)).collect();
        let temperature = series(records, RecordQuantity::AirTemperature, LONGEST_GAP_S)?;
        let dew_point = series(records, RecordQuantity::DewPoint, LONGEST_GAP_S)?;
        let pressure = series(records, RecordQuantity::Pressure, LONGEST_PRESSURE_GAP_S)?;
        let to_reference =
            logarithmic_ratio(REFERENCE_HEIGHT_M, wind_height_m, OPEN_TERRAIN_ROUGHNESS_M);
        let at_reference: Vec<Record> = records
            .iter()
            .map(|record| Record {
                wind_speed_ms: record.wind_speed_ms.map(|speed| speed * to_reference),
                ..*record
            })
            .collect();
        let wind = series(&at_reference, RecordQuantity::WindSpeed, LONGEST_GAP_S)?;
        let cover = match series(records, RecordQuantity::Cloud, f64::INFINITY) {
            Ok(cover) => cover,
            Err(_) => inferred_cover(records, &temperature, &dew_point),
        };
        let curve = |name: &str, period_s: f64| Curve::new(seed.key(owner, name), period_s);
        let mut recorded = Self {
            temperature,
            dew_point,
            pressure,
            wind,
            direction: directions(records)?,
            calm: calms(records),
            cover,
            rain: Showers::new(records, seed.key(owner, "recorded rain")),
            place,
            next_s: start_s,
            warmth: curve("warmth", 1500.0),
            moisture: curve("moisture minutes", 1500.0),
            speed: curve("wind speed", 1500.0),
            turn: curve("wind turn", 1500.0),
            light_air: curve("light air", 1200.0),
            light_turn: curve("light air turn", 1800.0),
            thickness: [
                curve("cloud thickness minutes", 1200.0),
                curve("cloud thickness", 3600.0),
            ],
            times,
        };
        recorded.next_s = recorded.first_knot(start_s);
        Ok(recorded)
    }

    fn first_knot(&self, start_s: f64) -> f64 {
        let next = self.times.partition_point(|&t| t <= start_s);
        if next == 0 {
            start_s.min(self.times[0] - 1.0)
        } else if next == self.times.len() {
            start_s
        } else {
            self.times[next - 1]
        }
    }

    fn following(&self, time_s: f64) -> f64 {
        let next = self.times.partition_point(|&t| t <= time_s);
        if next == 0 {
            return self.times[0];
        }
        if next == self.times.len() {
            return time_s + 3600.0;
        }
        let (from_s, to_s) = (self.times[next - 1], self.times[next]);
        let pieces = libm::ceil((to_s - from_s) / KNOT_S).max(2.0);
        let piece_s = (to_s - from_s) / pieces;
        let done = libm::round((time_s - from_s) / piece_s) + 1.0;
        if done >= pieces {
            to_s
        } else {
            from_s + done * piece_s
        }
    }

    /// How free the fine structure is at an instant: 0 at a record and outside, 1 well between two.
    fn freedom(&self, time_s: f64) -> f64 {
        let next = self.times.partition_point(|&t| t <= time_s);
        if next == 0 || next == self.times.len() {
            return 0.0;
        }
        let (from_s, to_s) = (self.times[next - 1], self.times[next]);
        let x = (time_s - from_s) / (to_s - from_s);
        (6.0 * x * (1.0 - x)).min(1.0)
    }

    pub(crate) fn next_knot(&mut self) -> Knot {
        let time_s = self.next_s;
        self.next_s = self.following(time_s);
        let free = self.freedom(time_s);

        let cover = self.cover.at(time_s).clamp(0.0, 1.0);
        let light = Daylight::at(time_s, &self.place, day_of_year(time_s));
        let thickness =
            0.6 * self.thickness[0].value(time_s) + 0.8 * self.thickness[1].value(time_s);
        let optics = Optics::new(cover, 0.0, 0.0, thickness);
        let (rain_cloud, rain_mmh) = self.rain.overhead(time_s);
        let under_rain = optics.transmission.min(rain_transmission(rain_mmh));
        let transmission = optics.transmission + (under_rain - optics.transmission) * rain_cloud;
        // More of the sun's heat warms the air the drier it is (common practice, no source).
        let humidity = saturation_vapour_pressure_hpa(self.dew_point.at(time_s))
            / saturation_vapour_pressure_hpa(self.temperature.at(time_s));
        let into_air = 0.12 + 0.3 * (1.0 - humidity).clamp(0.0, 1.0);
        let heat_flux = into_air * light.sky.global_wm2 * transmission;
        let patch_k = free * patchiness_k(cover, heat_flux);
        let temperature = self.temperature.at(time_s) + patch_k * self.warmth.value(time_s);
        let vapour = saturation_vapour_pressure_hpa(self.dew_point.at(time_s))
            * (1.0 + 0.01 * free * self.moisture.value(time_s));
        let vapour = vapour.min(saturation_vapour_pressure_hpa(temperature));
        let pressure = station_hpa(self.pressure.at(time_s), &self.place, temperature, vapour);
        let wet_bulb = wet_bulb_degc(temperature, vapour, pressure);
        let overcast = cover + (0.95 - cover).max(0.0) * rain_cloud;
        let gusty = (1.0 + 0.14 * free * self.speed.value(time_s)).max(0.3);
        let wind = self.wind.at(time_s).max(0.0) * gusty;
        let calm = self.calm.at(time_s);
        let light_air =
            calm / (1.0 + wind) * (0.6 + 0.25 * self.light_air.value(time_s)).clamp(0.2, 1.0);
        let turn = free * self.turn.value(time_s) * (4.0 + 20.0 / (wind + 1.0))
            + free * 60.0 * calm * self.light_turn.value(time_s);
        Knot {
            time_s,
            slow: Slow {
                temperature_degc: temperature,
                vapour_pressure_hpa: vapour,
                pressure_hpa: pressure,
                wet_bulb_degc: wet_bulb,
                solid_share: solid_share(wet_bulb),
                net_longwave_wm2: net_longwave_wm2(temperature, vapour, overcast),
                wind_ms: wind,
                light_air_ms: light_air,
                wind_from_deg: self.direction.at(time_s) + turn,
                cover,
                optics,
                heat_flux_wm2: heat_flux,
                stable: if light.sky.global_wm2 > 0.0 {
                    0.0
                } else {
                    (1.0 - cover) / (1.0 + 0.1 * wind * wind)
                },
                freedom: free,
                ..Slow::default()
            },
        }
    }

    pub(crate) fn fall(&mut self, from_s: f64, to_s: f64) -> Fall {
        self.rain.fall(from_s, to_s)
    }
}

#[cfg(test)]
mod tests;
