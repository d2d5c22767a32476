//! The receiver, call by call.

use crate::memory::{benchmast_receiver, lent, make, open, put};
use crate::plain::{benchmast_event, benchmast_identity, benchmast_status};
use benchmast_protocol::frame::Serial;
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::Config;
use benchmast_protocol::stream::{Deframed, Deframer};
use core::mem::MaybeUninit;

/// What a call came to.
fn said(outcome: Result<benchmast_status, benchmast_status>) -> benchmast_status {
    outcome.unwrap_or_else(|refusal| refusal)
}

/// Bytes that this library needs for a receiver: at most `sizeof(benchmast_receiver)`.
#[unsafe(no_mangle)]
pub extern "C" fn benchmast_receiver_size() -> usize {
    crate::memory::SIZE
}

/// Bytes to which this library wants a receiver aligned: at most 8.
#[unsafe(no_mangle)]
pub extern "C" fn benchmast_receiver_alignment() -> usize {
    crate::memory::ALIGNMENT
}

/// Make a receiver that knows no head and waits for none, at the start of a stream. `size` is
/// `sizeof *receiver`. `silent_after`: intervals without a believed packet after which a head is told to be silent; 0 for
/// never. What was in the memory is overwritten. NULL_POINTER, MISALIGNED, TOO_SMALL.
///
/// # Safety
/// `receiver` points to `size` bytes that nobody else uses meanwhile.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_init(
    receiver: *mut benchmast_receiver,
    size: usize,
    silent_after: u16,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    unsafe { make(receiver, size, Config { silent_after }) }
}

/// Wait for the identity of the head with this serial number, and pair with it. FULL.
///
/// # Safety
/// See the head of this file.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_expect(
    receiver: *mut benchmast_receiver,
    serial: u64,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.and_then(|this| {
        this.receiver
            .expect(Serial(serial))
            .map_err(|_| benchmast_status::Full)?;
        Ok(benchmast_status::Ok)
    }))
}

/// Pair with every head that tells its identity while there is room (1), or no longer (0): for a bench, not for
/// a street.
///
/// # Safety
/// See the head of this file.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_expect_any(
    receiver: *mut benchmast_receiver,
    is_open: u8,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.map(|this| {
        this.receiver.expect_any(is_open != 0);
        benchmast_status::Ok
    }))
}

/// Take up a head again that was paired before, from your non-volatile memory. A paired head with this address or serial number
/// is replaced. FULL, ILLEGAL.
///
/// # Safety
/// See the head of this file.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_adopt(
    receiver: *mut benchmast_receiver,
    head: u32,
    identity: Option<&benchmast_identity>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.and_then(|this| {
        let identity = identity.ok_or(benchmast_status::NullPointer)?;
        this.receiver.adopt(HeadId(head), identity.into())?;
        Ok(benchmast_status::Ok)
    }))
}

/// Forget a paired head. NOT_PAIRED.
///
/// # Safety
/// See the head of this file.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_forget(
    receiver: *mut benchmast_receiver,
    head: u32,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.and_then(|this| {
        if this.receiver.forget(HeadId(head)) {
            Ok(benchmast_status::Ok)
        } else {
            Err(benchmast_status::NotPaired)
        }
    }))
}

/// Judge the bytes of one packet, as a datagram or a radio brings it. EVENTS: poll before the next call. `packet` may be
/// null if `length` is 0, which is a damaged packet.
///
/// # Safety
/// See the head of this file; `packet` points to `length` bytes outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_handle_packet(
    receiver: *mut benchmast_receiver,
    now_us: u64,
    packet: *const u8,
    length: usize,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    let this = unsafe { open(receiver) };
    // SAFETY: the caller's promise is the same.
    let packet = unsafe { lent(packet, length) };
    said(this.and_then(|this| {
        this.receiver.handle_packet(now_us, packet?);
        Ok(benchmast_status::Events)
    }))
}

/// Take bytes of a stream, up to the end of the first packet that closes in them. `*used` says how many were taken. EVENTS: a
/// packet closed; poll, then call again with the rest. OK: all bytes were taken, and nothing closed. They may come in any
/// pieces, one at a time too.
///
/// # Safety
/// See the head of this file; `bytes` points to `length` bytes outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_handle_stream(
    receiver: *mut benchmast_receiver,
    now_us: u64,
    bytes: *const u8,
    length: usize,
    used: Option<&mut MaybeUninit<usize>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    let this = unsafe { open(receiver) };
    // SAFETY: the caller's promise is the same.
    let bytes = unsafe { lent(bytes, length) };
    said(this.and_then(|this| {
        let mut rest = bytes?;
        let used = used.ok_or(benchmast_status::NullPointer)?;
        let closed = this.deframer.push_from(&mut rest);
        used.write(length.saturating_sub(rest.len()));
        match closed {
            None => return Ok(benchmast_status::Ok),
            Some(Deframed::Packet(packet)) => this.receiver.handle_packet(now_us, packet),
            Some(Deframed::Damaged) => this.receiver.handle_damaged(now_us),
        }
        Ok(benchmast_status::Events)
    }))
}

/// A new stream begins (a line was opened anew): a packet that was under way is dropped.
///
/// # Safety
/// See the head of this file.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_restart_stream(
    receiver: *mut benchmast_receiver,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.map(|this| {
        this.deframer = Deframer::new();
        benchmast_status::Ok
    }))
}

/// Note the time, when the next deadline has come. Needed for SILENT only. OK; there may be events to poll.
///
/// # Safety
/// See the head of this file.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_handle_time(
    receiver: *mut benchmast_receiver,
    now_us: u64,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.map(|this| {
        this.receiver.handle_time(now_us);
        benchmast_status::Ok
    }))
}

/// What there is to tell, oldest first: EVENTS with `*event` written, or NONE with `*event` as it was. Poll until NONE after
/// every packet: there is room for what one packet can cause, and what does not fit is lost and counted.
///
/// # Safety
/// See the head of this file; `event` points to a structure outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_poll_event(
    receiver: *mut benchmast_receiver,
    event: Option<&mut MaybeUninit<benchmast_event>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.and_then(|this| {
        let place = event.ok_or(benchmast_status::NullPointer)?;
        let Some(event) = this.receiver.poll_event() else {
            return Ok(benchmast_status::None);
        };
        place.write(benchmast_event::from(&event));
        Ok(benchmast_status::Events)
    }))
}

/// When the next head will be overdue unless it is heard before: OK with `*deadline_us` written, or NONE.
///
/// # Safety
/// See the head of this file; `deadline_us` points to a number outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_next_deadline(
    receiver: *mut benchmast_receiver,
    deadline_us: Option<&mut MaybeUninit<u64>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(
        unsafe { open(receiver) }.and_then(|this| match this.receiver.next_deadline() {
            Some(deadline) => put(deadline_us, deadline).map(|()| benchmast_status::Ok),
            None => Ok(benchmast_status::None),
        }),
    )
}

/// The paired head at an index from 0, for your non-volatile memory: OK with `*head` and `*identity` written, or NONE at the end
/// of the list. The order changes when a head is paired or forgotten.
///
/// # Safety
/// See the head of this file; `head` and `identity` point outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_paired(
    receiver: *mut benchmast_receiver,
    index: usize,
    head: Option<&mut MaybeUninit<u32>>,
    identity: Option<&mut MaybeUninit<benchmast_identity>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.and_then(|this| {
        let (head, identity) = head.zip(identity).ok_or(benchmast_status::NullPointer)?;
        let Some((id, settings)) = this.receiver.paired().nth(index) else {
            return Ok(benchmast_status::None);
        };
        head.write(id.0);
        identity.write((&settings).into());
        Ok(benchmast_status::Ok)
    }))
}

/// The serial number waited for at an index from 0: OK with `*serial` written, or NONE at the end of the list.
///
/// # Safety
/// See the head of this file; `serial` points to a number outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_expected(
    receiver: *mut benchmast_receiver,
    index: usize,
    serial: Option<&mut MaybeUninit<u64>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(
        unsafe { open(receiver) }.and_then(|this| match this.receiver.expected().get(index) {
            Some(expected) => put(serial, expected.0).map(|()| benchmast_status::Ok),
            None => Ok(benchmast_status::None),
        }),
    )
}

/// Sum of all tips and of their depth, micrometres, told in events since pairing. NOT_PAIRED.
///
/// # Safety
/// See the head of this file; `tips` and `rain_um` point outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_rain_believed(
    receiver: *mut benchmast_receiver,
    head: u32,
    tips: Option<&mut MaybeUninit<u64>>,
    rain_um: Option<&mut MaybeUninit<u64>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.and_then(|this| {
        let (tips, rain_um) = tips.zip(rain_um).ok_or(benchmast_status::NullPointer)?;
        let head = HeadId(head);
        let believed = this.receiver.tips_believed(head);
        let depth = this.receiver.rain_um_believed(head);
        let (believed, depth) = believed.zip(depth).ok_or(benchmast_status::NotPaired)?;
        tips.write(believed);
        rain_um.write(depth);
        Ok(benchmast_status::Ok)
    }))
}

/// When a paired head was last believed, or taken up: OK with `*time_us` written; NONE before any time was told;
/// NOT_PAIRED.
///
/// # Safety
/// See the head of this file; `time_us` points to a number outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_last_heard(
    receiver: *mut benchmast_receiver,
    head: u32,
    time_us: Option<&mut MaybeUninit<u64>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(unsafe { open(receiver) }.and_then(|this| {
        let head = HeadId(head);
        if this.receiver.identity(head).is_none() {
            return Err(benchmast_status::NotPaired);
        }
        match this.receiver.last_heard(head) {
            Some(heard) => put(time_us, heard).map(|()| benchmast_status::Ok),
            None => Ok(benchmast_status::None),
        }
    }))
}

/// Events lost because nobody polled, into `*count`.
///
/// # Safety
/// See the head of this file; `count` points to a number outside the receiver.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn benchmast_events_lost(
    receiver: *mut benchmast_receiver,
    count: Option<&mut MaybeUninit<u32>>,
) -> benchmast_status {
    // SAFETY: the caller's promise is the same.
    said(
        unsafe { open(receiver) }.and_then(|this| {
            put(count, this.receiver.events_lost()).map(|()| benchmast_status::Ok)
        }),
    )
}
