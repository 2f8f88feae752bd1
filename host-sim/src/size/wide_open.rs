//! What happens to the tanks when every valve stands wide open at full blower: the state after a lost signal or controller.
//!
//! The modelled installation is run, first with the openings for its targets until its levels have settled, then with every
//! valve open. Whatever runs over a rim, and every source drawn down to the foot of a lift, is a trouble.

use super::L_MIN;
use crate::plant::{Plant, PlantSpec, SpecError};
use std::fmt;

/// Time given to the levels to settle at the targets, s.
const SETTLE_S: f64 = 3600.0;
/// Longest time with every valve open, s.
const OPEN_S: f64 = 6.0 * 3600.0;
/// Step of the run, s.
const STEP_S: f64 = 1.0;
/// Spill that counts, m3.
const SPILL_M3: f64 = 1e-3;
/// Water over the air inlet below which a source counts as drawn down to the foot, m.
const FOOT_M: f64 = 0.02;
/// Change of every level over ten minutes at which the levels stand still, m.
const STILL_M: f64 = 2e-4;

/// What goes wrong with every valve open.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// A tank's outlets cannot carry what comes in.
    RunsOver {
        /// The tank.
        tank: String,
        /// When it begins, s after the valves opened.
        after_s: f64,
        /// Water over the rim in the end, m3/s.
        spill_m3_s: f64,
    },
    /// A source sinks to the foot of a lift.
    DownToFoot {
        /// The tank.
        tank: String,
        /// The lift.
        lift: String,
        /// When, s after the valves opened.
        after_s: f64,
    },
    /// A source sinks below the level at which its lifts should be held.
    BelowLimit {
        /// The tank.
        tank: String,
        /// Lowest level, m.
        level_m: f64,
        /// The limit, m.
        limit_m: f64,
    },
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::RunsOver {
                tank,
                after_s,
                spill_m3_s,
            } => write!(
                f,
                "{tank} runs over its rim after {}, {:.0} L/min: its outlets cannot carry what comes in. Fit a wider or lower overflow, or stops on the valves.",
                minutes(*after_s),
                spill_m3_s * L_MIN
            ),
            Self::DownToFoot { tank, lift, after_s } => write!(
                f,
                "{tank} is drawn down to the foot of lift {lift} after {}: a bigger tank, or overflows that return the water sooner, or stops on the valves.",
                minutes(*after_s)
            ),
            Self::BelowLimit { tank, level_m, limit_m } => write!(
                f,
                "{tank} sinks to {:.0} mm, below its acting level of {:.0} mm.",
                1000.0 * level_m,
                1000.0 * limit_m
            ),
        }
    }
}

fn minutes(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{seconds:.0} s")
    } else {
        format!("{:.0} min", seconds / 60.0)
    }
}

/// The installation at its targets and with every valve open, by the marched model.
#[derive(Clone, Debug, PartialEq)]
pub struct WideOpen {
    /// Water of each lift at the openings for its targets, m3/s.
    pub trimmed_m3_s: Vec<f64>,
    /// Manifold pressure then, Pa above the atmosphere.
    pub trimmed_pa: f64,
    /// Free air of the blower then, m3/s.
    pub trimmed_air_m3_s: f64,
    /// Water of each lift with every valve open, m3/s.
    pub water_m3_s: Vec<f64>,
    /// Free air of each lift then, m3/s.
    pub air_m3_s: Vec<f64>,
    /// Manifold pressure then, Pa above the atmosphere.
    pub manifold_pa: f64,
    /// Lowest level of each tank, m.
    pub lowest_m: Vec<f64>,
    /// Highest level of each tank, m.
    pub highest_m: Vec<f64>,
    /// How long it was run, s.
    pub run_s: f64,
    /// What goes wrong; none when the place looks after itself.
    pub troubles: Vec<Trouble>,
}

/// Runs an installation with its valves at `openings`, then with all at `most` (0 to 1). `low_act_m` is each tank's acting low
/// level; it counts for tanks that lifts draw from.
///
/// # Errors
/// An installation that the plant refuses.
pub fn wide_open(spec: &PlantSpec, openings: &[f64], most: f64, low_act_m: &[f64]) -> Result<WideOpen, SpecError> {
    let mut plant = Plant::new(spec.clone())?;
    let mut time = 0.0;
    while time < SETTLE_S {
        plant.advance(STEP_S, openings);
        time += STEP_S;
    }
    let levels = |plant: &Plant| -> Vec<f64> { plant.state().tanks.iter().map(|tank| tank.level_m).collect() };
    let spilled = |plant: &Plant| -> Vec<f64> { plant.state().tanks.iter().map(|tank| tank.spilled_m3).collect() };
    let before = plant.state().clone();
    let spilled_before = spilled(&plant);
    let all = vec![most; spec.lifts.len()];
    let (mut lowest, mut highest) = (levels(&plant), levels(&plant));
    let mut troubles: Vec<Trouble> = Vec::new();
    let (mut mark, mut mark_spilled) = (levels(&plant), spilled(&plant));
    let mut run = 0.0;
    while run < OPEN_S {
        plant.advance(STEP_S, &all);
        run += STEP_S;
        note(&plant, spec, &spilled_before, run, &mut troubles);
        for ((low, high), tank) in lowest.iter_mut().zip(&mut highest).zip(&plant.state().tanks) {
            *low = low.min(tank.level_m);
            *high = high.max(tank.level_m);
        }
        if run % 600.0 < 0.5 * STEP_S {
            let (now, now_spilled) = (levels(&plant), spilled(&plant));
            let still = now.iter().zip(&mark).all(|(now, mark)| (now - mark).abs() < STILL_M);
            let rates: Vec<f64> = now_spilled
                .iter()
                .zip(&mark_spilled)
                .map(|(now, mark)| (now - mark) / 600.0)
                .collect();
            for trouble in &mut troubles {
                if let Trouble::RunsOver { tank, spill_m3_s, .. } = trouble
                    && let Some(index) = spec.tanks.iter().position(|spec| spec.name == *tank)
                {
                    *spill_m3_s = spill_m3_s.max(rates.get(index).copied().unwrap_or(0.0));
                }
            }
            (mark, mark_spilled) = (now, now_spilled);
            if still {
                break;
            }
        }
    }
    for (index, (tank, limit)) in spec.tanks.iter().zip(low_act_m).enumerate() {
        let level = lowest.get(index).copied().unwrap_or(f64::MAX);
        let drawn = spec.lifts.iter().any(|lift| lift.from == index);
        let known = troubles
            .iter()
            .any(|t| matches!(t, Trouble::DownToFoot { tank: name, .. } if *name == tank.name));
        if drawn && !known && level < *limit {
            troubles.push(Trouble::BelowLimit {
                tank: tank.name.clone(),
                level_m: level,
                limit_m: *limit,
            });
        }
    }
    let state = plant.state();
    Ok(WideOpen {
        trimmed_m3_s: before.lifts.iter().map(|lift| lift.water_m3_s).collect(),
        trimmed_pa: before.manifold_pa,
        trimmed_air_m3_s: before.air_m3_s,
        water_m3_s: state.lifts.iter().map(|lift| lift.water_m3_s).collect(),
        air_m3_s: state.lifts.iter().map(|lift| lift.air_m3_s).collect(),
        manifold_pa: state.manifold_pa,
        lowest_m: lowest,
        highest_m: highest,
        run_s: run,
        troubles,
    })
}

/// Notes the first time that each trouble shows.
fn note(plant: &Plant, spec: &PlantSpec, spilled_before: &[f64], run: f64, troubles: &mut Vec<Trouble>) {
    for ((tank, state), before) in spec.tanks.iter().zip(&plant.state().tanks).zip(spilled_before) {
        let known = troubles
            .iter()
            .any(|t| matches!(t, Trouble::RunsOver { tank: name, .. } if *name == tank.name));
        if !known && state.spilled_m3 - before > SPILL_M3 {
            troubles.push(Trouble::RunsOver {
                tank: tank.name.clone(),
                after_s: run,
                spill_m3_s: 0.0,
            });
        }
    }
    for lift in &spec.lifts {
        let Some((tank, state)) = spec.tanks.get(lift.from).zip(plant.state().tanks.get(lift.from)) else {
            continue;
        };
        let known = troubles
            .iter()
            .any(|t| matches!(t, Trouble::DownToFoot { lift: name, .. } if *name == lift.name));
        if !known && state.level_m < lift.injector_m + FOOT_M {
            troubles.push(Trouble::DownToFoot {
                tank: tank.name.clone(),
                lift: lift.name.clone(),
                after_s: run,
            });
        }
    }
}
