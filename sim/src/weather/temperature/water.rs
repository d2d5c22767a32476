//! Water at the ground: what lies on it, what the top soil holds, and snow.

use super::ground::FUSION;

/// What grass can hold on its leaves, mm (common practice, no source; 0.2 mm per unit of leaf area, Dickinson
/// 1984, from memory).
const FILM_MM: f64 = 0.5;
/// What the top soil can hold beyond what its roots never get, mm (common practice, no source).
pub(super) const TOP_MM: f64 = 12.0;
/// Time in which the top soil comes back to what the soil below holds, s (Deardorff 1977 restores over about
/// a day; longer here because the store is ten times deeper: common practice, no source).
const RESTORE_S: f64 = 4.0 * 86_400.0;
/// Time over which the dampness of the air stands for that of the soil below, s.
const CLIMATE_S: f64 = 10.0 * 86_400.0;
/// Snow that covers the ground fully, mm of water (common practice, no source).
const FULL_COVER_MM: f64 = 10.0;
/// Albedo of grass (FAO Irrigation and Drainage Paper 56, eq. 38), of fresh and of old snow (Oke 1987, table
/// 1.1: 0.40 to 0.95).
const ALBEDO: f64 = 0.23;
const FRESH_SNOW: f64 = 0.85;
const OLD_SNOW: f64 = 0.50;
/// Fading of snow's albedo: 0.008 a day while cold, with 0.24 a day towards the old value while melting;
/// Verseghy 1991 as in Douville, Royer & Mahfouf 1995, Clim. Dyn. 12 (from memory). 10 mm renew it.
const COLD_FADING: f64 = 0.008 / 86_400.0;
const MELTING_FADING: f64 = 0.24 / 86_400.0;

/// All water at the ground, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Water {
    /// On leaves and stones: rain, dew, frost.
    pub(super) film_mm: f64,
    pub(super) top_mm: f64,
    pub(super) snow_mm: f64,
    /// Wetness of the soil below, 0 to 1.
    pub(super) deep: f64,
    snow_albedo: f64,
}

/// What went in and out in one step, mm.
#[derive(Debug, Clone, Copy, Default)]
#[cfg_attr(not(test), expect(dead_code, reason = "only the checks read it"))]
pub(super) struct WaterBudget {
    pub(super) rain: f64,
    pub(super) snowfall: f64,
    /// Dew, frost and fog that settled.
    pub(super) dew: f64,
    pub(super) evaporation: f64,
    pub(super) runoff: f64,
    /// From the soil below, by roots and by capillaries; negative when the top drains into it.
    pub(super) raised: f64,
}

/// Wetness of soil in equilibrium with the dampness of the air, by its relative humidity: dry air for days
/// stands over dry ground (Bouchet 1963; the straight line is common practice, no source).
fn climate_wetness(humidity: f64) -> f64 {
    ((humidity - 0.25) / 0.5).clamp(0.02, 1.0)
}

impl Water {
    /// As it may lie under air of a humidity (0 to 1) and a temperature in degC; after frost with snow.
    pub(super) fn under(humidity: f64, degc: f64) -> Self {
        let deep = climate_wetness(humidity);
        Self {
            film_mm: 0.0,
            top_mm: TOP_MM * 0.5 * deep,
            snow_mm: 12.0 * ((-1.0 - degc) / 6.0).clamp(0.0, 1.0),
            deep,
            snow_albedo: 0.75,
        }
    }

    #[cfg(test)]
    pub(super) fn held_mm(&self) -> f64 {
        self.film_mm + self.top_mm + self.snow_mm
    }

    /// Wetness of the soil as heat and roots feel it, 0 to 1.
    pub(super) fn moist(&self) -> f64 {
        0.5 * self.deep + 0.5 * self.top_mm / TOP_MM
    }

    pub(super) fn snow_share(&self) -> f64 {
        (self.snow_mm / FULL_COVER_MM).min(1.0)
    }

    /// Share of the surface that is wet or snow.
    pub(super) fn wet(&self) -> f64 {
        let film = (self.film_mm / FILM_MM).min(1.0).sqrt();
        film.max(self.snow_share())
    }

    pub(super) fn albedo(&self) -> f64 {
        ALBEDO + (self.snow_albedo - ALBEDO) * self.snow_share()
    }

    /// Resistance of dry leaves and soil to evaporation, s/m, by light (W/m2), dryness of the air (hPa) and
    /// temperature (degC).
    ///
    /// Form of Jarvis 1976 as in Noilhan & Planton 1989: a least resistance over factors of light, soil,
    /// dryness and temperature. The least is that of a short reference crop by day, 50 s/m (ASCE 2005);
    /// the shapes are common practice, no source.
    pub(super) fn resistance_sm(&self, global_wm2: f64, deficit_hpa: f64, degc: f64) -> f64 {
        let dark = 1.0 + 120.0 / (global_wm2.max(0.0) + 12.0);
        let cold = if degc < 12.0 {
            let below = 0.1 * (12.0 - degc);
            1.0 + below * below
        } else {
            1.0
        };
        let moist = self.moist().max(0.02);
        // Sandy ground gives its last water up ever more slowly.
        let soil = moist * (0.35 + 0.65 * moist);
        40.0 * dark * cold * (1.0 + 0.04 * deficit_hpa.max(0.0)) / soil
    }

    /// One step: rain, snowfall, settled fog (mm), vapour that went up (kg/m2), melt heat (J/m2), humidity of
    /// the air mass.
    pub(super) fn step(
        &mut self,
        seconds: f64,
        fallen: (f64, f64),
        settled: f64,
        vapour_kg: f64,
        melt: f64,
        humidity: f64,
    ) -> WaterBudget {
        let mut budget = WaterBudget {
            rain: fallen.0,
            snowfall: fallen.1,
            dew: settled + (-vapour_kg).max(0.0),
            evaporation: vapour_kg.max(0.0),
            ..WaterBudget::default()
        };
        self.snow_mm += fallen.1;
        let melted = (melt / FUSION).min(self.snow_mm);
        self.snow_mm -= melted;
        let fading = if melted > 0.0 {
            MELTING_FADING * (self.snow_albedo - OLD_SNOW)
        } else {
            COLD_FADING
        };
        self.snow_albedo = (self.snow_albedo - fading * seconds
            + (FRESH_SNOW - self.snow_albedo) * (fallen.1 / 10.0).min(1.0))
        .clamp(OLD_SNOW, FRESH_SNOW);
        if self.snow_mm <= 0.0 {
            self.snow_albedo = FRESH_SNOW;
        }

        self.film_mm += fallen.0 + budget.dew;
        let mut due = budget.evaporation;
        // Snow gives its share; then what lies on leaves, the top soil, and roots from below.
        let from_snow = (due * self.snow_share()).min(self.snow_mm);
        self.snow_mm -= from_snow;
        due -= from_snow;
        let from_film = due.min(self.film_mm);
        self.film_mm -= from_film;
        due -= from_film;
        let from_top = (due * (0.3 + 0.7 * self.top_mm / TOP_MM)).min(self.top_mm);
        self.top_mm -= from_top;
        budget.raised = due - from_top;

        let over = (self.film_mm - FILM_MM).max(0.0);
        self.film_mm -= over;
        self.top_mm += over + melted;
        budget.runoff = (self.top_mm - TOP_MM).max(0.0);
        self.top_mm -= budget.runoff;
        self.deep += (climate_wetness(humidity) - self.deep) * seconds / (CLIMATE_S + seconds);
        let target = 0.6 * TOP_MM * self.deep;
        let restored = (target - self.top_mm) * seconds / (RESTORE_S + seconds);
        self.top_mm += restored;
        budget.raised += restored;
        budget
    }
}
