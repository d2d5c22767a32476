//! The vane by itself.

use super::*;
use crate::head::testing::with_wind;

/// A step with the response to the same wind.
fn blow(vane: &mut Vane, air: &Exposure, condition: &Condition, flutter: f64, noise: f64) -> f64 {
    vane.step(air, &Response::to(air), condition, flutter, noise)
}

fn friction(vane_friction: f64) -> Condition {
    Condition {
        vane_friction,
        ..Condition::HEALTHY
    }
}

#[test]
fn the_vane_holds_below_its_starting_speed() {
    let mut vane = Vane::new();
    blow(
        &mut vane,
        &with_wind(&[5.0; 4], 200.0),
        &Condition::HEALTHY,
        0.0,
        0.0,
    );
    for _ in 0..100 {
        let reading = blow(
            &mut vane,
            &with_wind(&[0.5; 4], 20.0),
            &Condition::HEALTHY,
            2.0,
            0.0,
        );
        assert_eq!(reading, 200.0);
    }
    let moved = blow(
        &mut vane,
        &with_wind(&[0.8; 4], 20.0),
        &Condition::HEALTHY,
        0.0,
        0.0,
    );
    assert_ne!(moved, 200.0);
}

/// It swings past the wind and stays somewhere within the band, whose edge it reaches when it comes slowly.
#[test]
fn the_dead_band_shrinks_with_the_square_of_the_speed() {
    for (speed, band) in [(1.0, 5.0), (2.0, 1.25), (5.0, 0.2)] {
        let mut vane = Vane::new();
        let mut rest = |speed: f64, bearing: f64| {
            for _ in 0..200 {
                let air = with_wind(&[speed; 4], bearing);
                blow(&mut vane, &air, &Condition::HEALTHY, 0.0, 0.0);
            }
            half_turn(vane.position_deg() - bearing)
        };
        rest(20.0, 350.0);
        let short = rest(speed, 40.0);
        assert!(short.abs() <= band + 0.02, "{speed} m/s: {short}");
        // From the wind itself: a turn within the band leaves it alone, a larger one moves it.
        rest(20.0, 100.0);
        let left = rest(speed, 100.0 + 0.9 * band);
        assert!((left + 0.9 * band).abs() < 0.02, "{speed} m/s: {left}");
        let followed = rest(speed, 100.0 + 2.0 * band);
        assert!(followed.abs() <= band + 1e-6, "{speed} m/s: {followed}");
    }
}

#[test]
fn it_turns_the_short_way_round_and_is_half_way_after_its_delay_distance() {
    let mut vane = Vane::new();
    let mut air = with_wind(&[10.0; 4], 350.0);
    blow(&mut vane, &air, &Condition::HEALTHY, 0.0, 0.0);
    air = with_wind(&[10.0; 4], 20.0);
    air.interval_s = 0.1 * DELAY_DISTANCE_M;
    blow(&mut vane, &air, &Condition::HEALTHY, 0.0, 0.0);
    let done = half_turn(vane.position_deg() - 350.0);
    let expected = 0.5 * (30.0 - DEAD_BAND_DEG * 0.25 / 100.0);
    assert!((done - expected).abs() < 0.2, "{done} for {expected}");
}

#[test]
fn readings_stay_in_the_circle() {
    let mut vane = Vane::new();
    for step in 0..3600 {
        let direction = f64::from(step) * 0.1;
        let condition = Condition {
            arrow_azimuth_deg: f64::from(step % 721 - 360),
            ..Condition::HEALTHY
        };
        let noise = f64::from(step % 7 - 3);
        let reading = blow(
            &mut vane,
            &with_wind(&[6.0; 4], direction),
            &condition,
            noise,
            noise,
        );
        assert!((0.0..=359.0).contains(&reading) && reading == nearest(reading));
    }
}

#[test]
fn an_arrow_east_of_north_reads_too_small() {
    for (arrow, wind, expected) in [
        (30.0, 90.0, 60.0),
        (30.0, 10.0, 340.0),
        (-45.0, 350.0, 35.0),
    ] {
        let condition = Condition {
            arrow_azimuth_deg: arrow,
            ..Condition::HEALTHY
        };
        let air = with_wind(&[9.0; 4], wind);
        assert_eq!(blow(&mut Vane::new(), &air, &condition, 0.0, 0.0), expected);
    }
}

#[test]
fn friction_raises_the_threshold_and_a_seized_vane_never_moves() {
    assert_eq!(start_speed_ms(0.0), START_SPEED_MS);
    assert!((start_speed_ms(0.9) - 5.0).abs() < 1e-9);
    let turn = |friction_value: f64, speed: f64| {
        let mut vane = Vane::new();
        blow(
            &mut vane,
            &with_wind(&[9.0; 4], 100.0),
            &Condition::HEALTHY,
            0.0,
            0.0,
        );
        for _ in 0..50 {
            blow(
                &mut vane,
                &with_wind(&[speed; 4], 190.0),
                &friction(friction_value),
                0.0,
                0.0,
            );
        }
        vane.position_deg()
    };
    assert!((turn(0.9, 4.9) - 100.0).abs() < 1e-9);
    assert!(turn(0.9, 6.0) > 160.0);
    assert!((turn(1.0, 40.0) - 100.0).abs() < 1e-9);
    // Within one step although the position sensor has its noise.
    let mut vane = Vane::new();
    let air = with_wind(&[9.0; 4], 100.0);
    for step in 0..500 {
        let noise = f64::from(step % 7 - 3) * 1.1;
        let reading = blow(&mut vane, &air, &friction(1.0), noise, noise);
        assert!((reading - 100.0).abs() <= 1.0, "{reading}");
    }
}

/// Source: directions of vector means, numpy 2.4.6, computed.
#[test]
fn the_mean_of_positions_is_that_of_their_vectors() {
    for (bearings, expected) in [
        ([350.0, 360.0, 370.0, 380.0], 5.0),
        ([359.0, 361.0, 359.0, 361.0], 0.0),
        ([10.0, 20.0, -30.0, 10.0], 2.870_73),
        ([0.0, 0.0, 90.0, 90.0], 45.0),
        ([0.0, 0.0, 0.0, 170.0], 4.924_99),
        ([123.0; 4], 123.0),
    ] {
        let mean = vector_mean_deg(&bearings);
        let off = shorter_turn(mean - expected);
        assert!(off.abs() < 1e-4, "{bearings:?}: {mean}");
    }
    assert_eq!(vector_mean_deg(&[0.0, 180.0, 0.0, 180.0]), 90.0);
}

/// The series and the functions agree where one takes over from the other.
#[test]
fn the_series_of_the_mean_meets_the_functions() {
    for (spread, allowed) in [
        (0.1_f64, 1e-4),
        (20.0, 1e-4),
        (57.0, 1e-4),
        (100.0, 0.01),
        (130.0, 0.05),
        (170.0, 1e-9),
    ] {
        let bearings = [0.0, 0.1 * spread, 0.3 * spread, spread];
        let (mut sines, mut cosines) = (0.0, 0.0);
        for bearing in bearings {
            sines += libm::sin(bearing.to_radians());
            cosines += libm::cos(bearing.to_radians());
        }
        let exact = libm::atan2(sines, cosines).to_degrees();
        let mean = vector_mean_deg(&bearings);
        assert!((mean - exact).abs() < allowed, "{spread}: {mean} {exact}");
    }
}

#[test]
fn a_coarse_sensor_steps_and_a_ring_has_its_gap() {
    let mut coarse = Vane::with_sensor(22.5, 0.0);
    let mut ring = Vane::with_sensor(1.0, 10.0);
    for bearing in 0..360 {
        let air = with_wind(&[12.0; 4], f64::from(bearing));
        for _ in 0..3 {
            blow(&mut coarse, &air, &Condition::HEALTHY, 0.0, 0.0);
            blow(&mut ring, &air, &Condition::HEALTHY, 0.0, 0.0);
        }
        let steps = blow(&mut coarse, &air, &Condition::HEALTHY, 0.0, 0.0) / 22.5;
        assert!((steps - nearest(steps)).abs() < 0.03, "{bearing}: {steps}");
        let read = blow(&mut ring, &air, &Condition::HEALTHY, 0.0, 0.0);
        let in_gap = bearing <= 4 || bearing >= 356;
        assert!(!in_gap || read == 0.0, "{bearing}: {read}");
        assert!(in_gap || half_turn(read - f64::from(bearing)).abs() <= 6.0);
    }
}
