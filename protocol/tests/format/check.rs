//! The check: CRC-16/M17.

use benchmast_protocol::packet::check;
use std::vec;
use std::vec::Vec;

/// Source: "Catalogue of parametrised CRC algorithms" (G. Cook), entry CRC-16/M17:
/// width=16 poly=0x5935 init=0xffff refin=false refout=false xorout=0x0000 check=0x772b residue=0x0000.
#[test]
fn catalogue_check_value() {
    assert_eq!(check(b"123456789"), 0x772b);
}

/// The same, bit by bit from its definition, without a library.
fn by_definition(bytes: &[u8]) -> u16 {
    let mut register = 0xffff_u16;
    for byte in bytes {
        for bit in (0..8).rev() {
            let carry = (register >> 15) ^ u16::from(byte >> bit & 1);
            register = register << 1 ^ if carry == 1 { 0x5935 } else { 0 };
        }
    }
    register
}

#[test]
fn agrees_with_its_definition() {
    let mut bytes = Vec::new();
    for length in 0..60_u8 {
        assert_eq!(check(&bytes), by_definition(&bytes));
        bytes.push(length.wrapping_mul(167).wrapping_add(13));
    }
    // Residue: a packet together with its check leaves zero.
    let sum = by_definition(&bytes).to_be_bytes();
    bytes.extend(sum);
    assert_eq!(by_definition(&bytes), 0);
}

/// Remainder that a single wrong bit leaves, `n` bits before the end of the check.
fn syndromes(bits: usize) -> Vec<u16> {
    let mut all = vec![1_u16];
    while all.len() < bits {
        let last = all[all.len() - 1];
        all.push(last << 1 ^ if last & 0x8000 == 0 { 0 } else { 0x5935 });
    }
    all
}

/// Whether every pattern of one to four wrong bits leaves a remainder other than zero.
///
/// One: no syndrome is zero. Two: no two are equal. Three and four: no two of the sums of one or two
/// syndromes are equal (two sums that share a syndrome differ because the others do).
fn finds_four(bits: usize) -> bool {
    let single = syndromes(bits);
    let mut seen = vec![false; 0x1_0000];
    seen[0] = true;
    for (at, one) in single.iter().enumerate() {
        for sum in core::iter::once(*one).chain(single[..at].iter().map(|other| one ^ other)) {
            if core::mem::replace(&mut seen[usize::from(sum)], true) {
                return false;
            }
        }
    }
    true
}

/// Koopman's tables ("Best CRC polynomials", 16 bits, 0xac9a in his notation) give a Hamming distance
/// of 5 up to 241 data bits. Here: exhaustive proof, and that the limit is exactly there.
#[test]
fn finds_any_four_bit_errors_up_to_241_data_bits() {
    assert!(finds_four(241 + 16));
    assert!(!finds_four(242 + 16));
}

/// The longest packet that a sender may emit is inside that limit.
#[test]
fn every_packet_is_inside_that_length() {
    for bytes in super::samples::packets() {
        assert!((bytes.len() - 2) * 8 <= 241);
    }
}

/// The syndromes above are those of the real check: every pattern of up to two wrong bits in the
/// longest sample, and as many of three and four as pass in a moment, is found by `check` itself.
#[test]
fn finds_wrong_bits_in_a_whole_packet() {
    let packet = super::samples::packets()
        .into_iter()
        .max_by_key(Vec::len)
        .unwrap();
    let bits = packet.len() * 8;
    let is_found = |places: &[usize]| {
        let mut wrong = packet.clone();
        for place in places {
            wrong[place / 8] ^= 1 << (place % 8);
        }
        let (covered, sum) = wrong.split_at(wrong.len() - 2);
        check(covered).to_be_bytes() != sum
    };
    for one in 0..bits {
        assert!(is_found(&[one]));
        for two in 0..one {
            assert!(is_found(&[one, two]));
            let (three, four) = ((one * 7 + two * 3) % bits, (one + two * 11 + 5) % bits);
            let mut places = [one, two, three, four];
            places.sort_unstable();
            if places.windows(2).all(|pair| pair[0] != pair[1]) {
                assert!(is_found(&places));
                assert!(is_found(&places[..3]));
            }
        }
    }
}
