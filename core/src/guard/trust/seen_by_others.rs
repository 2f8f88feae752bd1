//! What a lift's trust says of it: read, and nothing changed.

use super::{Phase, Trust};
use crate::guard::Hint;
use crate::math::seldom;

impl Trust {
    /// What it usually delivers, as a share of its curve.
    #[must_use]
    pub fn usual(&self) -> f32 {
        self.usual
    }

    /// The factor the trim is to use.
    #[must_use]
    pub fn used(&self) -> f32 {
        self.used
    }

    /// The most it has delivered, as a share of its curve; 0 before it is known.
    #[must_use]
    pub fn best(&self) -> f32 {
        self.best
    }

    /// True once something can be judged by what was learned.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.phase != Phase::Learning
    }

    /// The lift moves next to nothing all of a sudden.
    #[must_use]
    pub fn stands(&self) -> bool {
        self.stands.stands()
    }

    /// Nothing stands nor turns of what says that the lift does not do as it is told.
    #[must_use]
    pub fn is_calm(&self) -> bool {
        self.stands.or(self.more).rests() && self.phase != Phase::NoAnswer
    }

    /// The lift seems to deliver more than it ever did.
    #[must_use]
    pub fn seems_more(&self) -> bool {
        self.more.stands()
    }

    /// It is being tried with less air.
    #[must_use]
    pub fn is_asking(&self) -> bool {
        self.trying || self.phase == Phase::Asked
    }

    /// What it seems to give and does not, as long as it is so.
    #[must_use]
    pub fn is_held(&self) -> Option<Hint> {
        self.held
    }

    /// Of a lift that shares its tank: all together give clearly more than they ever did, or clearly less, and do not stand.
    #[must_use]
    pub fn is_odd(&self) -> bool {
        self.is_known() && !self.gives_no_answer() && (self.seems_more() || self.weaker)
    }

    /// More air gave no more water.
    #[must_use]
    pub fn gives_no_answer(&self) -> bool {
        self.phase == Phase::NoAnswer
    }

    /// The lift delivers clearly less than it did at best.
    #[must_use]
    pub fn is_fouled(&self) -> bool {
        self.fouled.stands()
    }

    /// What it delivers of the best it did, percent.
    #[must_use]
    pub fn percent_of_best(&self, factor: f32) -> u16 {
        seldom::whole(100.0 * factor / seldom::larger(self.best, 0.01), 1000.0)
    }

    /// True when the trim goes by what was learned before, not by what is seen now.
    #[must_use]
    pub fn holds_back(&self) -> bool {
        self.stands() || self.seems_more() || matches!(self.phase, Phase::NoAnswer | Phase::Asked)
    }

    /// Share of the curve's most water beyond which more air gave less; 1 where that was never seen.
    #[must_use]
    pub fn most_share(&self) -> f32 {
        self.most
    }
}
