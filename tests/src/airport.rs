//! An observer at an airport: truth in free air written down as hourly aviation reports are.
//!
//! Common practice of automatic airport stations, from memory: at minute 51 temperature and dew point are
//! means of five minutes in whole degF, passed on in tenths of a degC; wind is a mean of two minutes in whole
//! knots and tens of degrees, below 3 kt a calm; a gust is the highest short mean of ten minutes when it
//! is at least 14 kt, 3 kt above the mean and 10 kt above the lull; rain is the hour's hundredths of an
//! inch, the rest carried on; pressure is reduced to sea level in tenths of a hPa. Now and then the last
//! report of the hour is a special one, without pressure and often in whole degC, most of all in rain.

use crate::hourly::Hour;
use crate::open_year::KNOT_MS;
use benchmast_sim::entropy::{Seed, Stream};
use benchmast_sim::physics::atmosphere::reduce_to_sea_level_hpa;
use benchmast_sim::truth::Truth;

/// Minute of the hour at which the report is made.
pub const MINUTE: i64 = 51;
/// Intervals of 16 s in the means of temperature and in those of wind and gust.
const FIVE_MINUTES: usize = 19;
/// Short means of 4 s in two and in ten minutes.
const TWO_MINUTES: usize = 30;
const TEN_MINUTES: usize = 150;
const INCH_MM: f64 = 25.4;

/// Chance of a special report by (rain in this hour, special report before), and of whole degC in one: as
/// counted in the open year.
const SPECIAL: [[f64; 2]; 2] = [[0.0435, 0.395], [0.373, 0.602]];
const WHOLE_DEGREES: f64 = 0.46;

/// Relative humidity, percent, of temperature and dew point, degC, as the reports' readers work it out: the
/// Magnus form of Bolton 1980 (Mon. Wea. Rev. 108, equation 10).
#[must_use]
pub fn humidity_percent(t: f64, td: f64) -> f64 {
    let exponent = |t: f64| 17.67 * t / (243.5 + t);
    (100.0 * (exponent(td) - exponent(t)).exp()).min(100.0)
}

/// The last values of something.
struct Ring<const N: usize> {
    values: [(f64, f64); N],
    next: usize,
}

impl<const N: usize> Ring<N> {
    fn new() -> Self {
        Self {
            values: [(0.0, 0.0); N],
            next: 0,
        }
    }
    fn push(&mut self, value: (f64, f64)) {
        self.values[self.next] = value;
        self.next = (self.next + 1) % N;
    }
    /// The last `n`, in no order.
    fn last(&self, n: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
        (1..=n).map(move |back| self.values[(self.next + N - back) % N])
    }
}

/// One observer; keeps what a report needs of the past.
pub struct Observer {
    altitude_m: f64,
    air: Ring<FIVE_MINUTES>,
    wind: Ring<TEN_MINUTES>,
    rain_mm: f64,
    special: bool,
    luck: Stream,
}

impl Observer {
    /// An observer at an altitude above sea level, m.
    #[must_use]
    pub fn new(altitude_m: f64, seed: Seed) -> Self {
        Self {
            altitude_m,
            air: Ring::new(),
            wind: Ring::new(),
            rain_mm: 0.0,
            special: false,
            luck: seed.stream("observer", "special reports"),
        }
    }

    /// Watches an interval of 16 s.
    pub fn watch(&mut self, truth: &Truth) {
        self.air
            .push((truth.air_temperature_degc, truth.dew_point_degc));
        for sample in truth.wind {
            self.wind.push((sample.speed_ms, sample.from_direction_deg));
        }
        self.rain_mm += truth.rainfall_mm + truth.snowfall_mm;
    }

    /// Writes the report at the end of the interval watched last.
    pub fn report(&mut self, truth: &Truth) -> Hour {
        let hundredths = (self.rain_mm / (0.01 * INCH_MM) + 1e-9).floor();
        self.rain_mm -= hundredths * 0.01 * INCH_MM;
        let rain = hundredths * 0.01 * INCH_MM;
        let (chance, coarse) = (self.luck.uniform(), self.luck.uniform());
        self.special = chance < SPECIAL[usize::from(rain > 0.0)][usize::from(self.special)];
        let coarse = self.special && coarse < WHOLE_DEGREES;

        let mean = |pick: fn((f64, f64)) -> f64| {
            self.air.last(FIVE_MINUTES).map(pick).sum::<f64>() / FIVE_MINUTES as f64
        };
        let written = |degc: f64| {
            let degf = (degc * 1.8 + 32.0).round();
            let step = if coarse { 1.0 } else { 0.1 };
            ((degf - 32.0) / 1.8 / step).round() * step
        };
        let (t, td) = (written(mean(|v| v.0)), written(mean(|v| v.1)));
        let sea_level = reduce_to_sea_level_hpa(
            truth.air_pressure_hpa,
            self.altitude_m,
            truth.air_temperature_degc,
            truth.relative_humidity_percent,
        );
        let (ws, wd, gust) = self.wind_report();
        Hour {
            t,
            td,
            rh: humidity_percent(t, td),
            p: if self.special {
                f64::NAN
            } else {
                (sea_level * 10.0).round() / 10.0
            },
            ws,
            wd,
            gust,
            rain,
        }
    }

    /// Mean speed, direction and gust, m/s and degrees.
    fn wind_report(&self) -> (f64, f64, f64) {
        let (mut speed, mut east, mut north) = (0.0, 0.0, 0.0);
        for (s, d) in self.wind.last(TWO_MINUTES) {
            let (sine, cosine) = d.to_radians().sin_cos();
            speed += s / TWO_MINUTES as f64;
            east += s * sine;
            north += s * cosine;
        }
        let knots = |ms: f64| ms / KNOT_MS;
        let whole = knots(speed).round();
        if whole < 3.0 {
            return (0.0, f64::NAN, f64::NAN);
        }
        let tens = (east.atan2(north).to_degrees() / 10.0)
            .round()
            .rem_euclid(36.0)
            * 10.0;
        let direction = if tens == 0.0 { 360.0 } else { tens };
        let (mut peak, mut lull) = (f64::MIN, f64::MAX);
        for (s, _) in self.wind.last(TEN_MINUTES) {
            peak = peak.max(s);
            lull = lull.min(s);
        }
        let gusty = knots(peak).round() >= 14.0
            && knots(peak) - knots(speed) >= 3.0
            && knots(peak) - knots(lull) >= 10.0;
        let gust = if gusty {
            knots(peak).round() * KNOT_MS
        } else {
            f64::NAN
        };
        (whole * KNOT_MS, direction, gust)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::truth::WindSample;

    fn truth(speed_ms: f64, from_direction_deg: f64) -> Truth {
        Truth {
            air_temperature_degc: 10.2,
            dew_point_degc: 4.0,
            relative_humidity_percent: 65.0,
            air_pressure_hpa: 1012.53,
            wind: [WindSample {
                speed_ms,
                from_direction_deg,
            }; 4],
            rainfall_mm: 0.002,
            ..Truth::default()
        }
    }

    #[test]
    fn a_report_has_the_steps_of_reports() {
        let mut observer = Observer::new(4.0, Seed(1));
        for _ in 0..224 {
            observer.watch(&truth(5.0, 358.0));
        }
        observer.watch(&truth(11.0, 358.0));
        let hour = observer.report(&truth(11.0, 358.0));
        // 50.36 degF is written 50 degF, passed on as 10.0; 39.2 degF as 39 degF, 3.9 degC.
        assert!(
            (hour.t - 10.0).abs() < 0.51 && (hour.td - 3.9).abs() < 0.51,
            "{hour:?}"
        );
        // 225 times 0.002 mm are one hundredth of an inch, 0.196 mm are carried on.
        assert!((hour.rain - 0.254).abs() < 1e-9, "{hour:?}");
        // 26 samples of 5 m/s and four of 11: 5.8 m/s, 11.3 kt; peak 21.4 kt over a lull of 9.7.
        assert!((hour.ws / KNOT_MS - 11.0).abs() < 1e-9, "{hour:?}");
        assert!((hour.gust / KNOT_MS - 21.0).abs() < 1e-9, "{hour:?}");
        assert_eq!(hour.wd, 360.0);
    }

    #[test]
    fn light_air_is_a_calm() {
        let mut observer = Observer::new(4.0, Seed(1));
        for _ in 0..38 {
            observer.watch(&truth(1.2, 90.0));
        }
        let hour = observer.report(&truth(1.2, 90.0));
        assert_eq!(hour.ws, 0.0);
        assert!(hour.wd.is_nan() && hour.gust.is_nan());
    }
}
