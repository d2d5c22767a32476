//! Radio waves between a head and its receiver: path loss, building entry, noise, errors, time on the air.
//!
//! All losses are in dB and positive, distances in m, frequencies in MHz unless the name says otherwise.

/// How a building's outer walls and windows are made, as ITU-R P.2109 divides them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Construction {
    /// Ordinary glass and walls without metal foil.
    #[default]
    Traditional,
    /// Metal-coated glass or foil-backed panels.
    ThermallyEfficient,
}

/// What the rooms of a building are used for, as ITU-R P.1238 divides them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Rooms {
    /// Flats and houses.
    #[default]
    Residential,
    /// Offices.
    Office,
    /// Halls and shops.
    Commercial,
}

/// Shortest distance that the path models are used for, m.
const NEAREST_M: f64 = 1.0;

/// Loss between isotropic antennas in free space, dB.
///
/// Rec. ITU-R P.525-4, equation 4, with the constant 32.4478 of the exact speed of light. Any frequency;
/// distances below 1 m count as 1 m, where antennas stop being points.
#[must_use]
pub fn free_space_loss_db(frequency_mhz: f64, distance_m: f64) -> f64 {
    const CONSTANT: f64 = 32.447_783;
    CONSTANT
        + 20.0 * libm::log10(frequency_mhz)
        + 20.0 * libm::log10(distance_m.max(NEAREST_M) * 1e-3)
}

/// Loss inside a building, dB: `20 log f + N log d + Lf(n) - 28`.
///
/// Rec. ITU-R P.1238-7, equation 1. Power-loss coefficients N: near 900 MHz office 33, commercial 20 (from
/// memory; residential is not given there, its 28 of 1.8-2 GHz is used); from 1.4 GHz the 1.8-2 GHz ones,
/// residential 28, office 30, commercial 22. Floors: residential 4 n, office 15 + 4 (n - 1), commercial
/// 6 + 3 (n - 1); office near 900 MHz 9, 19, 24 dB for 1, 2, 3 floors (from memory), 5 dB for each further
/// one (no source). Distances from 1 m, 0.4 to 5 GHz.
#[must_use]
pub fn indoor_loss_db(frequency_mhz: f64, distance_m: f64, rooms: Rooms, floors: u8) -> f64 {
    let low = frequency_mhz < 1_400.0;
    let coefficient = match (rooms, low) {
        (Rooms::Residential, _) => 28.0,
        (Rooms::Office, true) => 33.0,
        (Rooms::Office, false) => 30.0,
        (Rooms::Commercial, true) => 20.0,
        (Rooms::Commercial, false) => 22.0,
    };
    let n = f64::from(floors);
    let through_floors = match (rooms, low, floors) {
        (_, _, 0) => 0.0,
        (Rooms::Residential, _, _) => 4.0 * n,
        (Rooms::Office, true, 1) => 9.0,
        (Rooms::Office, true, 2) => 19.0,
        (Rooms::Office, true, _) => 24.0 + 5.0 * (n - 3.0),
        (Rooms::Office, false, _) => 15.0 + 4.0 * (n - 1.0),
        (Rooms::Commercial, _, _) => 6.0 + 3.0 * (n - 1.0),
    };
    let distance = libm::log10(distance_m.max(NEAREST_M));
    20.0 * libm::log10(frequency_mhz) + coefficient * distance + through_floors - 28.0
}

/// Loss through the outside of a building that a given share of indoor points does not exceed, dB.
///
/// Rec. ITU-R P.2109-1, equations 1 to 8 (coefficients of the median from public implementations, those of
/// the spread from memory). 80 MHz to 100 GHz. `elevation_deg`: of the path at the wall, 0 to 90.
/// `unexceeded`: 0.0001 to 0.9999; the median is 0.5.
#[must_use]
pub fn building_entry_loss_db(
    frequency_mhz: f64,
    construction: Construction,
    elevation_deg: f64,
    unexceeded: f64,
) -> f64 {
    let [r, s, t, u, v, w, x, y, z] = match construction {
        Construction::Traditional => [12.64, 3.72, 0.96, 9.6, 2.0, 9.1, -3.0, 4.5, -2.0],
        Construction::ThermallyEfficient => [28.19, -3.0, 8.48, 13.5, 3.8, 27.8, -2.9, 9.4, -2.1],
    };
    let f = libm::log10(frequency_mhz * 1e-3);
    let deviate = normal_quantile(unexceeded.clamp(1e-4, 1.0 - 1e-4));
    let first = r + s * f + t * f * f + 0.212 * elevation_deg.abs() + deviate * (u + v * f);
    let second = w + x * f + deviate * (y + z * f);
    let power = |db: f64| libm::pow(10.0, 0.1 * db);
    10.0 * libm::log10(power(first) + power(second) + power(-3.0))
}

/// The value that a normal variate with mean 0 and standard deviation 1 stays below with a given chance.
///
/// Bisection of the error function, to 1e-9; it is needed once for a run.
fn normal_quantile(chance: f64) -> f64 {
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let below = 0.5 * libm::erfc(-middle * core::f64::consts::FRAC_1_SQRT_2);
        if below < chance {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Noise power at a receiver's input, dBm: thermal noise at 290 K (-173.98 dBm/Hz, k T from the exact
/// Boltzmann constant) in a bandwidth, and the receiver's noise figure.
#[must_use]
pub fn noise_floor_dbm(bandwidth_hz: f64, noise_figure_db: f64) -> f64 {
    const DBM_PER_HZ: f64 = -173.975;
    DBM_PER_HZ + 10.0 * libm::log10(bandwidth_hz) + noise_figure_db
}

/// Chance that a bit of binary frequency-shift keying, detected without phase, is wrong:
/// `exp(-Eb/2N0) / 2` (Proakis, Digital Communications, section on orthogonal signals; from memory).
///
/// `snr_db`: signal to noise in a bandwidth of `bandwidth_hz`; `bit_rate`: bit/s.
#[must_use]
pub fn keying_bit_error(snr_db: f64, bandwidth_hz: f64, bit_rate: f64) -> f64 {
    let energy = libm::pow(10.0, 0.1 * snr_db) * bandwidth_hz / bit_rate;
    0.5 * libm::exp(-0.5 * energy)
}

/// Time on the air of a packet of chirp spread spectrum, s.
///
/// `payload`: bytes; `spreading_factor`: 6 to 12; 8 symbols of preamble, explicit header, check word, code
/// rate 4/5, low-rate optimisation when a symbol is longer than 16 ms. Published application note of the
/// modulation's maker (AN1200.13): `n = 8 + max(ceil((8 PL - 4 SF + 28 + 16) / (4 (SF - 2 DE))) 5, 0)`
/// symbols after 12.25 symbols of preamble, `2^SF / BW` each.
#[must_use]
pub fn chirp_airtime_s(payload: usize, spreading_factor: u8, bandwidth_hz: f64) -> f64 {
    let factor = i64::from(spreading_factor.clamp(6, 12));
    let symbol_s = (1_i64 << factor) as f64 / bandwidth_hz;
    let slow = i64::from(symbol_s > 0.016);
    let bits = 8 * payload as i64 - 4 * factor + 44;
    let step = 4 * (factor - 2 * slow);
    let blocks = if bits > 0 {
        (bits + step - 1) / step
    } else {
        0
    };
    (12.25 + 8.0 + 5.0 * blocks as f64) * symbol_s
}

/// Least signal to noise at which a packet of chirp spread spectrum is read, dB: -7.5 at spreading factor 7
/// and 2.5 less for each further one (data sheets, from memory).
#[must_use]
pub fn chirp_snr_floor_db(spreading_factor: u8) -> f64 {
    10.0 - 2.5 * f64::from(spreading_factor.clamp(6, 12))
}
