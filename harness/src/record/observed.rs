//! What the receiver believed: `observed` and `observed_health`.

use super::readings::{reported, wire_steps};
use super::writer::TableWriter;
use crate::row::Sink;
use benchmast_protocol::frame::Health;
use benchmast_protocol::receiver::{Believed, Event};
use std::io;

/// The tables of what was believed.
pub(super) struct Observed {
    pub(super) observations: TableWriter,
    pub(super) health: TableWriter,
}

impl Observed {
    fn believe(&mut self, time_us: i64, signal_dbm: f64, believed: &Believed) -> io::Result<()> {
        let observation = &believed.observation;
        let block = self.observations.block();
        block.whole(time_us);
        block.whole(i64::from(believed.head.0));
        block.whole(i64::from(believed.sequence));
        block.whole(i64::from(observation.status.life()));
        for steps in reported(observation, believed.tips_since.map(i32::from)) {
            block.steps(steps);
        }
        block.whole(i64::from(observation.tips));
        block.whole(i64::from(believed.intervals_missed));
        block.whole(i64::from(observation.status.on_cells()));
        block.whole(i64::from(observation.status.store_low()));
        block.whole(i64::from(observation.status.cells_low()));
        block.real(signal_dbm);
        self.observations.row_done()
    }

    fn believe_health(
        &mut self,
        time_us: i64,
        head: u32,
        sequence: u16,
        health: &Health,
    ) -> io::Result<()> {
        let block = self.health.block();
        block.whole(time_us);
        block.whole(i64::from(head));
        block.whole(i64::from(sequence));
        block.whole(i64::from(health.restarts));
        block.whole(i64::from(health.cause.0));
        block.whole(i64::from(health.uptime_s));
        block.steps(wire_steps(health.supply));
        block.steps(wire_steps(health.store));
        block.steps(wire_steps(health.cells));
        block.whole(i64::from(health.firmware));
        self.health.row_done()
    }
}

impl Sink for Observed {
    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        match event {
            Event::Observation(believed) => self.believe(time_us, signal_dbm, believed),
            Event::Health {
                head,
                sequence,
                health,
            } => self.believe_health(time_us, head.0, *sequence, health),
            _ => Ok(()),
        }
    }
}
