//! Promises of the recommendation, over every pipe.

use super::confirm::marched;
use super::*;
use crate::pipes::Series;
use crate::plant::Heads;
use proptest::prelude::*;

fn steady(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(23),
        ..ProptestConfig::default()
    }
}

fn asked(series: Vec<Series>, flow_l_min: f64, depth_m: f64, lift_m: f64) -> Request {
    Request {
        water_m3_s: Span::at(flow_l_min / L_MIN),
        depth_m: Span::at(depth_m),
        lift_m: Span::at(lift_m),
        series,
        ..Request::default()
    }
}

/// The promises, judged by the marched model where it can judge.
fn keeps_its_promises(answer: &Answer) -> Result<(), String> {
    let Some(pick) = &answer.pick else { return Ok(()) };
    let chosen = &answer.candidates[pick.index];
    let request = &answer.request;
    let water = request.water_m3_s.high;
    let air = chosen.air_m3_s.ok_or("no air")?;
    if water > 0.8001 * chosen.peak_m3_s {
        return Err(format!("{} past 80 %: {water} of {}", chosen.pipe, chosen.peak_m3_s));
    }
    if water > 0.83 * pick.confirmation.marched_peak_m3_s {
        return Err(format!("{} past 80 % of the marched peak", chosen.pipe));
    }
    if air <= chosen.onset_air_m3_s.ok_or("no onset")? {
        return Err(format!("{} below the onset", chosen.pipe));
    }
    // A tenth less air still moves water by the marched model: it is clear of the true onset too.
    let heads = Heads::free(request.depth_m.low, request.lift_m.high);
    if marched(request, chosen.pipe.bore_m()).water_m3_s(heads, 0.9 * air, &mut 0.0) <= 0.0 {
        return Err(format!("{} stops at a tenth less air", chosen.pipe));
    }
    for other in answer
        .candidates
        .iter()
        .filter(|other| other.pipe.bore_mm < chosen.pipe.bore_mm)
    {
        if let Some(less) = other.air_m3_s
            && water > 0.5 * other.peak_m3_s
            && less < air
        {
            return Err(format!(
                "{} needs {air}, narrower {} only {less}",
                chosen.pipe, other.pipe
            ));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(steady(400))]

    #[test]
    fn a_recommendation_keeps_its_promises_in_every_series_depth_and_lift(
        series in prop::sample::subsequence(Series::ALL.to_vec(), 1..=7),
        flow in (0.0..1.0_f64).prop_map(|x| 3.0 * 300.0_f64.powf(x)),
        depth in 0.5..2.0_f64,
        lift in 0.0..0.3_f64,
        least_speed in prop_oneof![Just(0.0), Just(0.3)],
    ) {
        let request = Request { least_speed_m_s: least_speed, ..asked(series, flow, depth, lift) };
        let answer = size(&request).expect("in range");
        prop_assert!(keeps_its_promises(&answer).is_ok(), "{:?}", keeps_its_promises(&answer));
    }

    #[test]
    fn spans_of_flow_depth_and_lift_are_kept_to_at_their_hardest(
        flow in 10.0..300.0_f64,
        depth in 0.6..1.6_f64,
        lift in 0.0..0.15_f64,
        wider in [1.0..2.0_f64, 1.0..1.4_f64, 0.0..0.15_f64],
    ) {
        let mut request = asked(vec![Series::SoilPvc, Series::PressurePn10], flow, depth, lift);
        request.water_m3_s.high *= wider[0];
        request.depth_m.high *= wider[1];
        request.lift_m.high += wider[2];
        let answer = size(&request).expect("in range");
        prop_assert!(keeps_its_promises(&answer).is_ok(), "{:?}", keeps_its_promises(&answer));
        if let Some(pick) = &answer.pick {
            let chosen = &answer.candidates[pick.index];
            prop_assert!(chosen.least_air_m3_s.expect("reached") <= chosen.air_m3_s.expect("reached") + 1e-12);
        }
    }
}

#[test]
fn most_tasks_of_a_tank_get_a_pipe() {
    let (mut found, mut asked_for) = (0, 0);
    for flow in [10.0, 20.0, 40.0, 80.0, 160.0, 320.0, 600.0] {
        for depth in [0.5, 0.8, 1.2, 1.7, 2.0] {
            for lift in [0.0, 0.05, 0.1, 0.2, 0.3] {
                let answer = size(&asked(vec![Series::SoilPvc], flow, depth, lift)).expect("in range");
                found += u32::from(answer.pick.is_some());
                asked_for += 1;
            }
        }
    }
    println!("{found} of {asked_for} tasks got a pipe");
    assert!(
        f64::from(found) >= 0.95 * f64::from(asked_for),
        "{found} of {asked_for}"
    );
}

#[test]
fn the_controllers_formula_agrees_with_the_marched_model_over_every_pipe() {
    let mut off = Vec::new();
    for series in Series::ALL {
        for pipe in series.pipes() {
            for depth in [0.5, 0.75, 1.0, 1.5, 2.0] {
                for lift in [0.0, 0.05, 0.1, 0.2, 0.3] {
                    let request = asked(vec![series], 1.0, depth, lift);
                    let conditions = request.conditions();
                    let task = candidate::Task {
                        request: &request,
                        conditions: &conditions,
                        bore_m: pipe.bore_m(),
                        depth_m: depth,
                        lift_m: lift,
                    };
                    let peak = task.top().water_m3_s;
                    let riser = marched(&request, pipe.bore_m());
                    for share in [0.2, 0.35, 0.5, 0.65, 0.8] {
                        let air = task.air_for(share * peak).expect("below the peak");
                        let truth = riser.water_m3_s(Heads::free(depth, lift), air, &mut 0.0);
                        off.push(((share * peak / truth - 1.0).abs(), pipe, depth, lift, share));
                    }
                }
            }
        }
    }
    off.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (median, worst) = (off[off.len() / 2], off[off.len() - 1]);
    println!(
        "{} points: median {:.2} %, 95th percentile {:.2} %, worst {:.2} % ({} bore {} mm, {} m deep, lift {} m, {} of peak)",
        off.len(),
        100.0 * median.0,
        100.0 * off[off.len() * 95 / 100].0,
        100.0 * worst.0,
        worst.1,
        worst.1.bore_mm,
        worst.2,
        worst.3,
        worst.4
    );
    assert!(median.0 <= 0.01, "median {}", median.0);
    assert!(worst.0 <= 0.08, "{worst:?}");
}

#[test]
fn efficiency_and_power_are_those_of_their_definitions() {
    let answer = size(&asked(vec![Series::SoilPp], 60.0, 1.0, 0.1)).expect("in range");
    let chosen = &answer.candidates[answer.pick.expect("a pipe").index];
    // Nicklin: 998.2 kg/m3 raised 0.1 m at 1 L/s is 0.979 W; 1 L/s of free air at 101325 Pa expanding from 1 m: 9.34455 W
    // (isothermal). Free air here is at 100 kPa and 20 C.
    let air_l_s = chosen.air_m3_s.unwrap() * 1000.0 * 100_000.0 / 101_325.0;
    let efficiency = 0.978_9 / (9.344_55 * air_l_s);
    assert!(
        (chosen.efficiency / efficiency - 1.0).abs() < 1e-3,
        "{} not {efficiency}",
        chosen.efficiency
    );
    assert!(
        (0.1..0.6).contains(&chosen.efficiency),
        "published rigs show 0.27 to 0.60 at best: {}",
        chosen.efficiency
    );
    // Isentropic: 9.46875 W for 1 L/s to 9.789 kPa; the shaft sees more pressure (line, diffuser, valve) and the efficiency.
    let least = 9.468_75 * air_l_s / 0.35;
    assert!(
        chosen.shaft_w > least && chosen.shaft_w < 1.5 * least,
        "{} W, bare depth {least} W",
        chosen.shaft_w
    );
    assert!((chosen.gas_to_water - air_l_s).abs() < 1e-3 * air_l_s);
    let flat = size(&asked(vec![Series::SoilPp], 60.0, 1.0, 0.0)).expect("in range");
    assert!(
        flat.candidates
            .iter()
            .all(|candidate| candidate.efficiency == 0.0 && candidate.turn_down.is_none())
    );
}

#[test]
fn a_weak_blower_rules_pipes_out_by_its_curve_as_it_holds_at_the_site() {
    let mut request = asked(vec![Series::SoilPvc], 60.0, 1.0, 0.1);
    request.blower = Some(vec![(0.0, 30_000.0), (100.0 / L_MIN, 14_000.0), (200.0 / L_MIN, 0.0)]);
    assert!(size(&request).expect("in range").pick.is_some());
    request.altitude_m = 3000.0;
    let high = size(&request).expect("in range");
    // The curve as told, at 3000 m too: 14 kPa at 100 L/min, none at 200. As many lifts as want 110 to 150 L/min together.
    let air_of_one = high.candidates[2].air_m3_s.unwrap() * L_MIN;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let lifts = (150.0 / air_of_one) as u32;
    request.lifts = lifts;
    let many = size(&request).expect("in range");
    let held = many.candidates[2].ruled_out.iter().find_map(|rule| match rule {
        Rule::BlowerTooWeak { air_m3_s, holds_pa, .. } => Some((air_m3_s * L_MIN, *holds_pa)),
        _ => None,
    });
    let (air, holds) = held.expect("ruled out by the blower");
    assert!(
        (110.0..=150.0).contains(&air) && (air / air_of_one - f64::from(lifts)).abs() < 0.01,
        "{air}"
    );
    assert!((holds - (28_000.0 - 140.0 * air)).abs() < 20.0, "{holds} at {air}");
    let here = high.candidates[2].air_m3_s.unwrap();
    let sea = size(&asked(vec![Series::SoilPvc], 60.0, 1.0, 0.1))
        .expect("in range")
        .candidates[2]
        .air_m3_s
        .unwrap();
    // At thinner air a bubble of the same mass is larger: less free air does the same.
    assert!(here < sea && here > 0.6 * sea, "{here} {sea}");
}

#[test]
fn the_air_for_the_fish_is_the_floor_and_rules_out_what_it_would_drown() {
    let mut request = asked(vec![Series::SoilPvc], 60.0, 1.0, 0.1);
    let stock = crate::oxygen::Stock {
        fish_kg: 20.0,
        feed_kg_day: 0.3,
        oxygen_kg_kg: 0.5,
    };
    request.fish = Some(Fish {
        stock,
        dissolved_mg_l: 5.0,
        other_g_h: 0.0,
    });
    let answer = size(&request).expect("in range");
    let floor = answer.floor.expect("air can do it");
    assert!(
        (floor.each_m3_s * L_MIN * floor.transfer.g_h_per_l_min / answer.demand.unwrap().worst_g_h - 1.0).abs() < 1e-9
    );
    request.fish = Some(Fish {
        dissolved_mg_l: 12.0,
        ..request.fish.unwrap()
    });
    assert!(
        size(&request).expect("in range").floor.is_none(),
        "more than saturation"
    );
}

#[test]
fn values_out_of_range_are_refused_by_name_value_and_range() {
    let said = |request: &Request| {
        size(request)
            .unwrap_err()
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("\n")
    };
    let good = Request::default();
    let text = said(&Request {
        depth_m: Span::at(0.001),
        ..good.clone()
    });
    assert!(
        text.contains("depth in mm is 1, allowed: 150 to 5000") && text.contains("given in m?"),
        "{text}"
    );
    let text = said(&Request {
        water_m3_s: Span {
            low: 0.002,
            high: 0.001,
        },
        ..good.clone()
    });
    assert!(
        text.contains("flow in L/min is 120..60") && text.contains("smaller value first"),
        "{text}"
    );
    let text = said(&Request {
        lift_m: Span::at(0.9),
        depth_m: Span::at(0.6),
        ..good.clone()
    });
    assert!(
        text.contains("lift in mm") && text.contains("no more than the depth"),
        "{text}"
    );
    let text = said(&Request {
        water_c: f64::NAN,
        altitude_m: 9000.0,
        ..good.clone()
    });
    assert!(
        text.contains("water temperature in C is NaN") && text.contains("altitude in m is 9000"),
        "{text}"
    );
    let text = said(&Request {
        blower: Some(vec![(0.0, 1.0), (0.0, 2.0)]),
        ..good
    });
    assert!(text.contains("blower curve"), "{text}");
}

#[test]
fn the_text_fits_its_width_and_names_what_it_must() {
    for series in [vec![Series::SoilPvc], Series::ALL.to_vec()] {
        let mut request = asked(series, 60.0, 1.9, 0.12);
        let stock = crate::oxygen::Stock {
            fish_kg: 40.0,
            feed_kg_day: 0.8,
            oxygen_kg_kg: 0.5,
        };
        request.fish = Some(Fish {
            stock,
            dissolved_mg_l: 6.0,
            other_g_h: 5.0,
        });
        let text = answer_text(&size(&request).expect("in range"));
        let widest = text.lines().map(|line| line.chars().count()).max().unwrap();
        assert!(widest <= 110, "{widest}:\n{text}");
        for word in [
            "RECOMMENDED",
            "marched",
            "Common practice",
            "1.7 m",
            "Benson",
            "Air floor",
            "Kv",
        ] {
            assert!(text.contains(word), "{word} is missing:\n{text}");
        }
    }
}
