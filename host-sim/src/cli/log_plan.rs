//! How much goes into a log, as an argument.

use clap::ValueEnum;
use risertrim::record::Plan;

/// How much goes into a log.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum LogPlan {
    /// Everything, every step
    Whole,
    /// Readings every step, decisions every 10 s: can be replayed
    Usual,
    /// Means of 10 s, decisions when something moves
    Sparing,
    /// Only what moves
    OnChange,
}

impl LogPlan {
    /// As the recorder takes it.
    pub const fn plan(self) -> Plan {
        match self {
            Self::Whole => Plan::WHOLE,
            Self::Usual => Plan::USUAL,
            Self::Sparing => Plan::SPARING,
            Self::OnChange => Plan::ON_CHANGE,
        }
    }
}
