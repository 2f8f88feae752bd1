//! What must hold for any levels, any air and any openings.

use super::example::three_lifts;
use super::tests::unaccounted_m3;
use super::*;
use proptest::prelude::*;

fn sound(state: &PlantState) -> bool {
    let lifts = state
        .lifts
        .iter()
        .all(|l| l.water_m3_s.is_finite() && l.air_m3_s.is_finite() && l.air_m3_s >= 0.0 && l.water_m3.is_finite());
    let tanks = state.tanks.iter().all(|t| t.level_m.is_finite() && t.level_m >= 0.0);
    lifts && tanks && state.manifold_pa.is_finite() && state.power_w.is_finite() && state.power_w >= 0.0
}

fn steady() -> ProptestConfig {
    ProptestConfig {
        cases: 48,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(11),
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(steady())]

    #[test]
    fn water_is_kept_and_nothing_is_nan_for_any_openings(
        openings in prop::collection::vec([0.0..=1.0_f64, 0.0..=1.0_f64, 0.0..=1.0_f64], 8),
        step in 0.2..30.0_f64,
        sump in 0.0..1.3_f64,
        others in [0.0..0.78_f64, 0.0..0.8_f64, 0.0..0.82_f64],
    ) {
        let mut spec = three_lifts();
        spec.tanks[0].start_m = sump;
        for (tank, level) in spec.tanks[1..].iter_mut().zip(others) {
            tank.start_m = level;
        }
        spec.tanks[0].evaporation_m3_s = 1e-6;
        let mut plant = Plant::new(spec).expect("sound");
        let start = plant.state().volume_m3();
        for x in &openings {
            for _ in 0..20 {
                plant.advance(step, x);
                prop_assert!(sound(plant.state()), "{:?}", plant.state());
            }
        }
        prop_assert!(unaccounted_m3(&plant, start).abs() < 1e-9);
    }

    #[test]
    fn deeper_gives_more_and_higher_gives_less(
        bore in 0.02..0.2_f64,
        depth in 0.4..2.0_f64,
        lift in 0.0..0.3_f64,
        jg in 0.02..1.5_f64,
    ) {
        let riser = Riser::clean(bore, Place::new(0.0, 20.0, 0.0));
        let air = jg * riser.bore_m2();
        let q = |depth: f64, lift: f64| riser.water_m3_s(Heads::free(depth, lift), air, &mut 0.0);
        let here = q(depth, lift);
        let floor = if here > 0.0 { 0.0 } else { -1.0 };
        // Deeper at the same lift: more. Higher, with the injector where it was: less.
        prop_assert!(q(depth + 0.05, lift) - here > floor);
        prop_assert!(here - q(depth, lift + 0.02) > floor);
        // A sump that sinks by 20 mm.
        prop_assert!(here - q(depth - 0.02, lift + 0.02) > floor);
        // A receiving level that rises above the outlet.
        let drowned = Heads { submergence_m: depth, lift_m: lift + 0.03, drowned_m: 0.03 };
        prop_assert!(here - riser.water_m3_s(drowned, air, &mut 0.0) > floor);
    }

    #[test]
    fn a_peak_exists_and_both_sides_of_it_are_lower(
        bore in 0.02..0.2_f64,
        depth in 0.4..2.0_f64,
        share in 0.0..0.3_f64,
        dirt in 0.0..30.0_f64,
    ) {
        let mut riser = Riser::clean(bore, Place::new(0.0, 20.0, 0.0));
        riser.fouling_k = dirt;
        let heads = Heads::free(depth, share * depth);
        let peak = riser.peak(heads);
        prop_assert!(peak.water_m3_s > 0.0);
        for times in [0.6, 1.6] {
            prop_assert!(riser.water_m3_s(heads, peak.air_m3_s * times, &mut 0.0) < peak.water_m3_s);
        }
    }

    #[test]
    fn a_riser_answers_for_any_levels_and_air_and_from_any_start(
        bore in 0.015..0.3_f64,
        depth in -0.5..3.0_f64,
        lift in -1.0..2.0_f64,
        drowned in -0.5..0.5_f64,
        jg in prop_oneof![Just(0.0), 0.0..0.1_f64, 0.0..60.0_f64],
        dirt in prop_oneof![Just(0.0), 0.0..1e5_f64],
        start in prop_oneof![0.0..0.1_f64, 0.0..10.0_f64],
    ) {
        let mut riser = Riser::clean(bore, Place::new(0.0, 20.0, 0.0));
        riser.fouling_k = dirt;
        riser.kout = 0.5;
        let heads = Heads { submergence_m: depth, lift_m: lift.max(0.1 - depth), drowned_m: drowned };
        let air = jg * riser.bore_m2();
        let cold = riser.water_m3_s(heads, air, &mut 0.0);
        let warm = riser.water_m3_s(heads, air, &mut start.clone());
        prop_assert!(cold.is_finite() && cold < 10.0 * riser.bore_m2() + 1e-9);
        prop_assert!((cold - warm).abs() <= 2e-6 * cold.abs() + 1e-9 * riser.bore_m2(), "{cold} {warm}");
        prop_assert!(cold >= 0.0 || drowned > 0.0);
    }

    #[test]
    fn water_is_kept_whatever_happens_at_once(
        left in 0.0..1.0_f64,
        lost in 0.0..0.95_f64,
        sag in 0.0..1.2_f64,
        times in 0.0..1e4_f64,
        leak in 0.0..5e-3_f64,
        openings in [0.0..=1.0_f64, 0.0..=1.0_f64, 0.0..=1.0_f64],
    ) {
        let mut plant = Plant::new(three_lifts()).expect("sound");
        let start = plant.state().volume_m3();
        for change in [
            Change::ClogOutlet { tank: 1, outlet: 0, left },
            Change::ClogOutlet { tank: 3, outlet: 0, left: 1.0 - left },
            Change::FoulLift { lift: 2, lost },
            Change::SagBlower { left: sag },
            Change::KinkLine { lift: 1, times },
            Change::FoulDiffuser { lift: 0, times: 0.01 * times },
            Change::Leak { tank: 2, m3_s: leak },
            Change::TopUp { tank: 0, m3: 0.2 },
        ] {
            plant.begin(change, 300.0).expect("a sound change");
        }
        for _ in 0..600 {
            plant.advance(1.0, &openings);
            prop_assert!(sound(plant.state()), "{:?}", plant.state());
        }
        prop_assert!(unaccounted_m3(&plant, start).abs() < 1e-9);
    }
}
