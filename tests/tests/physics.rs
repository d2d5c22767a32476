//! The trade's equations against published and independently computed tables (sources: `data/WEATHER.md`).

use benchmast_sim::physics::{atmosphere, light, moist_air, sun, wind_profile};
use benchmast_sim::site::Place;
use std::collections::BTreeMap;

type Row = BTreeMap<String, String>;

fn table(name: &str) -> Vec<Row> {
    let path = format!("{}/data/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(&path).expect(&path);
    let rows: Vec<Row> = reader.deserialize().map(|row| row.unwrap()).collect();
    assert!(!rows.is_empty(), "{name} is empty");
    rows
}

fn get(row: &Row, column: &str) -> f64 {
    maybe(row, column).unwrap_or_else(|| panic!("no {column} in {row:?}"))
}

fn maybe(row: &Row, column: &str) -> Option<f64> {
    row.get(column).and_then(|cell| cell.parse().ok())
}

#[track_caller]
fn near(what: &str, value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{what}: {value}, expected {expected} within {tolerance}"
    );
}

/// Seconds since 1970 of `YYYY-MM-DDTHH:MM:SSZ` (Hinnant's days-from-civil).
fn instant(text: &str) -> f64 {
    let part = |from: usize, to: usize| text[from..to].parse::<i64>().unwrap();
    let (year, month, day) = (part(0, 4), part(5, 7), part(8, 10));
    let y = if month <= 2 { year - 1 } else { year };
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    let days = era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468;
    (days * 86_400 + part(11, 13) * 3600 + part(14, 16) * 60 + part(17, 19)) as f64
}

#[test]
fn saturation_vapour_pressure_follows_wmo_and_stays_near_the_better_formulas() {
    for row in table("saturation.csv") {
        let t = get(&row, "t_c");
        let water = moist_air::saturation_vapour_pressure_hpa(t);
        near(
            "water",
            water,
            get(&row, "ew_wmo_hpa"),
            2e-6 * (1.0 + water),
        );
        let ice = moist_air::saturation_vapour_pressure_over_ice_hpa(t);
        if t <= 0.0 {
            near("ice", ice, get(&row, "ei_wmo_hpa"), 2e-6);
        }
        // Murphy & Koop 2005: within 0.35 % from -10 to 40 degC.
        if (-10.0..=40.0).contains(&t) {
            let better = get(&row, "ew_murphykoop_hpa");
            near("Murphy & Koop", water, better, 0.0035 * better);
        }
    }
    // IAPWS-95 steam tables (from memory): 23.393, 42.470 and 73.849 hPa.
    for (t, e) in [(20.0, 23.393), (30.0, 42.470), (40.0, 73.849)] {
        near(
            "IAPWS",
            moist_air::saturation_vapour_pressure_hpa(t),
            e,
            0.004 * e,
        );
    }
}

#[test]
fn dew_point_and_wet_bulb_follow_the_tables() {
    let mut compared = 0;
    for row in table("psychrometry.csv") {
        let (p, t, rh) = (get(&row, "p_hpa"), get(&row, "t_c"), get(&row, "rh_pct"));
        let vapour = moist_air::saturation_vapour_pressure_hpa(t) * rh / 100.0;
        let dew = moist_air::dew_point_degc(vapour);
        near("dew point", dew, get(&row, "td_wmo_c"), 6e-4);
        let wet = moist_air::wet_bulb_degc(t, vapour, p);
        assert!(wet <= t && wet >= dew - 1e-9, "{row:?}: {wet}");
        // The table has the enhancement factor of the WMO formula, ours leaves it out.
        near(
            "wet bulb, WMO",
            wet,
            get(&row, "tw_wmo_psychrometer_water_c"),
            0.05,
        );
        // ASHRAE (water above freezing): the psychrometer is allowed 0.85 K in hot dry air.
        if t >= 1.0 && get(&row, "tw_psychrolib_ashrae_c") > 0.5 {
            near(
                "wet bulb, ASHRAE",
                wet,
                get(&row, "tw_psychrolib_ashrae_c"),
                0.85,
            );
            compared += 1;
        }
    }
    assert!(compared > 30, "{compared}");
    // MetPy 1.7.1 documentation: 20.39 degC at 993 hPa, 32 degC, dew point 15 degC, by Normand's rule. That is
    // the pseudo-adiabatic wet bulb, which lies up to half a kelvin below a psychrometer's in dry air.
    let vapour = moist_air::saturation_vapour_pressure_hpa(15.0);
    near(
        "MetPy",
        moist_air::wet_bulb_degc(32.0, vapour, 993.0),
        20.394,
        0.5,
    );
}

#[test]
fn the_sun_of_the_published_example_is_met() {
    // Reda & Andreas 2004, appendix: 2003-10-17 12:30:30 UTC-7, delta T 67 s, 820 hPa, 11 degC.
    let place = Place {
        latitude_deg: 39.742476,
        longitude_deg: -105.1786,
        altitude_m: 1830.14,
    };
    let time_s = instant("2003-10-17T19:30:30Z");
    let rows = table("sun_spa_example.csv");
    let value = |name: &str| {
        let row = rows.iter().find(|row| row["quantity"] == name).unwrap();
        get(row, "published_value")
    };
    let precise = sun::precise_position(time_s, 67.0, &place).unwrap();
    let elevation = precise.elevation_deg();
    near(
        "elevation",
        elevation,
        value("elevation_unrefracted_deg"),
        1e-5,
    );
    near(
        "azimuth",
        precise.azimuth_deg(),
        value("azimuth_deg (from N)"),
        1e-5,
    );
    let refraction = sun::refraction_deg(elevation, 820.0, 11.0);
    near("refraction", refraction, value("refraction_deg"), 1e-5);
    near(
        "zenith",
        90.0 - elevation - refraction,
        value("zenith_deg (refracted)"),
        2e-5,
    );
}

#[test]
fn the_quick_sun_stays_within_a_hundredth_of_a_degree_and_the_light_follows() {
    let mut lit = 0;
    for row in table("sun_and_clear_sky.csv") {
        let place = Place {
            latitude_deg: get(&row, "lat_deg"),
            longitude_deg: get(&row, "lon_deg_east"),
            altitude_m: get(&row, "elev_m"),
        };
        let direction = sun::position(instant(&row["utc"]), &place);
        let elevation = direction.elevation_deg();
        near(
            "elevation",
            elevation,
            get(&row, "elevation_true_deg"),
            0.011,
        );
        let turn = (direction.azimuth_deg() - get(&row, "azimuth_deg") + 540.0) % 360.0 - 180.0;
        let level = elevation.to_radians().cos();
        assert!((turn * level).abs() < 0.011, "azimuth: {turn} {row:?}");

        let Some(expected) = maybe(&row, "ghi_ineichen_tl3") else {
            continue;
        };
        lit += 1;
        let pressure = get(&row, "pressure_hpa");
        let apparent = elevation + sun::refraction_deg(elevation, pressure, 12.0);
        near(
            "refracted",
            apparent,
            get(&row, "elevation_refracted_deg"),
            0.012,
        );
        let apparent = get(&row, "elevation_refracted_deg");
        let mass = sun::air_mass(apparent);
        near(
            "air mass",
            mass,
            get(&row, "airmass_kasten_young"),
            2e-4 * mass,
        );
        let beyond = get(&row, "e0_spencer_wm2");
        let sky =
            |turbidity| sun::clear_sky(apparent, pressure, place.altitude_m, beyond, turbidity);
        let three = sky(3.0);
        near(
            "global, TL 3",
            three.global_wm2,
            expected,
            0.03 + 2e-5 * expected,
        );
        near(
            "direct, TL 3",
            three.direct_normal_wm2,
            get(&row, "dni_ineichen_tl3"),
            0.05,
        );
        near(
            "diffuse, TL 3",
            three.diffuse_wm2,
            get(&row, "dhi_ineichen_tl3"),
            0.05,
        );
        near(
            "global, TL 2",
            sky(2.0).global_wm2,
            get(&row, "ghi_ineichen_tl2"),
            0.05,
        );
        near(
            "global, TL 5",
            sky(5.0).global_wm2,
            get(&row, "ghi_ineichen_tl5"),
            0.05,
        );
        // Two other models, as a plausibility check of the model itself: within 20 % when the sun is up.
        if apparent > 15.0 && place.altitude_m < 500.0 {
            near(
                "Haurwitz",
                expected,
                get(&row, "ghi_haurwitz"),
                0.2 * expected,
            );
            near(
                "Solis",
                expected,
                get(&row, "ghi_solis_aod0.1_pw1.5"),
                0.2 * expected,
            );
        }
    }
    assert!(lit > 60, "{lit}");
}

#[test]
fn irradiance_above_the_atmosphere_follows_spencer_and_the_distance() {
    for (row, day) in table("extraterrestrial.csv").iter().zip((1..).step_by(5)) {
        let value = sun::extraterrestrial_wm2(f64::from(day));
        near("Spencer", value, get(row, "e0_spencer"), 0.01);
        // By the true distance of that year: Spencer's series is within 0.15 %.
        near("distance", value, get(row, "e0_nrel_spa"), 0.0015 * value);
    }
}

#[test]
fn the_standard_atmosphere_is_met() {
    for row in table("standard_atmosphere.csv") {
        let (kelvin, hpa) = atmosphere::standard_atmosphere(get(&row, "geopot_height_m"));
        near("temperature", kelvin, get(&row, "t_k"), 1e-4);
        near("pressure", hpa, get(&row, "p_hpa_iso2533"), 1e-4);
    }
}

#[test]
fn reduction_to_sea_level_follows_wmo() {
    for row in table("sea_level_reduction.csv") {
        let reduced = atmosphere::reduce_to_sea_level_hpa(
            get(&row, "p_station_hpa"),
            get(&row, "height_gpm"),
            get(&row, "t_c"),
            get(&row, "rh_pct"),
        );
        near(
            "sea level",
            reduced,
            get(&row, "p_msl_wmo_lowlevel_hpa"),
            2e-3,
        );
    }
}

#[test]
fn the_tide_has_its_amplitude_and_hours() {
    for row in table("pressure_tide.csv") {
        let (s1, s2) = atmosphere::tide_amplitudes_hpa(get(&row, "lat_deg"));
        near(
            "S1",
            s1,
            get(&row, "s1_migrating_amplitude_hpa_0.593cos3"),
            1e-4,
        );
        near("S2", s2, get(&row, "s2_amplitude_hpa_1.16cos3"), 1e-4);
    }
    // Highest near 09:44 local mean time in the tropics (Haurwitz 1956); S1 pulls it a little.
    let at = |hour: f64| atmosphere::tide_hpa(0.0, hour / 24.0 * std::f64::consts::TAU);
    let highest = (0..1440)
        .map(|minute| f64::from(minute) / 60.0)
        .max_by(|a, b| at(*a).total_cmp(&at(*b)))
        .unwrap();
    near("hour of the highest pressure", highest, 9.73, 0.6);
    // Measured at 55.7 N: 0.225 hPa (Chapman 1969); the law is a global mean, so within a fifth.
    near(
        "Copenhagen",
        atmosphere::tide_amplitudes_hpa(55.7).1,
        0.225,
        0.045,
    );
}

#[test]
fn wind_profile_and_gust_factor_follow_the_tables() {
    for row in table("roughness.csv") {
        let (rough, height) = (get(&row, "z0_m"), get(&row, "z_m"));
        // Above the roughness elements only: the law is not used below three roughness lengths.
        if height < 3.0 * rough {
            continue;
        }
        let ratio = wind_profile::logarithmic_ratio(height, 10.0, rough);
        near("ratio", ratio, get(&row, "U_z_over_U10"), 1e-5);
        let intensity = wind_profile::turbulence_intensity(height, rough);
        near(
            "intensity",
            intensity,
            get(&row, "turb_intensity_1_over_ln"),
            1e-5,
        );
    }
    // 2 m over 10 m, open grass 0.03 m: 0.72; roughly open 0.1 m: 0.65.
    near(
        "grass",
        wind_profile::logarithmic_ratio(2.0, 10.0, 0.03),
        0.72,
        0.005,
    );
    // Over open terrain at 10 m the exposure is 1 by definition; over rougher ground lower.
    near(
        "exposure",
        wind_profile::exposure_ratio(10.0, 0.03),
        1.0,
        1e-12,
    );
    assert!(wind_profile::exposure_ratio(2.0, 0.1) < 0.65);
    let mut compared = 0;
    for row in table("gust_factors.csv") {
        if row["method"] == "wieringa1973" && get(&row, "gust_s") <= 60.0 {
            let factor =
                wind_profile::gust_factor(get(&row, "gust_s"), get(&row, "turbulence_intensity"));
            near("Wieringa", factor, get(&row, "gust_factor"), 1e-5);
            compared += 1;
        }
    }
    assert!(compared > 10);
}

#[test]
fn ultraviolet_index_follows_madronich() {
    for row in table("ultraviolet_index.csv") {
        let sine = get(&row, "sza_deg").to_radians().cos();
        for ozone in [200.0, 250.0, 300.0, 350.0, 400.0] {
            let value = light::clear_ultraviolet_index(sine, ozone);
            near(
                "index",
                value,
                get(&row, &format!("uvi_{ozone:.0}DU")),
                6e-5,
            );
        }
    }
    assert_eq!(light::clear_ultraviolet_index(-0.1, 300.0), 0.0);
    // Ozone: about 260 DU over the equator and 300 to 400 in spring at 60 N (satellite climatologies, from
    // memory).
    near(
        "equator",
        light::mean_ozone_du(0.0, 0.0, 100.0),
        235.0,
        40.0,
    );
    near(
        "60 N in April",
        light::mean_ozone_du(60.0, 10.0, 100.0),
        395.0,
        50.0,
    );
}

#[test]
fn luminous_efficacy_is_where_littlefair_found_it() {
    let rows = table("luminous_efficacy.csv");
    let range = |name: &str| {
        let found: Vec<&Row> = rows.iter().filter(|row| row["light"] == name).collect();
        assert!(!found.is_empty(), "{name}");
        let low = found
            .iter()
            .map(|r| get(r, "lm_per_W_low"))
            .fold(f64::MAX, f64::min);
        let high = found
            .iter()
            .map(|r| get(r, "lm_per_W_high"))
            .fold(f64::MIN, f64::max);
        low..=high
    };
    let sine = |degrees: f64| degrees.to_radians().sin();
    for degrees in [10.0, 20.0, 40.0, 60.0, 90.0] {
        let value = light::direct_efficacy_lm_per_w(sine(degrees));
        assert!(range("direct sun").contains(&value), "{degrees}: {value}");
    }
    assert!(range("diffuse clear").contains(&light::diffuse_efficacy_lm_per_w(0.0)));
    assert!(range("diffuse overcast").contains(&light::diffuse_efficacy_lm_per_w(1.0)));
    // Global under a clear sky, sun at 60 degrees: 107 in the mean of a year (Littlefair 1988).
    let sky = sun::clear_sky(60.0, 1013.25, 0.0, 1366.0, 3.0);
    let lumens = sky.direct_normal_wm2 * sine(60.0) * light::direct_efficacy_lm_per_w(sine(60.0))
        + sky.diffuse_wm2 * light::diffuse_efficacy_lm_per_w(0.0);
    near("global clear", lumens / sky.global_wm2, 107.0, 5.0);
}
