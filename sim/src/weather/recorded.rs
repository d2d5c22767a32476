//! stub

use super::knot::Knot;
use super::rain::Fall;
use crate::entropy::Seed;
use crate::site::Place;

/// One record. What was not observed is `None` and is filled in from its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Record {
    /// When, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
}
/// x
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RecordError {}
#[derive(Debug, Clone)]
pub(crate) struct Recorded;
impl Recorded {
    pub(crate) fn new(_: &[Record], _: f64, _: Place, _: Seed, _: &str, _: f64) -> Result<Self, RecordError> { Ok(Self) }
    pub(crate) fn next_knot(&mut self) -> Knot { Knot::default() }
    pub(crate) fn fall(&mut self, _: f64, _: f64) -> Fall { Fall::default() }
}
