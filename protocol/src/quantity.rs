//! The one table of quantities, and the fixed-point values that travel on the wire.
//!
//! Name, unit, CF standard name, wire step, legal range, tolerance and plausible range of every
//! variable are stated here once; column headers, reports, wire fields and limits are taken from here.

use core::fmt;

/// How far a healthy sensor may be from the truth: the larger of the two parts counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Absolute part, in the quantity's unit.
    pub absolute: f64,
    /// Relative part, as a fraction of the value.
    pub relative: f64,
}

/// Everything that is known about one variable: one row of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Specification {
    /// Column name: the CF standard name where one exists, else a plain name with the unit as suffix.
    pub name: &'static str,
    /// Name for people, for axis labels and messages.
    pub title: &'static str,
    /// Unit in UDUNITS spelling.
    pub unit: &'static str,
    /// CF standard name (standard name table 93), or `None` where CF has none.
    pub cf_standard_name: Option<&'static str>,
    /// CF cell method over the reporting interval.
    pub cell_methods: &'static str,
    /// One wire step in `unit`, as a fraction `numerator / denominator`.
    pub step: (u32, u32),
    /// Smallest legal wire value, in steps.
    pub raw_min: i64,
    /// Largest legal wire value, in steps.
    pub raw_max: i64,
    /// Wire value that says "no reading".
    pub raw_missing: i64,
    /// Tolerance of a healthy sensor.
    pub tolerance: Tolerance,
}

impl Specification {
    /// One wire step in the quantity's unit.
    #[must_use]
    pub fn step_si(&self) -> f64 {
        f64::from(self.step.0) / f64::from(self.step.1)
    }
    /// Smallest legal value in the quantity's unit.
    #[must_use]
    pub fn min_si(&self) -> f64 {
        self.raw_min as f64 * f64::from(self.step.0) / f64::from(self.step.1)
    }
    /// Largest legal value in the quantity's unit.
    #[must_use]
    pub fn max_si(&self) -> f64 {
        self.raw_max as f64 * f64::from(self.step.0) / f64::from(self.step.1)
    }
    /// Decimals that show one wire step.
    #[must_use]
    pub fn decimals(&self) -> usize {
        match self.step.1 {
            1 => 0,
            2..=10 => 1,
            11..=100 => 2,
            _ => 3,
        }
    }
}

/// A value that cannot be put on the wire as it stands, or a wire value that no sender may emit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OutOfRange;

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("value outside the legal range of its quantity")
    }
}

impl core::error::Error for OutOfRange {}

/// What all quantities have in common; lets columns and tests be written once.
pub trait Quantity: Copy + Eq + fmt::Debug + Sized {
    /// The row of the table.
    const SPECIFICATION: Specification;
    /// The value that says "no reading".
    const MISSING: Self;
    /// From a wire value in steps; refuses what is neither legal nor [`Self::MISSING`].
    ///
    /// # Errors
    /// [`OutOfRange`] when `raw` is neither legal nor the missing value.
    fn try_from_raw(raw: i64) -> Result<Self, OutOfRange>;
    /// The wire value in steps, the missing value included.
    fn raw(self) -> i64;
    /// Whether the value is legal or missing. A decoded frame may hold a value that is neither.
    fn is_legal(self) -> bool {
        self.is_missing()
            || (self.raw() >= Self::SPECIFICATION.raw_min
                && self.raw() <= Self::SPECIFICATION.raw_max)
    }
    /// Whether there is no reading.
    fn is_missing(self) -> bool {
        self.raw() == Self::SPECIFICATION.raw_missing
    }
    /// The reading in the quantity's unit; `None` when missing or illegal.
    fn si(self) -> Option<f64> {
        if self.is_missing() || !self.is_legal() {
            return None;
        }
        let (numerator, denominator) = Self::SPECIFICATION.step;
        Some(self.raw() as f64 * f64::from(numerator) / f64::from(denominator))
    }
    /// Nearest step (halves away from zero).
    ///
    /// # Errors
    /// [`OutOfRange`] when the value is not finite or rounds to a step outside the legal range.
    fn try_from_si(value: f64) -> Result<Self, OutOfRange> {
        let steps = to_steps::<Self>(value);
        let specification = Self::SPECIFICATION;
        if steps >= specification.raw_min as f64 && steps <= specification.raw_max as f64 {
            Self::try_from_raw(steps as i64)
        } else {
            Err(OutOfRange)
        }
    }
    /// Nearest step (halves away from zero), held at the ends of the legal range; a value that is not a
    /// number is missing.
    fn saturating_from_si(value: f64) -> Self {
        let specification = Self::SPECIFICATION;
        let (numerator, denominator) = specification.step;
        let steps = value * f64::from(denominator) / f64::from(numerator);
        if steps.is_nan() {
            return Self::MISSING;
        }
        // Held first, so that the rounding needs no branch and no case for the huge.
        let held = steps.clamp(specification.raw_min as f64, specification.raw_max as f64);
        // The largest number below one half: a plain half would lift 0.49999999999999994 to 1.
        let half = 0.499_999_999_999_999_94_f64.copysign(held);
        Self::try_from_raw((held + half) as i64).unwrap_or(Self::MISSING)
    }
}

/// `value` in steps, rounded half away from zero without a platform function.
fn to_steps<Q: Quantity>(value: f64) -> f64 {
    let (numerator, denominator) = Q::SPECIFICATION.step;
    let steps = value * f64::from(denominator) / f64::from(numerator);
    if !steps.is_finite() || steps.abs() >= 9.0e15 {
        return steps;
    }
    let truncated = steps as i64 as f64;
    let rest = steps - truncated;
    if rest >= 0.5 {
        truncated + 1.0
    } else if rest <= -0.5 {
        truncated - 1.0
    } else {
        truncated
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $type:ident($raw:ty) {
        name: $name:literal, title: $title:literal, unit: $unit:literal, cf: $cf:expr,
        cell: $cell:literal, step: ($num:literal, $den:literal), range: $min:literal ..= $max:literal,
        missing: $missing:literal, tolerance: ($absolute:literal, $relative:literal)
    }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $type($raw);

        impl $type {
            /// As it came over the wire, legal or not.
            pub(crate) const fn from_wire(raw: $raw) -> Self {
                Self(raw)
            }
            /// A legal or missing value from its wire steps, for constants.
            ///
            /// # Errors
            /// [`OutOfRange`] when `raw` is neither legal nor the missing value.
            pub const fn new(raw: $raw) -> Result<Self, OutOfRange> {
                let wide = raw as i64;
                if (wide >= $min && wide <= $max) || wide == $missing { Ok(Self(raw)) } else { Err(OutOfRange) }
            }
        }

        impl Quantity for $type {
            const SPECIFICATION: Specification = Specification {
                name: $name, title: $title, unit: $unit, cf_standard_name: $cf, cell_methods: $cell,
                step: ($num, $den), raw_min: $min, raw_max: $max, raw_missing: $missing,
                tolerance: Tolerance { absolute: $absolute, relative: $relative },
            };
            const MISSING: Self = Self($missing);
            fn try_from_raw(raw: i64) -> Result<Self, OutOfRange> {
                <$raw>::try_from(raw).map_err(|_| OutOfRange).and_then(Self::new)
            }
            fn raw(self) -> i64 {
                i64::from(self.0)
            }
            fn is_legal(self) -> bool {
                // In the width of the wire: a small machine compares 64 bits in two steps.
                ($min..=$max).contains(&self.0) || self.0 == $missing
            }
            fn is_missing(self) -> bool {
                self.0 == $missing
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                match self.si() {
                    Some(value) => write!(f, "{value:.*} {}", Self::SPECIFICATION.decimals(), $unit),
                    None if self.is_missing() => f.write_str("missing"),
                    None => write!(f, "illegal ({} steps)", self.0),
                }
            }
        }
    };
}

// Missing values are chosen so that no field of an observation takes more than three bytes on the
// wire: then every observation stays inside the length at which the check finds any four bit errors.

quantity! {
    /// Air temperature in the shield. Legal range: WMO-No. 8 Part I ch. 1 annex (from memory): -80 to +60 degC.
    AirTemperature(i16) {
        name: "air_temperature", title: "Air temperature", unit: "degC", cf: Some("air_temperature"),
        cell: "time: point", step: (1, 100), range: -8000 ..= 6000, missing: -8192, tolerance: (0.2, 0.0)
    }
}
quantity! {
    /// Relative humidity over water, also below freezing (WMO-No. 8 ch. 4 convention).
    RelativeHumidity(u16) {
        name: "relative_humidity", title: "Relative humidity", unit: "percent", cf: Some("relative_humidity"),
        cell: "time: point", step: (1, 10), range: 0 ..= 1000, missing: 16383, tolerance: (5.0, 0.0)
    }
}
quantity! {
    /// Pressure at the barometer. Range: WMO-No. 8 (500 to 1080 hPa), widened to the 300 to 1100 hPa of
    /// common pressure sensors (common practice, no source).
    AirPressure(u16) {
        name: "air_pressure", title: "Air pressure at station level", unit: "hPa", cf: Some("air_pressure"),
        cell: "time: point", step: (1, 10), range: 3000 ..= 11000, missing: 16383, tolerance: (1.0, 0.0)
    }
}
quantity! {
    /// Wind speed, mean over the reporting interval. Upper end: above the WMO-No. 8 range of 75 m/s so
    /// that gusts fit too (common practice, no source).
    WindSpeed(u16) {
        name: "wind_speed", title: "Wind speed", unit: "m s-1", cf: Some("wind_speed"),
        cell: "time: mean", step: (1, 10), range: 0 ..= 1200, missing: 16383, tolerance: (0.5, 0.1)
    }
}
quantity! {
    /// Highest short mean of the wind speed in the reporting interval.
    WindSpeedOfGust(u16) {
        name: "wind_speed_of_gust", title: "Wind gust", unit: "m s-1", cf: Some("wind_speed_of_gust"),
        cell: "time: maximum", step: (1, 10), range: 0 ..= 1200, missing: 16383, tolerance: (0.5, 0.1)
    }
}
quantity! {
    /// Where the wind comes from, clockwise from true north when the head's arrow is aligned.
    /// A circle has no ends to saturate at: round and wrap before converting, since 359.6 is 0 here, not 359.
    WindFromDirection(u16) {
        name: "wind_from_direction", title: "Wind direction", unit: "degree", cf: Some("wind_from_direction"),
        cell: "time: point", step: (1, 1), range: 0 ..= 359, missing: 16383, tolerance: (10.0, 0.0)
    }
}
quantity! {
    /// Illuminance on a horizontal plane. CF has no standard name for it.
    Illuminance(u32) {
        name: "illuminance_lx", title: "Illuminance", unit: "lx", cf: None,
        cell: "time: point", step: (1, 1), range: 0 ..= 200000, missing: 2097151, tolerance: (500.0, 0.1)
    }
}
quantity! {
    /// UV index (WHO/WMO definition: 1 is 25 mW m-2 of erythemally weighted irradiance).
    UltravioletIndex(u8) {
        name: "ultraviolet_index", title: "UV index", unit: "1", cf: Some("ultraviolet_index"),
        cell: "time: point", step: (1, 10), range: 0 ..= 250, missing: 255, tolerance: (0.5, 0.1)
    }
}
quantity! {
    /// Voltage of the head's regulated rail under load.
    SupplyVoltage(u16) {
        name: "supply_mv", title: "Supply voltage", unit: "mV", cf: None,
        cell: "time: point", step: (1, 1), range: 0 ..= 6000, missing: 16383, tolerance: (50.0, 0.0)
    }
}
quantity! {
    /// Voltage of the capacitor store.
    StoreVoltage(u16) {
        name: "store_mv", title: "Store voltage", unit: "mV", cf: None,
        cell: "time: point", step: (1, 1), range: 0 ..= 6000, missing: 16383, tolerance: (50.0, 0.0)
    }
}
quantity! {
    /// Voltage of the two reserve cells in series, under load.
    CellsVoltage(u16) {
        name: "cells_mv", title: "Reserve cells voltage", unit: "mV", cf: None,
        cell: "time: point", step: (1, 1), range: 0 ..= 6000, missing: 16383, tolerance: (50.0, 0.0)
    }
}

/// Rain depth in one interval. It has no wire field of its own: rain travels as a tip counter.
pub const RAINFALL: Specification = Specification {
    name: "thickness_of_rainfall_amount",
    title: "Rain",
    unit: "mm",
    cf_standard_name: Some("thickness_of_rainfall_amount"),
    cell_methods: "time: sum",
    step: (3, 10),
    raw_min: 0,
    raw_max: 65535,
    raw_missing: -1,
    tolerance: Tolerance {
        absolute: 0.3,
        relative: 0.05,
    },
};

/// The measured variables of an observation in column order.
pub const OBSERVED: [Specification; 9] = [
    AirTemperature::SPECIFICATION,
    RelativeHumidity::SPECIFICATION,
    AirPressure::SPECIFICATION,
    WindSpeed::SPECIFICATION,
    WindSpeedOfGust::SPECIFICATION,
    WindFromDirection::SPECIFICATION,
    RAINFALL,
    Illuminance::SPECIFICATION,
    UltravioletIndex::SPECIFICATION,
];
