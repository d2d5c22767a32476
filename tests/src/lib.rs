//! Judges of simulated weather: real records and simulated ones, described by the same numbers.
//!
//! The binaries print tables: `believe` (an open hourly year beside ten simulated ones), `minute_table` and
//! `region_table`.

pub mod airport;
pub mod believe;
pub mod gallery;
pub mod hourly;
pub mod minutes;
pub mod neighbours;
pub mod open_year;
pub mod rain_statistics;
pub mod sample;
pub mod simulate;
pub mod statistics;
pub mod wrong;
