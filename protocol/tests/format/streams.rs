//! Byte streams: COBS against its paper, the vector files, and every way to cut a stream.

use super::samples::any_packet;
use super::samples::emit;
use super::vectors::{hex, read, text, unhex};
use benchmast_protocol::packet::MAX_PACKET;
use benchmast_protocol::stream::{Deframed, Deframer, MAX_ENCODED, encode};
use proptest::prelude::*;
use std::string::{String, ToString};
use std::vec;
use std::vec::Vec;

/// Everything a deframer says, byte by byte, and whether it ends inside a frame.
fn one_by_one(stream: &[u8]) -> (Vec<String>, bool) {
    let mut deframer = Deframer::new();
    let mut said = Vec::new();
    for byte in stream {
        said.extend(deframer.push(*byte).map(word));
    }
    (said, deframer.is_midway())
}

fn word(frame: Deframed<'_>) -> String {
    match frame {
        Deframed::Packet(bytes) => hex(bytes),
        Deframed::Damaged => "damaged".to_string(),
    }
}

fn sent(packet: &[u8]) -> Vec<u8> {
    encode(packet, &mut [0; MAX_ENCODED]).unwrap().to_vec()
}

/// Cheshire and Baker 1999: the worked example of the paper (figure 3 with its text; from memory):
/// an IP packet's first bytes 45 00 00 2C 4C 79 00 00 40 06 4F 37 are encoded
/// 02 45 01 04 2C 4C 79 01 05 40 06 4F 37. The others are the commonly published small examples,
/// which follow from the paper's code table: n means n-1 bytes and a zero.
#[test]
fn cobs_examples() {
    let examples = [
        ("4500002c4c79000040064f37", "024501042c4c79010540064f37"),
        ("00", "0101"),
        ("0000", "010101"),
        ("001100", "01021101"),
        ("11220033", "0311220233"),
        ("11223344", "0511223344"),
        ("11000000", "0211010101"),
    ];
    for (plain, stuffed) in examples {
        let mut wire = unhex(stuffed);
        wire.push(0);
        assert_eq!(sent(&unhex(plain)), wire, "{plain}");
        assert_eq!(one_by_one(&wire), (vec![plain.to_string()], false));
    }
}

#[test]
fn vectors() {
    for vector in read("streams.json") {
        let id = text(&vector, "id");
        let stream = unhex(text(&vector, "hex"));
        let yields: Vec<String> = vector["yields"]
            .as_array()
            .unwrap()
            .iter()
            .map(|word| word.as_str().unwrap().to_string())
            .collect();
        let unfinished = vector["unfinished"].as_bool().unwrap();
        assert_eq!(one_by_one(&stream), (yields.clone(), unfinished), "{id}");
        if vector["sent"].as_bool().unwrap() {
            let mut wire = vec![0];
            for packet in &yields {
                wire.extend(sent(&unhex(packet)));
            }
            assert_eq!(hex(&wire), hex(&stream), "{id}");
        }
    }
}

#[test]
fn no_packet_is_too_long_or_empty() {
    let mut buffer = [0; 2 * MAX_ENCODED];
    assert_eq!(encode(&[], &mut buffer), None);
    assert_eq!(encode(&[1; MAX_PACKET + 1], &mut buffer), None);
    for fill in [0, 1, 255] {
        for length in 1..=MAX_PACKET {
            let packet = [fill; MAX_PACKET];
            let packet = &packet[..length];
            assert_eq!(sent(packet).len(), length + 2);
            assert_eq!(one_by_one(&sent(packet)), (vec![hex(packet)], false));
            for short in 0..length + 2 {
                assert_eq!(encode(packet, &mut buffer[..short]), None);
            }
        }
    }
}

proptest! {
    /// In whatever pieces a stream comes, the same is said of it.
    #[test]
    fn pieces_do_not_matter(
        stream in prop::collection::vec(prop_oneof![3 => any::<u8>(), 1 => Just(0), 2 => 1_u8..5], 0..400),
        cuts in prop::collection::vec(0_usize..400, 0..12),
    ) {
        let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut.min(stream.len())).collect();
        cuts.extend([0, stream.len()]);
        cuts.sort_unstable();
        let mut deframer = Deframer::new();
        let mut said = Vec::new();
        for pair in cuts.windows(2) {
            let mut piece = &stream[pair[0]..pair[1]];
            while let Some(frame) = deframer.push_from(&mut piece) {
                said.push(word(frame));
            }
            prop_assert!(piece.is_empty());
        }
        prop_assert_eq!((said, deframer.is_midway()), one_by_one(&stream));
    }

    /// Whatever was on the line: after the next delimiter every packet arrives.
    #[test]
    fn in_step_again_after_a_delimiter(
        noise in prop::collection::vec(any::<u8>(), 0..300),
        packets in prop::collection::vec(any_packet(), 1..5),
    ) {
        let mut stream = noise;
        stream.push(0);
        let mut expected = Vec::new();
        for packet in &packets {
            let bytes = emit(packet);
            stream.extend(sent(&bytes));
            expected.push(hex(&bytes));
        }
        let (said, midway) = one_by_one(&stream);
        prop_assert!(!midway);
        prop_assert!(said.ends_with(&expected));
    }
}
