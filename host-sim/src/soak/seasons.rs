//! What happens on each day of a year: seasons, evaporation, fouling and cleanings.

use super::calendar::DAY_S;
use crate::plant::Change;
use crate::scenario::Happening;
use risertrim::Command;

/// Days in a year.
pub const YEAR_DAYS: f64 = 365.0;
/// Swing of the water's temperature about the told one over a year, C.
const SWING_C: f64 = 6.0;
/// Evaporation in spring and autumn, m3 a day; half as much more in summer, half as much less in winter.
const EVAPORATES_M3_DAY: f64 = 0.02;
/// Each lift fouls by this much between two cleanings.
pub const FOULS: f64 = 0.2;
/// Days between two cleanings of the first lift; each next one takes [`NEXT_DAYS`] longer.
const CLEANED_DAYS: u32 = 60;
/// See [`CLEANED_DAYS`].
const NEXT_DAYS: u32 = 15;
/// A cleaning takes this long, s.
pub const CLEANING_S: f64 = 1800.0;
/// Hours of the day at which lifts are cleaned and evaporation is made up for.
pub const CLEANED_AT_H: f64 = 10.0;
const TOP_UP_AT_H: f64 = 20.0;

/// Days between two cleanings of a lift.
pub fn cycle_days(lift: usize) -> u32 {
    CLEANED_DAYS + NEXT_DAYS * u32::try_from(lift).unwrap_or(0)
}

/// True on a day on which a lift is cleaned.
pub fn is_cleaned(day: u32, lift: usize) -> bool {
    day > 0 && day.is_multiple_of(cycle_days(lift))
}

fn season(day: u32) -> f64 {
    // Coldest in January, warmest in July on the northern half.
    (std::f64::consts::TAU * (f64::from(day) - 105.0) / YEAR_DAYS).sin()
}

/// Temperature of the water on a day, about the told one, C.
pub fn temperature_c(day: u32, told_c: f64) -> f64 {
    (told_c + SWING_C * season(day)).clamp(0.0, 40.0)
}

/// A day's happenings, the last first.
pub fn day_script(day: u32, lifts: usize, told_c: f64) -> Vec<(f64, Happening)> {
    let plant = |at_s: f64, change, over_s| (at_s, Happening::Plant { change, over_s });
    let evaporates = EVAPORATES_M3_DAY * (1.0 + 0.5 * season(day));
    let water_c = temperature_c(day + 1, told_c);
    let mut script = vec![
        plant(0.0, Change::Warm { water_c }, DAY_S),
        plant(
            0.0,
            Change::Evaporate {
                tank: 0,
                m3_s: evaporates / DAY_S,
            },
            0.0,
        ),
        plant(
            TOP_UP_AT_H * 3600.0,
            Change::TopUp {
                tank: 0,
                m3: evaporates,
            },
            600.0,
        ),
    ];
    for (index, lift) in (0u8..).zip(0..lifts).filter(|(_, lift)| is_cleaned(day, *lift)) {
        let at_s = CLEANED_AT_H * 3600.0;
        script.push((
            at_s,
            Happening::Both {
                command: Command::OutOfService { lift: index },
                change: Change::ShutLift { lift, shut: true },
            },
        ));
        script.push(plant(at_s + 0.5 * CLEANING_S, Change::CleanLift { lift }, 0.0));
        script.push((
            at_s + CLEANING_S,
            Happening::Both {
                command: Command::Automatic { lift: index },
                change: Change::ShutLift { lift, shut: false },
            },
        ));
        let over_s = f64::from(cycle_days(lift)) * DAY_S;
        script.push(plant(
            at_s + CLEANING_S + 3600.0,
            Change::FoulLift { lift, lost: FOULS },
            over_s,
        ));
    }
    script.sort_by(|a, b| b.0.total_cmp(&a.0));
    script
}
