//! What to change: what the log tells better than it was told, and settings that suit what was found. What is fine stays.

use super::allowed::Allowed;
use super::fitted::{Fitted, LiftFit};
use super::settings::{Change, changes, take};
use super::shape::{Shape, sensitivity, shapes};
use crate::log::HostInstallation;
use crate::precision::narrow;
use risertrim::lift::{Calibration, Fit};

/// A sensor's noise is told anew when it was told further off than this, as a factor.
const NOISE_OFF: f64 = 1.25;
/// What is proposed.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// The new installation.
    pub installation: HostInstallation,
    /// Tanks whose outlets, surface or zero are told anew.
    pub tanks: Vec<usize>,
    /// Tanks that are told anew by a share of the way only (0: not at all), because the log is not sure of more.
    pub held_back: Vec<(usize, f64)>,
    /// Tanks whose noise is told anew.
    pub noises: Vec<usize>,
    /// Lifts whose curve is told anew.
    pub curves: Vec<usize>,
    /// Settings that change.
    pub settings: Vec<Change>,
    /// The loop of each lift; `None` where it never ran undisturbed.
    pub shapes: Vec<Option<Shape>>,
}

impl Proposal {
    /// An installation as it is, nothing named as changed.
    #[must_use]
    pub fn of(fitted: &Fitted, installation: HostInstallation) -> Self {
        Self {
            shapes: shapes(fitted, &installation),
            installation,
            tanks: Vec::new(),
            held_back: Vec::new(),
            noises: Vec::new(),
            curves: Vec::new(),
            settings: Vec::new(),
        }
    }
}

/// What to change of what is allowed.
#[must_use]
pub fn propose(fitted: &Fitted, allowed: &Allowed) -> Proposal {
    let mut new = fitted.place.clone();
    let (mut tanks, mut held_back, mut noises, mut curves) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (index, (tank, fit)) in new.tanks.iter_mut().zip(&fitted.tanks).enumerate() {
        if let Some(noise) = fit.noise {
            let told = f64::from(tank.sensor.noise_m);
            let found = noise.sigma_m.clamp(0.0001, 0.1);
            if found > NOISE_OFF * told || told > NOISE_OFF * found {
                tank.sensor.noise_m = narrow(found);
                noises.push(index);
            }
        }
        if !fit.differs || !allowed.tanks[index] {
            continue;
        }
        let share = fit.working.sure_share();
        if share < 1.0 {
            held_back.push((index, share));
        }
        if share <= 0.0 {
            continue;
        }
        for outlet in fit.outlets.iter().filter(|outlet| outlet.times_told.told) {
            tank.outlets[outlet.outlet].coefficient *= narrow(outlet.times_told.value.powf(share));
        }
        if fit.area.told {
            for point in &mut tank.area {
                point.area_m2 *= narrow(fit.area.value.powf(share));
            }
        }
        if let Some(zero) = fit.zero_m.filter(|zero| zero.told) {
            tank.sensor.zero_m -= narrow(share * zero.value);
        }
        tanks.push(index);
    }
    for (index, (lift, fit)) in new.lifts.iter_mut().zip(&fitted.lifts).enumerate() {
        if let Some(calibration) = calibration(&lift.calibration, fit).filter(|_| allowed.curves[index]) {
            lift.calibration = calibration;
            curves.push(index);
        }
    }
    let mut proposal = Proposal {
        tanks,
        held_back,
        noises,
        curves,
        ..Proposal::of(fitted, new)
    };
    if allowed.settings {
        let before = fitted.place.settings;
        let changes = changes(fitted, &proposal.shapes, &proposal.installation, &before);
        for change in &changes {
            take(&mut proposal.installation.settings, change);
        }
        proposal.settings = changes;
        let after = proposal.installation.settings;
        for shape in proposal.shapes.iter_mut().flatten() {
            shape.sensitivity.1 = sensitivity(shape, &after);
        }
    }
    proposal
}

/// The curve as fitted, where the log tells it.
fn calibration(told: &Calibration, fit: &LiftFit) -> Option<Calibration> {
    if !fit.height_told || !fit.delivery.is_some_and(|delivery| delivery.told) {
        return None;
    }
    let times = |told: f32, log: f64, low: f64, high: f64| narrow((f64::from(told) * log.exp()).clamp(low, high));
    Some(Calibration {
        losses: times(told.losses, fit.logs[0], 0.02, 100.0),
        slip: times(told.slip, fit.logs[1], 0.3, 3.0),
        air: times(told.air, fit.logs[2], 0.3, 3.0),
        fit: Some(Fit {
            covariance: fit.covariance.map(narrow),
            air_low_m3_s: narrow(fit.air_range_m3_s.0),
            air_high_m3_s: narrow(fit.air_range_m3_s.1),
        }),
    })
}
