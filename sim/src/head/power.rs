//! The supply: a solar panel fills a capacitor store, two alkaline cells stand in reserve.
//!
//! The store carries the head until it falls below [`CHANGE_OVER_V`]; then the cells do, until the store is
//! back at [`CHANGE_BACK_V`]. Cells that cannot hold the cut-off under load leave the head to the rest of
//! the store; below [`CUT_OFF_V`] it stops (brown-out), above [`RESTART_V`] it starts anew.

pub mod cells;
pub mod panel;
pub mod store;

use crate::condition::Condition;
use crate::head::Parameters;
use crate::site::Exposure;
use cells::Cells;
use store::Store;

/// Voltage of the full store (rated voltage of one double-layer capacitor), V.
pub const FULL_V: f64 = 2.7;
/// Store voltage below which the reserve cells take over, V (common practice, no source).
pub const CHANGE_OVER_V: f64 = 2.2;
/// Store voltage above which the store takes the load back, V (common practice, no source).
pub const CHANGE_BACK_V: f64 = 2.3;
/// Source voltage below which the head browns out, V (common practice, no source).
pub const CUT_OFF_V: f64 = 1.8;
/// Source voltage at which a head that browned out starts again, V; above the cut-off so that the inrush
/// does not stop it at once (common practice, no source).
pub const RESTART_V: f64 = 2.1;
/// Regulated rail, V (common practice, no source).
pub const RAIL_V: f64 = 1.8;
/// What the regulator needs above the rail, V; the rail sags with its source below that (common practice,
/// no source).
pub const DROP_OUT_V: f64 = 0.05;
/// Efficiency of the regulator (common practice, no source).
pub const REGULATOR_EFFICIENCY: f64 = 0.9;
/// Current of the sleeping head on the rail, A (common practice, no source).
pub const SLEEP_A: f64 = 15e-6;
/// Charge that one round of measurements takes from the rail, C (common practice, no source).
pub const MEASURE_C: f64 = 0.13e-3;
/// Current while sending, A (common practice, no source).
pub const SEND_A: f64 = 0.030;
/// Time it sends in each interval, s (common practice, no source).
pub const SEND_S: f64 = 0.050;
/// The slow parts of the supply (light, leak, temperature, self-discharge) move on after this time, s.
const SLOW_S: f64 = 60.0;

/// Mean power a running head takes from its source, W, at a reporting interval of `interval_s`.
#[must_use]
pub fn load_w(interval_s: f64) -> f64 {
    RAIL_V * (SLEEP_A + (MEASURE_C + SEND_A * SEND_S) / interval_s) / REGULATOR_EFFICIENCY
}

/// Time for which a store holds a constant power, s: `C (V1^2 - V2^2) / (2 P)`, without leak.
///
/// `farad`; `from_v`, `to_v`: first and last voltage; `power_w`. Source: energy of a capacitor, exact.
#[must_use]
pub fn hold_time_s(farad: f64, from_v: f64, to_v: f64, power_w: f64) -> f64 {
    (energy_j(farad, from_v) - energy_j(farad, to_v)) / power_w
}

/// Energy of a capacitor, J.
fn energy_j(farad: f64, volt: f64) -> f64 {
    farad * half_square(volt)
}

/// Energy of a capacitor for each farad of it, J/F.
const fn half_square(volt: f64) -> f64 {
    0.5 * volt * volt
}

/// What became of the head in one interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Run {
    /// It ran through the interval.
    Running,
    /// It browned out in this interval, or was off and stays off.
    Off,
    /// It was off and starts at the end of this interval.
    Restarting,
}

/// The supply of one head.
#[derive(Debug, Clone, PartialEq)]
pub struct Power {
    panel_m2: f64,
    /// Power of the load, W.
    load_w: f64,
    store: Store,
    /// Energy of the store for each farad of it, J/F; half the square of its voltage.
    charge: f64,
    /// The same at the cut-off under load.
    cut_off: f64,
    /// What panel and leak bring to it each second.
    gain_per_s: f64,
    /// Reciprocal of the capacity, 1/F; 0 without a store.
    per_farad: f64,
    /// Irradiation of the panel, J/m2, snow in mm, and time since the slow parts moved.
    irradiation: f64,
    snowfall_mm: f64,
    slow_s: f64,
    snow_mm: f64,
    running: bool,
    on_cells: bool,
    cells: Cells,
}

impl Power {
    /// A running head with a full store and fresh cells.
    #[must_use]
    pub fn new(parameters: &Parameters) -> Self {
        let mut power = Self {
            panel_m2: parameters.panel_area_cm2 * 1e-4,
            load_w: load_w(f64::from(parameters.interval_s)),
            store: Store::new(parameters.store_farad),
            charge: 0.0,
            cut_off: 0.0,
            gain_per_s: 0.0,
            per_farad: 0.0,
            irradiation: 0.0,
            snowfall_mm: 0.0,
            slow_s: 0.0,
            snow_mm: 0.0,
            running: true,
            on_cells: false,
            cells: Cells::of(parameters.cells, parameters.cells_mah),
        };
        if parameters.store_farad > 0.0 {
            power.charge = half_square(FULL_V);
            power.settle(0.0, 20.0);
        }
        power
    }

    /// The head draws on its reserve cells.
    #[must_use]
    pub fn on_cells(&self) -> bool {
        self.running && self.on_cells
    }

    /// The store is below its change-over voltage.
    #[must_use]
    pub fn store_low(&self) -> bool {
        self.charge < half_square(CHANGE_OVER_V)
    }

    /// Voltage of the store without load, V.
    #[must_use]
    pub fn store_v(&self) -> f64 {
        (2.0 * self.charge).sqrt()
    }

    /// The store.
    #[must_use]
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// Snow on the panel, mm of water.
    #[must_use]
    pub fn snow_on_panel_mm(&self) -> f64 {
        self.snow_mm
    }

    /// The reserve cells.
    #[must_use]
    pub fn cells(&self) -> &Cells {
        &self.cells
    }

    /// Voltage of both cells in series while the head sends, V, at this temperature.
    pub fn cells_v(&mut self, temperature_degc: f64, condition: &Condition) -> f64 {
        self.cells
            .voltage_v(temperature_degc, SEND_A, condition.cells_charge)
    }

    /// Share of the cells' usable charge left at this temperature, 0 to 1.
    pub fn cells_share(&mut self, temperature_degc: f64, condition: &Condition) -> f64 {
        self.cells
            .share_left(temperature_degc, condition.cells_charge)
    }

    /// Voltage of the rail while the head sends, V, 0 when the head is off; `store_v`: that of the store.
    pub fn supply_v(&mut self, store_v: f64, temperature_degc: f64, condition: &Condition) -> f64 {
        if !self.running {
            return 0.0;
        }
        let source = if self.on_cells {
            self.cells_v(temperature_degc, condition)
        } else {
            store_v - SEND_A * self.store.resistance_ohm()
        };
        (source - DROP_OUT_V).clamp(0.0, RAIL_V)
    }

    /// One interval on. The head's inside is taken to be as warm as the air.
    pub fn step(&mut self, exposure: &Exposure, condition: &Condition) -> Run {
        let seconds = exposure.interval_s;
        self.irradiation += exposure.global_irradiance_wm2 * seconds;
        self.snowfall_mm += exposure.snowfall_mm;
        self.slow_s += seconds;
        let temperature = exposure.air_temperature_degc;
        if self.slow_s >= SLOW_S {
            self.weather(temperature);
        }
        let charge = self.charge + self.gain_per_s * seconds;
        self.charge = charge.clamp(0.0, half_square(FULL_V));
        if self.running {
            self.feed(temperature, condition, seconds)
        } else {
            self.wait(temperature, condition)
        }
    }

    /// Panel and leak by the light of the last minute, and what temperature and time do to store and cells.
    fn weather(&mut self, temperature_degc: f64) {
        let seconds = self.slow_s;
        let irradiance = self.irradiation / seconds;
        if self.snow_mm + self.snowfall_mm > 0.0 {
            let lying = self.snow_mm + self.snowfall_mm;
            let hours = seconds * (1.0 / 3600.0);
            self.snow_mm = panel::snow_left_mm(lying, temperature_degc, irradiance, hours);
        }
        let light = if self.snow_mm > 0.0 {
            irradiance * panel::through_snow(self.snow_mm)
        } else {
            irradiance
        };
        self.cells.rest(seconds, temperature_degc);
        self.settle(light, temperature_degc);
        (self.irradiation, self.snowfall_mm, self.slow_s) = (0.0, 0.0, 0.0);
    }

    /// Rates that hold until the slow parts move again.
    fn settle(&mut self, light_wm2: f64, temperature_degc: f64) {
        self.store.live(self.slow_s, temperature_degc);
        let farad = self.store.farad();
        if farad <= 0.0 {
            return;
        }
        self.per_farad = 1.0 / farad;
        let under_load = CUT_OFF_V + SEND_A * self.store.resistance_ohm();
        self.cut_off = half_square(under_load);
        // A voltage that decays by a share decays its energy by twice the share.
        let leak = 2.0 * self.store.leak_per_s() * self.charge;
        let store_v = self.store_v();
        let current = panel::current_a(self.panel_m2, light_wm2, temperature_degc, store_v);
        // An empty store takes charge before it has any voltage to take power at.
        self.gain_per_s = current * store_v.max(0.1) * self.per_farad - leak;
    }

    /// Take the load of one interval from the store or the cells.
    fn feed(&mut self, temperature_degc: f64, condition: &Condition, seconds: f64) -> Run {
        let wanted = if self.on_cells {
            self.charge < half_square(CHANGE_BACK_V)
        } else {
            self.charge < half_square(CHANGE_OVER_V)
        };
        let load = self.load_w * seconds;
        self.on_cells = false;
        if wanted {
            let volt = self.cells_v(temperature_degc, condition);
            if volt >= CUT_OFF_V {
                self.on_cells = true;
                self.cells.draw(load / volt);
                return Run::Running;
            }
        }
        self.charge -= load * self.per_farad;
        if self.charge < self.cut_off || self.per_farad <= 0.0 {
            self.charge = self.charge.max(0.0);
            self.running = false;
            return Run::Off;
        }
        Run::Running
    }

    /// Wait for a source that can start the head.
    fn wait(&mut self, temperature_degc: f64, condition: &Condition) -> Run {
        let by_store = self.charge >= half_square(RESTART_V);
        if by_store || self.cells_v(temperature_degc, condition) >= RESTART_V {
            self.running = true;
            // Without enough in the store the first interval starts on the cells.
            self.on_cells = !by_store;
            return Run::Restarting;
        }
        Run::Off
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::still_air;

    fn lit(irradiance: f64, temperature: f64) -> Exposure {
        let mut air = still_air();
        air.global_irradiance_wm2 = irradiance;
        air.air_temperature_degc = temperature;
        air
    }

    const FLAT: Condition = Condition {
        cells_charge: 0.0,
        ..Condition::HEALTHY
    };

    #[test]
    fn the_store_holds_as_long_as_its_energy_says() {
        let mut power = Power::new(&Parameters::default());
        let dark = lit(0.0, 20.0);
        let mut steps = 0.0;
        while !power.store_low() {
            assert_eq!(power.step(&dark, &Condition::HEALTHY), Run::Running);
            assert!(!power.on_cells());
            steps += 1.0;
        }
        // The leak is some 13 uW at these voltages; with it the hold time is told to a percent.
        let mean_leak = 2.0 * store::LEAK_PER_DAY / 86_400.0 * energy_j(10.0, 2.45);
        let expected = hold_time_s(10.0, FULL_V, CHANGE_OVER_V, load_w(16.0) + mean_leak);
        assert!(
            (steps * 16.0 / expected - 1.0).abs() < 0.01,
            "{steps} {expected}"
        );
        assert!(
            (12.0..18.0).contains(&(expected / 3600.0)),
            "a night: {expected} s"
        );
    }

    #[test]
    fn fresh_cells_carry_a_dull_spell_and_the_store_takes_back() {
        let mut power = Power::new(&Parameters::default());
        for _ in 0..(10 * 5400) {
            assert_eq!(
                power.step(&lit(20.0, 5.0), &Condition::HEALTHY),
                Run::Running
            );
        }
        assert!(power.on_cells() && power.store_low());
        assert!(
            power.cells().used_mah() > 15.0,
            "{}",
            power.cells().used_mah()
        );
        let used = power.cells().used_mah();
        for _ in 0..2000 {
            power.step(&lit(500.0, 5.0), &Condition::HEALTHY);
        }
        assert!(!power.on_cells() && power.store_v() > 2.6);
        assert!(power.cells().used_mah() - used < 0.3);
    }

    #[test]
    fn flat_cells_show_only_when_the_store_is_empty_and_the_sun_brings_the_head_back() {
        let (mut healthy, mut flat) = (
            Power::new(&Parameters::default()),
            Power::new(&Parameters::default()),
        );
        let mut outage_s = None;
        for step in 0..(3 * 5400) {
            let dark = lit(0.0, 5.0);
            assert_eq!(healthy.step(&dark, &Condition::HEALTHY), Run::Running);
            let run = flat.step(&dark, &FLAT);
            if run == Run::Off && outage_s.is_none() {
                outage_s = Some(f64::from(step) * 16.0);
                // The store's resistance takes 3 mV while sending.
                assert!((flat.store_v() - CUT_OFF_V - 0.003).abs() < 0.005);
            }
            assert_eq!(outage_s.is_some(), run == Run::Off);
        }
        let hours = outage_s.expect("an outage") / 3600.0;
        assert!((20.0..28.0).contains(&hours), "{hours} h");
        let mut restarts = 0;
        for _ in 0..2000 {
            restarts += i32::from(flat.step(&lit(300.0, 5.0), &FLAT) == Run::Restarting);
        }
        assert_eq!(restarts, 1);
        assert!(flat.store_v() > RESTART_V);
    }

    #[test]
    fn fresh_cells_restart_a_head_in_the_dark() {
        let mut power = Power::new(&Parameters::default());
        while power.step(&lit(0.0, 5.0), &FLAT) != Run::Off {}
        assert_eq!(
            power.step(&lit(0.0, 5.0), &Condition::HEALTHY),
            Run::Restarting
        );
        assert_eq!(
            power.step(&lit(0.0, 5.0), &Condition::HEALTHY),
            Run::Running
        );
        assert!(power.on_cells());
    }

    #[test]
    fn the_rail_sags_near_the_cut_off() {
        let mut power = Power::new(&Parameters::default());
        assert_eq!(power.supply_v(FULL_V, 20.0, &Condition::HEALTHY), RAIL_V);
        power.charge = power.cut_off * 1.0001;
        let rail = power.supply_v(power.store_v(), 20.0, &FLAT);
        assert!((1.74..1.76).contains(&rail), "{rail}");
    }
}
