//! What is kept of one paired head.

use super::Config;
use super::counter::Pace;
use super::event::Micros;
use super::ledger::Ledger;
use crate::frame::{Identity, SensorFit};
use crate::packet::HeadId;

/// Whether silence has been noticed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Watch {
    /// The time of taking up is not known yet.
    Unset,
    Armed,
    Told,
}

#[derive(Debug, Clone)]
pub(super) struct Head {
    pub(super) identity: Identity,
    pub(super) ledger: Ledger,
    pub(super) last_heard: Micros,
    pub(super) tips_believed: u64,
    pub(super) rain_um_believed: u64,
    pub(super) id: HeadId,
    pub(super) watch: Watch,
}

impl Head {
    pub(super) fn new(id: HeadId, identity: Identity) -> Self {
        Self {
            identity,
            ledger: Ledger::default(),
            last_heard: 0,
            tips_believed: 0,
            rain_um_believed: 0,
            id,
            watch: Watch::Unset,
        }
    }

    pub(super) fn pace(&self) -> Pace {
        Pace {
            interval_s: self.identity.interval_s,
            bucket_um: self.identity.bucket_um,
        }
    }

    pub(super) fn has_rain_gauge(&self) -> bool {
        self.identity.fit.has(SensorFit::RAIN_GAUGE)
    }

    /// Count tips; their depth, micrometres.
    pub(super) fn count(&mut self, tips: u16) -> u32 {
        let rain_um = u32::from(tips) * u32::from(self.identity.bucket_um);
        self.tips_believed = self.tips_believed.saturating_add(u64::from(tips));
        self.rain_um_believed = self.rain_um_believed.saturating_add(u64::from(rain_um));
        rain_um
    }

    pub(super) fn deadline(&self, config: Config) -> Option<Micros> {
        let limit_us =
            u64::from(config.silent_after) * u64::from(self.identity.interval_s) * 1_000_000;
        (limit_us > 0 && self.watch == Watch::Armed)
            .then(|| self.last_heard.saturating_add(limit_us))
    }

    pub(super) fn is_overdue(&self, config: Config, now: Micros) -> bool {
        self.deadline(config)
            .is_some_and(|deadline| now >= deadline)
    }
}
