//! The curve's form against published rigs: calibrated on five points of a series, it predicts the others.
//!
//! These are narrow risers at high lift: they show the form of the curve, not the accuracy of a lift in a fish tank.

use nalgebra::{DMatrix, DVector};
use risertrim::installation::Conditions;
use risertrim::lift::{Calibration, Curve, Riser};
use risertrim::units::{FreeAir, WaterFlow};
use risertrim_sim::calibrate::{Fitted, Measured, Point, Prior, fit};
use risertrim_tests::reference::{self, Table};

const CONDITIONS: Conditions = Conditions {
    density_kg_m3: 998.2,
    surface_tension_n_m: 0.072_75,
    water_k: 293.15,
    atmosphere_pa: 101_325.0,
};

/// Digitising error stated for such figures, share of full scale: "typically 1-2 %".
const DIGITISED: f64 = 0.01;
/// Points that a series is fitted to.
const FITTED_TO: usize = 5;

/// One series of a rig: one submergence ratio.
struct Series {
    name: String,
    ratio: f64,
    lift: Measured,
    source_m: f64,
    /// Free air and water, m3/s.
    points: Vec<(f64, f64)>,
}

impl Series {
    fn largest_m3_s(&self) -> f64 {
        self.points.iter().fold(0.0, |most, point| most.max(point.1))
    }

    fn point(&self, index: usize) -> Point {
        let (air, flow) = self.points[index];
        let full_air = self.points.iter().fold(0.0f64, |most, point| most.max(point.0));
        Point {
            lines: Vec::new(),
            air_m3_s: air,
            air_sigma: 0.5 * DIGITISED * full_air / air,
            flow_m3_s: flow,
            flow_sigma_m3_s: DIGITISED * self.largest_m3_s(),
            source_m: self.source_m,
            receiver_m: None,
        }
    }

    /// The line numbers of `count` points spread evenly over the series.
    fn spread(&self, count: usize) -> Vec<usize> {
        (0..count)
            .map(|step| (step * (self.points.len() - 1) + (count - 1) / 2) / (count - 1))
            .collect()
    }

    fn curve(&self, calibration: &Calibration) -> Curve {
        #[allow(clippy::cast_possible_truncation)]
        let source_m = self.source_m as f32;
        Curve::new(&self.lift.riser, calibration, &CONDITIONS, source_m, None)
    }
}

/// The series of a rig with a submergence ratio of 0.5 or more.
fn series(name: &str, table: &Table) -> Vec<Series> {
    let mut all: Vec<Series> = Vec::new();
    for row in table.rows().filter(|row| row.number("submergence_ratio") >= 0.5) {
        let ratio = row.number("submergence_ratio");
        if all.last().is_none_or(|last| (last.ratio - ratio).abs() > 1.0e-9) {
            let riser = Riser {
                bore_m: 0.001 * row.single("D_mm"),
                injector_m: 0.0,
                outlet_m: row.single("L_m"),
                darcy_friction: 0.022,
                entrance_loss: 0.5,
                outlet_loss: 0.0,
            };
            all.push(Series {
                name: name.to_owned(),
                ratio,
                lift: Measured::new(riser, CONDITIONS),
                source_m: row.number("Hs_m"),
                points: Vec::new(),
            });
        }
        let air = FreeAir::from_volume(row.single("air_L_min") / 60_000.0, 101_325.0, 293.15);
        let water = WaterFlow::from_l_min(row.single("water_L_min"));
        if let Some(last) = all.last_mut() {
            last.points.push((f64::from(air.m3_s), f64::from(water.m3_s)));
        }
    }
    all
}

/// How well a series was predicted.
struct Score {
    median: f64,
    high: f64,
    peak: f64,
    peak_in_noise: f64,
    /// Against the top of a parabola through the points near it; `None` where the measured range has no top.
    peak_smoothed: Option<f64>,
    uncalibrated: f64,
}

/// Share of the largest flow from which points count to the top.
const TOP: f64 = 0.85;

/// The air at the top of the parabola, in the logarithm of the air, that comes nearest to the points of the top; `None` where
/// it lies outside of what was measured, as along a plateau.
fn smoothed_peak(points: &[(f64, f64)]) -> Option<f64> {
    let largest = points.iter().fold(0.0f64, |most, point| most.max(point.1));
    let top: Vec<&(f64, f64)> = points.iter().filter(|point| point.1 >= TOP * largest).collect();
    let terms = DMatrix::from_fn(top.len(), 3, |row, power| match power {
        0 => 1.0,
        1 => top[row].0.ln(),
        _ => top[row].0.ln().powi(2),
    });
    let flows = DVector::from_fn(top.len(), |row, _| top[row].1 / largest);
    let fitted = terms.svd(true, true).solve(&flows, 1.0e-12).ok()?;
    let air = (-0.5 * fitted[1] / fitted[2]).exp();
    (fitted[2] < 0.0 && top.first()?.0 < air && air < top.last()?.0).then_some(air)
}

#[allow(clippy::cast_precision_loss)]
fn mean_size(offs: &[f64]) -> f64 {
    offs.iter().map(|off| off.abs()).sum::<f64>() / offs.len() as f64
}

fn quantile(sorted: &[f64], share: f64) -> f64 {
    #[allow(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss
    )]
    let (place, last) = (share * (sorted.len() - 1) as f64, sorted.len() - 1);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let below = place.floor() as usize;
    sorted[below] + place.fract() * (sorted[(below + 1).min(last)] - sorted[below])
}

#[allow(clippy::cast_possible_truncation)]
fn errors(series: &Series, curve: &Curve, left_out: &[usize]) -> Vec<f64> {
    let enough = 0.25 * series.largest_m3_s();
    let mut errors: Vec<f64> = (0..series.points.len())
        .filter(|index| !left_out.contains(index) && series.points[*index].1 > enough)
        .map(|index| {
            let (air, flow) = series.points[index];
            (f64::from(curve.flow(FreeAir::from_m3_s(air as f32)).m3_s) / flow - 1.0).abs()
        })
        .collect();
    errors.sort_by(f64::total_cmp);
    errors
}

fn score(series: &Series, fitted: &Fitted, used: &[usize]) -> Score {
    let curve = series.curve(&fitted.calibration(1.0));
    let errors_after = errors(series, &curve, used);
    let uncalibrated = errors(series, &series.curve(&Calibration::default()), used);
    let largest = series.largest_m3_s();
    let peak = f64::from(curve.peak().air.m3_s);
    // Most water was drawn at one air, but every air within the digitising noise of it may have been the peak.
    let may_be_peak = series
        .points
        .iter()
        .filter(|point| point.1 >= largest * (1.0 - 2.0 * DIGITISED));
    let drawn = series
        .points
        .iter()
        .find(|point| point.1 >= largest)
        .map_or(f64::NAN, |point| point.0);
    let nearest = may_be_peak
        .map(|point| peak / point.0 - 1.0)
        .fold(
            f64::INFINITY,
            |best, off| if off.abs() < best.abs() { off } else { best },
        );
    Score {
        median: quantile(&errors_after, 0.5),
        high: quantile(&errors_after, 0.9),
        peak: peak / drawn - 1.0,
        peak_in_noise: nearest,
        peak_smoothed: smoothed_peak(&series.points).map(|top| peak / top - 1.0),
        uncalibrated: quantile(&uncalibrated, 0.5),
    }
}

fn every_series() -> Option<Vec<Series>> {
    let mut all = Vec::new();
    for (name, file) in [
        ("Stenning & Martin 1968", "rig-stenning-martin-1968.csv"),
        ("Kassab et al. 2009", "rig-kassab-2009.csv"),
        ("Goharzadeh & Fernandes 2014", "rig-goharzadeh-fernandes-2014.csv"),
    ] {
        all.extend(series(name, &reference::table(file)?));
    }
    Some(all)
}

#[test]
fn a_curve_fitted_to_five_points_of_a_rig_predicts_the_others() {
    let Some(all) = every_series() else { return };
    println!(
        "{:<28} {:>5} {:>7} {:>5} {:>5} {:>6} {:>7} {:>7} {:>6} {:>6} {:>9} {:>9} {:>7}",
        "rig",
        "ratio",
        "losses",
        "slip",
        "air",
        "form",
        "before",
        "median",
        "90th",
        "peak",
        "in noise",
        "smoothed",
        "aside"
    );
    let mut scores = Vec::new();
    for series in &all {
        let used = series.spread(FITTED_TO);
        let points: Vec<Point> = used.iter().map(|index| series.point(*index)).collect();
        let fitted = fit(&series.lift, &points, &Prior::default()).unwrap();
        let score = score(series, &fitted, &used);
        let multipliers = fitted.logs.map(f64::exp);
        println!(
            "{:<28} {:>5} {:>7.2} {:>5.2} {:>5.2} {:>4.1} % {:>5.1} % {:>5.1} % {:>4.1} % {:>+4.0} % {:>+7.0} % {:>9} {:>7}",
            series.name,
            series.ratio,
            multipliers[0],
            multipliers[1],
            multipliers[2],
            100.0 * fitted.form,
            100.0 * score.uncalibrated,
            100.0 * score.median,
            100.0 * score.high,
            100.0 * score.peak,
            100.0 * score.peak_in_noise,
            score
                .peak_smoothed
                .map_or("no top".to_owned(), |off| format!("{:+.0} %", 100.0 * off)),
            fitted.points.iter().filter(|point| point.bad).count()
        );
        scores.push(score);
    }
    #[allow(clippy::cast_precision_loss)]
    let mean = |of: fn(&Score) -> f64| scores.iter().map(of).sum::<f64>() / scores.len() as f64;
    let (median, high) = (mean(|score| score.median), mean(|score| score.high));
    println!(
        "mean over {} series: median {:.1} %, 90th percentile {:.1} %\n\
         before: median error uncalibrated; peak: its air against the largest point's; in noise: against the nearest point whose \n\
         flow is within {:.0} % of the largest; smoothed: against the top of a parabola through all above 85 % of it. Digitising \n\
         noise is 1-2 % of full scale: 1-8 % of a flow between a quarter of the largest and the largest itself, so a median of 1-2 % is the best any form can show here.",
        scores.len(),
        100.0 * median,
        100.0 * high,
        200.0 * DIGITISED
    );
    assert!(median <= 0.06, "mean of the median errors {median}");
    assert!(high <= 0.15, "mean of the 90th percentiles {high}");
    let calibrating_helps = scores.iter().filter(|score| score.median < score.uncalibrated).count();
    assert!(
        calibrating_helps * 2 > scores.len(),
        "calibration must beat no calibration on most series"
    );
    // The goal for the air of the peak is 25 %. The largest point itself is a matter of luck: on a flat top any point within the
    // digitising noise may come out as the largest. So the peak is held against two estimates that bear the noise, and all are printed.
    // Two series run along a plateau to the end of their range, which a curve of this form falls away from: one has no top,
    // the other's lies late.
    let within = |offs: &[f64]| offs.iter().filter(|off| off.abs() <= 0.25).count();
    let strictly: Vec<f64> = scores.iter().map(|score| score.peak).collect();
    let placed: Vec<f64> = scores.iter().map(|score| score.peak_in_noise).collect();
    let smoothed: Vec<f64> = scores.iter().filter_map(|score| score.peak_smoothed).collect();
    for (against, offs) in [
        ("largest point", &strictly),
        ("points within the noise", &placed),
        ("smoothed top", &smoothed),
    ] {
        println!(
            "air of the peak against the {against}: within 25 % in {} of {} series, off by {:.0} % in the mean",
            within(offs),
            offs.len(),
            100.0 * mean_size(offs)
        );
    }
    assert!(within(&placed) + 1 >= placed.len(), "beyond the noise: {placed:?}");
    assert!(smoothed.len() + 1 >= scores.len(), "series without a top");
    assert!(
        within(&smoothed) + 1 >= smoothed.len(),
        "off the smoothed top: {smoothed:?}"
    );
    assert!(mean_size(&smoothed) <= 0.25, "off the smoothed top: {smoothed:?}");
}

/// Sound points spread otherwise over a series must serve as well: the goal is not met by a lucky choice.
#[test]
fn another_choice_of_five_points_serves_as_well() {
    let Some(all) = every_series() else { return };
    for shift in [1, 2] {
        let (mut median, mut high) = (0.0, 0.0);
        for series in &all {
            let last = series.points.len() - 1;
            let used: Vec<usize> = (0..FITTED_TO)
                .map(|step| (shift + step * last / FITTED_TO).min(last))
                .collect();
            let points: Vec<Point> = used.iter().map(|index| series.point(*index)).collect();
            let fitted = fit(&series.lift, &points, &Prior::default()).unwrap();
            let score = score(series, &fitted, &used);
            median += score.median;
            high += score.high;
        }
        #[allow(clippy::cast_precision_loss)]
        let count = all.len() as f64;
        println!(
            "points begun {shift} later: median {:.1} %, 90th percentile {:.1} %",
            100.0 * median / count,
            100.0 * high / count
        );
        assert!(median / count <= 0.06 && high / count <= 0.15);
    }
}

/// Moran (2010, Aquac. Eng. 43:120): 50 mm pipe (46.4 mm bore), air 0.95 m deep, 15 C; least litres of air a litre of water at
/// 60-70 L/min: 0.3 to 0.6 over lifts of 0.11 to 0.25 m (which belongs to which lift is inferred).
#[test]
fn published_gas_to_water_ratios_at_fish_tank_size_are_met_within_a_factor_of_one_and_a_half() {
    for (lift_m, published) in [(0.11, 0.3), (0.25, 0.6)] {
        let ratios = [60.0, 65.0, 70.0].map(|l_min| ratio(0.0464, 0.95, lift_m, l_min).unwrap());
        println!("Moran 2010, lift {lift_m} m: {ratios:.2?} at 60, 65, 70 L/min; published {published}");
        for ratio in ratios {
            assert!(
                (published / 1.5..=published * 1.5).contains(&f64::from(ratio)),
                "{ratio} against {published}"
            );
        }
    }
    // Five centimetres more lift took 0.5 more air for each water: in the range of starting up, where ratios of 1.9-2.0 were read.
    // Wurts, McNeill & Overhults (1994, World Aquaculture 25(4):51): 76 mm, 0.8 m deep, 71 L/min of air gave 111 L/min; neither
    // lift nor elbow is stated, so this is printed for plausibility only.
    for lift_m in [0.0, 0.05, 0.1, 0.15, 0.2] {
        let curve = plain(0.076, 0.8, lift_m);
        let water = curve.flow(air_at_one_atmosphere(71.0)).l_min();
        println!(
            "Wurts et al. 1994, 71 L/min of air, lift not stated: at {lift_m} m {water:.0} L/min by the curve, published 111"
        );
    }
    let Some(table) = reference::table("rig-low-lift-published-figures.csv") else {
        return;
    };
    let rows = table
        .rows()
        .filter(|row| row.text("source").starts_with("Moran") && !row.text("GL_lo").is_empty());
    let stated = rows
        .filter(|row| !row.text("lift_m").contains('-'))
        .map(|row| (row.number("lift_m"), row.number("GL_lo")));
    assert_eq!(
        stated.collect::<Vec<_>>(),
        [(0.11, 0.3), (0.25, 0.6)],
        "the table and the figures here must agree"
    );
}

/// Litres of air (101 325 Pa, 15 C) a litre of water of an uncalibrated lift.
fn ratio(bore_m: f32, depth_m: f32, lift_m: f32, l_min: f32) -> Option<f32> {
    let curve = plain(bore_m, depth_m, lift_m);
    let air = curve.air_for(WaterFlow::from_l_min(l_min))?;
    Some(60_000.0 * air.volume_m3_s(101_325.0, 288.15) / l_min)
}

fn plain(bore_m: f32, depth_m: f32, lift_m: f32) -> Curve {
    let water = Conditions {
        density_kg_m3: 999.1,
        surface_tension_n_m: 0.0735,
        water_k: 288.15,
        atmosphere_pa: 101_325.0,
    };
    let riser = Riser {
        bore_m,
        injector_m: 0.0,
        outlet_m: depth_m + lift_m,
        darcy_friction: 0.022,
        entrance_loss: 0.5,
        outlet_loss: 0.0,
    };
    Curve::new(&riser, &Calibration::default(), &water, depth_m, None)
}

fn air_at_one_atmosphere(l_min: f32) -> FreeAir {
    FreeAir::from_volume(l_min / 60_000.0, 101_325.0, 288.15)
}
