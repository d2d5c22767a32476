use super::*;
use crate::site::Place;
use crate::weather::daylight::Daylight;
use proptest::prelude::*;

const DAY_S: f64 = 86_400.0;

/// A place under one unchanging air mass.
#[derive(Debug, Clone, Copy)]
struct Air {
    latitude_deg: f64,
    day: f64,
    degc: f64,
    dew_degc: f64,
    wind_ms: f64,
    cover: f64,
    gain: f64,
    step_s: f64,
}

const SUMMER: Air = Air {
    latitude_deg: 48.0,
    day: 172.0,
    degc: 18.0,
    dew_degc: 11.0,
    wind_ms: 2.0,
    cover: 0.0,
    gain: 1.0,
    step_s: 600.0,
};
const AUTUMN: Air = Air {
    day: 275.0,
    degc: 11.0,
    dew_degc: 9.5,
    wind_ms: 1.0,
    ..SUMMER
};
const WINTER: Air = Air {
    day: 15.0,
    degc: -4.0,
    dew_degc: -7.0,
    ..SUMMER
};

impl Air {
    fn forcing(&self, time_s: f64) -> Forcing {
        let place = Place {
            latitude_deg: self.latitude_deg,
            longitude_deg: 0.0,
            altitude_m: 50.0,
        };
        // 2026 begins at 1767225600 s.
        let start_s = 1_767_225_600.0 + (self.day - 1.0) * DAY_S;
        let light = Daylight::at(start_s + time_s - 0.5 * self.step_s, &place, self.day);
        Forcing {
            seconds: self.step_s,
            temperature_degc: self.degc,
            dew_point_degc: self.dew_degc,
            global_wm2: light.sky.global_wm2 * (1.0 - 0.75 * libm::pow(self.cover, 3.4)),
            cover: self.cover,
            wind_ms: self.wind_ms,
            pressure_hpa: 1000.0,
            rain_mmh: 0.0,
            range_gain: self.gain,
        }
    }

    /// The last of some days, step by step.
    fn last_day(&self, surface: &mut Surface, days: usize) -> Vec<NearGround> {
        let steps = (DAY_S / self.step_s) as usize;
        let mut last = Vec::new();
        for n in 1..=days * steps {
            let near = surface.step(&self.forcing(n as f64 * self.step_s));
            if n > (days - 1) * steps {
                last.push(near);
            }
        }
        last
    }

    fn day(&self) -> Vec<NearGround> {
        self.last_day(&mut Surface::new(), 3)
    }
}

fn range(day: &[NearGround], of: impl Fn(&NearGround) -> f64) -> f64 {
    let values = || day.iter().map(&of);
    values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)
}

fn lowest(day: &[NearGround]) -> f64 {
    day.iter()
        .map(|n| n.temperature_degc)
        .fold(f64::MAX, f64::min)
}

/// At an hour of a day of 144 steps.
fn at(day: &[NearGround], hour: f64) -> NearGround {
    day[(hour * 6.0) as usize - 1]
}

#[test]
fn clear_calm_nights_are_cold_and_cloud_or_wind_keeps_them_mild() {
    // Falls of 8 to 12 K on a clear calm night and less than 3 K under cloud and wind are what forecasters
    // expect over open land (common practice, no source).
    let of = |wind_ms: f64, cover: f64| {
        range(
            &Air {
                wind_ms,
                cover,
                ..SUMMER
            }
            .day(),
            |n| n.temperature_degc,
        )
    };
    let clear = of(2.0, 0.0);
    assert!((8.0..12.5).contains(&clear), "{clear}");
    assert!(of(8.0, 1.0) < 3.0, "{}", of(8.0, 1.0));
    assert!(of(2.0, 1.0) < 4.0, "{}", of(2.0, 1.0));
    assert!(of(9.0, 0.0) < clear - 1.0, "{}", of(9.0, 0.0));
}

#[test]
fn the_day_peaks_in_the_afternoon_and_is_coldest_about_sunrise() {
    let day = SUMMER.day();
    let when = |better: fn(f64, f64) -> bool| {
        let mut best = 0;
        for (n, near) in day.iter().enumerate() {
            if better(near.temperature_degc, day[best].temperature_degc) {
                best = n;
            }
        }
        best as f64 / 6.0
    };
    let (high, low) = (when(|a, b| a > b), when(|a, b| a < b));
    assert!((13.0..16.5).contains(&high), "{high}");
    assert!((3.0..6.0).contains(&low), "{low}");
}

#[test]
fn vapour_is_mixed_out_by_day_and_gathers_in_the_evening() {
    let day = SUMMER.day();
    let dew = |hour: f64| at(&day, hour).dew_point_degc();
    assert!(dew(14.5) < dew(8.0) - 0.5, "{} {}", dew(14.5), dew(8.0));
    assert!(dew(20.5) > dew(15.0) + 0.5, "{} {}", dew(20.5), dew(15.0));
    // Dew takes vapour out in the second half of the night.
    assert!(dew(4.0) < dew(21.0) - 0.2, "{} {}", dew(4.0), dew(21.0));
}

#[test]
fn dew_forms_by_night_and_is_gone_by_noon() {
    let mut surface = Surface::new();
    let mut most = 0.0_f64;
    for n in 1..=144 * 2 {
        let near = surface.step(&AUTUMN.forcing(f64::from(n) * 600.0));
        assert!(near.dew_point_degc() <= near.temperature_degc + 1e-9);
        if n > 144 {
            most = most.max(surface.water.film_mm);
        }
        if n == 144 + 14 * 6 {
            assert!(surface.water.film_mm < 0.02, "{:?}", surface.water);
        }
    }
    // A night's dew is at most 0.5 mm, usually 0.1 to 0.3 mm (Monteith 1957, Q. J. R. Meteorol. Soc. 83,
    // from memory).
    assert!((0.03..0.5).contains(&most), "{most}");
}

#[test]
fn fog_forms_after_a_moist_clear_calm_night_and_lifts() {
    let day = Air {
        dew_degc: 10.5,
        ..AUTUMN
    }
    .day();
    let night = day[..36].iter().map(|n| n.fog).fold(0.0, f64::max);
    assert!(night > 0.3, "{night}");
    assert!(at(&day, 13.0).fog < 0.1, "{}", at(&day, 13.0).fog);
    // Neither in dry air nor in wind.
    let none = |air: Air| air.day().iter().map(|n| n.fog).fold(0.0, f64::max);
    assert!(none(SUMMER) < 0.01);
    assert!(
        none(Air {
            wind_ms: 7.0,
            ..AUTUMN
        }) < 0.05
    );
}

#[test]
fn snow_on_the_ground_makes_nights_colder_and_melts_in_mild_air() {
    let (mut bare, mut white) = (Surface::new(), Surface::new());
    for surface in [&mut bare, &mut white] {
        surface.step(&WINTER.forcing(600.0));
    }
    bare.water.snow_mm = 0.0;
    white.water.snow_mm = 20.0;
    let (bare, cold) = (
        WINTER.last_day(&mut bare, 2),
        WINTER.last_day(&mut white, 2),
    );
    assert!(
        lowest(&cold) < lowest(&bare) - 1.5,
        "{} {}",
        lowest(&cold),
        lowest(&bare)
    );
    let mean = |day: &[NearGround]| day.iter().map(|n| n.temperature_degc).sum::<f64>();
    assert!(mean(&cold) < mean(&bare) - 144.0);
    // Degree-day factors of snow are 2.5 to 5.5 mm per K and day away from glaciers (Hock 2003, J. Hydrol.
    // 282, table 1, from memory); cloudy and mild here, so that the air does the melting.
    let before = white.water.snow_mm;
    let thaw = Air {
        degc: 5.0,
        dew_degc: 2.0,
        wind_ms: 4.0,
        cover: 1.0,
        ..WINTER
    };
    let day = thaw.last_day(&mut white, 1);
    let melted = before - white.water.snow_mm;
    let degrees = day.iter().map(|n| n.temperature_degc).sum::<f64>() / 144.0;
    let factor = melted / degrees;
    assert!((2.0..6.5).contains(&factor), "{factor} {degrees} {before}");
}

#[test]
fn wet_ground_evaporates_and_dry_ground_heats() {
    // Bowen ratio: about 0.1 over tropical sea, 0.4 to 0.8 over temperate grass and forest, 2 to 6 semi-arid,
    // above 10 in deserts (Oke 1987, section 2.3, from memory).
    let bowen = |air: Air, film_mm: f64| {
        let mut surface = Surface::new();
        let (mut sensible, mut latent) = (0.0, 0.0);
        for n in 1..=144 * 2 {
            if film_mm > 0.0 {
                surface.water.film_mm = film_mm;
            }
            let account = surface.advance(&air.forcing(f64::from(n) * 600.0)).1;
            if n > 144 + 60 && n < 144 + 96 {
                sensible += account.fluxes.sensible;
                latent += account.fluxes.latent;
            }
        }
        sensible / latent
    };
    let humid = bowen(SUMMER, 0.0);
    let wet = bowen(SUMMER, 0.5);
    let desert = Air {
        latitude_deg: 30.0,
        degc: 30.0,
        dew_degc: 2.0,
        ..SUMMER
    };
    let dry = bowen(desert, 0.0);
    assert!((0.3..1.3).contains(&humid), "{humid}");
    assert!(wet < 0.5 * humid, "{wet} {humid}");
    assert!(dry > 5.0, "{dry}");
}

#[test]
fn rain_cools_towards_the_wet_bulb_and_no_further() {
    let air = Air {
        cover: 1.0,
        ..SUMMER
    };
    let mut surface = Surface::new();
    air.last_day(&mut surface, 1);
    let before = surface.step(&air.forcing(12.0 * 3600.0));
    let wet_bulb = wet_bulb_degc(before.temperature_degc, before.vapour_pressure_hpa, 1000.0);
    let mut near = before;
    for _ in 0..12 {
        near = surface.step(&Forcing {
            rain_mmh: 3.0,
            ..air.forcing(12.0 * 3600.0)
        });
    }
    assert!(near.temperature_degc < before.temperature_degc - 1.0);
    assert!(near.temperature_degc > wet_bulb - 1.0);
    assert!(near.dew_point_degc() > before.dew_point_degc() + 0.5);
}

#[test]
fn the_length_of_the_step_hardly_matters() {
    for air in [
        SUMMER,
        AUTUMN,
        WINTER,
        Air {
            wind_ms: 10.0,
            ..SUMMER
        },
    ] {
        let fine = air.day();
        let coarse = Air {
            step_s: 1800.0,
            ..air
        }
        .day();
        for (n, near) in coarse.iter().enumerate() {
            let same = fine[3 * n + 2];
            let apart = (near.temperature_degc - same.temperature_degc).abs();
            assert!(apart < 1.0, "{n} {near:?} {same:?}");
        }
        let mean = |day: &[NearGround]| {
            day.iter().map(|n| n.temperature_degc).sum::<f64>() / day.len() as f64
        };
        assert!((mean(&fine) - mean(&coarse)).abs() < 0.25);
    }
}

#[test]
fn the_gain_stretches_the_day() {
    // In air so dry that no fog forms, which would hold the temperature.
    let dry = Air {
        dew_degc: -15.0,
        ..WINTER
    };
    for air in [SUMMER, AUTUMN, dry] {
        let mut last = 0.0;
        for gain in [0.1, 0.3, 0.6, 1.0, 1.5, 2.0, 3.0, 4.0] {
            let now = range(&Air { gain, ..air }.day(), |n| n.temperature_degc);
            assert!(now > last + 0.1, "{gain}: {now} {last}");
            last = now;
        }
    }
}

#[test]
fn half_of_what_falls_is_snow_near_one_degree() {
    // Wang et al. 2019: half at ln(1/6.99e-5)/2 - 3.97 degC.
    let half = libm::log(1.0 / 6.99e-5) / 2.0 - 3.97;
    assert!((solid_share(half) - 0.5).abs() < 1e-12 && (half - 0.81).abs() < 0.01);
    assert!(solid_share(-3.0) > 0.99 && solid_share(4.0) < 0.01);
}

fn any_forcing() -> impl Strategy<Value = Forcing> {
    (
        (-50.0..50.0_f64, 0.0..40.0_f64),
        prop_oneof![Just(0.0), 0.0..1250.0_f64],
        0.0..=1.0_f64,
        0.0..40.0_f64,
        650.0..1060.0_f64,
        prop_oneof![Just(0.0), 0.0..80.0_f64],
        prop_oneof![Just(600.0), Just(1800.0)],
    )
        .prop_map(
            |(air, global_wm2, cover, wind_ms, pressure_hpa, rain_mmh, seconds)| Forcing {
                seconds,
                temperature_degc: air.0,
                dew_point_degc: air.0 - air.1,
                global_wm2,
                cover,
                wind_ms,
                pressure_hpa,
                rain_mmh,
                range_gain: 1.0,
            },
        )
}

/// Runs spells of unchanging forcing, each of some steps, under one gain, and looks at the air after each step.
fn under(gain: f64, spells: &[(Forcing, usize)], mut see: impl FnMut(&Forcing, &NearGround)) {
    let mut surface = Surface::new();
    for (forcing, steps) in spells {
        let forcing = Forcing {
            range_gain: gain,
            ..*forcing
        };
        for _ in 0..*steps {
            see(&forcing, &surface.step(&forcing));
        }
    }
}

/// Relative humidity, 0 to 1.
fn humidity(near: &NearGround) -> f64 {
    near.vapour_pressure_hpa / saturation_vapour_pressure_hpa(near.temperature_degc)
}

#[test]
fn tropical_air_over_polar_ground_is_still_air() {
    let cold = Forcing {
        seconds: 1800.0,
        temperature_degc: -48.660_336_263_095_11,
        dew_point_degc: -48.660_336_263_095_11,
        global_wm2: 567.505_442_766_912_4,
        cover: 0.962_928_145_773_416_2,
        wind_ms: 22.441_365_544_055_24,
        pressure_hpa: 650.0,
        rain_mmh: 59.164_545_214_628_2,
        range_gain: 1.0,
    };
    let hot = Forcing {
        seconds: 600.0,
        temperature_degc: 47.282_446_055_603_14,
        dew_point_degc: 47.282_446_055_603_14,
        global_wm2: 6.604_614_946_958_849,
        cover: 0.768_785_334_703_324,
        wind_ms: 0.0,
        pressure_hpa: 727.223_252_651_919_7,
        rain_mmh: 0.0,
        range_gain: 1.0,
    };
    // Frost takes vapour out of it, but never nearly all.
    under(3.893_798_180_496_325, &[(cold, 5), (hot, 72)], |f, near| {
        let away = near.temperature_degc - f.temperature_degc;
        assert!(away.abs() <= FURTHEST_K + 1e-9, "{away} {near:?}");
        assert!(humidity(near) > 0.1, "{} {near:?}", humidity(near));
    });
}

#[test]
fn the_coldest_and_the_hottest_climates_stay_air() {
    // Normals may be from -60 to 50 degC; ten days under each of them, sun and night by turns.
    for degc in [-60.0, -50.0, 40.0, 50.0] {
        for spread in [0.5, 5.0, 25.0] {
            for gain in [0.05, 1.0, 4.0] {
                for wind_ms in [0.0, 3.0, 30.0] {
                    for cover in [0.0, 1.0] {
                        let air = Air {
                            latitude_deg: 25.0,
                            degc,
                            dew_degc: degc - spread,
                            wind_ms,
                            cover,
                            gain,
                            ..SUMMER
                        };
                        for near in air.last_day(&mut Surface::new(), 10) {
                            let away = near.temperature_degc - degc;
                            assert!((-20.0..42.0).contains(&away), "{away} {air:?} {near:?}");
                            let rh = humidity(&near);
                            assert!((0.015..=1.0).contains(&rh), "{rh} {air:?} {near:?}");
                        }
                    }
                }
            }
        }
    }
}

proptest! {
    #[test]
    fn budgets_close_and_the_air_stays_air(
        // The gain is a place's own: it creeps from month to month.
        range_gain in 0.05..4.0_f64,
        spells in prop::collection::vec((any_forcing(), 1..40_usize), 1..12)
    ) {
        let mut surface = Surface::new();
        for (forcing, steps) in spells {
            let forcing = Forcing { range_gain, ..forcing };
            for _ in 0..steps {
                let begun = surface.begun;
                let held = surface.water.held_mm();
                let before = surface.ground;
                let moist = surface.water.moist();
                let (near, account) = surface.advance(&forcing);
                prop_assert!(near.temperature_degc.is_finite());
                prop_assert!(near.dew_point_degc() <= near.temperature_degc + 1e-9);
                let humidity = near.vapour_pressure_hpa
                    / saturation_vapour_pressure_hpa(near.temperature_degc);
                prop_assert!(humidity > 0.0 && humidity <= 1.0, "{}", humidity);
                prop_assert!((0.0..=1.0).contains(&near.fog));
                let away = near.temperature_degc - forcing.temperature_degc;
                prop_assert!(away.abs() < 90.0, "{:?}", near);
                let f = account.fluxes;
                let left = f.absorbed - f.emitted - f.sensible - f.latent - f.melt - f.ground;
                let scale = f.absorbed.abs() + f.emitted + f.sensible.abs() + f.latent.abs()
                    + f.melt + f.ground.abs();
                prop_assert!(left.abs() < 1e-9 * scale, "{} {:?}", left, f);
                if !begun {
                    continue;
                }
                // What goes into the ground is stored there or restored to the deep soil.
                let store = Ground::store(moist);
                let stored = store * (surface.ground.top_degc - before.top_degc) / forcing.seconds;
                let restored = store * 7.272_205e-5 * (surface.ground.top_degc - before.deep_degc);
                prop_assert!((stored + restored - f.ground).abs() < 1e-6 * scale);
                let w = account.water;
                let change = surface.water.held_mm() - held;
                let gone = w.evaporation + change + w.runoff;
                let come = w.rain + w.snowfall + w.dew + w.raised;
                prop_assert!((come - gone).abs() < 1e-9 * (1.0 + held), "{:?} {}", w, change);
                prop_assert!(surface.water.film_mm >= 0.0 && surface.water.snow_mm >= 0.0);
                prop_assert!(surface.water.top_mm >= 0.0);
            }
        }
    }
}
