//! The ground around the head: what it stores by day and gives back by night.
//!
//! The free air stands over grass. Another ground is run through the same sun, sky and wind beside grass; by
//! how much it is warmer than grass decides how much warmer the air at the head is.

use crate::physics::moist_air::{
    saturation_vapour_pressure_hpa, saturation_vapour_pressure_over_ice_hpa,
};

/// What the ground around the head is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Surface {
    /// Short grass all around: what the free air stands over.
    #[default]
    Grass,
    /// Thin or dry grass over bare soil.
    DryGrass,
    /// Gravel.
    Gravel,
    /// Asphalt or concrete slabs.
    Paving,
    /// A pale flat roof.
    Roof,
    /// A dark roof.
    DarkRoof,
    /// Open water.
    Water,
}

impl Surface {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Grass,
        Self::DryGrass,
        Self::Gravel,
        Self::Paving,
        Self::Roof,
        Self::DarkRoof,
        Self::Water,
    ];

    /// What it does with heat.
    #[must_use]
    pub const fn ground(self) -> Ground {
        // Albedo, skin, store, between them, evaporating share.
        match self {
            Self::Grass => Ground::new(0.20, 2.0e4, 2.0e5, 6.0, 0.35),
            Self::DryGrass => Ground::new(0.20, 2.0e4, 2.0e5, 9.0, 0.12),
            Self::Gravel => Ground::new(0.22, 3.0e4, 2.0e5, 9.0, 0.02),
            Self::Paving => Ground::new(0.15, 4.0e4, 2.5e5, 13.0, 0.0),
            Self::Roof => Ground::new(0.30, 3.0e4, 6.0e4, 4.0, 0.0),
            Self::DarkRoof => Ground::new(0.08, 3.0e4, 1.2e5, 4.0, 0.0),
            Self::Water => Ground::new(0.07, 2.0e6, 8.0e6, 200.0, 1.0),
        }
    }
}

/// Thermal properties of a ground of two layers.
///
/// The values of [`Surface::ground`] follow the orders of the tables of Oke 1987, Boundary Layer Climates
/// (albedo, heat capacity and conductivity of soils and building materials; from memory), for a skin of 1 to
/// 3 cm and a store of the depth that a day's wave reaches; evaporating shares are common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ground {
    /// Share of the sunlight sent back, 0 to 1.
    pub albedo: f64,
    /// Heat capacity of the skin, J/(m2 K).
    pub skin_j_m2_k: f64,
    /// Heat capacity of the store below, J/(m2 K).
    pub store_j_m2_k: f64,
    /// Conductance between skin and store, W/(m2 K).
    pub conductance_wm2_k: f64,
    /// Evaporation as a share of that of open water, 0 to 1.
    pub evaporating: f64,
}

impl Ground {
    const fn new(
        albedo: f64,
        skin_j_m2_k: f64,
        store_j_m2_k: f64,
        conductance_wm2_k: f64,
        evaporating: f64,
    ) -> Self {
        Self {
            albedo,
            skin_j_m2_k,
            store_j_m2_k,
            conductance_wm2_k,
            evaporating,
        }
    }
}

/// Albedo of snow that lies (Oke 1987: 0.95 fresh to 0.4 old, from memory).
pub const SNOW_ALBEDO: f64 = 0.75;
/// Snow that covers the ground wholly, mm of water (common practice, no source).
pub const SNOW_COVERS_MM: f64 = 3.0;
/// Melt, mm/h per K above freezing: 4 mm a day and degree (degree-day form, usual 3 to 6; common practice).
const MELT_MM_H_K: f64 = 4.0 / 24.0;
/// Melt by the sun above -3 degC, mm/h per W/m2 (common practice, no source).
const MELT_MM_H_WM2: f64 = 0.003;
/// Rain that a hard surface keeps and dries off, mm (common practice, no source).
const WETTING_MM: f64 = 0.5;
/// Share of a ground's excess over grass that the air 2 m above it shows in a calm, when it fills the surroundings;
/// chosen so that paving gives what siting experience says, 0.5 to 3 K in a calm sun (common practice, no
/// source).
pub const AIR_SHARE: f64 = 0.12;
/// Wind that halves this share, m/s: `1 / (1 + u / 2)` (common practice, no source).
const HALVING_WIND_MS: f64 = 2.0;
/// Time between two steps of the ground, s.
const STEP_S: f64 = 240.0;
/// Psychrometer coefficient at 1013 hPa, hPa/K (WMO-No. 8, Annex 4.B).
const PSYCHROMETER_HPA_K: f64 = 0.66;
/// Long-wave exchange per kelvin at 15 degC, W/(m2 K): 4 sigma T^3.
const RADIATIVE_WM2_K: f64 = 5.4;

/// What falls on the ground.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Forcing {
    pub(super) interval_s: f64,
    pub(super) air_degc: f64,
    pub(super) vapour_hpa: f64,
    pub(super) global_wm2: f64,
    pub(super) net_longwave_wm2: f64,
    pub(super) wind_ms: f64,
    pub(super) rainfall_mm: f64,
    pub(super) snowfall_mm: f64,
}

/// Skin and store of one ground.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Slab {
    ground: Ground,
    skin_degc: f64,
    store_degc: f64,
    water_mm: f64,
}

impl Slab {
    fn new(ground: Ground, degc: f64) -> Self {
        Self {
            ground,
            skin_degc: degc,
            store_degc: degc,
            water_mm: 0.0,
        }
    }

    /// One step of the energy balance of the skin, implicit in its temperature so that it is stable at any wind.
    ///
    /// Sensible heat `(5.7 + 3.8 u) (Ts - Ta)` W/m2 (Juerges 1924, in use for roofs and walls, from memory);
    /// latent heat as the psychrometer has it, `h / gamma (es(Ts) - e)`, times the evaporating share; no dew.
    fn step(&mut self, forcing: &Forcing, seconds: f64) {
        let ground = &self.ground;
        let convective = 5.7 + 3.8 * forcing.wind_ms;
        self.water_mm = (self.water_mm + forcing.rainfall_mm).min(WETTING_MM);
        let evaporating = if self.water_mm > 0.0 {
            1.0
        } else {
            ground.evaporating
        };
        let (saturation, slope) = saturation_and_slope(self.skin_degc);
        let per_hpa = evaporating * convective * (1.0 / PSYCHROMETER_HPA_K);
        let latent = per_hpa * (saturation - forcing.vapour_hpa);
        // Dew brings heat too little to matter here.
        let (latent, slope) = if latent > 0.0 {
            (latent, per_hpa * slope)
        } else {
            (0.0, 0.0)
        };
        let inertia = ground.skin_j_m2_k / seconds;
        let exchange = convective + RADIATIVE_WM2_K;
        let gain = (1.0 - ground.albedo) * forcing.global_wm2
            + forcing.net_longwave_wm2
            + exchange * (forcing.air_degc - self.skin_degc)
            + ground.conductance_wm2_k * (self.store_degc - self.skin_degc)
            - latent;
        let rise = gain / (inertia + exchange + ground.conductance_wm2_k + slope);
        self.skin_degc += rise;
        let down = ground.conductance_wm2_k * (self.skin_degc - self.store_degc);
        self.store_degc +=
            down * seconds / (ground.store_j_m2_k + ground.conductance_wm2_k * seconds);
        // 2.45 MJ/kg (WMO-No. 8, from memory).
        self.water_mm = (self.water_mm - latent * seconds * (1.0 / 2.45e6)).max(0.0);
    }
}

/// Saturation vapour pressure, hPa, and its slope, hPa/K (differential of WMO-No. 8, Annex 4.B).
fn saturation_and_slope(degc: f64) -> (f64, f64) {
    let degc = degc.clamp(-80.0, 100.0);
    let (value, a, b) = if degc < 0.0 {
        (saturation_vapour_pressure_over_ice_hpa(degc), 22.46, 272.62)
    } else {
        (saturation_vapour_pressure_hpa(degc), 17.62, 243.12)
    };
    (value, value * a * b / ((b + degc) * (b + degc)))
}

/// The ground around the head beside the grass of the free air, and the snow on both.
#[derive(Debug, Clone)]
pub(super) struct Surroundings {
    /// The ground and grass, where the ground is not grass.
    slabs: Option<(Slab, Slab)>,
    albedo: f64,
    /// Share of the round that is this ground, times [`AIR_SHARE`] and the height's part.
    share: f64,
    snow_mm: f64,
    waiting: Forcing,
    started: bool,
}

impl Surroundings {
    /// `share`: part of the round within 10 m that is `ground`, 0 to 1, the rest is grass.
    pub(super) fn new(ground: Ground, share: f64, height_m: f64) -> Self {
        let grass = Surface::Grass.ground();
        let share = share.clamp(0.0, 1.0);
        let slabs = (ground != grass && share > 0.0)
            .then(|| (Slab::new(ground, 0.0), Slab::new(grass, 0.0)));
        Self {
            slabs,
            albedo: grass.albedo + share * (ground.albedo - grass.albedo),
            share: share * AIR_SHARE * (2.0 / height_m.max(0.5)).min(2.0),
            snow_mm: 0.0,
            waiting: Forcing::default(),
            started: false,
        }
    }

    /// The heat and the snow of another place, for a ground that was there all along.
    pub(super) fn take_over(&mut self, other: &Self) {
        self.snow_mm = other.snow_mm;
        if let (Some((_, grass)), Some((_, other))) = (&mut self.slabs, &other.slabs) {
            *grass = *other;
        }
        if let (Some((own, _)), Some((other, _))) = (&mut self.slabs, &other.slabs) {
            own.skin_degc = other.skin_degc;
            own.store_degc = other.store_degc;
            self.started = true;
        }
    }

    /// Snow that lies, mm of water.
    pub(super) fn snow_mm(&self) -> f64 {
        self.snow_mm
    }

    /// Share of the ground under snow, 0 to 1.
    pub(super) fn snow_cover(&self) -> f64 {
        (self.snow_mm * (1.0 / SNOW_COVERS_MM)).min(1.0)
    }

    /// Share of the sunlight that the ground sends back now.
    pub(super) fn albedo(&self) -> f64 {
        self.albedo + self.snow_cover() * (SNOW_ALBEDO - self.albedo)
    }

    /// Whether the ground is grass.
    pub(super) fn is_grass(&self) -> bool {
        self.slabs.is_none()
    }

    /// One interval on; how much warmer than the free air the air at the head is, K.
    pub(super) fn step(&mut self, forcing: &Forcing) -> f64 {
        self.snow(forcing);
        if self.slabs.is_none() {
            return 0.0;
        }
        self.wait(forcing);
        let cover = self.snow_cover();
        let Some((own, grass)) = &mut self.slabs else {
            return 0.0;
        };
        if !self.started {
            self.started = true;
            for slab in [&mut *own, &mut *grass] {
                *slab = Slab::new(slab.ground, forcing.air_degc);
            }
        }
        if self.waiting.interval_s >= STEP_S {
            let seconds = self.waiting.interval_s;
            let per_second = 1.0 / seconds;
            let mean = Forcing {
                air_degc: self.waiting.air_degc * per_second,
                vapour_hpa: self.waiting.vapour_hpa * per_second,
                global_wm2: self.waiting.global_wm2 * per_second,
                net_longwave_wm2: self.waiting.net_longwave_wm2 * per_second,
                wind_ms: self.waiting.wind_ms * per_second,
                ..self.waiting
            };
            own.step(&mean, seconds);
            grass.step(&mean, seconds);
            self.waiting = Forcing::default();
        }
        let excess = own.skin_degc - grass.skin_degc;
        self.share * (1.0 - cover) * excess / (1.0 + forcing.wind_ms * (1.0 / HALVING_WIND_MS))
    }

    fn wait(&mut self, forcing: &Forcing) {
        let (sum, s) = (&mut self.waiting, forcing.interval_s);
        sum.interval_s += s;
        sum.air_degc += s * forcing.air_degc;
        sum.vapour_hpa += s * forcing.vapour_hpa;
        sum.global_wm2 += s * forcing.global_wm2;
        sum.net_longwave_wm2 += s * forcing.net_longwave_wm2;
        sum.wind_ms += s * forcing.wind_ms;
        sum.rainfall_mm += forcing.rainfall_mm;
    }

    fn snow(&mut self, forcing: &Forcing) {
        self.snow_mm += forcing.snowfall_mm;
        if self.snow_mm > 0.0 && forcing.air_degc > -3.0 {
            let melt = MELT_MM_H_K * forcing.air_degc.max(0.0) + MELT_MM_H_WM2 * forcing.global_wm2;
            self.snow_mm = (self.snow_mm - melt * forcing.interval_s * (1.0 / 3600.0)).max(0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A fair June day of 50 degrees north, three times over: excess by hour of the last one.
    fn day(surface: Surface, wind_ms: f64) -> Vec<f64> {
        let mut around = Surroundings::new(surface.ground(), 1.0, 2.0);
        let mut last = Vec::new();
        for step in 0..3 * 5400 {
            let hour = f64::from(step) / 225.0 % 24.0;
            let up = 0.3 - 0.6 * libm::cos(core::f64::consts::TAU * hour / 24.0);
            let warm = libm::cos(core::f64::consts::TAU * (hour - 15.0) / 24.0);
            let excess = around.step(&Forcing {
                interval_s: 16.0,
                air_degc: 18.0 + 6.0 * warm,
                vapour_hpa: 12.0,
                global_wm2: 950.0 * up.max(0.0),
                net_longwave_wm2: -85.0,
                wind_ms,
                rainfall_mm: 0.0,
                snowfall_mm: 0.0,
            });
            if step >= 2 * 5400 && step % 225 == 0 {
                last.push(excess);
            }
        }
        last
    }

    #[test]
    fn paving_is_warm_by_day_and_for_hours_after_sunset_and_less_so_in_wind() {
        let calm = day(Surface::Paving, 0.5);
        assert!((0.5..3.0).contains(&calm[14]), "{calm:?}");
        assert!((0.3..1.5).contains(&calm[22]), "{calm:?}");
        let windy = day(Surface::Paving, 6.0);
        assert!(windy[14] < 0.3 * calm[14] && windy[14] > 0.0, "{windy:?}");
        assert!(day(Surface::Grass, 1.0).iter().all(|&excess| excess == 0.0));
        let dark = day(Surface::DarkRoof, 0.5);
        assert!(dark[13] > calm[13], "{dark:?}");
        assert!(dark[22] < calm[22], "a roof stores little: {dark:?}");
        let water = day(Surface::Water, 1.0);
        assert!(water[13] < -0.2 && water[3] > 0.1, "{water:?}");
    }

    #[test]
    fn snow_hides_the_ground_and_melts() {
        let mut around = Surroundings::new(Surface::Paving.ground(), 1.0, 2.0);
        let mut weather = Forcing {
            interval_s: 16.0,
            air_degc: -2.0,
            vapour_hpa: 4.0,
            global_wm2: 300.0,
            net_longwave_wm2: -20.0,
            wind_ms: 1.0,
            rainfall_mm: 0.0,
            snowfall_mm: 5.0,
        };
        assert_eq!(around.step(&weather), 0.0);
        assert!((around.albedo() - SNOW_ALBEDO).abs() < 1e-12);
        weather.snowfall_mm = 0.0;
        weather.air_degc = 6.0;
        for _ in 0..2000 {
            around.step(&weather);
        }
        assert_eq!(around.snow_mm(), 0.0);
        assert!(around.albedo() < 0.2);
    }
}
