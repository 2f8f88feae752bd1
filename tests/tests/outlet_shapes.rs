//! Every outlet law: never falling, never jumping, with slopes that are those of its flow, and never no number.

use risertrim::outlet::{Law, Outlet};
use risertrim_tests::close;
use risertrim_tests::laws::{HOLE, NOTCH, PIPE, STANDPIPE, WEIR, every_law, flow, outlet, table};

#[test]
fn no_law_passes_less_at_a_higher_level_or_more_into_a_higher_receiver() {
    for law in every_law() {
        for downstream in [None, Some(0.2), Some(0.385), Some(0.41), Some(0.5)] {
            let flows: Vec<f64> = (0..=4000_u16)
                .map(|step| flow(&law, 0.35 + 1.0e-4 * f32::from(step), downstream))
                .collect();
            let most = flows.iter().fold(0.0_f64, |most, flow| most.max(flow.abs()));
            // f32 rounding may show as a step down of 1e-6 of the largest flow.
            assert!(
                flows.is_sorted_by(|a, b| *b >= a - 2.0e-6 * most),
                "{law:?} over {downstream:?}"
            );
        }
        for level in [0.38, 0.395, 0.41, 0.45, 0.6] {
            let flows: Vec<f64> = (0..=4000_u16)
                .map(|step| flow(&law, level, Some(0.35 + 1.0e-4 * f32::from(step))))
                .collect();
            let most = flows.iter().fold(0.0_f64, |most, flow| most.max(flow.abs()));
            assert!(flows.is_sorted_by(|a, b| *b <= a + 2.0e-6 * most), "{law:?} at {level}");
        }
    }
}

/// The largest change of flow between neighbouring levels `step_m` apart.
fn largest_jump(step_m: f32, flow: impl Fn(f32) -> f64) -> f64 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let steps = (0.3 / step_m).round() as u16;
    let flows: Vec<f64> = (0..=steps).map(|step| flow(0.35 + step_m * f32::from(step))).collect();
    flows
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .fold(0.0, f64::max)
}

#[test]
fn no_law_jumps_at_any_level_on_either_side() {
    // Sixteen times finer steps make the largest change four times smaller even for a square root; a jump would stay. (A
    // weir near equal levels goes by the power 0.385: 2.9 times.)
    for law in every_law() {
        for still in [0.385, 0.41, 0.5] {
            let coarse = largest_jump(1.0e-3, |level| flow(&law, level, Some(still)));
            let fine = largest_jump(6.25e-5, |level| flow(&law, level, Some(still)));
            assert!(
                fine <= 0.4 * coarse,
                "{law:?}, receiver at {still}: {coarse:e} then {fine:e}"
            );
            let coarse = largest_jump(1.0e-3, |downstream| flow(&law, still, Some(downstream)));
            let fine = largest_jump(6.25e-5, |downstream| flow(&law, still, Some(downstream)));
            assert!(
                fine <= 0.4 * coarse || coarse == 0.0,
                "{law:?}, level at {still}: {coarse:e} then {fine:e}"
            );
        }
        let coarse = largest_jump(1.0e-3, |level| flow(&law, level, None));
        let fine = largest_jump(6.25e-5, |level| flow(&law, level, None));
        assert!(fine <= 0.4 * coarse, "{law:?}, falling free: {coarse:e} then {fine:e}");
    }
}

#[test]
fn slopes_are_those_of_the_power_each_law_goes_by() {
    // dQ/dh = n Q / h: n 2.5 for a notch, 1.5 for a weir and a lip, 0.5 for a hole. Heads with kh.
    let slope = |law: Law, head: f32| {
        let at = outlet(law).at(0.4 + head, None);
        f64::from(at.per_level) / f64::from(at.flow_m3_s)
    };
    for head in [0.05_f32, 0.1, 0.2] {
        let h = f64::from(head);
        // A difference over 1 mm, and f32 flows: 1e-3.
        close(
            format_args!("notch at {head}"),
            slope(NOTCH, head),
            2.5 / (h + 0.000_85),
            1.0e-3,
            0.0,
        );
        close(format_args!("hole at {head}"), slope(HOLE, head), 0.5 / h, 1.0e-3, 0.0);
        // The coefficient of a full-width weir grows with head as well, by 0.0748 h/p of 0.6021.
        let grows = 0.0748 / 0.4 / (0.6021 + 0.0748 * h / 0.4);
        close(
            format_args!("weir at {head}"),
            slope(WEIR, head),
            1.5 / (h + 0.0009) + grows,
            1.0e-3,
            0.0,
        );
    }
    close("lip", slope(STANDPIPE, 0.02), 1.5 / 0.02, 1.0e-3, 0.0);
    close("standpipe under water", slope(STANDPIPE, 0.1), 0.5 / 0.1, 1.0e-3, 0.0);
    close(
        "table",
        outlet(table()).at(0.45, None).per_level,
        1.3e-3 / 0.05,
        1.0e-3,
        0.0,
    );
    // Drowned: the receiver takes what the level gives.
    for law in [HOLE, PIPE] {
        let at = outlet(law.clone()).at(0.6, Some(0.5));
        close(format_args!("{law:?}"), at.per_downstream, -at.per_level, 2.0e-3, 0.0);
    }
    for law in every_law() {
        // A pipe is taken to go by the power 0.55 always; its true power lies between 0.5 and that, with the share of friction.
        let allowed = if matches!(law, Law::Pipe { .. }) { 0.1 } else { 0.01 };
        let at = outlet(law.clone()).at(0.55, Some(0.47));
        let by_hand = (flow(&law, 0.55, Some(0.472)) - flow(&law, 0.55, Some(0.468))) / 0.004;
        close(format_args!("{law:?}"), at.per_downstream, by_hand, allowed, 1.0e-6);
        let by_hand = (flow(&law, 0.552, Some(0.47)) - flow(&law, 0.548, Some(0.47))) / 0.004;
        close(format_args!("{law:?}"), at.per_level, by_hand, allowed, 1.0e-6);
    }
}

#[test]
fn a_measured_coefficient_multiplies_flow_and_slopes() {
    for law in every_law() {
        let (one, more) = (
            outlet(law.clone()),
            Outlet {
                coefficient: 1.07,
                ..outlet(law)
            },
        );
        let (one, more) = (one.at(0.52, Some(0.45)), more.at(0.52, Some(0.45)));
        close("flow", more.flow_m3_s, 1.07 * f64::from(one.flow_m3_s), 1.0e-6, 0.0);
        close("slope", more.per_level, 1.07 * f64::from(one.per_level), 1.0e-5, 0.0);
        close(
            "slope below",
            more.per_downstream,
            1.07 * f64::from(one.per_downstream),
            1.0e-5,
            0.0,
        );
    }
}

#[test]
fn levels_that_are_no_numbers_give_flows_that_are() {
    let odd = [
        f32::NAN,
        f32::INFINITY,
        f32::NEG_INFINITY,
        f32::MAX,
        f32::MIN,
        -1.0,
        0.0,
        0.5,
    ];
    for law in every_law() {
        for level in odd {
            for downstream in odd.map(Some).into_iter().chain([None]) {
                let at = outlet(law.clone()).at(level, downstream);
                let all = [at.flow_m3_s, at.per_level, at.per_downstream];
                assert!(
                    all.iter().all(|number| number.is_finite()),
                    "{law:?} at {level} over {downstream:?}: {at:?}"
                );
            }
        }
    }
}
