//! What a stepper valve is mechanically.

use super::way::Way;
use crate::drive::Active;
use crate::units::Opening;
use serde::{Deserialize, Serialize};

/// The end at which a stepper valve finds its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Home {
    /// Shut. **Caution**: the lift has no air while it homes; for lifts that no fish depend on.
    Shut,
    /// Wide open: the fish keep their air while it homes.
    WideOpen,
}

impl Home {
    pub(super) fn way(self) -> Way {
        match self {
            Self::Shut => Way::Shutting,
            Self::WideOpen => Way::Opening,
        }
    }
}

/// The mechanics and wiring of a stepper valve. [`Mechanics::new`] gives usual values for a given stroke.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Mechanics {
    /// Steps (or microsteps) from shut to wide open; 10 to 1 000 000.
    pub stroke_steps: u32,
    /// Play of the gears, steps; less than the stroke.
    pub backlash_steps: u32,
    /// Shortest time from one step to the next, ms; 1 to 1000.
    pub step_ms: u32,
    /// Length of a step pulse, microseconds; 1 to 1000. The only thing that is waited for.
    pub pulse_us: u32,
    /// The end at which it homes.
    pub home: Home,
    /// How far beyond a full stroke homing runs when it meets no end stop, steps.
    pub overrun_steps: u32,
    /// Steps it may be out before they count as lost.
    pub tolerance_steps: u32,
    /// Homes again after this time, once it rests, ms; 0 for never.
    pub rehome_every_ms: u32,
    /// Level of the direction pin that opens the valve.
    pub opens: Active,
    /// Level of the enable pin that feeds the motor; most drivers are enabled by a low level.
    pub enable: Active,
    /// Level of the end stop when the valve stands at it. A switch that opens there shows a broken wire as "at the stop".
    pub end_stop: Active,
    /// Switches the motor off while the valve rests: for a needle that holds itself (a screw does).
    pub rests_unpowered: bool,
}

impl Mechanics {
    /// Usual values for this stroke: home wide open, 2 ms a step, no play, an overrun of a twentieth of the stroke, four steps (one
    /// electrical turn) of tolerance, homing only on request.
    #[must_use]
    pub const fn new(stroke_steps: u32) -> Self {
        Self {
            stroke_steps,
            backlash_steps: 0,
            step_ms: 2,
            pulse_us: 5,
            home: Home::WideOpen,
            overrun_steps: stroke_steps / 20,
            tolerance_steps: 4,
            rehome_every_ms: 0,
            opens: Active::High,
            enable: Active::Low,
            end_stop: Active::High,
            rests_unpowered: true,
        }
    }

    /// The same within the ranges.
    pub(super) fn sane(mut self) -> Self {
        let held = |value: u32, low: u32, high: u32| if value < low { low } else { value.min(high) };
        self.stroke_steps = held(self.stroke_steps, 10, 1_000_000);
        self.backlash_steps = held(self.backlash_steps, 0, self.stroke_steps);
        self.step_ms = held(self.step_ms, 1, 1000);
        self.pulse_us = held(self.pulse_us, 1, 1000);
        self.overrun_steps = held(self.overrun_steps, 0, self.stroke_steps);
        self
    }

    /// Steps after which the home end is reached from anywhere.
    pub(super) fn whole_run(&self) -> u32 {
        self.stroke_steps
            .saturating_add(self.backlash_steps)
            .saturating_add(self.overrun_steps)
    }

    /// Steps after which an end stop must have let go.
    pub(super) fn most_back_off(&self) -> u32 {
        (self.stroke_steps / 4)
            .saturating_add(self.backlash_steps)
            .saturating_add(self.tolerance_steps)
    }

    /// The step at an opening, to the nearest.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss
    )]
    pub(super) fn steps_at(&self, opening: Opening) -> u32 {
        // Up to a million steps: exact in f32, and the cast saturates.
        let steps = (opening.share() * self.stroke_steps as f32 + 0.5) as u32;
        steps.min(self.stroke_steps)
    }
}
