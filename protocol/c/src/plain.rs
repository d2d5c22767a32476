//! Plain structures for C, and how they are filled.

use benchmast_protocol::frame::{Frame, Health, Identity, Observation, SensorFit, Serial};
use benchmast_protocol::packet::{Packet, ParseError};
use benchmast_protocol::quantity::Quantity;
use benchmast_protocol::receiver::{AdoptError, Event, Refusal};

/// What a call says of itself: 0 or more when it did its work, less than 0 when it did nothing.
#[repr(i32)]
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum benchmast_status {
    /// Done.
    Ok = 0,
    /// Done, and there are events to poll.
    Events = 1,
    /// Done; there is nothing (no event, no deadline, no head at this index).
    None = 2,
    /// A pointer is null that must not be.
    NullPointer = -1,
    /// The receiver's memory is not aligned to eight bytes.
    Misaligned = -2,
    /// The memory is smaller than this library's receiver: header and library do not belong together, or one of
    /// them was made for one head only.
    TooSmall = -3,
    /// `benchmast_init` was not called on this memory.
    NotReady = -4,
    /// Every place for a head is taken, or kept for a serial number that is waited for.
    Full = -5,
    /// The identity holds a number outside its legal range.
    Illegal = -6,
    /// No such head is paired.
    NotPaired = -7,
    /// The bytes are no packet: too short, or the check does not fit.
    Damaged = -8,
    /// The packet's check fits, its format version is another.
    UnknownVersion = -9,
    /// The packet's check and version fit, the rest does not follow the format.
    Malformed = -10,
    /// The packet is well formed and holds a number that no head may send.
    Implausible = -11,
    /// No key is kept for this serial number.
    NoKey = -12,
}

/// What an event tells.
#[repr(u8)]
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum benchmast_tells {
    /// A head was paired, or a paired one has other settings: `identity`.
    Paired = 1,
    /// An observation is believed: `observation`, `rain_known`, `tips_since`, `rain_um`, `intervals_missed`.
    Observation = 2,
    /// A health report is believed: `health`.
    Health = 3,
    /// Believed already, or an identity that says nothing new.
    Duplicate = 4,
    /// Overtaken by a newer one, usable: `frame` says whether `observation` or `health` is filled; `intervals_late`,
    /// `tips_since`, `rain_um`.
    Late = 5,
    /// The head has started anew: `life`.
    Restarted = 6,
    /// A packet is not believed: `why`; `version` and `head` where the reason has them.
    Refused = 7,
    /// Nothing was believed from a head for too long: `last_heard_us`.
    Silent = 8,
}

/// Why a packet is refused.
#[repr(u8)]
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum benchmast_why {
    /// Not refused.
    Nothing = 0,
    /// Too short, or the check does not fit, or no packet at all.
    Damaged = 1,
    /// Another format version: `version`.
    UnknownVersion = 2,
    /// No such head is paired: `head`.
    UnknownHead = 3,
    /// Does not follow the format.
    Malformed = 4,
    /// Says what cannot be.
    Implausible = 5,
    /// Too old to tell late from repeated.
    Stale = 6,
    /// The head has a key, and the packet has no tag or a wrong one.
    Forged = 7,
    /// The tag is right, and the counter was heard before or is too old to tell.
    Replayed = 8,
}

/// Kinds of frames, as on the wire.
#[repr(u8)]
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum benchmast_frame {
    /// None is filled.
    None = 0,
    /// `observation` is filled.
    Observation = 1,
    /// `health` is filled.
    Health = 2,
    /// `identity` is filled.
    Identity = 3,
}

/// Value of a reading that is missing, per field of `benchmast_observation` and `benchmast_health`.
pub const BENCHMAST_MISSING_TEMPERATURE: i16 = -8192;
/// For humidity, pressure, wind speed, gust, direction and the three voltages.
pub const BENCHMAST_MISSING: u16 = 16383;
/// For illuminance.
pub const BENCHMAST_MISSING_ILLUMINANCE: u32 = 2_097_151;
/// For the UV index.
pub const BENCHMAST_MISSING_ULTRAVIOLET: u8 = 255;

/// All readings of one interval, in the steps of the wire; a missing one has the value named above.
#[repr(C)]
#[derive(Clone, Copy, Default)]
pub struct benchmast_observation {
    /// lx.
    pub illuminance_lx: u32,
    /// 1/100 degC.
    pub air_temperature: i16,
    /// 1/10 percent.
    pub relative_humidity: u16,
    /// 1/10 hPa, at the head's height.
    pub air_pressure: u16,
    /// 1/10 m/s, mean over the interval.
    pub wind_speed: u16,
    /// 1/10 m/s, highest short mean.
    pub wind_speed_of_gust: u16,
    /// Degrees clockwise from north, where the wind comes from.
    pub wind_from_direction: u16,
    /// Tips since the head started, modulo 65536.
    pub tips: u16,
    /// 1/10.
    pub ultraviolet_index: u8,
    /// Bits 0 to 3: restarts modulo 16; 4: on reserve cells; 5: store low; 6: reserve cells near their end.
    pub status: u8,
}

/// The state of the head itself.
#[repr(C)]
#[derive(Clone, Copy, Default)]
pub struct benchmast_health {
    /// Seconds since the head started.
    pub uptime_s: u32,
    /// Starts since manufacture, modulo 65536.
    pub restarts: u16,
    /// mV, the regulated rail.
    pub supply_mv: u16,
    /// mV, the store.
    pub store_mv: u16,
    /// mV, the reserve cells in series.
    pub cells_mv: u16,
    /// Firmware revision of the head.
    pub firmware: u16,
    /// Cause of the last start: 1 cells inserted, 2 supply came back, 3 watchdog, 4 button; others may come.
    pub cause: u8,
}

/// Who a head is and how it is set.
#[repr(C)]
#[derive(Clone, Copy, Default)]
pub struct benchmast_identity {
    /// On the label, ten digits at most.
    pub serial: u64,
    /// Revision of the hardware.
    pub hardware: u16,
    /// Sensors fitted, bits 0 to 7: thermometer, hygrometer, barometer, rain gauge, cups, vane, light, ultraviolet.
    pub fit: u16,
    /// Reporting interval, s, 1 to 3600.
    pub interval_s: u16,
    /// Rain depth of one tip, micrometres, 10 to 5000.
    pub bucket_um: u16,
}

/// A packet taken apart, nothing of it believed yet.
#[repr(C)]
#[derive(Clone, Copy)]
pub struct benchmast_packet {
    /// Filled if `frame` says so, else zero.
    pub identity: benchmast_identity,
    /// Filled if `frame` says so, else zero.
    pub observation: benchmast_observation,
    /// Filled if `frame` says so, else zero.
    pub health: benchmast_health,
    /// Radio address of the sender.
    pub head: u32,
    /// Intervals since the head started, modulo 65536.
    pub sequence: u16,
    /// Which of the three is filled.
    pub frame: benchmast_frame,
}

/// One thing the receiver tells. What `tells` does not name is zero.
#[repr(C)]
#[derive(Clone, Copy)]
pub struct benchmast_event {
    /// When a silent head was last heard, by your clock.
    pub last_heard_us: u64,
    /// Filled if `frame` says so, else zero.
    pub identity: benchmast_identity,
    /// Filled if `frame` says so, else zero.
    pub observation: benchmast_observation,
    /// Filled if `frame` says so, else zero.
    pub health: benchmast_health,
    /// Radio address of the head; 0 in most refusals.
    pub head: u32,
    /// Depth of `tips_since`, micrometres.
    pub rain_um: u32,
    /// Intervals not heard between the last observation believed and this one.
    pub intervals_missed: u32,
    /// How many intervals before the newest one believed.
    pub intervals_late: u32,
    /// Intervals since the head started, modulo 65536.
    pub sequence: u16,
    /// Tips since the last observation believed; 0 where `rain_known` is 0.
    pub tips_since: u16,
    /// What this event tells.
    pub tells: benchmast_tells,
    /// Which of the three frames is filled.
    pub frame: benchmast_frame,
    /// Why a packet is refused.
    pub why: benchmast_why,
    /// Format version of a packet refused for it.
    pub version: u8,
    /// Restarts modulo 16, of a head that restarted.
    pub life: u8,
    /// 1 if `tips_since` counts from something; 0 for an observation without a base, or without a rain gauge: its rain is
    /// then not known, which is not 0.
    pub rain_known: u8,
}

/// Where a frame is put, in an event or a packet.
struct Place<'p> {
    frame: &'p mut benchmast_frame,
    observation: &'p mut benchmast_observation,
    health: &'p mut benchmast_health,
    identity: &'p mut benchmast_identity,
}

impl Place<'_> {
    fn fill(self, frame: &Frame) {
        match frame {
            Frame::Observation(observation) => {
                *self.frame = benchmast_frame::Observation;
                *self.observation = observation.into();
            }
            Frame::Health(health) => {
                *self.frame = benchmast_frame::Health;
                *self.health = health.into();
            }
            Frame::Identity(identity) => {
                *self.frame = benchmast_frame::Identity;
                *self.identity = identity.into();
            }
        }
    }
}

impl From<&Observation> for benchmast_observation {
    fn from(observation: &Observation) -> Self {
        // The steps are those of the wire, whose widths are these.
        Self {
            illuminance_lx: observation.illuminance.raw() as u32,
            air_temperature: observation.air_temperature.raw() as i16,
            relative_humidity: observation.relative_humidity.raw() as u16,
            air_pressure: observation.air_pressure.raw() as u16,
            wind_speed: observation.wind_speed.raw() as u16,
            wind_speed_of_gust: observation.wind_speed_of_gust.raw() as u16,
            wind_from_direction: observation.wind_from_direction.raw() as u16,
            tips: observation.tips,
            ultraviolet_index: observation.ultraviolet_index.raw() as u8,
            status: observation.status.bits(),
        }
    }
}

impl From<&Health> for benchmast_health {
    fn from(health: &Health) -> Self {
        Self {
            uptime_s: health.uptime_s,
            restarts: health.restarts,
            supply_mv: health.supply.raw() as u16,
            store_mv: health.store.raw() as u16,
            cells_mv: health.cells.raw() as u16,
            firmware: health.firmware,
            cause: health.cause.0,
        }
    }
}

impl From<&Identity> for benchmast_identity {
    fn from(identity: &Identity) -> Self {
        Self {
            serial: identity.serial.0,
            hardware: identity.hardware,
            fit: identity.fit.0,
            interval_s: identity.interval_s,
            bucket_um: identity.bucket_um,
        }
    }
}

impl From<&benchmast_identity> for Identity {
    fn from(identity: &benchmast_identity) -> Self {
        Self {
            serial: Serial(identity.serial),
            hardware: identity.hardware,
            fit: SensorFit(identity.fit),
            interval_s: identity.interval_s,
            bucket_um: identity.bucket_um,
        }
    }
}

impl From<&Packet> for benchmast_packet {
    fn from(packet: &Packet) -> Self {
        let mut plain = Self {
            identity: benchmast_identity::default(),
            observation: benchmast_observation::default(),
            health: benchmast_health::default(),
            head: packet.head.0,
            sequence: packet.sequence,
            frame: benchmast_frame::None,
        };
        Place {
            frame: &mut plain.frame,
            observation: &mut plain.observation,
            health: &mut plain.health,
            identity: &mut plain.identity,
        }
        .fill(&packet.frame);
        plain
    }
}

impl From<ParseError> for benchmast_status {
    fn from(error: ParseError) -> Self {
        match error {
            ParseError::Damaged => Self::Damaged,
            ParseError::UnknownVersion(_) => Self::UnknownVersion,
            ParseError::Malformed => Self::Malformed,
        }
    }
}

impl From<AdoptError> for benchmast_status {
    fn from(error: AdoptError) -> Self {
        match error {
            AdoptError::Full => Self::Full,
            AdoptError::Illegal => Self::Illegal,
        }
    }
}

impl benchmast_event {
    fn telling(tells: benchmast_tells) -> Self {
        Self {
            last_heard_us: 0,
            identity: benchmast_identity::default(),
            observation: benchmast_observation::default(),
            health: benchmast_health::default(),
            head: 0,
            rain_um: 0,
            intervals_missed: 0,
            intervals_late: 0,
            sequence: 0,
            tips_since: 0,
            tells,
            frame: benchmast_frame::None,
            why: benchmast_why::Nothing,
            version: 0,
            life: 0,
            rain_known: 0,
        }
    }

    fn fill(&mut self, frame: &Frame) {
        Place {
            frame: &mut self.frame,
            observation: &mut self.observation,
            health: &mut self.health,
            identity: &mut self.identity,
        }
        .fill(frame);
    }

    fn refuse(&mut self, refusal: Refusal) {
        self.why = match refusal {
            Refusal::Damaged => benchmast_why::Damaged,
            Refusal::UnknownVersion(version) => {
                self.version = version;
                benchmast_why::UnknownVersion
            }
            Refusal::UnknownHead(head) => {
                self.head = head.0;
                benchmast_why::UnknownHead
            }
            Refusal::Malformed => benchmast_why::Malformed,
            Refusal::Implausible => benchmast_why::Implausible,
            Refusal::Stale => benchmast_why::Stale,
            Refusal::Forged => benchmast_why::Forged,
            Refusal::Replayed => benchmast_why::Replayed,
        };
    }
}

impl From<&Event> for benchmast_event {
    fn from(event: &Event) -> Self {
        let mut plain = Self::telling(match event {
            Event::Paired { .. } => benchmast_tells::Paired,
            Event::Observation(_) => benchmast_tells::Observation,
            Event::Health { .. } => benchmast_tells::Health,
            Event::Duplicate { .. } => benchmast_tells::Duplicate,
            Event::Late { .. } => benchmast_tells::Late,
            Event::Restarted { .. } => benchmast_tells::Restarted,
            Event::Refused(_) => benchmast_tells::Refused,
            Event::Silent { .. } => benchmast_tells::Silent,
        });
        match event {
            Event::Paired { head, identity } => {
                plain.head = head.0;
                plain.fill(&Frame::Identity(*identity));
            }
            Event::Observation(believed) => {
                plain.head = believed.head.0;
                plain.sequence = believed.sequence;
                plain.rain_known = u8::from(believed.tips_since.is_some());
                plain.tips_since = believed.tips_since.unwrap_or(0);
                plain.rain_um = believed.rain_um.unwrap_or(0);
                plain.intervals_missed = believed.intervals_missed;
                plain.fill(&Frame::Observation(believed.observation));
            }
            Event::Health {
                head,
                sequence,
                health,
            } => {
                plain.head = head.0;
                plain.sequence = *sequence;
                plain.fill(&Frame::Health(*health));
            }
            Event::Duplicate { head, sequence } => {
                plain.head = head.0;
                plain.sequence = *sequence;
            }
            Event::Late {
                head,
                sequence,
                intervals_late,
                frame,
                tips_since,
                rain_um,
            } => {
                plain.head = head.0;
                plain.sequence = *sequence;
                plain.intervals_late = *intervals_late;
                plain.rain_known = 1;
                plain.tips_since = *tips_since;
                plain.rain_um = *rain_um;
                plain.fill(frame);
            }
            Event::Restarted { head, life } => {
                plain.head = head.0;
                plain.life = *life;
            }
            Event::Refused(refusal) => plain.refuse(*refusal),
            Event::Silent { head, last_heard } => {
                plain.head = head.0;
                plain.last_heard_us = *last_heard;
            }
        }
        plain
    }
}
