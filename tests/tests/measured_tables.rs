//! A controller keeps the measured points of all tables in one room: what it writes, what fits, and that nothing comes of it.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestRunner};
use risertrim::air::{Characteristic, ValvePoint};
use risertrim::fault::Place;
use risertrim::frame::{fingerprint, to_bytes};
use risertrim::outlet::{Law, TablePoint};
use risertrim::tank::AreaPoint;
use risertrim::{Controller, Installation, Millis, Reading, Readings};
use risertrim_tests::drawn::{Dials, drawn};
use risertrim_tests::places::one_lift;

/// A measured valve of six points, steeper with every `kind`.
fn valve(kind: u8) -> Characteristic {
    let shares = [0.0, 0.05, 0.2, 0.45, 0.75, 1.0];
    Characteristic::Table {
        points: shares
            .iter()
            .zip(0u8..)
            .map(|(share, point)| ValvePoint {
                opening: f32::from(point) / 5.0,
                share: if *share < 1.0 {
                    share / (1.0 + 0.01 * f32::from(kind))
                } else {
                    1.0
                },
            })
            .collect(),
    }
}

/// An outlet measured at six levels from this crest up: a notch's flows, more or less.
fn outlet(crest_m: f32) -> Law {
    let flows = [0.0, 2.0e-4, 8.0e-4, 2.0e-3, 4.0e-3, 7.0e-3];
    Law::Table {
        points: flows
            .iter()
            .zip(0u8..)
            .map(|(flow_m3_s, point)| TablePoint {
                level_m: crest_m + 0.03 * f32::from(point),
                flow_m3_s: *flow_m3_s,
            })
            .collect(),
    }
}

/// The one-lift place with every table that it can have, each as long as it may be.
fn measured() -> Installation<1, 2> {
    let mut place = one_lift();
    let surface = place.tanks[1].area[0].area_m2;
    place.tanks[1].area = [(0.0, 1.0), (0.2, 1.1), (0.4, 1.15), (0.6, 1.2)]
        .map(|(level_m, times)| AreaPoint {
            level_m,
            area_m2: surface * times,
        })
        .into_iter()
        .collect();
    let crest_m = place.tanks[1].outlets[0].law.dry_below_m();
    place.tanks[1].outlets[0].law = outlet(crest_m);
    place.lifts[0].valve.characteristic = valve(0);
    place
}

/// Promise: a board's stored and sent installations, and its logs, do not depend on how a controller keeps its own.
#[test]
fn what_a_controller_keeps_is_written_as_what_it_was_given() {
    let config = Config {
        cases: 200,
        rng_seed: RngSeed::Fixed(31),
        failure_persistence: None,
        ..Config::default()
    };
    let mut runner = TestRunner::new(config);
    let started = std::cell::Cell::new(0u32);
    let compared = runner.run(&prop::collection::vec(any::<u16>(), 400), |dials| {
        let place: Installation<4, 5> = drawn(&mut Dials::new(&dials));
        if let Ok(controller) = Controller::new(&place, &[]) {
            started.set(started.get() + 1);
            let (mut kept, mut given) = ([0; 8192], [0; 8192]);
            let kept = to_bytes(controller.installation(), &mut kept).expect("8 KiB hold it");
            let given = to_bytes(&place, &mut given).expect("8 KiB hold it");
            prop_assert_eq!(&*kept, &*given);
            prop_assert_eq!(fingerprint(controller.installation()), fingerprint(&place));
            prop_assert_eq!(&controller.installation().to_installation(), &place);
        }
        Ok(())
    });
    assert!(compared.is_ok(), "{compared:?}");
    assert!(started.get() > 50, "only {} places could start", started.get());
}

#[test]
fn the_smallest_controller_has_room_for_the_longest_tables() {
    let place = measured();
    let controller = Controller::new(&place, &[]).unwrap_or_else(|faults| panic!("{:?}", faults.named()));
    assert_eq!(controller.installation(), &place);
}

/// A table is a table wherever its points are: a controller with room for more, in which they lie elsewhere, does the same.
#[test]
fn where_the_points_lie_changes_no_bit() {
    let place = measured();
    let mut wide: Installation<8, 9> = Installation::none();
    (wide.site, wide.air, wide.settings) = (place.site, place.air.clone(), place.settings);
    wide.tanks.extend(place.tanks.iter().cloned());
    wide.lifts.extend(place.lifts.iter().cloned());
    let mut small = Controller::new(&place, &[]).expect("it starts");
    let mut large = Controller::new(&wide, &[]).expect("it starts");
    for second in 0..600u32 {
        let level = |usual: f32| Reading::Value(usual + 0.01 * ((second % 7) as f32 - 3.0) / 3.0);
        let usual = |tank: usize| {
            let limits = &place.tanks[tank].limits;
            0.5 * (limits.low_warn_m + limits.high_warn_m)
        };
        let levels = [level(usual(0)), level(usual(1))];
        let mut for_small = Readings::default();
        let mut for_large = Readings::default();
        (for_small.now, for_large.now) = (Millis(1000 * second), Millis(1000 * second));
        for_small.levels.extend(levels);
        for_large.levels.extend(levels);
        let (a, b) = (small.step(&for_small), large.step(&for_large));
        assert_eq!(a.lifts[0], b.lifts[0], "second {second}");
        assert_eq!(a.tanks[..], b.tanks[..], "second {second}");
    }
}

/// Eight valves of one make, measured once.
#[test]
fn alike_tables_share_their_points_and_different_ones_run_out_of_room() {
    let place = measured();
    let many = |kind: fn(u8) -> u8| {
        let mut many: Installation<8, 9> = Installation::none();
        (many.site, many.air, many.settings) = (place.site, place.air.clone(), place.settings);
        many.tanks.push(place.tanks[0].clone()).expect("room");
        for index in 1..9u8 {
            many.tanks.push(place.tanks[1].clone()).expect("room");
            let mut lift = place.lifts[0].clone();
            (lift.to, lift.valve.characteristic) = (index, valve(kind(index)));
            many.lifts.push(lift).expect("room");
        }
        for tank in &mut many.tanks {
            tank.area.truncate(1);
        }
        many
    };
    let no_room = |place: &Installation<8, 9>| -> Vec<Place> {
        let faults = risertrim::validate::validate(place);
        let told = faults
            .named()
            .iter()
            .filter(|fault| fault.to_string().contains("no room left"));
        told.map(|fault| fault.place).collect()
    };
    assert_eq!(no_room(&many(|_| 0)), []);
    assert_eq!(no_room(&many(|index| index % 2)), []);
    // Six points each, and room for eight and one table of six: the third valve that is different has none.
    assert_eq!(no_room(&many(|index| index)), [Place::Lift(2)]);
    assert!(Controller::new(&many(|index| index), &[]).is_err());
}

#[test]
fn an_exchange_that_has_no_room_changes_nothing_and_one_that_has_is_kept_whole() {
    let place = measured();
    let mut controller = Controller::new(&place, &[]).expect("it starts");
    let mut crowded = place.clone();
    let another = crowded.tanks[1].outlets[0].clone();
    crowded.tanks[0].outlets.push(another).expect("room for an outlet");
    for (tank, crest_m) in crowded.tanks.iter_mut().zip([0.41, 0.43]) {
        for outlet_of in &mut tank.outlets {
            outlet_of.law = outlet(crest_m);
        }
    }
    crowded.tanks[0].outlets[0].to = risertrim::outlet::Drain::Away;
    assert!(controller.exchange(&crowded).is_err());
    assert_eq!(controller.installation(), &place);
    let mut other = place.clone();
    other.lifts[0].valve.characteristic = valve(3);
    controller.exchange(&other).expect("as many points as before");
    assert_eq!(controller.installation(), &other);
}
