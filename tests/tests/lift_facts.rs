//! What people of the trade know of lifts, and what water does when the air is off.

use risertrim::lift::{Calibration, Curve};
use risertrim::units::{FreeAir, WaterFlow};
use risertrim_tests::close;
use risertrim_tests::risers::{CONDITIONS, G, area, drowned, grid, plain, riser};

#[test]
fn more_submergence_gives_more_water() {
    // Common practice, no source; also Samir Ali (airlift as pump and aerator) on 50 to 100 mm pipes.
    for (bore, _, lift) in grid() {
        let air = FreeAir::from_m3_s(0.5 * plain(bore, 0.5, lift).peak().air.m3_s);
        let flows = [0.5, 0.7, 1.0, 1.4, 2.0].map(|depth| plain(bore, depth, lift).flow(air).m3_s);
        assert!(flows.is_sorted_by(|a, b| a < b), "bore {bore}, lift {lift}: {flows:?}");
    }
}

#[test]
fn more_lift_gives_less_water() {
    // Common practice, no source; also Parker & Suttle (1987), Aquac. Eng. 6:97.
    for (bore, depth, _) in grid() {
        let air = FreeAir::from_m3_s(0.5 * plain(bore, depth, 0.0).peak().air.m3_s);
        let flows = [-0.05, 0.0, 0.05, 0.1, 0.2, 0.3].map(|lift| plain(bore, depth, lift).flow(air).m3_s);
        assert!(
            flows.is_sorted_by(|a, b| a > b),
            "bore {bore}, depth {depth}: {flows:?}"
        );
    }
}

#[test]
fn more_air_gives_more_water_up_to_a_peak_that_moves_with_submergence_and_lift() {
    // Common practice, no source, for the peak; the shape is that of Stenning & Martin's and Kassab's measured curves.
    for (bore, depth, lift) in grid() {
        let curve = plain(bore, depth, lift);
        let (onset, peak) = (curve.onset().expect("within reach").m3_s, curve.peak());
        let mut before = -1.0;
        for step in 0..=50_u16 {
            let air = onset + 0.019 * f32::from(step) * (peak.air.m3_s - onset);
            let flow = curve.flow(FreeAir::from_m3_s(air)).m3_s;
            assert!(flow > before, "bore {bore}, depth {depth}, lift {lift}, step {step}");
            before = flow;
        }
    }
    for bore in [0.032, 0.0464, 0.1036] {
        let deep = [0.5, 0.8, 1.2, 2.0].map(|depth| plain(bore, depth, 0.1).peak());
        assert!(deep.is_sorted_by(|a, b| a.flow < b.flow), "deeper: a higher peak");
        assert!(
            (deep[3].air.m3_s / deep[0].air.m3_s - 1.0).abs() > 0.02,
            "and at another air"
        );
        let high = [0.02, 0.1, 0.2, 0.3].map(|lift| plain(bore, 1.0, lift).peak());
        assert!(high.is_sorted_by(|a, b| a.flow > b.flow), "higher: a lower peak");
        assert!(
            (high[3].air.m3_s / high[0].air.m3_s - 1.0).abs() > 0.02,
            "and at another air"
        );
    }
}

#[test]
fn a_receiver_that_rises_over_the_outlet_slows_the_lift_and_one_below_it_does_not() {
    // Common practice, no source.
    for bore in [0.032, 0.0464, 0.1036] {
        let air = FreeAir::from_m3_s(0.5 * drowned(bore, 1.0, 0.05, 0.0).peak().air.m3_s);
        let at = |receiver: f32| drowned(bore, 1.0, 0.05, receiver).flow(air).m3_s;
        assert_eq!(at(-0.3), at(0.05));
        let flows = [0.05, 0.08, 0.12, 0.2].map(at);
        assert!(flows.is_sorted_by(|a, b| a > b), "bore {bore}: {flows:?}");
    }
}

#[test]
fn water_runs_without_air_where_the_outlet_lies_below_the_source() {
    // Bernoulli with the losses of water alone: l = (K + 1) v^2 / 2g, K = f L/D + 0.5.
    for (bore, depth) in [(0.032_f32, 0.6_f32), (0.0464, 1.0), (0.1036, 1.5)] {
        for lift in [-0.01_f32, -0.05, -0.2] {
            let curve = plain(bore, depth, lift);
            let losses = 0.022 * f64::from(depth + lift) / f64::from(bore) + 0.5 + 1.0;
            let speed = (2.0 * G * f64::from(-lift) / losses).sqrt();
            let by_itself = curve.flow(FreeAir::ZERO).m3_s;
            close(
                format_args!("bore {bore}, lift {lift}"),
                by_itself,
                speed * area(bore),
                1.0e-4,
                0.0,
            );
            assert_eq!(
                curve.air_for(WaterFlow::from_m3_s(0.9 * by_itself)),
                Some(FreeAir::ZERO)
            );
            assert_eq!(curve.onset(), Some(FreeAir::ZERO));
            assert!(curve.flow(FreeAir::from_m3_s(0.2 * curve.peak().air.m3_s)).m3_s > by_itself);
        }
    }
}

#[test]
fn water_runs_back_through_a_drowned_outlet_when_the_air_is_off() {
    for bore in [0.032_f32, 0.0464, 0.1036] {
        let back = drowned(bore, 1.0, 0.0, 0.1).flow(FreeAir::ZERO).m3_s;
        let losses = 0.022 * 1.1 / f64::from(bore) + 0.5 + 1.0;
        close(
            format_args!("bore {bore}"),
            back,
            -(2.0 * G * 0.1 / losses).sqrt() * area(bore),
            1.0e-4,
            0.0,
        );
        // A free outlet holds no water that could run back.
        assert_eq!(drowned(bore, 1.0, 0.2, 0.1).flow(FreeAir::ZERO).m3_s, 0.0);
    }
}

#[test]
fn nonsense_gives_no_flow_and_never_nan() {
    let curve = plain(0.0464, 1.0, 0.1);
    for air in [
        f32::NAN,
        f32::INFINITY,
        f32::NEG_INFINITY,
        -1.0,
        f32::MAX,
        f32::MIN_POSITIVE,
    ] {
        let point = curve.at(FreeAir::from_m3_s(air));
        assert!(
            point.flow.m3_s.is_finite() && point.per_air.is_finite() && point.per_source_m.is_finite(),
            "{air}"
        );
        assert!(
            curve
                .air_for(WaterFlow::from_m3_s(air))
                .is_none_or(|air| air.m3_s.is_finite()),
            "{air}"
        );
    }
    for level in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -5.0, 1.0e30] {
        let mounted = riser(0.0464, 1.1);
        for receiver in [None, Some(level)] {
            let curve = Curve::new(&mounted, &Calibration::default(), &CONDITIONS, level, receiver);
            let (flow, peak) = (curve.flow(FreeAir::from_l_min(20.0)), curve.peak());
            assert!(
                flow.m3_s.is_finite() && peak.flow.m3_s.is_finite() && peak.air.m3_s.is_finite(),
                "level {level}"
            );
        }
    }
    // Water below the injector: nothing to lift.
    let dry = Curve::new(&riser(0.0464, 1.1), &Calibration::default(), &CONDITIONS, 0.0, None);
    assert_eq!(dry.flow(FreeAir::from_l_min(50.0)), WaterFlow::ZERO);
    assert!(dry.onset().is_none() && dry.air_for(WaterFlow::from_l_min(1.0)).is_none());
}
