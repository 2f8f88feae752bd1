//! From a series to fitted numbers with their uncertainty, and what the log could not tell.

use super::balance::Balance;
use super::doing::Service;
use super::drive::Drive;
use super::drive::{drives, level_m};
use super::filter::{Filter, Ran, Tuning};
use super::fitted::{Estimate, Fitted, LiftFit, OutletFit, TankFit};
use super::from_log::ReadError;
use super::layout::{CREST_FORM_M, Kind, Layout, STILL, ZERO_SIGMA_M};
use super::noise::{Noise, noises};
use super::reference::{Course, courses};
use super::search;
use super::series::Series;
use super::working::{Working, working};
use crate::log::HostInstallation;
use nalgebra::{DMatrix, DVector};

/// Less than this of a log fits nothing, s.
const LEAST_S: f64 = 900.0;
/// A number is told by the log when its standard deviation after is less than this share of that before.
pub const TOLD: f64 = 0.6;
/// Beyond so many of its usual deviations a zero read off stops is as likely water that ran on.
const ZERO_DOUBTFUL: f64 = 1.5;
/// 95th percentiles of chi-squared of 1 to 6 degrees of freedom (any statistical table, e.g. NIST/SEMATECH e-Handbook 1.3.6.7.4).
const CHI_SQUARED_95: [f64; 6] = [3.841, 5.991, 7.815, 9.488, 11.070, 12.592];

/// Fits a series. `place` is the told installation; `progress` is told the share done.
///
/// # Errors
/// The series holds too little, or is of another place.
pub fn fit(place: &HostInstallation, series: &Series, mut progress: impl FnMut(f64)) -> Result<Fitted, ReadError> {
    check(place, series)?;
    let highest = highest(place, series);
    let layout = Layout::new(place, &highest);
    let balance = Balance::new(place, &layout);
    let drives = drives(place, &series.bins);
    let noise = noises(series);
    let told_noise = |tank: usize| {
        let sensor = &place.tanks[tank].sensor;
        (f64::from(sensor.noise_m), f64::from(sensor.resolution_m))
    };
    let tuning = Tuning {
        trickle: vec![STILL; place.lifts.len()],
        measured_trickle: vec![STILL; place.lifts.len()],
        at_once: vec![false; place.lifts.len()],
        walk: f64::from(place.settings.delivery_walk),
        unseen_m3_s: f64::from(place.settings.unseen_flow_m3_s),
        noise_m: (0..place.tanks.len())
            .map(|tank| {
                noise
                    .get(tank)
                    .copied()
                    .flatten()
                    .map_or(told_noise(tank), |noise| (noise.sigma_m.max(1.0e-4), noise.step_m))
            })
            .collect(),
    };
    let of_bins: Vec<f64> = (0..place.tanks.len())
        .map(|tank| of_a_bin(&series.bins, tank, tuning.noise_m[tank]))
        .collect();
    let courses = courses(place, &series.bins, &drives, &of_bins);
    let tuning = search::search(&balance, &tuning, &series.bins, &drives, &courses);
    progress(0.4);
    let free = vec![false; layout.count()];
    let first = pass(
        &balance,
        &tuning,
        free,
        vec![0.0; layout.count()],
        series,
        (&drives, &courses),
    );
    progress(0.7);
    let high = stood_high(&balance, &first, &drives);
    let masked = masked(&balance, &first, &tuning, &high);
    let about: Vec<f64> = (0..layout.count())
        .map(|at| {
            if masked[at] || !layout.kinds[at].is_fixed() {
                0.0
            } else {
                first.x[at].clamp(-2.0 * layout.prior[at], 2.0 * layout.prior[at])
            }
        })
        .collect();
    let second = pass(
        &balance,
        &tuning,
        masked.clone(),
        about.clone(),
        series,
        (&drives, &courses),
    );
    progress(1.0);
    let mut fitted = gather(&balance, &second, &masked, noise, series, &drives, &tuning);
    for (tank, high_m) in fitted.tanks.iter_mut().zip(high) {
        tank.stood_high_m = high_m;
    }
    Ok(fitted)
}

fn check(place: &HostInstallation, series: &Series) -> Result<(), ReadError> {
    if let Some(logged) = &series.installation
        && (logged.lifts.len(), logged.tanks.len()) != (place.lifts.len(), place.tanks.len())
    {
        return Err(ReadError::OtherPlace(format!(
            "the log is of {} lifts and {} tanks, the installation file of {} and {}: they are not the same place",
            logged.lifts.len(),
            logged.tanks.len(),
            place.lifts.len(),
            place.tanks.len()
        )));
    }
    if series.counted.covered_s < LEAST_S {
        return Err(ReadError::Nothing(format!(
            "the log holds {:.0} s that can be fitted ({} samples, {} of them without air and openings): at least {LEAST_S:.0} s are needed, a day is better",
            series.counted.covered_s, series.counted.samples, series.counted.without_air
        )));
    }
    Ok(())
}

/// The highest level of each tank, in means of readings.
fn highest(place: &HostInstallation, series: &Series) -> Vec<f64> {
    let mut highest = vec![0.0f64; place.tanks.len()];
    for bin in &series.bins {
        for (tank, highest) in highest.iter_mut().enumerate() {
            if bin.counts[tank] > 0 {
                *highest = highest.max(level_m(&place.tanks[tank].sensor, bin.raw[tank]));
            }
        }
    }
    highest
}

/// Noise of the mean of a usual bin, m.
fn of_a_bin(bins: &[super::series::Bin], tank: usize, (sigma_m, step_m): (f64, f64)) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let many = bins.len().max(1) as f64;
    let readings = bins.iter().map(|bin| f64::from(bin.counts[tank])).sum::<f64>() / many;
    sigma_m.hypot(step_m / 12f64.sqrt()) / readings.max(1.0).sqrt()
}

fn pass<'a>(
    balance: &'a Balance<'a>,
    tuning: &'a Tuning,
    masked: Vec<bool>,
    about: Vec<f64>,
    series: &Series,
    (drives, courses): (&[Drive], &[Course]),
) -> Filter<'a> {
    let mut filter = Filter::new(balance, tuning, masked, about);
    for ((bin, drive), course) in series.bins.iter().zip(drives).zip(courses) {
        filter.take(bin, drive, course);
    }
    filter
}

/// How much higher than the crest of its outlet each tank seemed to stand while a lift into it was out of service, m, where it is more than
/// a sensor's zero is usually off: its sensor, or a lift that ran on a little. The levels are the same.
fn stood_high(balance: &Balance<'_>, filter: &Filter<'_>, drives: &[Drive]) -> Vec<Option<f64>> {
    let stopped = |tank: usize| {
        let into = |lift: &usize| usize::from(balance.place.lifts[*lift].to) == tank;
        let mut lifts = (0..balance.layout.lifts).filter(into);
        lifts.any(|lift| drives.iter().any(|drive| drive.serves[lift] != Service::Serves))
    };
    let of = |tank: usize| {
        let high_m = filter.x[balance.layout.zero_at[tank]?];
        (high_m > ZERO_DOUBTFUL * ZERO_SIGMA_M && stopped(tank)).then_some(high_m)
    };
    (0..balance.layout.tanks).map(of).collect()
}

/// Which numbers the log does not tell. The multipliers of a curve go together: one of them alone is hardly ever told.
fn masked(balance: &Balance<'_>, filter: &Filter<'_>, tuning: &Tuning, high: &[Option<f64>]) -> Vec<bool> {
    let layout = balance.layout;
    let mut masked = vec![false; layout.count()];
    // Where a lift runs on that should stand still, neither crest nor recession can be read off its tank.
    let spoilt = |tank: usize| {
        let mut into = (0..layout.lifts).filter(|lift| usize::from(balance.place.lifts[*lift].to) == tank);
        high[tank].is_some() || into.any(|lift| tuning.trickle[lift] > STILL)
    };
    for (at, kind) in layout.kinds.iter().enumerate() {
        masked[at] = match kind {
            Kind::Level(_) | Kind::Delivery(_) | Kind::Form(_) | Kind::Unseen(_) => false,
            Kind::Outlet(tank, _) | Kind::Zero(tank) => filter.sigma(at) > TOLD * layout.prior[at] || spoilt(*tank),
            Kind::Area(_) => filter.sigma(at) > TOLD * layout.prior[at],
            Kind::Curve(lift, _) => !curve_told(balance, filter, *lift).0,
        };
    }
    masked
}

/// Weights of the logarithm of a curve's flow at an air on the numbers of its multipliers, about `x`.
fn curve_weights(balance: &Balance<'_>, x: &[f64], lift: usize, ran: &Ran, air_m3_s: f64) -> Vec<(usize, f64)> {
    let logs = balance.logs(lift, x);
    let flow = |logs: &crate::calibrate::Logs| balance.curve_m3_s(lift, logs, ran.levels_m, air_m3_s).max(1.0e-7).ln();
    (0..3)
        .filter_map(|which| {
            let (mut up, mut down) = (logs, logs);
            up[which] += 0.01;
            down[which] -= 0.01;
            let at = balance.layout.at(Kind::Curve(lift, which))?;
            Some((at, (flow(&up) - flow(&down)) / 0.02))
        })
        .collect()
}

/// Whether the log tells the height of a lift's curve, and its shape.
fn curve_told(balance: &Balance<'_>, filter: &Filter<'_>, lift: usize) -> (bool, bool) {
    let Some(ran) = filter.last_ran[lift] else {
        return (false, false);
    };
    let prior = |weights: &[(usize, f64)]| -> f64 {
        weights
            .iter()
            .map(|(at, weight)| (weight * balance.layout.prior[*at]).powi(2))
            .sum()
    };
    let told = |weights: &[(usize, f64)]| filter.variance_along(weights) < TOLD * TOLD * prior(weights);
    let here = curve_weights(balance, &filter.x, lift, &ran, ran.air_m3_s);
    let more = curve_weights(balance, &filter.x, lift, &ran, 1.2 * ran.air_m3_s);
    let slope: Vec<(usize, f64)> = here.iter().zip(&more).map(|((at, a), (_, b))| (*at, b - a)).collect();
    (told(&here), told(&slope))
}

#[allow(clippy::too_many_arguments)]
fn gather(
    balance: &Balance<'_>,
    filter: &Filter<'_>,
    masked: &[bool],
    noise: Vec<Option<Noise>>,
    series: &Series,
    drives: &[Drive],
    tuning: &Tuning,
) -> Fitted {
    let place = balance.place;
    let mut noise = noise.into_iter();
    let mut levels_m = filter.x[..place.tanks.len()].to_vec();
    for (lift, ran) in place.lifts.iter().zip(&filter.last_ran) {
        if let Some(ran) = ran {
            (levels_m[usize::from(lift.from)], levels_m[usize::from(lift.to)]) = ran.levels_m;
        }
    }
    let tanks = (0..place.tanks.len())
        .map(|tank| TankFit {
            working: working(balance, filter, masked, tank, &levels_m),
            ..tank_fit(balance, filter, masked, tank, noise.next().flatten())
        })
        .collect();
    let lifts = (0..place.lifts.len())
        .map(|lift| LiftFit {
            trickles: tuning.trickle[lift] > STILL,
            ..lift_fit(balance, filter, masked, lift, drives)
        })
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let many = series.bins.len().max(1) as f64;
    Fitted {
        manifold_pa: series.bins.iter().map(|bin| bin.manifold_pa).sum::<f64>() / many,
        place: place.clone(),
        tanks,
        lifts,
        walk: tuning.walk,
        counted: series.counted.clone(),
        bins: series.bins.len(),
        surprises: filter.surprises,
    }
}

fn tank_fit(balance: &Balance<'_>, filter: &Filter<'_>, masked: &[bool], tank: usize, noise: Option<Noise>) -> TankFit {
    let layout = balance.layout;
    let told = |at: usize| !masked[at];
    let log =
        |at: usize, form: f64| Estimate::of_log(filter.x[at], filter.sigma(at).hypot(form), layout.prior[at], told(at));
    let mut outlets = Vec::new();
    let mut dry = Vec::new();
    for way in layout.ways.iter().filter(|way| way.from == tank) {
        let form = f64::from(balance.place.tanks[tank].outlets[way.outlet].law.form_sigma());
        match way.at {
            Some(at) => outlets.push(OutletFit {
                outlet: way.outlet,
                times_told: log(at, form),
            }),
            None => dry.push(way.outlet),
        }
    }
    let own: Vec<usize> = (0..layout.count())
        .filter(|at| {
            told(*at)
                && match layout.kinds[*at] {
                    Kind::Outlet(of, _) | Kind::Area(of) | Kind::Zero(of) => of == tank,
                    _ => false,
                }
        })
        .collect();
    TankFit {
        outlets,
        dry,
        area: layout
            .at(Kind::Area(tank))
            .map_or(Estimate::of_log(0.0, 0.0, 0.0, false), |at| log(at, 0.0)),
        zero_m: layout.zero_at[tank].map(|at| {
            Estimate::plain(
                filter.x[at],
                filter.sigma(at).hypot(CREST_FORM_M),
                layout.prior[at],
                told(at),
            )
        }),
        stood_high_m: None,
        noise,
        differs: differs(balance, filter, &own),
        working: Working::default(),
    }
}

/// True when the told numbers at these places are further from nothing than chance brings in one of twenty: all together, or an outlet
/// alone, whose error a loop follows whole.
fn differs(balance: &Balance<'_>, filter: &Filter<'_>, own: &[usize]) -> bool {
    let Some(most) = own.len().checked_sub(1).and_then(|at| CHI_SQUARED_95.get(at)) else {
        return false;
    };
    let of = DVector::from_iterator(own.len(), own.iter().map(|at| filter.x[*at]));
    let form = |at: usize| match balance.layout.kinds[at] {
        Kind::Outlet(tank, outlet) => f64::from(balance.place.tanks[tank].outlets[outlet].law.form_sigma()),
        Kind::Zero(_) => CREST_FORM_M,
        _ => 0.0,
    };
    let covariance = DMatrix::from_fn(own.len(), own.len(), |a, b| {
        let off = if a == b { form(own[a]).powi(2) } else { 0.0 };
        filter.covariance(own[a], own[b]) + off
    });
    let alone = own.iter().enumerate().any(|(number, at)| {
        matches!(balance.layout.kinds[*at], Kind::Outlet(..))
            && of[number].powi(2) > CHI_SQUARED_95[0] * covariance[(number, number)]
    });
    alone
        || covariance
            .cholesky()
            .is_some_and(|root| of.dot(&root.solve(&of)) > *most)
}

fn lift_fit(balance: &Balance<'_>, filter: &Filter<'_>, masked: &[bool], lift: usize, drives: &[Drive]) -> LiftFit {
    let layout = balance.layout;
    let at = |which: usize| layout.at(Kind::Curve(lift, which)).unwrap_or_default();
    let logs = [0, 1, 2].map(|which| filter.x[at(which)]);
    let c = |a: usize, b: usize| filter.covariance(at(a), at(b));
    let delivery_at = layout.tanks + lift;
    let form_at = delivery_at + layout.lifts;
    let (height_told, shape_told) = curve_told(balance, filter, lift);
    let mut range = (f64::INFINITY, 0.0f64);
    for drive in drives.iter().filter(|drive| drive.serves[lift] == Service::Serves) {
        let air = drive.air_m3_s[lift];
        if air > 0.0 {
            range = (range.0.min(air), range.1.max(air));
        }
    }
    let mut fit = LiftFit {
        delivery: None,
        flow_m3_s: 0.0,
        logs,
        covariance: [c(0, 0), c(0, 1), c(0, 2), c(1, 1), c(1, 2), c(2, 2)],
        height_told: height_told && !masked[at(0)],
        shape_told: shape_told && !masked[at(0)],
        air_range_m3_s: range,
        rest: filter.x[delivery_at].exp(),
        ran: filter.last_ran[lift],
        trickles: false,
    };
    let Some(ran) = filter.last_ran[lift] else { return fit };
    let fitted = balance.curve_m3_s(lift, &balance.logs(lift, &filter.x), ran.levels_m, ran.air_m3_s);
    let told = balance.curve_m3_s(lift, balance.told(lift), ran.levels_m, ran.air_m3_s);
    if fitted > 0.0 && told > 0.0 {
        let mut weights = curve_weights(balance, &filter.x, lift, &ran, ran.air_m3_s);
        let prior = weights
            .iter()
            .map(|(at, weight)| (weight * layout.prior[*at]).powi(2))
            .sum::<f64>()
            .sqrt()
            .hypot(layout.prior[delivery_at]);
        weights.push((delivery_at, 1.0));
        weights.push((form_at, 1.0));
        let sigma = filter.variance_along(&weights).sqrt().hypot(outlet_form(balance, lift));
        let log = filter.x[delivery_at] + filter.x[form_at] + (fitted / told).ln();
        fit.delivery = Some(Estimate::of_log(log, sigma, prior, sigma < TOLD * prior));
        fit.flow_m3_s = fit.rest * fitted;
    }
    fit
}

/// How far the form of the outlet that a lift's water leaves by may be off.
fn outlet_form(balance: &Balance<'_>, lift: usize) -> f64 {
    let to = usize::from(balance.place.lifts[lift].to);
    let forms = balance
        .layout
        .ways
        .iter()
        .filter(|way| way.from == to && way.at.is_some());
    forms
        .map(|way| f64::from(balance.place.tanks[to].outlets[way.outlet].law.form_sigma()))
        .fold(0.0, f64::max)
}
