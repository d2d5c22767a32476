//! Faults: schedules on the knobs of the head's condition.

use benchmast_sim::condition::Condition;

/// One entry of the catalogue.
#[derive(Debug)]
pub struct Fault {
    /// Our own word for it.
    pub id: &'static str,
    /// Its bit in the cause mask of the key.
    pub bit: u32,
    /// What happens.
    pub what: &'static str,
    /// Turn the knobs: severity 0 leaves every knob exactly as it was, 1 is the worst.
    pub apply: fn(&mut Condition, f64),
}

/// How a fault sets in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// At once.
    Step,
    /// Linearly from 0 to its severity over this time, s.
    Ramp {
        /// Duration of the ramp, s.
        over_s: f64,
    },
    /// On for a share of each period, off for the rest.
    Intermittent {
        /// Length of a period, s.
        period_s: f64,
        /// Share of the period in which it is on, 0 to 1.
        duty: f64,
    },
}

/// One stretch of one fault.
#[derive(Debug, Clone, Copy)]
pub struct Episode {
    /// Which fault.
    pub fault: &'static Fault,
    /// When it sets in, microseconds since 1970-01-01T00:00:00Z.
    pub onset_us: i64,
    /// When it is put right; `None` for never.
    pub end_us: Option<i64>,
    /// How it sets in.
    pub shape: Shape,
    /// How bad it gets, 0 to 1.
    pub severity: f64,
}

impl PartialEq for Episode {
    fn eq(&self, other: &Self) -> bool {
        self.fault.id == other.fault.id
            && self.onset_us == other.onset_us
            && self.end_us == other.end_us
            && self.shape == other.shape
            && self.severity.total_cmp(&other.severity).is_eq()
    }
}

/// All faults, in the order of their bits.
pub const CATALOGUE: &[&Fault] = &[];

/// A fault by its id.
#[must_use]
pub fn by_id(id: &str) -> Option<&'static Fault> {
    CATALOGUE.iter().copied().find(|fault| fault.id == id)
}
