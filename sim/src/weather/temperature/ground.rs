//! The ground: its balance of energy, its two stores of heat.

use super::exchange::{Exchange, exchange};
use super::radiation::{EMISSIVITY, ICE_POINT_K, black_body_wm2};
use crate::physics::moist_air::saturation_vapour_pressure_hpa;

/// Conductance between the radiating skin of grass and the soil, W/(m2 K): Viterbo & Beljaars 1995,
/// J. Climate 8 (10 for low vegetation, from memory).
const SKIN_CONDUCTANCE: f64 = 10.0;
/// Heat conductivity of settled snow, W/(m K), and its density, kg/m3 (Sturm et al. 1997, J. Glaciol. 43:
/// 0.14 to 0.25 at 200 to 300 kg/m3, from memory).
const SNOW_CONDUCTIVITY: f64 = 0.2;
const SNOW_DENSITY: f64 = 200.0;
/// Angular speed of the day, 1/s.
const DAY_RATE: f64 = 7.272_205e-5;
const DAY_S: f64 = 86_400.0;
/// Heat of vaporisation, sublimation and fusion, J/kg, near 0 to 10 degC.
pub(super) const VAPORISATION: f64 = 2.48e6;
pub(super) const SUBLIMATION: f64 = 2.834e6;
pub(super) const FUSION: f64 = 3.34e5;
/// Gas constant of water vapour, J/(kg K).
const VAPOUR_GAS: f64 = 461.5;
/// Heat that melting snow takes per kelvin above 0 degC of its skin, W/(m2 K): large, so that the skin
/// of a full cover stays at 0 degC and melts by what the balance has left over.
const MELT_CONDUCTANCE: f64 = 300.0;

/// What acts on the skin of the ground in one step; all of it constant through the step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Acting {
    pub(super) seconds: f64,
    /// Absorbed short and long waves, W/m2.
    pub(super) absorbed_wm2: f64,
    pub(super) wind_ms: f64,
    pub(super) convective_ms: f64,
    /// Air at 10 m: temperature, degC, and vapour pressure, hPa, at the start of the step.
    pub(super) air_degc: f64,
    pub(super) vapour_hpa: f64,
    /// Volumetric heat of air, J/(m3 K), and depth of the air that takes up the fluxes, m.
    pub(super) air_heat: f64,
    pub(super) depth_m: f64,
    /// Share of the surface that is wet or snow, and resistance of the rest to evaporation, s/m.
    pub(super) wet: f64,
    pub(super) resistance_sm: f64,
    /// Wetness of the soil, 0 to 1.
    pub(super) moist: f64,
    pub(super) snow_mm: f64,
    pub(super) snow_share: f64,
}

/// Fluxes of one step, W/m2: away from the skin counts positive, radiation towards it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Fluxes {
    pub(super) absorbed: f64,
    pub(super) emitted: f64,
    pub(super) sensible: f64,
    pub(super) latent: f64,
    pub(super) melt: f64,
    pub(super) ground: f64,
    /// Vapour that goes up, kg/(m2 s), and the same as hPa m/s.
    pub(super) vapour_kg: f64,
    pub(super) vapour_hpa_ms: f64,
    /// Vapour pressure at the skin, hPa, less what the resistance takes.
    pub(super) skin_hpa: f64,
}

/// Temperatures of the ground, degC.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ground {
    pub(super) skin_degc: f64,
    pub(super) top_degc: f64,
    pub(super) deep_degc: f64,
}

impl Ground {
    pub(super) fn at(degc: f64) -> Self {
        Self {
            skin_degc: degc,
            top_degc: degc,
            deep_degc: degc,
        }
    }

    /// Heat store that takes part in a day, J/(m2 K): Deardorff 1978, J. Geophys. Res. 83, eq. 8 (from
    /// memory), `sqrt(k C T / 4 pi)` with k C from dry loam to wet loam (Oke 1987, table 2.1, from memory).
    pub(super) fn store(moist: f64) -> f64 {
        6.0e4 + 8.0e4 * moist
    }

    /// Solves the balance of the skin and moves the ground on by one step.
    ///
    /// The skin holds no heat. Top and deep soil follow the force-restore equations (Deardorff 1978; deep
    /// soil relaxed over a day as in Noilhan & Planton 1989, Mon. Weather Rev. 117). Soil and air are taken
    /// at the end of the step (implicit), so that no length of step makes it swing; the last of the Newton
    /// steps is linear in all fluxes, so that they close to rounding.
    pub(super) fn step(&mut self, a: &Acting) -> (Fluxes, Exchange) {
        let kelvin = a.air_degc + ICE_POINT_K;
        let store = Self::store(a.moist);
        let snow_m = a.snow_mm / SNOW_DENSITY;
        let covered = 1.0 / (1.0 / SKIN_CONDUCTANCE + snow_m / SNOW_CONDUCTIVITY);
        let conductance = SKIN_CONDUCTANCE + (covered - SKIN_CONDUCTANCE) * a.snow_share;
        // The top soil at the end of the step is `rest + lag * flux`.
        let restored = 1.0 / (1.0 + DAY_RATE * a.seconds);
        let rest = (self.top_degc + DAY_RATE * a.seconds * self.deep_degc) * restored;
        let lag = a.seconds / store * restored;
        let conductance = conductance / (1.0 + conductance * lag);

        let mut skin = self.skin_degc;
        let mut fluxes = Fluxes::default();
        let mut exchanged = exchange(a.wind_ms, a.convective_ms, skin - a.air_degc, kelvin);
        for round in 0..3 {
            if round > 0 {
                let now = exchange(a.wind_ms, a.convective_ms, skin - a.air_degc, kelvin);
                // Half way, since exchange and skin pull against each other.
                exchanged.velocity_ms = 0.5 * (exchanged.velocity_ms + now.velocity_ms);
                exchanged.above_screen = now.above_screen;
            }
            let speed = exchanged.velocity_ms;
            let heat = a.air_heat * speed / (1.0 + speed * a.seconds / a.depth_m);
            let (saturation, slope, latent) = skin_saturation(skin);
            let through = if saturation < a.vapour_hpa {
                1.0
            } else {
                a.wet + (1.0 - a.wet) / (1.0 + speed * a.resistance_sm)
            };
            let moved = speed * through / (1.0 + speed * through * a.seconds / a.depth_m);
            let per_hpa = 100.0 / (VAPOUR_GAS * kelvin);
            let vapour = latent * per_hpa * moved;
            let emitted = EMISSIVITY * black_body_wm2(skin + ICE_POINT_K);
            let melting = if skin > 0.0 {
                MELT_CONDUCTANCE * a.snow_share
            } else {
                0.0
            };
            let mut now = Fluxes {
                absorbed: a.absorbed_wm2,
                emitted,
                sensible: heat * (skin - a.air_degc),
                latent: vapour * (saturation - a.vapour_hpa),
                melt: melting * skin,
                ground: conductance * (skin - rest),
                ..Fluxes::default()
            };
            let left =
                |f: &Fluxes| f.absorbed - f.emitted - f.sensible - f.latent - f.melt - f.ground;
            let emitting = 4.0 * emitted / (skin + ICE_POINT_K);
            let others = emitting + heat + vapour * slope + conductance;
            let mut change = left(&now) / (others + melting);
            let mut melting = melting;
            // No more melts than there is.
            let most = FUSION * a.snow_mm / a.seconds;
            if now.melt + melting * change > most {
                (now.melt, melting) = (most, 0.0);
                change = left(&now) / others;
            } else if now.melt + melting * change < 0.0 {
                (now.melt, melting) = (0.0, 0.0);
                change = left(&now) / others;
            }
            // A leap across a bend of the curves is cut in all rounds but the last.
            let change = if round < 2 {
                change.clamp(-12.0, 12.0)
            } else {
                change
            };
            skin += change;
            now.emitted += emitting * change;
            now.sensible += heat * change;
            now.latent += vapour * slope * change;
            now.melt += melting * change;
            now.ground += conductance * change;
            now.vapour_kg = now.latent / latent;
            now.vapour_hpa_ms = now.vapour_kg / per_hpa;
            now.skin_hpa = a.vapour_hpa + through * (saturation + slope * change - a.vapour_hpa);
            fluxes = now;
        }
        self.skin_degc = skin;
        self.top_degc = rest + lag * fluxes.ground;
        self.deep_degc += (self.top_degc - self.deep_degc) * a.seconds / (DAY_S + a.seconds);
        (fluxes, exchanged)
    }
}

/// Saturation vapour pressure at the skin, hPa, its slope, hPa/K, and the heat that evaporation takes there,
/// J/kg: over ice below 0 degC, where dew is frost.
fn skin_saturation(degc: f64) -> (f64, f64, f64) {
    let (range, length, heat) = if degc < 0.0 {
        (22.46, 272.62, SUBLIMATION)
    } else {
        (17.62, 243.12, VAPORISATION)
    };
    let bounded = degc.clamp(-110.0, 90.0);
    let saturation = if degc < 0.0 {
        crate::physics::moist_air::saturation_vapour_pressure_over_ice_hpa(bounded)
    } else {
        saturation_vapour_pressure_hpa(bounded)
    };
    let below = length + bounded;
    (
        saturation,
        saturation * range * length / (below * below),
        heat,
    )
}
