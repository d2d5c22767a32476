//! The air that the ground warms and cools: a mixed layer by day, a shallow stable layer by night, fog.

use crate::physics::moist_air::saturation_vapour_pressure_hpa;

/// Stratification of the air that the growing mixed layer eats into, K/m (common practice, no source).
const STRATIFICATION: f64 = 0.005;
/// Heat that the mixed layer draws in at its top, over that from below (Tennekes 1973, J. Atmos. Sci. 30).
const DRAWN_IN: f64 = 0.2;
/// Step of temperature at the top of the mixed layer, K (common practice, no source).
const CAP_K: f64 = 1.5;
/// Time in which the air of a place is exchanged for the air mass's in a light wind, s, and the wind that
/// halves it, m/s (common practice, no source).
const RENEWAL_S: f64 = 22.0 * 3600.0;
const RENEWAL_WIND_MS: f64 = 8.0;
/// Time in which yesterday's mixed layer is worn away, s (common practice, no source).
const RESIDUE_S: f64 = 9.0 * 3600.0;
const SHALLOWEST_M: f64 = 100.0;
const DEEPEST_M: f64 = 3000.0;
/// Time in which the turbulence of a heated layer dies when the heating ends, s: its depth over its convective
/// velocity, a thousand seconds or two (Nieuwstadt & Brost 1986, J. Atmos. Sci. 43, from memory).
const STIRRED_S: f64 = 1800.0;
/// Time in which heated ground stirs all of its layer, s (the same).
const STIRRING_S: f64 = 1200.0;
/// Time in which fog droplets settle, s: 1 cm/s through some 100 m (common practice, no source).
const SETTLING_S: f64 = 3.0 * 3600.0;
/// Time in which the air below the screen is mixed into the stable layer, s (common practice, no source).
const MIXING_S: f64 = 1800.0;
/// Liquid water of fog, as vapour pressure in hPa, that hides half of the sky: 0.05 g/m3.
const HALF_FOG_HPA: f64 = 0.065;

/// Departures of the air near the ground from the air mass.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layer {
    /// Of the mixed layer, or what is left of it at night.
    pub(super) warmth_k: f64,
    pub(super) moisture_hpa: f64,
    /// Depth of the mixed layer, m.
    pub(super) depth_m: f64,
    /// Heat taken out of the stable layer, K m, and vapour brought into it, hPa m.
    pub(super) chill_km: f64,
    pub(super) damp_hpam: f64,
    /// Height in which the chill falls to 1/e, m.
    pub(super) stable_m: f64,
    /// Water of fog, as vapour pressure, hPa.
    pub(super) fog_hpa: f64,
    /// Share of what the ground takes or gives that goes through all of the mixed layer once the heating has
    /// ended, 0 to 1: what is left of the day's turbulence.
    stirred: f64,
}

/// What the layer takes up in one step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Uptake {
    pub(super) seconds: f64,
    /// Heat, K m/s, and vapour, hPa m/s, from below.
    pub(super) heat_kms: f64,
    pub(super) vapour_hpa_ms: f64,
    /// Heat lost to the sky by the air itself, K m/s.
    pub(super) radiated_kms: f64,
    pub(super) wind_ms: f64,
    /// Vapour pressure of the air mass, hPa.
    pub(super) air_hpa: f64,
    /// What depths are divided by.
    pub(super) gain: f64,
    /// Furthest that the air may get from the air mass, K.
    pub(super) furthest_k: f64,
}

impl Layer {
    pub(super) const START: Self = Self {
        warmth_k: 0.0,
        moisture_hpa: 0.0,
        depth_m: 300.0,
        chill_km: 0.0,
        damp_hpam: 0.0,
        stable_m: 40.0,
        fog_hpa: 0.0,
        stirred: 0.0,
    };

    /// Departures 10 m above the ground, K and hPa.
    pub(super) fn near(&self, gain: f64) -> (f64, f64) {
        let per_m = gain / self.stable_m;
        (
            self.warmth_k - self.chill_km * per_m,
            self.moisture_hpa + self.damp_hpam * per_m,
        )
    }

    /// Depth of the air that answers the ground now, m, whether the sun warms it or not.
    pub(super) fn answering_m(&self, gain: f64, warmed: bool) -> f64 {
        if self.chill_km > 0.0 || !warmed {
            let per_m = self.stirred / self.depth_m + (1.0 - self.stirred) / self.stable_m;
            1.0 / (per_m * gain)
        } else {
            self.depth_m / gain
        }
    }

    /// Share of fog, 0 to 1: a stronger wind lifts it to a low cloud (common practice, no source).
    pub(super) fn fog(&self, wind_ms: f64) -> f64 {
        let lifted = wind_ms * wind_ms * (1.0 / 30.0);
        self.fog_hpa / (self.fog_hpa + HALF_FOG_HPA) / (1.0 + lifted * lifted)
    }

    pub(super) fn take_up(&mut self, u: &Uptake) {
        let stirred_m = SHALLOWEST_M + 60.0 * u.wind_ms;
        let heat = (u.heat_kms - u.radiated_kms) * u.seconds;
        if heat <= 0.0 {
            self.cool(u, -heat);
            self.depth_m +=
                (stirred_m - self.depth_m).min(0.0) * u.seconds / (RESIDUE_S + u.seconds);
        } else {
            self.warm(u, heat);
        }
        self.depth_m = self.depth_m.clamp(stirred_m.min(800.0), DEEPEST_M);

        let renewal = u.seconds * (1.0 + u.wind_ms / RENEWAL_WIND_MS) / RENEWAL_S;
        self.keep(1.0 / (1.0 + renewal));
    }

    /// New air leaves a share of the departures.
    pub(super) fn keep(&mut self, share: f64) {
        self.warmth_k *= share;
        self.moisture_hpa *= share;
        self.chill_km *= share;
        self.damp_hpam *= share;
    }

    /// The stable layer deepens as `0.15 M^(3/4) t^(1/2)` by the wind above it, M (Stull 2017, Practical
    /// Meteorology, chapter 18, exponential inversion, from memory); M from the wind at 10 m is common
    /// practice, no source. It is never shallower than the wind's own mixing.
    fn cool(&mut self, u: &Uptake, chill_km: f64) {
        let aloft = 1.5 + 2.0 * u.wind_ms;
        let pace = 0.15 * 0.15 * aloft * aloft.sqrt();
        if self.chill_km <= 0.0 {
            self.stable_m = (pace * 3000.0).sqrt();
        }
        let deepened = (self.stable_m * self.stable_m + pace * u.seconds).sqrt();
        self.stable_m = deepened.clamp(
            12.0 + 10.0 * u.wind_ms,
            700.0_f64.max(12.0 + 10.0 * u.wind_ms),
        );
        // The day's turbulence takes its part to all heights.
        self.stirred *= STIRRED_S / (STIRRED_S + u.seconds);
        let per_m = self.stirred * u.gain / self.depth_m;
        self.warmth_k -= chill_km * per_m;
        self.moisture_hpa += u.vapour_hpa_ms * u.seconds * per_m;
        let left = 1.0 - self.stirred;
        let most = (u.furthest_k + self.warmth_k).max(0.0) * self.stable_m / u.gain;
        self.chill_km = (self.chill_km + left * chill_km).min(most);
        self.damp_hpam += left * u.vapour_hpa_ms * u.seconds;
    }

    /// Heat first fills the night's chill, then deepens the mixed layer (encroachment with heat and dry air
    /// drawn in at its top; Tennekes 1973).
    fn warm(&mut self, u: &Uptake, heat_km: f64) {
        let vapour = u.vapour_hpa_ms * u.seconds;
        let filled = heat_km.min(self.chill_km);
        if self.chill_km > 0.0 {
            // The filled part of the stable layer gives its vapour to the layer above.
            let share = filled / self.chill_km;
            self.moisture_hpa += share * self.damp_hpam * u.gain / self.depth_m;
            self.damp_hpam *= 1.0 - share;
            self.chill_km -= filled;
        }
        if self.chill_km > 1e-9 {
            self.damp_hpam += vapour;
            return;
        }
        (self.chill_km, self.damp_hpam) = (0.0, 0.0);
        let heat = heat_km - filled;
        self.stirred += (1.0 - self.stirred) * u.seconds / (STIRRING_S + u.seconds);
        let grown =
            self.depth_m * self.depth_m + 2.0 * (1.0 + 2.0 * DRAWN_IN) * heat / STRATIFICATION;
        let before = self.depth_m;
        self.depth_m = grown.sqrt().min(DEEPEST_M);
        let per_m = u.gain / self.depth_m;
        self.warmth_k += (1.0 + DRAWN_IN) * heat * per_m;
        // Air above is drier the higher it is (common practice, no source).
        let above_hpa = u.air_hpa * 0.8 / (1.0 + self.depth_m / 2500.0);
        let drawn = (self.depth_m - before).max(DRAWN_IN * heat / CAP_K) * per_m;
        let now = u.air_hpa + self.moisture_hpa;
        let mixed = (now + drawn * above_hpa + vapour * per_m) / (1.0 + drawn);
        self.moisture_hpa = mixed - u.air_hpa;
    }

    /// Adds to the air near the ground, K and hPa.
    fn shift(&mut self, warmer_k: f64, moister_hpa: f64, gain: f64) {
        if self.chill_km > 0.0 {
            let depth = self.stable_m / gain;
            let left = self.chill_km - warmer_k * depth;
            self.chill_km = left.max(0.0);
            self.damp_hpam += moister_hpa * depth;
            if left < 0.0 {
                self.warmth_k += -left * gain / self.depth_m;
            }
        } else {
            self.warmth_k += warmer_k;
            self.moisture_hpa += moister_hpa;
        }
    }

    /// Rain evaporates in the air below its cloud: heat turns into vapour over all depth.
    pub(super) fn rained(&mut self, cooler_k: f64, moister_hpa: f64) {
        self.warmth_k -= cooler_k;
        self.moisture_hpa += moister_hpa;
    }

    /// Vapour beyond saturation turns into fog, and fog into vapour where there is room; the heat of
    /// condensation stays in the air. `warming` is in K per hPa; `screen` is the air at 2 m, degC and hPa,
    /// where cold air from the ground and moist air from above mix: beyond saturation it is fog as soon as
    /// it is mixed up ([`MIXING_S`]).
    pub(super) fn condense(
        &mut self,
        seconds: f64,
        air: (f64, f64),
        screen: (f64, f64),
        warming: f64,
        gain: f64,
    ) {
        let room = |(degc, hpa): (f64, f64)| {
            let saturation = saturation_vapour_pressure_hpa(degc);
            let below = 243.12 + degc;
            let slope = saturation * 17.62 * 243.12 / (below * below);
            (hpa - saturation) / (1.0 + warming * slope)
        };
        let (warm, moist) = self.near(gain);
        let above = room((air.0 + warm, air.1 + moist));
        let mixed = room(screen) * seconds / (MIXING_S + seconds);
        let turned = above.max(mixed).max(-self.fog_hpa);
        if turned != 0.0 {
            self.fog_hpa += turned;
            self.shift(warming * turned, -turned, gain);
        }
    }

    /// Fog settles; returns what reaches the ground, hPa m.
    pub(super) fn settle(&mut self, seconds: f64, gain: f64) -> f64 {
        let lost = self.fog_hpa * seconds / (SETTLING_S + seconds);
        self.fog_hpa -= lost;
        if self.fog_hpa < 1e-6 {
            self.fog_hpa = 0.0;
        }
        lost * self.answering_m(gain, true)
    }
}
