//! What a meteorologist looks at in an hourly record, each as a number that can be worked out for any
//! resampling of its ten-day blocks.

use crate::hourly::{DAY, Record, anomaly, change, without_slow_part};
use crate::rain_statistics;
use crate::sample::{Pairs, Values, Weights};

/// Hours in a block of the resampling.
pub const BLOCK_H: usize = 240;

type Evaluate = Box<dyn Fn(&Weights) -> f64 + Send + Sync>;

/// One statistic of one record.
pub struct Statistic {
    /// What it is, with its unit.
    pub name: String,
    /// Step in which the record's own resolution lets it move; 0 when it moves freely.
    pub grain: f64,
    evaluate: Evaluate,
}

impl Statistic {
    pub(crate) fn new(
        name: impl Into<String>,
        grain: f64,
        evaluate: impl Fn(&Weights) -> f64 + Send + Sync + 'static,
    ) -> Self {
        Self {
            name: name.into(),
            grain,
            evaluate: Box::new(evaluate),
        }
    }

    /// Its value when each block counts as often as its weight says.
    #[must_use]
    pub fn value(&self, weights: &Weights) -> f64 {
        (self.evaluate)(weights)
    }
}

/// How many blocks a record has, the last of which may be short.
#[must_use]
pub fn blocks(record: &Record) -> usize {
    record
        .len()
        .div_ceil(BLOCK_H)
        .max(record.day(record.len() - 1) / 10 + 1)
}

/// The columns of a record and what is derived from them once.
pub(crate) struct Columns<'a> {
    pub(crate) record: &'a Record,
    pub(crate) t: Vec<f64>,
    pub(crate) td: Vec<f64>,
    pub(crate) rh: Vec<f64>,
    pub(crate) p: Vec<f64>,
    pub(crate) ws: Vec<f64>,
    pub(crate) wd: Vec<f64>,
    pub(crate) rain: Vec<f64>,
    pub(crate) months: Vec<usize>,
}

/// Whole days of a record.
pub(crate) struct Day {
    pub(crate) block: usize,
    /// Highest less lowest temperature, K; missing below 23 hours.
    pub(crate) range: f64,
    /// The same of the dew point.
    pub(crate) dew_range: f64,
    /// Correlation of temperature and humidity; missing below 20 hours or in a day without change.
    pub(crate) correlation: f64,
    /// Rain, mm.
    pub(crate) rain: f64,
}

impl<'a> Columns<'a> {
    pub(crate) fn new(record: &'a Record) -> Self {
        Self {
            record,
            t: record.column(|h| h.t),
            td: record.column(|h| h.td),
            rh: record.column(|h| h.rh),
            p: record.column(|h| h.p),
            ws: record.column(|h| h.ws),
            wd: record.column(|h| h.wd),
            rain: record.column(|h| h.rain),
            months: record.months(),
        }
    }

    /// Values of the hours for which `keep` holds.
    pub(crate) fn pick(&self, x: &[f64], keep: impl Fn(usize) -> bool) -> Values {
        Values::new(
            (0..x.len())
                .filter(|&i| keep(i))
                .map(|i| (x[i], i / BLOCK_H)),
        )
    }

    /// All values.
    pub(crate) fn all(&self, x: &[f64]) -> Values {
        self.pick(x, |_| true)
    }

    pub(crate) fn days(&self) -> Vec<Day> {
        let mut days = Vec::new();
        let mut from = 0;
        while from < self.record.len() {
            let day = self.record.day(from);
            let to = (from..self.record.len())
                .find(|&i| self.record.day(i) != day)
                .unwrap_or(self.record.len());
            let spread = |x: &[f64]| {
                let there: Vec<f64> = x[from..to]
                    .iter()
                    .copied()
                    .filter(|v| v.is_finite())
                    .collect();
                if there.len() < 23 {
                    return f64::NAN;
                }
                let high = there.iter().copied().fold(f64::MIN, f64::max);
                high - there.iter().copied().fold(f64::MAX, f64::min)
            };
            days.push(Day {
                block: day / 10,
                range: spread(&self.t),
                dew_range: spread(&self.td),
                correlation: self.correlation(from, to),
                rain: self.rain[from..to].iter().filter(|v| v.is_finite()).sum(),
            });
            from = to;
        }
        days
    }

    fn correlation(&self, from: usize, to: usize) -> f64 {
        let (t, rh) = (&self.t[from..to], &self.rh[from..to]);
        let both = |i: usize| t[i].is_finite() && rh[i].is_finite();
        let there = |x: &[f64]| {
            Values::new((0..x.len()).filter(|&i| both(i)).map(|i| (x[i], 0))).deviation(&[1.0])
        };
        let count = (0..t.len()).filter(|&i| both(i)).count();
        if count < 20 || there(t) <= 0.3 || there(rh) <= 0.5 {
            return f64::NAN;
        }
        Pairs::lagged(t, rh, 0, &|_| 0).correlation(&[1.0])
    }
}

/// All statistics of a record.
#[must_use]
pub fn all(record: &Record) -> Vec<Statistic> {
    let columns = Columns::new(record);
    let mut list = Vec::new();
    persistence(&columns, &mut list);
    day(&columns, &mut list);
    moisture(&columns, &mut list);
    steps(&columns, &mut list);
    pressure(&columns, &mut list);
    wind(&columns, &mut list);
    rain_statistics::amounts(&columns, &mut list);
    rain_statistics::links(&columns, &mut list);
    list
}

fn quantile(list: &mut Vec<Statistic>, name: &str, grain: f64, values: &Values, share: f64) {
    let values = values.clone();
    list.push(Statistic::new(name, grain, move |w| {
        values.quantile(w, share)
    }));
}

fn persistence(c: &Columns, list: &mut Vec<Statistic>) {
    let quantities: [(&str, &[f64]); 6] = [
        ("t", &c.t),
        ("td", &c.td),
        ("rh", &c.rh),
        ("p", &c.p),
        ("ws", &c.ws),
        ("rain", &c.rain),
    ];
    let block = |i: usize| i / BLOCK_H;
    for (name, x) in quantities {
        let departure = anomaly(c.record, x);
        for (kind, x) in [("raw", x), ("anomaly", departure.as_slice())] {
            for lag in [1, 6, 24] {
                if name == "rain" && (kind, lag) != ("raw", 1) {
                    continue;
                }
                let pairs = Pairs::lagged(x, x, lag, &block);
                let name = format!("{name} lag {lag} h {kind}");
                list.push(Statistic::new(name, 0.0, move |w| pairs.correlation(w)));
            }
        }
        if name != "rain" {
            let values = c.all(&departure);
            let name = format!("sd of {name} anomaly");
            list.push(Statistic::new(name, 0.0, move |w| values.deviation(w)));
        }
    }
}

fn day(c: &Columns, list: &mut Vec<Statistic>) {
    let days = c.days();
    let of = |pick: &dyn Fn(&Day) -> f64| Values::new(days.iter().map(|d| (pick(d), d.block)));
    let range = of(&|d| d.range);
    let mean = range.clone();
    list.push(Statistic::new("mean daily range K", 0.0, move |w| {
        mean.mean(w)
    }));
    quantile(list, "daily range q5 K", 0.6, &range, 0.05);
    quantile(list, "daily range q95 K", 0.6, &range, 0.95);
    let correlation = of(&|d| d.correlation);
    quantile(list, "within-day corr(T,RH) median", 0.0, &correlation, 0.5);
    quantile(list, "within-day corr(T,RH) q90", 0.0, &correlation, 0.9);
    list.push(Statistic::new(
        "days with corr(T,RH) < -0.5",
        0.0,
        move |w| correlation.share(w, |r| r < -0.5),
    ));
    quantile(
        list,
        "daily range of dew point median K",
        0.6,
        &of(&|d| d.dew_range),
        0.5,
    );
    let dry = of(&|d| if d.rain < 0.05 { d.range } else { f64::NAN });
    let wet = of(&|d| if d.rain >= 5.0 { d.range } else { f64::NAN });
    list.push(Statistic::new(
        "mean daily range, dry days K",
        0.0,
        move |w| dry.mean(w),
    ));
    list.push(Statistic::new(
        "mean daily range, days >= 5 mm K",
        0.0,
        move |w| wet.mean(w),
    ));
}

fn moisture(c: &Columns, list: &mut Vec<Statistic>) {
    let spread: Vec<f64> = c.t.iter().zip(&c.td).map(|(t, td)| t - td).collect();
    let all = c.all(&spread);
    for (name, share) in [("q5", 0.05), ("median", 0.5), ("q95", 0.95)] {
        quantile(list, &format!("T-Td {name} K"), 0.6, &all, share);
    }
    let within = |from: usize, to: usize| {
        c.pick(&spread, |i| (from..=to).contains(&c.record.hour_of_day(i)))
    };
    quantile(list, "T-Td 03-06 h median K", 0.6, &within(3, 6), 0.5);
    quantile(list, "T-Td 12-16 h median K", 0.6, &within(12, 16), 0.5);
    let rh = c.all(&c.rh);
    quantile(list, "RH q5 %", 0.0, &rh, 0.05);
    list.push(Statistic::new("hours with RH >= 95 %", 0.0, move |w| {
        rh.share(w, |v| v >= 95.0)
    }));
}

fn steps(c: &Columns, list: &mut Vec<Statistic>) {
    let mut add = |name: &str, x: &[f64], lag: usize, grain: f64, shares: &[f64]| {
        let moved: Vec<f64> = change(x, lag).iter().map(|v| v.abs()).collect();
        let values = c.all(&moved);
        for share in shares {
            let name = format!("|{name}| {lag} h q{}", share * 100.0);
            quantile(list, &name, grain, &values, *share);
        }
    };
    add("dT", &c.t, 1, 0.6, &[0.5, 0.9, 0.99]);
    add("dT", &c.t, 3, 0.6, &[0.99]);
    add("dTd", &c.td, 1, 0.6, &[0.5, 0.99]);
    add("dRH", &c.rh, 1, 0.0, &[0.5, 0.99]);
    add("dws", &c.ws, 1, 0.514, &[0.5, 0.99]);
    add("dp", &c.p, 1, 0.1, &[0.5, 0.99]);
    add("dp", &c.p, 3, 0.1, &[0.5]);
    add("dp", &c.p, 24, 0.1, &[0.5]);
}

/// Amplitude of the `n`-th harmonic of the mean day of `x`.
fn harmonic(c: &Columns, x: &[f64], n: usize) -> impl Fn(&Weights) -> f64 + Send + Sync + use<> {
    let hours: Vec<Values> = (0..DAY)
        .map(|hour| c.pick(x, |i| c.record.hour_of_day(i) == hour))
        .collect();
    move |w| {
        let (mut cosine, mut sine) = (0.0, 0.0);
        for (hour, values) in hours.iter().enumerate() {
            let turn = std::f64::consts::TAU * (n * hour) as f64 / DAY as f64;
            let mean = values.mean(w);
            cosine += mean * turn.cos() / 12.0;
            sine += mean * turn.sin() / 12.0;
        }
        cosine.hypot(sine)
    }
}

fn pressure(c: &Columns, list: &mut Vec<Statistic>) {
    let tendency = c.all(&change(&c.p, 3));
    for (name, share) in [("q1", 0.01), ("q5", 0.05), ("q95", 0.95), ("q99", 0.99)] {
        quantile(
            list,
            &format!("3-h tendency {name} hPa"),
            0.1,
            &tendency,
            share,
        );
    }
    let level = c.all(&c.p);
    quantile(list, "pressure q1 hPa", 0.1, &level, 0.01);
    quantile(list, "pressure q99 hPa", 0.1, &level, 0.99);
    let quick = without_slow_part(&c.p);
    list.push(Statistic::new(
        "S1 amplitude hPa",
        0.0,
        harmonic(c, &quick, 1),
    ));
    list.push(Statistic::new(
        "S2 amplitude hPa",
        0.0,
        harmonic(c, &quick, 2),
    ));
}

fn wind(c: &Columns, list: &mut Vec<Statistic>) {
    let speed = c.all(&c.ws);
    for (name, share) in [("median", 0.5), ("q99", 0.99)] {
        quantile(list, &format!("wind {name} m/s"), 0.514, &speed, share);
    }
    let positive = c.pick(&c.ws, |i| c.ws[i] > 0.0);
    list.push(Statistic::new("Weibull k (moments)", 0.0, move |w| {
        positive.weibull_shape(w)
    }));
    let calm = speed.clone();
    list.push(Statistic::new("share of calms", 0.0, move |w| {
        calm.share(w, |v| v == 0.0)
    }));
    let within =
        |from: usize, to: usize| c.pick(&c.ws, |i| (from..=to).contains(&c.record.hour_of_day(i)));
    let (day, night) = (within(13, 16), within(1, 4));
    list.push(Statistic::new("wind 13-16 h over 01-04 h", 0.0, move |w| {
        day.mean(w) / night.mean(w)
    }));

    let turned: Vec<f64> = (0..c.wd.len())
        .map(|i| {
            if c.ws[i] >= 2.0 {
                c.wd[i].to_radians()
            } else {
                f64::NAN
            }
        })
        .collect();
    for lag in [1, 6, 24] {
        let cosine: Vec<f64> = change(&turned, lag).iter().map(|v| v.cos()).collect();
        let values = c.all(&cosine);
        let name = format!("mean cos of turn, {lag} h");
        list.push(Statistic::new(name, 0.0, move |w| values.mean(w)));
    }
    let turn: Vec<f64> = change(&turned, 1)
        .iter()
        .map(|v| v.cos().clamp(-1.0, 1.0).acos().to_degrees().round())
        .collect();
    let turn = c.all(&turn);
    for (name, share) in [("median", 0.5), ("q90", 0.9), ("q99", 0.99)] {
        quantile(list, &format!("turn in 1 h {name} deg"), 10.0, &turn, share);
    }
    let part = |of: fn(f64) -> f64| -> Values {
        let x: Vec<f64> =
            c.ws.iter()
                .zip(&c.wd)
                .map(|(s, d)| s * of(d.to_radians()))
                .collect();
        c.all(&x)
    };
    let (east, north) = (part(f64::sin), part(f64::cos));
    list.push(Statistic::new("constancy of wind", 0.0, move |w| {
        east.mean(w).hypot(north.mean(w)) / speed.mean(w)
    }));

    let gust = c.record.column(|h| h.gust);
    let factor: Vec<f64> = gust.iter().zip(&c.ws).map(|(g, s)| g / s).collect();
    let values = c.pick(&factor, |i| c.ws[i] >= 8.0);
    quantile(
        list,
        "gust factor reported, ws >= 8, median",
        0.0,
        &values,
        0.5,
    );
    quantile(
        list,
        "gust factor reported, ws >= 8, q95",
        0.0,
        &values,
        0.95,
    );
    let reported = Values::new(
        (0..gust.len()).map(|i| (f64::from(u8::from(gust[i].is_finite())), i / BLOCK_H)),
    );
    list.push(Statistic::new("hours with a gust", 0.0, move |w| {
        reported.mean(w)
    }));
}
