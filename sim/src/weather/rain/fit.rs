//! Fitting abundance and intensity to a month's rain and hours with rain.

use super::super::synoptic::{SPACING_S, System};
use super::{MonthPoint, Phase, Rain};
use core::ops::Range;

/// Abundance above which no more is tried: it rains nearly always.
const MOST: f64 = 24.0;
/// Rounds of the search on some of the runs, and on all.
const ROUGH: usize = 8;
const FINE: usize = 3;
/// Good enough in the rough rounds and in the fine ones.
const NEAR: [f64; 2] = [0.03, 0.02];
/// Of how many runs one is taken in the rough rounds.
const EVERY: usize = 5;

/// What a month wants: its mean total, mm, and its mean number of hours with rain.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wanted {
    pub(crate) rain_mm: f64,
    pub(crate) wet_hours: f64,
}

impl Rain {
    /// Abundance and intensity (mm/h) that give what is wanted in the mean of some runs of system numbers, each of
    /// which should lie in the month's season; `month_s` is the length of the month. (0, 0) for a month without rain.
    ///
    /// Nothing is approximated: the cells of the runs themselves are counted, with the same variates at every
    /// trial, so that the hours only grow with abundance.
    pub(crate) fn fit(&mut self, runs: &[Range<i64>], wanted: Wanted, month_s: f64) -> (f64, f64) {
        if wanted.rain_mm <= 0.0 || wanted.wet_hours <= 0.0 || runs.is_empty() {
            return (0.0, 0.0);
        }
        let runs: Vec<Vec<System>> = runs
            .iter()
            .map(|run| {
                run.clone()
                    .map(|number| self.train.system(number))
                    .collect()
            })
            .collect();
        let mut guess = (wanted.wet_hours / 40.0).clamp(0.02, 8.0);
        let mut intensity = 0.0;
        for (rounds, every, near) in [(ROUGH, EVERY, NEAR[0]), (FINE, 1, NEAR[1])] {
            let (mut low, mut high) = (0.0, MOST);
            for round in 1..=rounds {
                let (hours, scale) = self.trial(&runs, every, guess, wanted, month_s);
                intensity = scale;
                let ratio = wanted.wet_hours / hours.max(1e-3 * wanted.wet_hours);
                // The last intensity belongs to the last abundance.
                if (ratio - 1.0).abs() < near || (every == 1 && round == rounds) {
                    break;
                }
                if ratio > 1.0 {
                    low = guess;
                } else {
                    high = guess;
                }
                // The hours grow nearly as a power of abundance: step on that, and keep to the bracket.
                let step = guess * libm::pow(ratio, 1.15).clamp(0.2, 5.0);
                guess = if step > low && step < high {
                    step
                } else {
                    0.5 * (low + high)
                };
            }
        }
        (guess, intensity)
    }

    /// Hours with rain a month at some abundance, and the intensity that gives the month's total with it.
    fn trial(
        &mut self,
        runs: &[Vec<System>],
        every: usize,
        abundance: f64,
        wanted: Wanted,
        month_s: f64,
    ) -> (f64, f64) {
        self.abundance = [abundance; 12];
        let some = || runs.iter().step_by(every);
        let months = some().map(Vec::len).sum::<usize>() as f64 * SPACING_S / month_s;
        // The expected depth of the phases that are there scatters less than that of their cells.
        let mut depth = 0.0;
        for system in some().flatten() {
            let phases = self.phases_of(system, MonthPoint::at(system.front_s));
            depth += phases.iter().flatten().map(Phase::depth).sum::<f64>();
        }
        let intensity = (wanted.rain_mm * months / depth.max(f64::MIN_POSITIVE)).min(1e3);
        self.intensity_mmh = [intensity; 12];
        let hours: f64 = some().map(|run| self.count_systems(run).0).sum();
        (hours / months, intensity)
    }
}
