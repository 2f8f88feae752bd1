//! What pulsed air does to a lift: against the curve marched over a cycle, and against the modelled riser, which shares no equation
//! with the core.

use proptest::prelude::*;
use risertrim::Opening;
use risertrim::air::Characteristic;
use risertrim::drive::pulsed::{characteristic, least_bleed, mean_air, mean_flow, share_for};
use risertrim::lift::Curve;
use risertrim::units::{FreeAir, WaterFlow};
use risertrim_sim::plant::{Heads, Place, Riser};
use risertrim_tests::risers::plain;

const SHARES: [f32; 6] = [0.0, 0.1, 0.3, 0.5, 0.8, 1.0];

/// A lift of 60 mm, 1 m deep, 50 mm of static lift: its onset, half and four fifths of the way to its peak.
fn lift() -> (Curve, FreeAir, FreeAir, FreeAir) {
    let curve = plain(0.06, 1.0, 0.05);
    let onset = curve.onset().expect("air can lift it");
    let peak = curve.peak().air;
    let part = |share: f32| FreeAir::from_m3_s(onset.m3_s + share * (peak.m3_s - onset.m3_s));
    (curve, onset, part(0.1), part(0.4))
}

#[test]
fn the_mean_over_a_marched_cycle_is_the_mean_flow() {
    let (curve, _, low, high) = lift();
    for share in SHARES {
        // A cycle of 20 s in steps of 1 ms, air high first.
        let open = (share * 20_000.0).round();
        let sum: f64 = (0..20_000u16)
            .map(|ms| if f32::from(ms) < open { high } else { low })
            .map(|air| f64::from(curve.flow(air).m3_s))
            .sum();
        let mean = f64::from(mean_flow(&curve, low, high, share).m3_s);
        assert!((sum / 20_000.0 - mean).abs() <= 1.0e-5 * mean, "share {share}");
    }
}

#[test]
fn above_the_onset_pulses_give_less_water_than_the_same_air_kept_steady() {
    let (curve, _, low, high) = lift();
    for share in [0.2, 0.5, 0.8] {
        let pulsed = mean_flow(&curve, low, high, share).m3_s;
        let steady = curve.flow(mean_air(low, high, share)).m3_s;
        assert!(pulsed < 0.97 * steady, "share {share}: {pulsed} against {steady}");
    }
}

#[test]
fn around_the_onset_pulses_move_water_that_the_same_air_kept_steady_would_not() {
    let (curve, onset, _, high) = lift();
    let share = 0.8 * onset.m3_s / high.m3_s;
    assert_eq!(curve.flow(mean_air(FreeAir::ZERO, high, share)), WaterFlow::ZERO);
    assert!(mean_flow(&curve, FreeAir::ZERO, high, share).m3_s > 0.0);
}

#[test]
fn the_modelled_riser_agrees_on_the_mean_flow_of_a_pulsed_lift() {
    let (curve, _, low, high) = lift();
    let place = Place::new(0.0, 20.0, 0.0);
    let riser = Riser::clean(0.06, place);
    // The same riser as the core's: its foot 1 m deep, its outlet 50 mm above the water.
    let heads = Heads::free(1.0, 0.05);
    let water = |air: FreeAir| riser.water_m3_s(heads, f64::from(air.m3_s), &mut 0.0);
    for share in [0.2f32, 0.5, 0.8] {
        let truth = (1.0 - f64::from(share)) * water(low) + f64::from(share) * water(high);
        let steady = water(mean_air(low, high, share));
        let told = f64::from(mean_flow(&curve, low, high, share).m3_s);
        assert!(
            (told / truth - 1.0).abs() < 0.05,
            "share {share}: {told} against {truth}"
        );
        // The difference that pulsing makes is not lost in the difference between the models.
        assert!(
            (told - truth).abs() < 0.5 * (steady - truth),
            "share {share}: steady {steady}"
        );
    }
}

#[test]
fn the_share_for_a_flow_gives_that_flow_and_no_share_gives_what_lies_beyond() {
    let (curve, _, low, high) = lift();
    for share in SHARES {
        let flow = mean_flow(&curve, low, high, share);
        let back = share_for(&curve, low, high, flow).expect("between both");
        assert!((back - share).abs() < 1.0e-5, "{share}: {back}");
    }
    let most = curve.flow(high).m3_s;
    let least = curve.flow(low).m3_s;
    assert_eq!(share_for(&curve, low, high, WaterFlow::from_m3_s(1.01 * most)), None);
    assert_eq!(share_for(&curve, low, high, WaterFlow::from_m3_s(0.99 * least)), None);
    assert_eq!(
        share_for(&curve, low, low, curve.flow(low)),
        None,
        "no two airs, no share"
    );
    assert_eq!(share_for(&curve, low, high, WaterFlow::from_m3_s(f32::NAN)), None);
}

#[test]
fn the_bleed_aerates_without_moving_water_unless_the_fish_need_more() {
    let (curve, onset, _, _) = lift();
    let bleed = least_bleed(&curve, FreeAir::ZERO);
    assert!(bleed > FreeAir::ZERO && curve.flow(bleed) == WaterFlow::ZERO);
    // Even if the true onset is a third lower.
    assert!(bleed.m3_s < onset.m3_s * 2.0 / 3.0);
    let floor = FreeAir::from_m3_s(3.0 * onset.m3_s);
    assert_eq!(least_bleed(&curve, floor), floor);
    assert_eq!(least_bleed(&Curve::nothing(), floor), floor);
}

/// How far off the flow is when the controller asks for a target through a characteristic, worst over a sweep of targets.
fn worst_flow_error(curve: &Curve, low: FreeAir, high: FreeAir, valve: &Characteristic) -> f32 {
    let (least, most) = (curve.flow(low).m3_s, curve.flow(high).m3_s);
    (2..=19u8)
        .map(|part| least + f32::from(part) / 20.0 * (most - least))
        .map(|target| {
            // As the controller does it: steady air for the target, then the opening with that share of the conductance.
            let air = curve.air_for(WaterFlow::from_m3_s(target)).expect("below the peak");
            let opening = valve.opening(air.m3_s / high.m3_s);
            (mean_flow(curve, low, high, opening.share()).m3_s / target - 1.0).abs()
        })
        .fold(0.0, f32::max)
}

#[test]
fn through_its_characteristic_a_pulsed_lift_is_far_nearer_its_target_before_anything_is_learned() {
    let (curve, onset, above_onset, high) = lift();
    let bleed = least_bleed(&curve, FreeAir::ZERO);
    for (low, high) in [(bleed, high), (onset, high), (above_onset, high), (bleed, above_onset)] {
        let shaped = characteristic(&curve, low, high).expect("more air gives more water");
        let worst = worst_flow_error(&curve, low, high, &shaped);
        let linear = worst_flow_error(&curve, low, high, &Characteristic::Linear);
        println!(
            "{:5.1} to {:5.1} L/min: worst {:.1} %, linear {:.1} %",
            low.l_min(),
            high.l_min(),
            100.0 * worst,
            100.0 * linear
        );
        // Six points over air that differs forty-fold.
        assert!(worst < 0.2, "{worst}");
        assert!(linear > 3.0 * worst, "it would not be worth its trouble: {linear}");
    }
}

#[test]
fn a_lift_past_its_peak_or_with_nothing_to_gain_has_no_characteristic() {
    let (curve, _, low, high) = lift();
    let peak = curve.peak().air;
    assert!(characteristic(&curve, low, FreeAir::from_m3_s(1.2 * peak.m3_s)).is_none());
    assert!(characteristic(&curve, high, low).is_none());
    assert!(characteristic(&curve, low, low).is_none());
    assert!(characteristic(&Curve::nothing(), low, high).is_none());
    assert!(characteristic(&curve, FreeAir::from_m3_s(f32::NAN), high).is_none());
}

proptest! {
    #[test]
    fn a_characteristic_rises_and_reads_both_ways(bore in 0.02f32..0.15, depth in 0.4f32..2.0, lift in 0.0f32..0.2, low in 0.0f32..1.5, high in 0.2f32..1.0) {
        let curve = plain(bore, depth, lift);
        let onset = curve.onset();
        prop_assume!(onset.is_some());
        let onset = onset.expect("assumed").m3_s;
        let low = FreeAir::from_m3_s(low * onset);
        let high = FreeAir::from_m3_s(onset + high * (curve.peak().air.m3_s - onset));
        if let Some(valve) = characteristic(&curve, low, high) {
            for step in 0..=50u8 {
                let opening = Opening::new(f32::from(step) / 50.0);
                let back = valve.opening(valve.share(opening));
                prop_assert!((back.share() - opening.share()).abs() < 0.01, "{:?}: {:?}", opening, back);
            }
        }
    }
}
