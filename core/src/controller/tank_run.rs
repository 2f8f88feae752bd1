//! What the controller keeps for each tank from step to step.

use crate::condition::Condition;
use crate::guard::{Seen, TankGuard};
use crate::level::Watch;
use crate::possibly::Possibly;
use crate::reading::Checked;
use crate::time::Held;

/// Seconds a sensor may be silent or wrong before it is an alarm.
const SENSOR_DELAY_S: u32 = 10;

/// One tank at run time.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct TankRun {
    pub watch: Watch,
    pub guard: TankGuard,
    pub seen: Seen,
    pub silent: Condition,
    pub out_of_range: Condition,
    /// Where it stood before it jumped, while it is not known yet whether it was the water, and how far that was, m.
    before_jump_m: Possibly,
    jump_by_m: f32,
    pub since_jump: Held,
    /// What its lifts together usually give of the most they ever did; `None` before it is known.
    pub usual_share: Possibly,
}

impl Default for TankRun {
    fn default() -> Self {
        Self {
            watch: Watch::default(),
            guard: TankGuard::default(),
            seen: Seen::NOTHING,
            silent: Condition::default(),
            out_of_range: Condition::default(),
            before_jump_m: Possibly::NONE,
            jump_by_m: 0.0,
            since_jump: Held::LONG,
            usual_share: Possibly::NONE,
        }
    }
}

impl TankRun {
    /// Notes what its reading is worth.
    #[inline(always)] // from one place
    pub fn note(&mut self, checked: Checked, step_ms: u32) {
        let good = matches!(checked, Checked::Level(_));
        let silent = checked == Checked::Missing;
        self.silent.follow(silent, SENSOR_DELAY_S, step_ms);
        self.out_of_range
            .update(checked == Checked::OutOfRange, good, SENSOR_DELAY_S, step_ms);
        self.since_jump.add(step_ms);
    }

    /// Where it stood before it jumped and how far that was, m, while it is not known yet whether it was the water.
    pub fn jump_m(&self) -> Option<(f32, f32)> {
        self.before_jump_m.get().map(|before| (before, self.jump_by_m))
    }

    /// It jumped, from where it stood and as far as this, m; or it is known by now what that was.
    pub fn set_jump_m(&mut self, jump: Option<(f32, f32)>) {
        self.before_jump_m = jump.map_or(Possibly::NONE, |(before, _)| Possibly::some(before));
        self.jump_by_m = jump.map_or(0.0, |(_, by)| by);
    }

    /// True while its sensor is taken to have moved.
    pub fn has_moved(&self) -> bool {
        self.watch.shift_m() != 0.0
    }
}
