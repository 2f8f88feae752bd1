//! Where the needle stands: a count of steps and of the play between motor and needle.

use super::mechanics::{Home, Mechanics};
use super::way::Way;
use crate::units::Opening;

/// The count of one valve.
#[derive(Clone, Copy, Debug)]
pub(super) struct Count {
    /// Steps of the needle from shut; outside the stroke only while homing.
    needle: i64,
    /// Play on the opening side of the gears: 0 when the next opening step moves the needle, all of the backlash when the next
    /// shutting step does.
    play: u32,
}

impl Count {
    /// A count that knows nothing: the furthest from home, so that homing is a whole run.
    pub(super) fn new(mechanics: &Mechanics) -> Self {
        Self {
            needle: match mechanics.home {
                Home::Shut => i64::from(mechanics.stroke_steps),
                Home::WideOpen => 0,
            },
            play: 0,
        }
    }

    pub(super) fn needle(&self) -> i64 {
        self.needle
    }

    /// The motor has made one step.
    pub(super) fn step(&mut self, way: Way, mechanics: &Mechanics) {
        match way {
            Way::Opening if self.play > 0 => self.play = self.play.saturating_sub(1),
            Way::Opening => self.needle = self.needle.saturating_add(1),
            Way::Shutting if self.play < mechanics.backlash_steps => self.play = self.play.saturating_add(1),
            Way::Shutting => self.needle = self.needle.saturating_sub(1),
        }
    }

    /// The way from here to a step; `None` when the needle stands there.
    pub(super) fn way_to(&self, target: u32) -> Option<Way> {
        let target = i64::from(target);
        if self.needle < target {
            Some(Way::Opening)
        } else if self.needle > target {
            Some(Way::Shutting)
        } else {
            None
        }
    }

    /// Steps of the needle from its home end.
    pub(super) fn off_home(&self, mechanics: &Mechanics) -> i64 {
        match mechanics.home {
            Home::Shut => self.needle,
            Home::WideOpen => i64::from(mechanics.stroke_steps).saturating_sub(self.needle),
        }
    }

    /// The needle stands at its home end, the gears against it. Gives how far it was really further open than counted.
    pub(super) fn arrive(&mut self, mechanics: &Mechanics) -> i64 {
        let (end, play) = match mechanics.home {
            Home::Shut => (0, mechanics.backlash_steps),
            Home::WideOpen => (i64::from(mechanics.stroke_steps), 0),
        };
        let further_open = end - self.needle;
        *self = Self { needle: end, play };
        further_open
    }

    /// The needle's place as an opening.
    #[allow(clippy::cast_precision_loss)] // up to a million steps: exact in f32
    pub(super) fn opening(&self, mechanics: &Mechanics) -> Opening {
        Opening::new(self.needle as f32 / mechanics.stroke_steps as f32)
    }
}
