//! The figures printed on the page that explains the physics are those of the core.

use risertrim::installation::Site;
use risertrim::lift::{Calibration, Curve, Riser};
use risertrim::units::FreeAir;

const PAGE: &str = include_str!("../../core/PHYSICS.md");

fn filter_lift() -> Curve {
    let riser = Riser {
        bore_m: 0.0712,
        injector_m: 0.05,
        outlet_m: 1.18,
        darcy_friction: 0.022,
        entrance_loss: 0.5,
        outlet_loss: 0.0,
    };
    let site = Site {
        altitude_m: 120.0,
        water_c: 22.0,
        salinity_g_kg: 0.0,
    };
    Curve::new(&riser, &Calibration::default(), &site.conditions(), 1.05, None)
}

/// The rows of the table whose head starts with `head`, as two texts each.
fn rows(head: &str) -> Vec<(String, String)> {
    PAGE.lines()
        .skip_while(|line| !line.starts_with(head))
        .skip(2)
        .take_while(|line| line.starts_with('|'))
        .map(|line| {
            let mut cells = line.trim_matches('|').split('|').map(|cell| cell.trim().to_owned());
            (cells.next().unwrap(), cells.next().unwrap())
        })
        .collect()
}

#[test]
fn the_table_of_the_filter_lift_is_what_the_core_computes() {
    let curve = filter_lift();
    let rows = rows("| free air, L/min");
    assert_eq!(rows.len(), 7);
    for (air, water) in rows {
        let printed: f32 = water.parse().unwrap();
        let (expected_air, expected_water) = if let Some(onset) = air.strip_prefix("onset: ") {
            assert!(
                (onset.parse::<f32>().unwrap() - curve.onset().unwrap().l_min()).abs() < 0.06,
                "{onset}"
            );
            continue;
        } else if let Some(peak) = air.strip_prefix("peak: ") {
            let found = curve.peak();
            assert!(
                (peak.parse::<f32>().unwrap() - found.air.l_min()).abs() < 0.6,
                "{peak}: {}",
                found.air.l_min()
            );
            (peak.to_owned(), found.flow)
        } else {
            (air.clone(), curve.flow(FreeAir::from_l_min(air.parse().unwrap())))
        };
        assert!(
            (printed - expected_water.l_min()).abs() < 0.6,
            "at {expected_air} L/min of air the page says {printed}, the core {}",
            expected_water.l_min()
        );
    }
}

#[test]
fn a_millimetre_of_zero_costs_what_the_page_says() {
    // Over a 90 degree notch at 60 L/min and over a 110 mm standpipe (103.6 mm bore): share of flow per millimetre.
    use risertrim::outlet::{standpipe_m3_s, v_notch_m3_s};
    let share = |law: &dyn Fn(f32) -> f32| {
        let mut head = 0.001f32;
        while law(head) < 0.001 {
            head += 1.0e-5;
        }
        law(head + 0.001) / law(head) - 1.0
    };
    let notch = share(&|head| v_notch_m3_s(head, 90.0));
    let pipe = share(&|head| standpipe_m3_s(head, 0.1036));
    assert!((notch - 0.045).abs() < 0.01, "notch {notch}");
    assert!((pipe - 0.11).abs() < 0.02, "standpipe {pipe}");
}
