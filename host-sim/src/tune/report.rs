//! What came of tuning, for people.

use super::fitted::{Estimate, Fitted};
use super::loop_shape::MOST_SENSITIVITY;
use super::proposal::Proposal;
use super::tests_wanted::{Wanted, wanted};
use super::trial::Trial;
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
pub(super) const L_MIN: f64 = 60_000.0;

/// The report as lines.
#[must_use]
pub fn text(fitted: &Fitted, proposal: &Proposal, trial: Option<&Trial>, names: &Names) -> String {
    let mut out = String::new();
    head(&mut out, fitted);
    out.push_str(
        "\nWhat the log tells (19 of 20 of the ranges in brackets hold the true value; entered: as the installation says now)\n",
    );
    for (tank, name) in fitted.tanks.iter().zip(&names.tanks) {
        for outlet in &tank.outlets {
            line(
                &mut out,
                &format!("{name}, outlet {}: flow", outlet.outlet + 1),
                "% of entered",
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
                "% of entered",
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
                    "% of its curve as entered",
                    100.0,
                    delivery,
                );
                let _ = writeln!(
                    out,
                    "  {:<40} {:>7.1} L/min; {}",
                    format!("{name}: water at the end"),
                    L_MIN * lift.flow_m3_s,
                    match (lift.height_told, lift.shape_told) {
                        (true, true) => "its curve can be told",
                        (true, false) => "its curve can be told at this air, not how it changes with air",
                        _ => "its curve cannot be told: stays as entered",
                    }
                );
            }
            None => {
                let _ = writeln!(
                    out,
                    "  {name}: never ran for ten minutes without a change, so nothing is known of it"
                );
            }
        }
    }
    for (lift, name) in fitted.lifts.iter().zip(&names.lifts) {
        if lift.trickles {
            let _ = writeln!(
                out,
                "  {name}: seems to have moved water while it was out of service: its least air lifts water, or its hand valve was open. Nothing can be told of the outlet of its tank then; shut the hand valve and log it again"
            );
        }
    }
    for (tank, name) in fitted.tanks.iter().zip(&names.tanks) {
        if let Some(high_m) = tank.stood_high_m {
            let _ = writeln!(
                out,
                "  {name}: stood {:.1} mm above its outlet's crest while its lift was out of service. Either its sensor reads too high, or the lift ran on because its hand valve was open: this log cannot tell which, so nothing is known of its outlet. Shut the hand valve and log it again; if it stands as high, set zero_mm of its sensor by a ruler",
                1000.0 * high_m
            );
        }
    }
    untold(&mut out, fitted, names);
    proposed(&mut out, fitted, proposal, names);
    loops(&mut out, proposal, names);
    tried(&mut out, trial, names);
    out
}

fn head(out: &mut String, fitted: &Fitted) {
    let counted = &fitted.counted;
    let _ = writeln!(
        out,
        "{} readings over {:.1} h, {} restarts, {} gaps; used as {} means over five seconds or more, {} of them out of line",
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
            "{} readings are not used: the log holds no air and valve openings near them",
            counted.without_air
        );
    }
    if counted.without_installation > 0 {
        let _ = writeln!(
            out,
            "{} readings are not used: the log does not say of which installation they are; give its file by --installation",
            counted.without_installation
        );
    }
    if counted.thinned {
        out.push_str(
            "The log keeps only what changed: the noise of sensors cannot be told from it, and the ranges below are too narrow.\n",
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
        if of.told {
            ""
        } else {
            "  cannot be told: stays as entered"
        }
    );
}

fn untold(out: &mut String, fitted: &Fitted, names: &Names) {
    let tests = wanted(fitted);
    if tests.is_empty() {
        return;
    }
    out.push_str(
        "\nWhat it cannot tell, or not well, and the small test that would (keep logging, then tune with all logs)\n",
    );
    for test in &tests {
        let _ = writeln!(out, "  {}", test_words(test, names));
    }
}

pub(super) fn test_words(test: &Wanted, names: &Names) -> String {
    let lifts: Vec<String> = test
        .lifts
        .iter()
        .map(|lift| format!("\"{}\"", names.lifts[*lift]))
        .collect();
    let lifts = lifts.join(" and ");
    match test.tank {
        Some(tank) => format!(
            "outlet and sensor zero of \"{}\": {} take {lifts} out of service and shut {} for {} minutes; change nothing else meanwhile{}",
            names.tanks[tank],
            match test.times {
                1 => "once".to_owned(),
                times => format!("{times} times, half an hour apart,"),
            },
            if test.lifts.len() == 1 {
                "its hand valve"
            } else {
                "their hand valves"
            },
            test.minutes,
            if test.fish {
                ". Its fish get no air from the lift in that time: only with other air running, or shorter"
            } else {
                ""
            }
        ),
        None => format!(
            "how the water of {lifts} changes with air: run it at a quarter more and at a quarter less than its target, {} minutes each",
            test.minutes
        ),
    }
}

/// True where the log tells surely of an outlet, a surface or a zero, and otherwise than is entered.
fn tells_otherwise(fitted: &Fitted) -> bool {
    let other = |estimate: &Estimate, entered: f64| estimate.told && !estimate.holds(entered);
    fitted.tanks.iter().any(|tank| {
        tank.outlets.iter().any(|outlet| other(&outlet.times_told, 1.0))
            || other(&tank.area, 1.0)
            || tank.zero_m.as_ref().is_some_and(|zero| other(zero, 0.0))
    })
}

fn proposed(out: &mut String, fitted: &Fitted, proposal: &Proposal, names: &Names) {
    out.push_str("\nProposed\n");
    let place = &proposal.installation;
    let before = out.len();
    for index in &proposal.tanks {
        let tank = &place.tanks[*index];
        let coefficients: Vec<String> = tank
            .outlets
            .iter()
            .map(|outlet| format!("x {:.3}", outlet.coefficient))
            .collect();
        let _ = writeln!(
            out,
            "  {}: outlets {} (coefficient), water surface {:.3} m2, zero of its sensor {:.2} mm",
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
                "  {name}: that goes {:.0} % of the way to what the log tells; going further might make it worse",
                100.0 * share
            )
        } else {
            writeln!(
                out,
                "  {name}: stays as entered; the log tells otherwise, but not surely enough that its flow would come nearer"
            )
        };
    }
    for index in &proposal.noises {
        let noise_mm = 1000.0 * place.tanks[*index].sensor.noise_m;
        let _ = writeln!(out, "  {}: noise of its sensor {noise_mm:.2} mm", names.tanks[*index]);
    }
    for index in &proposal.curves {
        let of = &place.lifts[*index].calibration;
        let _ = writeln!(
            out,
            "  {}: curve with losses x {:.2}, slip x {:.2}, air x {:.2} of those worked out from its pipe",
            names.lifts[*index], of.losses, of.slip, of.air
        );
    }
    for change in &proposal.settings {
        let _ = writeln!(
            out,
            "  {}: {} instead of {}; {}",
            change.key,
            plain(change.after),
            plain(change.before),
            change.why
        );
    }
    if out.len() == before {
        out.push_str(if tells_otherwise(fitted) {
            "  nothing: the log tells otherwise than is entered (see above), but every change tried made a lift worse\n"
        } else {
            "  nothing: what is entered lies within what the log can tell\n"
        });
    }
}

/// A number without noughts at its end.
fn plain(value: f64) -> String {
    let digits = format!("{value:.3}");
    digits.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn loops(out: &mut String, proposal: &Proposal, names: &Names) {
    if proposal.shapes.iter().all(Option::is_none) {
        return;
    }
    let _ = writeln!(
        out,
        "\nHow steadily each lift is held (tendency to swing: 1 is none, up to {MOST_SENSITIVITY} is sound)"
    );
    for (shape, name) in proposal.shapes.iter().zip(&names.lifts) {
        if let Some(shape) = shape {
            let _ = writeln!(
                out,
                "  {name:<24} {:.2} before, {:.2} after; notices what it delivers within {:.0} s, moves its valve {:.0} s later",
                shape.sensitivity.0,
                shape.sensitivity.1,
                shape.learning.time_s,
                shape.dead_s(&proposal.installation.settings)
            );
        }
    }
}

fn tried(out: &mut String, trial: Option<&Trial>, names: &Names) {
    let Some(trial) = trial else {
        out.push_str("\nNot tried out: that takes the installation's file (--installation FILE).\n");
        return;
    };
    out.push_str(
        "\nTried for 4 hours each on a model of the place as the log shows it, targets moved up and down by a fifth\n",
    );
    let _ = writeln!(
        out,
        "  {:<24} {:^20}  {:^20}",
        "", "off target (RMS)", "valve moves, strokes"
    );
    let _ = writeln!(
        out,
        "  {:<24} {:>9} {:>10}  {:>9} {:>10}",
        "", "before", "after", "before", "after"
    );
    for (index, name) in names.lifts.iter().enumerate() {
        let _ = writeln!(
            out,
            "  {name:<24} {:7.2} % {:8.2} %  {:9.2} {:10.2}",
            trial.before.rms_percent[index],
            trial.after.rms_percent[index],
            trial.before.travel_strokes[index],
            trial.after.travel_strokes[index]
        );
    }
    let _ = writeln!(
        out,
        "  {:<24} {:7.2} % {:8.2} %",
        "all lifts",
        trial.before.total_percent(),
        trial.after.total_percent()
    );
}

#[cfg(test)]
mod tests {
    use super::super::fitted::{LiftFit, OutletFit, TankFit};
    use super::*;
    use crate::scenario::Scenario;

    /// A log of `one_lift` that tells this much of the fish tank's working outlet, and nothing else.
    fn told(times: f64) -> (Fitted, Names) {
        let scenario = Scenario::by_name_or_path("one_lift").expect("shipped");
        let untold = Estimate::plain(1.0, 0.1, 0.1, false);
        let tank = |outlets: Vec<OutletFit>| TankFit {
            outlets,
            dry: Vec::new(),
            area: untold,
            zero_m: None,
            stood_high_m: None,
            noise: None,
            differs: false,
            working: Default::default(),
        };
        let outlet = OutletFit {
            outlet: 0,
            times_told: Estimate::plain(times, 0.01, 0.3, true),
        };
        let never_ran = LiftFit {
            delivery: None,
            flow_m3_s: 0.0,
            logs: [0.0; 3],
            covariance: [0.0; 6],
            height_told: false,
            shape_told: false,
            air_range_m3_s: (0.0, 0.0),
            rest: 1.0,
            ran: None,
            trickles: false,
        };
        let fitted = Fitted {
            place: scenario.told.clone(),
            tanks: vec![tank(Vec::new()), tank(vec![outlet])],
            lifts: vec![never_ran],
            walk: 3e-4,
            manifold_pa: 2e4,
            counted: Default::default(),
            bins: 100,
            surprises: 0,
        };
        let names = Names {
            tanks: scenario.tank_names,
            lifts: scenario.lift_names,
        };
        (fitted, names)
    }

    #[test]
    fn a_log_that_contradicts_what_is_entered_is_not_said_to_agree_with_it() {
        for (times, agrees) in [(1.005, true), (1.2, false)] {
            let (fitted, names) = told(times);
            let nothing = Proposal::of(&fitted, fitted.place.clone());
            let mut out = String::new();
            proposed(&mut out, &fitted, &nothing, &names);
            assert_eq!(
                out.contains("lies within what the log can tell"),
                agrees,
                "{times}: {out}"
            );
            assert_eq!(
                out.contains("every change tried made a lift worse"),
                !agrees,
                "{times}: {out}"
            );
        }
    }

    #[test]
    fn a_test_with_two_lifts_shuts_two_hand_valves() {
        let names = Names {
            tanks: vec!["carp".to_owned()],
            lifts: vec!["left".to_owned(), "right".to_owned()],
        };
        let of = |lifts: Vec<usize>| Wanted {
            tank: Some(0),
            lifts,
            minutes: 10,
            times: 1,
            fish: false,
        };
        assert!(test_words(&of(vec![0]), &names).contains("shut its hand valve for"));
        assert!(test_words(&of(vec![0, 1]), &names).contains("shut their hand valves for"));
    }
}
