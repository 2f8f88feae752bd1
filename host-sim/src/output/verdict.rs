//! Whether the job was done, in one honest sentence.

use super::words::{clock, duration, listed, thousands};
use crate::simulate::{LiftOutcome, Outcome, TankOutcome};

/// A lift has done its job when its mean flow was this near its target, %.
pub const MEAN_WITHIN_PERCENT: f64 = 3.0;

/// From this share of what it gave when clean on, a lift's fouling is nothing to talk of, %.
const WORTH_SAYING: u8 = 97;

/// Time without air from any lift, by order, that no cleaning of a lift takes, s.
const LONG_WITHOUT_AIR_S: f64 = 5400.0;

/// Below this share of the lifts' time that could be judged, a job is not called done without saying so.
const MOST_JUDGED: f64 = 0.5;

/// One sentence: whether every lift kept its target, which was furthest off, and what else went wrong.
#[must_use]
pub fn verdict(outcome: &Outcome) -> String {
    let troubles = troubles(outcome);
    let flows = flows(outcome);
    let unserved = unserved(outcome);
    if troubles.is_empty() && flows.kept && !unserved.is_empty() {
        return format!(
            "Job done, but {}; {}; nothing spilled, no tank ran dry, no lift in service went without air.",
            unserved.join("; "),
            flows.words
        );
    }
    if troubles.is_empty() && flows.kept {
        if outcome.counted_share < MOST_JUDGED {
            return format!(
                "Job done as far as it could be judged, which is {:.0} % of the lifts' time: {}; nothing spilled, no tank ran dry, no \
                 lift went without air.",
                100.0 * outcome.counted_share,
                flows.words
            );
        }
        return format!(
            "Job done: {}; nothing spilled, no tank ran dry, no lift went without air.",
            flows.words
        );
    }
    let mut parts = vec![flows.words];
    parts.extend(troubles);
    parts.extend(unserved);
    format!("Job not done: {}.", parts.join("; "))
}

/// Fish that had no air from lifts for long, because all of them were out of service by order.
fn unserved(outcome: &Outcome) -> Vec<String> {
    let long = |tank: &&TankOutcome| tank.fish_lifts_shut_s > LONG_WITHOUT_AIR_S;
    let words = |tank: &TankOutcome| {
        format!(
            "the fish of {} had no air from lifts for {}, with every lift there out of service by order",
            tank.name,
            duration(tank.fish_lifts_shut_s)
        )
    };
    outcome.tanks.iter().filter(long).map(words).collect()
}

/// What is to be said at the end, a paragraph each: whether the job was done, what people did that fish feel, how fast it
/// ran.
#[must_use]
pub fn closing(outcome: &Outcome) -> Vec<String> {
    let mut lines = vec![verdict(outcome)];
    lines.extend(outcome.refused.iter().map(|one| {
        format!(
            "Refused at {}: {} (line {}), and nothing was changed by it: {}.",
            clock(one.at_s),
            one.what,
            one.line,
            one.why
        )
    }));
    let waiting: Vec<String> = outcome
        .lifts
        .iter()
        .filter(|lift| waits_for_bucket(outcome, &lift.name))
        .map(|lift| lift.name.clone())
        .collect();
    if !waiting.is_empty() {
        lines.push(format!(
            "Not judged: {}. What it delivers is read through an outlet that nobody has measured yet.",
            listed(&waiting)
        ));
    }
    for tank in outcome.tanks.iter().filter(|tank| tank.fish_lifts_shut_s > 0.0) {
        lines.push(format!(
            "Note: while no lift of {} was in service ({}), its fish got no air from here: give them air another way.",
            tank.name,
            duration(tank.fish_lifts_shut_s)
        ));
    }
    lines.extend(outcome.lifts.iter().filter_map(fouling));
    lines.push(speed(outcome));
    lines
}

/// What a lift gives of what it gave when clean, and when it is to be cleaned: where there is something to say.
fn fouling(lift: &LiftOutcome) -> Option<String> {
    let percent = lift.percent_of_clean?;
    let name = &lift.name;
    match lift.cleaning_days {
        Some(0) => Some(format!(
            "Lift {name} gives {percent} % of what it did when clean, and the blower can make up for no more: clean it."
        )),
        Some(days) => Some(format!(
            "Lift {name} gives {percent} % of what it did when clean; at this rate it falls under what the blower can make up about {} \
             from now: plan a cleaning.",
            days_or_weeks(days)
        )),
        None if percent < WORTH_SAYING => Some(format!("Lift {name} gives {percent} % of what it did when clean.")),
        None => None,
    }
}

fn days_or_weeks(days: u8) -> String {
    match (days, (u16::from(days) + 3) / 7) {
        (1, _) => "a day".to_owned(),
        (2..=13, _) => format!("{days} days"),
        (_, weeks) => format!("{weeks} weeks"),
    }
}

/// How fast it ran.
#[must_use]
pub fn speed(outcome: &Outcome) -> String {
    let simulated = duration(outcome.simulated_s);
    if outcome.wall_s > 0.0 {
        let times = thousands(outcome.simulated_s / outcome.wall_s);
        format!(
            "{simulated} simulated in {:.2} s: {times} times real time.",
            outcome.wall_s
        )
    } else {
        format!("{simulated} simulated.")
    }
}

/// True for a lift whose outlet a trial could not read: what it delivers is not known before a bucket has told.
fn waits_for_bucket(outcome: &Outcome, lift: &str) -> bool {
    let last = outcome.commissioned.iter().rfind(|trial| trial.lift == lift);
    last.is_some_and(|trial| trial.outlet.is_none())
}

struct Flows {
    kept: bool,
    words: String,
}

fn flows(outcome: &Outcome) -> Flows {
    let error = |lift: &LiftOutcome| lift.mean_error_percent();
    let unknown = |lift: &&LiftOutcome| waits_for_bucket(outcome, &lift.name);
    let measured = outcome
        .lifts
        .iter()
        .filter(|lift| !unknown(lift))
        .filter_map(|lift| error(lift).map(|percent| (lift, percent)));
    let worst = measured.clone().max_by(|(_, a), (_, b)| a.abs().total_cmp(&b.abs()));
    let off: Vec<String> = measured
        .filter(|(_, percent)| percent.abs() > MEAN_WITHIN_PERCENT)
        .map(|(lift, percent)| format!("{} ({percent:+.1} %)", lift.name))
        .collect();
    let uncounted: Vec<String> = outcome
        .lifts
        .iter()
        .filter(|lift| !unknown(lift) && error(lift).is_none())
        .map(|lift| lift.name.clone())
        .collect();
    let beside = if uncounted.is_empty() {
        String::new()
    } else {
        format!("; of {} no time could be counted", listed(&uncounted))
    };
    match worst {
        None => Flows {
            kept: false,
            words: "no lift had time to settle on a target, so no flow could be judged".into(),
        },
        Some((lift, percent)) if off.is_empty() => Flows {
            kept: uncounted.is_empty(),
            words: format!(
                "every lift that counted kept its mean flow within {MEAN_WITHIN_PERCENT:.0} % of target (furthest off: {}, \
                 {percent:+.1} %){beside}",
                lift.name
            ),
        },
        Some(_) => Flows {
            kept: false,
            words: format!(
                "mean flow was more than {MEAN_WITHIN_PERCENT:.0} % off target on {}{beside}",
                listed(&off)
            ),
        },
    }
}

/// Everything else that must not happen, in the order of its weight.
fn troubles(outcome: &Outcome) -> Vec<String> {
    let mut found = Vec::new();
    for tank in &outcome.tanks {
        if tank.spilled_l > 0.05 {
            found.push(format!("{} spilled {:.1} L", tank.name, tank.spilled_l));
        }
        if tank.dry_s > 0.0 {
            found.push(format!("{} was dry for {}", tank.name, duration(tank.dry_s)));
        }
        let unasked_s = tank.fish_without_air_s - tank.fish_lifts_shut_s;
        if unasked_s > 0.0 {
            let time = duration(unasked_s);
            found.push(format!(
                "the fish of {} got less air than any lift's floor for {time}",
                tank.name
            ));
        }
    }
    for lift in &outcome.lifts {
        if lift.without_air_s > 0.0 {
            found.push(format!(
                "lift {} was below its air floor for {}",
                lift.name,
                duration(lift.without_air_s)
            ));
        }
        if lift.past_peak_s > 0.0 {
            found.push(format!(
                "lift {} got more air than helps for {}",
                lift.name,
                duration(lift.past_peak_s)
            ));
        }
    }
    found
}
