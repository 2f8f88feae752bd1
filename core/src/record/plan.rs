//! How much is recorded.

use serde::{Deserialize, Serialize};

/// How often something is recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Pace {
    /// Never.
    Never,
    /// At every step.
    EveryStep,
    /// Once in so many seconds: readings as their mean, steps as the last one. A step in which a lift changes its state is recorded
    /// besides.
    Every {
        /// Seconds.
        seconds: u16,
    },
    /// When something has moved by more than the [`Sensitivity`], and at least once in so many seconds.
    OnChange {
        /// Seconds.
        at_least_every_s: u16,
    },
}

/// What counts as a change for [`Pace::OnChange`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sensitivity {
    /// A level, m.
    pub level_m: f32,
    /// The manifold pressure, Pa.
    pub manifold_pa: f32,
    /// A flow or a target, as a share of itself.
    pub flow_share: f32,
    /// An opening, share of the stroke.
    pub opening: f32,
}

impl Sensitivity {
    /// 2 mm, 100 Pa, 2 % of a flow, 1 % of the stroke.
    pub const USUAL: Self = Self {
        level_m: 0.002,
        manifold_pa: 100.0,
        flow_share: 0.02,
        opening: 0.01,
    };
}

/// What is recorded, and how often.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Plan {
    /// Readings. Only with [`Pace::EveryStep`] can the log be replayed bit by bit.
    pub readings: Pace,
    /// Steps.
    pub steps: Pace,
    /// What counts as a change.
    pub change: Sensitivity,
    /// Seconds between two records of what was learned; 0 for none.
    pub learned_every_s: u32,
    /// Seconds after which header and installation are repeated, for logs that lose their beginning; 0 for never.
    pub header_every_s: u32,
}

impl Plan {
    /// Everything at every step.
    pub const WHOLE: Self = Self {
        readings: Pace::EveryStep,
        steps: Pace::EveryStep,
        change: Sensitivity::USUAL,
        learned_every_s: 600,
        header_every_s: 3600,
    };

    /// Readings at every step, what the controller made of them every ten seconds: can be replayed and fitted.
    pub const USUAL: Self = Self {
        steps: Pace::Every { seconds: 10 },
        ..Self::WHOLE
    };

    /// Means of the readings every ten seconds, steps when something moves: can be fitted and looked at, not replayed.
    pub const SPARING: Self = Self {
        readings: Pace::Every { seconds: 10 },
        steps: Pace::OnChange { at_least_every_s: 300 },
        ..Self::WHOLE
    };

    /// Both when something moves: for a small flash or a slow radio.
    pub const ON_CHANGE: Self = Self {
        readings: Pace::OnChange { at_least_every_s: 300 },
        steps: Pace::OnChange { at_least_every_s: 300 },
        learned_every_s: 3600,
        header_every_s: 24 * 3600,
        ..Self::WHOLE
    };
}
