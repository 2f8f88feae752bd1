//! What rules a pipe out.

use super::L_MIN;
use super::candidate::Candidate;
use super::request::Request;
use risertrim::air::{AirSupply, BlowerPoint};
use std::fmt;

/// Most of its peak that a lift should be asked for: beyond, much more air brings little more water, and dirt or a falling
/// sump pushes it over the peak.
pub const MOST_SHARE_OF_PEAK: f64 = 0.8;
/// Least air over that of the onset: nearer, a few percent less air stop the water.
pub const ONSET_MARGIN: f64 = 1.2;
/// Share of a narrower pipe's peak from which a wider pipe must not need more air than it.
const NARROWER_COUNTS_FROM: f64 = 0.5;

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

impl Candidate {
    /// The rules that one pipe breaks by itself; `least_air_m3_s` is the air for the least water at the hardest levels.
    pub(super) fn alone(&self, request: &Request, least_air_m3_s: Option<f64>) -> Vec<Rule> {
        let Some(onset) = self.onset_air_m3_s.filter(|_| self.peak_m3_s > 0.0) else {
            return vec![Rule::NeverRises];
        };
        let Some(air) = self.air_m3_s else {
            return vec![Rule::BeyondPeak {
                peak_m3_s: self.peak_m3_s,
            }];
        };
        let mut rules = Vec::new();
        if self.share_of_peak > MOST_SHARE_OF_PEAK {
            rules.push(Rule::PastShare {
                share: self.share_of_peak,
            });
        }
        let least = least_air_m3_s.unwrap_or(air);
        if least < ONSET_MARGIN * onset {
            rules.push(Rule::NearOnset { ratio: least / onset });
        }
        if let Some(floor) = request.floor_m3_s().filter(|floor| *floor > self.peak_air_m3_s) {
            rules.push(Rule::FloorTooHigh {
                floor_m3_s: floor,
                peak_air_m3_s: self.peak_air_m3_s,
            });
        }
        if let Some(curve) = &request.blower {
            let all = air.max(request.floor_m3_s().unwrap_or(0.0)) * f64::from(request.lifts);
            let holds = blower_pa(curve, all);
            if holds < self.blower_pa {
                rules.push(Rule::BlowerTooWeak {
                    air_m3_s: all,
                    needs_pa: self.blower_pa,
                    holds_pa: holds,
                });
            }
        }
        if self.water_m_s < request.least_speed_m_s {
            rules.push(Rule::TooSlow {
                speed_m_s: self.water_m_s,
                least_m_s: request.least_speed_m_s,
            });
        }
        rules
    }

    /// The narrower pipe that shames this one: it needs less air at the same flow, which is more than half of its peak.
    pub(super) fn shamed_by(&self, others: &[Self], water_m3_s: f64) -> Option<Rule> {
        let air = self.air_m3_s?;
        let narrower = others.iter().filter(|other| {
            other.pipe.bore_mm < self.pipe.bore_mm && water_m3_s > NARROWER_COUNTS_FROM * other.peak_m3_s
        });
        let less = narrower.filter_map(|other| other.air_m3_s.map(|air| (other, air)));
        let (least, its_air) = less.min_by(|a, b| a.1.total_cmp(&b.1))?;
        (its_air < air).then(|| Rule::MoreAirThanNarrower {
            pipe: least.pipe.short(),
            ratio: air / its_air,
        })
    }
}

/// Pressure a blower holds at this air, Pa; nothing beyond the end of its curve.
pub(super) fn blower_pa(curve: &[(f64, f64)], air_m3_s: f64) -> f64 {
    let supply = AirSupply {
        curve: curve
            .iter()
            .map(|(air, pressure)| BlowerPoint {
                air_m3_s: super::single(*air),
                pressure_pa: super::single(*pressure),
            })
            .take(risertrim::air::BLOWER_POINTS)
            .collect(),
        ..AirSupply::NONE
    };
    let last = curve.last().map_or(0.0, |point| point.0);
    if air_m3_s > last {
        0.0
    } else {
        f64::from(supply.pressure_pa(super::single(air_m3_s)))
    }
}
