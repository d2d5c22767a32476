//! Random air at random places: whatever the weather, a head says legal values and the site keeps its budgets.

use benchmast_protocol::quantity::Quantity;
use benchmast_sim::condition::{Condition, KNOBS};
use benchmast_sim::entropy::Seed;
use benchmast_sim::head::Parameters;
use benchmast_sim::physics::moist_air::{
    dew_point_degc, saturation_vapour_pressure_hpa, wet_bulb_degc,
};
use benchmast_sim::physics::sun::SunDirection;
use benchmast_sim::site::obstacles::{Obstacle, SECTORS};
use benchmast_sim::site::surface::Surface;
use benchmast_sim::site::{Place, Site, Surroundings};
use benchmast_sim::station::Station;
use benchmast_sim::truth::{Truth, WIND_SAMPLES, WindSample};
use proptest::prelude::*;

fn obstacle() -> impl Strategy<Value = Obstacle> {
    (0.5_f64..200.0, -5.0_f64..30.0, 0.0_f64..1.0, 0.0_f64..1.0).prop_map(
        |(distance_m, height_m, porosity, reflectance)| Obstacle {
            distance_m,
            height_m,
            porosity,
            reflectance,
        },
    )
}

fn site() -> impl Strategy<Value = Site> {
    (
        0.5_f64..10.0,
        0.001_f64..0.2,
        proptest::sample::select(Surface::ALL.to_vec()),
        0.0_f64..1.0,
        proptest::array::uniform12(obstacle()),
        proptest::array::uniform32(0.0_f64..40.0),
    )
        .prop_map(
            |(height_m, roughness_length_m, surface, surface_share, obstacles, hills)| {
                let _: [Obstacle; SECTORS] = obstacles;
                Site {
                    height_m,
                    roughness_length_m,
                    surface,
                    surface_share,
                    obstacles,
                    horizon_deg: std::array::from_fn(|k| hills[k % 32]),
                    ..Site::OPEN
                }
            },
        )
}

fn truth() -> impl Strategy<Value = Truth> {
    (
        (
            -50.0_f64..50.0,
            0.0_f64..100.0,
            500.0_f64..1060.0,
            0.5_f64..900.0,
        ),
        proptest::array::uniform4((0.0_f64..70.0, 0.0_f64..360.0)),
        (0.0_f64..360.0, -90.0_f64..90.0, 0.0_f64..1.4, 0.0_f64..1.0),
        (-150.0_f64..20.0, 0.0_f64..300.0, 0.0_f64..20.0),
    )
        .prop_map(|(state, samples, sun, sky)| {
            let (degc, humidity, pressure, interval_s) = state;
            let vapour = 0.01 * humidity * saturation_vapour_pressure_hpa(degc);
            let wind: [WindSample; WIND_SAMPLES] =
                samples.map(|(speed_ms, from_direction_deg)| WindSample {
                    speed_ms,
                    from_direction_deg,
                });
            let sun_direction = SunDirection::from_angles(sun.1, sun.0);
            let global = 1100.0 * sun.2 * sun_direction.up.max(0.0);
            let direct = if sun_direction.up > 0.0 {
                (sun.3 * global / sun_direction.up).min(1100.0)
            } else {
                0.0
            };
            let (rain_mm_h, snow_mm_h) = if degc > 1.0 {
                (sky.1, 0.0)
            } else {
                (0.0, sky.2)
            };
            Truth {
                interval_s,
                air_temperature_degc: degc,
                dew_point_degc: dew_point_degc(vapour.max(1e-4)).min(degc),
                vapour_pressure_hpa: vapour,
                relative_humidity_percent: humidity,
                air_pressure_hpa: pressure,
                wind,
                wind_speed_ms: wind.iter().map(|w| w.speed_ms).sum::<f64>() / 4.0,
                wind_from_direction_deg: wind[0].from_direction_deg,
                wet_bulb_degc: wet_bulb_degc(degc, vapour, pressure).clamp(-90.0, degc),
                net_longwave_wm2: sky.0,
                rainfall_mm: rain_mm_h * interval_s / 3600.0,
                snowfall_mm: snow_mm_h * interval_s / 3600.0,
                sun: sun_direction,
                global_irradiance_wm2: global,
                direct_normal_irradiance_wm2: direct,
                illuminance_lx: 120.0 * global,
                ultraviolet_index: 0.015 * global,
                ..Truth::default()
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// What reaches the head is physical whatever stands around: no more rain, wind or direct sun than in the open,
    /// no vapour beyond saturation, nothing that is not a number.
    #[test]
    fn any_site_passes_only_what_can_be(site in site(), truths in proptest::collection::vec(truth(), 1..60)) {
        let mut around = Surroundings::new(site);
        prop_assert!((0.0..=1.0).contains(&around.sky_view()));
        for truth in &truths {
            let e = around.expose(truth);
            for value in [
                e.air_temperature_degc, e.vapour_pressure_hpa, e.saturation_vapour_pressure_hpa,
                e.relative_humidity_percent, e.wind_speed_ms, e.rainfall_mm, e.snowfall_mm, e.wet_bulb_degc,
                e.global_irradiance_wm2, e.direct_normal_irradiance_wm2, e.direct_share,
                e.reflected_irradiance_wm2, e.net_longwave_wm2, e.illuminance_lx, e.ultraviolet_index,
            ] {
                prop_assert!(value.is_finite());
            }
            prop_assert!((0.0..=truth.rainfall_mm).contains(&e.rainfall_mm));
            prop_assert!((0.0..=truth.snowfall_mm).contains(&e.snowfall_mm));
            prop_assert!((0.0..=truth.direct_normal_irradiance_wm2).contains(&e.direct_normal_irradiance_wm2));
            prop_assert!((0.0..=100.0).contains(&e.relative_humidity_percent));
            prop_assert!((0.0..=1.0).contains(&e.direct_share));
            prop_assert!(e.vapour_pressure_hpa <= e.saturation_vapour_pressure_hpa * (1.0 + 1e-9));
            prop_assert!(e.wet_bulb_degc <= e.air_temperature_degc);
            prop_assert!((e.air_temperature_degc - truth.air_temperature_degc).abs() < 25.0);
            prop_assert!(e.global_irradiance_wm2 >= 0.0);
            prop_assert!(e.global_irradiance_wm2 <= 1.6 * truth.global_irradiance_wm2 + 1e-9);
            for sample in &e.wind {
                prop_assert!(sample.speed_ms >= 0.0 && sample.speed_ms <= 80.0);
                prop_assert!((0.0..360.0).contains(&sample.from_direction_deg));
            }
        }
    }

    /// An open site adds nothing, after any weather.
    #[test]
    fn an_open_site_is_free_air(truths in proptest::collection::vec(truth(), 1..60)) {
        let mut open = Surroundings::new(Site::OPEN);
        for truth in &truths {
            let e = open.expose(truth);
            prop_assert_eq!(e.air_temperature_degc.to_bits(), truth.air_temperature_degc.to_bits());
            prop_assert_eq!(e.vapour_pressure_hpa.to_bits(), truth.vapour_pressure_hpa.to_bits());
            prop_assert_eq!(e.relative_humidity_percent.to_bits(), truth.relative_humidity_percent.to_bits());
            prop_assert_eq!(e.wet_bulb_degc.to_bits(), truth.wet_bulb_degc.to_bits());
            prop_assert_eq!(e.rainfall_mm.to_bits(), truth.rainfall_mm.to_bits());
            prop_assert_eq!(e.snowfall_mm.to_bits(), truth.snowfall_mm.to_bits());
            prop_assert_eq!(e.global_irradiance_wm2.to_bits(), truth.global_irradiance_wm2.to_bits());
            prop_assert_eq!(e.net_longwave_wm2.to_bits(), truth.net_longwave_wm2.to_bits());
            prop_assert_eq!(e.illuminance_lx.to_bits(), truth.illuminance_lx.to_bits());
            prop_assert_eq!(e.ultraviolet_index.to_bits(), truth.ultraviolet_index.to_bits());
            prop_assert_eq!(e.wind, truth.wind);
        }
    }

    /// Twin and actual head under any weather, any site and any one knob: legal on the wire, and the thermometer within
    /// what a shield can do.
    #[test]
    fn any_weather_gives_legal_readings(
        site in site(),
        truths in proptest::collection::vec(truth(), 1..80),
        knob in 0..KNOBS.len(),
        share in 0.0_f64..1.0,
        seed in any::<u64>(),
    ) {
        let place = Place { latitude_deg: 50.0, longitude_deg: 10.0, altitude_m: 100.0 };
        let mut station = Station::new(&Parameters::default(), place, site, Seed(seed), "s", 0);
        let knob = &KNOBS[knob];
        let mut condition = Condition::HEALTHY;
        (knob.set)(&mut condition, knob.range.0 + share * (knob.range.1 - knob.range.0));
        let (mut coldest, mut warmest) = (f64::INFINITY, f64::NEG_INFINITY);
        for truth in &truths {
            let truth = Truth { time_us: station.next_time_us(), ..*truth };
            coldest = coldest.min(truth.air_temperature_degc);
            warmest = warmest.max(truth.air_temperature_degc);
            let step = station.step(&truth, &condition);
            for reading in [&step.twin, &step.actual] {
                prop_assert!(reading.observation.is_legal());
                prop_assert!(reading.rainfall_mm.is_finite() && reading.rainfall_mm >= 0.0);
            }
            prop_assert!(step.twin.alive);
            let degc = step.twin.observation.air_temperature.si().expect("a running head");
            prop_assert!(degc > coldest - 12.0 && degc < warmest + 30.0, "{} in {}..{}", degc, coldest, warmest);
            prop_assert!(step.twin.observation.relative_humidity.si().is_some());
            prop_assert!(step.twin.observation.air_pressure.si().is_some());
            prop_assert!(step.twin.observation.illuminance.si().is_some());
        }
    }
}
