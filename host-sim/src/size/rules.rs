//! Which rules a pipe breaks.

use super::candidate::Candidate;
use super::request::Request;
use super::rule::Rule;
use crate::precision::narrow;
use risertrim::air::{AirSupply, BlowerPoint};

/// Most of its peak that a lift should be asked for: beyond, much more air brings little more water, and dirt or a falling
/// sump pushes it over the peak.
pub const MOST_SHARE_OF_PEAK: f64 = 0.8;
/// Least air over that of the onset: nearer, a few percent less air stop the water.
pub const ONSET_MARGIN: f64 = 1.2;
/// Share of a narrower pipe's peak from which a wider pipe must not need more air than it.
const NARROWER_COUNTS_FROM: f64 = 0.5;

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
                air_m3_s: narrow(*air),
                pressure_pa: narrow(*pressure),
            })
            .take(risertrim::air::BLOWER_POINTS)
            .collect(),
        ..AirSupply::NONE
    };
    let last = curve.last().map_or(0.0, |point| point.0);
    if air_m3_s > last {
        0.0
    } else {
        f64::from(supply.pressure_pa(narrow(air_m3_s)))
    }
}
