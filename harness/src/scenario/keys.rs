//! The one table of the scenario language: each key's name, unit, range, default and meaning.
//!
//! The reader, its messages, the suggestions for misspelt words and the printed reference all come from
//! here; the defaults are those of the types that the values go to.

use super::draft::{Draft, FaultDraft, Slot, StationDraft};
use crate::faults::CATALOGUE;
use benchmast_protocol::frame::identity::Serial;
use benchmast_sim::head::power::cells::CellChemistry;
use benchmast_sim::physics::radio::{Construction, Rooms};
use benchmast_sim::site::surface::Surface;
use benchmast_sim::weather::climate::Climate;

/// What values a key takes. Its type is its slot's.
#[derive(Clone, Copy)]
pub(super) enum Allowed {
    /// From the first to the second number.
    Range(f64, f64),
    /// More than the first, at most the second number.
    Above(f64, f64),
    /// One of these words.
    Words(fn() -> Vec<&'static str>),
    /// Any text that is not empty.
    Text,
    /// An instant.
    Instant,
    /// An instant, or a time after the start of the period.
    Moment,
    /// Eight hexadecimal digits.
    Address,
    /// Thirty-two hexadecimal digits.
    Secret,
    /// `true` or `false`.
    Flag,
}

/// Whether a key may be left out.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Need {
    /// It must be there.
    Required,
    /// It may be left out: the slot's default holds.
    Optional,
    /// It may be left out, and this says what holds then.
    Else(&'static str),
}

/// One key.
pub(super) struct Key<D: 'static> {
    pub(super) name: &'static str,
    /// In the units' usual symbols; "1" for a share, empty where there is none.
    pub(super) unit: &'static str,
    pub(super) allowed: Allowed,
    pub(super) need: Need,
    pub(super) meaning: &'static str,
    pub(super) slot: fn(&mut D) -> Slot<'_>,
}

/// One `[section]`, or the top of the file.
pub(super) struct Section<D: 'static> {
    /// Without brackets; empty for the top of the file.
    pub(super) name: &'static str,
    pub(super) meaning: &'static str,
    pub(super) keys: &'static [Key<D>],
}

const fn key<D>(
    name: &'static str,
    unit: &'static str,
    allowed: Allowed,
    need: Need,
    meaning: &'static str,
    slot: fn(&mut D) -> Slot<'_>,
) -> Key<D> {
    Key {
        name,
        unit,
        allowed,
        need,
        meaning,
        slot,
    }
}

use Allowed::{Above, Address, Flag, Instant, Moment, Range, Secret, Text, Words};
use Need::{Else, Optional, Required};
use Slot as S;

/// Longest period, days: twenty years.
const LONGEST_DAYS: f64 = 7305.0;

/// All sections but the faults.
#[rustfmt::skip]
pub(super) const SECTIONS: &[Section<Draft>] = &[
    Section { name: "", meaning: "at the top of the file", keys: &[
        key("title", "", Text, Required, "One line that says what the scenario shows.", |d| S::MaybeText(&mut d.title)),
        key("seed", "", Range(0.0, u64::MAX as f64), Optional, "The one seed: same seed, same version, same bytes.", |d| S::Long(&mut d.seed)),
    ]},
    Section { name: "period", meaning: "from when to when", keys: &[
        key("start", "UTC", Instant, Required, "First instant.", |d| S::MaybeMoment(&mut d.start)),
        key("days", "days", Above(0.0, LONGEST_DAYS), Else("give `days` or `end`"), "Length of the period.", |d| S::MaybeNumber(&mut d.days)),
        key("end", "UTC", Instant, Else("give `days` or `end`"), "Last instant.", |d| S::MaybeMoment(&mut d.end)),
    ]},
    Section { name: "place", meaning: "where the station stands, or the middle of the region where several do", keys: &[
        key("name", "", Text, Required, "Name of the place; keep it invented.", |d| S::MaybeText(&mut d.place_name)),
        key("latitude_deg", "deg", Range(-90.0, 90.0), Required, "Latitude, north positive.", |d| S::MaybeNumber(&mut d.latitude_deg)),
        key("longitude_deg", "deg", Range(-180.0, 180.0), Required, "Longitude, east positive.", |d| S::MaybeNumber(&mut d.longitude_deg)),
        key("altitude_m", "m", Range(-430.0, 5500.0), Required, "Height of the barometer above mean sea level.", |d| S::MaybeNumber(&mut d.altitude_m)),
    ]},
    Section { name: "weather", meaning: "where the weather comes from: a named climate, a record or [weather.normals]", keys: &[
        key("climate", "", Words(climates), Else("`temperate_maritime`, unless `record` or [weather.normals] is given"), "Invented climate that the weather is computed from. South of the equator it comes half a year later, and mirrored; its monthly means hold at any latitude and altitude.", |d| S::MaybeText(&mut d.climate)),
        key("record", "", Text, Else("computed weather"), "CSV file of observations that drive the head instead; relative to the scenario.", |d| S::MaybeText(&mut d.record)),
        key("wind_height_m", "m", Range(0.5, 200.0), Else("10, with `record`"), "Height above ground at which the record's wind was measured.", |d| S::MaybeNumber(&mut d.wind_height_m)),
    ]},
    Section { name: "weather.normals", meaning: "monthly normals of an invented climate of your own: January to December, or one number for all months", keys: &[
        key("mean_temperature_degc", "degC", Range(-60.0, 50.0), Required, "Mean air temperature.", |d| S::MaybeMonths(&mut d.normals.mean_temperature_degc)),
        key("daily_range_k", "K", Range(0.0, 35.0), Required, "Mean difference of the day's highest and lowest temperature.", |d| S::MaybeMonths(&mut d.normals.daily_range_k)),
        key("mean_dew_point_degc", "degC", Range(-70.0, 35.0), Required, "Mean dew point.", |d| S::MaybeMonths(&mut d.normals.mean_dew_point_degc)),
        key("rain_mm", "mm", Range(0.0, 3000.0), Required, "Mean rain total of the month.", |d| S::MaybeMonths(&mut d.normals.rain_mm)),
        key("wet_hours", "h", Range(0.0, 672.0), Required, "Mean number of hours with rain in the month.", |d| S::MaybeMonths(&mut d.normals.wet_hours)),
        key("mean_wind_speed_ms", "m/s", Range(0.0, 30.0), Required, "Mean wind speed 10 m above open ground.", |d| S::MaybeMonths(&mut d.normals.mean_wind_speed_ms)),
        key("prevailing_direction_deg", "deg", Range(0.0, 360.0), Required, "Where the wind most often comes from, clockwise from true north.", |d| S::MaybeMonths(&mut d.normals.prevailing_direction_deg)),
        key("cloud_area_fraction", "1", Range(0.0, 1.0), Required, "Mean cloud cover.", |d| S::MaybeMonths(&mut d.normals.cloud_area_fraction)),
        key("linke_turbidity", "1", Range(1.0, 10.0), Else("3, ordinary clean air"), "Linke turbidity of the cloudless air: 2 clear and cold, 3 rural, 4 to 6 hazy, dusty or over cities.", |d| S::MaybeMonths(&mut d.normals.linke_turbidity)),
        key("second_direction_deg", "deg", Range(0.0, 360.0), Else("none"), "Where the wind comes from second most often, if there are two prevailing sectors.", |d| S::MaybeMonths(&mut d.normals.second_direction_deg)),
        key("second_share", "1", Range(0.0, 0.5), Else("0.3, with `second_direction_deg`"), "Share of the time in which the second sector prevails.", |d| S::MaybeMonths(&mut d.normals.second_share)),
    ]},
    Section { name: "site", meaning: "the surroundings of the head", keys: &[
        key("height_m", "m", Range(0.5, 100.0), Optional, "Height of the cups above ground.", |d| S::Number(&mut d.site.height_m)),
        key("roughness_length_m", "m", Range(0.0001, 3.0), Optional, "Roughness length of the surroundings: 0.03 short grass, 0.1 farmland, 0.5 village.", |d| S::Number(&mut d.site.roughness_length_m)),
        key("surface", "", Words(surfaces), Else("`grass`"), "Ground within some 10 m of the head.", |d| S::MaybeText(&mut d.surface)),
        key("surface_share", "1", Range(0.0, 1.0), Optional, "Share of that round which is `surface`; the rest is grass.", |d| S::Number(&mut d.site.surface_share)),
        key("horizon_deg", "deg", Range(0.0, 90.0), Optional, "Elevation of hills or houses far off: one number all around, or 36, one every 10 degrees from north clockwise.", |d| S::Numbers(&mut d.site.horizon_deg)),
        key("obstacle_height_m", "m", Range(0.0, 200.0), Optional, "Height of what stands near, 0 for nothing: one number all around, or 12 for sectors of 30 degrees, the first centred on north, then clockwise.", |d| S::Numbers(&mut d.obstacles.height_m)),
        key("obstacle_distance_m", "m", Above(0.0, 1000.0), Else("required by `obstacle_height_m`"), "Distance of its near face from the mast, likewise.", |d| S::Numbers(&mut d.obstacles.distance_m)),
        key("obstacle_porosity", "1", Range(0.0, 1.0), Optional, "Share of it that lets wind, light and drops through, likewise: 0 a wall, 0.4 a hedge in leaf, 0.7 bare trees.", |d| S::Numbers(&mut d.obstacles.porosity)),
        key("obstacle_reflectance", "1", Range(0.0, 1.0), Optional, "Share of the sunlight that its face sends back, likewise: 0.2 brick or leaves, 0.6 white paint.", |d| S::Numbers(&mut d.obstacles.reflectance)),
        key("local_wind", "", Words(local_winds), Else("`none`"), "Wind that the terrain makes by itself on fair days: from water by day and land by night, or up a valley by day and down by night.", |d| S::MaybeText(&mut d.local_wind.kind)),
        key("onshore_from_deg", "deg", Range(0.0, 360.0), Else("required by local wind `sea_breeze`"), "Where the breeze from the water comes from, clockwise from true north.", |d| S::MaybeNumber(&mut d.local_wind.onshore_from_deg)),
        key("shore_km", "km", Range(0.0, 150.0), Else("0, with local wind `sea_breeze`"), "Distance of the shore.", |d| S::MaybeNumber(&mut d.local_wind.shore_km)),
        key("up_valley_from_deg", "deg", Range(0.0, 360.0), Else("required by local wind `valley`"), "Where the wind of the day comes from, clockwise from true north.", |d| S::MaybeNumber(&mut d.local_wind.up_valley_from_deg)),
    ]},
    Section { name: "head", meaning: "the outdoor sensor head", keys: &[
        key("serial", "", Range(0.0, Serial::MAX as f64), Optional, "Serial number on the label.", |d| S::Long(&mut d.serial)),
        key("head_id", "", Address, Optional, "Radio address, hexadecimal.", |d| S::Address(&mut d.head_id)),
        key("key", "", Secret, Else("packets without tags"), "Secret that head and receiver share: every packet is authenticated, and the receiver believes no other.", |d| S::MaybeKey(&mut d.key)),
        key("hardware", "", Range(0.0, u16::MAX as f64), Optional, "Revision of the hardware.", |d| S::Short(&mut d.hardware)),
        key("interval_s", "s", Range(1.0, 3600.0), Optional, "Reporting interval by the head's own clock.", |d| S::Short(&mut d.head.interval_s)),
        key("bucket_mm", "mm", Range(0.01, 5.0), Optional, "Rain depth of one tip, in steps of 0.001 mm.", |d| S::Number(&mut d.head.bucket_mm)),
        key("temperature_accuracy_k", "K", Range(0.0, 5.0), Optional, "Accuracy of the thermometer (two standard deviations).", |d| S::Number(&mut d.head.temperature_accuracy_k)),
        key("humidity_accuracy_percent", "%", Range(0.0, 20.0), Optional, "Accuracy of the hygrometer (two standard deviations).", |d| S::Number(&mut d.head.humidity_accuracy_percent)),
        key("pressure_accuracy_hpa", "hPa", Range(0.0, 20.0), Optional, "Accuracy of the barometer (two standard deviations).", |d| S::Number(&mut d.head.pressure_accuracy_hpa)),
        key("wind_accuracy", "1", Range(0.0, 0.5), Optional, "Accuracy of the cups, share of the speed (two standard deviations).", |d| S::Number(&mut d.head.wind_accuracy)),
        key("start_speed_ms", "m/s", Range(0.0, 5.0), Optional, "Speed at which the cups start to turn.", |d| S::Number(&mut d.head.start_speed_ms)),
        key("light_accuracy", "1", Range(0.0, 0.5), Optional, "Accuracy of the light sensor, share of the reading (two standard deviations).", |d| S::Number(&mut d.head.light_accuracy)),
        key("clock_ppm", "ppm", Range(-500.0, 500.0), Optional, "Frequency error of the head's clock at 25 degC.", |d| S::Number(&mut d.head.clock_ppm)),
        key("panel_area_cm2", "cm2", Range(0.0, 1000.0), Optional, "Area of the solar panel; 0 for none.", |d| S::Number(&mut d.head.panel_area_cm2)),
        key("store_farad", "F", Range(0.1, 1000.0), Optional, "Capacitor store.", |d| S::Number(&mut d.head.store_farad)),
        key("cells_mah", "mAh", Range(0.0, 50_000.0), Optional, "Capacity of the reserve cells when inserted; 0 for none.", |d| S::Number(&mut d.head.cells_mah)),
        key("cells", "", Words(chemistries), Else("`alkaline`"), "What the reserve cells are made of.", |d| S::MaybeText(&mut d.cells)),
        key("rain_accuracy", "1", Range(0.0, 0.5), Optional, "Accuracy of the rain gauge's adjustment, share of the depth (two standard deviations).", |d| S::Number(&mut d.head.rain_accuracy)),
        key("tilt_deg", "deg", Range(0.0, 30.0), Optional, "How far the mast leans.", |d| S::Number(&mut d.head.tilt_deg)),
        key("vane_step_deg", "deg", Range(0.1, 45.0), Optional, "Resolution of the vane's position sensor.", |d| S::Number(&mut d.head.vane_step_deg)),
        key("vane_gap_deg", "deg", Range(0.0, 30.0), Optional, "Width of the position sensor's gap at the arrow.", |d| S::Number(&mut d.head.vane_gap_deg)),
        key("clock_ageing_ppm", "ppm", Range(-50.0, 50.0), Optional, "Growth of the clock's frequency error in a year.", |d| S::Number(&mut d.head.clock_ageing_ppm)),
        key("clock_offset_s", "s", Range(0.0, 3600.0), Optional, "How much later than the period's start the head's first interval begins.", |d| S::Number(&mut d.head.clock_offset_s)),
    ]},
    Section { name: "link", meaning: "what the radio path does to packets", keys: &[
        key("loss", "1", Range(0.0, 1.0), Optional, "Chance that a packet is lost by itself.", |d| S::Number(&mut d.link.loss)),
        key("burst_loss", "1", Range(0.0, 1.0), Optional, "Share of packets lost in bursts. With `loss` it stays below 1.", |d| S::Number(&mut d.link.burst_loss)),
        key("burst_length", "packets", Range(1.0, 10_000.0), Optional, "Mean length of a burst.", |d| S::Number(&mut d.link.burst_length)),
        key("bit_error", "1", Range(0.0, 1.0), Optional, "Chance that a bit flips.", |d| S::Number(&mut d.link.bit_error)),
        key("duplicate", "1", Range(0.0, 1.0), Optional, "Chance that a packet arrives twice.", |d| S::Number(&mut d.link.duplicate)),
        key("delay", "1", Range(0.0, 1.0), Optional, "Chance that a packet is held back; others may overtake it.", |d| S::Number(&mut d.link.delay)),
        key("delay_max_s", "s", Above(0.0, 3600.0), Optional, "Longest delay.", |d| S::Number(&mut d.link.delay_max_s)),
        key("signal_dbm", "dBm", Range(-150.0, 0.0), Optional, "Median signal strength at the receiver.", |d| S::Number(&mut d.link.signal_dbm)),
        key("signal_spread_db", "dB", Range(0.0, 30.0), Optional, "Standard deviation of the slow signal swing.", |d| S::Number(&mut d.link.signal_spread_db)),
        key("modulation", "", Words(modulations), Else("`keying`"), "How bits are put on the air: frequency-shift keying or chirp spread spectrum.", |d| S::MaybeText(&mut d.air.modulation)),
        key("bit_rate", "bit/s", Range(300.0, 500_000.0), Optional, "Bit rate of keying.", |d| S::Number(&mut d.air.bit_rate)),
        key("bandwidth_khz", "kHz", Range(5.0, 1000.0), Else("100 with keying, 125 with chirp"), "Bandwidth of the receiver's filter, or of the chirp.", |d| S::MaybeNumber(&mut d.air.bandwidth_khz)),
        key("spreading_factor", "", Range(6.0, 12.0), Optional, "Spreading factor of the chirp.", |d| S::Short(&mut d.air.spreading_factor)),
    ]},
    Section { name: "link.path", meaning: "the radio path by its geometry, which then sets the median signal and loses weak packets; leave the section out for `signal_dbm`", keys: &[
        key("outdoor_m", "m", Range(0.0, 20_000.0), Required, "From the head to the building of the receiver.", |d| S::MaybeNumber(&mut d.path.outdoor_m)),
        key("indoor_m", "m", Range(0.0, 200.0), Optional, "From the outer wall to the receiver; 0 at an open window or outdoors.", |d| S::Number(&mut d.path.path.indoor_m)),
        key("construction", "", Words(constructions), Else("`traditional`"), "How the building is made: ordinary glass and walls, or metal-coated glass and foil (ITU-R P.2109).", |d| S::MaybeText(&mut d.path.construction)),
        key("rooms", "", Words(room_kinds), Else("`residential`"), "What its rooms are used for (ITU-R P.1238).", |d| S::MaybeText(&mut d.path.rooms)),
        key("floors", "", Range(0.0, 20.0), Optional, "Floors between the way in and the receiver.", |d| S::Short(&mut d.path.floors)),
        key("extra_loss_db", "dB", Range(0.0, 100.0), Optional, "Walls and things not counted elsewhere.", |d| S::Number(&mut d.path.path.extra_loss_db)),
        key("frequency_mhz", "MHz", Range(400.0, 5000.0), Optional, "Carrier frequency.", |d| S::Number(&mut d.path.path.frequency_mhz)),
        key("power_dbm", "dBm", Range(-30.0, 30.0), Optional, "Power into the head's antenna.", |d| S::Number(&mut d.path.path.power_dbm)),
        key("head_gain_dbi", "dBi", Range(-30.0, 20.0), Optional, "Gain of the head's antenna.", |d| S::Number(&mut d.path.path.head_gain_dbi)),
        key("receiver_gain_dbi", "dBi", Range(-30.0, 20.0), Optional, "Gain of the receiver's antenna.", |d| S::Number(&mut d.path.path.receiver_gain_dbi)),
        key("noise_figure_db", "dB", Range(0.0, 30.0), Optional, "Noise figure of the receiver.", |d| S::Number(&mut d.path.path.noise_figure_db)),
        key("noise_rise_db", "dB", Range(0.0, 60.0), Optional, "By how much the house's electronics raise the noise.", |d| S::Number(&mut d.path.path.noise_rise_db)),
        key("steadiness_db", "dB", Range(-20.0, 40.0), Optional, "Power of the steady part of the signal over that of its echoes.", |d| S::Number(&mut d.path.path.steadiness_db)),
    ]},
    Section { name: "link.neighbour", meaning: "another head on the same channel; leave the section out for none", keys: &[
        key("head_id", "", Address, Required, "Its radio address, hexadecimal; another than [head]'s.", |d| S::MaybeAddress(&mut d.neighbour_head_id)),
        key("heard", "1", Range(0.0, 1.0), Optional, "Chance that one of its packets is heard.", |d| S::Number(&mut d.neighbour_heard)),
    ]},
    Section { name: "receiver", meaning: "what the receiver does", keys: &[
        key("silent_after_intervals", "intervals", Range(1.0, u16::MAX as f64), Optional, "Intervals without a packet after which a head counts as silent.", |d| S::Short(&mut d.receiver.silent_after_intervals)),
        key("commissioned", "", Flag, Optional, "The head was paired beside the receiver, so its first identity packet always arrives.", |d| S::Flag(&mut d.receiver.commissioned)),
        key("clock_ppm", "ppm", Range(0.0, 500.0), Optional, "Bound of the error of its clock while neither satellites nor the network set it.", |d| S::Number(&mut d.room.clock_ppm)),
    ]},
    Section { name: "receiver.mains", meaning: "the receiver's mains and its small battery", keys: &[
        key("cuts_a_year", "1/year", Range(0.0, 10_000.0), Optional, "Cuts of the mains at random.", |d| S::Number(&mut d.room.mains.cuts_a_year)),
        key("cut_hours", "h", Above(0.0, 1000.0), Optional, "Mean length of a cut.", |d| S::Number(&mut d.room.mains.cut_hours)),
        key("battery_hours", "h", Range(0.0, 1000.0), Optional, "How long the full battery carries the receiver; 0 for none.", |d| S::Number(&mut d.room.mains.battery_hours)),
        key("charge_hours", "h", Above(0.0, 1000.0), Optional, "How long mains takes to fill it.", |d| S::Number(&mut d.room.mains.charge_hours)),
    ]},
    Section { name: "receiver.backhaul", meaning: "the way from the receiver to the network", keys: &[
        key("outages_a_year", "1/year", Range(0.0, 10_000.0), Optional, "Outages at random.", |d| S::Number(&mut d.room.backhaul.outages_a_year)),
        key("outage_hours", "h", Above(0.0, 10_000.0), Optional, "Mean length of an outage.", |d| S::Number(&mut d.room.backhaul.outage_hours)),
        key("store_hours", "h", Range(0.0, 100_000.0), Optional, "How much the receiver can keep; what is older is lost.", |d| S::Number(&mut d.room.backhaul.store_hours)),
        key("catch_up", "1", Range(1.0, 100_000.0), Optional, "How much faster than real time it catches up.", |d| S::Number(&mut d.room.backhaul.catch_up)),
    ]},
    Section { name: "receiver.sky", meaning: "the satellites that the receiver's position fix comes from; leave the section out for none", keys: &[
        key("window_azimuth_deg", "deg", Range(0.0, 360.0), Required, "Where its window looks, clockwise from true north.", |d| S::MaybeNumber(&mut d.sky.window_azimuth_deg)),
        key("window_width_deg", "deg", Range(0.0, 360.0), Optional, "Width of the view; 0 for no window, 360 for the open.", |d| S::Number(&mut d.sky.sky.window_width_deg)),
        key("window_top_deg", "deg", Range(0.0, 90.0), Optional, "Highest elevation seen.", |d| S::Number(&mut d.sky.sky.window_top_deg)),
        key("construction", "", Words(constructions), Else("`traditional`"), "How walls and glass are made, as in [link.path].", |d| S::MaybeText(&mut d.sky.construction)),
    ]},
];

/// Sections of a scenario that a station may have of its own; what it leaves out holds as at the top.
pub(super) const OF_STATIONS: [&str; 9] = [
    "site",
    "head",
    "link",
    "link.neighbour",
    "link.path",
    "receiver",
    "receiver.mains",
    "receiver.backhaul",
    "receiver.sky",
];

/// A station of a network; the section is repeated.
#[rustfmt::skip]
pub(super) const STATION: Section<StationDraft> = Section {
    name: "station", meaning: "one of several stations under one weather; repeat the section for each. Without it there is one station, at [place]. Below it [station.site], [station.head], [station.link], [station.link.neighbour] and [station.receiver] change for this station what the sections of these names say for all", keys: &[
        key("name", "", Text, Required, "Short name of the station and of its folder: letters a-z, digits, `_` and `-`.", |d| S::MaybeText(&mut d.name)),
        key("east_km", "km", Range(-FARTHEST_KM, FARTHEST_KM), Else("0"), "How far east of [place] it stands.", |d| S::MaybeNumber(&mut d.east_km)),
        key("north_km", "km", Range(-FARTHEST_KM, FARTHEST_KM), Else("0"), "How far north of [place] it stands.", |d| S::MaybeNumber(&mut d.north_km)),
        key("latitude_deg", "deg", Range(-90.0, 90.0), Else("by `north_km`"), "Latitude, instead of `north_km`.", |d| S::MaybeNumber(&mut d.latitude_deg)),
        key("longitude_deg", "deg", Range(-180.0, 180.0), Else("by `east_km`"), "Longitude, instead of `east_km`.", |d| S::MaybeNumber(&mut d.longitude_deg)),
        key("altitude_m", "m", Range(-430.0, 5500.0), Else("as [place]"), "Height of its barometer above mean sea level.", |d| S::MaybeNumber(&mut d.altitude_m)),
    ],
};

/// A fault; the section may be repeated.
#[rustfmt::skip]
pub(super) const FAULT: Section<FaultDraft> = Section {
    name: "fault", meaning: "one stretch of one fault; repeat the section for more", keys: &[
        key("id", "", Words(faults), Required, "Which fault.", |d| S::MaybeText(&mut d.id)),
        key("station", "", Text, Else("required where there are several stations"), "Name of the station that has it.", |d| S::MaybeText(&mut d.station)),
        key("onset", "UTC", Moment, Required, "When it sets in.", |d| S::MaybeMoment(&mut d.onset)),
        key("end", "UTC", Moment, Else("never, unless `for_hours` or `for_days` is given"), "When it is put right.", |d| S::MaybeMoment(&mut d.end)),
        key("for_hours", "h", Above(0.0, LONGEST_DAYS * 24.0), Else("see `end`"), "How long it lasts, instead of `end`.", |d| S::MaybeNumber(&mut d.for_hours)),
        key("for_days", "days", Above(0.0, LONGEST_DAYS), Else("see `end`"), "How long it lasts, instead of `end`.", |d| S::MaybeNumber(&mut d.for_days)),
        key("shape", "", Words(shapes), Else("`step`"), "How it sets in: at once, growing, or on and off.", |d| S::MaybeText(&mut d.shape)),
        key("ramp_hours", "h", Above(0.0, LONGEST_DAYS * 24.0), Else("required by shape `ramp`"), "Time in which it grows from nothing to its severity.", |d| S::MaybeNumber(&mut d.ramp_hours)),
        key("period_minutes", "min", Above(0.0, LONGEST_DAYS * 1440.0), Else("required by shape `intermittent`"), "Time from one coming on to the next.", |d| S::MaybeNumber(&mut d.period_minutes)),
        key("duty", "1", Range(0.0, 1.0), Else("0.5, with shape `intermittent`"), "Share of that time in which it is on.", |d| S::MaybeNumber(&mut d.duty)),
        key("severity", "1", Range(0.0, 1.0), Optional, "How bad it gets: 1 is the worst, 0 is as if it were not there.", |d| S::Number(&mut d.severity)),
    ],
};

/// Farthest that a station may stand from [place], km: the weather of a region is one train of systems over
/// a flat map.
pub(super) const FARTHEST_KM: f64 = 300.0;
/// Most stations of a scenario.
pub(super) const MOST_STATIONS: usize = 100;

/// The climate when nothing is said about the weather.
pub(super) const DEFAULT_CLIMATE: &str = "temperate_maritime";
/// Height of the record's wind when nothing is said, m: the height WMO-No. 8, part I, chapter 5 asks for.
pub(super) const DEFAULT_WIND_HEIGHT_M: f64 = 10.0;
/// Share of the time that an intermittent fault is on when nothing is said.
pub(super) const DEFAULT_DUTY: f64 = 0.5;

fn climates() -> Vec<&'static str> {
    Climate::NAMES.to_vec()
}

fn faults() -> Vec<&'static str> {
    CATALOGUE.iter().map(|fault| fault.id).collect()
}

fn local_winds() -> Vec<&'static str> {
    vec!["none", "sea_breeze", "valley"]
}

/// Words and what they mean.
type Meanings<T, const N: usize> = [(&'static str, T); N];

const CHEMISTRIES: Meanings<CellChemistry, 2> = [
    ("alkaline", CellChemistry::Alkaline),
    ("lithium", CellChemistry::Lithium),
];
const CONSTRUCTIONS: Meanings<Construction, 2> = [
    ("traditional", Construction::Traditional),
    ("thermally_efficient", Construction::ThermallyEfficient),
];
const ROOMS: Meanings<Rooms, 3> = [
    ("residential", Rooms::Residential),
    ("office", Rooms::Office),
    ("commercial", Rooms::Commercial),
];

fn chemistries() -> Vec<&'static str> {
    CHEMISTRIES.iter().map(|(word, _)| *word).collect()
}

fn constructions() -> Vec<&'static str> {
    CONSTRUCTIONS.iter().map(|(word, _)| *word).collect()
}

fn room_kinds() -> Vec<&'static str> {
    ROOMS.iter().map(|(word, _)| *word).collect()
}

fn modulations() -> Vec<&'static str> {
    vec!["keying", "chirp"]
}

fn meaning<T: Copy + Default>(meanings: &[(&str, T)], word: Option<&str>) -> T {
    // A word that is none of these has been refused when it was read.
    let found = meanings.iter().find(|(known, _)| Some(*known) == word);
    found.map_or_else(T::default, |(_, meaning)| *meaning)
}

/// The chemistry of a word of the list, the usual one without a word; likewise the next two.
pub(super) fn chemistry(word: Option<&str>) -> CellChemistry {
    meaning(&CHEMISTRIES, word)
}

pub(super) fn construction(word: Option<&str>) -> Construction {
    meaning(&CONSTRUCTIONS, word)
}

pub(super) fn rooms(word: Option<&str>) -> Rooms {
    meaning(&ROOMS, word)
}

/// The grounds in the words of a scenario.
const SURFACES: [(&str, Surface); 7] = [
    ("grass", Surface::Grass),
    ("dry_grass", Surface::DryGrass),
    ("gravel", Surface::Gravel),
    ("paving", Surface::Paving),
    ("roof", Surface::Roof),
    ("dark_roof", Surface::DarkRoof),
    ("water", Surface::Water),
];

fn surfaces() -> Vec<&'static str> {
    SURFACES.iter().map(|(word, _)| *word).collect()
}

/// The ground of a word of the list.
pub(super) fn surface(word: &str) -> Option<Surface> {
    let found = SURFACES.iter().find(|(known, _)| *known == word);
    found.map(|(_, surface)| *surface)
}

/// The word for a ground.
pub(super) fn surface_word(surface: Surface) -> Option<&'static str> {
    let found = SURFACES.iter().find(|(_, known)| *known == surface);
    found.map(|(word, _)| *word)
}

fn shapes() -> Vec<&'static str> {
    vec!["step", "ramp", "intermittent"]
}

impl Allowed {
    /// What is allowed, in words, for messages and for the reference.
    pub(super) fn describe(self, unit: &str) -> String {
        let unit = match unit {
            "" | "1" | "UTC" => String::new(),
            "deg" => " degrees".to_owned(),
            unit => format!(" {unit}"),
        };
        match self {
            Self::Range(least, most) if most >= u64::MAX as f64 => {
                format!("{least} to {}", u64::MAX)
            }
            Self::Range(least, most) => format!("{least} to {most}{unit}"),
            Self::Above(least, most) => format!("more than {least}, at most {most}{unit}"),
            Self::Words(words) => words()
                .iter()
                .map(|word| format!("\"{word}\""))
                .collect::<Vec<_>>()
                .join(", "),
            Self::Text => "text".to_owned(),
            Self::Instant => "2026-04-01T00:00:00Z or 2026-04-01".to_owned(),
            Self::Moment => {
                "2026-04-03T09:00:00Z or, after the start, \"+2d09:00\", \"+36h\"".to_owned()
            }
            Self::Address => "\"00000000\" to \"ffffffff\"".to_owned(),
            Self::Secret => "32 hexadecimal digits, drawn at random".to_owned(),
            Self::Flag => "true, false".to_owned(),
        }
    }
}

impl Slot<'_> {
    /// What a default looks like in a scenario; `None` where there is none.
    pub(super) fn show(&self) -> Option<String> {
        match self {
            Self::Number(value) => Some(format!("{value}")),
            Self::MaybeNumber(value) => value.map(|value| format!("{value}")),
            Self::Short(value) => Some(format!("{value}")),
            Self::Long(value) => Some(format!("{value}")),
            Self::Address(value) => Some(format!("\"{value:08x}\"")),
            Self::MaybeAddress(value) => value.map(|value| format!("\"{value:08x}\"")),
            Self::Flag(value) => Some(format!("{value}")),
            Self::MaybeText(value) => value.as_ref().map(|value| format!("\"{value}\"")),
            Self::Numbers(list) => {
                let first = list.first()?;
                if list.iter().all(|value| value == first) {
                    return Some(format!("{first}"));
                }
                let all: Vec<String> = list.iter().map(|value| format!("{value}")).collect();
                Some(format!("[{}]", all.join(", ")))
            }
            // Whoever may see a scenario's summary need not see its secrets.
            Self::MaybeKey(value) => value.map(|_| "(secret)".to_owned()),
            Self::MaybeMoment(_) | Self::MaybeMonths(_) => None,
        }
    }
}
