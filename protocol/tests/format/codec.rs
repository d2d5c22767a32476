//! Packets: round trip, every truncation, every flipped bit, lengths.

use super::samples::{any_packet, emit, packets};
use super::vectors::verdict;
use benchmast_protocol::frame::Kind;
use benchmast_protocol::packet::{MAX_PACKET, Packet, ParseError};
use benchmast_protocol::stream;
use proptest::prelude::*;
use std::vec::Vec;

fn longest(kind: Kind) -> usize {
    match kind {
        Kind::Observation => 29,
        Kind::Health => 27,
        Kind::Identity => 23,
    }
}

#[test]
fn samples_go_round() {
    for bytes in packets() {
        assert_eq!(emit(&Packet::parse(&bytes).unwrap()), bytes);
    }
}

#[test]
fn every_truncation_is_refused() {
    for bytes in packets() {
        for length in 0..bytes.len() {
            assert_eq!(
                Packet::parse(&bytes[..length]),
                Err(ParseError::Damaged),
                "{length} of {bytes:02x?}"
            );
        }
    }
}

#[test]
fn every_flipped_bit_is_refused() {
    for bytes in packets() {
        for bit in 0..bytes.len() * 8 {
            let mut flipped = bytes.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(
                Packet::parse(&flipped),
                Err(ParseError::Damaged),
                "bit {bit} of {bytes:02x?}"
            );
        }
    }
}

#[test]
fn the_longest_of_each_kind_is_among_the_samples() {
    let mut seen = [0; 3];
    for bytes in packets() {
        let kind = Packet::parse(&bytes).unwrap().frame.kind();
        let most = &mut seen[usize::from(kind.code()) - 1];
        *most = bytes.len().max(*most);
    }
    assert_eq!(seen, [29, 27, 23]);
}

#[test]
fn a_short_buffer_is_no_panic() {
    for bytes in packets() {
        let packet = Packet::parse(&bytes).unwrap();
        for length in 0..bytes.len() {
            assert_eq!(packet.emit(&mut [0; MAX_PACKET][..length]), None);
        }
        assert_eq!(
            packet.emit(&mut [0; MAX_PACKET][..bytes.len()]),
            Some(&bytes[..])
        );
    }
}

proptest! {
    #[test]
    fn any_packet_goes_round_within_its_length(packet in any_packet()) {
        let bytes = emit(&packet);
        prop_assert!(bytes.len() <= longest(packet.frame.kind()));
        prop_assert_eq!(Packet::parse(&bytes), Ok(packet));
        let mut buffer = [0; stream::MAX_ENCODED];
        let sent = stream::encode(&bytes, &mut buffer).unwrap();
        prop_assert!(sent.len() <= bytes.len() + 3);
        prop_assert_eq!(sent.iter().filter(|byte| **byte == 0).count(), 1);
    }

    /// A body has one spelling only: what parses is what would be sent.
    #[test]
    fn what_parses_is_what_would_be_sent(kind in 0_u8..16, body in prop::collection::vec(prop_oneof![any::<u8>(), 0_u8..4, Just(0x80)], 0..39)) {
        let mut bytes: Vec<u8> = [0x10 | kind, 1, 2, 3, 4, 5, 6].to_vec();
        bytes.extend(&body);
        let sum = benchmast_protocol::packet::check(&bytes).to_be_bytes();
        bytes.extend(sum);
        match Packet::parse(&bytes) {
            Ok(packet) => prop_assert_eq!(emit(&packet), bytes),
            Err(error) => prop_assert_eq!(error, ParseError::Malformed),
        }
    }

    #[test]
    fn any_bytes_are_no_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = verdict(&bytes);
        let mut buffer = [0; stream::MAX_ENCODED];
        let _ = stream::encode(&bytes, &mut buffer);
    }
}
