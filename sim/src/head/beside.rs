//! The actual head beside its twin: of its parts only those are computed that a fault has made differ.
//!
//! A part in the same state, under the same exposure, noise and knobs, says the same. So a part is computed by itself from
//! the first knob that is turned on it until its state is its twin's again, bit for bit; the cups, the barometer
//! and the light sensor have no knob at all. No result depends on it.

use super::firmware::{Firmware, Supplied};
use super::hygrometer::Hygrometer;
use super::noise::Noise;
use super::power::Power;
use super::rain_gauge::RainGauge;
use super::thermometer::Thermometer;
use super::vane::Vane;
use super::{Head, Reading, Response};
use crate::condition::Condition;
use crate::site::Exposure;
use benchmast_protocol::quantity::{AirTemperature, Quantity, RelativeHumidity, WindFromDirection};

/// The parts in which the actual head differs from its twin; `None` for those in which it does not.
#[derive(Debug, Clone)]
pub(crate) struct Beside {
    thermometer: Option<Thermometer>,
    hygrometer: Option<Hygrometer>,
    rain_gauge: Option<RainGauge>,
    vane: Option<Vane>,
    power: Option<Power>,
    firmware: Firmware,
    /// Compute every part, whether or not it differs.
    all: bool,
}

/// Take up the twin's part where it is about to differ.
fn part<P: Clone>(own: &mut Option<P>, twin: &P, differs: bool) {
    if differs && own.is_none() {
        *own = Some(twin.clone());
    }
}

/// Give a part up that is in its twin's state again.
fn join<P: PartialEq>(own: &mut Option<P>, twin: &P, healthy: bool) {
    if healthy && own.as_ref() == Some(twin) {
        *own = None;
    }
}

impl Beside {
    /// A head that is as its twin is now. `all`: compute every part by itself, for ever.
    pub(crate) fn new(twin: &Head, all: bool) -> Self {
        Self {
            thermometer: None,
            hygrometer: None,
            rain_gauge: None,
            vane: None,
            power: None,
            firmware: twin.firmware.clone(),
            all,
        }
    }

    /// Compute every part by itself from now on.
    pub(crate) fn compute_all(&mut self) {
        self.all = true;
    }

    /// The whole head.
    pub(crate) fn head(&self, twin: &Head) -> Head {
        let mut head = twin.clone();
        head.firmware = self.firmware.clone();
        if let Some(own) = &self.thermometer {
            head.thermometer = own.clone();
        }
        if let Some(own) = &self.hygrometer {
            head.hygrometer = own.clone();
        }
        if let Some(own) = &self.rain_gauge {
            head.rain_gauge = own.clone();
        }
        if let Some(own) = &self.vane {
            head.vane = own.clone();
        }
        if let Some(own) = &self.power {
            head.power = own.clone();
        }
        head
    }

    /// One interval on with the twin and with the actual head: what both have to say.
    pub(crate) fn step(
        &mut self,
        twin: &mut Head,
        exposure: &Exposure,
        response: &Response,
        condition: &Condition,
        noise: &Noise,
    ) -> (Reading, Reading) {
        self.part(twin, condition);
        let (twin_reading, mut sensed, mut supplied) =
            twin.told(exposure, response, &Condition::HEALTHY, noise);
        let mut sensor_degc = twin.thermometer.sensor_degc();
        if let Some(own) = &mut self.thermometer {
            let temperature = own.step(exposure, condition, noise.temperature);
            sensed.air_temperature = AirTemperature::saturating_from_si(temperature);
            sensor_degc = own.sensor_degc();
        }
        if let Some(own) = &mut self.hygrometer {
            let humidity = own.step(exposure, sensor_degc, condition, noise.humidity);
            sensed.relative_humidity = RelativeHumidity::saturating_from_si(humidity);
        }
        if let Some(own) = &mut self.rain_gauge {
            sensed.tips = own.step(exposure, condition);
        }
        if let Some(own) = &mut self.vane {
            let (flutter, position) = (noise.flutter, noise.position);
            let direction = own.step(exposure, &response.vane, condition, flutter, position);
            sensed.wind_from_direction = WindFromDirection::saturating_from_si(direction);
        }
        if let Some(own) = &mut self.power {
            supplied = Supplied::step(own, exposure, condition);
        }
        let power = self.power.as_mut().unwrap_or(&mut twin.power);
        let actual = self.firmware.tell(&sensed, &supplied, || {
            power.cells_v(exposure.air_temperature_degc, condition)
        });
        if !self.all {
            self.join(twin, condition);
        }
        (twin_reading, actual)
    }

    fn part(&mut self, twin: &Head, condition: &Condition) {
        let [thermometer, hygrometer, rain_gauge, vane, power] =
            turned(condition).map(|turned| turned || self.all);
        part(&mut self.thermometer, &twin.thermometer, thermometer);
        // It feels the thermometer's temperature.
        let hygrometer = hygrometer || self.thermometer.is_some();
        part(&mut self.hygrometer, &twin.hygrometer, hygrometer);
        part(&mut self.rain_gauge, &twin.rain_gauge, rain_gauge);
        part(&mut self.vane, &twin.vane, vane);
        part(&mut self.power, &twin.power, power);
    }

    fn join(&mut self, twin: &Head, condition: &Condition) {
        let [thermometer, hygrometer, rain_gauge, vane, power] =
            turned(condition).map(|turned| !turned);
        join(&mut self.thermometer, &twin.thermometer, thermometer);
        let hygrometer = hygrometer && self.thermometer.is_none();
        join(&mut self.hygrometer, &twin.hygrometer, hygrometer);
        join(&mut self.rain_gauge, &twin.rain_gauge, rain_gauge);
        join(&mut self.vane, &twin.vane, vane);
        join(&mut self.power, &twin.power, power);
    }
}

/// Whether a knob is turned that the thermometer, the hygrometer, the rain gauge, the vane, or the supply reads.
fn turned(condition: &Condition) -> [bool; 5] {
    // Every knob by its name, so that a new one cannot be forgotten here.
    let Condition {
        arrow_azimuth_deg,
        funnel_opening,
        shield_airflow,
        hygrometer_film,
        vane_friction,
        cells_charge,
    } = *condition;
    const HEALTHY: Condition = Condition::HEALTHY;
    let airflow = shield_airflow != HEALTHY.shield_airflow;
    [
        airflow,
        airflow || hygrometer_film != HEALTHY.hygrometer_film,
        funnel_opening != HEALTHY.funnel_opening,
        arrow_azimuth_deg != HEALTHY.arrow_azimuth_deg || vane_friction != HEALTHY.vane_friction,
        cells_charge != HEALTHY.cells_charge,
    ]
}
