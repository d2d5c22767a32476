//! Random cases: packets with right checks that make little sense together. Lives, sequences and counters jump,
//! packets come again and late, the clock leaps. What must be said is taken from the protocol crate's receiver.

use super::super::reference::Reference;
use super::super::script::{Case, Input, Level, Mode, Setup, Step, Steps, settings};
use super::craft::{GUST, STATUS, TIPS, WIND, fields, packet, sealed};
use super::{A, B, INTERVAL, SERIAL};
use benchmast_protocol::frame::Identity;
use benchmast_protocol::packet::HeadId;
use benchmast_sim::entropy::{Seed, Stream};

/// Packets of a random case.
const LENGTH: usize = 120;

/// Settings as a capture's header gives them: all else is 0, and every sensor is fitted.
#[must_use]
pub fn from_capture(serial: u64, interval_s: u16, bucket_um: u16) -> Identity {
    Identity {
        hardware: 0,
        ..settings(serial, interval_s, bucket_um)
    }
}

/// Random case `number` of a seed. Every second one is on a byte stream.
#[must_use]
pub fn any_case(seed: u64, number: u32) -> Case {
    let setup = Setup {
        silent_after: 0,
        adopted: vec![
            (A, from_capture(SERIAL, 16, 300)),
            (B, from_capture(77, 16, 300)),
        ],
        keys: Vec::new(),
    };
    let packets = any_script(seed, number);
    let case = told_by_reference(
        format!("W7/random-{seed}-{number}"),
        "Packets that make little sense together, as the reference receiver judges them.".into(),
        setup,
        packets,
    );
    if number % 2 == 1 {
        case.on_a_stream()
    } else {
        case
    }
}

/// A case of these packets and times, with what the protocol crate's receiver says to them.
#[must_use]
pub fn told_by_reference(
    id: String,
    sentence: String,
    setup: Setup,
    packets: Vec<(u64, Vec<u8>)>,
) -> Case {
    let mut receiver = Reference::new(&setup);
    let steps: Vec<Step> = packets
        .into_iter()
        .map(|(t_us, bytes)| {
            let input = Input::Packet(bytes);
            let mut expect = Vec::new();
            receiver.hear(t_us, &input, &mut expect);
            Step {
                t_us,
                input,
                says: String::new(),
                expect,
                fields: Vec::new(),
            }
        })
        .collect();
    Case {
        id,
        clauses: ["W7.1", "W7.2", "W7.3", "W7.4", "W7.5"]
            .map(str::to_owned)
            .to_vec(),
        level: Level::Must,
        sentence,
        mode: Mode::Packet,
        setup,
        steps: Steps::Listed(steps, Vec::new()),
    }
}

/// Packets and their times.
#[must_use]
pub fn any_script(seed: u64, number: u32) -> Vec<(u64, Vec<u8>)> {
    let key = Seed(seed).key("examination", "random");
    let mut draw = key.stream(number.into());
    let mut senders = [
        Sender::new(&mut draw, A, SERIAL),
        Sender::new(&mut draw, B, 77),
    ];
    let mut now = 0;
    (0..LENGTH)
        .map(|_| {
            let sender = &mut senders[usize::from(draw.uniform() < 0.2)];
            let bytes = sender.next(&mut draw);
            let bytes = damage(&mut draw, bytes);
            now += if draw.uniform() < 0.99 {
                pick(&mut draw, &[0, INTERVAL / 2, INTERVAL, INTERVAL + 1])
            } else {
                INTERVAL
                    * pick(
                        &mut draw,
                        &[19, 20, 64, 1000, 32_768, 65_535, 70_000, 200_000],
                    )
            };
            (now, bytes)
        })
        .collect()
}

fn pick<T: Copy>(draw: &mut Stream, from: &[T]) -> T {
    from[(draw.uniform() * from.len() as f64) as usize % from.len()]
}

/// Now and then a body that is longer, shorter or otherwise than it says, or a check that is wrong.
fn damage(draw: &mut Stream, mut bytes: Vec<u8>) -> Vec<u8> {
    let (kind, place, value) = (draw.uniform(), draw.bits() as usize, draw.bits() as u8);
    if kind < 0.03 {
        bytes.truncate(bytes.len() - 2);
        let length = bytes.len();
        bytes[place % length] = value;
        match value % 4 {
            0 => bytes.push(0),
            1 => bytes.truncate(length - 1),
            _ => {}
        }
        sealed(&bytes)
    } else {
        if kind < 0.05 {
            let length = bytes.len();
            bytes[place % length] ^= 1 << (value % 8);
        }
        bytes
    }
}

/// A head that lies now and then.
struct Sender {
    head: HeadId,
    serial: u64,
    settings: [i64; 4],
    life: i64,
    sequence: i64,
    tips: i64,
    past: Vec<Vec<u8>>,
}

impl Sender {
    fn new(draw: &mut Stream, head: HeadId, serial: u64) -> Self {
        Self {
            head,
            serial,
            settings: [0, 255, 16, 300],
            life: pick(draw, &[0, 3, 9, 15]),
            sequence: pick(draw, &[0, 5, 700, 65_500]),
            tips: pick(draw, &[0, 50, 65_530]),
            past: Vec::new(),
        }
    }

    fn next(&mut self, draw: &mut Stream) -> Vec<u8> {
        let action = draw.uniform();
        if action < 0.12 && !self.past.is_empty() {
            let back = pick(draw, &[1, 2, 5, 40]).min(self.past.len());
            return self.past[self.past.len() - back].clone();
        }
        let (mut life, mut sequence, mut tips) = (self.life, self.sequence, self.tips);
        if action < 0.17 {
            // Late, perhaps too late.
            sequence -= pick(draw, &[1, 2, 5, 20, 63, 64, 65, 200]);
            tips -= pick(draw, &[0, 0, 1, 40]);
        } else if action < 0.22 {
            // A lie that is not repeated.
            sequence += pick(draw, &[0, 1, 30, 64, 65, 3000, 32_767, 32_768, 40_000]);
            tips += pick(draw, &[0, 1, 30, 31, 300, -1]);
            life += pick(draw, &[0, 0, 1, 2, 8, 9, 15]);
        } else if action < 0.24 {
            self.settings = [
                pick(draw, &[0, 2]),
                pick(draw, &[255, 255, 247]),
                pick(draw, &[16, 8]),
                pick(draw, &[300, 200]),
            ];
            let numbers = [&[self.serial.cast_signed()][..], &self.settings].concat();
            return packet(3, self.head, self.sequence as u16, &numbers);
        } else if action < 0.28 {
            // A restart, or several, or a life taken up again.
            self.life += pick(draw, &[1, 1, 1, 2, 7, 8, 9, 15]);
            (self.sequence, self.tips) = pick(
                draw,
                &[(0, 0), (1, 0), (5, 3), (40, 2), (sequence, tips), (9, 300)],
            );
            (life, sequence, tips) = (self.life, self.sequence, self.tips);
        } else if action < 0.29 {
            self.sequence += pick(draw, &[64, 100, 30_000, 32_768, 50_000]);
            self.tips += pick(draw, &[0, 5, 500, -20]);
            (sequence, tips) = (self.sequence, self.tips);
        } else {
            self.sequence += pick(draw, &[1, 1, 1, 1, 2, 3, 10]);
            self.tips += pick(draw, &[0, 0, 1, 1, 5]);
            (sequence, tips) = (self.sequence, self.tips);
        }
        let kind = if draw.uniform() < 0.12 { 2 } else { 1 };
        let mut numbers = legal(draw, kind);
        if kind == 2 {
            numbers[0] = life.rem_euclid(65_536);
        } else {
            numbers[STATUS] = life.rem_euclid(16) + 16 * (draw.bits() % 8).cast_signed();
            numbers[TIPS] = tips.rem_euclid(65_536);
            if numbers[GUST] < numbers[WIND] && numbers[WIND] != 16_383 {
                numbers[GUST] = numbers[WIND];
            }
        }
        let bytes = packet(
            kind,
            self.head,
            sequence.rem_euclid(65_536) as u16,
            &numbers,
        );
        self.past.push(bytes.clone());
        bytes
    }
}

/// Any legal numbers of a kind of packet.
fn legal(draw: &mut Stream, kind: u8) -> Vec<i64> {
    fields(kind)
        .iter()
        .map(|field| {
            let (is_missing, at) = (draw.uniform() < 0.05, draw.uniform());
            match field.missing {
                Some(missing) if is_missing => missing,
                _ => field.low + ((field.high - field.low) as f64 * at) as i64,
            }
        })
        .collect()
}
