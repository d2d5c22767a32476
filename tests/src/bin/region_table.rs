//! Stations 1, 10 and 50 km apart: how much of their weather they share, and how fronts pass from one to the
//! next.
//!
//! `region_table [--climate NAME] [--seeds N]`

use benchmast_sim::site::Place;
use benchmast_sim::weather::climate::Climate;
use benchmast_tests::neighbours::{correlations, fronts, lag_s, shifted, year};
use benchmast_tests::sample::Values;
use std::error::Error;

const ONE: [f64; 1] = [1.0];

type Expected = (&'static str, [&'static str; 3]);

/// Correlations at 1, 10 and 50 km, in the order of `correlations`: common practice of comparing neighbouring
/// stations in level country, no one source; hourly rain after published gauge networks, whose correlation
/// at 10 km is 0.3 to 0.6 in convective and 0.6 to 0.8 in frontal rain (from memory).
const EXPECTED: [Expected; 8] = [
    ("T anomaly", ["> 0.98", "0.95-0.99", "0.88-0.97"]),
    ("Td anomaly", ["> 0.98", "0.95-0.99", "0.88-0.97"]),
    ("RH anomaly", ["> 0.95", "0.88-0.97", "0.70-0.90"]),
    ("pressure", ["> 0.999", "> 0.999", "> 0.99"]),
    ("wind anomaly", ["> 0.90", "0.75-0.92", "0.55-0.80"]),
    ("hourly rain", ["> 0.90", "0.45-0.80", "0.15-0.50"]),
    ("daily rain", ["> 0.95", "0.75-0.95", "0.50-0.85"]),
    (
        "P(wet there | wet here)",
        ["> 0.90", "0.65-0.90", "0.40-0.75"],
    ),
];

fn main() -> Result<(), Box<dyn Error>> {
    let (mut name, mut seeds) = ("temperate_maritime".to_owned(), 2);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or("a value is missing")?;
        match word.as_str() {
            "--climate" => name = value,
            "--seeds" => seeds = value.parse::<u64>()?.max(1),
            _ => return Err(format!("unknown: {word}").into()),
        }
    }
    let climate = Climate::by_name(&name).ok_or("no climate of that name")?;
    let here = Place {
        latitude_deg: 50.0,
        longitude_deg: 8.0,
        altitude_m: 100.0,
    };
    let aims = [
        (1.0, 0.0),
        (0.0, 1.0),
        (10.0, 0.0),
        (0.0, 10.0),
        (50.0, 0.0),
        (0.0, 50.0),
    ];
    let mut sums = [[0.0; 8]; 6];
    let mut lags: Vec<Vec<f64>> = vec![Vec::new(); 6];
    let (mut count, mut lost) = (0, [0; 6]);
    for seed in 1..=seeds {
        let first = year(&climate, here, here, seed, "station here");
        let found = fronts(&first);
        count += found.len();
        for (k, (east, north)) in aims.into_iter().enumerate() {
            let owner = format!("station {east} {north}");
            let second = year(&climate, here, shifted(here, east, north), seed, &owner);
            for (sum, r) in sums[k].iter_mut().zip(correlations(&first, &second)) {
                *sum += r / seeds as f64;
            }
            for &front in &found {
                let (lag, r) = lag_s(&first, &second, front, 3.0 * 3600.0);
                if r > 0.7 {
                    lags[k].push(lag);
                } else {
                    lost[k] += 1;
                }
            }
        }
    }
    println!(
        "{name}, {seeds} years; E: 1, 10, 50 km along the systems' usual way, N: across it;\nexpected: common practice, no one source"
    );
    println!(
        "{:<26}{:>8}{:>8}{:>12}{:>8}{:>8}{:>12}{:>8}{:>8}{:>12}",
        "correlation",
        "1 E",
        "1 N",
        "expected",
        "10 E",
        "10 N",
        "expected",
        "50 E",
        "50 N",
        "expected"
    );
    for (i, (what, expected)) in EXPECTED.iter().enumerate() {
        print!("{what:<26}");
        for pair in 0..3 {
            print!(
                "{:>8.3}{:>8.3}{:>12}",
                sums[2 * pair][i],
                sums[2 * pair + 1][i],
                expected[pair]
            );
        }
        println!();
    }
    println!(
        "\n{count} sharp cold fronts at the first station; lag behind it where the fall of temperature is found again"
    );
    println!(
        "{:<10}{:>7}{:>7}{:>12}{:>10}{:>10}{:>26}",
        "station", "found", "lost", "median min", "q10", "q90", "speed of median, m/s"
    );
    for (k, (east, north)) in aims.into_iter().enumerate() {
        let values = Values::new(lags[k].iter().map(|lag| (lag / 60.0, 0)));
        let [median, low, high] = [0.5, 0.1, 0.9].map(|q| values.quantile(&ONE, q));
        let speed = (east + north) * 1000.0 / (median * 60.0);
        let way = if east > 0.0 {
            format!("{east} km E")
        } else {
            format!("{north} km N")
        };
        println!(
            "{way:<10}{:>7}{:>7}{median:>12.1}{low:>10.1}{high:>10.1}{speed:>26.1}",
            lags[k].len(),
            lost[k]
        );
    }
    println!("(fronts move at 8 to 18 m/s, common practice: 50 km in 45 to 105 minutes)");
    Ok(())
}
