//! Statistics of rain by the hour, and of everything else around it.

use crate::hourly::{anomaly, bridge, change};
use crate::sample::Values;
use crate::statistics::{BLOCK_H, Columns, Statistic};

/// An hour is wet from one hundredth of an inch, mm.
const WET_MM: f64 = 0.05;
/// An event goes on when its next wet hour comes no more than this many hours after the last.
const PART_H: usize = 3;

/// Rain with gaps counted as dry.
fn fallen(c: &Columns) -> Vec<f64> {
    c.rain
        .iter()
        .map(|v| if v.is_nan() { 0.0 } else { *v })
        .collect()
}

/// One and zero of the hours among which `holds` is asked.
fn yes(n: usize, among: impl Fn(usize) -> bool, holds: impl Fn(usize) -> bool) -> Values {
    Values::new(
        (0..n)
            .filter(|&i| among(i))
            .map(|i| (f64::from(u8::from(holds(i))), i / BLOCK_H)),
    )
}

fn mean(list: &mut Vec<Statistic>, name: &str, values: Values) {
    list.push(Statistic::new(name, 0.0, move |w| values.mean(w)));
}

fn quantile(list: &mut Vec<Statistic>, name: &str, grain: f64, values: &Values, share: f64) {
    let values = values.clone();
    list.push(Statistic::new(name, grain, move |w| {
        values.quantile(w, share)
    }));
}

/// Rain events: first hour, last hour, total.
fn events(x: &[f64]) -> Vec<(usize, usize, f64)> {
    let mut found: Vec<(usize, usize, f64)> = Vec::new();
    for (i, &mm) in x.iter().enumerate().filter(|(_, mm)| **mm > WET_MM) {
        match found.last_mut() {
            Some(event) if i - event.1 <= PART_H => {
                event.1 = i;
                event.2 += mm;
            }
            _ => found.push((i, i, mm)),
        }
    }
    found
}

/// Rain itself.
pub(crate) fn amounts(c: &Columns, list: &mut Vec<Statistic>) {
    let x = fallen(c);
    let n = x.len();
    let wet = |i: usize| x[i] > WET_MM;
    mean(list, "wet hours", yes(n, |_| true, wet));
    mean(list, "P(wet|wet)", yes(n - 1, wet, |i| wet(i + 1)));
    mean(list, "P(wet|dry)", yes(n - 1, |i| !wet(i), |i| wet(i + 1)));
    let amount = c.pick(&x, wet);
    mean(list, "wet hour mean mm", amount.clone());
    for (name, share) in [("median", 0.5), ("q90", 0.9), ("q99", 0.99)] {
        quantile(list, &format!("wet hour {name} mm"), 0.254, &amount, share);
    }
    list.push(Statistic::new(
        "share of rain in top 5 % wet hours",
        0.0,
        move |w| amount.share_of_highest(w, 0.05),
    ));
    let total = c.all(&x);
    list.push(Statistic::new("annual total mm", 0.0, move |w| {
        total.mean(w) * 8766.0
    }));

    let events = events(&x);
    let of = |pick: fn(&(usize, usize, f64)) -> f64| {
        Values::new(events.iter().map(|e| (pick(e), e.0 / BLOCK_H)))
    };
    let duration = of(|e| (e.1 - e.0 + 1) as f64);
    quantile(list, "event duration median h", 1.0, &duration, 0.5);
    quantile(list, "event duration q90 h", 1.0, &duration, 0.9);
    quantile(list, "event total median mm", 0.254, &of(|e| e.2), 0.5);
    quantile(list, "event total q90 mm", 0.254, &of(|e| e.2), 0.9);

    let days = c.days();
    let rainy = |d: usize| days[d].rain > WET_MM;
    let daily = |among: &dyn Fn(usize) -> bool, holds: &dyn Fn(usize) -> bool, n: usize| {
        Values::new(
            (0..n)
                .filter(|&d| among(d))
                .map(|d| (f64::from(u8::from(holds(d))), days[d].block)),
        )
    };
    mean(list, "wet days", daily(&|_| true, &rainy, days.len()));
    let next = |d: usize| rainy(d + 1);
    mean(
        list,
        "P(wet day|wet day)",
        daily(&rainy, &next, days.len() - 1),
    );
    let wet_day = Values::new(days.iter().map(|d| {
        let mm = if d.rain > WET_MM { d.rain } else { f64::NAN };
        (mm, d.block)
    }));
    quantile(list, "wet day median mm", 0.254, &wet_day, 0.5);
}

/// Rain and the other quantities.
pub(crate) fn links(c: &Columns, list: &mut Vec<Statistic>) {
    let x = fallen(c);
    let n = x.len();
    let wet = |i: usize| x[i] > WET_MM;
    let first = |i: usize| wet(i) && (1..=3).all(|back| i < back || !wet(i - back));
    let summer = |i: usize| (4..=9).contains(&c.months[i]);

    let in_rain = c.pick(&c.rh, wet);
    quantile(list, "RH in wet hours median %", 0.0, &in_rain, 0.5);
    quantile(list, "RH in wet hours q5 %", 0.0, &in_rain, 0.05);
    let moist = in_rain.clone();
    list.push(Statistic::new("wet hours with RH >= 80 %", 0.0, move |w| {
        moist.share(w, |v| v >= 80.0)
    }));
    quantile(
        list,
        "RH in dry hours median %",
        0.0,
        &c.pick(&c.rh, |i| !wet(i)),
        0.5,
    );
    let spread: Vec<f64> = c.t.iter().zip(&c.td).map(|(t, td)| t - td).collect();
    quantile(
        list,
        "T-Td in wet hours median K",
        0.6,
        &c.pick(&spread, wet),
        0.5,
    );

    let (dt, drh, dtd) = (change(&c.t, 2), change(&c.rh, 2), change(&c.td, 2));
    let onset = c.pick(&dt, first);
    quantile(list, "onset: T change 2 h q10 K", 0.6, &onset, 0.1);
    mean(list, "onset: T change 2 h mean K", onset);
    mean(list, "onset: RH change 2 h mean %", c.pick(&drh, first));
    mean(list, "onset: Td change 2 h mean K", c.pick(&dtd, first));
    mean(
        list,
        "onset: wind change 2 h mean m/s",
        c.pick(&change(&c.ws, 2), first),
    );

    let p = bridge(&c.p, 3);
    let before = change(&p, 6);
    mean(
        list,
        "onset: p change 6 h before hPa",
        c.pick(&before, first),
    );
    let cold = c.pick(&before, |i| first(i) && !summer(i));
    mean(list, "onset Oct-Mar: p change 6 h before hPa", cold);
    let warm = c.pick(&before, |i| first(i) && summer(i));
    mean(list, "onset Apr-Sep: p change 6 h before hPa", warm);
    let after: Vec<f64> = (0..n)
        .map(|i| {
            if i + 12 < n {
                p[i + 12] - p[i]
            } else {
                f64::NAN
            }
        })
        .collect();
    mean(
        list,
        "onset: p change 12 h after hPa",
        c.pick(&after, first),
    );

    let departure = anomaly(c.record, &p);
    mean(list, "p anomaly in wet hours hPa", c.pick(&departure, wet));
    let warmth = anomaly(c.record, &c.t);
    mean(list, "T anomaly in wet hours K", c.pick(&warmth, wet));
    let (windy, calm) = (c.pick(&c.ws, wet), c.pick(&c.ws, |i| !wet(i)));
    list.push(Statistic::new(
        "wind in wet over dry hours",
        0.0,
        move |w| windy.mean(w) / calm.mean(w),
    ));
    let tendency = change(&p, 3);
    mean(
        list,
        "wet share when 3-h tendency < -2",
        yes(n, |i| tendency[i] < -2.0, wet),
    );
    mean(
        list,
        "wet share when 3-h tendency >= 2",
        yes(n, |i| tendency[i] >= 2.0, wet),
    );
    mean(
        list,
        "wet share when p anomaly < -8",
        yes(n, |i| departure[i] < -8.0, wet),
    );
    mean(
        list,
        "wet share when p anomaly >= 8",
        yes(n, |i| departure[i] >= 8.0, wet),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_dry_hours_part_events_and_two_do_not() {
        let x = [0.3, 0.0, 0.0, 0.3, 0.0, 0.0, 0.0, 0.3, 1.0];
        let found: Vec<(usize, usize)> = events(&x).iter().map(|e| (e.0, e.1)).collect();
        assert_eq!(found, [(0, 3), (7, 8)]);
    }
}
