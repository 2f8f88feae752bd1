//! Where in a place a fault strikes.

use crate::scenario::Scenario;

/// The parts of a place that faults strike: a lift that feeds fish, its tank, and the tank it draws from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Site {
    /// The lift.
    pub lift: usize,
    /// The tank it fills.
    pub tank: usize,
    /// The tank it draws from.
    pub source: usize,
    /// There is a manifold gauge.
    pub gauge: bool,
}

impl Site {
    /// The first lift that fills a tank with fish, or else the first lift.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Option<Self> {
        let told = &scenario.told;
        let fills_fish = |to: u8| told.tanks.get(usize::from(to)).is_some_and(|tank| tank.fish);
        let lift = told.lifts.iter().position(|lift| fills_fish(lift.to)).unwrap_or(0);
        let own = told.lifts.get(lift)?;
        Some(Self {
            lift,
            tank: usize::from(own.to),
            source: usize::from(own.from),
            gauge: told.air.gauge_noise_pa.is_some(),
        })
    }
}
