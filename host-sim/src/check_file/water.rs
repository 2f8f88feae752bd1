//! Ways of the water that cannot work as they are told: outlets in a ring, crests that drown.

use crate::scenario::HostInstallation;
use risertrim::outlet::{Drain, Law, Outlet};
use risertrim::tank::Tank;

/// Share of its free flow that an outlet passes at the least while it counts as free: outlets are told no better.
const STILL_FREE: f32 = 0.95;

/// What is doubtful, a sentence each.
pub(super) fn doubts(told: &HostInstallation, tanks: &[String]) -> Vec<String> {
    let mut doubts: Vec<String> = ring(told, tanks).into_iter().collect();
    if doubts.is_empty() {
        doubts.extend(drowned(told, tanks));
    }
    doubts
}

/// The tank an outlet leads to.
fn leads_to(to: Drain) -> Option<usize> {
    match to {
        Drain::Tank(tank) => Some(usize::from(tank)),
        Drain::Away => None,
    }
}

/// The tanks that the water of one runs into by itself, each once.
fn below(told: &HostInstallation, tank: usize) -> Vec<usize> {
    let mut found = vec![tank];
    let mut next = 0;
    while let Some(own) = found.get(next).and_then(|index| told.tanks.get(*index)) {
        for to in own.outlets.iter().filter_map(|outlet| leads_to(outlet.to)) {
            if !found.contains(&to) {
                found.push(to);
            }
        }
        next += 1;
    }
    found.remove(0);
    found
}

/// The first ring of outlets there is.
fn ring(told: &HostInstallation, tanks: &[String]) -> Option<String> {
    let name = |index: usize| tanks.get(index).map_or("?", String::as_str);
    for (index, tank) in told.tanks.iter().enumerate() {
        let back = tank
            .outlets
            .iter()
            .filter_map(|outlet| leads_to(outlet.to))
            .find(|to| below(told, *to).contains(&index));
        if let Some(to) = back {
            return Some(format!(
                "outlets lead in a ring: what leaves {} for {} comes back to {} by outlets alone. Water does not run downhill both ways: \
                 look at to = of their outlets (a lift brings it up again, an outlet does not)",
                name(index),
                name(to),
                name(index)
            ));
        }
    }
    None
}

/// A crest that water falls over, by the heights of the tank it drains into.
struct Crest<'t> {
    /// `fish (outlet 1)`.
    name: String,
    tank: &'t Tank,
    outlet: &'t Outlet,
    to: usize,
    crest_m: f32,
    /// Where the tank of the crest stands while the lifts give their targets, m above its own floor.
    stands_m: f32,
}

impl Crest<'_> {
    /// True when water at this level in the tank below takes more of its flow than is known of it anyway.
    fn drowns(&self, receiver: &Tank, level_m: f32) -> bool {
        let below_m = level_m + receiver.floor_m - self.tank.floor_m;
        let free = self.outlet.flow_m3_s(self.stands_m, None);
        free > 0.0 && self.outlet.flow_m3_s(self.stands_m, Some(below_m)) < STILL_FREE * free
    }
}

/// All crests. Holes and pipes may end under water: only what water falls over has one.
fn crests<'t>(told: &'t HostInstallation, tanks: &[String]) -> Vec<Crest<'t>> {
    let standing = standing_m(told);
    let mut crests = Vec::new();
    for ((tank, name), stands_m) in told.tanks.iter().zip(tanks).zip(&standing) {
        for (number, outlet) in tank.outlets.iter().enumerate() {
            let Some(to) = leads_to(outlet.to) else { continue };
            let Some(receiver) = told.tanks.get(to) else { continue };
            let (Law::VNotch { crest_m, .. } | Law::Rectangular { crest_m, .. } | Law::Standpipe { crest_m, .. }) =
                &outlet.law
            else {
                continue;
            };
            crests.push(Crest {
                name: format!("{name} (outlet {})", number + 1),
                tank,
                outlet,
                to,
                crest_m: tank.floor_m + crest_m - receiver.floor_m,
                stands_m: *stands_m,
            });
        }
    }
    crests
}

/// Crests that are drowned while everything runs as it should.
fn drowned(told: &HostInstallation, tanks: &[String]) -> Vec<String> {
    let mut doubts = Vec::new();
    for crest in crests(told, tanks) {
        let Some(receiver) = told.tanks.get(crest.to) else {
            continue;
        };
        let usual_m = usual_m(receiver);
        if crest.drowns(receiver, usual_m) {
            let below = tanks.get(crest.to).map_or("?", String::as_str);
            doubts.push(format!(
                "tank {}: its crest lies {:.0} mm above the floor of {below}, and at the middle of its band {below} stands at {:.0} mm: \
                 drowned, it passes less than is reckoned, and the levels tell too much of the lifts. Look at floor_height_mm and crest_mm, \
                 or let {below} hold less water",
                crest.name,
                1000.0 * crest.crest_m,
                1000.0 * usual_m
            ));
        }
    }
    doubts
}

/// What tanks below can rise to, and which crests are under water then: no fault, but to be known.
pub(super) fn notes(told: &HostInstallation, tanks: &[String]) -> Vec<String> {
    let (crests, standing) = (crests(told, tanks), standing_m(told));
    let mut notes = Vec::new();
    for (index, (receiver, name)) in told.tanks.iter().zip(tanks).enumerate() {
        let emptied_m = when_all_runs_back_m(told, index, &standing);
        let warn_m = receiver.limits.high_warn_m;
        let (level_m, when) = if emptied_m > warn_m {
            (
                emptied_m,
                "once the lifts stand still and all the water has run back into it",
            )
        } else {
            (warn_m, "by its high_warn_mm")
        };
        let under: Vec<&str> = crests
            .iter()
            .filter(|crest| {
                crest.to == index && !crest.drowns(receiver, usual_m(receiver)) && crest.drowns(receiver, level_m)
            })
            .map(|crest| crest.name.as_str())
            .collect();
        if !under.is_empty() {
            notes.push(format!(
                "Tank {name} can stand at {:.0} mm {when}; then water stands over the crest of {}, which passes less than is reckoned until \
                 {name} is drawn down.",
                1000.0 * level_m,
                under.join(", ")
            ));
        }
    }
    notes
}

fn usual_m(tank: &Tank) -> f32 {
    0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m)
}

/// Where each tank stands while every lift gives its target, m: at the middle of its band where no outlet says otherwise.
fn standing_m(told: &HostInstallation) -> Vec<f32> {
    let count = told.tanks.len();
    let mut levels: Vec<f32> = told.tanks.iter().map(usual_m).collect();
    // From tank to tank downhill, at most as many steps as there are tanks.
    for _ in 0..count {
        let mut inflow = vec![0.0_f32; count];
        for lift in &told.lifts {
            for (tank, m3_s) in [(lift.to, lift.target.m3_s), (lift.from, -lift.target.m3_s)] {
                if let Some(sum) = inflow.get_mut(usize::from(tank)) {
                    *sum += m3_s;
                }
            }
        }
        for (tank, level) in told.tanks.iter().zip(&levels) {
            for outlet in &tank.outlets {
                if let Some(sum) = leads_to(outlet.to).and_then(|to| inflow.get_mut(to)) {
                    *sum += outlet.flow_m3_s(*level, None);
                }
            }
        }
        for ((tank, level), inflow) in told.tanks.iter().zip(&mut levels).zip(&inflow) {
            if !tank.outlets.is_empty() {
                *level = level_for(tank, *inflow);
            }
        }
    }
    levels
}

/// The level at which a tank's outlets pass a flow, m; its rim where they never do.
fn level_for(tank: &Tank, m3_s: f32) -> f32 {
    let passes = |level: f32| -> f32 { tank.outlets.iter().map(|outlet| outlet.flow_m3_s(level, None)).sum() };
    let (mut low, mut high) = (0.0, tank.rim_m);
    for _ in 0..24 {
        let middle = 0.5 * (low + high);
        if passes(middle) < m3_s {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The level of a tank from the middle of its band with the water of all above it that drains into it, m; at most its rim.
fn when_all_runs_back_m(told: &HostInstallation, receiver: usize, standing: &[f32]) -> f32 {
    let Some(tank) = told.tanks.get(receiver) else {
        return 0.0;
    };
    let mut level = usual_m(tank);
    if !tank.outlets.is_empty() {
        // What comes leaves again.
        return level;
    }
    let mut comes_m3 = 0.0;
    for (index, (upper, stands)) in told.tanks.iter().zip(standing).enumerate() {
        let drained = upper
            .outlets
            .iter()
            .map(|outlet| outlet.law.dry_below_m())
            .fold(f32::MAX, f32::min);
        if index != receiver && drained < *stands && below(told, index).contains(&receiver) {
            comes_m3 += upper.volume_m3(*stands) - upper.volume_m3(drained.max(0.0));
        }
    }
    let area = tank.area_m2(level);
    if area > 0.0 {
        level += comes_m3 / area;
    }
    level.min(tank.rim_m)
}
