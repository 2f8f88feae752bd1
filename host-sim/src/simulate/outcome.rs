//! What came of a run: the figures, for people and programs.

use risertrim::alarm::Urgency;
use serde::Serialize;

/// What came of a run. As JSON it is one object with these fields (those marked as not in the JSON are for tables).
///
/// Times are seconds since the start of the run. A figure that nothing was counted for is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Outcome {
    /// Name of the scenario.
    pub scenario: String,
    /// Seed of the truth and of all noise.
    pub seed: u64,
    /// Simulated time, s.
    pub simulated_s: f64,
    /// Time it took on this machine, s.
    pub wall_s: f64,
    /// Time between two steps of the controller, s.
    pub control_period_s: f64,
    /// Share of all lift time that the flow figures count: in service, automatic, settled, outside test windows.
    pub counted_share: f64,
    /// Each lift.
    pub lifts: Vec<LiftOutcome>,
    /// Each tank.
    pub tanks: Vec<TankOutcome>,
    /// Tanks that several lifts feed, with the sum of those lifts.
    pub shared: Vec<SharedOutcome>,
    /// The air side.
    pub air: AirOutcome,
    /// Alarms in the order they came up.
    pub alarms: Vec<AlarmOutcome>,
    /// What commissioning found, in the order the trials ended. Left out of the JSON when there were none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub commissioned: Vec<CommissionedOutcome>,
    /// Commands of the scenario that the controller did not take, in the order of time. Left out of the JSON when there were none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub refused: Vec<RefusedOutcome>,
}

impl Outcome {
    /// So many alarms at the most, those first to see, in the order of time.
    #[must_use]
    pub fn first_alarms(&self, most: usize) -> Vec<&AlarmOutcome> {
        let mut all: Vec<&AlarmOutcome> = self.alarms.iter().collect();
        all.sort_by(|a, b| a.first_to_see(b));
        all.truncate(most);
        all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        all
    }
}

/// One lift over a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LiftOutcome {
    /// Its name.
    pub name: String,
    /// Mean target over the counted time, L/min.
    pub target_l_min: Option<f64>,
    /// Mean of the water truly delivered over the counted time, L/min.
    pub delivered_mean_l_min: Option<f64>,
    /// Root mean square of delivered less target, % of the mean target.
    pub delivered_rms_error_percent: Option<f64>,
    /// Root mean square of the controller's belief less the truth, % of the mean target.
    pub estimate_rms_error_percent: Option<f64>,
    /// Longest time from a change of target or service until the true flow was within 5 % of the target for two minutes, s.
    pub settle_s: Option<f64>,
    /// Time with so much air that more gives less water, s.
    pub past_peak_s: f64,
    /// Time below its air floor while it was in service and the blower ran, s.
    pub without_air_s: f64,
    /// Mean free air (100 kPa, 20 C) over the whole run, L/min.
    pub air_mean_l_min: f64,
    /// Way its valve went, in full strokes.
    pub valve_travel_strokes: f64,
    /// What the controller believes it delivers as a share of its curve, at the end.
    pub delivery_factor: f64,
    /// What it gives of what it gave when clean by its trend over weeks, %, at the end; `null` before that is known.
    pub percent_of_clean: Option<u8>,
    /// Days from the end until it falls under what the blower can make up, as foreseen then; `null` where nothing is foreseen.
    pub cleaning_days: Option<u8>,
    /// Mean of the controller's belief over the counted time, L/min. Not in the JSON.
    #[serde(skip)]
    pub estimated_mean_l_min: Option<f64>,
    /// The longest way to a target was cut short by the next change or the end of the run. Not in the JSON.
    #[serde(skip)]
    pub not_settled: bool,
}

impl LiftOutcome {
    /// Mean of what was delivered less the target, % of the mean target.
    #[must_use]
    pub fn mean_error_percent(&self) -> Option<f64> {
        match (self.target_l_min, self.delivered_mean_l_min) {
            (Some(target), Some(delivered)) if target > 0.0 => Some(100.0 * (delivered / target - 1.0)),
            _ => None,
        }
    }
}

/// One tank over a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TankOutcome {
    /// Its name.
    pub name: String,
    /// Lowest true level above its floor, m.
    pub level_min_m: f64,
    /// Highest true level above its floor, m.
    pub level_max_m: f64,
    /// Water lost over the rim, L.
    pub spilled_l: f64,
    /// Time below its dry level, s.
    pub dry_s: f64,
    /// Time in which no lift of this tank got its air floor, for whatever reason, s; 0 where no fish live.
    pub fish_without_air_s: f64,
    /// The part of that time in which every lift of this tank was told to be out of service, s. Not in the JSON.
    #[serde(skip)]
    pub fish_lifts_shut_s: f64,
    /// Fish live here. Not in the JSON.
    #[serde(skip)]
    pub fish: bool,
}

/// The lifts that feed one tank, as a sum, over the time in which each that serves had settled. Stops to measure included.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SharedOutcome {
    /// Name of the tank.
    pub tank: String,
    /// Names of the lifts.
    pub lifts: Vec<String>,
    /// Mean of the summed targets, L/min.
    pub sum_target_l_min: Option<f64>,
    /// Mean of the summed true flows, L/min.
    pub sum_delivered_mean_l_min: Option<f64>,
}

/// The air side over a run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AirOutcome {
    /// Free air (100 kPa, 20 C) of the blower, m3.
    pub free_air_m3: f64,
    /// Electrical energy of the blower, kWh.
    pub blower_energy_kwh: f64,
}

/// One alarm over a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlarmOutcome {
    /// When it came up, s.
    pub at_s: f64,
    /// When it went, s; `null` when it stood at the end.
    pub cleared_s: Option<f64>,
    /// Its kind, a short fixed name.
    pub kind: String,
    /// What it is about: `lift beds`, `tank sump`, `place`.
    pub subject: String,
    /// What happened, what it means and what to do.
    pub text: String,
    /// Its number when it came up; `null` where it has none.
    pub figure_at_onset: Option<i32>,
    /// Its number when it went, or at the end of the run.
    pub figure_last: Option<i32>,
    /// What that number counts.
    pub figure_of: Option<String>,
    /// How soon somebody must come: `now`, `today` or `sometime`.
    #[serde(serialize_with = "by_name")]
    pub urgency: Urgency,
    /// What happened, in a few words.
    pub what: String,
    /// What it means.
    pub means: String,
    /// What to do.
    pub act: String,
}

impl AlarmOutcome {
    /// How soon somebody must come, a short fixed name: `now`, `today` or `sometime`.
    #[must_use]
    pub const fn urgency_name(&self) -> &'static str {
        urgency_name(self.urgency)
    }

    /// What to look at first: the most urgent, of those what still stood at the end, of those the earlier.
    #[must_use]
    pub fn first_to_see(&self, other: &Self) -> std::cmp::Ordering {
        let key = |alarm: &Self| (alarm.urgency, alarm.cleared_s.is_some());
        key(self)
            .cmp(&key(other))
            .then_with(|| self.at_s.total_cmp(&other.at_s))
    }
}

const fn urgency_name(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::High => "now",
        Urgency::Medium => "today",
        Urgency::Low => "sometime",
    }
}

fn by_name<S: serde::Serializer>(urgency: &Urgency, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(urgency_name(*urgency))
}

/// A command of the scenario that the controller did not take: nothing changed by it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RefusedOutcome {
    /// When it was given, s.
    pub at_s: f64,
    /// Line of the scenario's file.
    pub line: usize,
    /// What was asked for.
    pub what: String,
    /// Why it was not taken.
    pub why: String,
}

/// What the trial of one lift found: for outlet and curve either the result or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CommissionedOutcome {
    /// When the trial ended, s.
    pub at_s: f64,
    /// Name of the lift.
    pub lift: String,
    /// Name of the tank it fills, whose outlet was measured.
    pub tank: String,
    /// The outlet's law, when it was accepted.
    pub outlet: Option<CommissionedOutlet>,
    /// Why it was not, and what to do instead.
    pub outlet_refused: Option<String>,
    /// The lift's curve, when it was accepted.
    pub curve: Option<CommissionedCurve>,
    /// Why it was not, and what to do instead.
    pub curve_refused: Option<String>,
}

/// An outlet's law as found.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CommissionedOutlet {
    /// Which outlet of its tank, from 1.
    pub number: u8,
    /// Its flow as a multiple of what was told.
    pub flow_times_told: f64,
    /// What the level sensor reads too high against the outlet, mm.
    pub zero_mm: f64,
    /// Water the tank loses another way, L/min; negative: water that comes in.
    pub leak_l_min: f64,
    /// Standard deviation of the outlet's flow at its working level, %.
    pub sigma_percent: f64,
    /// What it carries with its tank at the upper warning level, L/min.
    pub carries_l_min: f64,
    /// The lift's target is more than that.
    pub too_small: bool,
}

/// A lift's curve as found: multipliers on the told one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CommissionedCurve {
    /// On the losses.
    pub losses: f64,
    /// On the slip of the air.
    pub slip: f64,
    /// On the air: what the lift gets over what its valve was thought to pass.
    pub air: f64,
    /// Standard deviation of the flow in the middle of what was tried, %.
    pub sigma_percent: f64,
    /// Largest misfit of one opening, % of its flow.
    pub worst_percent: f64,
}
