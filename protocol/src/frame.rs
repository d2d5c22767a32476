//! The three frames a head sends, each the body of one packet.

pub mod health;
pub mod identity;
pub mod observation;

pub use health::{Health, RestartCause};
pub use identity::{Identity, SensorFit, Serial};
pub use observation::{Observation, Status};

/// What a packet carries; the low three bits of its first byte.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Kind {
    /// All readings of one reporting interval.
    Observation = 1,
    /// Supply, restarts, uptime and firmware.
    Health = 2,
    /// Serial number, fit and settings, for pairing.
    Identity = 3,
}

impl Kind {
    /// The kind of a wire code, if there is one.
    #[must_use]
    pub const fn from_code(code: u8) -> Option<Self> {
        match code {
            1 => Some(Self::Observation),
            2 => Some(Self::Health),
            3 => Some(Self::Identity),
            _ => None,
        }
    }
    /// The wire code.
    #[must_use]
    pub const fn code(self) -> u8 {
        self as u8
    }
}

/// One decoded body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Frame {
    /// All readings of one reporting interval.
    Observation(Observation),
    /// Supply, restarts, uptime and firmware.
    Health(Health),
    /// Serial number, fit and settings, for pairing.
    Identity(Identity),
}

impl Frame {
    /// Which kind of packet carries this frame.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Observation(_) => Kind::Observation,
            Self::Health(_) => Kind::Health,
            Self::Identity(_) => Kind::Identity,
        }
    }
    /// Whether every value is one that a sender may emit.
    #[must_use]
    pub fn is_legal(&self) -> bool {
        match self {
            Self::Observation(observation) => observation.is_legal(),
            Self::Health(health) => health.is_legal(),
            Self::Identity(identity) => identity.is_legal(),
        }
    }
}
