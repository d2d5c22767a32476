//! The trade's equations, each with its source and validity.

pub mod atmosphere;
pub mod light;
pub mod moist_air;
pub mod radio;
pub mod saturation_table;
pub mod sun;
pub mod wind_profile;
