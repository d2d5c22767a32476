//! The radio path as a whole: injectors together, order, independence, and a neighbour's head.

use benchmast::link::air::Modulation;
use benchmast::link::path::Path;
use benchmast::link::{Arrival, Link, Neighbour, Parameters, Traffic};
use benchmast_protocol::frame::Frame;
use benchmast_protocol::packet::{HeadId, Packet};
use benchmast_sim::entropy::Seed;
use std::collections::{BTreeMap, BTreeSet};

const INTERVAL_US: i64 = 16_000_000;
const AIR: Modulation = Modulation::Keying {
    bit_rate: 38_400.0,
    bandwidth_hz: 100e3,
};
const OTHER: HeadId = HeadId(0xBEEF_0001);

fn packet(n: u32) -> [u8; 29] {
    let mut bytes = [0x5A; 29];
    bytes[..4].copy_from_slice(&n.to_le_bytes());
    bytes
}

fn number(arrival: &Arrival) -> u32 {
    u32::from_le_bytes(arrival.bytes[..4].try_into().expect("four bytes"))
}

fn link(parameters: &Parameters, seed: u64) -> Link {
    Link::new(parameters, 16, Seed(seed), "head", 0)
}

/// Send `count` packets an interval apart and return all that is heard, in the order heard.
fn run(parameters: &Parameters, seed: u64, count: u32) -> Vec<Arrival> {
    let mut link = link(parameters, seed);
    let mut heard = Vec::new();
    for n in 0..count {
        let now = i64::from(n) * INTERVAL_US;
        heard.extend(std::iter::from_fn(|| link.poll(now)));
        link.send(now, &packet(n));
    }
    let end = i64::from(count) * INTERVAL_US + 100_000_000;
    heard.extend(std::iter::from_fn(|| link.poll(end)));
    heard
}

#[test]
fn a_perfect_path_delivers_each_packet_once_whole_and_after_its_airtime() {
    let heard = run(&Parameters::default(), 1, 5_000);
    assert_eq!(heard.len(), 5_000);
    for (n, arrival) in heard.iter().enumerate() {
        assert_eq!(arrival.bytes, packet(n as u32));
        assert_eq!(arrival.time_us, n as i64 * INTERVAL_US + AIR.airtime_us(29));
        assert!((-115.0..-55.0).contains(&arrival.signal_dbm));
    }
}

#[test]
fn everything_at_rate_one() {
    let every = |change: fn(&mut Parameters)| {
        let mut parameters = Parameters::default();
        change(&mut parameters);
        run(&parameters, 1, 1_000)
    };
    assert!(every(|p| p.loss = 1.0).is_empty());
    assert!(every(|p| p.burst_loss = 1.0).is_empty());
    assert_eq!(every(|p| p.duplicate = 1.0).len(), 2_000);
    let inverted = every(|p| p.bit_error = 1.0);
    assert!(inverted.iter().all(|arrival| arrival.bytes[28] == !0x5A));
    let late = every(|p| p.delay = 1.0);
    assert_eq!(late.len(), 1_000);
    assert!(late.iter().all(|arrival| {
        arrival.time_us > i64::from(number(arrival)) * INTERVAL_US + AIR.airtime_us(29)
    }));
}

#[test]
fn arrivals_come_in_order_of_time_though_packets_overtake_each_other() {
    let parameters = Parameters {
        duplicate: 0.2,
        delay: 0.3,
        ..Parameters::default()
    };
    let heard = run(&parameters, 3, 5_000);
    assert!(heard.windows(2).all(|two| two[0].time_us <= two[1].time_us));
    let overtaken = heard
        .windows(2)
        .filter(|two| number(&two[0]) > number(&two[1]));
    assert!(overtaken.count() > 300);
    let copies: BTreeMap<u32, u32> = heard.iter().fold(BTreeMap::new(), |mut map, arrival| {
        *map.entry(number(arrival)).or_default() += 1;
        map
    });
    assert_eq!(copies.len(), 5_000);
    let doubled = copies.values().filter(|count| **count == 2).count();
    assert!((850..1_150).contains(&doubled), "{doubled}");
}

#[test]
fn nothing_is_heard_early_and_next_arrival_tells_when() {
    let mut link = link(&Parameters::default(), 1);
    assert_eq!(link.next_arrival_us(), None);
    link.send(1_000, &packet(1));
    let due = 1_000 + AIR.airtime_us(29);
    assert_eq!(link.next_arrival_us(), Some(due));
    assert_eq!(link.poll(due - 1), None);
    assert_eq!(link.poll(due).map(|arrival| arrival.time_us), Some(due));
    assert_eq!(link.poll(i64::MAX), None);
}

/// What one injector does is the same whether or not another is at work.
#[test]
fn loss_shifts_no_other_injector() {
    let base = Parameters {
        bit_error: 0.002,
        duplicate: 0.1,
        delay: 0.1,
        ..Parameters::default()
    };
    let whole = run(&base, 9, 3_000);
    for (loss, burst_loss) in [(0.3, 0.0), (0.0, 0.4), (0.2, 0.2)] {
        let lossy = Parameters {
            loss,
            burst_loss,
            ..base.clone()
        };
        let heard = run(&lossy, 9, 3_000);
        assert!(heard.len() < whole.len() * 9 / 10 && heard.len() > whole.len() / 3);
        // Each arrival of the lossy path is found in the whole one, bit for bit, instant for instant.
        let mut rest = whole.iter();
        for arrival in &heard {
            assert!(rest.any(|other| other == arrival));
        }
    }
}

#[test]
fn single_losses_do_not_shift_the_bursts() {
    let bursts = Parameters {
        burst_loss: 0.4,
        ..Parameters::default()
    };
    let both = Parameters {
        loss: 0.3,
        ..bursts.clone()
    };
    let without = run(&bursts, 9, 3_000);
    let heard = run(&both, 9, 3_000);
    assert!(heard.len() < without.len() * 8 / 10 && heard.len() > without.len() / 2);
    assert!(heard.iter().all(|arrival| without.contains(arrival)));
}

#[test]
fn the_same_seed_gives_the_same_path_and_another_does_not() {
    let parameters = Parameters {
        loss: 0.2,
        bit_error: 0.001,
        neighbour: Some(Neighbour {
            head: OTHER,
            heard: 0.5,
        }),
        ..Parameters::default()
    };
    assert_eq!(run(&parameters, 4, 2_000), run(&parameters, 4, 2_000));
    assert_ne!(run(&parameters, 4, 2_000), run(&parameters, 5, 2_000));
}

#[test]
fn a_packet_sent_beside_the_receiver_always_arrives_and_moves_nothing() {
    let parameters = Parameters {
        loss: 1.0,
        bit_error: 1.0,
        ..Parameters::default()
    };
    let mut dead = link(&parameters, 1);
    dead.send_beside(0, &packet(7));
    let heard = dead.poll(INTERVAL_US).expect("heard");
    assert_eq!(heard.bytes, packet(7));
    let parameters = Parameters {
        loss: 0.5,
        ..Parameters::default()
    };
    let (mut plain, mut paired) = (link(&parameters, 1), link(&parameters, 1));
    paired.send_beside(0, &packet(0));
    paired.poll(INTERVAL_US).expect("heard");
    for n in 1..200 {
        let now = i64::from(n) * INTERVAL_US;
        plain.send(now, &packet(n));
        paired.send(now, &packet(n));
        assert_eq!(
            plain.poll(now + INTERVAL_US),
            paired.poll(now + INTERVAL_US)
        );
    }
}

/// All traffic of a path with a neighbour while our head sends `ours` (or nothing).
fn traffic(parameters: &Parameters, seed: u64, intervals: u32, ours: bool) -> Vec<Traffic> {
    let mut link = link(parameters, seed);
    let mut all = Vec::new();
    for n in 0..intervals {
        let now = i64::from(n) * INTERVAL_US;
        all.extend(std::iter::from_fn(|| link.poll_traffic(now)));
        if ours {
            link.send(now, &packet(n));
        }
    }
    let end = i64::from(intervals) * INTERVAL_US;
    all.extend(std::iter::from_fn(|| link.poll_traffic(end)));
    all
}

fn with_neighbour(heard: f64) -> Parameters {
    Parameters {
        neighbour: Some(Neighbour { head: OTHER, heard }),
        ..Parameters::default()
    }
}

#[test]
fn a_neighbour_sends_legal_packets_of_all_kinds_by_its_own_clock() {
    let all = traffic(&with_neighbour(1.0), 1, 20_000, false);
    assert!(
        all.windows(2)
            .all(|two| two[0].time_us() <= two[1].time_us())
    );
    let (mut kinds, mut sequences, mut starts) = ([0; 4], BTreeSet::new(), Vec::new());
    let (mut sent, mut heard) = (Vec::new(), Vec::new());
    for event in &all {
        match event {
            Traffic::NeighbourSent(packet) => {
                let parsed = Packet::parse(&packet.bytes).expect("whole");
                assert_eq!(parsed.head, OTHER);
                assert!(parsed.frame.is_legal());
                kinds[usize::from(parsed.frame.kind().code())] += 1;
                if let Frame::Observation(_) = parsed.frame {
                    sequences.insert(parsed.sequence);
                    starts.push(packet.time_us);
                }
                sent.push(packet.bytes.clone());
            }
            Traffic::Heard(arrival) => heard.push(arrival.bytes.clone()),
        }
    }
    assert_eq!(sequences.len(), starts.len());
    assert!((19_990..=20_000).contains(&kinds[1]), "{kinds:?}");
    assert!((310..=314).contains(&kinds[2]), "{kinds:?}");
    assert!((1..=30).contains(&kinds[3]), "{kinds:?}");
    let n = starts.len();
    assert!(sent.starts_with(&heard) && heard.len() + 3 >= sent.len());
    let period = (starts[n - 1] - starts[0]) as f64 / (n - 1) as f64;
    let ppm = (period / INTERVAL_US as f64 - 1.0) * 1e6;
    assert!(ppm.abs() <= 40.0 && ppm.abs() > 0.01, "{ppm} ppm");
}

#[test]
fn a_neighbour_never_heard_changes_nothing_of_ours() {
    let heard_only = |parameters: &Parameters| run(parameters, 6, 20_000);
    assert_eq!(
        heard_only(&with_neighbour(0.0)),
        heard_only(&Parameters::default())
    );
}

#[test]
fn a_neighbour_is_heard_as_often_as_said() {
    let all = traffic(&with_neighbour(0.3), 2, 20_000, false);
    let sent = all
        .iter()
        .filter(|event| matches!(event, Traffic::NeighbourSent(_)))
        .count() as f64;
    let heard = all.len() as f64 - sent;
    assert!(
        (heard - 0.3 * sent).abs() < 4.0 * (sent * 0.21).sqrt(),
        "{heard} of {sent}"
    );
}

/// The neighbour's clock drifts through ours: while the two overlap, neither comes through whole;
/// at all other times both do.
#[test]
fn overlapping_packets_are_damaged_or_lost_and_no_others() {
    // A seed whose neighbour meets us within the time looked at.
    let meets = |seed: &u64| {
        let all = traffic(&with_neighbour(1.0), *seed, 30_000, true);
        let (sent, heard): (Vec<_>, Vec<_>) = all
            .iter()
            .partition(|event| matches!(event, Traffic::NeighbourSent(_)));
        heard.len() + 40 < sent.len() + 30_000
    };
    let seed = (0..20).find(meets).expect("some neighbour meets us");
    let all = traffic(&with_neighbour(1.0), seed, 30_000, true);
    let starts: Vec<(i64, usize)> = all
        .iter()
        .filter_map(|event| match event {
            Traffic::NeighbourSent(sent) => Some((sent.time_us, sent.bytes.len())),
            Traffic::Heard(_) => None,
        })
        .collect();
    let whole: BTreeSet<u32> = all
        .iter()
        .filter_map(|event| match event {
            Traffic::Heard(arrival) if arrival.bytes.len() == 29 => Some(arrival),
            _ => None,
        })
        .filter(|arrival| arrival.bytes == packet(number(arrival)))
        .map(number)
        .collect();
    let (mut met, mut free) = (0, 0);
    for n in 0..29_999 {
        let ours = AIR.span(i64::from(n) * INTERVAL_US, 29);
        let near = starts.partition_point(|(at, _)| *at < ours.start_us - 50_000);
        let mut theirs = starts[near..].iter().take(4);
        let overlap = theirs.any(|(at, len)| AIR.span(*at, *len).overlaps(ours));
        assert_eq!(whole.contains(&n), !overlap, "packet {n}");
        if overlap { met += 1 } else { free += 1 }
    }
    assert!(met > 40 && free > 1_000, "{met} met, {free} free");
    let damaged = all.iter().filter(|event| match event {
        Traffic::Heard(arrival) => {
            Packet::parse(&arrival.bytes).is_err() && arrival.bytes[4..] != packet(0)[4..]
        }
        Traffic::NeighbourSent(_) => false,
    });
    assert!(
        damaged.count() > 10,
        "of two that overlap, the earlier is heard damaged"
    );
}

/// Share of observations that are neither lost nor damaged at a distance outdoors, m.
fn read_at(outdoor_m: f64) -> f64 {
    let parameters = Parameters {
        path: Some(Path {
            outdoor_m,
            ..Path::default()
        }),
        ..Parameters::default()
    };
    let heard = run(&parameters, 5, 4_000);
    let whole = heard
        .iter()
        .filter(|arrival| arrival.bytes == packet(number(arrival)))
        .count();
    whole as f64 / 4_000.0
}

#[test]
fn a_path_by_its_geometry_loses_more_the_farther_it_is() {
    let shares = [25.0, 100.0, 400.0, 1_600.0, 20_000.0].map(read_at);
    assert!(shares.windows(2).all(|two| two[1] <= two[0]), "{shares:?}");
    assert!(shares[0] > 0.999, "{shares:?}");
    assert!(shares[4] < 0.01, "{shares:?}");
    assert!(
        shares.iter().any(|share| (0.05..0.97).contains(share)),
        "{shares:?}"
    );
}

#[test]
fn a_path_moves_no_other_injector() {
    let lossy = Parameters {
        loss: 0.3,
        duplicate: 0.1,
        ..Parameters::default()
    };
    let near = Parameters {
        path: Some(Path {
            outdoor_m: 1.0,
            indoor_m: 0.0,
            ..Path::default()
        }),
        ..lossy.clone()
    };
    let fate = |parameters: &Parameters| -> Vec<(i64, u32)> {
        let heard = run(parameters, 6, 3_000);
        heard.iter().map(|a| (a.time_us, number(a))).collect()
    };
    assert_eq!(fate(&lossy), fate(&near));
}

/// Two heads of one period whose clocks differ by `e` overlap for `2 t / e` at a stretch, `t` being the
/// time on the air (arithmetic); more so with spreading, whose packets are long.
#[test]
fn a_neighbour_of_the_same_period_cuts_a_stretch_out() {
    let chirp = Modulation::Chirp {
        spreading_factor: 9,
        bandwidth_hz: 125e3,
    };
    let parameters = Parameters {
        modulation: chirp,
        neighbour: Some(Neighbour {
            head: OTHER,
            heard: 1.0,
        }),
        ..Parameters::default()
    };
    let count = 200_000;
    let whole: BTreeSet<u32> = run(&parameters, 2, count)
        .iter()
        .filter(|arrival| arrival.bytes == packet(number(arrival)))
        .map(number)
        .collect();
    let mut longest = 0;
    let mut gap = 0;
    for n in 0..count {
        gap = if whole.contains(&n) { 0 } else { gap + 1 };
        longest = longest.max(gap);
    }
    // Packets of 248 to 270 ms and at most 40 ppm: at least 2 x 0.248 / 40e-6 s = 775 intervals, if the two meet.
    assert!(longest > 700, "{longest}");
    assert!(f64::from(longest) < 0.2 * f64::from(count), "{longest}");
}
