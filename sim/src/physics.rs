//! The trade's equations, each with its source and validity.

pub mod atmosphere;
pub mod moist_air;
pub mod sun;
