//! What the figures say, one thing a sentence: which goals are reached, and why the others are not.

use super::contender::Contender;
use super::figures::{Figures, LiftFigures, Spell};
use super::run::{Comparison, Row};

/// Goals, each for risertrim's figure over the other's.
const AFTER_CHANGES: f64 = 0.6;
const ON_ITS_FILTER: f64 = 1.0;
const REST: f64 = 1.0;
const TRAVEL: f64 = 0.7;
const HAND: f64 = 0.25;
/// Air over the least that gives the same water, to the two places that are shown.
const AIR: f64 = 1.0;
/// Error above that of the loop that knows all, % of the target.
const ABOVE_KNOWING: f64 = 2.5;

type OfLift = fn(&LiftFigures) -> Option<f64>;

/// A figure with stops to measure in it, and the same between them.
#[derive(Clone, Copy)]
struct Both {
    all: OfLift,
    between: OfLift,
}

const AFTER: Both = Both {
    all: |lift| lift.after_change.rms_percent(),
    between: |lift| lift.after_change_between.rms_percent(),
};
const AFTER_OWN: Both = Both {
    all: LiftFigures::after_change_own_percent,
    between: |lift| about_rest(&lift.after_change_between, lift),
};
const QUIET: Both = Both {
    all: |lift| lift.rest.rms_percent(),
    between: |lift| lift.rest_between.rms_percent(),
};
const QUIET_OWN: Both = Both {
    all: LiftFigures::rest_own_percent,
    between: |lift| about_rest(&lift.rest_between, lift),
};
const WHOLE: Both = Both {
    all: |lift| lift.after_change.with(&lift.rest).rms_percent(),
    between: |lift| lift.between_stops().rms_percent(),
};

fn about_rest(spell: &Spell, lift: &LiftFigures) -> Option<f64> {
    spell.rms_about_percent(lift.rest_between.mean_percent().unwrap_or(0.0))
}

/// The rows that sentences are about.
struct Rows<'a> {
    own: &'a Row,
    pi: &'a Row,
    filter: &'a Row,
    hand: &'a Row,
    knowing: &'a Row,
    /// Share of the lifts' time in stops to measure and right after, under risertrim.
    stopped: f64,
}

/// What the figures say, one thing a sentence.
#[must_use]
pub fn sentences(comparison: &Comparison) -> Vec<String> {
    let (Some(own), Some(pi), Some(filter), Some(hand), Some(knowing)) = (
        comparison.row(Contender::Risertrim),
        comparison.row(Contender::Pi),
        comparison.row(Contender::PiOnFilter),
        comparison.row(Contender::HandOnce),
        comparison.row(Contender::Knowing),
    ) else {
        return Vec::new();
    };
    let rows = Rows {
        stopped: stopped(own),
        own,
        pi,
        filter,
        hand,
        knowing,
    };
    let mut lines = rows.goals(comparison);
    lines.extend(rows.reasons());
    lines
}

fn over(row: &Row, of: OfLift) -> Option<f64> {
    row.rms(|run| run.over_lifts(of))
}

fn stopped(own: &Row) -> f64 {
    let seconds = |of: fn(&LiftFigures) -> f64| own.mean(|run| run.lifts.iter().map(of).sum());
    let counted_s = seconds(|lift| lift.after_change.with(&lift.rest).counted_s);
    let between_s = seconds(|lift| lift.between_stops().counted_s);
    if counted_s > 0.0 {
        1.0 - between_s / counted_s
    } else {
        0.0
    }
}

/// "0.77 (goal: at most 0.6: not reached)", and between stops where there are any.
fn told(what: &str, ratio: f64, between: Option<f64>, goal: f64) -> String {
    let kept = |ratio: f64| if ratio <= goal { "reached" } else { "not reached" };
    match between {
        Some(between) if (ratio <= goal) == (between <= goal) => {
            format!(
                "{what}: {ratio:.2}, between stops {between:.2} (goal: at most {goal}: {}).",
                kept(ratio)
            )
        }
        Some(between) => format!(
            "{what}: {ratio:.2} (goal: at most {goal}: {}), between stops {between:.2} ({}).",
            kept(ratio),
            kept(between)
        ),
        None => format!("{what}: {ratio:.2} (goal: at most {goal}: {}).", kept(ratio)),
    }
}

impl Rows<'_> {
    fn ratio(&self, other: &Row, of: OfLift) -> Option<f64> {
        Some(over(self.own, of)? / over(other, of)?).filter(|ratio| ratio.is_finite())
    }

    fn goal(&self, lines: &mut Vec<String>, what: &str, other: &Row, of: Both, goal: f64) {
        if let Some(ratio) = self.ratio(other, of.all) {
            let between = self.ratio(other, of.between).filter(|_| self.stopped > 0.0);
            lines.push(told(what, ratio, between, goal));
        }
    }

    fn goals(&self, comparison: &Comparison) -> Vec<String> {
        let mut lines = Vec::new();
        let own = self.own;
        let mut tell = |what: &str, other, of, goal| self.goal(&mut lines, what, other, of, goal);
        tell(
            "After changes, error of risertrim over that of PI",
            self.pi,
            AFTER,
            AFTER_CHANGES,
        );
        tell(
            "The same without what the outlets told wrongly",
            self.pi,
            AFTER_OWN,
            AFTER_CHANGES,
        );
        tell(
            "The same against PI on risertrim's filter",
            self.filter,
            AFTER_OWN,
            ON_ITS_FILTER,
        );
        lines.extend(self.worst_rest(comparison));
        self.goal(
            &mut lines,
            "The same over all lifts, without what the outlets told wrongly",
            self.pi,
            QUIET_OWN,
            REST,
        );
        let travel = |row: &Row| row.mean(Figures::travel_strokes);
        lines.push(told(
            "Way of the valves over that of PI",
            travel(own) / travel(self.pi),
            None,
            TRAVEL,
        ));
        self.goal(
            &mut lines,
            "Over all, error over that of one trim by hand",
            self.hand,
            WHOLE,
            HAND,
        );
        lines.extend(self.air());
        if let (Some(own), Some(knowing)) = (over(own, WHOLE.all), over(self.knowing, WHOLE.all)) {
            let more = own - knowing;
            let kept = if more <= ABOVE_KNOWING {
                "reached"
            } else {
                "not reached"
            };
            lines.push(format!(
                "Error above that of the loop that knows all: {more:.2} % of the target (goal: at most {ABOVE_KNOWING}: {kept})."
            ));
        }
        let furthest = |row: &Row| row.worst(Figures::worst_mean_percent);
        if let (Some(own), Some(pi), Some(hand)) = (furthest(own), furthest(self.pi), furthest(self.hand)) {
            lines.push(format!(
                "Furthest mean of a lift from its target over a whole run: {own:.1} % under risertrim, {pi:.1} % under PI, \
                 {hand:.1} % trimmed by hand."
            ));
        }
        lines
    }

    /// The lift whose rest compares worst with PI.
    fn worst_rest(&self, comparison: &Comparison) -> Option<String> {
        let ratio = |index: usize, of: OfLift| {
            let of = |row: &Row| row.rms(|run| run.lifts.get(index).and_then(of));
            Some(of(self.own)? / of(self.pi)?)
        };
        let all = (0..comparison.lifts.len()).filter_map(|index| Some((ratio(index, QUIET.all)?, index)));
        let (worst, index) = all.max_by(|a, b| a.0.total_cmp(&b.0))?;
        let between = (0..comparison.lifts.len()).filter_map(|index| ratio(index, QUIET.between));
        let between = between.reduce(f64::max).filter(|_| self.stopped > 0.0);
        Some(told(
            &format!(
                "In the rest, error over that of PI, worst lift ({})",
                comparison.lifts[index]
            ),
            worst,
            between,
            REST,
        ))
    }

    fn air(&self) -> Option<String> {
        #[allow(clippy::cast_precision_loss)] // seeds
        let need = |row: &Row| {
            let all: Vec<f64> = row.runs.iter().filter_map(|run| run.air_over_need).collect();
            (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
        };
        let over = (100.0 * need(self.own)?).round() / 100.0;
        let water = |row: &Row| row.mean(|run| run.lifts.iter().map(|lift| lift.delivered_l).sum());
        let more = 100.0 * (water(self.own) / water(self.hand) - 1.0);
        let (air, by_hand) = (
            self.own.mean(Figures::air_per_water),
            self.hand.mean(Figures::air_per_water),
        );
        Some(format!(
            "{} For a litre of water it takes {air:.2} L of air, one trim by hand {by_hand:.2} L at other flows ({:.0} % {} \
             water in all): the more water a lift is asked for, the more air each litre takes.",
            told(
                "Air over what the true lifts need for just what is asked",
                over,
                None,
                AIR
            ),
            more.abs(),
            if more >= 0.0 { "less" } else { "more" }
        ))
    }

    /// Why a goal after changes is missed, where the figures themselves tell.
    fn reasons(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if self.stopped > 0.0
            && let (Some(own), Some(pi)) = (over(self.own, WHOLE.between), over(self.pi, WHOLE.between))
        {
            lines.push(format!(
                "Risertrim stops lifts that share a tank for minutes, as the place's settings ask, to tell them apart, which \
                 nobody else does: {:.1} % of the lifts' time, with three minutes after each. A stop is an error of 100 %, \
                 and weighs as its square. In the rest of the time its error is {own:.2} %, that of PI {pi:.2} %.",
                100.0 * self.stopped
            ));
        }
        let of = if self.stopped > 0.0 { AFTER.between } else { AFTER.all };
        let Some(ratio) = self.ratio(self.pi, of).filter(|ratio| *ratio > AFTER_CHANGES) else {
            return lines;
        };
        if let (Some(best), Some(pi)) = (over(self.knowing, of), over(self.pi, of)) {
            let stands = over(self.own, |lift| lift.rest_between.mean_percent().map(f64::abs)).unwrap_or(0.0);
            let least = (best * best + stands * stands).sqrt() / pi;
            lines.push(format!(
                "Why {ratio:.2} after changes and not {AFTER_CHANGES}: water and valves take their time, and nobody is told what \
                 happens to a lift. Even the loop that knows the place has {:.2} of PI's error; with the {stands:.2} % that a wrongly \
                 told outlet hides from everybody it would be {least:.2}.",
                best / pi
            ));
        }
        lines
    }
}
