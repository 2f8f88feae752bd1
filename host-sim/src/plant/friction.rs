//! The Darcy friction factor.

/// A Darcy factor and how it changes with speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Friction {
    /// Darcy factor (four times Fanning's).
    pub factor: f64,
    /// d ln(factor) / d ln(Re): -1 in laminar flow, about -0.2 in a smooth pipe.
    pub slope: f64,
}

/// Darcy factor at Reynolds number `re` (any) for `rough` = roughness over bore (0 to 0.05).
///
/// Laminar 64/Re below 2000, Haaland (1983) above 4000 (within 2 % of Colebrook), a straight blend of the two between.
#[must_use]
pub fn darcy(re: f64, rough: f64) -> Friction {
    if re < 2000.0 {
        return Friction {
            factor: 64.0 / re.max(1.0),
            slope: -1.0,
        };
    }
    let turbulent = haaland(re, rough);
    if re >= 4000.0 {
        return turbulent;
    }
    let share = (re - 2000.0) / 2000.0;
    let laminar = 64.0 / re;
    let factor = laminar + share * (turbulent.factor - laminar);
    let rise = (turbulent.factor - laminar) * re / 2000.0 - (1.0 - share) * laminar
        + share * turbulent.factor * turbulent.slope;
    Friction {
        factor,
        slope: rise / factor,
    }
}

fn haaland(re: f64, rough: f64) -> Friction {
    let (inside, share) = if rough > 0.0 {
        let smooth = 6.9 / re;
        let inside = (rough / 3.7).powf(1.11) + smooth;
        (inside, smooth / inside)
    } else {
        (6.9 / re, 1.0)
    };
    let log = inside.ln();
    // 1/sqrt(f) = -1.8 log10(inside)
    let root = -1.8 * std::f64::consts::LOG10_E * log;
    Friction {
        factor: 1.0 / (root * root),
        slope: 2.0 * share / log,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_smooth_pipe_has_the_factors_of_the_moody_chart() {
        // Prandtl's smooth-pipe law: 0.01799 at Re 1e5, 0.03089 at Re 1e4 (1/sqrt f = 2 log10(Re sqrt f) - 0.8).
        for (re, expected) in [(1e4, 0.030_89), (1e5, 0.017_99), (1e6, 0.011_65)] {
            let f = darcy(re, 0.0).factor;
            assert!((f / expected - 1.0).abs() < 0.02, "{re}: {f}");
            let inverse = 1.0 / f.sqrt();
            assert!((inverse - (2.0 * (re * f.sqrt()).log10() - 0.8)).abs() / inverse < 0.01);
        }
        assert!((darcy(1000.0, 0.0).factor - 0.064).abs() < 1e-12);
    }

    #[test]
    fn the_factor_is_continuous_and_its_slope_true() {
        for re in [500.0_f64, 2001.0, 3000.0, 3999.0, 8000.0, 2e5] {
            for rough in [0.0, 1e-3] {
                let h = re * 1e-6;
                let up = darcy(re + h, rough).factor.ln();
                let down = darcy(re - h, rough).factor.ln();
                let measured = (up - down) / ((re + h).ln() - (re - h).ln());
                assert!((measured - darcy(re, rough).slope).abs() < 1e-3, "{re} {rough}");
            }
        }
        for edge in [2000.0, 4000.0] {
            let jump = darcy(edge + 1e-6, 0.0).factor - darcy(edge - 1e-6, 0.0).factor;
            assert!(jump.abs() < 1e-8);
        }
    }
}
