//! What leaning costs: the air slips along the upper wall, faster than up the middle of an upright pipe.

use crate::plant::{Heads, Riser};

/// Water lost at one angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TiltCost {
    /// Angle from upright, degrees.
    pub degrees: f64,
    /// Water lost at the same air, share.
    pub lost: f64,
}

/// Water that `riser` loses at `degrees` (0 to 30) from upright, at the same depth, lift and air.
///
/// Bendiksen (1984), Int. J. Multiphase Flow 10:467, for slow flow, phi from upright: drift velocity times
/// `cos phi + 0.54/0.35 sin phi`, C0 less `0.15 sin^2 phi`; the pipe is longer by `1/cos phi`. His pipes were long: no figures
/// measured on lifts were found, so take it as the right size and no more.
#[must_use]
pub fn tilt_cost(riser: &Riser, heads: Heads, air_m3_s: f64, degrees: f64) -> TiltCost {
    let phi = degrees.to_radians();
    let leaning = Riser {
        slip_multiplier: riser.slip_multiplier * drift_factor(degrees),
        distribution: riser.distribution - 0.15 * phi.sin().powi(2),
        friction_multiplier: riser.friction_multiplier / phi.cos(),
        ..*riser
    };
    let upright = riser.water_m3_s(heads, air_m3_s, &mut 0.0);
    let left = leaning.water_m3_s(heads, air_m3_s, &mut 0.0);
    TiltCost {
        degrees,
        lost: if upright > 0.0 { 1.0 - left / upright } else { 0.0 },
    }
}

fn drift_factor(degrees: f64) -> f64 {
    let phi = degrees.to_radians();
    phi.cos() + 0.54 / 0.35 * phi.sin()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Place;

    #[test]
    fn the_drift_grows_as_bendiksen_found() {
        for (degrees, factor) in [
            (0.0, 1.0),
            (5.0, 1.131),
            (10.0, 1.253),
            (15.0, 1.365),
            (20.0, 1.467),
            (30.0, 1.637),
        ] {
            assert!(
                (drift_factor(degrees) - factor).abs() < 1.5e-3,
                "{degrees}: {}",
                drift_factor(degrees)
            );
        }
    }

    #[test]
    fn leaning_costs_water_and_more_leaning_costs_more() {
        let riser = Riser::clean(0.0464, Place::new(0.0, 20.0, 0.0));
        let cost = |degrees| tilt_cost(&riser, Heads::free(1.0, 0.1), 15.0 / 60_000.0, degrees).lost;
        assert!(cost(0.0).abs() < 1e-6);
        assert!(
            cost(2.0) > 0.0 && cost(5.0) > cost(2.0) && cost(10.0) > cost(5.0),
            "{}",
            cost(5.0)
        );
        assert!(cost(5.0) < 0.2, "{}", cost(5.0));
    }
}
