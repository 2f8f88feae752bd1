//! Holes and pipes.

use crate::math::{GRAVITY_M_S2, PI, ROOT_2G, ln, seldom, sqrt};

/// Round hole with heads in m above its centre: `Cd A sqrt(2 g dh)`.
///
/// A hole that is not covered up to share `p` of its bore counts as one under a smaller head, `D/2 p^4 (1.4 - 0.4 p)^2`: free,
/// that lies within 2 % of the sum of its strips up to nine tenths covered and 4 % above it at the brim. Both sides count
/// their heads so, so that the flow passes through zero where the levels meet, and is continuous as either side covers it.
pub(super) fn orifice_m3_s(head_m: f32, downstream_head_m: Option<f32>, bore_m: f32, discharge: f32) -> f32 {
    let radius = 0.5 * bore_m;
    let full = discharge * PI * radius * radius * ROOT_2G;
    let counted = |head: f32| {
        if head >= radius {
            return head;
        }
        let p = seldom::limit((head + radius) / bore_m, 0.0, 1.0);
        let share = p * p * (1.4 - 0.4 * p);
        radius * share * share
    };
    let drop = counted(head_m) - downstream_head_m.map_or(0.0, counted);
    let flow = full * sqrt(drop.abs());
    if drop >= 0.0 { flow } else { -flow }
}

/// Upright overflow pipe at a head in m over its lip: a weir along the lip, `1.8385 pi D h^1.5`, turning into a hole,
/// `0.6 A sqrt(2 g h)` (EPA SWMM reference manual, vol. II, 6.2.3; 3.33 ft^0.5/s), the smaller of the two. A real lip is
/// within 20 % of this until it is measured.
#[must_use]
pub fn standpipe_m3_s(head_m: f32, bore_m: f32) -> f32 {
    if !(head_m > 0.0) {
        return 0.0;
    }
    let root = sqrt(head_m);
    let weir = 1.8385 * PI * bore_m * head_m * root;
    let hole = 0.6 * 0.25 * PI * bore_m * bore_m * ROOT_2G * root;
    seldom::smaller(weir, hole)
}

/// Pipe running full under `head_m`: `h = (f L/D + K + 1) V^2/2g`, f by Haaland (1983) for smooth pipe and water at 20 C,
/// three passes from f = 0.025. Within 0.3 % of Colebrook's law for drawn plastic (roughness 1.5 um).
#[must_use]
pub fn pipe_m3_s(head_m: f32, bore_m: f32, length_m: f32, minor_loss: f32) -> f32 {
    if !(head_m > 1.0e-6) || !(bore_m > 0.0) {
        return 0.0;
    }
    let mut friction = 0.025f32;
    let mut speed = 0.0f32;
    for _ in 0..3 {
        speed = sqrt(2.0 * GRAVITY_M_S2 * head_m / (friction * length_m / bore_m + minor_loss + 1.0));
        friction = smooth_pipe_friction(speed * bore_m / 1.0034e-6);
    }
    speed * 0.25 * PI * bore_m * bore_m
}

/// Darcy friction factor of smooth pipe by Haaland (1983); laminar `64/Re` below Re 2300 where that is larger.
pub(super) fn smooth_pipe_friction(reynolds: f32) -> f32 {
    let re = seldom::larger(reynolds, 200.0);
    let root = 1.8 / core::f32::consts::LN_10 * ln(re / 6.9);
    let turbulent = 1.0 / seldom::larger(root * root, 1.0);
    if re < 2300.0 {
        seldom::larger(turbulent, 64.0 / re)
    } else {
        turbulent
    }
}
