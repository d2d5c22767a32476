//! The store: one double-layer capacitor, by temperature and age.

use super::cells::interpolate;

/// Share of its voltage that a new store loses in a day by itself at 20 degC: about 1.8 % (review of double-layer
/// capacitors, Hindawi 2024, read second-hand).
pub const LEAK_PER_DAY: f64 = 0.018;
/// Series resistance times capacity of a new store at 20 degC, s: 0.1 ohm for 10 F (from memory).
pub const RESISTANCE_S: f64 = 1.0;
/// Capacity lost in a year at 20 degC, share; the resistance grows by twice that (from memory: the end of life, a fifth
/// to a third of the capacity lost, after ten years or so).
pub const AGEING_PER_YEAR: f64 = 0.02;
/// Longest life the ageing law is used for, years at 20 degC.
const OLDEST_YEARS: f64 = 20.0;

/// Leak and ageing against those at 20 degC, by temperature: double for each 10 K when warm and change less in frost
/// (Arrhenius' law, the factor from memory).
const PACE: [(f64, f64); 7] = [
    (-40.0, 0.2),
    (0.0, 0.4),
    (10.0, 0.6),
    (20.0, 1.0),
    (30.0, 2.0),
    (40.0, 4.0),
    (50.0, 8.0),
];
/// Capacity against that at 20 degC (from memory: a tenth less at -40 degC).
const CAPACITY: [(f64, f64); 4] = [(-40.0, 0.90), (-20.0, 0.96), (20.0, 1.0), (50.0, 1.02)];
/// Series resistance against that at 20 degC (from memory: two to three times at -40 degC).
const RESISTANCE: [(f64, f64); 4] = [(-40.0, 2.5), (-20.0, 1.5), (20.0, 1.0), (50.0, 0.9)];

const YEAR_S: f64 = 365.25 * 86_400.0;

/// What a store is like just now.
#[derive(Debug, Clone, PartialEq)]
pub struct Store {
    nominal_farad: f64,
    /// Age in years at 20 degC.
    age_years: f64,
    farad: f64,
    resistance_ohm: f64,
    leak_per_s: f64,
    /// Temperature that pace, capacity and resistance were last read from the tables for, and what was read.
    read_at_degc: f64,
    pace: f64,
    capacity: f64,
    resistance: f64,
}

/// Change of temperature that makes the store look at its tables again, K.
const READ_AGAIN_K: f64 = 0.5;

impl Store {
    /// A new store of a nominal capacity, 0 for none, at 20 degC.
    #[must_use]
    pub fn new(farad: f64) -> Self {
        let mut store = Self {
            nominal_farad: farad,
            age_years: 0.0,
            farad: 0.0,
            resistance_ohm: 0.0,
            leak_per_s: 0.0,
            read_at_degc: f64::INFINITY,
            pace: 0.0,
            capacity: 0.0,
            resistance: 0.0,
        };
        store.live(0.0, 20.0);
        store
    }

    /// Time passes at a temperature.
    pub fn live(&mut self, seconds: f64, temperature_degc: f64) {
        if (temperature_degc - self.read_at_degc).abs() > READ_AGAIN_K {
            self.read_at_degc = temperature_degc;
            self.pace = interpolate(&PACE, temperature_degc);
            self.capacity = interpolate(&CAPACITY, temperature_degc);
            self.resistance = interpolate(&RESISTANCE, temperature_degc);
        }
        self.age_years = (self.age_years + self.pace * seconds * (1.0 / YEAR_S)).min(OLDEST_YEARS);
        let lost = AGEING_PER_YEAR * self.age_years;
        self.farad = self.nominal_farad * (1.0 - lost) * self.capacity;
        self.resistance_ohm = if self.nominal_farad > 0.0 {
            RESISTANCE_S / self.nominal_farad * (1.0 + 2.0 * lost) * self.resistance
        } else {
            0.0
        };
        self.leak_per_s = LEAK_PER_DAY / 86_400.0 * self.pace;
    }

    /// Capacity at the temperature and age it has, F.
    #[must_use]
    pub fn farad(&self) -> f64 {
        self.farad
    }

    /// Series resistance at the temperature and age it has, ohm; 0 without a store.
    #[must_use]
    pub fn resistance_ohm(&self) -> f64 {
        self.resistance_ohm
    }

    /// Share of its voltage that is lost in a second.
    #[must_use]
    pub fn leak_per_s(&self) -> f64 {
        self.leak_per_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frost_and_age_take_capacity_and_add_resistance() {
        let new = Store::new(10.0);
        assert_eq!((new.farad(), new.resistance_ohm()), (10.0, 0.1));
        let mut cold = new.clone();
        cold.live(0.0, -40.0);
        assert!((cold.farad() - 9.0).abs() < 1e-12 && cold.resistance_ohm() > 0.2);
        assert!(cold.leak_per_s() < new.leak_per_s());
        let mut old = new;
        old.live(10.0 * YEAR_S, 20.0);
        assert!((old.farad() - 8.0).abs() < 1e-9, "{}", old.farad());
        assert!((old.resistance_ohm() - 0.14).abs() < 1e-9);
        old.live(1000.0 * YEAR_S, 40.0);
        assert!(old.farad() > 0.0);
        assert_eq!(Store::new(0.0).resistance_ohm(), 0.0);
    }
}
