//! Authenticated packets: the algorithm against its RFC, the receiver against forgers and replayers.

use super::vectors::{hex, read, text, unhex};
use benchmast_protocol::frame::observation::Status;
use benchmast_protocol::frame::{Frame, Identity, Observation, SensorFit, Serial};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet, check};
use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, Illuminance, Quantity, RelativeHumidity, UltravioletIndex,
    WindFromDirection, WindSpeed, WindSpeedOfGust,
};
use benchmast_protocol::receiver::{Config, Event, Receiver, Refusal};
use benchmast_protocol::tag::{Key, SendCounter, TAG_LEN, Trailer};
use std::vec::Vec;

const HEAD: HeadId = HeadId(0x1a2b_3c4d);
const SERIAL: Serial = Serial(1_203_004_501);

fn identity() -> Identity {
    Identity {
        serial: SERIAL,
        hardware: 1,
        fit: SensorFit::ALL,
        interval_s: 16,
        bucket_um: 300,
    }
}

fn key() -> Key {
    Key(unhex("2b7e151628aed2a6abf7158809cf4f3c")
        .try_into()
        .unwrap())
}

/// RFC 4493, section 4, examples 1 to 4.
#[test]
fn the_tag_is_that_of_the_rfc() {
    let message = unhex(
        "6bc1bee22e409f96e93d7e117393172aae2d8a571e03ac9c9eb76fac45af8e51\
         30c81c46a35ce411e5fbc1191a0a52eff69f2445df4f9b17ad2b417be66c3710",
    );
    for (length, whole) in [
        (0, "bb1d6929e95937287fa37d129b756746"),
        (16, "070a16b46b4d4144f79bdd9dd04a287c"),
        (40, "dfa66747de9ae63030ca32611497c827"),
        (64, "51f0bebf7e3b9d92fc49741779363cfe"),
    ] {
        let tag = key().tag(&message[..length]);
        assert_eq!(hex(&tag), whole[..2 * TAG_LEN], "{length} bytes");
        assert!(key().fits(&message[..length], &tag));
        for bit in 0..8 * TAG_LEN {
            let mut wrong = tag;
            wrong[bit / 8] ^= 1 << (bit % 8);
            assert!(!key().fits(&message[..length], &wrong));
        }
    }
}

#[test]
fn tagged_packets_are_those_of_the_vectors() {
    let vectors = read("packets_tagged.json");
    assert_eq!(vectors.len(), 3);
    for vector in vectors {
        let id = text(&vector, "id");
        let key = Key(unhex(text(&vector, "key")).try_into().unwrap());
        let counter = vector["counter"].as_u64().unwrap().try_into().unwrap();
        let packet = Packet::parse(&unhex(text(&vector, "plain"))).unwrap();
        let mut buffer = [0; MAX_PACKET];
        let bytes = packet.emit_tagged(&key, counter, &mut buffer).unwrap();
        assert_eq!(hex(bytes), text(&vector, "hex"), "{id}");
        let trailer = Trailer::cut(bytes).unwrap();
        assert_eq!(trailer.counter, counter, "{id}");
        assert!(key.fits(trailer.covered, &trailer.tag), "{id}");
        for short in 0..bytes.len() {
            let mut small = std::vec![0; short];
            assert_eq!(
                packet.emit_tagged(&key, counter, &mut small),
                None,
                "{id} in {short}"
            );
        }
        assert_eq!(std::format!("{key:?}"), "Key(..)");
    }
}

#[test]
fn a_counter_never_comes_twice_however_often_the_power_fails() {
    let mut stored = 0;
    let mut last = None;
    let mut writes = 0_u32;
    for life in 0_u32..200 {
        let mut counter = SendCounter::new(stored);
        for _ in 0..life * 37 % 3000 {
            let taken = counter.take().unwrap();
            if let Some(store) = taken.store {
                stored = store;
                writes += 1;
            }
            assert!(last < Some(taken.value));
            assert!(taken.value < stored, "not sent before it is reserved");
            last = Some(taken.value);
        }
    }
    assert!(writes < 400, "{writes} writes");
    let mut counter = SendCounter::new(u32::MAX - 1030);
    let mut sent = 0;
    while counter.take().is_some() {
        sent += 1;
    }
    assert_eq!(sent, 1024, "it ends and does not wrap");
}

/// A generator that is good enough to make up packets (xorshift, Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }
    fn below(&mut self, end: usize) -> usize {
        (self.roll() % end as u64) as usize
    }
}

fn seen(sequence: u16) -> Packet {
    let observation = Observation {
        status: Status::new(3, false, false, false),
        air_temperature: AirTemperature::MISSING,
        relative_humidity: RelativeHumidity::MISSING,
        air_pressure: AirPressure::MISSING,
        wind_speed: WindSpeed::MISSING,
        wind_speed_of_gust: WindSpeedOfGust::MISSING,
        wind_from_direction: WindFromDirection::MISSING,
        tips: sequence,
        illuminance: Illuminance::MISSING,
        ultraviolet_index: UltravioletIndex::MISSING,
    };
    Packet {
        head: HEAD,
        sequence,
        frame: Frame::Observation(observation),
    }
}

fn keyed() -> Receiver<4> {
    let mut receiver = Receiver::new(Config::default());
    receiver.adopt(HEAD, identity()).unwrap();
    receiver.set_key(SERIAL, key(), None).unwrap();
    receiver
}

fn events(receiver: &mut Receiver<4>) -> Vec<Event> {
    core::iter::from_fn(|| receiver.poll_event()).collect()
}

/// Packets changed anywhere with the check mended, untagged ones, made-up tags and packets heard before: of
/// as many as `BENCHMAST_FORGERIES` asks for, none is believed. A long run is documented in DEVELOPERS.md.
#[test]
fn forged_and_replayed_packets_are_never_believed() {
    let wanted = std::env::var("BENCHMAST_FORGERIES")
        .ok()
        .map_or(200_000, |text| text.parse::<u64>().unwrap());
    let mut dice = Dice(0x5eed_0001);
    let mut receiver = keyed();
    let mut heard: Vec<Vec<u8>> = Vec::new();
    for sequence in 0..500_u16 {
        let mut buffer = [0; MAX_PACKET];
        let bytes = seen(sequence)
            .emit_tagged(&key(), u32::from(sequence), &mut buffer)
            .unwrap();
        receiver.handle_packet(0, bytes);
        assert!(matches!(events(&mut receiver)[..], [Event::Observation(_)]));
        heard.push(bytes.to_vec());
    }
    let before = std::format!("{receiver:?}");
    let (mut forged, mut replayed, mut refused) = (0_u64, 0_u64, 0_u64);
    for number in 0..wanted {
        let mut bytes = heard[dice.below(heard.len())].clone();
        match number % 4 {
            0 => {} // as it was
            1 => {
                // Changed anywhere but in the check, which is then mended.
                let length = bytes.len() - 2;
                for _ in 0..=dice.below(3) {
                    let place = dice.below(length);
                    bytes[place] ^= 1 << dice.below(8);
                }
            }
            2 => {
                // The next packet, with a tag made up.
                let mut buffer = [0; MAX_PACKET];
                bytes = seen(500)
                    .emit_tagged(&Key(*b"not the head key"), 500, &mut buffer)
                    .unwrap()
                    .to_vec();
                let tag = bytes.len() - 2 - TAG_LEN;
                bytes[tag..tag + TAG_LEN].copy_from_slice(&dice.roll().to_le_bytes());
            }
            _ => {
                // The next packet without a tag.
                let mut buffer = [0; MAX_PACKET];
                bytes = seen(500).emit(&mut buffer).unwrap().to_vec();
            }
        }
        let covered = bytes.len() - 2;
        let sum = check(&bytes[..covered]).to_be_bytes();
        bytes[covered..].copy_from_slice(&sum);
        receiver.handle_packet(0, &bytes);
        match events(&mut receiver)[..] {
            [Event::Refused(Refusal::Forged)] => forged += 1,
            [Event::Refused(Refusal::Replayed)] => replayed += 1,
            [Event::Refused(_)] => refused += 1,
            ref other => panic!("{other:?} from {}", hex(&bytes)),
        }
    }
    assert_eq!(
        before,
        std::format!("{receiver:?}"),
        "nothing was learnt from them"
    );
    assert!(forged > wanted / 3 && replayed >= wanted / 4 && refused > 0);
    std::println!(
        "{wanted} packets: {forged} forged, {replayed} replayed, {refused} refused before, none believed"
    );
    // The next honest one is.
    let mut buffer = [0; MAX_PACKET];
    let bytes = seen(500).emit_tagged(&key(), 500, &mut buffer).unwrap();
    receiver.handle_packet(0, bytes);
    assert!(matches!(events(&mut receiver)[..], [Event::Observation(_)]));
}

#[test]
fn a_key_is_read_from_its_digits() {
    assert_eq!("2b7e151628aed2a6abf7158809cf4F3C".parse(), Ok(key()));
    for wrong in [
        "",
        "2b",
        "2b7e151628aed2a6abf7158809cf4f3",
        "2b7e151628aed2a6abf7158809cf4f3cc",
        "+b7e151628aed2a6abf7158809cf4f3c",
        "2b7e151628aed2a6abf7158809cf4f3\u{e9}",
    ] {
        assert!(wrong.parse::<Key>().is_err(), "{wrong}");
    }
}

#[test]
fn keys_have_their_places() {
    let mut receiver = keyed();
    assert_eq!(receiver.newest_counter(SERIAL), None);
    for other in 1..4 {
        receiver.set_key(Serial(other), key(), Some(7)).unwrap();
    }
    assert_eq!(receiver.newest_counter(Serial(1)), Some(7));
    receiver.set_key(Serial(4), key(), None).unwrap_err();
    assert!(receiver.remove_key(Serial(3)) && !receiver.remove_key(Serial(3)));
    receiver.set_key(Serial(4), key(), None).unwrap();
    let mut buffer = [0; MAX_PACKET];
    let bytes = seen(5).emit_tagged(&key(), 9, &mut buffer).unwrap();
    receiver.handle_packet(0, bytes);
    assert!(matches!(events(&mut receiver)[..], [Event::Observation(_)]));
    assert_eq!(receiver.newest_counter(SERIAL), Some(9));
    assert!(receiver.remove_key(SERIAL));
    let bytes = seen(6).emit(&mut buffer).unwrap();
    receiver.handle_packet(0, bytes);
    assert!(matches!(events(&mut receiver)[..], [Event::Observation(_)]));
}
