//! Keys of heads that authenticate their packets.

use crate::memory::{benchmast_receiver, lent, open, put};
use crate::plain::benchmast_status;
use benchmast_protocol::frame::Serial;
use benchmast_protocol::tag::Key;
use core::mem::MaybeUninit;

/// From now on the head with this serial number is believed only with tags of this key (WIRE.md section 10).
/// `key` is 16 bytes, copied. `heard` points to the newest counter believed of it, from your non-volatile memory: it
/// and all before it are old; null if none was. FULL when as many heads have keys as there are places. Keys outlive
/// benchmast_forget.
///
/// # Safety
/// See the head of this file; `key` points to 16 bytes outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_set_key(
    receiver: *mut benchmast_receiver,
    serial: u64,
    key: *const u8,
    heard: Option<&u32>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    let this = unsafe { open(receiver) };
    // SAFETY: the caller's promise is the same.
    let key = unsafe { lent(key, 16) };
    this.and_then(|this| {
        let key = key?.first_chunk().ok_or(benchmast_status::NullPointer)?;
        let key = Key(*key);
        this.receiver
            .set_key(Serial(serial), key, heard.copied())
            .map_err(|_| benchmast_status::Full)
    })
    .map_or_else(|refusal| refusal, |()| benchmast_status::Ok)
}

/// The head with this serial number is believed without tags again. NO_KEY.
///
/// # Safety
/// See the head of this file.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_remove_key(
    receiver: *mut benchmast_receiver,
    serial: u64,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    match unsafe { open(receiver) } {
        Ok(this) => {
            if this.receiver.remove_key(Serial(serial)) {
                benchmast_status::Ok
            } else {
                benchmast_status::NoKey
            }
        }
        Err(refusal) => refusal,
    }
}

/// The newest counter believed of a head with a key, for your non-volatile memory: OK with `*counter` written; NONE
/// before the first, or without a key.
///
/// # Safety
/// See the head of this file; `counter` points to a number outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_newest_counter(
    receiver: *mut benchmast_receiver,
    serial: u64,
    counter: Option<&mut MaybeUninit<u32>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    match unsafe { open(receiver) } {
        Ok(this) => match this.receiver.newest_counter(Serial(serial)) {
            Some(newest) => {
                put(counter, newest).map_or_else(|refusal| refusal, |()| benchmast_status::Ok)
            }
            None => benchmast_status::None,
        },
        Err(refusal) => refusal,
    }
}
