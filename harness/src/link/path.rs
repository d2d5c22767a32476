//! The radio path by its geometry: how strong a packet arrives, and whether it can be read.
//!
//! From the head through free air to the building (Rec. ITU-R P.525), through its wall or window
//! (P.2109), then through rooms and floors (P.1238, by what it loses beyond free space). On top lie a slow
//! swing ([`super::signal`]) and, packet by packet, fading. Noise is the receiver's own and the house's.

use super::air::Modulation;
use benchmast_protocol::frame::health::HEALTH_EVERY;
use benchmast_sim::entropy::Stream;
use benchmast_sim::physics::radio::{
    Construction, Rooms, building_entry_loss_db, chirp_snr_floor_db, free_space_loss_db,
    indoor_loss_db, keying_bit_error, noise_floor_dbm,
};

/// Bits of the synchronisation word, which must all be right for a packet to be noticed. Common practice,
/// no source.
const SYNC_BITS: i32 = 16;
/// Signal to noise over which a chirp packet goes from nearly always lost to nearly always read, dB:
/// the scale of a logistic curve. Common practice, no source.
const CHIRP_SCALE_DB: f64 = 0.5;
/// Share of lost packets at which a path counts as just good enough, for the margin: one in a hundred.
const GOOD_ENOUGH: f64 = 0.01;

/// A radio path by its geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Path {
    /// Carrier frequency, MHz, 400 to 5000.
    pub frequency_mhz: f64,
    /// Power into the head's antenna, dBm.
    pub power_dbm: f64,
    /// Gain of the head's antenna, dBi.
    pub head_gain_dbi: f64,
    /// Gain of the receiver's antenna, dBi.
    pub receiver_gain_dbi: f64,
    /// From the head to the building, m.
    pub outdoor_m: f64,
    /// From the outer wall to the receiver, m; 0 when the receiver stands at an open window or outdoors, and
    /// then nothing is lost in the wall either.
    pub indoor_m: f64,
    /// How the building is made.
    pub construction: Construction,
    /// What its rooms are used for.
    pub rooms: Rooms,
    /// Floors between the wall's point of entry and the receiver.
    pub floors: u8,
    /// Walls and things not counted elsewhere, dB.
    pub extra_loss_db: f64,
    /// Noise figure of the receiver, dB.
    pub noise_figure_db: f64,
    /// By how much the house's electronics raise the noise, dB.
    pub noise_rise_db: f64,
    /// Power of the steady part of the signal over that of its echoes, dB (Rice's factor K).
    pub steadiness_db: f64,
}

impl Default for Path {
    /// A garden, a house, the next room. Powers, gains and noise: common practice, no source.
    fn default() -> Self {
        Self {
            frequency_mhz: 868.0,
            power_dbm: 10.0,
            head_gain_dbi: 0.0,
            receiver_gain_dbi: -2.0,
            outdoor_m: 25.0,
            indoor_m: 6.0,
            construction: Construction::Traditional,
            rooms: Rooms::Residential,
            floors: 0,
            extra_loss_db: 0.0,
            noise_figure_db: 7.0,
            noise_rise_db: 3.0,
            steadiness_db: 6.0,
        }
    }
}

/// Where the power goes and what is left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Budget {
    /// Loss in free space over the whole distance, dB.
    pub free_space_db: f64,
    /// Median loss through the outside of the building, dB.
    pub entry_db: f64,
    /// What rooms and floors lose beyond free space, dB.
    pub indoor_db: f64,
    /// Median signal at the receiver, dBm.
    pub signal_dbm: f64,
    /// Noise in the receiver's bandwidth, dBm.
    pub noise_dbm: f64,
    /// Weakest signal without fading at which 99 of 100 observations are read, dBm.
    pub sensitivity_dbm: f64,
}

impl Budget {
    /// What the signal may lose before one observation in a hundred is, dB; negative when it is too weak.
    #[must_use]
    pub fn margin_db(&self) -> f64 {
        self.signal_dbm - self.sensitivity_dbm
    }
}

impl Path {
    /// The budget of this path.
    #[must_use]
    pub fn budget(&self, modulation: &Modulation) -> Budget {
        let frequency = self.frequency_mhz;
        let inside = self.indoor_m > 0.0;
        let free_space_db = free_space_loss_db(frequency, self.outdoor_m + self.indoor_m);
        let entry_db = if inside {
            building_entry_loss_db(frequency, self.construction, 0.0, 0.5)
        } else {
            0.0
        };
        let indoor_db = if inside {
            let through = indoor_loss_db(frequency, self.indoor_m, self.rooms, self.floors);
            (through - free_space_loss_db(frequency, self.indoor_m)).max(0.0)
        } else {
            0.0
        };
        let signal_dbm = self.power_dbm + self.head_gain_dbi + self.receiver_gain_dbi
            - free_space_db
            - entry_db
            - indoor_db
            - self.extra_loss_db;
        let noise_dbm = noise_floor_dbm(modulation.bandwidth_hz(), self.noise_figure_db)
            + self.noise_rise_db.max(0.0);
        Budget {
            free_space_db,
            entry_db,
            indoor_db,
            signal_dbm,
            noise_dbm,
            sensitivity_dbm: noise_dbm + needed_snr_db(modulation),
        }
    }
}

/// Most bytes of an observation packet, by clause W1.7 of the wire format.
pub const OBSERVATION_LEN: usize = 29;
/// Most bytes of a health packet, by the same clause.
pub const HEALTH_LEN: usize = 27;

/// Signal to noise at which [`GOOD_ENOUGH`] observations are lost, dB: bisection.
fn needed_snr_db(modulation: &Modulation) -> f64 {
    let (mut low, mut high) = (-40.0, 40.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        let fate = Fate::at(middle, modulation);
        let read =
            (1.0 - fate.missed) * libm::pow(1.0 - fate.bit_error, 8.0 * OBSERVATION_LEN as f64);
        if 1.0 - read > GOOD_ENOUGH {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// Share of the time that a head with this reporting interval is on the air, 0 to 1, by its packets'
/// lengths in bytes: an observation each interval, health every so many.
#[must_use]
pub fn duty_cycle(
    modulation: &Modulation,
    interval_s: f64,
    observation: usize,
    health: usize,
) -> f64 {
    let often = modulation.airtime_us(observation) as f64;
    let seldom = modulation.airtime_us(health) as f64 / f64::from(HEALTH_EVERY);
    (often + seldom) * 1e-6 / interval_s
}

/// What a signal to noise ratio does to a packet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fate {
    /// Chance that the packet is not noticed at all.
    pub missed: f64,
    /// Chance that a bit is wrong.
    pub bit_error: f64,
}

impl Fate {
    /// At a signal to noise ratio in the modulation's bandwidth, dB.
    #[must_use]
    pub fn at(snr_db: f64, modulation: &Modulation) -> Self {
        match *modulation {
            Modulation::Keying {
                bit_rate,
                bandwidth_hz,
            } => {
                let bit_error = keying_bit_error(snr_db, bandwidth_hz, bit_rate);
                Self {
                    missed: 1.0 - (1.0 - bit_error).powi(SYNC_BITS),
                    bit_error,
                }
            }
            Modulation::Chirp {
                spreading_factor, ..
            } => {
                let margin = snr_db - chirp_snr_floor_db(spreading_factor);
                Self {
                    missed: 1.0 / (1.0 + libm::exp(margin / CHIRP_SCALE_DB)),
                    bit_error: 0.0,
                }
            }
        }
    }
}

/// The path at work, packet by packet. Three draws a packet.
#[derive(Debug)]
pub struct Reception {
    modulation: Modulation,
    noise_dbm: f64,
    /// Amplitude of the steady part, and of either echo component; their powers add up to 1.
    steady: f64,
    echo: f64,
    stream: Stream,
}

impl Reception {
    /// Of a path.
    #[must_use]
    pub fn new(path: &Path, modulation: Modulation, stream: Stream) -> Self {
        let ratio = libm::pow(10.0, 0.1 * path.steadiness_db);
        Self {
            modulation,
            noise_dbm: path.budget(&modulation).noise_dbm,
            steady: (ratio / (1.0 + ratio)).sqrt(),
            echo: (0.5 / (1.0 + ratio)).sqrt(),
            stream,
        }
    }

    /// How strong a packet arrives whose signal is `slow_dbm` but for fading, and what becomes of it:
    /// signal in dBm (steps of 0.1), whether it is missed, and its chance of a wrong bit.
    pub fn packet(&mut self, slow_dbm: f64) -> (f64, bool, f64) {
        let along = self.steady + self.echo * self.stream.normal();
        let across = self.echo * self.stream.normal();
        let power = (along * along + across * across).max(1e-9);
        let signal_dbm = slow_dbm + 10.0 * libm::log10(power);
        let fate = Fate::at(signal_dbm - self.noise_dbm, &self.modulation);
        let missed = self.stream.uniform() < fate.missed;
        ((signal_dbm * 10.0).round() / 10.0, missed, fate.bit_error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    const KEYING: Modulation = Modulation::Keying {
        bit_rate: 38_400.0,
        bandwidth_hz: 100e3,
    };
    const CHIRP: Modulation = Modulation::Chirp {
        spreading_factor: 9,
        bandwidth_hz: 125e3,
    };

    #[test]
    fn no_packet_is_longer_than_the_budget_counts() {
        let length = |frame| {
            let packet = benchmast_protocol::packet::Packet {
                head: benchmast_protocol::packet::HeadId(1),
                sequence: 2,
                frame,
            };
            let mut buffer = [0; benchmast_protocol::packet::MAX_PACKET];
            packet.emit(&mut buffer).expect("a packet").len()
        };
        let mut station = crate::link::neighbour::samples();
        let mut least = |most: usize| {
            let length = station.next().map(length);
            length.is_some_and(|length| (most - 6..=most).contains(&length))
        };
        assert!(least(OBSERVATION_LEN) && least(HEALTH_LEN));
    }

    #[test]
    fn a_budget_adds_up() {
        let path = Path::default();
        let budget = path.budget(&KEYING);
        // By hand: 32.45 + 58.77 - 30.17 = 61.05 dB over 31 m; 28 log 6 - 20 log 6 - 0.45 = 5.78 dB in rooms.
        assert!((budget.free_space_db - 61.05).abs() < 0.02, "{budget:?}");
        assert!((budget.indoor_db - 5.78).abs() < 0.02, "{budget:?}");
        let sum = 8.0 - budget.free_space_db - budget.entry_db - budget.indoor_db;
        assert!((budget.signal_dbm - sum).abs() < 1e-12);
        // -173.98 + 50 + 7 + 3.
        assert!((budget.noise_dbm + 113.98).abs() < 0.02, "{budget:?}");
        assert!(budget.margin_db() > 15.0, "{budget:?}");
    }

    #[test]
    fn coated_glass_costs_what_the_recommendation_says_and_an_open_window_nothing() {
        let with = |construction, indoor_m| {
            let path = Path {
                construction,
                indoor_m,
                ..Path::default()
            };
            path.budget(&KEYING).entry_db
        };
        let more =
            with(Construction::ThermallyEfficient, 6.0) - with(Construction::Traditional, 6.0);
        assert!((13.0..19.0).contains(&more), "{more}");
        assert_eq!(with(Construction::ThermallyEfficient, 0.0), 0.0);
    }

    #[test]
    fn the_weaker_the_signal_the_more_is_lost() {
        for modulation in [KEYING, CHIRP] {
            let mut last = Fate::at(-60.0, &modulation);
            assert!(last.missed > 0.9999);
            for tenth in -599..400 {
                let fate = Fate::at(f64::from(tenth) * 0.1, &modulation);
                assert!(fate.missed <= last.missed && fate.bit_error <= last.bit_error);
                last = fate;
            }
            assert!(last.missed < 1e-9 && last.bit_error < 1e-9);
        }
    }

    /// Spreading reads 15 to 20 dB below keying of this rate, at the price of its time on the air.
    #[test]
    fn spreading_hears_farther_and_talks_longer() {
        let gain = needed_snr_db(&KEYING) - needed_snr_db(&CHIRP);
        assert!((15.0..22.0).contains(&gain), "{gain}");
        let talk = duty_cycle(&CHIRP, 16.0, 29, 30) / duty_cycle(&KEYING, 16.0, 29, 30);
        assert!(talk > 20.0, "{talk}");
        // 7.708 ms and a sixteenth or so of 7.917 ms in 16 s.
        let keyed = duty_cycle(&KEYING, 16.0, 29, 30);
        assert!((4.8e-4..5.6e-4).contains(&keyed), "{keyed}");
    }

    #[test]
    fn fading_keeps_the_mean_power_and_has_rices_spread() {
        let mut reception =
            Reception::new(&Path::default(), KEYING, Seed(4).stream("here", "fading"));
        let n = 100_000;
        let powers: Vec<f64> = (0..n)
            .map(|_| 10_f64.powf(0.1 * reception.packet(0.0).0))
            .collect();
        let mean = powers.iter().sum::<f64>() / f64::from(n);
        let square = powers.iter().map(|p| p * p).sum::<f64>() / f64::from(n);
        assert!((mean - 1.0).abs() < 0.01, "{mean}");
        // Rice: variance of power over its square mean is (1 + 2 K) / (1 + K)^2 = 0.361 at K = 6 dB.
        let variance = square - mean * mean;
        assert!((variance - 0.361).abs() < 0.01, "{variance}");
    }

    #[test]
    fn what_is_read_at_a_margin_of_nothing_is_99_in_100() {
        for modulation in [KEYING, CHIRP] {
            let path = Path {
                steadiness_db: 60.0,
                ..Path::default()
            };
            let budget = path.budget(&modulation);
            let mut reception = Reception::new(&path, modulation, Seed(5).stream("here", "fading"));
            let mut bits = super::super::bits::BitErrors::new(0.0, Seed(6).stream("here", "bits"));
            let n = 50_000;
            let lost = (0..n)
                .filter(|_| {
                    let (_, missed, chance) = reception.packet(budget.sensitivity_dbm);
                    missed | (bits.strike_at(chance, &mut [0; OBSERVATION_LEN]) > 0)
                })
                .count();
            let share = lost as f64 / f64::from(n);
            assert!((0.008..0.012).contains(&share), "{modulation:?}: {share}");
        }
    }
}
