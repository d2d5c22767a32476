//! Loss never loses rain: a long wet season over a bad radio path.

use super::samples::{Dice, HEAD, IDENTITY, health_packet, observation_packet};
use benchmast_protocol::frame::health::HEALTH_EVERY;
use benchmast_protocol::receiver::{Config, Event, Receiver};

/// What a run showed.
#[derive(Debug, PartialEq)]
struct Season {
    /// Tips of the head up to the last packet heard of each life, the first packet being the base.
    tips_heard: u64,
    tips_believed: u64,
    tips_in_events: u64,
    heard: u64,
    sent: u64,
    restarts_told: u64,
    restarts_heard: u64,
    refused: u64,
    missed_told: u64,
    missed: u64,
}

/// A head over `intervals`, 30 % of its packets lost in bursts of four on average, restarting now and then.
fn season(intervals: u64, restart_of_a_million: u64, clock_us_per_interval: u64) -> Season {
    let mut dice = Dice(20_260_401);
    let mut receiver = Receiver::<4>::new(Config::default());
    receiver.adopt(HEAD, IDENTITY).unwrap();
    let (mut restarts, mut interval, mut tips) = (5_u16, 300_u64, 65_000_u64);
    let (mut base, mut newest_heard): (Option<u64>, Option<(u16, u64, u64)>) = (None, None);
    let mut bad = false;
    let mut season = Season {
        tips_heard: 0,
        tips_believed: 0,
        tips_in_events: 0,
        heard: 0,
        sent: 0,
        restarts_told: 0,
        restarts_heard: 0,
        refused: 0,
        missed_told: 0,
        missed: 0,
    };
    for now in 1..=intervals {
        // Two states: bad for 4 intervals on average, good for 28/3, so that 30 % are bad.
        bad = if bad {
            !dice.chance(250_000)
        } else {
            dice.chance(107_143)
        };
        if dice.chance(restart_of_a_million) {
            restarts = restarts.wrapping_add(1);
            (interval, tips) = (0, 0);
        } else {
            interval += 1;
            tips += dice.below(4);
        }
        season.sent += 1;
        if bad {
            continue;
        }
        season.heard += 1;
        match newest_heard {
            None => base = Some(tips),
            Some((life, at, before)) if life == restarts => {
                season.tips_heard += tips - before;
                season.missed += interval - at - 1;
            }
            Some(_) => {
                season.tips_heard += tips;
                season.missed += interval;
                season.restarts_heard += 1;
            }
        }
        newest_heard = Some((restarts, interval, tips));
        let clock = now * clock_us_per_interval;
        if interval % u64::from(HEALTH_EVERY) == 0 {
            receiver.handle_packet(clock, &health_packet(restarts, interval));
        }
        receiver.handle_packet(clock, &observation_packet(restarts, interval, tips));
        while let Some(event) = receiver.poll_event() {
            match event {
                Event::Observation(believed) => {
                    season.tips_in_events += u64::from(believed.tips_since.unwrap_or(0));
                    season.missed_told += u64::from(believed.intervals_missed);
                }
                Event::Restarted { .. } => season.restarts_told += 1,
                Event::Health { .. } | Event::Silent { .. } => {}
                _ => season.refused += 1,
            }
        }
    }
    assert!(base.is_some());
    season.tips_believed = receiver.tips_believed(HEAD).unwrap();
    assert_eq!(
        receiver.rain_um_believed(HEAD),
        Some(season.tips_believed * 300)
    );
    season
}

fn nothing_is_lost(season: &Season) {
    assert_eq!(season.tips_believed, season.tips_heard);
    assert_eq!(season.tips_in_events, season.tips_heard);
    assert_eq!(season.missed_told, season.missed);
    assert_eq!(season.restarts_told, season.restarts_heard);
    assert_eq!(season.refused, 0);
    let lost = 1.0 - season.heard as f64 / season.sent as f64;
    assert!((0.28..0.32).contains(&lost), "{lost}");
}

#[test]
fn across_wraps_of_counter_and_sequence() {
    let season = season(200_000, 0, 16_000_000);
    nothing_is_lost(&season);
    assert!(season.tips_heard > 4 * 65_536, "{season:?}");
    assert_eq!(season.restarts_told, 0);
}

#[test]
fn across_restarts() {
    let season = season(300_000, 500, 16_000_000);
    nothing_is_lost(&season);
    assert!(season.tips_heard > 4 * 65_536, "{season:?}");
    assert!(season.restarts_told > 100, "{season:?}");
}

/// Played as fast as it can be read, sixty times as fast, with a clock that runs fast by a quarter:
/// the same is believed.
#[test]
fn whatever_the_clock() {
    let by_the_clock = season(300_000, 20, 16_000_000);
    nothing_is_lost(&by_the_clock);
    for clock in [0, 1, 16_000_000 / 60, 20_000_000] {
        assert_eq!(
            season(300_000, 20, clock),
            by_the_clock,
            "{clock} us per interval"
        );
    }
}
