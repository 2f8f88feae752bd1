//! Which small test would tell what a log did not.

use super::fitted::{Estimate, Fitted};
use crate::log::HostInstallation;

/// Longest test that is asked for, minutes.
const LONGEST_MIN: f64 = 40.0;

/// A small test that would tell more.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// Tank whose outlet it tells; `None` for a test of a curve.
    pub tank: Option<usize>,
    /// Lifts that it is made with.
    pub lifts: Vec<usize>,
    /// How long it takes, minutes.
    pub minutes: u32,
    /// How often to make it.
    pub times: u32,
    /// True where fish have no air by the lift meanwhile.
    pub fish: bool,
}

/// An outlet that is known to this share is known well enough: loops follow an outlet's error whole.
const WELL: f64 = 0.03;
/// How often a stop is asked for where nothing is known of the outlet yet: one tells a small tank's to some 6 %.
const FIRST: u32 = 4;
/// How often at most.
const MOST: u32 = 10;

/// The tests that would tell what is not told, or not well.
#[must_use]
pub fn wanted(fitted: &Fitted) -> Vec<Wanted> {
    let place = &fitted.place;
    let mut all = Vec::new();
    for (index, tank) in fitted.tanks.iter().enumerate() {
        let times = tank.outlets.iter().map(|outlet| times(&outlet.times_told)).max();
        let Some(times) = times.filter(|times| *times > 0) else {
            continue;
        };
        let lifts: Vec<usize> = (0..place.lifts.len())
            .filter(|lift| usize::from(place.lifts[*lift].to) == index)
            .collect();
        if !lifts.is_empty() {
            let minutes = minutes_to_drain(place, index, fitted);
            all.push(Wanted {
                tank: Some(index),
                lifts,
                minutes,
                times,
                fish: place.tanks[index].fish,
            });
        }
    }
    for (index, lift) in fitted.lifts.iter().enumerate() {
        if lift.ran.is_some() && lift.height_told && !lift.shape_told {
            all.push(Wanted {
                tank: None,
                lifts: vec![index],
                minutes: 30,
                times: 1,
                fish: false,
            });
        }
    }
    all
}

/// How many stops more make an outlet known [`WELL`]; deviations fall with the root of their number.
fn times(of: &Estimate) -> u32 {
    if !of.told {
        return FIRST;
    }
    if of.sigma <= WELL {
        return 0;
    }
    // Taken for what one stop gave.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // some
    let more = ((of.sigma / WELL).powi(2) - 1.0).ceil() as u32;
    more.clamp(1, MOST)
}

/// Minutes in which a tank falls to a tenth of its outlet's flow, by what it is told, and two more; from three on.
fn minutes_to_drain(place: &HostInstallation, index: usize, fitted: &Fitted) -> u32 {
    let tank = &place.tanks[index];
    let ran = fitted
        .lifts
        .iter()
        .zip(&place.lifts)
        .find(|(_, lift)| usize::from(lift.to) == index)
        .and_then(|(fit, _)| fit.ran);
    let mut level = ran.map_or(
        0.5 * f64::from(tank.limits.low_warn_m + tank.limits.high_warn_m),
        |ran| ran.levels_m.1,
    );
    #[allow(clippy::cast_possible_truncation)]
    let flow = |level: f64| -> f64 {
        tank.outlets
            .iter()
            .map(|outlet| {
                let down = match outlet.to {
                    risertrim::outlet::Drain::Tank(to) => {
                        ran.map(|ran| (ran.levels_m.0 + f64::from(place.floor_m(to)) - f64::from(tank.floor_m)) as f32)
                    }
                    risertrim::outlet::Drain::Away => None,
                };
                f64::from(outlet.flow_m3_s(level as f32, down)).max(0.0)
            })
            .sum()
    };
    let first = flow(level);
    let mut seconds = 0.0;
    while flow(level) > 0.1 * first && seconds < 60.0 * LONGEST_MIN {
        #[allow(clippy::cast_possible_truncation)]
        let area = f64::from(tank.area_m2(level as f32));
        level -= flow(level) / area;
        seconds += 1.0;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let minutes = (seconds / 60.0 + 2.0).ceil() as u32;
    minutes.max(3)
}
