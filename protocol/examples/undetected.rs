//! What damage the check and the rules let through: all small errors of the worked examples, packet by packet
//! and on a stream, and as many random packets as the first argument says (default 10^7), beside what theory expects.
//!
//! ```sh
//! cargo run --release -p benchmast-protocol --example undetected -- 1000000000
//! ```

use benchmast_protocol::packet::{Header, Packet};
use benchmast_protocol::stream::{Deframed, Deframer, MAX_ENCODED, encode};
use std::collections::BTreeSet;
use std::process::ExitCode;

/// The worked examples, whole.
fn samples() -> Vec<Vec<u8>> {
    let file: serde_json::Value =
        serde_json::from_str(include_str!("../vectors/packets_accepted.json")).expect("JSON");
    let vectors = file["vectors"].as_array().expect("a list");
    let unhex = |text: &str| {
        let byte = |at| u8::from_str_radix(&text[at..at + 2], 16).expect("digits");
        (0..text.len()).step_by(2).map(byte).collect()
    };
    vectors
        .iter()
        .map(|vector| unhex(vector["hex"].as_str().expect("text")))
        .collect()
}

/// Damaged packets: how many, how many with a check that fits, how many a receiver would go on with.
#[derive(Default, Clone, Copy)]
struct Count {
    tried: u64,
    checked: u64,
    believed: u64,
}

impl Count {
    fn judge(&mut self, bytes: &[u8]) {
        self.tried += 1;
        // Version, kind and body are looked at only where the check fits.
        if matches!(
            Header::parse(bytes),
            Err(benchmast_protocol::packet::ParseError::Damaged)
        ) {
            return;
        }
        self.checked += 1;
        self.believed +=
            u64::from(Packet::parse(bytes).is_ok_and(|packet| packet.frame.is_legal()));
    }

    fn add(self, other: Self) -> Self {
        Self {
            tried: self.tried + other.tried,
            checked: self.checked + other.checked,
            believed: self.believed + other.believed,
        }
    }
}

fn flip(bytes: &mut [u8], bit: usize) {
    bytes[bit / 8] ^= 1 << (bit % 8);
}

/// All errors of exactly so many bits.
fn errors(bytes: &mut [u8], wrong: usize, from: usize, judge: &mut impl FnMut(&[u8])) {
    if wrong == 0 {
        judge(bytes);
        return;
    }
    for bit in from..8 * bytes.len() {
        flip(bytes, bit);
        errors(bytes, wrong - 1, bit + 1, judge);
        flip(bytes, bit);
    }
}

/// All errors of so many bits in a stream of three packets; `believed` counts frames that are taken for packets and
/// were not sent.
fn on_a_stream(packets: [&[u8]; 3], wrong: usize, count: &mut Count) {
    let mut stream = vec![0];
    for packet in packets {
        let mut buffer = [0; MAX_ENCODED];
        stream.extend_from_slice(encode(packet, &mut buffer).expect("a packet"));
    }
    let sent: BTreeSet<&[u8]> = packets.into_iter().collect();
    errors(&mut stream, wrong, 0, &mut |mut stream| {
        count.tried += 1;
        let mut deframer = Deframer::new();
        while let Some(frame) = deframer.push_from(&mut stream) {
            if let Deframed::Packet(bytes) = frame
                && !sent.contains(bytes)
            {
                let mut one = Count::default();
                one.judge(bytes);
                count.checked += one.checked;
                count.believed += one.believed;
            }
        }
    });
}

/// xorshift64* (Vigna 2016): good enough to make noise.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }
}

/// Nothing but noise, of every length that a packet may have.
fn noise(dice: &mut Dice, number: u64) -> Count {
    let mut count = Count::default();
    let mut bytes = [0; 48];
    for _ in 0..number {
        for word in bytes.chunks_exact_mut(8) {
            word.copy_from_slice(&dice.roll().to_le_bytes());
        }
        let length = 9 + (dice.roll() >> 32) as usize % 40;
        count.judge(&bytes[..length]);
    }
    count
}

/// Worked examples in which 5 to 36 bits anywhere are wrong: as a radio would damage them.
fn damaged(dice: &mut Dice, samples: &[Vec<u8>], number: u64) -> Count {
    let mut count = Count::default();
    let mut copy = Vec::new();
    while count.tried < number {
        let sample = &samples[dice.roll() as usize % samples.len()];
        copy.clear();
        copy.extend_from_slice(sample);
        for _ in 0..5 + (dice.roll() >> 32) % 32 {
            let bit = (dice.roll() >> 16) as usize % (8 * copy.len());
            flip(&mut copy, bit);
        }
        if copy != *sample {
            count.judge(&copy);
        }
    }
    count
}

fn on_all_cores(number: u64, of: impl Fn(Dice, u64) -> Count + Sync) -> Count {
    let cores = std::thread::available_parallelism().map_or(1, usize::from) as u64;
    std::thread::scope(|scope| {
        let threads: Vec<_> = (0..cores)
            .map(|core| {
                let of = &of;
                let share = number / cores + u64::from(core < number % cores);
                scope.spawn(move || of(Dice(0x9e37_79b9_7f4a_7c15 ^ (core + 1)), share))
            })
            .collect();
        threads
            .into_iter()
            .map(|thread| thread.join().expect("a thread"))
            .fold(Count::default(), Count::add)
    })
}

fn row(what: &str, count: Count, expected: &str) {
    println!(
        "{what:<46} {:>12} {:>9} {:>9}   {expected}",
        count.tried, count.checked, count.believed
    );
}

fn main() -> ExitCode {
    let number = std::env::args().nth(1).map_or(10_000_000, |text| {
        text.parse().expect("a number of random packets")
    });
    let samples = samples();
    println!(
        "{:<46} {:>12} {:>9} {:>9}   theory",
        "damage", "tried", "check fits", "believed"
    );
    let mut sound = true;
    for wrong in 1..=3 {
        let mut count = Count::default();
        for sample in &samples {
            errors(&mut sample.clone(), wrong, 0, &mut |bytes| {
                count.judge(bytes);
            });
        }
        row(
            &format!("{wrong} wrong bits, each worked example"),
            count,
            "none: the distance of the check is 5",
        );
        sound &= count.checked == 0;
    }
    for wrong in 1..=2 {
        let mut count = Count::default();
        for sample in &samples {
            on_a_stream([&samples[0], sample, &samples[1]], wrong, &mut count);
        }
        let expected = "few: a false delimiter cuts a packet, 1 piece in 65536 fits";
        row(
            &format!("{wrong} wrong bits on a stream of three packets"),
            count,
            expected,
        );
        sound &= count.believed == 0;
    }
    let theory = |number: u64| {
        format!(
            "check fits: {:.0} +- {:.0}",
            number as f64 / 65536.0,
            2.0 * (number as f64 / 65536.0).sqrt()
        )
    };
    let near = |count: Count| {
        let mean = count.tried as f64 / 65536.0;
        (count.checked as f64 - mean).abs() < 5.0 * mean.sqrt() + 5.0
    };
    let all = on_all_cores(number, |mut dice, share| noise(&mut dice, share));
    row("random bytes", all, &theory(number));
    sound &= near(all);
    let all = on_all_cores(number, |mut dice, share| {
        damaged(&mut dice, &samples, share)
    });
    row(
        "5 to 36 random flips in a worked example",
        all,
        &theory(number),
    );
    // Flips that hit one bit twice leave fewer wrong bits, all of which are found: less than theory says, never more.
    sound &= (all.checked as f64)
        < number as f64 / 65536.0 + 5.0 * (number as f64 / 65536.0).sqrt() + 5.0;
    if sound {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
