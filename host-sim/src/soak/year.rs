//! What came of one year.

use serde::Serialize;

/// How often an alarm came up in a year.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlarmCount {
    /// Short name of its kind.
    pub kind: &'static str,
    /// What it is about.
    pub subject: String,
    /// Times in the year.
    pub times: u32,
    /// Most times within one day.
    pub most_a_day: u32,
}

/// One year.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Year {
    /// From 1; the last may be a part of one.
    pub year: u32,
    /// Mean flow less the target while trimmed, each lift, %.
    pub flow_error_percent: Vec<f64>,
    /// Mean of what the controller believes less the true flow, each lift, % of the target.
    pub belief_error_percent: Vec<f64>,
    /// Mean delivery factor two hours after the cleanings of the year, each lift; `null` without a cleaning.
    pub factor_when_clean: Vec<Option<f64>>,
    /// Alarms.
    pub alarms: Vec<AlarmCount>,
    /// Wraps of the board's counter since the start.
    pub wraps: u32,
}
