//! The weather, the site, the sensor head and its power: pure computation.
//!
//! Time and entropy are arguments. There is no clock, no global generator and no hash-map order in this
//! crate (its `clippy.toml` forbids them), and transcendental functions come from [`libm`], not from the
//! platform, so that the same seed gives the same bytes on every machine.
//!
//! The road: [`weather`] (truth in free air) → [`site`] (what reaches the head) → [`head`] (what the
//! sensors report) → [`station`] (the actual head and its healthy twin, step by step).
//! [`condition`] holds every property of it that can go wrong.

pub mod condition;
pub mod entropy;
pub mod head;
pub mod physics;
pub mod site;
pub mod station;
pub mod truth;
pub mod weather;
