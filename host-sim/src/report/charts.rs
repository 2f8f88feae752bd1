//! What is drawn against time, as data for the page's script.

use super::capital;
use super::recorder::{LiftTrace, ReportRecorder};
use super::series::Series;
use risertrim::tank::Tank;
use serde::Serialize;

/// One chart against time.
#[derive(Debug, Serialize)]
pub(crate) struct Chart<'a> {
    /// Where on the page: `flows`, `levels`, `openings`, `airs`, `pressure`, `factors`.
    pub section: &'static str,
    pub title: String,
    /// Label of the upright axis, with its unit.
    pub y: &'static str,
    pub series: Vec<Line<'a>>,
    pub limits: Vec<Limit>,
}

/// One line of a chart.
#[derive(Debug, Serialize)]
pub(crate) struct Line<'a> {
    pub name: String,
    pub unit: &'static str,
    pub decimals: u8,
    /// How it is drawn: `true`, `believed`, `target` or, one colour a lift, `lift`.
    pub look: &'static str,
    pub values: &'a Series,
}

/// A level that warns or acts.
#[derive(Debug, Serialize)]
pub(crate) struct Limit {
    pub at: f64,
    pub name: &'static str,
    /// `warn`, `act` or `rim`.
    pub kind: &'static str,
}

/// All charts against time, in the order of the page.
pub(super) fn charts(kept: &ReportRecorder) -> Vec<Chart<'_>> {
    let mut charts = flows(kept);
    charts.extend(levels(kept));
    let names = &kept.scenario.lift_names;
    let one_a_lift = |unit, decimals, values: fn(&LiftTrace) -> &Series| -> Vec<Line<'_>> {
        let lifts = names.iter().zip(&kept.lifts);
        lifts
            .map(|(name, trace)| line(name, unit, decimals, "lift", values(trace)))
            .collect()
    };
    let chart = |section, title: &str, y, series| Chart {
        section,
        title: title.to_owned(),
        y,
        series,
        limits: Vec::new(),
    };
    charts.push(chart(
        "openings",
        "Air valves",
        "opening, % of stroke",
        one_a_lift("%", 1, |trace| &trace.opening),
    ));
    charts.push(chart(
        "airs",
        "Air of each lift",
        "free air, L/min",
        one_a_lift("L/min", 1, |trace| &trace.air),
    ));
    let air = &kept.air;
    charts.push(chart(
        "pressure",
        "Pressure in the manifold",
        "above atmosphere, kPa",
        vec![
            line("true", "kPa", 2, "true", &air.manifold),
            line("believed by the controller", "kPa", 2, "believed", &air.believed),
        ],
    ));
    charts.push(chart(
        "pressure",
        "Air of the blower",
        "free air, L/min",
        vec![line("blower", "L/min", 0, "true", &air.blower)],
    ));
    charts.push(chart(
        "pressure",
        "Power of the blower",
        "electric power, W",
        vec![line("power", "W", 0, "true", &air.power)],
    ));
    charts.push(chart(
        "factors",
        "What each lift delivers as a share of its curve",
        "delivery factor, times its curve",
        one_a_lift("", 3, |trace| &trace.factor),
    ));
    charts
}

fn flows(kept: &ReportRecorder) -> Vec<Chart<'_>> {
    let lifts = kept.scenario.lift_names.iter().zip(&kept.lifts);
    lifts
        .map(|(name, trace)| Chart {
            section: "flows",
            title: format!("Lift {name}"),
            y: "water, L/min",
            series: vec![
                line("delivered", "L/min", 1, "true", &trace.delivered),
                line("believed by the controller", "L/min", 1, "believed", &trace.believed),
                line("target", "L/min", 1, "target", &trace.target),
            ],
            limits: Vec::new(),
        })
        .collect()
}

fn levels(kept: &ReportRecorder) -> Vec<Chart<'_>> {
    let told = &kept.scenario.told.tanks;
    let tanks = kept.scenario.tank_names.iter().zip(&kept.tanks).zip(told);
    tanks
        .map(|((name, trace), tank)| Chart {
            section: "levels",
            title: capital(name),
            y: "level above the floor, mm",
            series: vec![
                line("true", "mm", 1, "true", &trace.level),
                line("believed by the controller", "mm", 1, "believed", &trace.believed),
            ],
            limits: limits(tank),
        })
        .collect()
}

fn limits(tank: &Tank) -> Vec<Limit> {
    let limits = &tank.limits;
    let limit = |at_m: f32, name, kind| Limit {
        at: 1_000.0 * f64::from(at_m),
        name,
        kind,
    };
    vec![
        limit(tank.rim_m, "rim", "rim"),
        limit(limits.high_act_m, "too high: acts", "act"),
        limit(limits.high_warn_m, "high: warns", "warn"),
        limit(limits.low_warn_m, "low: warns", "warn"),
        limit(limits.low_act_m, "too low: acts", "act"),
    ]
}

fn line<'a>(name: &str, unit: &'static str, decimals: u8, look: &'static str, values: &'a Series) -> Line<'a> {
    Line {
        name: name.to_owned(),
        unit,
        decimals,
        look,
        values,
    }
}
