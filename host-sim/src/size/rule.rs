//! What may rule a pipe out, in words.

use super::L_MIN;
use std::fmt;

/// What rules a pipe out.
#[derive(Clone, Debug, PartialEq)]
pub enum Rule {
    /// No air raises water this high from this depth.
    NeverRises,
    /// More than it can move.
    BeyondPeak {
        /// Most water, m3/s.
        peak_m3_s: f64,
    },
    /// More than the share of its peak that a lift should be asked for.
    PastShare {
        /// Water over the most it can move.
        share: f64,
    },
    /// So little of what it can move that the air lies at the onset.
    NearOnset {
        /// Air over that of the onset.
        ratio: f64,
    },
    /// The blower does not hold the pressure at the air of all lifts.
    BlowerTooWeak {
        /// Free air of all lifts, m3/s.
        air_m3_s: f64,
        /// Pressure needed, Pa.
        needs_pa: f64,
        /// Pressure it holds, Pa.
        holds_pa: f64,
    },
    /// A narrower pipe does the same with less air.
    MoreAirThanNarrower {
        /// The narrower pipe.
        pipe: String,
        /// Air over that of the narrower one.
        ratio: f64,
    },
    /// The air that the fish need would drive more water than wanted, past the most that is allowed.
    FloorTooHigh {
        /// Air floor, m3/s.
        floor_m3_s: f64,
        /// Air at the peak, m3/s.
        peak_air_m3_s: f64,
    },
    /// The water is so slow that solids settle in the riser.
    TooSlow {
        /// Speed, m/s.
        speed_m_s: f64,
        /// Least speed, m/s.
        least_m_s: f64,
    },
    /// It works; another pipe was better.
    AnotherIsBetter {
        /// The chosen pipe.
        pipe: String,
        /// Air over that of the chosen one.
        ratio: f64,
    },
}

impl Rule {
    /// False for a rule that only puts a pipe behind others.
    #[must_use]
    pub fn is_hard(&self) -> bool {
        !matches!(self, Self::TooSlow { .. } | Self::AnotherIsBetter { .. })
    }
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |ratio: f64| 100.0 * (ratio - 1.0);
        match self {
            Self::NeverRises => f.write_str("no air raises water this high"),
            Self::BeyondPeak { peak_m3_s } => write!(f, "moves {:.0} L/min at most", peak_m3_s * L_MIN),
            Self::PastShare { share } => write!(f, "{:.0} % of its peak: no reserve", 100.0 * share),
            Self::NearOnset { ratio } => write!(f, "air only {:.0} % above the onset", percent(*ratio)),
            Self::BlowerTooWeak {
                air_m3_s,
                needs_pa,
                holds_pa,
            } => write!(
                f,
                "blower holds {:.1} of {:.1} kPa at {:.0} L/min",
                holds_pa * 1e-3,
                needs_pa * 1e-3,
                air_m3_s * L_MIN
            ),
            Self::MoreAirThanNarrower { pipe, ratio } => {
                write!(f, "{} more air than narrower {pipe}", much(percent(*ratio)))
            }
            Self::FloorTooHigh { floor_m3_s, .. } => {
                write!(f, "fish need {:.0} L/min of air: past its peak", floor_m3_s * L_MIN)
            }
            Self::TooSlow { speed_m_s, .. } => write!(f, "slow, {speed_m_s:.2} m/s: solids settle"),
            Self::AnotherIsBetter { ratio, .. } if *ratio > 1.005 => {
                write!(f, "works; {} more air", much(percent(*ratio)))
            }
            Self::AnotherIsBetter { pipe, .. } => write!(f, "works; wider than {pipe}, no gain"),
        }
    }
}

fn much(percent: f64) -> String {
    if percent < 1.0 {
        format!("{percent:.1} %")
    } else {
        format!("{percent:.0} %")
    }
}
