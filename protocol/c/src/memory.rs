//! Between C's pointers and references: the one place that has to believe what a caller promises.

use crate::plain::benchmast_status;
use benchmast_protocol::receiver::{Config, Receiver};
use benchmast_protocol::stream::Deframer;
use core::mem::{MaybeUninit, align_of, size_of};

/// Heads that one receiver can be paired with.
#[cfg(not(feature = "one-head"))]
pub const BENCHMAST_HEADS: usize = 4;
/// Heads that one receiver can be paired with.
#[cfg(feature = "one-head")]
pub const BENCHMAST_HEADS: usize = 1;

/// Size of a receiver in words of eight bytes.
#[cfg(not(feature = "one-head"))]
pub const BENCHMAST_RECEIVER_WORDS: usize = 152;
/// Size of a receiver in words of eight bytes.
#[cfg(feature = "one-head")]
pub const BENCHMAST_RECEIVER_WORDS: usize = 64;

/// The memory of one receiver. Only its size and alignment are for you to use: put one where you like (static, on the
/// stack, in a block of your own), give it to `benchmast_init`, and hand its address to every other call. It
/// holds no pointer, not even to itself, and needs no end: it may be copied as a whole, moved or dropped.
#[repr(C)]
pub struct benchmast_receiver {
    /// Not for you to read or write.
    opaque: [u64; BENCHMAST_RECEIVER_WORDS],
}

/// Stands at the start of memory that holds a receiver.
const READY: u64 = 0x6265_6e63_686d_0001;

/// What is in the memory.
#[repr(C)]
pub(crate) struct Handle {
    ready: u64,
    pub(crate) receiver: Receiver<BENCHMAST_HEADS>,
    pub(crate) deframer: Deframer,
}

/// Bytes needed, and their alignment.
pub(crate) const SIZE: usize = size_of::<Handle>();
pub(crate) const ALIGNMENT: usize = align_of::<Handle>();

const _: () = assert!(
    size_of::<Handle>() <= size_of::<benchmast_receiver>(),
    "BENCHMAST_RECEIVER_WORDS is too small: enlarge it and write the header anew"
);
const _: () = assert!(align_of::<Handle>() <= align_of::<benchmast_receiver>());

/// Make a receiver in the caller's memory.
///
/// # Safety
/// `memory` is null or points to `size` bytes that the caller may write and nobody else uses meanwhile.
pub(crate) unsafe fn make(
    memory: *mut benchmast_receiver,
    size: usize,
    config: Config,
) -> benchmast_status {
    let place = memory.cast::<Handle>();
    if place.is_null() {
        return benchmast_status::NullPointer;
    }
    if !place.is_aligned() {
        return benchmast_status::Misaligned;
    }
    if size < size_of::<Handle>() {
        return benchmast_status::TooSmall;
    }
    let handle = Handle {
        ready: READY,
        receiver: Receiver::new(config),
        deframer: Deframer::new(),
    };
    // SAFETY: not null, aligned, and large enough, as just seen; writable by the caller's promise. What was there is
    // overwritten, not dropped: nothing in a receiver needs to be dropped.
    unsafe { place.write(handle) };
    benchmast_status::Ok
}

/// The receiver in the caller's memory.
///
/// # Safety
/// `memory` is null or points to a whole `benchmast_receiver` whose bytes have been written at some time, and that nobody
/// else uses for the lifetime of what is returned, which ends with the call from C.
pub(crate) unsafe fn open<'call>(
    memory: *mut benchmast_receiver,
) -> Result<&'call mut Handle, benchmast_status> {
    let place = memory.cast::<Handle>();
    if place.is_null() {
        return Err(benchmast_status::NullPointer);
    }
    if !place.is_aligned() {
        return Err(benchmast_status::Misaligned);
    }
    // SAFETY: not null and aligned, as just seen; the first field of `Handle` is a plain number.
    if unsafe { place.cast::<u64>().read() } != READY {
        return Err(benchmast_status::NotReady);
    }
    // SAFETY: only `make` writes that mark, with a whole handle behind it; used by nobody else by the caller's promise.
    Ok(unsafe { &mut *place })
}

/// Bytes that the caller lends for this call.
///
/// # Safety
/// `bytes` is null or points to `length` bytes that nobody writes for the lifetime of what is returned, which ends
/// with the call from C.
pub(crate) unsafe fn lent<'call>(
    bytes: *const u8,
    length: usize,
) -> Result<&'call [u8], benchmast_status> {
    if length == 0 {
        return Ok(&[]);
    }
    if bytes.is_null() {
        return Err(benchmast_status::NullPointer);
    }
    if length > isize::MAX as usize {
        return Err(benchmast_status::TooSmall);
    }
    // SAFETY: not null, bytes need no alignment, the length is one that an object can have; the rest is promised.
    Ok(unsafe { core::slice::from_raw_parts(bytes, length) })
}

/// Put a result where the caller wants it.
pub(crate) fn put<T>(place: Option<&mut MaybeUninit<T>>, value: T) -> Result<(), benchmast_status> {
    place.ok_or(benchmast_status::NullPointer)?.write(value);
    Ok(())
}
