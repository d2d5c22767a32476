//! Radio: path loss, building entry, time on the air and bit errors against worked values (sources:
//! `data/WEATHER.md`).

use benchmast_sim::physics::radio::{
    Construction, Rooms, building_entry_loss_db, chirp_airtime_s, free_space_loss_db,
    indoor_loss_db, keying_bit_error, noise_floor_dbm,
};
use std::collections::BTreeMap;

fn table(name: &str) -> Vec<BTreeMap<String, String>> {
    let path = format!("{}/data/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(&path).expect(&path);
    let rows: Vec<_> = reader.deserialize().map(|row| row.unwrap()).collect();
    assert!(!rows.is_empty(), "{name} is empty");
    rows
}

fn get(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().expect("a number")
}

/// Rec. ITU-R P.525 and the form of P.1238, worked for five bands and six distances.
#[test]
fn path_loss_follows_the_worked_table() {
    let mut rows = 0;
    for row in table("path_loss.csv") {
        let (f, d) = (get(&row, "f_mhz"), get(&row, "d_m"));
        let free = free_space_loss_db(f, d);
        assert!(
            (free - get(&row, "free_space_db_p525")).abs() < 5e-4,
            "{f} {d}: {free}"
        );
        // The coefficient 28 is that of homes in every band.
        let home = indoor_loss_db(f, d, Rooms::Residential, 0);
        assert!(
            (home - get(&row, "p1238_N28_db")).abs() < 5e-4,
            "{f} {d}: {home}"
        );
        let office = indoor_loss_db(f, d, Rooms::Office, 0);
        let column = if f < 1_400.0 {
            "p1238_N33_db (no floors)"
        } else {
            "p1238_N30_db"
        };
        assert!(
            (office - get(&row, column)).abs() < 5e-4,
            "{f} {d}: {office}"
        );
        rows += 1;
    }
    assert_eq!(rows, 30);
}

/// P.1238: floors of a home 4 dB each, of an office near 900 MHz 9 and 19 dB, of a shop 6 and 9 dB.
#[test]
fn floors_add_their_loss() {
    let through = |f: f64, rooms: Rooms, floors: u8| {
        indoor_loss_db(f, 10.0, rooms, floors) - indoor_loss_db(f, 10.0, rooms, 0)
    };
    for (f, rooms, floors, expected) in [
        (868.0, Rooms::Residential, 2, 8.0),
        (868.0, Rooms::Office, 1, 9.0),
        (868.0, Rooms::Office, 2, 19.0),
        (2_400.0, Rooms::Office, 1, 15.0),
        (2_400.0, Rooms::Office, 3, 23.0),
        (868.0, Rooms::Commercial, 2, 9.0),
    ] {
        let loss = through(f, rooms, floors);
        assert!(
            (loss - expected).abs() < 1e-9,
            "{f} {rooms:?} {floors}: {loss}"
        );
    }
}

/// Medians worked from the coefficients of Rec. ITU-R P.2109: 12.4 and 28.4 dB at 868 MHz, 14.2 and
/// 28.3 dB at 2.45 GHz. The two other terms of the full formula add up to 0.9 dB to the median.
#[test]
fn building_entry_loss_has_the_published_medians() {
    for (f, construction, expected) in [
        (868.0, Construction::Traditional, 12.4),
        (868.0, Construction::ThermallyEfficient, 28.4),
        (2_450.0, Construction::Traditional, 14.2),
        (2_450.0, Construction::ThermallyEfficient, 28.3),
    ] {
        let median = building_entry_loss_db(f, construction, 0.0, 0.5);
        let more = median - expected;
        let room = if construction == Construction::Traditional {
            2.2
        } else {
            3.2
        };
        assert!(
            (-0.1..room).contains(&more),
            "{f} {construction:?}: {median}"
        );
    }
    let at = |unexceeded| building_entry_loss_db(868.0, Construction::Traditional, 0.0, unexceeded);
    assert!(at(0.1) < at(0.5) && at(0.5) < at(0.9));
    let steep = building_entry_loss_db(868.0, Construction::Traditional, 45.0, 0.5);
    assert!(steep - at(0.5) > 7.0, "0.212 dB a degree: {steep}");
}

/// The published example of the formula (13 bytes, spreading factor 9, 125 kHz: 164.864 ms) and a table
/// worked with it.
#[test]
fn chirp_time_on_the_air_follows_the_published_example_and_table() {
    assert!((chirp_airtime_s(13, 9, 125e3) - 0.164_864).abs() < 1e-9);
    for row in table("airtime.csv") {
        let factor = get(&row, "sf") as u8;
        let time_s = chirp_airtime_s(
            get(&row, "payload_B") as usize,
            factor,
            1e3 * get(&row, "bw_khz"),
        );
        assert!(
            (1e3 * time_s - get(&row, "t_packet_ms")).abs() < 1e-4,
            "{row:?}"
        );
    }
}

/// -174 dBm/Hz: -117 dBm in 125 kHz with a noise figure of 6 dB (textbooks).
#[test]
fn noise_floor_of_the_textbook() {
    assert!((noise_floor_dbm(125e3, 6.0) + 117.0).abs() < 0.05);
}

/// Proakis' figure for non-coherent binary keying: an error chance of 1e-5 at 13.35 dB per bit, 1e-3 at
/// 10.94 dB (from memory; both follow from the formula by hand: 2 ln(1/2P)).
#[test]
fn bit_errors_by_energy() {
    for (energy_db, chance) in [(13.352, 1e-5), (10.944, 1e-3)] {
        let error = keying_bit_error(energy_db, 38_400.0, 38_400.0);
        assert!((error / chance - 1.0).abs() < 0.01, "{error}");
    }
    assert_eq!(keying_bit_error(-300.0, 1e5, 1e5), 0.5);
}
