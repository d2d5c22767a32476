//! The sensors, the supply and the clock of the outdoor head.

/// What a scenario may change about a head. Everything else about the sensors is a named constant beside
/// the model that uses it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameters {
    /// Reporting interval by the head's own clock, whole seconds.
    pub interval_s: u16,
    /// Rain depth of one tip, mm.
    pub bucket_mm: f64,
    /// Accuracy of the thermometer (two standard deviations of its calibration error), K.
    pub temperature_accuracy_k: f64,
    /// Accuracy of the hygrometer (two standard deviations of its calibration error), percent.
    pub humidity_accuracy_percent: f64,
    /// Accuracy of the barometer (two standard deviations of its calibration error), hPa.
    pub pressure_accuracy_hpa: f64,
    /// Accuracy of the cups (two standard deviations of their calibration error), share of the speed.
    pub wind_accuracy: f64,
    /// Speed at which the cups start to turn, m/s.
    pub start_speed_ms: f64,
    /// Accuracy of the light sensor (two standard deviations of its calibration error), share.
    pub light_accuracy: f64,
    /// Frequency error of the head's clock at 25 degC, parts per million.
    pub clock_ppm: f64,
    /// Area of the solar panel, cm2.
    pub panel_area_cm2: f64,
    /// Capacitor store, F.
    pub store_farad: f64,
    /// Capacity of the reserve cells when inserted, mAh.
    pub cells_mah: f64,
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
        }
    }
}
