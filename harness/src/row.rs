//! What one interval of a run leaves behind; every record, plot and label is made from these.

use crate::link::Arrival;
use crate::room;
use benchmast_protocol::receiver::Event;
use benchmast_sim::station::Step;
use benchmast_sim::truth::Truth;
use std::io;

/// One interval: truth, twin and actual reading, and the faults that were active.
#[derive(Debug, Clone, Copy)]
pub struct Row<'r> {
    /// Free air.
    pub truth: &'r Truth,
    /// Both heads.
    pub step: &'r Step,
    /// One bit per fault of the run ([`crate::faults::Causes`]), set while its severity is above 0.
    pub causes: u64,
}

/// Where a run's results go. Calls come in order of time; what a sink does not care for it leaves out.
pub trait Sink {
    /// One interval has ended.
    ///
    /// # Errors
    /// What the sink's file says.
    fn interval(&mut self, _row: &Row<'_>) -> io::Result<()> {
        Ok(())
    }
    /// A packet leaves the head (or the neighbour's).
    ///
    /// # Errors
    /// What the sink's file says.
    fn sent(&mut self, _time_us: i64, _bytes: &[u8]) -> io::Result<()> {
        Ok(())
    }
    /// A packet arrives at the antenna.
    ///
    /// # Errors
    /// What the sink's file says.
    fn heard(&mut self, _arrival: &Arrival) -> io::Result<()> {
        Ok(())
    }
    /// The receiver has made up its mind.
    ///
    /// # Errors
    /// What the sink's file says.
    fn event(&mut self, _time_us: i64, _signal_dbm: f64, _event: &Event) -> io::Result<()> {
        Ok(())
    }
    /// The receiver's surroundings, now and then, where they are not perfect.
    ///
    /// # Errors
    /// What the sink's file says.
    fn room(&mut self, _state: &room::State) -> io::Result<()> {
        Ok(())
    }
}

impl<S: Sink> Sink for Option<S> {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.as_mut().map_or(Ok(()), |sink| sink.interval(row))
    }
    fn sent(&mut self, time_us: i64, bytes: &[u8]) -> io::Result<()> {
        self.as_mut()
            .map_or(Ok(()), |sink| sink.sent(time_us, bytes))
    }
    fn heard(&mut self, arrival: &Arrival) -> io::Result<()> {
        self.as_mut().map_or(Ok(()), |sink| sink.heard(arrival))
    }
    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        self.as_mut()
            .map_or(Ok(()), |sink| sink.event(time_us, signal_dbm, event))
    }
    fn room(&mut self, state: &room::State) -> io::Result<()> {
        self.as_mut().map_or(Ok(()), |sink| sink.room(state))
    }
}

impl<S: Sink + ?Sized> Sink for &mut S {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        (**self).interval(row)
    }
    fn sent(&mut self, time_us: i64, bytes: &[u8]) -> io::Result<()> {
        (**self).sent(time_us, bytes)
    }
    fn heard(&mut self, arrival: &Arrival) -> io::Result<()> {
        (**self).heard(arrival)
    }
    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        (**self).event(time_us, signal_dbm, event)
    }
    fn room(&mut self, state: &room::State) -> io::Result<()> {
        (**self).room(state)
    }
}

/// Both sinks, one after the other.
impl<A: Sink, B: Sink> Sink for (A, B) {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.0.interval(row)?;
        self.1.interval(row)
    }
    fn sent(&mut self, time_us: i64, bytes: &[u8]) -> io::Result<()> {
        self.0.sent(time_us, bytes)?;
        self.1.sent(time_us, bytes)
    }
    fn heard(&mut self, arrival: &Arrival) -> io::Result<()> {
        self.0.heard(arrival)?;
        self.1.heard(arrival)
    }
    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        self.0.event(time_us, signal_dbm, event)?;
        self.1.event(time_us, signal_dbm, event)
    }
    fn room(&mut self, state: &room::State) -> io::Result<()> {
        self.0.room(state)?;
        self.1.room(state)
    }
}
