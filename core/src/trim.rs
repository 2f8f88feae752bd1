//! From target to wanted air, and from wanted opening to valve moves.

use crate::installation::Settings;
use crate::lift::Curve;
use crate::math::{larger, limit, seldom, smaller};
use crate::time::Held;
use crate::units::{FreeAir, Opening, WaterFlow};

/// What the trim believes of a learned factor: outside this the lift is not trimmed further, because a reading gone wrong is
/// then likelier than a lift so changed. A fouled outlet reads as more flow; without the upper bound the air would be cut.
const TRUSTED_FACTOR: (f32, f32) = (0.3, 3.0);

/// Share of the onset used when a lift is to aerate without moving water: the true onset may be a third lower, and what a valve passes
/// a third more than is known; 0.45 is below both together.
pub(crate) const BELOW_ONSET: f32 = 0.45;

/// Share of the onset above which a floor counts as one that moves water when a lift is to be held: nearer to it, what the onset is off
/// decides. Lower, and floors that hold would be left for nothing.
const FLOOR_MOVES_WATER: f32 = 0.8;

/// Times the floor that is aimed at: what a valve passes may be some 30 % less than is known.
const FLOOR_MARGIN: f32 = 1.4;

/// How many times faster than a new target a lift returns to service.
const RETURN_FASTER: f32 = 5.0;
/// A lift that comes back from less than this share of its target stood still: it is asked for most of it at once. There is no flow of its own to bump, its factor waited, and the feedforward holds the others: measured over half
/// an hour after the return, its error falls to a third, and theirs does not grow.
const STOOD_STILL: f32 = 0.1;
/// Share of the target asked for at once; the rest follows at the pace of a new target, while the factor, which may be some percent
/// off, is learned again: without that rest it overshoots by 8 %.
const FROM_STANDING: f32 = 0.93;

/// What the trim asks of the air side for one lift.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Wanted {
    /// Air.
    pub air: FreeAir,
    /// True when the target is beyond what the lift can move.
    pub out_of_reach: bool,
}

/// The trim of one lift.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trim {
    ramped: WaterFlow,
    factor: f32,
    returning: bool,
}

impl Trim {
    /// A trim that starts at its target with this learned factor.
    #[must_use]
    pub fn new(target: WaterFlow, factor: f32) -> Self {
        Self {
            ramped: target,
            factor,
            returning: false,
        }
    }

    /// Starts again from `flow`, as after a time in manual or out of service, quicker than a new target would be approached;
    /// from standing still most of it at once.
    pub fn return_from(&mut self, flow: WaterFlow) {
        self.ramped = WaterFlow::from_m3_s(seldom::positive(flow.m3_s));
        self.returning = true;
    }

    /// Starts again from `flow` with this factor, as after a trial.
    pub fn restart(&mut self, flow: WaterFlow, factor: f32) {
        self.factor = factor;
        self.return_from(flow);
    }

    /// Its curve is another one now, and gives this at the air it gets, m3/s: it begins from that air.
    pub fn keep_air(&mut self, curve_m3_s: f32) {
        self.factor = self.ramped.m3_s / seldom::larger(curve_m3_s, 1.0e-7);
    }

    /// The target as ramped so far.
    #[must_use]
    pub fn ramped(&self) -> WaterFlow {
        self.ramped
    }

    /// One step: moves the ramp and the factor on.
    pub fn advance(&mut self, target: WaterFlow, factor: f32, seconds: f32, settings: &Settings) {
        let faster = if self.returning { RETURN_FASTER } else { 1.0 };
        let pace = faster * settings.ramp_per_s * seconds * larger(target.m3_s, self.ramped.m3_s);
        let gap = target.m3_s - self.ramped.m3_s;
        let from_standing = self.returning && self.ramped.m3_s < STOOD_STILL * target.m3_s;
        if settings.ramp_per_s >= 1.0 || gap.abs() <= pace {
            self.ramped = target;
            self.returning = false;
        } else if from_standing {
            self.ramped = WaterFlow::from_m3_s(FROM_STANDING * target.m3_s);
            self.returning = false;
        } else {
            self.ramped.m3_s += if gap > 0.0 { pace } else { -pace };
        }
        let share = if seconds > 0.0 {
            seconds / (seconds + larger(settings.trim_s, 0.0))
        } else {
            0.0
        };
        self.factor += share * (factor - self.factor);
    }

    /// The air for the ramped target on this curve, within the air floor and the most water of the curve that may be asked for, m3/s.
    #[must_use]
    pub fn wanted(&self, curve: &Curve, most: f32, floor: FreeAir) -> Wanted {
        let factor = limit(self.factor, TRUSTED_FACTOR.0, TRUSTED_FACTOR.1);
        let asked = self.ramped.m3_s / factor;
        let out_of_reach = asked > most;
        let air = curve
            .air_for(WaterFlow::from_m3_s(smaller(asked, most)))
            .unwrap_or(FreeAir::ZERO);
        Wanted {
            air: if air > floor { air } else { floor },
            out_of_reach,
        }
    }
}

/// Air that aerates without moving water, as far as the air floor allows; `None` when the floor itself moves water.
#[must_use]
pub fn air_to_stand_still(curve: &Curve, floor: FreeAir) -> Option<FreeAir> {
    let still = FreeAir::from_m3_s(BELOW_ONSET * curve.onset()?.m3_s);
    (still >= floor).then_some(still)
}

/// Air for a lift whose tank is too full or its source too empty: below the onset, on the air floor where the floor allows.
///
/// A floor that moves water gives way here: a flooded or drained tank is the worse harm, and the lift still aerates.
#[must_use]
pub fn air_when_held(curve: &Curve, floor: FreeAir) -> FreeAir {
    match curve.onset() {
        None => floor,
        Some(onset) => {
            let still = FreeAir::from_m3_s(BELOW_ONSET * onset.m3_s);
            if floor.m3_s > FLOOR_MOVES_WATER * onset.m3_s || floor < still {
                still
            } else {
                floor
            }
        }
    }
}

/// The air a floor is aimed at: two fifths above it, because what a valve passes is known no better.
#[must_use]
pub fn floor_with_margin(floor: FreeAir) -> FreeAir {
    FreeAir::from_m3_s(FLOOR_MARGIN * floor.m3_s)
}

/// Turns wanted openings into moves a real valve can make: none smaller than the deadband, none sooner than the
/// interval, backlash made up for; and keeps a belief of where the valve stands.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ValveTrim {
    held: Opening,
    position: Opening,
    rising: bool,
    since_move: Held,
}

/// Wanted openings further off than this are followed at once, whatever the interval.
const BIG_MOVE: f32 = 0.05;
/// The same while another lift's valve is on a long way and takes the pressure with it.
const HURRIED_MOVE: f32 = 0.005;

impl ValveTrim {
    /// A valve that stands at `opening`.
    #[must_use]
    pub fn new(opening: Opening) -> Self {
        Self {
            held: opening,
            position: opening,
            rising: true,
            since_move: Held::LONG,
        }
    }

    /// A valve that stands at `position` and is sent to `held`.
    #[must_use]
    pub fn sent(position: Opening, held: Opening) -> Self {
        Self {
            held,
            position,
            rising: held > position,
            since_move: Held::LONG,
        }
    }

    /// Where the valve was sent.
    #[must_use]
    pub fn held(&self) -> Opening {
        self.held
    }

    /// Where the valve is believed to stand.
    #[must_use]
    pub fn position(&self) -> Opening {
        self.position
    }

    /// Lets the valve travel for one step.
    pub fn travel(&mut self, stroke_s: f32, step_ms: u32, seconds: f32) {
        self.since_move.add(step_ms);
        if self.held != self.position {
            self.position = self.position_after(stroke_s, seconds);
        }
    }

    /// Position at the end of the next step of this length.
    #[must_use]
    #[inline(never)]
    pub fn position_after(&self, stroke_s: f32, seconds: f32) -> Opening {
        let gap = self.held.share() - self.position.share();
        let reach = if stroke_s > 0.0 { seconds / stroke_s } else { 1.0 };
        Opening::new(self.position.share() + limit(gap, -reach, reach))
    }

    /// Follows a wanted opening closely, whatever the interval: while the pressure is on the move.
    pub fn hurry(&mut self, wanted: Opening) {
        if (wanted.share() - self.held.share()).abs() > HURRIED_MOVE {
            self.go_to(wanted);
        }
    }

    /// Follows a wanted opening as far as deadband and interval allow; true when the valve moves.
    pub fn follow(&mut self, wanted: Opening, settings: &Settings) -> bool {
        let gap = wanted.share() - self.held.share();
        let due = self.since_move.reached_s(settings.move_interval_s) && gap.abs() > settings.valve_deadband;
        if due || gap.abs() > BIG_MOVE {
            self.go_to(wanted);
        }
        due
    }

    /// Goes to an opening at once.
    pub fn go_to(&mut self, opening: Opening) {
        if opening != self.held {
            self.rising = opening > self.held;
            self.held = opening;
            self.since_move.clear();
        }
    }

    /// Goes to an opening at a pace of one stroke in `stroke_s`.
    pub fn go_slowly(&mut self, opening: Opening, stroke_s: u32, step_ms: u32) {
        #[allow(clippy::cast_precision_loss)] // a share of a stroke
        let pace = step_ms as f32 / (stroke_s.saturating_mul(1000).saturating_add(1)) as f32;
        let gap = opening.share() - self.held.share();
        let next = if gap.abs() <= pace {
            opening
        } else {
            Opening::new(self.held.share() + seldom::limit(gap, -pace, pace))
        };
        self.go_to(next);
    }

    /// The opening to command: beyond the one wanted by half the play of the gears, in the direction of the last move.
    #[must_use]
    pub fn command(&self, backlash: f32, settings: &Settings) -> Opening {
        let half = 0.5 * backlash;
        if self.held == Opening::SHUT || self.held == Opening::WIDE {
            return self.held;
        }
        let beyond = self.held.share() + if self.rising { half } else { -half };
        Opening::within(beyond, (settings.least_opening, settings.most_opening))
    }
}
