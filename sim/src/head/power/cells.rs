//! The two alkaline reserve cells in series.

/// Rest voltage of one cell by the share of its charge left, V: fresh 1.58 to 1.60 V, empty at 0.9 V
/// (handbook curve of alkaline cells at light drain, from memory).
const REST_V: [(f64, f64); 6] = [
    (0.0, 0.90),
    (0.1, 1.10),
    (0.3, 1.20),
    (0.5, 1.26),
    (0.8, 1.40),
    (1.0, 1.58),
];
/// Share of the charge that can be had at a temperature, degC, against 21 degC at light drain (handbook
/// figures, from memory).
const USABLE: [(f64, f64); 6] = [
    (-30.0, 0.0),
    (-20.0, 0.20),
    (-10.0, 0.475),
    (0.0, 0.70),
    (21.0, 1.00),
    (40.0, 1.05),
];
/// Resistance of one fresh cell at 25 degC, ohm (from memory: 0.15 to 0.3 ohm).
pub const RESISTANCE_OHM: f64 = 0.2;
/// How fast the resistance grows towards frost, per K: `R25 exp(k (25 - T))` (from memory: 0.02 to 0.04).
pub const RESISTANCE_PER_K: f64 = 0.03;
/// How much larger the resistance of an empty cell is than that of a fresh one, as a sum with 1 (common
/// practice, no source).
pub const RESISTANCE_OF_USE: f64 = 2.0;
/// Share of the charge that is lost in a year on the shelf (from memory: 2 to 3 %).
pub const SELF_DISCHARGE_PER_YEAR: f64 = 0.025;
/// Share of usable charge below which the cells count as low (common practice, no source).
pub const LOW_SHARE: f64 = 0.1;

const YEAR_S: f64 = 365.25 * 86_400.0;

/// A pair of cells.
#[derive(Debug, Clone)]
pub struct Cells {
    capacity_mah: f64,
    used_mah: f64,
    /// What the charge knob last was, and what had been used then: a bound that stands still is drained
    /// like any other cell.
    bound: f64,
    used_at_bound_mah: f64,
    /// The resistance's temperature factor, kept per half degree: an exponential less in each step.
    half_degrees: i32,
    cold_factor: f64,
}

impl Cells {
    /// Fresh cells of `capacity_mah` at 21 degC and light drain.
    #[must_use]
    pub fn new(capacity_mah: f64) -> Self {
        Self {
            capacity_mah,
            used_mah: 0.0,
            bound: 1.0,
            used_at_bound_mah: 0.0,
            half_degrees: 50,
            cold_factor: 1.0,
        }
    }

    /// Charge drawn and lost since the cells were inserted, mAh.
    #[must_use]
    pub fn used_mah(&self) -> f64 {
        self.used_mah
    }

    /// Draw a charge, C.
    pub fn draw(&mut self, coulomb: f64) {
        self.used_mah += coulomb * (1.0 / 3.6);
    }

    /// Time passes: self-discharge.
    pub fn rest(&mut self, seconds: f64) {
        self.used_mah += self.capacity_mah * (SELF_DISCHARGE_PER_YEAR / YEAR_S) * seconds;
    }

    /// Share of the usable charge left at this temperature, 0 to 1. `bound`: the charge knob.
    pub fn share_left(&mut self, temperature_degc: f64, bound: f64) -> f64 {
        if bound != self.bound {
            self.bound = bound;
            self.used_at_bound_mah = self.used_mah;
        }
        if self.capacity_mah <= 0.0 {
            return 0.0;
        }
        let natural = 1.0 - self.used_mah / self.capacity_mah;
        let bounded = bound - (self.used_mah - self.used_at_bound_mah) / self.capacity_mah;
        let left = natural.min(bounded);
        let usable = interpolate(&USABLE, temperature_degc);
        if usable <= 0.0 {
            return 0.0;
        }
        // Cold does not take charge away, it hides it: what has been used counts against less.
        (1.0 - (1.0 - left) / usable).clamp(0.0, 1.0)
    }

    /// Voltage of the pair under a current, V. `bound`: the charge knob.
    pub fn voltage_v(&mut self, temperature_degc: f64, ampere: f64, bound: f64) -> f64 {
        let left = self.share_left(temperature_degc, bound);
        let half_degrees = (2.0 * temperature_degc) as i32;
        if half_degrees != self.half_degrees {
            self.half_degrees = half_degrees;
            let rounded = 0.5 * f64::from(half_degrees);
            self.cold_factor = libm::exp(RESISTANCE_PER_K * (25.0 - rounded));
        }
        let resistance =
            RESISTANCE_OHM * self.cold_factor * (1.0 + RESISTANCE_OF_USE * (1.0 - left));
        2.0 * (interpolate(&REST_V, left) - ampere * resistance)
    }
}

/// Linear interpolation in a table of rising abscissae, held at its ends.
fn interpolate(table: &[(f64, f64)], x: f64) -> f64 {
    let mut last = table[0];
    if x <= last.0 {
        return last.1;
    }
    for &point in &table[1..] {
        if x <= point.0 {
            let share = (x - last.0) / (point.0 - last.0);
            return last.1 + share * (point.1 - last.1);
        }
        last = point;
    }
    last.1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn voltage_falls_with_use_with_frost_and_under_load() {
        let mut cells = Cells::new(2500.0);
        let fresh = cells.voltage_v(21.0, 0.0, 1.0);
        assert!((fresh - 3.16).abs() < 1e-12);
        let mut last = fresh;
        for temperature in [10.0, 0.0, -10.0, -20.0] {
            let loaded = cells.voltage_v(temperature, 0.03, 1.0);
            assert!(loaded < last, "{temperature}: {loaded}");
            last = loaded;
        }
        assert!(last > 3.0, "fresh cells in frost: {last}");
        cells.draw(0.5 * 2500.0 * 3.6);
        assert!((cells.voltage_v(21.0, 0.0, 1.0) - 2.52).abs() < 1e-9);
        assert_eq!(
            cells.share_left(-10.0, 1.0),
            0.0,
            "half used is empty in frost"
        );
        assert!(
            cells.share_left(21.0, 1.0) > 0.49,
            "and comes back when warm"
        );
    }

    #[test]
    fn the_charge_knob_is_a_bound_that_drains_and_can_be_lifted() {
        let mut cells = Cells::new(1000.0);
        cells.draw(100.0 * 3.6);
        assert!((cells.share_left(21.0, 1.0) - 0.9).abs() < 1e-12);
        assert!((cells.share_left(21.0, 0.3) - 0.3).abs() < 1e-12);
        cells.draw(200.0 * 3.6);
        assert!((cells.share_left(21.0, 0.3) - 0.1).abs() < 1e-12);
        assert!((cells.share_left(21.0, 1.0) - 0.7).abs() < 1e-12);
        assert_eq!(cells.share_left(21.0, 0.0), 0.0);
    }

    #[test]
    fn the_shelf_takes_its_share() {
        let mut cells = Cells::new(2500.0);
        cells.rest(2.0 * YEAR_S);
        assert!((cells.used_mah() - 125.0).abs() < 1e-6);
    }

    #[test]
    fn tables_are_held_at_their_ends() {
        assert_eq!(interpolate(&USABLE, -60.0), 0.0);
        assert_eq!(interpolate(&USABLE, 60.0), 1.05);
        assert!((interpolate(&USABLE, -15.0) - 0.3375).abs() < 1e-12);
    }
}
