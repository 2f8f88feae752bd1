//! Which small test would tell what a log did not.

use super::fitted::Fitted;
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
}

/// The tests that would tell what is not told.
#[must_use]
pub fn wanted(fitted: &Fitted) -> Vec<Wanted> {
    let place = &fitted.place;
    let mut all = Vec::new();
    for (index, tank) in fitted.tanks.iter().enumerate() {
        if tank.outlets.iter().all(|outlet| outlet.times_told.told) {
            continue;
        }
        let lifts: Vec<usize> = (0..place.lifts.len())
            .filter(|lift| usize::from(place.lifts[*lift].to) == index)
            .collect();
        if !lifts.is_empty() {
            let minutes = minutes_to_drain(place, index, fitted);
            all.push(Wanted {
                tank: Some(index),
                lifts,
                minutes,
            });
        }
    }
    for (index, lift) in fitted.lifts.iter().enumerate() {
        if lift.ran.is_some() && lift.height_told && !lift.shape_told {
            all.push(Wanted {
                tank: None,
                lifts: vec![index],
                minutes: 30,
            });
        }
    }
    all
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
