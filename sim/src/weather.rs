//! The weather at a point: truth in free air.

pub mod climate;
pub mod recorded;

use crate::truth::Truth;

/// Where the truth comes from.
#[derive(Debug)]
pub enum Weather {}

impl Weather {
    /// Truth over the interval from the last call (or the start) to `until_us`.
    pub fn advance(&mut self, until_us: i64) -> Truth {
        let _ = until_us;
        match *self {}
    }
}
