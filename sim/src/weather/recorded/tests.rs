use super::*;

const HOUR_US: i64 = 3_600_000_000;
const START_US: i64 = 1_760_000_400_000_000;

fn place() -> Place {
    Place {
        latitude_deg: 45.0,
        longitude_deg: 5.0,
        altitude_m: 120.0,
    }
}

fn records(hours: i64) -> Vec<Record> {
    (0..hours)
        .map(|i| {
            let x = i as f64;
            Record {
                time_us: START_US + i * HOUR_US,
                air_temperature_degc: Some(10.0 + 5.0 * libm::sin(x / 4.0)),
                dew_point_degc: Some(2.0 + 2.0 * libm::sin(x / 7.0)),
                air_pressure_at_mean_sea_level_hpa: Some(1010.0 + 8.0 * libm::sin(x / 20.0)),
                wind_speed_ms: Some(3.0 + 2.0 * libm::sin(x / 5.0)),
                wind_from_direction_deg: Some((x * 25.0) % 360.0),
                rainfall_mm: Some(if i % 9 < 3 { 0.3 * (x % 4.0) } else { 0.0 }),
                cloud_area_fraction: Some(0.5),
            }
        })
        .collect()
}

fn open(records: &[Record]) -> Result<Recorded, RecordError> {
    let start_s = seconds(records.first().map_or(0, |r| r.time_us));
    Recorded::new(records, 10.0, place(), Seed(1), "s", start_s)
}

#[test]
fn every_record_is_a_knot_with_its_own_values() {
    let records = records(50);
    let mut source = open(&records).unwrap();
    let mut found = 0;
    for _ in 0..49 * 6 + 1 {
        let knot = source.next_knot();
        let Some(record) = records.iter().find(|r| seconds(r.time_us) == knot.time_s) else {
            assert!(knot.slow.freedom > 0.0);
            continue;
        };
        found += 1;
        let slow = knot.slow;
        assert_eq!(slow.freedom, 0.0);
        assert_eq!(Some(slow.temperature_degc), record.air_temperature_degc);
        assert_eq!(Some(slow.wind_ms), record.wind_speed_ms);
        assert_eq!(Some(slow.cover), record.cloud_area_fraction);
        let turn = slow.wind_from_deg - record.wind_from_direction_deg.unwrap();
        assert!((turn / 360.0 - libm::round(turn / 360.0)).abs() < 1e-12);
        let vapour = saturation_vapour_pressure_hpa(record.dew_point_degc.unwrap());
        assert_eq!(slow.vapour_pressure_hpa, vapour);
        let station = station_hpa(
            record.air_pressure_at_mean_sea_level_hpa.unwrap(),
            &place(),
            record.air_temperature_degc.unwrap(),
            vapour,
        );
        assert_eq!(slow.pressure_hpa, station);
    }
    assert_eq!(found, 50);
}

#[test]
fn rain_falls_exactly_between_its_records_whatever_the_step() {
    let records = records(100);
    for step_s in [7.0, 16.0, 61.0, 3600.0] {
        let mut source = open(&records).unwrap();
        let mut time_s = seconds(START_US);
        for (i, record) in records.iter().enumerate().skip(1) {
            let end_s = seconds(record.time_us);
            let mut sum = 0.0;
            while time_s < end_s {
                let next_s = (time_s + step_s).min(end_s);
                let fall = source.fall(time_s, next_s);
                assert!(fall.depth_mm >= 0.0);
                sum += fall.depth_mm;
                time_s = next_s;
            }
            let expected = record.rainfall_mm.unwrap();
            assert!((sum - expected).abs() < 1e-12, "{i}: {sum} {expected}");
        }
    }
}

#[test]
fn order_values_and_gaps_are_checked() {
    assert_eq!(open(&records(1)).unwrap_err(), RecordError::TooFew);
    let mut twice = records(9);
    twice[4].time_us = twice[3].time_us;
    assert_eq!(
        open(&twice).unwrap_err(),
        RecordError::Duplicate { index: 4 }
    );
    let mut back = records(9);
    back.swap(5, 6);
    assert_eq!(
        open(&back).unwrap_err(),
        RecordError::Unordered { index: 6 }
    );
    let mut odd = records(9);
    odd[2].cloud_area_fraction = Some(f64::NAN);
    assert!(matches!(
        open(&odd).unwrap_err(),
        RecordError::Impossible {
            index: 2,
            quantity: RecordQuantity::Cloud,
            ..
        }
    ));
    let mut bare = records(9);
    for record in &mut bare {
        record.dew_point_degc = None;
    }
    let absent = open(&bare).unwrap_err();
    assert_eq!(absent.to_string(), "no record has a dew_point_temperature");
    // Values at 3 and 10: seven hours.
    let mut gap = records(20);
    for record in &mut gap[4..10] {
        record.wind_speed_ms = None;
    }
    assert_eq!(
        open(&gap).unwrap_err().to_string(),
        "after record 3, wind_speed is missing for 7.0 h; at most 6 h are bridged"
    );
    gap[6].wind_speed_ms = Some(2.0);
    assert!(open(&gap).is_ok());
    // At either end as well.
    let mut late = records(20);
    for record in &mut late[..8] {
        record.air_temperature_degc = None;
    }
    assert!(matches!(
        open(&late),
        Err(RecordError::Gap { index: 0, .. })
    ));
    let mut early = records(20);
    for record in &mut early[8..] {
        record.air_temperature_degc = None;
    }
    assert!(matches!(
        open(&early),
        Err(RecordError::Gap { index: 7, .. })
    ));
}

#[test]
fn calm_and_unrecorded_cloud_are_filled_in() {
    let mut records = records(30);
    for record in &mut records {
        record.cloud_area_fraction = None;
    }
    records[10].wind_speed_ms = Some(0.0);
    records[10].wind_from_direction_deg = Some(0.0);
    let mut source = open(&records).unwrap();
    for _ in 0..29 * 6 {
        let knot = source.next_knot();
        assert!((0.0..=1.0).contains(&knot.slow.cover));
        if knot.time_s == seconds(records[10].time_us) {
            // Between 225 and 275 degrees, not through north.
            assert!((knot.slow.wind_from_deg - 250.0).abs() < 15.0);
            assert_eq!(knot.slow.wind_ms, 0.0);
        }
    }
}

#[test]
fn outside_the_records_their_ends_are_held() {
    let records = records(10);
    let early = seconds(START_US) - 7200.0;
    let mut source = Recorded::new(&records, 10.0, place(), Seed(1), "s", early).unwrap();
    let first = source.next_knot();
    assert_eq!(first.time_s, early);
    assert_eq!(
        Some(first.slow.temperature_degc),
        records[0].air_temperature_degc
    );
    let mut knot = first;
    while knot.time_s < seconds(START_US + 20 * HOUR_US) {
        knot = source.next_knot();
    }
    assert_eq!(
        Some(knot.slow.temperature_degc),
        records[9].air_temperature_degc
    );
}

#[test]
fn a_dew_point_rounded_above_the_temperature_is_the_temperature() {
    let mut records = records(4);
    records[1].dew_point_degc = records[1].air_temperature_degc.map(|t| t + 0.4);
    let mut source = open(&records).unwrap();
    let knot = loop {
        let knot = source.next_knot();
        if knot.time_s == seconds(records[1].time_us) {
            break knot;
        }
    };
    let saturation = saturation_vapour_pressure_hpa(knot.slow.temperature_degc);
    assert_eq!(knot.slow.vapour_pressure_hpa, saturation);
}

/// The truth of every step, and what fell between two records.
fn run(
    records: &[Record],
    seed: u64,
    mut each: impl FnMut(&Record, &crate::truth::Truth, f64, f64),
) {
    let site = crate::site::Site::default();
    let start_us = records[0].time_us;
    let mut weather = crate::weather::Weather::recorded(
        records,
        10.0,
        place(),
        site,
        Seed(seed),
        "s",
        start_us,
        16.0,
    )
    .unwrap();
    for pair in records.windows(2) {
        let (mut rain, mut snow) = (0.0, 0.0);
        let mut time_us = pair[0].time_us;
        let mut last = crate::truth::Truth::default();
        while time_us < pair[1].time_us {
            time_us = (time_us + 16_000_000).min(pair[1].time_us);
            last = weather.advance(time_us);
            assert!(last.rainfall_mm >= 0.0 && last.snowfall_mm >= 0.0);
            assert!(last.dew_point_degc <= last.air_temperature_degc);
            assert!(last.dew_point_degc <= last.wet_bulb_degc);
            assert!(last.wet_bulb_degc <= last.air_temperature_degc);
            assert!(last.net_longwave_wm2 <= 0.0);
            rain += last.rainfall_mm;
            snow += last.snowfall_mm;
        }
        each(&pair[1], &last, rain, snow);
    }
}

#[test]
fn frost_makes_snow_and_the_total_is_kept() {
    for (shift, snow_share) in [(-20.0, 1.0), (15.0, 0.0)] {
        let mut cold = records(60);
        for record in &mut cold {
            record.air_temperature_degc = record.air_temperature_degc.map(|t| t + shift);
            record.dew_point_degc = record.dew_point_degc.map(|t| t + shift);
        }
        let (mut all, mut white) = (0.0, 0.0);
        run(&cold, 3, |record, truth, rain, snow| {
            assert!((rain + snow - record.rainfall_mm.unwrap()).abs() < 1e-12);
            assert!(truth.wet_bulb_degc != 0.0);
            all += rain + snow;
            white += snow;
        });
        assert!(
            all > 1.0 && (white / all - snow_share).abs() < 0.02,
            "{white} {all}"
        );
    }
}

#[test]
fn light_rain_falls_in_spells_and_heavy_rain_without_a_break() {
    let share_of_dry_steps = |depth_mm: f64| {
        let mut wet = records(400);
        for record in &mut wet {
            record.rainfall_mm = Some(depth_mm);
        }
        let mut source = open(&wet).unwrap();
        let (mut dry, mut count) = (0.0, 0.0);
        for n in 0..398 * 60 {
            let time_s = seconds(START_US) + f64::from(n) * 60.0;
            let fall = source.fall(time_s, time_s + 60.0);
            dry += f64::from(u8::from(fall.depth_mm == 0.0));
            count += 1.0;
        }
        dry / count
    };
    let (light, heavy) = (share_of_dry_steps(0.2), share_of_dry_steps(12.0));
    assert!((0.1..0.4).contains(&light), "{light}");
    assert!(heavy < 0.01, "{heavy}");
}

#[test]
fn rain_rises_towards_a_wetter_hour() {
    let mut wet = records(300);
    for (i, record) in wet.iter_mut().enumerate() {
        record.rainfall_mm = Some([1.0, 6.0, 1.0][i % 3]);
    }
    let mut source = open(&wet).unwrap();
    let mut halves = [0.0; 2];
    for n in 0..299 * 2 {
        let time_s = seconds(START_US) + f64::from(n) * 1800.0;
        let depth = source.fall(time_s, time_s + 1800.0).depth_mm;
        // The hour that ends at a record whose follower is the wet one.
        if (n / 2 + 1) % 3 == 0 {
            halves[(n % 2) as usize] += depth;
        }
    }
    assert!(halves[1] > 1.2 * halves[0], "{halves:?}");
}

mod random {
    use super::*;
    use proptest::prelude::*;

    fn any_record() -> impl Strategy<Value = Record> {
        (
            (-45.0..45.0_f64, 0.0..30.0_f64),
            970.0..1050.0_f64,
            prop_oneof![Just(0.0), 0.0..30.0_f64],
            0.0..360.0_f64,
            prop_oneof![2 => Just(0.0), 1 => 0.01..2.0_f64, 1 => 2.0..60.0_f64],
            prop::option::of(0.0..=1.0_f64),
        )
            .prop_map(|(air, pressure, wind, from, rain, cover)| Record {
                time_us: 0,
                air_temperature_degc: Some(air.0),
                dew_point_degc: Some((air.0 - air.1).min(39.0)),
                air_pressure_at_mean_sea_level_hpa: Some(pressure),
                wind_speed_ms: Some(wind),
                wind_from_direction_deg: Some(from),
                rainfall_mm: Some(rain),
                cloud_area_fraction: cover,
            })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn any_series_is_kept(
            records in prop::collection::vec((any_record(), 300..7200_i64), 2..14),
            seed in any::<u64>(),
        ) {
            let mut time_us = START_US;
            let records: Vec<Record> = records
                .into_iter()
                .map(|(record, gap_s)| {
                    time_us += gap_s * 1_000_000;
                    Record { time_us, ..record }
                })
                .collect();
            run(&records, seed, |record, truth, rain, snow| {
                let wanted = record.rainfall_mm.unwrap();
                assert!((rain + snow - wanted).abs() < 1e-9, "{rain} {snow} {wanted}");
                let degc = record.air_temperature_degc.unwrap();
                assert!((truth.air_temperature_degc - degc).abs() < 1e-9);
                // The vapour is the record's; the dew point follows it over a step or two where a
                // series leaps as none does.
                let dew = record.dew_point_degc.unwrap();
                let vapour = saturation_vapour_pressure_hpa(dew);
                let off = truth.vapour_pressure_hpa / vapour - 1.0;
                assert!(off.abs() < 1e-5, "{off} {dew} {degc}");
                let hpa = station_hpa(
                    record.air_pressure_at_mean_sea_level_hpa.unwrap(),
                    &place(),
                    degc,
                    saturation_vapour_pressure_hpa(dew),
                );
                assert!((truth.air_pressure_hpa - hpa).abs() < 1e-9);
            });
        }
    }
}
