//! The receiver for programs in C: fixed memory that the caller gives, no allocation, no panic, no unwinding.
//!
//! Everything that C sees is in the header `include/benchmast.h`, which is generated from this source; its text
//! is written here, for readers of C. [`memory`] holds what is unsafe about it.
#![no_std]
#![expect(
    non_camel_case_types,
    reason = "the names of the types are those that C sees"
)]

#[cfg(feature = "tags")]
pub mod keys;
pub mod memory;
pub mod packet;
pub mod plain;
pub mod receiver;

/// Nothing comes here: for bare metal, where the protocol crate builds no larger tables, the symbols prove it.
#[panic_handler]
fn never(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {}
}
