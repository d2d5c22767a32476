//! The two reserve cells in series: alkaline, or lithium with iron disulphide.

/// What the reserve cells are made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CellChemistry {
    /// Zinc and manganese dioxide.
    #[default]
    Alkaline,
    /// Lithium and iron disulphide.
    Lithium,
}

/// What is known of one chemistry; figures are for one cell of the AA size.
#[derive(Debug, PartialEq)]
struct Kind {
    /// Rest voltage at light drain by the share of the charge left, V.
    rest_v: [(f64, f64); 6],
    /// Share of the charge that can be had at a temperature, degC, against 21 degC at light drain.
    usable: [(f64, f64); 6],
    /// Resistance of a fresh cell at 25 degC, ohm.
    resistance_ohm: f64,
    /// How fast the resistance grows towards frost, per K: `R25 exp(k (25 - T))`.
    resistance_per_k: f64,
    /// How much larger the resistance of an empty cell is than that of a fresh one, as a sum with 1.
    resistance_of_use: f64,
    /// Share of the charge that is lost in a year on the shelf at 20 degC.
    self_discharge_per_year: f64,
}

/// Fresh 1.58 to 1.60 V, empty at 0.9 V, hardly anything left at -30 degC (handbook figures of alkaline cells, from
/// memory); 0.15 to 0.3 ohm, 0.02 to 0.04 per K (from memory); 2 to 3 % a year (from memory); resistance of an empty cell:
/// common practice, no source.
static ALKALINE: Kind = Kind {
    rest_v: [
        (0.0, 0.90),
        (0.1, 1.10),
        (0.3, 1.20),
        (0.5, 1.26),
        (0.8, 1.40),
        (1.0, 1.58),
    ],
    usable: [
        (-30.0, 0.0),
        (-20.0, 0.20),
        (-10.0, 0.475),
        (0.0, 0.70),
        (21.0, 1.00),
        (40.0, 1.05),
    ],
    resistance_ohm: 0.2,
    resistance_per_k: 0.03,
    resistance_of_use: 2.0,
    self_discharge_per_year: 0.025,
};

/// Fresh 1.79 to 1.83 V, 1.4 to 1.5 V for most of its life, then steeply down (handbook figures of lithium and iron
/// disulphide, partly read: flat curve, -40 to 60 degC); charge at -20 and -40 degC from memory; less than 0.6 % a year
/// (from memory); resistances common practice, no source.
static LITHIUM: Kind = Kind {
    rest_v: [
        (0.0, 0.90),
        (0.04, 1.30),
        (0.12, 1.45),
        (0.5, 1.50),
        (0.93, 1.55),
        (1.0, 1.80),
    ],
    usable: [
        (-50.0, 0.40),
        (-40.0, 0.67),
        (-20.0, 0.90),
        (0.0, 0.97),
        (21.0, 1.00),
        (60.0, 1.00),
    ],
    resistance_ohm: 0.15,
    resistance_per_k: 0.02,
    resistance_of_use: 1.0,
    self_discharge_per_year: 0.006,
};

/// Self-discharge against that at 20 degC, by temperature: double for each 10 K (Arrhenius' law, the factor from memory).
const SHELF: [(f64, f64); 8] = [
    (-40.0, 0.016),
    (-20.0, 0.063),
    (0.0, 0.25),
    (10.0, 0.5),
    (20.0, 1.0),
    (30.0, 2.0),
    (40.0, 4.0),
    (50.0, 8.0),
];

impl CellChemistry {
    fn kind(self) -> &'static Kind {
        match self {
            Self::Alkaline => &ALKALINE,
            Self::Lithium => &LITHIUM,
        }
    }

    /// Charge of a fresh AA cell at light drain, mAh: 2500 to 2850 and 3000 to 3500 (handbook figures, from memory).
    #[must_use]
    pub fn usual_mah(self) -> f64 {
        match self {
            Self::Alkaline => 2500.0,
            Self::Lithium => 3000.0,
        }
    }
}

/// Share of usable charge below which the cells count as low (common practice, no source).
pub const LOW_SHARE: f64 = 0.1;

const YEAR_S: f64 = 365.25 * 86_400.0;

/// A pair of cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Cells {
    kind: &'static Kind,
    capacity_mah: f64,
    used_mah: f64,
    /// What the charge knob last was, and what had been used then: a bound that stands still is drained
    /// like any other cell.
    bound: f64,
    used_at_bound_mah: f64,
    /// The resistance's temperature factor, kept per half degree: an exponential less in each step.
    half_degrees: i32,
    cold_factor: f64,
    /// Temperature that the self-discharge was last looked up for, and its factor.
    shelf_at_degc: f64,
    shelf: f64,
}

impl Cells {
    /// Fresh alkaline cells of `capacity_mah` at 21 degC and light drain.
    #[must_use]
    pub fn new(capacity_mah: f64) -> Self {
        Self::of(CellChemistry::Alkaline, capacity_mah)
    }

    /// Fresh cells of a chemistry and of `capacity_mah` at 21 degC and light drain.
    #[must_use]
    pub fn of(chemistry: CellChemistry, capacity_mah: f64) -> Self {
        Self {
            kind: chemistry.kind(),
            capacity_mah,
            used_mah: 0.0,
            bound: 1.0,
            used_at_bound_mah: 0.0,
            half_degrees: 50,
            cold_factor: 1.0,
            shelf_at_degc: 20.0,
            shelf: 1.0,
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

    /// Time passes at a temperature: self-discharge.
    pub fn rest(&mut self, seconds: f64, temperature_degc: f64) {
        if (temperature_degc - self.shelf_at_degc).abs() > 0.5 {
            self.shelf_at_degc = temperature_degc;
            self.shelf = interpolate(&SHELF, temperature_degc);
        }
        let per_year = self.kind.self_discharge_per_year * self.shelf;
        self.used_mah += self.capacity_mah * per_year * (1.0 / YEAR_S) * seconds;
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
        let usable = interpolate(&self.kind.usable, temperature_degc);
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
            self.cold_factor = libm::exp(self.kind.resistance_per_k * (25.0 - rounded));
        }
        let resistance = self.kind.resistance_ohm
            * self.cold_factor
            * (1.0 + self.kind.resistance_of_use * (1.0 - left));
        2.0 * (interpolate(&self.kind.rest_v, left) - ampere * resistance)
    }
}

/// Linear interpolation in a table of rising abscissae, held at its ends.
pub(super) fn interpolate(table: &[(f64, f64)], x: f64) -> f64 {
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
        cells.rest(2.0 * YEAR_S, 20.0);
        assert!((cells.used_mah() - 125.0).abs() < 1e-6);
        let mut cells = Cells::of(CellChemistry::Lithium, 3000.0);
        cells.rest(YEAR_S, 20.0);
        cells.rest(YEAR_S, 0.0);
        assert!((cells.used_mah() - 22.5).abs() < 1e-6);
    }

    /// Handbook figures of the cold, from memory: lithium keeps 0.9 of its charge at -20 degC, alkaline 0.15 to 0.25.
    #[test]
    fn lithium_keeps_its_charge_in_frost_and_its_voltage_to_the_end() {
        let mut lithium = Cells::of(CellChemistry::Lithium, 3000.0);
        lithium.draw(0.5 * 3000.0 * 3.6);
        let mut alkaline = Cells::new(3000.0);
        alkaline.draw(0.5 * 3000.0 * 3.6);
        assert!((lithium.share_left(-20.0, 1.0) - 4.0 / 9.0).abs() < 1e-9);
        assert_eq!(alkaline.share_left(-20.0, 1.0), 0.0);
        let plateau = lithium.voltage_v(21.0, 0.03, 1.0);
        assert!((2.9..3.0).contains(&plateau), "{plateau}");
        lithium.draw(0.48 * 3000.0 * 3.6);
        assert!(
            lithium.voltage_v(21.0, 0.03, 1.0) < 2.3,
            "then steeply down"
        );
    }

    #[test]
    fn tables_are_held_at_their_ends() {
        assert_eq!(interpolate(&ALKALINE.usable, -60.0), 0.0);
        assert_eq!(interpolate(&ALKALINE.usable, 60.0), 1.05);
        assert!((interpolate(&ALKALINE.usable, -15.0) - 0.3375).abs() < 1e-12);
    }
}
