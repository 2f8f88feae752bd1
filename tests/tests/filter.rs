//! What the filter learns from levels alone, on plants that are as it was told but for what the lifts deliver.

use risertrim::estimate::{Balance, FACTOR_HIGH, FACTOR_LOW, Filter, LevelInput, LiftInput, OutletInput, TankInput};
use risertrim::installation::Installation;
use risertrim::lift::Curve;
use risertrim::outlet::{Drain, Law, Outlet};
use risertrim::step::LiftState;
use risertrim::{Command, Controller, Millis, Reading, Readings, Step};
use risertrim_tests::close;
use risertrim_tests::noise::Noise;
use risertrim_tests::places::one_lift;

/// Thin-plate V-notch of 60 degrees (Kindsvater & Shen: Ce 0.5767, kh 1.127 mm), m3/s.
fn notch(head_m: f64) -> f64 {
    let tan = (core::f64::consts::PI / 6.0).tan();
    let h = head_m + 0.001_126_6 * (head_m / 0.001).min(1.0);
    if head_m > 0.0 {
        8.0 / 15.0 * 0.576_671 * tan * (2.0 * 9.806_65_f64).sqrt() * h.powf(2.5)
    } else {
        0.0
    }
}

/// A level as a sensor of 1 mm scatter and 1 mm steps gives it.
#[allow(clippy::cast_possible_truncation)]
fn read(level_m: f64, noise: &mut Noise) -> f32 {
    ((level_m + 0.001 * noise.normal()) * 1000.0).round() as f32 * 0.001
}

/// Variance of such a reading, m2.
const READING_M2: f32 = 1.0e-6 + 1.0e-6 / 12.0;
const TANK: TankInput = TankInput {
    area_m2: 1.0,
    most_m: 1.0,
    unseen_m3_s: 2.0e-5,
};

/// Lifts of constant flow into one tank of 1 m2 that a notch drains; what the filter believes after each second.
fn watch<const LIFTS: usize>(
    curves: [f32; LIFTS],
    factors: [f64; LIFTS],
    seed: u64,
    seconds: u32,
    mut look: impl FnMut(u32, &Filter<LIFTS, 1>),
) {
    let outlet: Outlet = Outlet {
        to: Drain::Away,
        law: Law::VNotch {
            crest_m: 0.4,
            angle_deg: 60.0,
        },
        coefficient: 1.0,
    };
    let mut noise = Noise::new(seed);
    let mut filter = Filter::<LIFTS, 1>::new(LIFTS, 1, 0.3);
    let mut level = 0.46;
    filter.restart_level(0, read(level, &mut noise), 0.001);
    // The tank the lifts draw from is not in the filter: an index it does not have.
    let lifts = curves.map(|curve_m3_s| LiftInput {
        from: 9,
        to: 0,
        curve_m3_s,
        per_source: 0.0,
        per_receiver: 0.0,
    });
    let inflow: f64 = curves
        .iter()
        .zip(factors)
        .map(|(curve, factor)| f64::from(*curve) * factor)
        .sum();
    for second in 1..=seconds {
        for _ in 0..20 {
            level += 0.05 * (inflow - notch(level - 0.4));
        }
        let drained = outlet.at(filter.level_m(0), None);
        let mut balance = Balance::still();
        balance.outlet(&OutletInput {
            from: 0,
            to: None,
            flow_m3_s: drained.flow_m3_s,
            per_level: drained.per_level,
            per_downstream: 0.0,
        });
        for (index, lift) in lifts.iter().enumerate() {
            balance.lift(index, filter.factor(index), lift);
        }
        filter.predict(1.0, &balance, &[TANK]);
        for index in 0..LIFTS {
            filter.doubt(index, 1.0e-4 * 1.0e-4);
        }
        filter.update(&[LevelInput {
            tank: 0,
            level_m: read(level, &mut noise),
            variance_m2: READING_M2,
        }]);
        look(second, &filter);
    }
}

#[test]
fn the_filter_finds_what_a_lift_delivers_and_knows_how_well() {
    let (mut squares, mut looks) = (0.0, 0.0);
    for seed in 0..20 {
        watch([1.0e-3], [0.8], seed, 7200, |second, filter| {
            let (off, sigma) = (f64::from(filter.factor(0)) - 0.8, f64::from(filter.factor_sigma(0)));
            if second == 1 {
                assert!(sigma > 0.25, "nothing is known after one second");
            }
            if second >= 600 && second % 300 == 0 {
                assert!(
                    off.abs() <= 4.0 * sigma,
                    "seed {seed}, {second} s: off {off} with a sigma of {sigma}"
                );
                squares += (off / sigma).powi(2);
                looks += 1.0;
            }
            if second == 7200 {
                assert!(sigma < 0.01, "sigma {sigma}");
                close(format_args!("seed {seed}"), filter.factor(0), 0.8, 0.015, 0.0);
            }
        });
    }
    // Square of the error in sigmas: 1 for a filter that knows itself. The factor does not wander here though the filter
    // allows for it, so less is right; far less would be a filter that believes too little.
    let mean: f64 = squares / looks;
    assert!((0.1..1.5).contains(&mean), "mean square of the error {mean} sigma^2");
}

#[test]
fn of_two_lifts_into_one_tank_only_the_sum_shows_and_that_is_right_within_3_percent() {
    let truth = [1.0e-3 * 0.7, 0.6e-3 * 1.1];
    for seed in 0..10 {
        watch([1.0e-3, 0.6e-3], [0.7, 1.1], seed, 7200, |second, filter| {
            let each = [
                1.0e-3 * f64::from(filter.factor(0)),
                0.6e-3 * f64::from(filter.factor(1)),
            ];
            if second >= 1200 {
                close(
                    format_args!("sum, seed {seed}, {second} s"),
                    each[0] + each[1],
                    truth[0] + truth[1],
                    0.03,
                    0.0,
                );
            }
            if second == 7200 {
                let off = (each[1] / truth[1] - 1.0).abs();
                assert!(off > 0.05, "the levels cannot show {each:?}");
                let sigma = f64::from(filter.factor_sigma(1));
                assert!(sigma > 0.1, "and the filter may not believe they do: {sigma}");
            }
        });
    }
}

/// The place of [`one_lift`] in f64, its lift delivering a share of the crate's own curve.
struct Plant {
    place: Installation<1, 2>,
    controller: Controller<1, 2>,
    sump: f64,
    tank: f64,
    factor: f64,
    noise: Noise,
    now: Millis,
    flow_m3_s: f64,
}

impl Plant {
    fn new(factor: f64) -> Self {
        let place = one_lift();
        let controller = Controller::new(&place, &[]).unwrap();
        Self {
            place,
            controller,
            sump: 1.0,
            tank: 0.45,
            factor,
            noise: Noise::new(3),
            now: Millis(0),
            flow_m3_s: 0.0,
        }
    }

    /// Runs for so many seconds; `read_tank` says whether the tank's sensor works.
    fn run(&mut self, seconds: u32, read_tank: bool, mut look: impl FnMut(&Step<1, 2>)) {
        for _ in 0..seconds {
            self.now = self.now.plus(1000);
            let mut levels = heapless::Vec::new();
            levels.push(Reading::Value(read(self.sump, &mut self.noise))).unwrap();
            let tank = read(self.tank, &mut self.noise);
            levels
                .push(if read_tank {
                    Reading::Value(tank)
                } else {
                    Reading::Missing
                })
                .unwrap();
            let step = self.controller.step(&Readings {
                now: self.now,
                levels,
                manifold: Reading::Missing,
            });
            look(&step);
            let lift = &self.place.lifts[0];
            #[allow(clippy::cast_possible_truncation)]
            let curve = Curve::new(
                &lift.riser,
                &lift.calibration,
                &self.place.site.conditions(),
                self.sump as f32,
                None,
            );
            self.flow_m3_s = self.factor * f64::from(curve.flow(step.lifts[0].air).m3_s);
            for _ in 0..10 {
                let net = self.flow_m3_s - notch(self.tank - 0.4);
                self.tank += 0.1 * net;
                self.sump -= 0.1 * net / 2.0;
            }
        }
    }

    fn factor(&self) -> f64 {
        f64::from(self.controller.learned()[0].factor)
    }
}

#[test]
fn a_lift_that_delivers_four_fifths_of_its_curve_is_trimmed_to_its_target() {
    let mut plant = Plant::new(0.8);
    plant.run(2 * 3600, true, |_| {});
    // The learned factor follows the noise of a 1 mm level; the flow delivered is that filtered once more.
    close("factor", plant.factor(), 0.8, 0.03, 0.0);
    close("delivered L/min", plant.flow_m3_s * 60_000.0, 30.0, 0.03, 0.0);
}

#[test]
fn what_a_lift_has_learned_is_frozen_while_it_is_out_of_service() {
    let mut plant = Plant::new(0.8);
    plant.run(2 * 3600, true, |_| {});
    let learned = plant.factor();
    plant.controller.command(Command::OutOfService { lift: 0 }).unwrap();
    plant.run(3600, true, |step| {
        assert_eq!(step.lifts[0].state, LiftState::OutOfService);
        close("factor", step.lifts[0].delivery, learned, 0.02, 0.0);
    });
    // Back in service it does not overshoot: it was never blamed for the flow it was not allowed to give.
    plant.controller.command(Command::Automatic { lift: 0 }).unwrap();
    let mut most = 0.0_f64;
    for _ in 0..3600 {
        plant.run(1, true, |_| {});
        most = most.max(plant.flow_m3_s * 60_000.0);
    }
    assert!(most < 1.06 * 30.0, "up to {most} L/min");
    close("delivered L/min", plant.flow_m3_s * 60_000.0, 30.0, 0.03, 0.0);
}

#[test]
fn a_lost_sensor_leaves_what_was_learned_within_its_bounds_and_says_that_it_is_less_sure() {
    let mut plant = Plant::new(0.8);
    plant.run(2 * 3600, true, |_| {});
    let (learned, sigma) = (plant.factor(), plant.controller.learned()[0].sigma);
    // The sump still shows the sum of what leaves and comes back, so the factor may move, but not far and not out of bounds.
    plant.run(6 * 3600, false, |step| {
        let lift = &step.lifts[0];
        assert!((FACTOR_LOW..=FACTOR_HIGH).contains(&lift.delivery));
        assert!(
            lift.delivery_sigma <= 0.3 * 1.001,
            "never less sure than of a lift that was never seen"
        );
        close("factor", lift.delivery, learned, 0.15, 0.0);
    });
    assert!(plant.controller.learned()[0].sigma > 2.0 * sigma);
    close("delivered L/min", plant.flow_m3_s * 60_000.0, 30.0, 0.15, 0.0);
    plant.run(1800, true, |_| {});
    close("delivered again", plant.flow_m3_s * 60_000.0, 30.0, 0.03, 0.0);
}
