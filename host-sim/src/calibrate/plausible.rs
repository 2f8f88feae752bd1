//! Values that only make sense in another unit, and points that tell too little.

use super::curve_model::Logs;
use super::fault::{PointFault, PointFaultKind as Kind};
use super::place::NamedLift;
use super::point::Point;
use crate::precision::narrow;
use risertrim::units::{FreeAir, WaterFlow};

/// By what a value in L/min is multiplied to be in another unit, and that unit's name.
const UNITS: [(f64, &str); 5] = [
    (1.0 / 60.0, "L/s"),
    (60.0, "L/h"),
    (0.06, "m3/h"),
    (1000.0, "mL/min"),
    (0.001, "m3/min"),
];
/// A flow this many times more than the lift's uncalibrated peak is in another unit: without any loss at the entrance and with
/// half the slip a lift gives 1.9 times its peak at most (entrance told as 10 velocity heads), 1.2 times with a plain pipe end.
const TOO_MUCH: f64 = 3.0;
/// A largest flow this far below it is in another unit too: a hundred times the entrance loss leaves a seventh.
const TOO_LITTLE: f64 = 1.0 / 12.0;
/// An air this far from the one the uncalibrated curve needs for the flow.
const AIR_OFF: f64 = 8.0;
/// Airs within this ratio are one air.
const ONE_AIR: f64 = 1.25;

/// Airs whose logarithms differ by less are the same air.
const SAME_AIR: f64 = 0.05;
/// Levels this near are the same, m.
const SAME_LEVEL_M: f64 = 0.02;
/// Flows further apart than this contradict each other.
const CONTRADICTS: f64 = 3.0;

/// A level this far above a rim is read or written wrong, not a wave, m.
const OVER_RIM_M: f64 = 0.005;

/// Levels that lie above the rim of their tank: water would have run over.
fn over_rim(lift: &NamedLift, point: &Point) -> Option<PointFault> {
    let receiver_mm = |level: f64| 1000.0 * (level - lift.floor_rise_m);
    let source = (1000.0 * point.source_m, 1000.0 * lift.source_rim_m);
    let receiver = point
        .receiver_m
        .map(|level| (receiver_mm(level), 1000.0 * f64::from(lift.receiver.rim_m)));
    let over = |(mm, rim): &(f64, f64)| mm - rim > 1000.0 * OVER_RIM_M;
    let line = point.lines.first().copied().unwrap_or(0);
    let (key, which, (mm, rim)) = if over(&source) {
        ("source_level_mm", "draws from", source)
    } else {
        ("receiver_level_mm", "fills", receiver.filter(over)?)
    };
    let message = format!(
        "the tank that \"{}\" {which} runs over at {rim:.0} mm: no level stands above its rim",
        lift.name
    );
    let fault = PointFault::new(Kind::Levels, line, message).about(key, format!("{mm:.0}"));
    Some(fault.help(
        "levels are mm above the floor of their own tank; measure it again, or put rim_mm right in the place's file",
    ))
}

/// Notes what is not plausible about the points of one lift.
pub(super) fn check(lift: &NamedLift, points: &[Point], faults: &mut Vec<PointFault>) {
    let over: Vec<PointFault> = points.iter().filter_map(|point| over_rim(lift, point)).collect();
    if !over.is_empty() {
        faults.extend(over);
        return;
    }
    let wet: Vec<&Point> = points.iter().filter(|point| point.flow_m3_s > 0.0).collect();
    let Some(first) = wet.first() else { return };
    let curve = lift.measured().curve(&Logs::zeros(), first.source_m, first.receiver_m);
    let peak = curve.peak();
    let line = first.lines.first().copied().unwrap_or(0);
    if peak.flow.m3_s <= 0.0 {
        let message = format!(
            "water is said to come from \"{}\", which by its heights can give none at these levels",
            lift.name
        );
        let fault = PointFault::new(Kind::Levels, line, message);
        faults.push(fault.help("check source_level_mm against injector_mm and outlet_mm of the lift"));
        return;
    }
    let most = wet.iter().fold(0.0f64, |most, point| most.max(point.flow_m3_s));
    let share = most / f64::from(peak.flow.m3_s);
    // Little water is right near the onset: then the curve gives little there too.
    let mut beside: Vec<f64> = wet
        .iter()
        .map(|point| {
            (
                point.flow_m3_s,
                f64::from(curve.flow(FreeAir::from_m3_s(narrow(point.air_m3_s))).m3_s),
            )
        })
        .filter(|(_, told)| *told > 0.0)
        .map(|(measured, told)| measured / told)
        .collect();
    beside.sort_by(f64::total_cmp);
    let beside = beside.get(beside.len() / 2).copied().unwrap_or(share);
    if share > TOO_MUCH || (share < TOO_LITTLE && beside < TOO_LITTLE) {
        let message = format!(
            "the most water is {} L/min where this lift's own curve reaches {:.0}",
            figure(60_000.0 * most),
            peak.flow.l_min()
        );
        faults.push(in_other_unit(Kind::WrongUnit, line, "water", &message, share, 0.6));
        return;
    }
    // Airs against the ones the curve needs for these flows, or for its peak where the flow is more than that.
    let mut offs: Vec<f64> = wet
        .iter()
        .filter_map(|point| {
            let flow = narrow(point.flow_m3_s).min(0.8 * peak.flow.m3_s);
            let needed = f64::from(curve.air_for(WaterFlow::from_m3_s(flow))?.m3_s);
            (needed > 0.0).then(|| point.air_m3_s / needed)
        })
        .collect();
    offs.sort_by(f64::total_cmp);
    let least = offs.first().copied().unwrap_or(1.0);
    if wet.iter().any(|point| point.air_m3_s <= 0.0) && curve.lift_m() > 0.0 {
        let fault = PointFault::new(
            Kind::Levels,
            line,
            "water without any air, though the outlet stands above the source",
        );
        faults.push(
            fault
                .about("air_l_min", "0")
                .help("check the levels, and whether the air was really off"),
        );
    } else if let Some(middle) = offs.get(offs.len() / 2).copied()
        && (middle < 1.0 / AIR_OFF || least > AIR_OFF)
    {
        let message = format!(
            "the air is {} times what this lift's own curve needs for such flows",
            figure(middle)
        );
        faults.push(in_other_unit(Kind::WrongUnit, line, "air", &message, middle, 1.0));
    }
    one_air(lift, &wet, &peak, faults);
    contradiction(&wet, faults);
}

/// Two fills at the same air and levels of which one gives many times the other. A warning: just above the onset a lift may do so.
fn contradiction(wet: &[&Point], faults: &mut Vec<PointFault>) {
    let level = |one: Option<f64>, other: Option<f64>| match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() < SAME_LEVEL_M,
        (one, other) => one.is_none() && other.is_none(),
    };
    let alike = |one: &Point, other: &Point| {
        (one.air_m3_s / other.air_m3_s).ln().abs() < SAME_AIR
            && level(Some(one.source_m), Some(other.source_m))
            && level(one.receiver_m, other.receiver_m)
    };
    for (index, one) in wet.iter().enumerate() {
        for other in wet.iter().skip(index + 1).filter(|other| alike(one, other)) {
            let ratio = other.flow_m3_s / one.flow_m3_s;
            if !(1.0 / CONTRADICTS..=CONTRADICTS).contains(&ratio) {
                let (first, second) = (one.lines.first(), other.lines.first());
                let message = format!(
                    "{} L/min of water, and {} L/min in line {}, at the same air and levels",
                    figure(60_000.0 * other.flow_m3_s),
                    figure(60_000.0 * one.flow_m3_s),
                    first.copied().unwrap_or(0)
                );
                let fault = PointFault::new(Kind::Contradiction, second.copied().unwrap_or(0), message).warning();
                faults.push(
                    fault.help("one of the two is likely wrong: look at its litres and seconds, or fill once more"),
                );
                return;
            }
        }
    }
}

fn one_air(lift: &NamedLift, wet: &[&Point], peak: &risertrim::lift::Peak, faults: &mut Vec<PointFault>) {
    let low = wet.iter().fold(f64::INFINITY, |low, point| low.min(point.air_m3_s));
    let high = wet.iter().fold(0.0f64, |high, point| high.max(point.air_m3_s));
    if wet.len() > 1 && high < ONE_AIR * low {
        let message = format!(
            "all {} points of \"{}\" are at about one air ({} L/min): the height of the curve is known there, its slope and peak \
             are not",
            wet.len(),
            lift.name,
            figure(60_000.0 * 0.5 * (low + high))
        );
        let (peak, here) = (f64::from(peak.air.l_min()), 60_000.0 * 0.5 * (low + high));
        let elsewhere = [0.05, 0.15, 0.5].map(|share| share * peak).into_iter();
        let elsewhere: Vec<String> = elsewhere
            .filter(|air| !(0.6..=1.6).contains(&(air / here)))
            .map(|air| format!("{air:.0}"))
            .collect();
        let fault = PointFault::new(Kind::OneAir, wet[0].lines.first().copied().unwrap_or(0), message).warning();
        faults.push(fault.help(format!("measure also near {} L/min of air", elsewhere.join(" and "))));
    }
}

/// A fault that names the unit the values seem to be in: the one that brings `share` nearest to `usual`.
fn in_other_unit(kind: Kind, line: u64, what: &str, message: &str, share: f64, usual: f64) -> PointFault {
    let off = |factor: f64| (share / factor / usual).ln().abs();
    let near = UNITS.iter().min_by(|a, b| off(a.0).total_cmp(&off(b.0)));
    let fault = PointFault::new(kind, line, message.to_owned());
    match near {
        Some((factor, unit)) if off(*factor) < 1.1 => {
            let by = 1.0 / factor;
            let by = if by >= 1.0 {
                format!("multiply by {}", figure(by))
            } else {
                format!("divide by {}", figure(1.0 / by))
            };
            fault.help(format!("the {what} seems to be in {unit}: {by} to have L/min"))
        }
        _ => fault.help(format!("check the unit of the {what}, the lift it is of, and its bore")),
    }
}

/// A figure as short as it can be read: three significant digits.
fn figure(value: f64) -> String {
    if value.abs() >= 100.0 {
        format!("{value:.0}")
    } else if value.abs() >= 10.0 {
        format!("{value:.1}")
    } else if value.abs() >= 1.0 {
        format!("{value:.2}")
    } else {
        format!("{value:.4}")
    }
}
