//! The wire format, checked against its document, its vector files and the outside.

mod check;
mod codec;
mod dialogues;
mod document;
mod loss;
mod model;
mod noise;
mod quantities;
mod samples;
mod streams;
#[cfg(feature = "tags")]
mod tags;
mod vectors;
