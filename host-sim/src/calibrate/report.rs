//! What a calibration found, for people and for programs.

use super::curve_model::multipliers;
use super::fit::{Fitted, MOST_LOSSES};
use super::judge::{ENOUGH, Judgement, MISSHAPEN};
use super::point::Point;
use serde::Serialize;
use std::fmt::Write;

const L_MIN: f64 = 60_000.0;

/// The calibration of one lift. Air is free air at 100 kPa and 20 C.
#[derive(Clone, Debug, Serialize)]
pub struct CalibrationReport {
    /// Name of the lift.
    pub lift: String,
    /// Multiplier on the entrance loss.
    pub losses: f64,
    /// Multiplier on slip.
    pub slip: f64,
    /// Multiplier on the air.
    pub air: f64,
    /// Standard deviations of the three, as shares.
    pub sigmas: [f64; 3],
    /// Covariance of their logarithms, upper triangle by rows, widened by the form error.
    pub covariance: [f32; 6],
    /// Points, believed and set aside.
    pub points: Vec<PointRow>,
    /// Sum of squares of the believed points' deviations, in standard deviations.
    pub chi_squared: f64,
    /// Error of the curve's form, share of the flow, one standard deviation.
    pub form_error: f64,
    /// Air range the calibration holds in, L/min.
    pub air_range_l_min: (f64, f64),
    /// Air at 20 and 80 % of the fitted peak flow, L/min.
    pub working_air_l_min: (f64, f64),
    /// Mean half width of the 90 % band there, share of the flow.
    pub half_width: f64,
    /// The same from what was known before any point.
    pub half_width_before: f64,
    /// Air at which one more point would narrow the band most, L/min.
    pub next_air_l_min: f64,
    /// Half width of the band with that point.
    pub half_width_then: f64,
    /// True when the points are enough.
    pub enough: bool,
    /// The verdict in sentences.
    pub verdict: Vec<String>,
}

/// One measured point beside the fitted curve.
#[derive(Clone, Debug, Serialize)]
pub struct PointRow {
    /// Lines of the points file.
    pub lines: Vec<u64>,
    /// Free air, L/min.
    pub air_l_min: f64,
    /// Water measured, L/min.
    pub water_l_min: f64,
    /// Its standard deviation about the curve (water, air and form), L/min.
    pub sigma_l_min: f64,
    /// Water by the curve, L/min.
    pub fitted_l_min: f64,
    /// Measured less fitted, in standard deviations.
    pub off_sigmas: f64,
    /// True when it was set aside as a gross error.
    pub set_aside: bool,
}

/// Puts a calibration into words.
#[must_use]
pub fn report(lift: &str, points: &[Point], fitted: &Fitted, judgement: &Judgement) -> CalibrationReport {
    let of = multipliers(&fitted.logs);
    let covariance = fitted
        .calibration(judgement.widening)
        .fit
        .map_or([0.0; 6], |fit| fit.covariance);
    let rows: Vec<PointRow> = points
        .iter()
        .zip(&fitted.points)
        .map(|(point, beside)| PointRow {
            lines: point.lines.clone(),
            air_l_min: L_MIN * point.air_m3_s,
            water_l_min: L_MIN * point.flow_m3_s,
            sigma_l_min: L_MIN * beside.sigma_m3_s,
            fitted_l_min: L_MIN * beside.fitted_m3_s,
            off_sigmas: beside.off_sigmas,
            set_aside: beside.bad,
        })
        .collect();
    let both = |(low, high): (f64, f64)| (L_MIN * low, L_MIN * high);
    let mut report = CalibrationReport {
        lift: lift.to_owned(),
        losses: of.losses.into(),
        slip: of.slip.into(),
        air: of.air.into(),
        sigmas: [0, 1, 2].map(|row| fitted.covariance[(row, row)].max(0.0).sqrt()),
        covariance,
        points: rows,
        chi_squared: fitted.chi_squared,
        form_error: fitted.form,
        air_range_l_min: both(fitted.air_range_m3_s),
        working_air_l_min: both(judgement.working_air_m3_s),
        half_width: judgement.half_width,
        half_width_before: judgement.half_width_before,
        next_air_l_min: L_MIN * judgement.next_air_m3_s,
        half_width_then: judgement.half_width_then,
        enough: judgement.enough(),
        verdict: Vec::new(),
    };
    report.verdict = verdict(&report, judgement);
    report
}

fn verdict(report: &CalibrationReport, judgement: &Judgement) -> Vec<String> {
    let percent = |share: f64| format!("{:.1} %", 100.0 * share);
    let mut lines = Vec::new();
    for row in report.points.iter().filter(|row| row.set_aside) {
        lines.push(format!(
            "Set aside: {}, {:.1} L/min of water at {:.1} L/min of air where the curve through the others gives {:.1} ({:+.0} %, {:.0} \
             standard deviations). Measure it again.",
            named(&row.lines),
            row.water_l_min,
            row.air_l_min,
            row.fitted_l_min,
            100.0 * (row.water_l_min / row.fitted_l_min.max(0.01) - 1.0),
            row.off_sigmas.abs()
        ));
    }
    let band = format!(
        "The 90 % band is {} either way over the working range ({:.0} to {:.0} L/min of air)",
        // Rounded up: a band just over what is enough does not read as if it were enough.
        percent((1000.0 * report.half_width).ceil() / 1000.0),
        report.working_air_l_min.0,
        report.working_air_l_min.1
    );
    let next = format!(
        "One more point at {:.0} L/min of air would help most: {} after it.",
        report.next_air_l_min,
        percent(report.half_width_then)
    );
    if report.enough {
        lines.push(format!(
            "Enough. {band}; it was {} before the first point.",
            percent(report.half_width_before)
        ));
    } else {
        let why = if judgement.one_air {
            "all points are at one air, which tells neither slope nor peak".to_owned()
        } else if judgement.believed <= 3 {
            format!(
                "{} points cannot check each other against three multipliers",
                judgement.believed
            )
        } else {
            format!("it should be {} or less", percent(ENOUGH))
        };
        lines.push(format!("Not enough: {why}. {band}."));
    }
    if !report.enough || report.half_width_then < 0.8 * report.half_width {
        lines.push(next);
    }
    if report.form_error >= MISSHAPEN {
        lines.push(format!(
            "The points do not lie on any curve of this form: {} beside it. Look for air that differs from what was read, levels that \
             moved between the points, a leaking air line, or a riser that is not upright.",
            percent(report.form_error)
        ));
    }
    // Two standard deviations of the prior.
    for (name, value, low, high) in [
        ("entrance loss", report.losses, 0.05, MOST_LOSSES),
        ("slip", report.slip, 0.6, 1.65),
        ("air", report.air, 0.67, 1.5),
    ] {
        if !(low..=high).contains(&value) {
            lines.push(format!(
                "The multiplier on {name}, {value:.2}, is far from 1: check {}.",
                match name {
                    "entrance loss" =>
                        "the foot of the riser for a clogged mesh or an injector in the way, and entrance_loss as told",
                    "slip" => "the bore, the levels and the static lift",
                    _ => "the air meter and the pressure it was read at, or the valve's conductance",
                }
            ));
        }
    }
    lines
}

/// Which lines of the file: `line 7`, `lines 7-9`.
fn named(lines: &[u64]) -> String {
    match lines {
        [] => "one point".to_owned(),
        [one] => format!("line {one}"),
        [first, .., last] => format!("lines {first}-{last}"),
    }
}

impl CalibrationReport {
    /// The report for people, at most 100 columns wide.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("Lift \"{}\"\n\n", self.lift);
        // Writing into a String does not fail.
        let _ = writeln!(text, "  multiplier on        is   68 % within");
        for (name, value, sigma) in [
            ("entrance loss", self.losses, self.sigmas[0]),
            ("slip", self.slip, self.sigmas[1]),
            ("air", self.air, self.sigmas[2]),
        ] {
            let _ = writeln!(
                text,
                "  {name:<13} {value:>9.3}   {:.3} to {:.3}",
                value * (-sigma).exp(),
                value * sigma.exp()
            );
        }
        let _ = writeln!(
            text,
            "\n  {:<12} {:>9} {:>9} {:>9} {:>9} {:>7} {:>7}",
            "points file", "air", "measured", "+-", "curve", "off", "off"
        );
        let _ = writeln!(
            text,
            "  {:<12} {:>9} {:>9} {:>9} {:>9} {:>7} {:>7}",
            "", "L/min", "L/min", "L/min", "L/min", "%", "sigmas"
        );
        for row in &self.points {
            let off = if row.fitted_l_min > 0.0 {
                100.0 * (row.water_l_min / row.fitted_l_min - 1.0)
            } else {
                0.0
            };
            let _ = writeln!(
                text,
                "  {:<12} {:>9.1} {:>9.1} {:>9.1} {:>9.1} {:>+7.1} {:>+7.1}{}",
                named(&row.lines),
                row.air_l_min,
                row.water_l_min,
                row.sigma_l_min,
                row.fitted_l_min,
                off,
                row.off_sigmas,
                if row.set_aside { "  set aside" } else { "" }
            );
        }
        let _ = writeln!(
            text,
            "\n  chi-squared {:.1} over {} believed points; form error {:.1} %; holds from {:.1} to {:.1} L/min of air\n",
            self.chi_squared,
            self.points.iter().filter(|row| !row.set_aside).count(),
            100.0 * self.form_error,
            self.air_range_l_min.0,
            self.air_range_l_min.1
        );
        for line in &self.verdict {
            text.push_str(&wrapped(line));
        }
        text
    }
}

/// A paragraph in lines of at most 100 columns.
fn wrapped(paragraph: &str) -> String {
    let (mut text, mut width) = (String::new(), 0);
    for word in paragraph.split(' ') {
        let long = word.chars().count();
        if width > 0 && width + 1 + long > 100 {
            text.push('\n');
            width = 0;
        } else if width > 0 {
            text.push(' ');
            width += 1;
        }
        text.push_str(word);
        width += long;
    }
    text.push('\n');
    text
}
