//! Packets without a receiver.

use crate::memory::{lent, put};
use crate::plain::{benchmast_packet, benchmast_status};
use benchmast_protocol::packet::{Packet, check};
use core::mem::MaybeUninit;

/// The check of some bytes: CRC-16/M17 (WIRE.md W1.4). 0 over a whole packet, its check included. Null is no bytes.
///
/// # Safety
/// `bytes` points to `length` bytes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_check(bytes: *const u8, length: usize) -> u16 {
    // SAFETY: the caller's promise is the same.
    check(unsafe { lent(bytes, length) }.unwrap_or(&[]))
}

/// Take a whole packet apart and judge its numbers, without a receiver: for tests, or to look into a
/// capture. Nothing is believed of it. `packet` is written only when the packet is well formed: with OK, or
/// IMPLAUSIBLE. Else: DAMAGED, UNKNOWN_VERSION, MALFORMED, NULL_POINTER.
///
/// # Safety
/// `bytes` points to `length` bytes and does not overlap `packet`; `bytes` may be null if `length` is 0.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_parse(
    bytes: *const u8,
    length: usize,
    packet: Option<&mut MaybeUninit<benchmast_packet>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    let bytes = match unsafe { lent(bytes, length) } {
        Ok(bytes) => bytes,
        Err(status) => return status,
    };
    match Packet::parse(bytes) {
        Ok(parsed) => match put(packet, benchmast_packet::from(&parsed)) {
            Err(status) => status,
            Ok(()) if parsed.frame.is_legal() => benchmast_status::Ok,
            Ok(()) => benchmast_status::Implausible,
        },
        Err(error) => error.into(),
    }
}
