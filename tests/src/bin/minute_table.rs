//! The minute scale: open days and simulated days chosen alike, gusts by averaging time, rain and cold pools.
//!
//! `minute_table [--years N] [--seed N]`

use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::{Region, Weather};
use benchmast_tests::believe::short;
use benchmast_tests::hourly::day_of;
use benchmast_tests::minutes::{
    ColdPool, DAY_MIN, Minutes, Number, autumn_desert, cold_pools, simulate, statistics,
    winter_basin,
};
use benchmast_tests::sample::{Pairs, Values};
use std::error::Error;

const ONE: [f64; 1] = [1.0];
const DAY_US: i64 = 86_400_000_000;

fn weather(climate: &str, place: Place, height_m: f64, seed: u64, start_us: i64) -> Weather {
    let climate = Climate::by_name(climate).expect("a named climate");
    let region = Region::new(&climate, place, Seed(seed));
    let site = Site {
        height_m,
        roughness_length_m: 0.03,
        ..Site::OPEN
    };
    Weather::synthetic(&region, place, site, "minutes", start_us, 15.0)
}

/// A month of each of some years, days from local midnight.
fn months(
    climate: &str,
    place: Place,
    height_m: f64,
    seed: u64,
    month: i8,
    years: usize,
) -> Vec<Minutes> {
    (0..years)
        .map(|n| {
            let date = jiff::civil::date(2013 + n as i16, month, 1);
            // Whole hours of local mean time are near enough to midnight.
            let zone_h = (place.longitude_deg / 15.0).round() as i64;
            let start_us = day_of(date) * DAY_US - zone_h * 3_600_000_000;
            let mut weather = weather(climate, place, height_m, seed, start_us);
            simulate(&mut weather, place, start_us, 30 * DAY_MIN)
        })
        .collect()
}

fn days(months: &[Minutes], length: usize) -> Vec<Minutes> {
    let count = |m: &Minutes| m.minutes.len() / (length * DAY_MIN);
    months
        .iter()
        .flat_map(|m| (0..count(m)).map(|d| m.part(d * length * DAY_MIN, length * DAY_MIN)))
        .collect()
}

/// Real values and the quantiles of the simulated days' own values.
fn print_days(title: &str, real: &[Number], simulated: &[Vec<Number>]) {
    println!("\n{title}: {} simulated", simulated.len());
    println!(
        "{:<54}{:>10}{:>12}{:>10}{:>10}",
        "statistic", "real", "sim median", "q05", "q95"
    );
    for (i, (name, value)) in real.iter().enumerate() {
        let values = Values::new(simulated.iter().map(|day| (day[i].1, 0)));
        let [middle, low, high] = [0.5, 0.05, 0.95].map(|q| values.quantile(&ONE, q));
        let mark = match value {
            v if v.is_nan() || middle.is_nan() => "",
            v if *v > high => "  real is higher",
            v if *v < low => "  real is lower",
            _ => "",
        };
        println!(
            "{name:<54}{:>10}{:>12}{:>10}{:>10}{mark}",
            short(*value),
            short(middle),
            short(low),
            short(high)
        );
    }
}

/// An open day and where to look for days like it.
struct Like {
    title: &'static str,
    real: Minutes,
    climate: &'static str,
    height_m: f64,
    month: i8,
    /// Steps of the instruments, see `statistics`.
    steps: [f64; 3],
}

/// Simulated days as clear and as even as the open one.
fn clear_days(like: &Like, seed: u64, years: usize) {
    let (mean, even) = like.real.clearness();
    let place = like.real.place;
    let months = months(like.climate, place, like.height_m, seed, like.month, years);
    let simulated: Vec<Vec<Number>> = days(&months, 1)
        .iter()
        .filter(|day| {
            let (m, s) = day.clearness();
            (m - mean).abs() < 0.12 && s < even + 0.05
        })
        .map(|day| statistics(day, like.steps))
        .collect();
    print_days(like.title, &statistics(&like.real, [0.0; 3]), &simulated);
}

fn summer_days(seed: u64, years: usize) {
    let place = Place {
        latitude_deg: 46.8,
        longitude_deg: 6.9,
        altitude_m: 491.0,
    };
    let bands = include_str!("../../data/open_minute_bands.csv");
    let mut reader = csv::Reader::from_reader(bands.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(|r| r.expect("a row")).collect();
    let simulated: Vec<Vec<Number>> = days(&months("continental", place, 10.0, seed, 6, years), 10)
        .iter()
        .map(|ten| statistics(ten, [0.1, 0.1, 1.0]))
        .collect();
    let real: Vec<Number> = simulated[0]
        .iter()
        .map(|(name, _)| {
            let row = rows.iter().find(|row| &row[0] == *name);
            (
                *name,
                row.and_then(|row| row[3].parse().ok()).unwrap_or(f64::NAN),
            )
        })
        .collect();
    print_days(
        "ten June days of mixed weather in a temperate plain (its indices: another clear-sky model)",
        &real,
        &simulated,
    );
}

/// Highest running mean over mean, by averaging time, in windy weather.
fn gusts(seed: u64) {
    let place = Place {
        latitude_deg: 51.0,
        longitude_deg: 3.0,
        altitude_m: 5.0,
    };
    let start_us = day_of(jiff::civil::date(2013, 11, 1)) * DAY_US;
    let mut weather = weather("temperate_maritime", place, 10.0, seed, start_us);
    let mut samples = Vec::new();
    // 60 days in short means of 3.75 s.
    for n in 1..=60 * 5760_i64 {
        samples.extend(
            weather
                .advance(start_us + n * 15_000_000)
                .wind
                .map(|w| w.speed_ms),
        );
    }
    let factor = |times: usize, whole: usize| {
        let ratios = samples.chunks_exact(whole).filter_map(|hour| {
            let mean = hour.iter().sum::<f64>() / whole as f64;
            let halves = |h: &[f64]| h.iter().sum::<f64>() / h.len() as f64;
            let (a, b) = hour.split_at(whole / 2);
            // Steady wind only: a trend is no gust.
            if mean < 8.0 || (halves(a) / halves(b) - 1.0).abs() > 0.1 {
                return None;
            }
            let highest = hour
                .windows(times)
                .map(|w| w.iter().sum::<f64>())
                .fold(0.0, f64::max);
            Some((highest / times as f64 / mean, 0))
        });
        Values::new(ratios).mean(&ONE)
    };
    println!(
        "\ngust factor, roughness 0.03 m, 10 m, mean >= 8 m/s (published: 1 h Durst 1960, Cook 1985 at Iu 0.175;"
    );
    println!(
        "10 min Wieringa 1973 at Iu 0.175, Harper et al. 2010 off-land 1.52, off-sea 1.38 at 3 s)"
    );
    println!(
        "{:>8}{:>10}{:>8}{:>8}{:>12}{:>10}",
        "time s", "over 1 h", "Durst", "Cook", "over 10 min", "Wieringa"
    );
    for (times, seconds, durst, cook, wieringa) in [
        (1, 3.75, 1.508, 1.504, 1.513),
        (4, 15.0, 1.395, 1.403, 1.438),
        (8, 30.0, 1.323, 1.352, 1.395),
        (16, 60.0, 1.248, 1.301, 1.343),
        (32, 120.0, 1.177, 1.250, 1.248),
        (160, 600.0, 1.061, 1.132, f64::NAN),
    ] {
        let short_one = if times < 160 {
            factor(times, 160)
        } else {
            f64::NAN
        };
        println!(
            "{seconds:>8}{:>10.3}{durst:>8.3}{cook:>8.3}{short_one:>12.3}{wieringa:>10.3}",
            factor(times, 960)
        );
    }
}

/// Rain of the minutes and cold pools of warm half-years.
fn rain_and_pools(seed: u64, years: usize) {
    let place = Place {
        latitude_deg: 53.5,
        longitude_deg: 10.0,
        altitude_m: 10.0,
    };
    let (mut pools, mut rates, mut five, mut hourly) =
        (Vec::<ColdPool>::new(), Vec::new(), Vec::new(), Vec::new());
    for n in 0..years {
        let start_us = day_of(jiff::civil::date(2013 + n as i16, 4, 1)) * DAY_US;
        let mut weather = weather("continental", place, 2.0, seed, start_us);
        let summer = simulate(&mut weather, place, start_us, 183 * DAY_MIN);
        pools.extend(cold_pools(&summer));
        let rain = summer.column(|m| m.rain);
        rates.extend(rain.iter().filter(|mm| **mm > 0.0).map(|mm| (mm * 60.0, 0)));
        five.extend(rain.chunks_exact(5).map(|c| c.iter().sum::<f64>()));
        hourly.extend(rain.chunks_exact(60).map(|c| c.iter().sum::<f64>()));
    }
    let lag = |x: &[f64]| Pairs::lagged(x, x, 1, &|_| 0).correlation(&ONE);
    let dry =
        |x: &[f64], below: f64| x.iter().filter(|mm| **mm < below).count() as f64 / x.len() as f64;
    let rates = Values::new(rates);
    println!(
        "\nrain, April to September, continental (range of the published summer parameter sets in rain_pulse_moments.csv)"
    );
    let line = |name: &str, value: f64, published: &str| {
        println!("{name:<54}{:>10}   {published}", short(value));
    };
    line(
        "lag-1 autocorrelation of 5-min sums",
        lag(&five),
        "0.55 to 0.92",
    );
    line(
        "lag-1 autocorrelation of 1-h sums",
        lag(&hourly),
        "0.33 to 0.70",
    );
    line("hours below 0.1 mm", dry(&hourly, 0.1), "0.88 to 0.99");
    line(
        "5-min sums that are zero",
        dry(&five, 1e-9),
        "0.9 to 0.99 (sets with cells of no minimum rate: less)",
    );
    line(
        "rate of rainy minutes, median mm/h",
        rates.quantile(&ONE, 0.5),
        "",
    );
    line(
        "rate of rainy minutes, q99 mm/h",
        rates.quantile(&ONE, 0.99),
        "",
    );
    line(
        "rate of rainy minutes, highest mm/h",
        rates.quantile(&ONE, 1.0),
        "",
    );
    line(
        "share of rainy minutes below 2.5 mm/h",
        rates.share(&ONE, |r| r < 2.5),
        "light (WMO-No. 8)",
    );
    line(
        "share of rainy minutes above 10 mm/h",
        rates.share(&ONE, |r| r > 10.0),
        "heavy (WMO-No. 8)",
    );

    let of = |pick: fn(&ColdPool) -> f64| Values::new(pools.iter().map(|p| (pick(p), 0)));
    let drop = of(|p| p.drop_k);
    println!(
        "\ncold pools, April to September (Kirsch, Ament & Hohenegger 2021: 489 in 14 summers)"
    );
    line("passages a summer", pools.len() as f64 / years as f64, "35");
    line(
        "fall of temperature, median K",
        drop.quantile(&ONE, 0.5),
        "3.3",
    );
    line(
        "fall of temperature, q05 K",
        drop.quantile(&ONE, 0.05),
        "2 (lowest)",
    );
    line(
        "fall of temperature, highest K",
        drop.quantile(&ONE, 1.0),
        "11",
    );
    let (x, y): (Vec<f64>, Vec<f64>) = pools.iter().map(|p| (p.deficit_hpa, -p.drop_k)).unzip();
    line(
        "correlation of change with lack of vapour before",
        Pairs::lagged(&x, &y, 0, &|_| 0).correlation(&ONE),
        "-0.71",
    );
    line(
        "rise of pressure, median hPa",
        of(|p| p.pressure_rise_hpa).quantile(&ONE, 0.5),
        "rises",
    );
    line(
        "peak wind over mean before, median",
        of(|p| p.gust_over_before).quantile(&ONE, 0.5),
        "rises",
    );
}

fn main() -> Result<(), Box<dyn Error>> {
    let (mut years, mut seed) = (12, 1);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or("a value is missing")?;
        match word.as_str() {
            "--years" => years = value.parse::<usize>()?.max(1),
            "--seed" => seed = value.parse()?,
            _ => return Err(format!("unknown: {word}").into()),
        }
    }
    let autumn = Like {
        title: "clear autumn day in a desert",
        real: autumn_desert(),
        climate: "arid",
        height_m: 3.0,
        month: 10,
        steps: [0.01, 0.01, 0.001],
    };
    let winter = Like {
        title: "clear winter day in a high basin",
        real: winter_basin(),
        climate: "continental",
        height_m: 10.0,
        month: 1,
        steps: [0.1, 0.1, 0.1],
    };
    clear_days(&autumn, seed, years);
    clear_days(&winter, seed, years);
    summer_days(seed, years);
    gusts(seed);
    rain_and_pools(seed, years);
    Ok(())
}
