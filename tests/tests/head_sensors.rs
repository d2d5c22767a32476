//! The slow sensors, each alone, against what is published of their kind.

use benchmast_protocol::quantity::Quantity;
use benchmast_sim::condition::Condition;
use benchmast_sim::entropy::Seed;
use benchmast_sim::head::barometer::{Barometer, wind_pressure_hpa};
use benchmast_sim::head::hygrometer::{Hygrometer, time_constant_s};
use benchmast_sim::head::light::{Light, cosine_response};
use benchmast_sim::head::noise::NoiseSource;
use benchmast_sim::head::thermometer::{Thermometer, shield_error_k, short_wave_on_shield};
use benchmast_sim::head::{Head, Parameters, Response};
use benchmast_sim::physics::moist_air::{saturation_vapour_pressure_hpa, wet_bulb_degc};
use benchmast_sim::physics::sun::SunDirection;
use benchmast_sim::site::{Exposure, Site, Surroundings};
use benchmast_sim::truth::{Truth, WIND_SAMPLES, WindSample};

const OK: Condition = Condition::HEALTHY;

/// 16 s of air over open grass.
fn air(degc: f64, relative_humidity_percent: f64, speed_ms: f64) -> Truth {
    let vapour = 0.01 * relative_humidity_percent * saturation_vapour_pressure_hpa(degc);
    Truth {
        interval_s: 16.0,
        air_temperature_degc: degc,
        vapour_pressure_hpa: vapour,
        relative_humidity_percent,
        air_pressure_hpa: 1013.25,
        wind: [WindSample {
            speed_ms,
            from_direction_deg: 250.0,
        }; WIND_SAMPLES],
        wind_speed_ms: speed_ms,
        wind_from_direction_deg: 250.0,
        wet_bulb_degc: wet_bulb_degc(degc, vapour, 1013.25),
        ..Truth::default()
    }
}

/// The same in the sun: global irradiance and sine of its elevation, 85 % of it direct.
fn sunny(truth: Truth, global_wm2: f64, up: f64) -> Truth {
    Truth {
        sun: SunDirection {
            up,
            ..SunDirection::default()
        },
        global_irradiance_wm2: global_wm2,
        direct_normal_irradiance_wm2: 0.85 * global_wm2 / up,
        illuminance_lx: 115.0 * global_wm2,
        ..truth
    }
}

fn exposed(truth: &Truth) -> Exposure {
    Surroundings::new(Site::OPEN).expose(truth)
}

/// Error that a thermometer settles to, K.
fn settled_error_k(exposure: &Exposure) -> f64 {
    let mut thermometer = Thermometer::new(0.0);
    for _ in 0..100 {
        thermometer.step(exposure, &OK, 0.0);
    }
    thermometer.sensor_degc() - exposure.air_temperature_degc
}

/// Source: sizes of the published comparisons of multi-plate shields: 0.2 to 0.3 K (RMS) by day above 2 m/s against an
/// aspirated one (Air Temperature Shield Tests, WHOI technical report, abstract); 0.4 to 0.6 K mean over daylight
/// hours of May to August in a light wind (comparison in north-east Germany, abstract); "2 to 4 K" in a calm clear
/// noon for poor shields, half of that for one in good order.
#[test]
fn a_good_shield_errs_by_tenths_in_wind_and_by_more_than_its_accuracy_in_a_calm_sun() {
    let error =
        |speed: f64, sun: f64| settled_error_k(&exposed(&sunny(air(20.0, 50.0, speed), sun, 0.8)));
    let windy: Vec<f64> = [2.5, 4.0, 6.0]
        .iter()
        .flat_map(|&speed| [200.0, 500.0, 800.0].map(|sun| error(speed, sun)))
        .collect();
    let rms = (windy.iter().map(|e| e * e).sum::<f64>() / windy.len() as f64).sqrt();
    assert!((0.05..0.3).contains(&rms), "{rms}");
    let light_wind: f64 = [0.7, 1.0, 1.5, 2.0]
        .iter()
        .flat_map(|&speed| [100.0, 300.0, 500.0, 800.0].map(|sun| error(speed, sun)))
        .sum::<f64>()
        / 16.0;
    assert!((0.1..0.6).contains(&light_wind), "{light_wind}");
    let calm_noon = error(0.0, 900.0);
    assert!((1.0..2.0).contains(&calm_noon), "{calm_noon}");
}

/// Source: Arck and Scherer 2001, Ann. Glaciol. 32 (abstract): up to 6.2 K in a naturally ventilated shield over melting
/// snow with much reflected sun and little wind. Ours for a shield of the published gain.
#[test]
fn snow_below_drives_the_error_up() {
    let noon = sunny(air(2.0, 70.0, 0.3), 850.0, 0.7);
    let mut snowy = Surroundings::new(Site::OPEN);
    let _ = snowy.expose(&Truth {
        snowfall_mm: 20.0,
        ..air(-2.0, 90.0, 1.0)
    });
    let (over_snow, over_grass) = (snowy.expose(&noon), exposed(&noon));
    let error = |e: &Exposure| {
        shield_error_k(
            short_wave_on_shield(e),
            e.net_longwave_wm2,
            0.3,
            1013.25,
            1.0,
        )
    };
    let (snow_k, grass_k) = (error(&over_snow), error(&over_grass));
    assert!((4.5..6.5).contains(&snow_k), "{snow_k}");
    assert!(snow_k > 1.5 * grass_k, "{grass_k}");
}

/// Source: abstract of the comparison in north-east Germany: errors of unventilated shields are largest not at noon but
/// with a low sun. At equal global irradiance the low sun must err more.
#[test]
fn a_low_sun_errs_more_than_a_high_one_of_the_same_irradiance() {
    let at = |up: f64| settled_error_k(&exposed(&sunny(air(15.0, 60.0, 1.0), 250.0, up)));
    let (low, high) = (at(0.3), at(0.7));
    assert!(low > 1.2 * high && low < 2.5 * high, "{low} {high}");
}

/// Source: handbooks (from memory): 0.1 to 0.5 K too cold under a clear calm night sky; a cloudy or windy night shows
/// nothing.
#[test]
fn clear_calm_nights_read_a_little_cold() {
    let night = |speed: f64, longwave: f64| {
        settled_error_k(&exposed(&Truth {
            net_longwave_wm2: longwave,
            ..air(8.0, 85.0, speed)
        }))
    };
    let calm = night(0.3, -75.0);
    assert!((-0.5..=-0.1).contains(&calm), "{calm}");
    assert!(night(5.0, -75.0).abs() < 0.02);
    assert!(night(0.3, -6.0).abs() < 0.03);
}

/// Source: WMO-No. 8, Part I, ch. 2 (from memory): time constants of small multi-plate shields of 20 to 200 s, falling
/// with the root of the ventilation.
#[test]
fn the_time_constant_is_that_of_small_shields() {
    for (speed, expected) in [(0.3, 182.6_f64), (1.0, 100.0), (4.0, 50.0), (16.0, 25.0)] {
        let mut thermometer = Thermometer::new(0.0);
        thermometer.step(&exposed(&air(10.0, 50.0, speed)), &OK, 0.0);
        let warm = exposed(&air(20.0, 26.0, speed));
        let mut seconds = 0.0;
        while thermometer.sensor_degc() < 20.0 - 10.0 / std::f64::consts::E {
            thermometer.step(&warm, &OK, 0.0);
            seconds += 16.0;
        }
        assert!(
            (seconds - expected).abs() <= 16.0,
            "{speed} m/s: {seconds} s"
        );
        assert!((20.0..=200.0).contains(&expected));
    }
}

/// Source: psychrometry (WMO-No. 8, Annex 4.B): no wet body goes below the wet bulb. Sizes after rain, 0.1 to 2 K for
/// up to an hour: common practice, no source.
#[test]
fn after_a_shower_the_shield_is_cool_but_never_below_the_wet_bulb() {
    for (degc, humidity, speed) in [(28.0, 35.0, 3.0), (18.0, 60.0, 1.0), (8.0, 85.0, 0.5)] {
        let dry = air(degc, humidity, speed);
        let mut thermometer = Thermometer::new(0.0);
        thermometer.step(&exposed(&dry), &OK, 0.0);
        let wet = exposed(&Truth {
            rainfall_mm: 0.1,
            ..dry
        });
        for _ in 0..200 {
            thermometer.step(&wet, &OK, 0.0);
        }
        let cooling = degc - thermometer.sensor_degc();
        assert!((0.05..2.0).contains(&cooling), "{degc}: {cooling}");
        assert!(thermometer.sensor_degc() > dry.wet_bulb_degc);
        let mut minutes = 0.0;
        while thermometer.water_mm() > 0.0 {
            thermometer.step(&exposed(&dry), &OK, 0.0);
            minutes += 16.0 / 60.0;
        }
        assert!((0.5..70.0).contains(&minutes), "{degc}: {minutes} min");
    }
}

/// Source: order of Miloshevich et al. 2004, J. Atmos. Oceanic Technol. 21, 1305 (from memory): thin-film elements get
/// some ten times slower over 40 K of cold. WMO-No. 8, Part I, ch. 4: 40 s and more are usual at the surface.
#[test]
fn the_hygrometer_is_slow_in_the_cold() {
    assert!((time_constant_s(20.0) - 20.0).abs() < 1e-12);
    assert!((40.0..120.0).contains(&time_constant_s(-20.0)));
    let polymer = |degc: f64| time_constant_s(degc) - 15.0;
    let ratio = polymer(-40.0) / polymer(0.0);
    assert!((8.0..14.0).contains(&ratio), "{ratio}");
    let after = |degc: f64| {
        let mut hygrometer = Hygrometer::new(0.0);
        for _ in 0..20 {
            hygrometer.step(&exposed(&air(degc, 30.0, 2.0)), degc, &OK, 0.0);
        }
        let mut last = 0.0;
        for _ in 0..4 {
            last = hygrometer.step(&exposed(&air(degc, 70.0, 2.0)), degc, &OK, 0.0);
        }
        last
    };
    assert!(after(20.0) > 66.0 && after(-30.0) < 56.0);
}

/// What makers warn of (common practice, no source): after a foggy night an element reads up to 3 % high and
/// recovers within a day; and the filter stays wet for some minutes.
#[test]
fn a_night_of_fog_leaves_the_hygrometer_high_for_hours() {
    let mut hygrometer = Hygrometer::new(0.0);
    let fog = exposed(&air(8.0, 100.0, 0.5));
    for _ in 0..225 * 10 {
        hygrometer.step(&fog, 8.0, &OK, 0.0);
    }
    let drier = exposed(&air(14.0, 60.0, 2.0));
    let mut minutes_at_saturation = 0.0;
    while hygrometer.step(&drier, 14.0, &OK, 0.0) > 98.0 {
        minutes_at_saturation += 16.0 / 60.0;
        assert!(minutes_at_saturation < 60.0);
    }
    assert!(
        (1.0..20.0).contains(&minutes_at_saturation),
        "{minutes_at_saturation}"
    );
    let swollen = |hygrometer: &mut Hygrometer, hours: u32| {
        let mut reading = 0.0;
        for _ in 0..225 * hours {
            reading = hygrometer.step(&drier, 14.0, &OK, 0.0);
        }
        reading
    };
    // The loop holds the falling side 1 % up for good.
    let soon = swollen(&mut hygrometer, 1) - 61.0;
    assert!((0.4..3.0).contains(&soon), "{soon}");
    let later = swollen(&mut hygrometer, 23) - 61.0;
    assert!(later.abs() < 0.15, "{later}");
}

/// Drift is a rate: three years of it, and none without.
#[test]
fn drift_adds_up_over_years() {
    let mut year = air(15.0, 60.0, 2.0);
    year.interval_s = 86_400.0;
    let (mut drifting, mut steady) = (Hygrometer::new(0.0).drifting(-0.5), Hygrometer::new(0.0));
    let mut barometer = Barometer::new(0.0).drifting(0.0, 0.2);
    let exposure = exposed(&year);
    for _ in 0..1096 {
        drifting.step(&exposure, 15.0, &OK, 0.0);
        steady.step(&exposure, 15.0, &OK, 0.0);
        barometer.age(&exposure);
    }
    assert!((drifting.drifted_percent() + 1.5).abs() < 0.01);
    assert_eq!(steady.drifted_percent(), 0.0);
    assert!((barometer.drifted_hpa() - 0.6).abs() < 0.01);
}

/// Source: `p = rho u^2 / 2` (definition); WMO-No. 8, Part I, ch. 3 (from memory): wind makes errors of up to 2 or 3 hPa in
/// strong gusts indoors; an outdoor port in good order keeps below 0.3 hPa up to 15 m/s.
#[test]
fn wind_moves_the_barometer_little_and_with_the_square_of_the_speed() {
    for direction in 0..36 {
        let at = |speed: f64| wind_pressure_hpa(speed, f64::from(direction) * 10.0, 1013.25, 15.0);
        assert!(at(10.0).abs() < 0.15, "{direction}: {}", at(10.0));
        assert!(at(15.0).abs() < 0.33 && at(35.0).abs() < 2.0);
        assert!((at(20.0) - 4.0 * at(10.0)).abs() < 1e-12);
    }
    let on_port = wind_pressure_hpa(15.0, 180.0, 1013.25, 15.0);
    let behind = wind_pressure_hpa(15.0, 0.0, 1013.25, 15.0);
    assert!(on_port > 0.0 && behind < 0.0);
}

/// Source: classes of pyranometers, WMO-No. 8, Part I, ch. 7 (from memory): the best keep the cosine law within 3 % at 10
/// degrees, moderate ones within 15 %. Ours is moderate, and true at the zenith and under a grey sky.
#[test]
fn the_cosine_response_is_that_of_a_moderate_sensor() {
    let mut last = 0.0;
    for elevation in [10.0_f64, 20.0, 30.0, 45.0, 60.0, 90.0] {
        let response = cosine_response(1.0, elevation.to_radians().sin());
        assert!(response > last);
        last = response;
        assert!((0.85..=1.0).contains(&response));
    }
    assert!(cosine_response(1.0, 30.0_f64.to_radians().sin()) > 0.97);
    assert_eq!(last, 1.0);
    let tilted = exposed(&sunny(air(15.0, 60.0, 2.0), 150.0, 0.2));
    let mut light = Light::new(1.0, 0.0, 1.0);
    let reading = light.step(&tilted, 0.0, 0.0).0;
    assert!((reading / tilted.illuminance_lx - cosine_response(0.85, 0.2)).abs() < 1e-3);
}

/// Source: Kimber et al. 2006 as documented by pvlib 0.16.1 (`pvlib.soiling.kimber`): 0.15 % a day on flat panels, clean
/// after 6 mm in a day. A small dome takes half; over a dry summer it stays within the stated 10 %.
#[test]
fn dirt_dims_over_a_dry_summer_and_a_wet_day_cleans() {
    let mut light = Light::new(1.0, 0.0, 1.0);
    let mut dry = air(25.0, 40.0, 2.0);
    dry.interval_s = 600.0;
    let exposure = exposed(&dry);
    for _ in 0..90 * 144 {
        light.age(&exposure);
    }
    let loss = light.dome().dirt();
    assert!((loss - 0.5 * 0.0015 * 90.0).abs() < 0.001, "{loss}");
    let wet = exposed(&Truth {
        rainfall_mm: 6.0 / 144.0,
        ..dry
    });
    for _ in 0..144 {
        light.age(&wet);
    }
    assert!(light.dome().dirt() < 0.15 * loss);
}

/// A day in the life of many good heads: how much of the readings lies within the accuracy that is stated. A requirement.
/// Outside it: temperature in a calm sun, humidity right after fog, light of a low sun and under hoar.
#[test]
fn most_readings_of_good_heads_lie_within_the_stated_accuracy() {
    let parameters = Parameters::default();
    let (mut inside, mut count) = ([0_u32; 4], [0_u32; 4]);
    for number in 0..20_u64 {
        let mut head = Head::new(&parameters, &mut Seed(number).stream("a", "calibration"));
        let mut noise = NoiseSource::new(Seed(number), "a");
        let mut around = Surroundings::new(Site::OPEN);
        for k in 0..2 * 5400 {
            let hour = f64::from(k) / 225.0 % 24.0;
            let phase = std::f64::consts::TAU * hour / 24.0;
            let up = 0.25 - 0.5 * phase.cos();
            let speed = 2.5 - 1.5 * phase.cos();
            let degc = 12.0 - 5.0 * (phase - 0.6).cos();
            let base = air(degc, 65.0 + 20.0 * (phase - 0.6).cos(), speed);
            let truth = Truth {
                net_longwave_wm2: -45.0,
                ..if up > 0.02 {
                    sunny(base, 700.0 * up, up)
                } else {
                    base
                }
            };
            let exposure = around.expose(&truth);
            let reading = head.step(&exposure, &Response::to(&exposure), &OK, &noise.draw());
            let o = &reading.observation;
            let checks = [
                (o.air_temperature.si(), degc, 0.25, true),
                (
                    o.relative_humidity.si(),
                    truth.relative_humidity_percent,
                    5.0,
                    true,
                ),
                (o.air_pressure.si(), truth.air_pressure_hpa, 0.7, true),
                (
                    o.illuminance.si(),
                    truth.illuminance_lx,
                    0.1 * truth.illuminance_lx,
                    up > 0.35,
                ),
            ];
            for (index, (value, expected, allowed, counts)) in checks.into_iter().enumerate() {
                if counts {
                    count[index] += 1;
                    let error = (value.expect("a running head") - expected).abs();
                    inside[index] += u32::from(error <= allowed);
                }
            }
        }
    }
    let share: Vec<f64> = inside
        .iter()
        .zip(count)
        .map(|(&inside, count)| f64::from(inside) / f64::from(count))
        .collect();
    assert!(share[0] > 0.80, "temperature: {share:?}");
    assert!(share[1] > 0.90, "humidity: {share:?}");
    assert!(share[2] > 0.90, "pressure: {share:?}");
    assert!(share[3] > 0.90, "light: {share:?}");
}
