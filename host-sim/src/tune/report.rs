//! What came of tuning, for people and for programs.

use super::fitted::{Estimate, Fitted};
use super::proposal::Proposal;
use super::tests_wanted::{Wanted, wanted};
use super::trial::Trial;
use serde_json::{Value, json};
use std::fmt::Write;

/// Names of tanks and lifts, in order.
#[derive(Clone, Debug)]
pub struct Names {
    /// Tanks.
    pub tanks: Vec<String>,
    /// Lifts.
    pub lifts: Vec<String>,
}

impl Names {
    /// Numbers for names, where no file tells any.
    #[must_use]
    pub fn numbered(fitted: &Fitted) -> Self {
        Self {
            tanks: (1..=fitted.tanks.len()).map(|tank| format!("tank {tank}")).collect(),
            lifts: (1..=fitted.lifts.len()).map(|lift| format!("lift {lift}")).collect(),
        }
    }
}

/// Litres a minute in one m3/s.
const L_MIN: f64 = 60_000.0;

/// The report as lines.
#[must_use]
pub fn text(fitted: &Fitted, proposal: &Proposal, trial: Option<&Trial>, names: &Names) -> String {
    let mut out = String::new();
    head(&mut out, fitted);
    out.push_str("\nWhat the log tells (95 % of such intervals hold the truth)\n");
    for (tank, name) in fitted.tanks.iter().zip(&names.tanks) {
        for outlet in &tank.outlets {
            line(
                &mut out,
                &format!("{name}, outlet {}: flow", outlet.outlet + 1),
                "% of told",
                100.0,
                &outlet.times_told,
            );
        }
        if let Some(zero) = &tank.zero_m {
            line(
                &mut out,
                &format!("{name}: sensor reads too high by"),
                "mm",
                1000.0,
                zero,
            );
        }
        if tank.area.told {
            line(
                &mut out,
                &format!("{name}: water surface"),
                "% of told",
                100.0,
                &tank.area,
            );
        }
        if let Some(noise) = tank.noise {
            let (low, high) = (
                noise.sigma_m - 1.96 * noise.doubt_m,
                noise.sigma_m + 1.96 * noise.doubt_m,
            );
            let _ = writeln!(
                out,
                "  {:<40} {:>7.2} mm  ({:.2} to {:.2})",
                format!("{name}: noise of a reading"),
                1000.0 * noise.sigma_m,
                1000.0 * low,
                1000.0 * high
            );
        }
    }
    for (lift, name) in fitted.lifts.iter().zip(&names.lifts) {
        match &lift.delivery {
            Some(delivery) => {
                line(
                    &mut out,
                    &format!("{name}: delivers"),
                    "% of its told curve",
                    100.0,
                    delivery,
                );
                let _ = writeln!(
                    out,
                    "  {:<40} {:>7.1} L/min; curve: {}",
                    format!("{name}: water at the end"),
                    L_MIN * lift.flow_m3_s,
                    match (lift.height_told, lift.shape_told) {
                        (true, true) => "height and shape are told",
                        (true, false) => "its height is told, its shape is not",
                        _ => "not told, it stays",
                    }
                );
            }
            None => {
                let _ = writeln!(
                    out,
                    "  {name}: never ran undisturbed for ten minutes, nothing is told of it"
                );
            }
        }
    }
    for (lift, name) in fitted.lifts.iter().zip(&names.lifts) {
        if lift.trickles {
            let _ = writeln!(
                out,
                "  {name}: moves water while it should stand still; its air floor lies above its onset, or its hand valve was open"
            );
        }
    }
    for (tank, name) in fitted.tanks.iter().zip(&names.tanks) {
        if let Some(high_m) = tank.stood_high_m {
            let _ = writeln!(
                out,
                "  {name}: stood {:.1} mm above its outlet's crest while its lift was out of service. Either its sensor reads too high, or the lift ran on because its hand valve was open: this log cannot tell which, and nothing of its outlet. Shut the hand valve and log it again; if it stands as high, set zero_mm of its sensor by a ruler",
                1000.0 * high_m
            );
        }
    }
    untold(&mut out, fitted, names);
    proposed(&mut out, proposal, names);
    tried(&mut out, trial, names);
    out
}

fn head(out: &mut String, fitted: &Fitted) {
    let counted = &fitted.counted;
    let _ = writeln!(
        out,
        "{} readings over {:.1} h, {} restarts, {} gaps; fitted in {} means of five seconds or more, {} of them surprised",
        counted.readings,
        counted.covered_s / 3600.0,
        counted.restarts,
        counted.gaps,
        fitted.bins,
        fitted.surprises
    );
    if counted.without_air > 0 {
        let _ = writeln!(
            out,
            "{} samples are not used: no step tells air and openings near them",
            counted.without_air
        );
    }
    if counted.without_installation > 0 {
        let _ = writeln!(
            out,
            "{} samples are not used: the log does not tell their installation; give it by --installation",
            counted.without_installation
        );
    }
    if counted.thinned {
        out.push_str(
            "The log keeps only what changed: noise cannot be told from it, and its intervals are too narrow.\n",
        );
    }
}

fn line(out: &mut String, what: &str, unit: &str, times: f64, of: &Estimate) {
    let digits = if unit == "mm" { 2 } else { 1 };
    let _ = writeln!(
        out,
        "  {what:<40} {:>7.digits$} {unit}  ({:.digits$} to {:.digits$}){}",
        times * of.value,
        times * of.low,
        times * of.high,
        if of.told { "" } else { "  not told, stays" }
    );
}

fn untold(out: &mut String, fitted: &Fitted, names: &Names) {
    let tests = wanted(fitted);
    if tests.is_empty() {
        return;
    }
    out.push_str("\nWhat it cannot tell, or not well, and the small test that would (log it, tune again)\n");
    for test in &tests {
        let _ = writeln!(out, "  {}", test_words(test, names));
    }
}

fn test_words(test: &Wanted, names: &Names) -> String {
    let lifts: Vec<String> = test
        .lifts
        .iter()
        .map(|lift| format!("\"{}\"", names.lifts[*lift]))
        .collect();
    let lifts = lifts.join(" and ");
    match test.tank {
        Some(tank) => format!(
            "outlet and sensor zero of \"{}\": {} take {lifts} out of service and shut its hand valve for {} minutes, all else at rest{}",
            names.tanks[tank],
            match test.times {
                1 => "once".to_owned(),
                times => format!("{times} times, half an hour apart,"),
            },
            test.minutes,
            if test.fish {
                "; its fish get no air by the lift meanwhile: only with other air, or shorter"
            } else {
                ""
            }
        ),
        None => format!(
            "how the water of {lifts} changes with air: run it at two other targets, a quarter more and less, {} minutes each",
            test.minutes
        ),
    }
}

fn proposed(out: &mut String, proposal: &Proposal, names: &Names) {
    out.push_str("\nProposed\n");
    let place = &proposal.installation;
    let before = out.len();
    for index in &proposal.tanks {
        let tank = &place.tanks[*index];
        let coefficients: Vec<String> = tank
            .outlets
            .iter()
            .map(|outlet| format!("{:.3}", outlet.coefficient))
            .collect();
        let _ = writeln!(
            out,
            "  {}: outlet coefficients {}, surface {:.3} m2, zero {:.2} mm",
            names.tanks[*index],
            coefficients.join(", "),
            tank.area.first().map_or(0.0, |point| point.area_m2),
            1000.0 * tank.sensor.zero_m
        );
    }
    for (index, share) in &proposal.held_back {
        let name = &names.tanks[*index];
        let _ = if *share > 0.0 {
            writeln!(
                out,
                "  {name}: that is {:.0} % of the way to what the log tells; it is not sure that more would be better",
                100.0 * share
            )
        } else {
            writeln!(
                out,
                "  {name}: stays as told; the log tells otherwise, but is not sure that its flow would be nearer"
            )
        };
    }
    for index in &proposal.noises {
        let noise_mm = 1000.0 * place.tanks[*index].sensor.noise_m;
        let _ = writeln!(out, "  {}: noise {noise_mm:.2} mm", names.tanks[*index]);
    }
    for index in &proposal.curves {
        let of = &place.lifts[*index].calibration;
        let _ = writeln!(
            out,
            "  {}: curve with losses x {:.2}, slip x {:.2}, air x {:.2}",
            names.lifts[*index], of.losses, of.slip, of.air
        );
    }
    for change in &proposal.settings {
        let _ = writeln!(
            out,
            "  {}: {:.4} instead of {:.4}; {}",
            change.key, change.after, change.before, change.why
        );
    }
    if out.len() == before {
        out.push_str("  nothing: what was told stands within what the log can tell\n");
    }
    for (shape, name) in proposal.shapes.iter().zip(&names.lifts) {
        if let Some(shape) = shape {
            let _ = writeln!(
                out,
                "  {name}: learned in {:.0} s, dead time {:.1} s; peak of sensitivity {:.2} before, {:.2} after (at most 1.6)",
                shape.learning.time_s, shape.dead_s, shape.sensitivity.0, shape.sensitivity.1
            );
        }
    }
}

fn tried(out: &mut String, trial: Option<&Trial>, names: &Names) {
    let Some(trial) = trial else {
        out.push_str("\nNot tried: give the installation's file by --installation.\n");
        return;
    };
    out.push_str("\nTried for 4 hours on the fitted place, targets moved by a fifth (RMS off target, valve strokes)\n");
    for (index, name) in names.lifts.iter().enumerate() {
        let _ = writeln!(
            out,
            "  {name:<24} before {:5.2} % {:6.2}   after {:5.2} % {:6.2}",
            trial.before.rms_percent[index],
            trial.before.travel_strokes[index],
            trial.after.rms_percent[index],
            trial.after.travel_strokes[index]
        );
    }
    let _ = writeln!(
        out,
        "  {:<24} before {:5.2} %          after {:5.2} %",
        "all",
        trial.before.total_percent(),
        trial.after.total_percent()
    );
}

/// The report as JSON.
#[must_use]
pub fn json(fitted: &Fitted, proposal: &Proposal, trial: Option<&Trial>, names: &Names) -> Value {
    let estimate = |of: &Estimate| json!({"value": of.value, "low": of.low, "high": of.high, "told": of.told});
    let tanks = fitted.tanks.iter().zip(&names.tanks).map(|(tank, name)| {
        json!({
            "name": name,
            "outlets": tank.outlets.iter().map(|outlet| json!({
                "outlet": outlet.outlet + 1,
                "flow_times_told": estimate(&outlet.times_told),
            })).collect::<Vec<_>>(),
            "area_times_told": estimate(&tank.area),
            "reads_high_m": tank.zero_m.as_ref().map(estimate),
            "stood_high_m": tank.stood_high_m,
            "noise_m": tank.noise.map(|noise| json!({"value": noise.sigma_m, "sigma": noise.doubt_m})),
            "differs": tank.differs,
        })
    });
    let lifts = fitted.lifts.iter().zip(&names.lifts).map(|(lift, name)| {
        json!({
            "name": name,
            "delivery": lift.delivery.as_ref().map(estimate),
            "flow_l_min": L_MIN * lift.flow_m3_s,
            "curve_height_told": lift.height_told,
            "curve_shape_told": lift.shape_told,
        })
    });
    json!({
        "readings": fitted.counted.readings,
        "hours": fitted.counted.covered_s / 3600.0,
        "restarts": fitted.counted.restarts,
        "gaps": fitted.counted.gaps,
        "tanks": tanks.collect::<Vec<_>>(),
        "lifts": lifts.collect::<Vec<_>>(),
        "tests_wanted": wanted(fitted).iter().map(|test| test_words(test, names)).collect::<Vec<_>>(),
        "held_back": proposal.held_back.iter().map(|(tank, share)| json!({
            "tank": names.tanks[*tank], "share_of_the_way": share,
        })).collect::<Vec<_>>(),
        "settings": proposal.settings.iter().map(|change| json!({
            "key": change.key, "before": change.before, "after": change.after, "why": change.why,
        })).collect::<Vec<_>>(),
        "trial": trial.map(|trial| json!({
            "before_rms_percent": trial.before.rms_percent,
            "after_rms_percent": trial.after.rms_percent,
            "before_total_percent": trial.before.total_percent(),
            "after_total_percent": trial.after.total_percent(),
        })),
    })
}
