//! What came of one seed.

use crate::scenario::Scenario;
use crate::simulate::{Outcome, SimulateError, run};

/// A figure of the whole place, the larger the worse.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Figure {
    /// Largest mean error of a lift, % of its target.
    WorstMean,
    /// Largest RMS error of a lift, % of its target.
    WorstRms,
    /// Largest RMS error of what is believed of a lift, % of its target.
    WorstEstimate,
    /// Longest way of a lift to a target, s.
    Settle,
    /// Water over rims, L.
    Spilled,
    /// Time that tanks stood dry, s.
    Dry,
    /// Time that fish had no air, s.
    FishWithoutAir,
    /// Time past the peak, s, all lifts.
    PastPeak,
    /// Way of all valves, strokes.
    Travel,
    /// Energy of the blower, kWh.
    Energy,
    /// Alarms that came up.
    Alarms,
}

impl Figure {
    /// All of them, in the order of the columns.
    pub const ALL: [Self; 11] = [
        Self::WorstMean,
        Self::WorstRms,
        Self::WorstEstimate,
        Self::Settle,
        Self::Spilled,
        Self::Dry,
        Self::FishWithoutAir,
        Self::PastPeak,
        Self::Travel,
        Self::Energy,
        Self::Alarms,
    ];

    /// Name of its column, unit at the end.
    #[must_use]
    pub const fn column(self) -> &'static str {
        match self {
            Self::WorstMean => "worst_mean_percent",
            Self::WorstRms => "worst_rms_percent",
            Self::WorstEstimate => "worst_estimate_rms_percent",
            Self::Settle => "longest_settle_s",
            Self::Spilled => "spilled_l",
            Self::Dry => "dry_s",
            Self::FishWithoutAir => "fish_without_air_s",
            Self::PastPeak => "past_peak_s",
            Self::Travel => "valve_travel_strokes",
            Self::Energy => "blower_kwh",
            Self::Alarms => "alarms",
        }
    }

    /// What it is, for people.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::WorstMean => "furthest mean of a lift, % of target",
            Self::WorstRms => "largest RMS error of a lift, %",
            Self::WorstEstimate => "largest RMS error of a belief, %",
            Self::Settle => "longest way to a target, s",
            Self::Spilled => "spilled, L",
            Self::Dry => "tanks dry, s",
            Self::FishWithoutAir => "fish without air, s",
            Self::PastPeak => "past the peak, s",
            Self::Travel => "way of all valves, strokes",
            Self::Energy => "blower, kWh",
            Self::Alarms => "alarms",
        }
    }

    #[allow(clippy::cast_precision_loss)] // a count of alarms
    fn of(self, outcome: &Outcome) -> f64 {
        let lifts = outcome.lifts.iter();
        let tanks = outcome.tanks.iter();
        let most = |values: &mut dyn Iterator<Item = f64>| values.fold(0.0, f64::max);
        match self {
            Self::WorstMean => most(&mut lifts.filter_map(|lift| lift.mean_error_percent()).map(f64::abs)),
            Self::WorstRms => most(&mut lifts.filter_map(|lift| lift.delivered_rms_error_percent)),
            Self::WorstEstimate => most(&mut lifts.filter_map(|lift| lift.estimate_rms_error_percent)),
            Self::Settle => most(&mut lifts.filter_map(|lift| lift.settle_s)),
            Self::Spilled => tanks.map(|tank| tank.spilled_l).sum(),
            Self::Dry => tanks.map(|tank| tank.dry_s).sum(),
            Self::FishWithoutAir => tanks.map(|tank| tank.fish_without_air_s).sum(),
            Self::PastPeak => lifts.map(|lift| lift.past_peak_s).sum(),
            Self::Travel => lifts.map(|lift| lift.valve_travel_strokes).sum(),
            Self::Energy => outcome.air.blower_energy_kwh,
            Self::Alarms => outcome.alarms.len() as f64,
        }
    }
}

/// What came of one seed.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The seed.
    pub seed: u64,
    /// Figures of the place, in the order of [`Figure::ALL`].
    pub figures: Vec<f64>,
    /// Mean error of each lift, % of its target; NaN where nothing was counted.
    pub means_percent: Vec<f64>,
    /// What the seed drew.
    pub unknowns: Vec<f64>,
}

impl Row {
    /// All numbers in the order of their columns: figures, means, unknowns.
    pub(super) fn numbers(&self) -> impl Iterator<Item = f64> {
        let after = self.means_percent.iter().chain(&self.unknowns);
        self.figures.iter().chain(after).copied()
    }

    pub(super) fn of_seed(scenario: &Scenario, hours: f64, seed: u64) -> Result<Self, SimulateError> {
        let outcome = run(scenario, Some(hours), Some(seed))?;
        let mean = |lift: &crate::simulate::LiftOutcome| lift.mean_error_percent().unwrap_or(f64::NAN);
        Ok(Self {
            seed,
            figures: Figure::ALL.iter().map(|figure| figure.of(&outcome)).collect(),
            means_percent: outcome.lifts.iter().map(mean).collect(),
            unknowns: super::unknowns::values(scenario, seed)?,
        })
    }
}
