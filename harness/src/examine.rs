//! The examination of receivers: cases numbered by clause of WIRE.md, put to a receiver in any language.
//!
//! The receiver is a child process ([`child`]); how the two talk is in `protocol/EXAMINATION.md`. A [`script::Case`]
//! is data: steps and what must be said to each. [`cases`] makes them, from the vectors and from generators;
//! [`judge`] puts one to an [`judge::Examinee`] and tells what came of it. The protocol crate's own receiver is
//! an examinee too ([`reference`](mod@reference)): it answers for the cases, and is the oracle of the random ones.

pub mod cases;
pub mod child;
pub mod judge;
pub mod message;
pub mod reference;
pub mod script;
pub mod told;

/// Version of the messages, as EXAMINATION.md has it.
pub const EXAMINATION: u8 = 1;
