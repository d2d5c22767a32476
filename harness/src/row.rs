//! What one interval of a run leaves behind; every record, plot and label is made from these.

use crate::link::Arrival;
use benchmast_protocol::receiver::Event;
use benchmast_sim::station::Step;
use benchmast_sim::truth::Truth;

/// One interval: truth, twin and actual reading, and the faults that were active.
#[derive(Debug, Clone, Copy)]
pub struct Row<'r> {
    /// Free air.
    pub truth: &'r Truth,
    /// Both heads.
    pub step: &'r Step,
    /// One bit per fault of the catalogue, set while it is active with a severity above 0.
    pub causes: u64,
}

/// Where a run's results go. Calls come in order of time.
pub trait Sink {
    /// One interval has ended.
    ///
    /// # Errors
    /// What the sink's file says.
    fn interval(&mut self, row: &Row<'_>) -> std::io::Result<()>;
    /// A packet leaves the head (or the neighbour's).
    ///
    /// # Errors
    /// What the sink's file says.
    fn sent(&mut self, _time_us: i64, _bytes: &[u8]) -> std::io::Result<()> {
        Ok(())
    }
    /// A packet arrives at the antenna.
    ///
    /// # Errors
    /// What the sink's file says.
    fn heard(&mut self, _arrival: &Arrival) -> std::io::Result<()> {
        Ok(())
    }
    /// The receiver has made up its mind.
    ///
    /// # Errors
    /// What the sink's file says.
    fn event(&mut self, _time_us: i64, _signal_dbm: f64, _event: &Event) -> std::io::Result<()> {
        Ok(())
    }
}
