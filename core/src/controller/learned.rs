//! What is kept over a restart.

use super::Controller;
use super::run::Mode;
use crate::command::Command;
use crate::guard::{Ageing, Trend};
use crate::math::seldom;
use crate::units::Opening;
use serde::{Deserialize, Serialize};

/// What a lift has learned, to be kept over a restart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Learned {
    /// Delivery factor.
    pub factor: f32,
    /// Its standard deviation.
    pub sigma: f32,
    /// Where the valve was last sent.
    pub opening: Opening,
    /// Share of the curve's most water beyond which more air gave less, in 200ths; 200 where that was never seen.
    pub most: u8,
    /// How it fouls.
    pub trend: Trend,
    /// How the blower ages: the same with every lift, for a place has no record of its own.
    pub blower: Ageing,
}

impl Learned {
    /// What was learned of a lift that was never seen to foul nor past its peak.
    #[must_use]
    pub const fn new(factor: f32, sigma: f32, opening: Opening) -> Self {
        Self {
            factor,
            sigma,
            opening,
            most: WHOLE,
            trend: Trend::NEW,
            blower: Ageing::NEW,
        }
    }

    pub(super) fn most_share(&self) -> f32 {
        f32::from(self.most) / f32::from(WHOLE)
    }
}

/// Factors that a start takes over from before.
pub(super) const FACTORS: (f32, f32) = (0.05, 3.0);
/// The largest standard deviation that it takes.
pub(super) const MOST_SIGMA: f32 = 1.0;
/// A whole, in the parts in which [`Learned::most`] is kept.
const WHOLE: u8 = 200;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// What each lift has learned, to be saved now and then.
    #[must_use]
    pub fn learned(&self) -> heapless::Vec<Learned, LIFTS> {
        let mut learned = heapless::Vec::new();
        for (index, lift) in self.lifts.iter().enumerate() {
            let factor = if lift.trust.holds_back() {
                lift.trust.used()
            } else {
                self.filter.factor(index)
            };
            let _ = learned.push(Learned {
                // Held to what a start takes: one lift that is not connected yet may not cost the others what they learned.
                factor: seldom::limit(factor, FACTORS.0, FACTORS.1),
                sigma: seldom::limit(self.filter.factor_sigma(index), 1.0e-4, MOST_SIGMA),
                opening: lift.valve.held(),
                #[allow(clippy::cast_possible_truncation)] // 255 at most
                most: seldom::whole(lift.trust.most_share() * f32::from(WHOLE) + 0.5, 255.0) as u8,
                trend: lift.trend,
                blower: self.ageing,
            });
        }
        learned
    }

    /// What people have asked for and not taken back, as the commands that ask the same of a controller which starts with this
    /// installation: other targets than its own, lifts by hand or out of service, essential air, the mains gone. At most two a
    /// lift and two more. To be saved with what was learned, and given again after a restart: a lift out of service may have a
    /// hand in it.
    pub fn standing_commands(&self) -> impl Iterator<Item = Command> + '_ {
        let lifts = (0u8..).zip(self.lifts.iter().zip(&self.installation.lifts));
        let of_lifts = lifts.flat_map(|(lift, (run, told))| {
            let flow = run.target;
            let target = (flow != told.target).then_some(Command::Target { lift, flow });
            let mode = match run.mode {
                Mode::Automatic => None,
                Mode::Manual(opening) => Some(Command::Manual { lift, opening }),
                Mode::OutOfService => Some(Command::OutOfService { lift }),
            };
            [target, mode].into_iter().flatten()
        });
        let essential = self.place.essential.then_some(Command::EssentialAir(true));
        let backup = self.place.reserve.is_on().then_some(Command::OnBackup(true));
        of_lifts.chain(essential).chain(backup)
    }
}
