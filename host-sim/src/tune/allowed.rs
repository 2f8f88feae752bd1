//! What a proposal may change.

use super::fitted::Fitted;

/// What may be changed.
#[derive(Clone, Debug)]
pub struct Allowed {
    /// The settings.
    pub settings: bool,
    /// Outlets, surface and zero of each tank.
    pub tanks: Vec<bool>,
    /// The curve of each lift.
    pub curves: Vec<bool>,
}

impl Allowed {
    /// Everything, settings only if they may.
    #[must_use]
    pub fn all(fitted: &Fitted, settings: bool) -> Self {
        Self {
            settings,
            tanks: vec![true; fitted.tanks.len()],
            curves: vec![true; fitted.lifts.len()],
        }
    }

    /// The same without what is told of these lifts: their curves, and the tanks they feed.
    #[must_use]
    pub fn without(mut self, fitted: &Fitted, lifts: &[usize]) -> Self {
        for lift in lifts {
            self.curves[*lift] = false;
            self.tanks[usize::from(fitted.place.lifts[*lift].to)] = false;
        }
        self
    }
}
