//! The sensors, the supply and the clock of the outdoor head.
//!
//! Each part is a small model of its own; [`Head`] holds one of each and puts what they say into the frames
//! that go on the wire. Everything that a fault may change comes in through [`Condition`].

pub mod anemometer;
pub mod barometer;
mod beside;
pub mod clock;
mod firmware;
pub mod hygrometer;
pub mod light;
pub mod noise;
pub mod power;
pub mod rain_gauge;
pub mod relaxation;
#[cfg(test)]
pub(crate) mod testing;
pub mod thermometer;
pub mod vane;

use crate::condition::Condition;
use crate::entropy::Stream;
use crate::site::Exposure;
use anemometer::Anemometer;
use barometer::Barometer;
use benchmast_protocol::frame::{Health, Identity, Observation, SensorFit, Serial};
use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, Illuminance, Quantity, RelativeHumidity, UltravioletIndex,
    WindFromDirection, WindSpeed, WindSpeedOfGust,
};
pub(crate) use beside::Beside;
use firmware::{Firmware, Sensed, Supplied};
use hygrometer::Hygrometer;
use light::Light;
use noise::Noise;
use power::Power;
use power::cells::CellChemistry;
use rain_gauge::RainGauge;
use thermometer::Thermometer;
use vane::Vane;

/// Firmware revision that the head tells of itself.
pub const FIRMWARE: u16 = 0x0100;
/// Hardware revision that the head tells of itself.
pub const HARDWARE: u16 = 1;

/// What one head has to say at the end of one interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Whether the head is running; if not, nothing is sent and all values are missing.
    pub alive: bool,
    /// Reporting intervals since the head started, modulo 65536.
    pub sequence: u16,
    /// The readings, as they go on the wire.
    pub observation: Observation,
    /// The state of the head, in the intervals in which it is sent.
    pub health: Option<Health>,
    /// Rain of this interval by the head's own count, mm; 0 while it is off.
    pub rainfall_mm: f64,
    /// Restarts since manufacture, modulo 65536.
    pub restarts: u16,
    /// Voltage of the store, V.
    pub store_v: f64,
    /// Voltage of the regulated rail under load, V; 0 while the head is off.
    pub supply_v: f64,
}

/// What a scenario may change about a head. Everything else about the sensors is a named constant beside
/// the model that uses it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameters {
    /// Reporting interval by the head's own clock, whole seconds.
    pub interval_s: u16,
    /// Rain depth of one tip, mm.
    pub bucket_mm: f64,
    /// Accuracy of the thermometer (two standard deviations and the bound of its calibration error), K.
    pub temperature_accuracy_k: f64,
    /// Accuracy of the hygrometer (two standard deviations and the bound of its calibration error), percent.
    pub humidity_accuracy_percent: f64,
    /// Accuracy of the barometer (two standard deviations and the bound of its calibration error), hPa.
    pub pressure_accuracy_hpa: f64,
    /// Accuracy of the cups (two standard deviations and the bound of their calibration error), share of the speed.
    pub wind_accuracy: f64,
    /// Speed at which the cups start to turn, m/s.
    pub start_speed_ms: f64,
    /// Accuracy of the light sensor (two standard deviations and the bound of its calibration error), share.
    pub light_accuracy: f64,
    /// Frequency error of the head's clock at 25 degC, parts per million.
    pub clock_ppm: f64,
    /// Area of the solar panel, cm2.
    pub panel_area_cm2: f64,
    /// Capacitor store, F.
    pub store_farad: f64,
    /// Capacity of the reserve cells when inserted, mAh.
    pub cells_mah: f64,
    /// What the reserve cells are made of.
    pub cells: CellChemistry,
    /// Accuracy of the rain gauge's adjustment (two standard deviations and the bound of its error), share of the depth.
    pub rain_accuracy: f64,
    /// How far the mast leans, degrees: the halves of the bucket become unequal and the cups read too high.
    pub tilt_deg: f64,
    /// Resolution of the vane's position sensor, degrees.
    pub vane_step_deg: f64,
    /// Width of the gap of the vane's position sensor at the arrow, degrees.
    pub vane_gap_deg: f64,
    /// Growth of the clock's frequency error in a year, parts per million.
    pub clock_ageing_ppm: f64,
    /// How much later than the scenario's start the head's first interval begins, s.
    pub clock_offset_s: f64,
}

impl Default for Parameters {
    fn default() -> Self {
        Self {
            interval_s: 16,
            bucket_mm: 0.3,
            temperature_accuracy_k: 0.2,
            humidity_accuracy_percent: 5.0,
            pressure_accuracy_hpa: 0.5,
            wind_accuracy: 0.10,
            start_speed_ms: 0.5,
            light_accuracy: 0.10,
            clock_ppm: 20.0,
            panel_area_cm2: 16.0,
            store_farad: 10.0,
            cells_mah: 2500.0,
            cells: CellChemistry::Alkaline,
            rain_accuracy: 0.03,
            tilt_deg: 0.0,
            vane_step_deg: 1.0,
            vane_gap_deg: 0.0,
            clock_ageing_ppm: 1.0,
            clock_offset_s: 0.0,
        }
    }
}

/// What a head of these parameters says of itself.
#[must_use]
pub fn identity(parameters: &Parameters, serial: Serial) -> Identity {
    let micrometres = relaxation::nearest(parameters.bucket_mm * 1000.0);
    Identity {
        serial,
        hardware: HARDWARE,
        fit: SensorFit::ALL,
        interval_s: parameters.interval_s,
        bucket_um: micrometres.clamp(0.0, f64::from(u16::MAX)) as u16,
    }
}

/// How the moving parts answer this interval's wind, whatever their state: computed once for a head and its
/// twin.
#[derive(Debug, Clone, Copy)]
pub struct Response {
    cups: anemometer::Response,
    vane: vane::Response,
}

impl Response {
    /// The answer to this wind.
    #[must_use]
    pub fn to(exposure: &Exposure) -> Self {
        Self {
            cups: anemometer::Response::to(exposure),
            vane: vane::Response::to(exposure),
        }
    }
}

/// One outdoor head: all its sensors, its supply and what its firmware counts.
#[derive(Debug, Clone)]
pub struct Head {
    interval_s: f64,
    thermometer: Thermometer,
    hygrometer: Hygrometer,
    barometer: Barometer,
    rain_gauge: RainGauge,
    anemometer: Anemometer,
    vane: Vane,
    light: Light,
    power: Power,
    firmware: Firmware,
}

impl Head {
    /// A head that has just been given its cells. Its calibration errors are drawn from `calibration`,
    /// always in this order: thermometer, hygrometer, barometer, cups, light, dark offset, UV, the water that
    /// was left in the bucket, drift of the hygrometer, temperature coefficient and drift of the barometer, the
    /// size of the bucket and the difference of its halves. An accuracy is two standard deviations of the error.
    #[must_use]
    pub fn new(parameters: &Parameters, calibration: &mut Stream) -> Self {
        // A maker sorts out what misses the accuracy he states.
        let mut error = |accuracy: f64| 0.5 * accuracy * calibration.normal().clamp(-2.0, 2.0);
        let temperature = error(parameters.temperature_accuracy_k);
        let humidity = error(parameters.humidity_accuracy_percent);
        let pressure = error(parameters.pressure_accuracy_hpa);
        let wind = error(parameters.wind_accuracy);
        let brightness = error(parameters.light_accuracy);
        let dark = error(2.0 * light::DARK_OFFSET_LX);
        let ultraviolet = error(light::ULTRAVIOLET_ACCURACY);
        let left_in_bucket = parameters.bucket_mm * calibration.uniform();
        let mut spread = |deviation: f64| deviation * calibration.normal().clamp(-2.0, 2.0);
        let humidity_drift = spread(hygrometer::DRIFT_PERCENT_PER_YEAR);
        let pressure_per_k = spread(barometer::TEMPERATURE_COEFFICIENT_HPA_PER_K);
        let pressure_drift = spread(barometer::DRIFT_HPA_PER_YEAR);
        let mut error = |accuracy: f64| 0.5 * accuracy * calibration.normal().clamp(-2.0, 2.0);
        let bucket = error(parameters.rain_accuracy);
        // Each half has its own screw: the difference is as uncertain as the sum. A mast leans across the bucket's axis as
        // likely as along it.
        let imbalance = error(parameters.rain_accuracy)
            + rain_gauge::IMBALANCE_PER_DEG
                * parameters.tilt_deg
                * core::f64::consts::FRAC_1_SQRT_2;
        Self {
            interval_s: f64::from(parameters.interval_s),
            thermometer: Thermometer::new(temperature),
            hygrometer: Hygrometer::new(humidity).drifting(humidity_drift),
            barometer: Barometer::new(pressure).drifting(pressure_per_k, pressure_drift),
            rain_gauge: RainGauge::new(parameters.bucket_mm, left_in_bucket)
                .adjusted((1.0 + bucket).max(0.5), imbalance),
            anemometer: Anemometer::new((1.0 + wind).max(0.0), parameters.start_speed_ms)
                .leaning(parameters.tilt_deg),
            vane: Vane::with_sensor(parameters.vane_step_deg, parameters.vane_gap_deg),
            light: Light::new(
                (1.0 + brightness).max(0.0),
                dark,
                (1.0 + ultraviolet).max(0.0),
            ),
            power: Power::new(parameters),
            firmware: Firmware::new(parameters),
        }
    }

    /// The thermometer in its shield.
    #[must_use]
    pub fn thermometer(&self) -> &Thermometer {
        &self.thermometer
    }
    /// The hygrometer.
    #[must_use]
    pub fn hygrometer(&self) -> &Hygrometer {
        &self.hygrometer
    }
    /// The barometer.
    #[must_use]
    pub fn barometer(&self) -> &Barometer {
        &self.barometer
    }
    /// The rain gauge, with its water balance.
    #[must_use]
    pub fn rain_gauge(&self) -> &RainGauge {
        &self.rain_gauge
    }
    /// The cups.
    #[must_use]
    pub fn anemometer(&self) -> &Anemometer {
        &self.anemometer
    }
    /// The light sensor.
    #[must_use]
    pub fn light(&self) -> &Light {
        &self.light
    }
    /// The supply.
    #[must_use]
    pub fn power(&self) -> &Power {
        &self.power
    }

    /// One interval on: what the head has to say at its end.
    ///
    /// The sensors live on while the head is off: water runs, the vane turns, only nobody counts.
    pub fn step(
        &mut self,
        exposure: &Exposure,
        response: &Response,
        condition: &Condition,
        noise: &Noise,
    ) -> Reading {
        self.told(exposure, response, condition, noise).0
    }

    /// The same, and what it was made from.
    fn told(
        &mut self,
        exposure: &Exposure,
        response: &Response,
        condition: &Condition,
        noise: &Noise,
    ) -> (Reading, Sensed, Supplied) {
        let temperature = self
            .thermometer
            .step(exposure, condition, noise.temperature);
        let humidity = self.hygrometer.step(
            exposure,
            self.thermometer.sensor_degc(),
            condition,
            noise.humidity,
        );
        let tips = self.rain_gauge.step(exposure, condition);
        let wind = self
            .anemometer
            .step(exposure, &response.cups, self.interval_s);
        let direction = self.vane.step(
            exposure,
            &response.vane,
            condition,
            noise.flutter,
            noise.position,
        );
        let supplied = Supplied::step(&mut self.power, exposure, condition);
        // These go on whether or not anybody reads.
        let pressure = self.barometer.step(exposure, noise.pressure);
        let (illuminance, ultraviolet) = self.light.step(exposure, noise.light, noise.ultraviolet);
        let sensed = Sensed {
            air_temperature: AirTemperature::saturating_from_si(temperature),
            relative_humidity: RelativeHumidity::saturating_from_si(humidity),
            air_pressure: AirPressure::saturating_from_si(pressure),
            wind_speed: WindSpeed::saturating_from_si(wind.mean_ms),
            wind_speed_of_gust: WindSpeedOfGust::saturating_from_si(wind.gust_ms),
            wind_from_direction: WindFromDirection::saturating_from_si(direction),
            tips,
            illuminance: Illuminance::saturating_from_si(illuminance),
            ultraviolet_index: UltravioletIndex::saturating_from_si(ultraviolet),
        };
        let power = &mut self.power;
        let reading = self.firmware.tell(&sensed, &supplied, || {
            power.cells_v(exposure.air_temperature_degc, condition)
        });
        (reading, sensed, supplied)
    }
}
