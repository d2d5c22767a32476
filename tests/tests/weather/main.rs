//! The weather as a whole: what must always hold, what a forecaster would look for, and recorded weather.

use benchmast_sim::entropy::Seed;
use benchmast_sim::physics::wind_profile::exposure_ratio;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::truth::Truth;
use benchmast_sim::weather::climate::{Climate, Normals};
use benchmast_sim::weather::{Region, Weather};
use std::sync::LazyLock;

mod light;
mod normals;
mod recorded;
mod wind;

const STEP_US: i64 = 16_000_000;
const HOUR_US: i64 = 3_600_000_000;
/// 2026-01-01T00:00:00Z.
const START_US: i64 = 1_767_225_600_000_000;

fn place(latitude_deg: f64) -> Place {
    Place {
        latitude_deg,
        longitude_deg: 12.0,
        altitude_m: 80.0,
    }
}

fn weather(name: &str, place: Place, seed: u64, owner: &str, interval_s: f64) -> Weather {
    let climate = Climate::by_name_at(name, place.latitude_deg).unwrap();
    let site = Site::default();
    let region = Region::new(&climate, place, Seed(seed));
    Weather::synthetic(&region, place, site, owner, START_US, interval_s)
}

/// One hour of a year.
#[derive(Clone, Copy, Default)]
struct Hour {
    temperature: f64,
    pressure: f64,
    direction: f64,
    rain: f64,
    cloud: f64,
}

struct Year {
    name: &'static str,
    latitude: f64,
    hours: Vec<Hour>,
    /// Highest less lowest temperature, mean cloud, hour (local mean solar) of the highest, of each day.
    days: Vec<(f64, f64, f64)>,
    /// Irradiance over that of the cloudless model, sun above 20 degrees, cover between 0.35 and 0.65.
    broken: Vec<f64>,
}

static YEARS: LazyLock<Vec<Year>> = LazyLock::new(|| {
    [
        ("temperate_maritime", 51.0),
        ("continental", 47.0),
        ("continental", -41.0),
    ]
    .map(|(name, latitude)| year(name, latitude))
    .into()
});

/// Everything that must hold at every step.
fn check(t: &Truth) {
    assert!(t.dew_point_degc <= t.air_temperature_degc, "{t:?}");
    assert!(
        (0.0..=100.0).contains(&t.relative_humidity_percent),
        "{t:?}"
    );
    assert!(t.vapour_pressure_hpa > 0.0, "{t:?}");
    assert!((-60.0..55.0).contains(&t.air_temperature_degc), "{t:?}");
    assert!((930.0..1065.0).contains(&t.air_pressure_hpa), "{t:?}");
    let sum = t.direct_normal_irradiance_wm2 * t.sun.up.max(0.0) + t.diffuse_irradiance_wm2;
    assert!((t.global_irradiance_wm2 - sum).abs() < 1e-9, "{t:?}");
    // Civil twilight ends at -6 degrees, astronomical twilight at -18.
    if t.sun.up <= -0.1046 {
        assert_eq!(t.global_irradiance_wm2, 0.0, "{t:?}");
    }
    if t.sun.up <= -0.3091 {
        assert_eq!(t.illuminance_lx, 0.0, "{t:?}");
    }
    if t.sun.up <= 0.0 {
        assert_eq!(t.direct_normal_irradiance_wm2, 0.0, "{t:?}");
        assert_eq!(t.ultraviolet_index, 0.0, "{t:?}");
        assert!(
            t.global_irradiance_wm2 < 6.0 && t.illuminance_lx < 800.0,
            "{t:?}"
        );
    }
    assert!((0.0..1600.0).contains(&t.global_irradiance_wm2), "{t:?}");
    assert!(t.diffuse_irradiance_wm2 >= 0.0 && t.direct_normal_irradiance_wm2 >= 0.0);
    assert!(
        t.illuminance_lx <= 145.0 * t.global_irradiance_wm2 + 4.0,
        "{t:?}"
    );
    assert!((0.0..20.0).contains(&t.ultraviolet_index), "{t:?}");
    assert!(
        t.wind_speed_ms >= 0.0 && t.wind_speed_of_gust_ms >= t.wind_speed_ms,
        "{t:?}"
    );
    assert!((0.0..360.0).contains(&t.wind_from_direction_deg), "{t:?}");
    for sample in t.wind {
        assert!(
            sample.speed_ms >= 0.0 && sample.speed_ms <= t.wind_speed_of_gust_ms,
            "{t:?}"
        );
        assert!((0.0..360.0).contains(&sample.from_direction_deg), "{t:?}");
    }
    assert!((0.0..=1.0).contains(&t.cloud_area_fraction), "{t:?}");
    assert!(t.rainfall_mm >= 0.0, "{t:?}");
    assert!(
        t.rainfall_mm == 0.0 || t.cloud_area_fraction >= 0.8,
        "rain from a clear sky: {t:?}"
    );
}

fn year(name: &'static str, latitude: f64) -> Year {
    let place = place(latitude);
    let mut weather = weather(name, place, 20_260, "station", 16.0);
    let (mut hours, mut days, mut broken) = (Vec::new(), Vec::new(), Vec::new());
    let mut hour = Hour::default();
    let (mut low, mut high, mut peak, mut cloud) = (f64::MAX, f64::MIN, 0.0, 0.0);
    for n in 1..=365 * 5400_i64 {
        let t = weather.advance(START_US + n * STEP_US);
        check(&t);
        hour.rain += t.rainfall_mm;
        hour.cloud += t.cloud_area_fraction / 225.0;
        cloud += t.cloud_area_fraction / 5400.0;
        if t.air_temperature_degc > high {
            high = t.air_temperature_degc;
            let day = t.time_us as f64 / 86.4e9 + place.longitude_deg / 360.0;
            peak = day.rem_euclid(1.0) * 24.0;
        }
        low = low.min(t.air_temperature_degc);
        if t.sun.up > 0.342 && (0.35..0.65).contains(&t.cloud_area_fraction) {
            // Haurwitz 1945, accurate enough to see two peaks.
            broken.push(t.global_irradiance_wm2 / (1098.0 * t.sun.up * (-0.057 / t.sun.up).exp()));
        }
        if n % 225 == 0 {
            hour.temperature = t.air_temperature_degc;
            hour.pressure = t.air_pressure_hpa;
            hour.direction = t.wind_from_direction_deg;
            hours.push(hour);
            hour = Hour::default();
        }
        if n % 5400 == 0 {
            days.push((high - low, cloud, peak));
            (low, high, cloud) = (f64::MAX, f64::MIN, 0.0);
        }
    }
    Year {
        name,
        latitude,
        hours,
        days,
        broken,
    }
}

fn mean(values: impl IntoIterator<Item = f64>) -> f64 {
    let (sum, count) = values
        .into_iter()
        .fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    assert!(count > 0.0, "mean of nothing");
    sum / count
}

fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let (a, b) = (
        mean(pairs.iter().map(|p| p.0)),
        mean(pairs.iter().map(|p| p.1)),
    );
    let product = |f: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(f).sum::<f64>();
    product(&|p| (p.0 - a) * (p.1 - b))
        / (product(&|p| (p.0 - a) * (p.0 - a)) * product(&|p| (p.1 - b) * (p.1 - b))).sqrt()
}

fn turn(from: f64, to: f64) -> f64 {
    (to - from + 540.0).rem_euclid(360.0) - 180.0
}

#[test]
fn a_year_breaks_no_law() {
    // `check` runs at every step while the years are made.
    for year in YEARS.iter() {
        assert_eq!(year.hours.len(), 8760);
        assert!(
            year.hours.iter().map(|h| h.rain).sum::<f64>() > 250.0,
            "{}",
            year.name
        );
    }
}

#[test]
fn pressure_falls_before_rain() {
    for year in YEARS.iter() {
        let hours = &year.hours;
        // An onset: rain after twelve dry hours.
        let changes: Vec<f64> = (12..hours.len())
            .filter(|&i| hours[i].rain > 0.2 && hours[i - 12..i].iter().all(|h| h.rain == 0.0))
            .map(|i| hours[i].pressure - hours[i - 6].pressure)
            .collect();
        assert!(
            changes.len() > 20,
            "{}: {} onsets",
            year.name,
            changes.len()
        );
        let falls = changes.iter().filter(|&&c| c < 0.0).count() as f64 / changes.len() as f64;
        assert!(falls > 0.6, "{} {}: {falls}", year.name, year.latitude);
        // New York in 2013: -1.6 hPa in the six hours before, by hourly airport reports.
        let average = mean(changes);
        assert!((-4.0..-0.3).contains(&average), "{}: {average}", year.name);
    }
}

#[test]
fn the_wind_veers_with_a_trough_in_the_north_and_backs_in_the_south() {
    let (mut with, mut all) = (0, 0);
    for year in YEARS.iter() {
        let hours = &year.hours;
        let turns: Vec<f64> = (9..hours.len() - 9)
            .filter(|&i| {
                let around = &hours[i - 8..=i + 8];
                around.iter().all(|h| h.pressure >= hours[i].pressure)
                    && hours[i - 8].pressure - hours[i].pressure > 3.0
                    && hours[i + 8].pressure - hours[i].pressure > 3.0
            })
            .map(|i| turn(hours[i - 5].direction, hours[i + 5].direction))
            .collect();
        assert!(turns.len() > 8, "{}: {} troughs", year.name, turns.len());
        let expected = year.latitude.signum();
        with += turns.iter().filter(|&&t| t * expected > 0.0).count();
        all += turns.len();
    }
    // Most lows pass on the pole's side; those that pass on the other side turn the wind the other way.
    let share = with as f64 / all as f64;
    assert!((0.6..0.95).contains(&share), "{share} of {all}");
}

#[test]
fn cloudy_days_are_flat_and_fine_days_peak_in_the_afternoon() {
    for year in YEARS.iter() {
        let pairs: Vec<(f64, f64)> = year.days.iter().map(|d| (d.0, d.1)).collect();
        let r = correlation(&pairs);
        assert!(r < -0.3, "{}: {r}", year.name);
        let fine = year
            .days
            .iter()
            .filter(|d| d.1 < 0.35 && d.0 > 6.0)
            .map(|d| d.2);
        let hour = mean(fine);
        assert!((13.0..16.5).contains(&hour), "{}: {hour}", year.name);
    }
}

#[test]
fn broken_cloud_gives_two_peaks_and_edges_brighter_than_a_clear_sky() {
    for year in YEARS.iter() {
        let share = |low: f64, high: f64| {
            let count = year
                .broken
                .iter()
                .filter(|k| (low..high).contains(*k))
                .count();
            count as f64 / year.broken.len() as f64
        };
        let (dark, middle, bright) = (share(0.2, 0.6), share(0.6, 0.85), share(0.85, 1.4));
        assert!(
            dark > 1.3 * middle && bright > 1.3 * middle,
            "{dark} {middle} {bright}"
        );
        assert!(share(1.05, 1.6) > 0.05, "{}", share(1.05, 1.6));
    }
}

#[test]
fn same_seed_same_weather_and_the_region_is_shared() {
    let series = |seed, owner: &str| -> Vec<Truth> {
        let mut weather = weather("continental", place(47.0), seed, owner, 16.0);
        (1..=20 * 5400)
            .map(|n| weather.advance(START_US + n * STEP_US))
            .collect()
    };
    let first = series(5, "a");
    assert_eq!(first, series(5, "a"));
    let neighbour = series(5, "b");
    let other = series(6, "a");
    let apart = |pick: fn(&Truth) -> f64, b: &[Truth]| {
        mean(first.iter().zip(b).map(|(x, y)| (pick(x) - pick(y)).abs()))
    };
    assert!(apart(|t| t.air_pressure_hpa, &neighbour) < 0.1);
    assert_eq!(apart(|t| t.rainfall_mm, &neighbour), 0.0);
    assert!(apart(|t| t.wind_speed_ms, &neighbour) > 0.1);
    assert!(apart(|t| t.air_pressure_hpa, &other) > 1.0);
}

#[test]
fn rain_does_not_depend_on_the_interval() {
    let total = |interval_s: i64, drift_us: i64| {
        let mut weather = weather("temperate_maritime", place(51.0), 5, "a", interval_s as f64);
        let end = START_US + 60 * 24 * HOUR_US;
        let (mut time, mut sum) = (START_US, 0.0);
        while time < end {
            time = (time + interval_s * 1_000_000 + drift_us).min(end);
            let truth = weather.advance(time);
            sum += truth.rainfall_mm + truth.snowfall_mm;
        }
        sum
    };
    let sixteen = total(16, 0);
    assert!(sixteen > 20.0, "{sixteen}");
    for (interval, drift) in [(16, 813), (60, -7), (600, 0)] {
        assert!((total(interval, drift) - sixteen).abs() < 1e-6);
    }
}

#[test]
fn nothing_breaks_at_the_ends_of_the_earth() {
    let month = |t: f64| Normals {
        mean_temperature_degc: t,
        daily_range_k: 8.0,
        mean_dew_point_degc: t - 6.0,
        rain_mm: 20.0,
        wet_hours: 15.0,
        mean_wind_speed_ms: 4.0,
        prevailing_direction_deg: 90.0,
        second_direction_deg: 0.0,
        second_share: 0.0,
        cloud_area_fraction: 0.4,
        linke_turbidity: 3.0,
    };
    for (latitude, temperature) in [(90.0, -45.0), (-90.0, -50.0), (0.0, 40.0), (-23.4, 27.0)] {
        let climate = Climate {
            months: [month(temperature); 12],
        };
        let place = Place {
            latitude_deg: latitude,
            longitude_deg: 180.0,
            altitude_m: 2800.0,
        };
        // Across the last day of a leap year.
        let start = 1_861_488_000_000_000_i64;
        let site = Site::default();
        let mut weather = Weather::synthetic(
            &Region::new(&climate, place, Seed(1)),
            place,
            site,
            "s",
            start,
            16.0,
        );
        for n in 1..=20 * 5400 {
            let t = weather.advance(start + n * STEP_US);
            let values = [
                t.air_temperature_degc,
                t.dew_point_degc,
                t.air_pressure_hpa,
                t.wind_speed_ms,
                t.wind_from_direction_deg,
                t.rainfall_mm,
                t.global_irradiance_wm2,
                t.illuminance_lx,
                t.ultraviolet_index,
            ];
            assert!(values.iter().all(|v| v.is_finite()), "{t:?}");
            assert!((t.air_temperature_degc - temperature).abs() < 30.0, "{t:?}");
            assert!(t.dew_point_degc <= t.air_temperature_degc, "{t:?}");
        }
    }
}
