//! Whether something has moved enough since it was last recorded.

use super::kinds::gather;
use super::{LiftRecord, Sensitivity, StepRecord};
use crate::math::larger;
use crate::reading::Checked;
use crate::step::Step;

/// True when a lift changed its state, or there is another number of lifts.
pub(super) fn changed_state<const LIFTS: usize, const TANKS: usize>(
    before: &StepRecord<LIFTS, TANKS>,
    now: &StepRecord<LIFTS, TANKS>,
) -> bool {
    before.lifts.len() != now.lifts.len() || before.lifts.iter().zip(&now.lifts).any(|(a, b)| a.state != b.state)
}

/// True when a step differs from the one recorded before by more than the sensitivity.
pub(super) fn step_moved<const LIFTS: usize, const TANKS: usize>(
    before: &StepRecord<LIFTS, TANKS>,
    now: &StepRecord<LIFTS, TANKS>,
    change: &Sensitivity,
) -> bool {
    let pressure = match (before.basis.seen, now.basis.seen) {
        (Some(a), Some(b)) => beyond(a.manifold_pa, b.manifold_pa, change.manifold_pa),
        (a, b) => a.is_some() != b.is_some(),
    };
    pressure
        || changed_state(before, now)
        || before.blower.units != now.blower.units
        || beyond(before.blower.speed, now.blower.speed, change.opening)
        || before
            .lifts
            .iter()
            .zip(&now.lifts)
            .any(|(a, b)| lift_moved(a, b, change))
        || before.tanks.len() != now.tanks.len()
        || before
            .tanks
            .iter()
            .zip(&now.tanks)
            .any(|(a, b)| beyond(a.level_m, b.level_m, change.level_m) || kind(a.reading) != kind(b.reading))
}

fn lift_moved(a: &LiftRecord, b: &LiftRecord, change: &Sensitivity) -> bool {
    let share = |x: f32, y: f32| beyond(x, y, change.flow_share * larger(x.abs(), y.abs()));
    beyond(a.command.share(), b.command.share(), change.opening)
        || share(a.flow_m3_s, b.flow_m3_s)
        || share(a.target_m3_s, b.target_m3_s)
}

fn beyond(a: f32, b: f32, most: f32) -> bool {
    (a - b).abs() > most
}

/// What a reading was worth, without the number.
fn kind(checked: Checked) -> u8 {
    match checked {
        Checked::Level(_) => 0,
        Checked::Missing => 1,
        Checked::OutOfRange => 2,
        Checked::Implausible => 3,
    }
}

/// What the readings of a step came to, to see whether the next differ.
#[derive(Clone, Debug)]
pub(super) struct Checks<const TANKS: usize> {
    levels: heapless::Vec<Checked, TANKS>,
    manifold_pa: f32,
}

impl<const TANKS: usize> Checks<TANKS> {
    pub const NONE: Self = Self {
        levels: heapless::Vec::new(),
        manifold_pa: 0.0,
    };

    pub fn of<const LIFTS: usize>(step: &Step<LIFTS, TANKS>) -> Self {
        Self {
            levels: gather(step.tanks.iter().map(|tank| tank.reading)),
            manifold_pa: step.manifold_pa,
        }
    }

    /// True when a level read, or the manifold pressure, differs by more than the sensitivity.
    pub fn moved(&self, now: &Self, change: &Sensitivity) -> bool {
        self.levels.len() != now.levels.len()
            || beyond(self.manifold_pa, now.manifold_pa, change.manifold_pa)
            || self.levels.iter().zip(&now.levels).any(|pair| match pair {
                (Checked::Level(a), Checked::Level(b)) => beyond(*a, *b, change.level_m),
                (a, b) => kind(*a) != kind(*b),
            })
    }
}
