//! The wire between a head and its receiver: quantities, frames, packets, byte streams and the
//! receiver's own logic.
//!
//! `no_std`, no allocator, no unsafe code. **Panic contract:** no function of this crate panics on
//! any input, whatever the bytes, the time or the order of calls; what cannot be believed comes back
//! as an error or an event. The normative text of the format is `WIRE.md` beside this crate's
//! manifest; where code and text differ, that is a bug of one of them.
//!
//! Road through the crate, outermost last:
//! [`quantity`] (fixed-point values) → [`frame`] (three bodies) → [`packet`] (header, body, check) →
//! [`stream`] (packets on a byte stream) → [`receiver`] (what is believed). With the feature `tags`, on unless switched
//! off, `tag` makes and judges authenticated packets.
#![no_std]

#[cfg(test)]
extern crate std;

pub mod frame;
mod numbers;
pub mod packet;
pub mod quantity;
pub mod receiver;
pub mod stream;
#[cfg(feature = "tags")]
pub mod tag;
