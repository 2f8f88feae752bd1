//! The least air of every lift of an installation, by the oxygen its fish need.

use super::L_MIN;
use super::layout::{lines, new_table, wrapped};
use super::request::Fish;
use super::several::usual_curve;
use crate::oxygen::{Demand, OxygenTransfer};
use crate::plant::Place;
use crate::scenario::Named;
use risertrim::units::FreeAir;
use serde_json::{Value, json};
use std::fmt;

/// The least air of one lift.
#[derive(Clone, Debug, PartialEq)]
pub struct LiftFloor {
    /// Its name.
    pub name: String,
    /// Oxygen that a litre of free air a minute brings from its depth, g/h.
    pub g_h_per_l_min: f64,
    /// Air that its target needs, free m3/s; at its peak when the target is out of reach.
    pub wanted_m3_s: f64,
    /// Air at which it moves the most water, free m3/s.
    pub peak_m3_s: f64,
    /// Its air floor until now, free m3/s.
    pub old_m3_s: f64,
    /// Its air floor for the oxygen, free m3/s.
    pub floor_m3_s: f64,
}

/// The least air of all lifts that serve fish.
#[derive(Clone, Debug, PartialEq)]
pub struct Floors {
    /// What the fish use.
    pub demand: Demand,
    /// What the lifts are to bring, g/h.
    pub needed_g_h: f64,
    /// Oxygen to be kept, mg/L.
    pub dissolved_mg_l: f64,
    /// Each lift that draws from or fills a tank with fish.
    pub lifts: Vec<LiftFloor>,
}

/// Why there are no air floors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoFloors {
    /// No lift draws from or fills a tank that is marked with fish.
    NoLiftServesFish,
    /// The water can hold no more than this, mg/L, at the depth of the shallowest lift: the wish lies above.
    OutOfReach {
        /// Wished, mg/L.
        wished_mg_l: f64,
        /// The most that bubbles of this depth give to fish water, mg/L.
        most_mg_l: f64,
    },
}

impl fmt::Display for NoFloors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoLiftServesFish => f.write_str(
                "no lift draws from or fills a tank with fish\nSet fish = true in the tanks where fish live, then ask again",
            ),
            Self::OutOfReach { wished_mg_l, most_mg_l } => write!(
                f,
                "oxygen to be kept is {wished_mg_l} mg/L, allowed: below {most_mg_l:.1} mg/L, the most that air of this depth gives\nLower the wish, or bring oxygen by other means"
            ),
        }
    }
}

impl std::error::Error for NoFloors {}

/// Shares the oxygen that the fish need among the lifts that serve them, in the proportion of the air their targets need: all
/// are then the same part of their usual air.
///
/// # Errors
/// When no lift serves fish, or when no amount of air can keep the oxygen wished.
pub fn floors(named: &Named, fish: &Fish) -> Result<Floors, NoFloors> {
    let told = &named.told;
    let site = &told.site;
    let place = Place::new(
        f64::from(site.altitude_m),
        f64::from(site.water_c),
        f64::from(site.salinity_g_kg),
    );
    let mut lifts = Vec::new();
    for (lift, name) in told.lifts.iter().zip(&named.lift_names) {
        if !told.serves_fish(lift) {
            continue;
        }
        let curve = usual_curve(told, lift);
        let peak = curve.peak();
        let depth = f64::from(curve.submergence_m());
        let transfer = OxygenTransfer::new(&place, f64::from(site.salinity_g_kg), depth, fish.dissolved_mg_l);
        if transfer.g_h_per_l_min.is_nan() || transfer.g_h_per_l_min <= 0.0 {
            return Err(NoFloors::OutOfReach {
                wished_mg_l: fish.dissolved_mg_l,
                most_mg_l: crate::oxygen::BETA * transfer.bubble_mg_l,
            });
        }
        let m3_s = |air: FreeAir| f64::from(air.m3_s);
        lifts.push(LiftFloor {
            name: name.clone(),
            g_h_per_l_min: transfer.g_h_per_l_min,
            wanted_m3_s: m3_s(curve.air_for(lift.target).unwrap_or(peak.air)),
            peak_m3_s: m3_s(peak.air),
            old_m3_s: m3_s(lift.air_floor),
            floor_m3_s: 0.0,
        });
    }
    let demand = fish.stock.demand(f64::from(site.water_c));
    let needed_g_h = (demand.worst_g_h - fish.other_g_h).max(0.0);
    let brought: f64 = lifts
        .iter()
        .map(|lift| lift.wanted_m3_s * L_MIN * lift.g_h_per_l_min)
        .sum();
    // Targets of nothing at all: share by the air at the peak instead.
    let by_peak: f64 = lifts
        .iter()
        .map(|lift| lift.peak_m3_s * L_MIN * lift.g_h_per_l_min)
        .sum();
    if lifts.is_empty() || (brought <= 0.0 && by_peak <= 0.0) {
        return Err(NoFloors::NoLiftServesFish);
    }
    for lift in &mut lifts {
        lift.floor_m3_s = if brought > 0.0 {
            needed_g_h / brought * lift.wanted_m3_s
        } else {
            needed_g_h / by_peak * lift.peak_m3_s
        };
    }
    Ok(Floors {
        demand,
        needed_g_h,
        dissolved_mg_l: fish.dissolved_mg_l,
        lifts,
    })
}

/// The floors for people.
#[must_use]
pub fn floors_text(floors: &Floors) -> String {
    let demand = &floors.demand;
    let mut text = wrapped(&format!(
        "Oxygen: {:.1} g/h at the worst hour ({:.1} by feed, {:.1} by the mass of unfed fish, times 1.4); the lifts that serve fish are to bring {:.1} g/h and keep {} mg/L (common practice: expect a third either way).",
        demand.worst_g_h, demand.by_feed_g_h, demand.by_mass_g_h, floors.needed_g_h, floors.dissolved_mg_l
    ));
    text.push('\n');
    let mut table = new_table(&[
        "lift",
        "oxygen g/h for\na L/min of air",
        "air for its\ntarget L/min",
        "air floor\nuntil now",
        "air floor for\nthe oxygen L/min",
    ]);
    for lift in &floors.lifts {
        table.add_row([
            lift.name.clone(),
            format!("{:.3}", lift.g_h_per_l_min),
            format!("{:.1}", lift.wanted_m3_s * L_MIN),
            format!("{:.1}", lift.old_m3_s * L_MIN),
            format!("{:.1}", lift.floor_m3_s * L_MIN),
        ]);
    }
    text.push_str(&lines(&table));
    text.push('\n');
    for lift in &floors.lifts {
        if lift.floor_m3_s > lift.peak_m3_s {
            text.push_str(&wrapped(&format!(
                "WARNING: {}: its air floor lies past its peak, where more air moves less water: air stones must bring the rest.",
                lift.name
            )));
        }
    }
    text.push_str(&wrapped(
        "Check with an oxygen meter at the worst hour before fish depend on it.",
    ));
    text
}

/// The floors as one JSON object; every key ends in its unit.
#[must_use]
pub fn floors_json(floors: &Floors) -> Value {
    json!({
        "oxygen_worst_hour_g_h": floors.demand.worst_g_h,
        "oxygen_from_lifts_g_h": floors.needed_g_h,
        "oxygen_kept_mg_l": floors.dissolved_mg_l,
        "lifts": floors.lifts.iter().map(|lift| json!({
            "name": lift.name,
            "oxygen_g_h_per_l_min": lift.g_h_per_l_min,
            "air_for_target_l_min": lift.wanted_m3_s * L_MIN,
            "air_at_peak_l_min": lift.peak_m3_s * L_MIN,
            "air_floor_before_l_min": lift.old_m3_s * L_MIN,
            "air_floor_l_min": lift.floor_m3_s * L_MIN,
        })).collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::oxygen::{Stock, WHOLE_SYSTEM_KG_KG};
    use crate::scenario::parse_installation;

    fn place(changes: &[(&str, &str)]) -> Named {
        let mut text = include_str!("several/place.toml").to_owned();
        for (from, to) in changes {
            assert!(text.contains(from), "{from}");
            text = text.replace(from, to);
        }
        parse_installation("test.toml", &text).unwrap_or_else(|report| panic!("{report}"))
    }

    fn fish(feed_kg_day: f64, dissolved_mg_l: f64, other_g_h: f64) -> Fish {
        Fish {
            stock: Stock {
                fish_kg: 0.0,
                feed_kg_day,
                oxygen_kg_kg: WHOLE_SYSTEM_KG_KG,
            },
            dissolved_mg_l,
            other_g_h,
        }
    }

    #[test]
    fn the_floors_together_bring_what_the_fish_use() {
        let every = place(&[("fish = false", "fish = true")]);
        let found = floors(&every, &fish(0.48, 5.0, 4.0)).expect("it can be done");
        // 0.48 kg x 0.5 a day is 10 g/h, times 1.4 at the worst hour, less 4 from elsewhere.
        let brought: f64 = found
            .lifts
            .iter()
            .map(|lift| lift.floor_m3_s * L_MIN * lift.g_h_per_l_min)
            .sum();
        assert!((brought - 10.0).abs() < 1e-6, "{brought}");
        assert_eq!(found.lifts.len(), every.told.lifts.len());
        // All are the same part of their usual air.
        let part = |lift: &LiftFloor| lift.floor_m3_s / lift.wanted_m3_s;
        assert!(
            found
                .lifts
                .iter()
                .all(|lift| (part(lift) - part(&found.lifts[0])).abs() < 1e-9)
        );
        let text = floors_text(&found);
        assert!(
            text.lines().all(|line| line.chars().count() <= 110) && text.contains("oxygen meter"),
            "{text}"
        );
    }

    #[test]
    fn nothing_is_needed_where_enough_comes_from_elsewhere() {
        let found = floors(&place(&[("fish = false", "fish = true")]), &fish(0.48, 5.0, 400.0)).expect("nothing to do");
        assert!(found.lifts.iter().all(|lift| lift.floor_m3_s == 0.0));
    }

    #[test]
    fn more_oxygen_than_the_air_gives_is_refused_with_the_most_there_is() {
        let refused = floors(&place(&[("fish = false", "fish = true")]), &fish(0.48, 15.0, 0.0)).expect_err("too much");
        let said = refused.to_string();
        // Fresh water of 20 C holds 9.09 mg/L in balance with air (Benson & Krause 1984), some more under pressure.
        assert!(
            matches!(refused, NoFloors::OutOfReach { most_mg_l, .. } if (8.0..10.5).contains(&most_mg_l)),
            "{said}"
        );
        assert!(said.contains("15 mg/L"), "{said}");
    }

    #[test]
    fn a_place_without_fish_is_told_what_to_set() {
        let none = place(&[("fish = true", "fish = false")]);
        let said = floors(&none, &fish(0.48, 5.0, 0.0)).expect_err("no fish").to_string();
        assert!(said.contains("fish = true"), "{said}");
    }
}
