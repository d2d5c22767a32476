//! What the receiver believed: `observed` and `observed_health`.

use super::readings::{reported, wire_steps};
use super::writer::TableWriter;
use crate::room;
use crate::row::Sink;
use benchmast_protocol::frame::{Frame, Health, Observation};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::Event;
use std::io;

/// The tables of what was believed.
pub(super) struct Observed {
    pub(super) observations: TableWriter,
    pub(super) health: TableWriter,
    /// `None` where nothing can go wrong with the receiver's surroundings.
    pub(super) receiver: Option<TableWriter>,
}

/// One observation as it came.
struct ObservedRow<'o> {
    time_us: i64,
    signal_dbm: f64,
    head: HeadId,
    sequence: u16,
    observation: &'o Observation,
    tips_since: Option<u16>,
    intervals_missed: u32,
    intervals_late: u32,
}

impl Observed {
    fn believe(&mut self, row: &ObservedRow<'_>) -> io::Result<()> {
        let observation = row.observation;
        let mut cells = self
            .observations
            .block()
            .row()
            .whole(row.time_us)
            .whole(i64::from(row.head.0))
            .whole(i64::from(row.sequence))
            .whole(i64::from(observation.status.life()));
        for steps in reported(observation, row.tips_since.map(i32::from)) {
            cells = cells.steps(steps);
        }
        cells
            .whole(i64::from(observation.tips))
            .whole(i64::from(row.intervals_missed))
            .whole(i64::from(row.intervals_late))
            .whole(i64::from(observation.status.on_cells()))
            .whole(i64::from(observation.status.store_low()))
            .whole(i64::from(observation.status.cells_low()))
            .real(row.signal_dbm)
            .end();
        self.observations.row_done()
    }

    fn believe_health(
        &mut self,
        time_us: i64,
        head: u32,
        sequence: u16,
        health: &Health,
    ) -> io::Result<()> {
        let cells = self.health.block().row();
        cells
            .whole(time_us)
            .whole(i64::from(head))
            .whole(i64::from(sequence))
            .whole(i64::from(health.restarts))
            .whole(i64::from(health.cause.0))
            .whole(i64::from(health.uptime_s))
            .steps(wire_steps(health.supply))
            .steps(wire_steps(health.store))
            .steps(wire_steps(health.cells))
            .whole(i64::from(health.firmware))
            .end();
        self.health.row_done()
    }
}

impl Sink for Observed {
    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        match event {
            Event::Observation(believed) => self.believe(&ObservedRow {
                time_us,
                signal_dbm,
                head: believed.head,
                sequence: believed.sequence,
                observation: &believed.observation,
                tips_since: believed.tips_since,
                intervals_missed: believed.intervals_missed,
                intervals_late: 0,
            }),
            // Overtaken, but as good as any other; the column says how late.
            Event::Late {
                head,
                sequence,
                intervals_late,
                frame: Frame::Observation(observation),
                tips_since,
                ..
            } => self.believe(&ObservedRow {
                time_us,
                signal_dbm,
                head: *head,
                sequence: *sequence,
                observation,
                tips_since: Some(*tips_since),
                intervals_missed: 0,
                intervals_late: *intervals_late,
            }),
            Event::Health {
                head,
                sequence,
                health,
            } => self.believe_health(time_us, head.0, *sequence, health),
            _ => Ok(()),
        }
    }

    fn room(&mut self, state: &room::State) -> io::Result<()> {
        let Some(table) = &mut self.receiver else {
            return Ok(());
        };
        let fix = state.fix.filter(room::sky::Fix::is_fix);
        let cells = table.block().row();
        cells
            .whole(state.time_us)
            .whole(i64::from(state.mains))
            .whole(i64::from(state.running))
            .real(state.battery_hours)
            .whole(i64::from(state.backhaul))
            .whole(state.fix.map_or(0, |fix| i64::from(fix.satellites)))
            .real(fix.map_or(f64::NAN, |fix| fix.horizontal_dilution))
            .real(fix.map_or(f64::NAN, |fix| fix.east_m))
            .real(fix.map_or(f64::NAN, |fix| fix.north_m))
            .real(state.clock_offset_s)
            .whole(i64::from(state.backlog))
            .real(state.behind_s)
            .whole(i64::from(state.overflowed))
            .end();
        table.row_done()
    }
}
