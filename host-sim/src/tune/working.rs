//! How far the flow through a tank's outlets is off at the level it works at: what a loop follows whole.

use super::balance::Balance;
use super::filter::Filter;
use super::layout::{CREST_FORM_M, Kind};

/// A level is taken to be this far above the crest at least, m: below it no flow is worth a share.
const LEAST_HEAD_M: f64 = 0.002;

/// What the log tells of the flow at the working level.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Working {
    /// Logarithm of the flow by what the log tells of the outlets and their zero, over the flow as told.
    pub log: f64,
    /// One standard deviation of it.
    pub sigma: f64,
}

impl Working {
    /// How much of the change from what was told to what the log tells is surely for the better, as a share.
    ///
    /// A change is for the better when the truth lies beyond the middle of it. So it goes twice as far as the truth lies at least, a
    /// deviation short of what the log tells, and no further than that. (What lies within chance of what was told is not changed at all.)
    #[must_use]
    pub fn sure_share(&self) -> f64 {
        let off = self.log.abs();
        if off <= 0.0 {
            return 0.0;
        }
        (2.0 * (off - self.sigma) / off).clamp(0.0, 1.0)
    }
}

/// Of the outlets of a tank at a level above its floor, `down_m` that of the tank each leads to above its own; `masked` are numbers that
/// the log does not tell.
#[must_use]
pub fn working(balance: &Balance<'_>, filter: &Filter<'_>, masked: &[bool], tank: usize, levels_m: &[f64]) -> Working {
    let place = balance.place;
    let mut all = 0.0;
    let mut per_level = 0.0;
    let mut shares = Vec::new();
    let mut form = 0.0f64;
    for way in balance.layout.ways.iter().filter(|way| way.from == tank) {
        let Some(at) = way.at else { continue };
        let outlet = &place.tanks[tank].outlets[way.outlet];
        let level_m = levels_m[tank].max(f64::from(outlet.law.dry_below_m()) + LEAST_HEAD_M);
        let down_m = way
            .to
            .map(|to| levels_m[to] + f64::from(place.tanks[to].floor_m - place.tanks[tank].floor_m));
        #[allow(clippy::cast_possible_truncation)] // metres
        let law = outlet.at(level_m as f32, down_m.map(|down_m| down_m as f32));
        let flow = f64::from(law.flow_m3_s).max(0.0);
        all += flow;
        per_level += f64::from(law.per_level);
        shares.push((at, flow));
        form = form.max(f64::from(outlet.law.form_sigma()));
    }
    if all <= 0.0 {
        return Working::default();
    }
    let mut weights: Vec<(usize, f64)> = shares.iter().map(|(at, flow)| (*at, flow / all)).collect();
    if let Some(zero) = balance.layout.at(Kind::Zero(tank)) {
        // A sensor that reads too high shows more flow than there is.
        weights.push((zero, -per_level / all));
    }
    let told = weights.iter().filter(|(at, _)| !masked[*at]);
    Working {
        log: told.map(|(at, weight)| weight * filter.x[*at]).sum(),
        sigma: filter
            .variance_along(&weights)
            .sqrt()
            .hypot(form)
            .hypot(CREST_FORM_M * per_level / all),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_goes_as_far_as_it_is_for_the_better_a_deviation_short_of_what_is_told() {
        let share = |log: f64| Working { log, sigma: 0.02 }.sure_share();
        assert!(share(0.0) == 0.0 && share(0.019) == 0.0 && share(-0.019) == 0.0);
        assert!(share(0.041) == 1.0 && share(-0.2) == 1.0);
        for log in [0.021, 0.025, 0.03, 0.035, 0.039] {
            let (truth, change) = (log - 0.02, share(log) * log);
            assert!(change > 0.0 && change < log);
            assert!(
                ((change - truth).abs() - truth).abs() < 1.0e-12,
                "as far off there as before"
            );
        }
    }
}
