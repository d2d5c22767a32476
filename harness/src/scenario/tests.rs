//! What a scenario comes to, key by key.

use super::draft::{Draft, FaultDraft, Slot, StationDraft};
use super::keys::{Allowed, DEFAULT_CLIMATE, FAULT, Need, SECTIONS, STATION};
use super::time::{DAY_US, HOUR_US};
use super::{Report, parse, parse_network, units};
use crate::faults::Shape;
use crate::link::air::Modulation;
use crate::link::{self, Neighbour};
use crate::plan::{Network, Plan, ReceiverPlan, WeatherSource};
use benchmast_protocol::packet::HeadId;
use benchmast_sim::head;
use benchmast_sim::head::power::cells::CellChemistry;
use benchmast_sim::physics::radio::{Construction, Rooms};
use benchmast_sim::site::surface::Surface;
use benchmast_sim::site::{LocalWind, Site};
use benchmast_sim::weather::climate::{Climate, USUAL_LINKE_TURBIDITY};
use std::path::Path;

const SMALLEST: &str = "title = \"t\"\n[period]\nstart = 2026-04-01\ndays = 7\n\
    [place]\nname = \"Example Hill\"\nlatitude_deg = 52\nlongitude_deg = -3.5\naltitude_m = 40\n";
const START_US: i64 = 1_775_001_600_000_000;

fn read(text: &str) -> Result<Plan, Report> {
    parse("test.toml", text, Path::new("."))
}

fn plan(text: &str) -> Plan {
    read(text).unwrap_or_else(|report| panic!("{}", report.plain()))
}

fn with(addition: &str) -> Plan {
    plan(&format!("{SMALLEST}{addition}"))
}

#[test]
fn what_is_left_out_is_the_simulators_own_default() {
    let plan = plan(SMALLEST);
    assert_eq!(plan.head, head::Parameters::default());
    assert_eq!(plan.link, link::Parameters::default());
    assert_eq!(plan.site, Site::default());
    assert_eq!(plan.receiver, ReceiverPlan::default());
    assert!(plan.faults.is_empty());
    assert!(plan.identity.is_legal());
    assert_eq!(plan.identity.interval_s, plan.head.interval_s);
    assert_eq!(
        f64::from(plan.identity.bucket_um) / 1000.0,
        plan.head.bucket_mm
    );
    assert_eq!(
        (plan.start_us, plan.end_us),
        (START_US, START_US + 7 * DAY_US)
    );
    let climate = Climate::by_name(DEFAULT_CLIMATE).expect("the default climate exists");
    assert_eq!(
        plan.weather,
        WeatherSource::Synthetic {
            climate: Box::new(climate)
        }
    );
}

/// A value of the key that is not its default and may stand alone.
fn other_value(name: &str, allowed: Allowed, slot: &Slot<'_>) -> String {
    let number = |least: f64, most: f64| match name {
        // In steps of 0.001 mm; above twice the default roughness; shorter than twenty years.
        "bucket_mm" => 0.2,
        "height_m" => 12.0,
        "days" => 3.0,
        _ => least + (most - least) * 0.23,
    };
    match (allowed, slot) {
        (Allowed::Range(least, most), Slot::Long(_) | Slot::Short(_)) => {
            format!("{}", 77.0_f64.clamp(least, most))
        }
        (Allowed::Range(least, most) | Allowed::Above(least, most), _) => {
            format!("{}", number(least, most))
        }
        (Allowed::Words(words), _) => format!("\"{}\"", words().last().expect("a list of words")),
        (Allowed::Text, _) => "\"something else\"".to_owned(),
        (Allowed::Instant, _) => "2026-03-30".to_owned(),
        (Allowed::Moment, _) => "\"+1d\"".to_owned(),
        (Allowed::Address, _) => "\"00c0ffee\"".to_owned(),
        (Allowed::Secret, _) => "\"000102030405060708090a0b0c0d0e0f\"".to_owned(),
        (Allowed::Flag, _) => "false".to_owned(),
    }
}

#[test]
fn every_key_changes_the_plan_and_nothing_else_is_needed_for_that() {
    const OPTIONAL: &str = "[link.neighbour]\nhead_id = \"0000b002\"\n[link.path]\noutdoor_m = 40\n\
        [receiver.sky]\nwindow_azimuth_deg = 90\n";
    let usual = with(OPTIONAL);
    for section in SECTIONS {
        for key in section.keys {
            // These stand in for others, or need others, and have tests of their own.
            let is_of_wind = key.name == "local_wind"
                || matches!(key.need, Need::Else(text) if text.contains("local wind"));
            if matches!(section.name, "weather" | "weather.normals")
                || key.name == "end"
                || is_of_wind
                || key.name.starts_with("obstacle_")
                || key.name == "spreading_factor"
            {
                continue;
            }
            let value = other_value(key.name, key.allowed, &(key.slot)(&mut Draft::default()));
            let line = format!("{} = {value}\n", key.name);
            let mut sections = format!("{SMALLEST}{OPTIONAL}");
            let old = sections
                .lines()
                .find(|old| old.starts_with(&format!("{} =", key.name)))
                .map(|old| format!("{old}\n"));
            let header = format!("[{}]\n", section.name);
            sections = match old {
                Some(old) if key.need == Need::Required || key.name == "days" => {
                    sections.replace(&old, &line)
                }
                _ if section.name.is_empty() => format!("{line}{sections}"),
                _ if sections.contains(&header) => {
                    sections.replace(&header, &(header.clone() + &line))
                }
                _ => sections + &header + &line,
            };
            let plan = plan(&sections);
            assert!(plan != usual, "[{}] {line}", section.name);
        }
    }
}

#[test]
fn the_radio_and_the_receivers_room_are_what_the_scenario_says() {
    let plan = with(
        "[link]\nmodulation = \"chirp\"\nspreading_factor = 10\n[link.path]\noutdoor_m = 60\nfloors = 2\n\
         construction = \"thermally_efficient\"\nrooms = \"office\"\n[receiver]\nclock_ppm = 20\n\
         [receiver.mains]\ncuts_a_year = 12\n[receiver.backhaul]\noutages_a_year = 30\n\
         [receiver.sky]\nwindow_azimuth_deg = 200\n[head]\ncells = \"lithium\"\n",
    );
    assert_eq!(
        plan.link.modulation,
        Modulation::Chirp {
            spreading_factor: 10,
            bandwidth_hz: 125e3
        }
    );
    let path = plan.link.path.expect("a path");
    assert_eq!((path.outdoor_m, path.floors), (60.0, 2));
    assert_eq!(path.construction, Construction::ThermallyEfficient);
    assert_eq!(path.rooms, Rooms::Office);
    assert_eq!(plan.room.clock_ppm, 20.0);
    assert_eq!(plan.room.mains.cuts_a_year, 12.0);
    assert_eq!(plan.room.backhaul.outages_a_year, 30.0);
    assert_eq!(plan.room.sky.map(|sky| sky.window_azimuth_deg), Some(200.0));
    assert_eq!(plan.head.cells, CellChemistry::Lithium);
}

#[test]
fn every_row_of_the_table_is_sound() {
    fn sound<D: Default>(section: &super::keys::Section<D>) {
        let mut names: Vec<_> = section.keys.iter().map(|key| key.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), section.keys.len(), "[{}]", section.name);
        for key in section.keys {
            let mut defaults = D::default();
            let slot = (key.slot)(&mut defaults);
            assert!(key.meaning.ends_with('.'), "{}", key.name);
            match (slot, key.allowed, key.need) {
                (Slot::Number(value), Allowed::Range(least, most), Need::Optional) => {
                    assert!((least..=most).contains(value), "{}", key.name);
                }
                (Slot::Number(value), Allowed::Above(least, most), Need::Optional) => {
                    assert!(*value > least && *value <= most, "{}", key.name);
                }
                (Slot::Short(value), Allowed::Range(least, most), Need::Optional) => {
                    assert!(least >= 0.0 && most <= f64::from(u16::MAX), "{}", key.name);
                    assert!((least..=most).contains(&f64::from(*value)), "{}", key.name);
                }
                (Slot::Long(_), Allowed::Range(least, _), Need::Optional) => assert!(least >= 0.0),
                (Slot::Address(_), Allowed::Address, Need::Optional)
                | (Slot::MaybeAddress(None), Allowed::Address, Need::Required)
                | (Slot::MaybeKey(None), Allowed::Secret, Need::Else(_))
                | (Slot::Flag(_), Allowed::Flag, Need::Optional)
                | (
                    Slot::MaybeText(None),
                    Allowed::Text | Allowed::Words(_),
                    Need::Required | Need::Else(_),
                )
                | (
                    Slot::MaybeMoment(None),
                    Allowed::Instant | Allowed::Moment,
                    Need::Required | Need::Else(_),
                )
                | (Slot::Numbers(_), Allowed::Range(..), Need::Optional)
                | (Slot::Numbers(_), Allowed::Above(..), Need::Else(_))
                | (Slot::MaybeMonths(None), Allowed::Range(..), Need::Required | Need::Else(_))
                | (
                    Slot::MaybeNumber(None),
                    Allowed::Range(..) | Allowed::Above(..),
                    Need::Required | Need::Else(_),
                ) => {}
                _ => panic!(
                    "[{}] {}: slot, range and need do not go together",
                    section.name, key.name
                ),
            }
            // A key that ends in a unit ends in its own.
            if let (_, Some(unit)) = units::split(key.name) {
                let conversion = units::conversion(unit, key.unit);
                assert!(
                    conversion.is_some_and(|conversion| conversion.is_same()),
                    "{}",
                    key.name
                );
            }
        }
    }
    for section in SECTIONS {
        sound::<Draft>(section);
    }
    sound::<StationDraft>(&STATION);
    sound::<FaultDraft>(&FAULT);
}

#[test]
fn a_local_wind_is_read_with_all_that_it_needs() {
    let site = |lines: &str| with(&format!("[site]\n{lines}")).site.local_wind;
    assert_eq!(site("height_m = 3\n"), LocalWind::None);
    assert_eq!(site("local_wind = \"none\"\n"), LocalWind::None);
    assert_eq!(
        site("local_wind = \"sea_breeze\"\nonshore_from_deg = 190\nshore_km = 2.5\n"),
        LocalWind::SeaBreeze {
            onshore_from_deg: 190.0,
            shore_km: 2.5
        }
    );
    assert_eq!(
        site("local_wind = \"valley\"\nup_valley_from_deg = 360\n"),
        LocalWind::Valley {
            up_valley_from_deg: 0.0
        }
    );
}

#[test]
fn what_stands_around_is_read_sector_by_sector() {
    let site = with(
        "[site]\nsurface = \"dark_roof\"\nsurface_share = 0.5\nhorizon_deg = 3\n\
         obstacle_height_m = [8, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 2]\nobstacle_distance_m = 15\n\
         obstacle_porosity = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0.4]\n",
    )
    .site;
    assert_eq!((site.surface, site.surface_share), (Surface::DarkRoof, 0.5));
    assert!(site.horizon_deg.iter().all(|elevation| *elevation == 3.0));
    assert_eq!(
        (site.obstacles[0].height_m, site.obstacles[0].porosity),
        (8.0, 0.0)
    );
    assert_eq!(
        (site.obstacles[11].height_m, site.obstacles[11].porosity),
        (2.0, 0.4)
    );
    assert_eq!(site.obstacles[11].distance_m, 15.0);
    assert!(!site.obstacles[5].stands());
}

#[test]
fn the_turbidity_is_the_usual_one_unless_it_is_given() {
    let turbidity = |more: &str| {
        let normals = "[weather.normals]\nmean_temperature_degc = 10\ndaily_range_k = 8\n\
            mean_dew_point_degc = 6\nrain_mm = 60\nwet_hours = 55\nmean_wind_speed_ms = 4\n\
            prevailing_direction_deg = 240\ncloud_area_fraction = 0.6\n";
        match with(&format!("{normals}{more}")).weather {
            WeatherSource::Synthetic { climate } => climate.months[6].linke_turbidity,
            WeatherSource::Recorded { .. } => panic!("not recorded"),
        }
    };
    assert_eq!(turbidity(""), USUAL_LINKE_TURBIDITY);
    assert_eq!(turbidity("linke_turbidity = 4.5\n"), 4.5);
}

fn network(addition: &str) -> Network {
    parse_network(
        "test.toml",
        &format!("{SMALLEST}{addition}"),
        Path::new("."),
    )
    .unwrap_or_else(|report| panic!("{}", report.plain()))
}

#[test]
fn a_station_has_what_all_have_but_for_its_own_words() {
    let network = network(
        "[head]\nserial = 500\nbucket_mm = 0.2\n[site]\nheight_m = 4\nlocal_wind = \"sea_breeze\"\n\
         onshore_from_deg = 90\n[link]\nloss = 0.1\n[link.neighbour]\nhead_id = \"0000beef\"\n\
         [[station]]\nname = \"a\"\n\
         [[station]]\nname = \"b\"\neast_km = 10\naltitude_m = 300\n[station.head]\nbucket_mm = 0.5\n\
         [station.site]\nshore_km = 8\n[station.link]\nburst_loss = 0.1\n[station.link.neighbour]\nheard = 0.9\n\
         [[station]]\nname = \"c\"\nlatitude_deg = 52.1\nlongitude_deg = -3.5\n\
         [station.site]\nlocal_wind = \"valley\"\nup_valley_from_deg = 10\n[station.receiver]\ncommissioned = false\n\
         [station.head]\nserial = 7\nhead_id = \"0000000c\"\n\
         [[fault]]\nid = \"vane_stuck\"\nonset = \"+1d\"\nstation = \"b\"\n",
    );
    assert!(network.single().is_none());
    assert_eq!(network.names().collect::<Vec<_>>(), ["a", "b", "c"]);
    let [a, b, c] = network.stations.as_slice() else {
        panic!("three stations");
    };
    let alone = with(
        "[head]\nserial = 500\nbucket_mm = 0.2\n[site]\nheight_m = 4\nlocal_wind = \"sea_breeze\"\n\
         onshore_from_deg = 90\n[link]\nloss = 0.1\n[link.neighbour]\nhead_id = \"0000beef\"\n",
    );
    let expected = Plan {
        station: Some("a".into()),
        reference: Some(alone.place),
        ..alone.clone()
    };
    assert_eq!(*a, expected);
    // Numbered on, unless it says its own numbers.
    assert_eq!((b.identity.serial.0, b.head_id.0), (501, 0x0000_a002));
    assert_eq!((c.identity.serial.0, c.head_id.0), (7, 0x0000_000c));
    assert_eq!((b.head.bucket_mm, b.identity.bucket_um), (0.5, 500));
    assert_eq!((c.head.bucket_mm, c.identity.bucket_um), (0.2, 200));
    assert_eq!((b.link.loss, b.link.burst_loss), (0.1, 0.1));
    assert_eq!(b.link.neighbour.map(|n| n.heard), Some(0.9));
    assert_eq!(c.link, alone.link);
    assert_eq!(b.site.height_m, 4.0);
    assert_eq!(
        b.site.local_wind,
        LocalWind::SeaBreeze {
            onshore_from_deg: 90.0,
            shore_km: 8.0
        }
    );
    assert_eq!(
        c.site.local_wind,
        LocalWind::Valley {
            up_valley_from_deg: 10.0
        }
    );
    assert!(b.receiver.commissioned && !c.receiver.commissioned);
    assert_eq!((b.place.altitude_m, c.place.altitude_m), (300.0, 40.0));
    assert!(
        (b.place.longitude_deg + 3.353_5).abs() < 1e-3,
        "{:?}",
        b.place
    );
    assert_eq!((c.place.latitude_deg, c.place.longitude_deg), (52.1, -3.5));
    assert!(a.faults.is_empty() && c.faults.is_empty());
    assert_eq!(b.faults.len(), 1);
    for plan in [b, c] {
        assert_eq!(plan.weather, a.weather);
        assert_eq!(plan.reference, a.reference);
    }
}

#[test]
fn sections_of_all_stations_may_stand_behind_the_stations() {
    let before = network("[head]\ninterval_s = 60\n[[station]]\nname = \"a\"\n");
    let behind = network("[[station]]\nname = \"a\"\n[head]\ninterval_s = 60\n");
    assert_eq!(before, behind);
    assert_eq!(before.stations[0].head.interval_s, 60);
}

#[test]
fn a_scenario_of_several_stations_is_no_plan_of_one() {
    let text = format!("{SMALLEST}[[station]]\nname = \"a\"\n[[station]]\nname = \"b\"\n");
    let report = read(&text).expect_err("two stations");
    assert!(
        report.plain().contains("has 2 stations"),
        "{}",
        report.plain()
    );
}

#[test]
fn faults_take_every_kind_of_time_and_shape_and_come_in_order() {
    let plan = with(
        "[[fault]]\nid = \"vane_stuck\"\nonset = \"+2d09:30\"\nfor_hours = 12\nshape = \"ramp\"\nramp_hours = 6\nseverity = 0.5\n\
         [[fault]]\nid = \"arrow_misaligned\"\nonset = 2026-04-01T06:00:00Z\nend = \"+36h\"\n\
         [[fault]]\nid = \"vane_stuck\"\nonset = \"+5d\"\nshape = \"intermittent\"\nperiod_minutes = 90\n",
    );
    let short: Vec<_> = plan
        .faults
        .iter()
        .map(|episode| {
            (
                episode.fault.id,
                episode.onset_us - START_US,
                episode.end_us.map(|end| end - START_US),
            )
        })
        .collect();
    let onset = 2 * DAY_US + 9 * HOUR_US + HOUR_US / 2;
    assert_eq!(
        short,
        [
            ("arrow_misaligned", 6 * HOUR_US, Some(36 * HOUR_US)),
            ("vane_stuck", onset, Some(onset + 12 * HOUR_US)),
            ("vane_stuck", 5 * DAY_US, None),
        ]
    );
    assert_eq!(plan.faults[0].shape, Shape::Step);
    assert_eq!(plan.faults[0].severity, 1.0);
    assert_eq!(
        plan.faults[1].shape,
        Shape::Ramp {
            over_s: 6.0 * 3600.0
        }
    );
    assert_eq!(plan.faults[1].severity, 0.5);
    assert_eq!(
        plan.faults[2].shape,
        Shape::Intermittent {
            period_s: 5400.0,
            duty: 0.5
        }
    );
}

#[test]
fn a_fault_of_severity_zero_is_no_fault() {
    let none = with("");
    let zero = "[[fault]]\nid = \"vane_stuck\"\nonset = \"+1d\"\nseverity = 0\n";
    assert_eq!(with(zero), none);
    // Nor does it overlap with a real one.
    let real = "[[fault]]\nid = \"vane_stuck\"\nonset = \"+2d\"\n";
    assert_eq!(with(&format!("{zero}{real}")), with(real));
    // But what it says is still checked.
    assert!(
        read(&format!(
            "{SMALLEST}{}",
            zero.replace("vane_stuck", "vain_stuck")
        ))
        .is_err()
    );
}

#[test]
fn episodes_may_touch_and_different_faults_may_overlap() {
    let plan = with(
        "[[fault]]\nid = \"vane_stuck\"\nonset = \"+1d\"\nend = \"+2d\"\n\
         [[fault]]\nid = \"vane_stuck\"\nonset = \"+2d\"\n\
         [[fault]]\nid = \"arrow_misaligned\"\nonset = \"+1d12:00\"\n",
    );
    assert_eq!(plan.faults.len(), 3);
}

#[test]
fn a_named_climate_is_turned_round_in_the_south() {
    let climate = |plan: &Plan| match &plan.weather {
        WeatherSource::Synthetic { climate } => **climate,
        WeatherSource::Recorded { .. } => panic!("computed weather"),
    };
    let north = climate(&plan(SMALLEST));
    let south = climate(&plan(&SMALLEST.replace("= 52", "= -52")));
    for month in 0..12 {
        let (here, there) = (south.months[month], north.months[(month + 6) % 12]);
        assert_eq!(here.mean_temperature_degc, there.mean_temperature_degc);
        let sum = here.prevailing_direction_deg + there.prevailing_direction_deg;
        assert_eq!(sum.rem_euclid(360.0), 180.0);
    }
}

#[test]
fn normals_of_ones_own_are_taken_as_they_are() {
    let normals = "[weather.normals]\nmean_temperature_degc = [1,2,3,4,5,6,7,8,9,10,11,12]\ndaily_range_k = 8\n\
        mean_dew_point_degc = -1\nrain_mm = 50\nwet_hours = 40\nmean_wind_speed_ms = 4\n\
        prevailing_direction_deg = 360\ncloud_area_fraction = 0.5\n";
    for latitude in ["= 52", "= -52"] {
        let text = format!("{SMALLEST}{normals}").replace("= 52", latitude);
        let WeatherSource::Synthetic { climate } = plan(&text).weather else {
            panic!("computed weather");
        };
        let march = climate.months[2];
        assert_eq!(march.mean_temperature_degc, 3.0);
        assert_eq!(march.prevailing_direction_deg, 0.0);
        assert_eq!(march.cloud_area_fraction, 0.5);
    }
}

#[test]
fn sections_may_be_written_inline_and_dotted() {
    let inline = "title = \"t\"\nperiod = { start = \"2026-04-01T00:00:00Z\", end = 2026-04-08 }\n\
        place.name = \"Example Hill\"\nplace.latitude_deg = 52\nplace.longitude_deg = -3.5\nplace.altitude_m = 40\n\
        link.neighbour = { head_id = \"0000B002\", heard = 0.25 }\n";
    let plan = plan(inline);
    assert_eq!(plan.end_us, START_US + 7 * DAY_US);
    assert_eq!(
        plan.link.neighbour,
        Some(Neighbour {
            head: HeadId(0xb002),
            heard: 0.25
        })
    );
}

#[test]
fn no_text_however_damaged_panics() {
    let whole = include_str!("../../../scenarios/hard_link.toml");
    let faults = include_str!("../../../scenarios/winter_cells_flat.toml");
    for text in [whole, faults] {
        let lines: Vec<&str> = text.lines().collect();
        for left_out in 0..lines.len() {
            let rest = [&lines[..left_out], &lines[left_out + 1..]]
                .concat()
                .join("\n");
            if let Err(report) = read(&rest) {
                assert!(!report.plain().contains("itself"), "{}", report.plain());
            }
        }
        for (at, _) in text.char_indices() {
            let cut = read(&text[..at]);
            let mut flipped = text.as_bytes().to_vec();
            flipped[at] = b"\"[]=#.\n{-9"[at % 10];
            let flipped = String::from_utf8_lossy(&flipped);
            // A refusal without a reason would be a fault of ours; it says so.
            for report in [cut, read(&flipped)].into_iter().filter_map(Result::err) {
                assert!(!report.plain().contains("itself"), "{}", report.plain());
            }
        }
    }
}

#[test]
fn what_a_message_says_to_add_for_normals_makes_a_sound_scenario() {
    let base = format!("{SMALLEST}[weather.normals]\n");
    let report = read(&base).expect_err("no normals");
    let help = report.to_json()["problems"][0]["help"].to_string();
    let (_, lines) = help
        .trim_matches('"')
        .split_once("add below it: ")
        .expect("examples");
    plan(&format!("{base}{}\n", lines.replace(", ", "\n")));
}
