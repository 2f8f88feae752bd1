//! By scipy's `solve_ivp` with LSODA, the model written again in Python and run beside.

use super::ode::ATOL_OF_RTOL_M3;
use super::work::{Answer, Work};
use crate::plant::{Area, Characteristic, OutletLaw, PlantSpec};
use serde::Deserialize;
use serde_json::{Value, json};
use std::io::Write;
use std::process::{Command, Stdio};

/// The model in Python, as it is shipped.
const SCRIPT: &str = include_str!("plant_scipy.py");

/// Which scipy answered, and what, for each tolerance.
pub(super) struct Answers {
    /// "scipy 1.15.0, Python 3.12.1".
    pub version: String,
    /// One for each tolerance that was tried.
    pub answers: Vec<Answer>,
}

#[derive(Deserialize)]
struct Output {
    scipy: String,
    python: String,
    runs: Vec<Run>,
}

#[derive(Deserialize)]
struct Run {
    tolerance: f64,
    took_s: f64,
    evals: u64,
    volumes_m3: Vec<Vec<f64>>,
}

/// Runs the script with `python3`, one tolerance after the other until no level is further than `good_mm` off; the reason in
/// words where that cannot be.
pub(super) fn run(work: &Work, tolerances: &[f64], reference_m3: &[Vec<f64>], good_mm: f64) -> Result<Answers, String> {
    let mut input = told(&work.spec)?;
    input["reference_m3"] = json!(reference_m3);
    input["good_m"] = json!(1e-3 * good_mm);
    input["still"] = json!(work.is_still());
    input["openings"] = json!(work.openings);
    input["sample_s"] = json!(work.sample_s);
    input["samples"] = json!(work.samples);
    input["tolerances"] = json!(tolerances);
    input["atol_of_rtol_m3"] = json!(ATOL_OF_RTOL_M3);
    let mut child = Command::new("python3")
        .args(["-c", SCRIPT])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|error| format!("python3 does not start ({error})"))?;
    if let Some(mut stdin) = child.stdin.take() {
        // A script that ended early tells why below.
        let _ = stdin.write_all(input.to_string().as_bytes());
    }
    let output = child
        .wait_with_output()
        .map_err(|error| format!("python3 failed ({error})"))?;
    if !output.status.success() {
        let words = String::from_utf8_lossy(&output.stderr);
        let last = words.lines().last().unwrap_or("it said nothing").to_owned();
        return Err(format!("python3 ended with: {last}"));
    }
    let output: Output =
        serde_json::from_slice(&output.stdout).map_err(|error| format!("python3 answered something else ({error})"))?;
    let answers = output.runs.into_iter().map(|run| Answer {
        took_s: run.took_s,
        solves: run.evals,
        volumes_m3: run.volumes_m3,
        setting: format!("tolerance {:.0e}", run.tolerance),
    });
    Ok(Answers {
        version: format!("scipy {}, Python {}", output.scipy, output.python),
        answers: answers.collect(),
    })
}

/// The installation for the script.
fn told(spec: &PlantSpec) -> Result<Value, String> {
    let place = &spec.place;
    let thin = place.p_atm_pa / spec.blower.curve_at_pa;
    let (flow, press) = (
        spec.blower.flow_multiplier * thin,
        spec.blower.pressure_multiplier * thin,
    );
    let points: Vec<_> = spec.blower.points.iter().map(|(q, p)| [q * flow, p * press]).collect();
    if points.first().is_none_or(|first| first[0] != 0.0) || spec.bleed.is_some() {
        return Err("the script in Python has no bleed, and its blower's curve begins at no flow".to_owned());
    }
    let floor = |tank: usize| spec.tanks.get(tank).map_or(0.0, |tank| tank.floor_m);
    let (mut tanks, mut outlets, mut start) = (Vec::new(), Vec::new(), Vec::new());
    for (from, tank) in spec.tanks.iter().enumerate() {
        let Area::Constant(area_m2) = tank.area else {
            return Err("the script in Python has upright tanks alone".to_owned());
        };
        start.push(area_m2 * tank.start_m);
        tanks.push(json!({
            "area_m2": area_m2, "inflow_m3_s": tank.inflow_m3_s, "evaporation_m3_s": tank.evaporation_m3_s,
        }));
        for outlet in &tank.outlets {
            outlets.push(json!({
                "from": from, "to": outlet.to, "coefficient": outlet.coefficient, "law": law(&outlet.law)?,
                "step_m": outlet.to.map_or(0.0, |to| floor(to) - tank.floor_m),
            }));
        }
    }
    let lifts = spec.lifts.iter().map(|lift| {
        let (dead_travel, rangeability) = match lift.valve.characteristic {
            Characteristic::Linear => (0.0, None),
            Characteristic::EqualPercentage {
                rangeability,
                dead_travel,
            } => (dead_travel, Some(rangeability)),
            Characteristic::Table(_) => return Err("the script in Python has no measured valves".to_owned()),
        };
        let riser = &lift.riser;
        Ok(json!({
            "from": lift.from, "to": lift.to, "injector_m": lift.injector_m, "outlet_m": lift.outlet_m,
            "step_m": floor(lift.to) - floor(lift.from),
            "riser": {
                "bore_m": riser.bore_m, "distribution": riser.distribution, "slip": riser.slip_multiplier,
                "kin": riser.kin, "kout": riser.kout, "loss": riser.loss_multiplier,
                "friction": riser.friction_multiplier, "fouling_k": riser.fouling_k, "cells": riser.cells,
            },
            "air": {
                "sonic_open": lift.valve.sonic_m3_s_pa * lift.valve.multiplier,
                "critical_ratio": lift.valve.critical_ratio, "rangeability": rangeability,
                "dead_travel": dead_travel, "leak": lift.actuator.leak,
                "line_bore_m": lift.line.bore_m, "line_length_m": lift.line.length_m,
                "line_minor": lift.line.minor_loss, "line_multiplier": lift.line.multiplier,
                "opening_pa": lift.diffuser.opening_pa, "loss_pa": lift.diffuser.loss_pa,
                "at_m3_s": lift.diffuser.at_m3_s,
            },
        }))
    });
    let lifts: Result<Vec<Value>, String> = lifts.collect();
    Ok(json!({
        "place": {
            "p_atm_pa": place.p_atm_pa, "water_c": place.water_c, "water_kg_m3": place.water_kg_m3,
            "water_pa_s": place.water_pa_s, "air_pa_s": place.air_pa_s,
        },
        "blower": { "points": points }, "tanks": tanks, "outlets": outlets, "lifts": lifts?, "start_m3": start,
    }))
}

fn law(law: &OutletLaw) -> Result<Value, String> {
    Ok(match law {
        OutletLaw::VNotch { crest_m, angle_deg } => {
            json!({ "kind": "v_notch", "crest_m": crest_m, "angle_deg": angle_deg })
        }
        OutletLaw::Standpipe { crest_m, bore_m } => {
            json!({ "kind": "standpipe", "crest_m": crest_m, "bore_m": bore_m })
        }
        OutletLaw::Pipe {
            entry_m,
            end_m,
            bore_m,
            length_m,
            minor_loss,
        } => json!({
            "kind": "pipe", "entry_m": entry_m, "end_m": end_m, "bore_m": bore_m, "length_m": length_m,
            "minor_loss": minor_loss,
        }),
        OutletLaw::Rectangular { .. } | OutletLaw::Hole { .. } | OutletLaw::Table { .. } => {
            return Err("the script in Python has V-notches, standpipes and pipes alone".to_owned());
        }
    })
}
