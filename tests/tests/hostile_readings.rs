//! Whatever is read, whatever the clock does, whatever is commanded: every opening is a number within its limits, no valve is
//! believed to move faster than it can, nothing in a step is no number, and nothing depends on the capacities.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use risertrim::controller::Learned;
use risertrim::estimate::{FACTOR_HIGH, FACTOR_LOW};
use risertrim::guard::{Ageing, Trend};
use risertrim::level::Checked;
use risertrim::{Command, Controller, Installation, Millis, Opening, Reading, Readings, Step, WaterFlow};
use risertrim_tests::drawn::{Dials, drawn};
use risertrim_tests::noise::Noise;

/// One phase of the weather: which of its bytes means what is said in [`Weather`].
type Phase = [u8; 16];

const ODD: [f32; 16] = [
    f32::NAN,
    f32::INFINITY,
    f32::NEG_INFINITY,
    f32::MAX,
    f32::MIN,
    f32::MIN_POSITIVE,
    -0.0,
    0.0,
    -1.0,
    -0.05,
    0.3,
    1.0,
    4.0,
    21.5,
    99_999.0,
    -1.0e-30,
];

/// Makes readings, times and commands out of phases.
struct Weather {
    now: Millis,
    levels: [f32; 12],
}

impl Weather {
    fn new<const LIFTS: usize, const TANKS: usize>(place: &Installation<LIFTS, TANKS>, start: u32) -> Self {
        let mut levels = [0.4; 12];
        for (level, tank) in levels.iter_mut().zip(&place.tanks) {
            *level = 0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m);
        }
        Self {
            now: Millis(start),
            levels,
        }
    }

    /// How many steps a phase lasts.
    fn steps(phase: &Phase) -> usize {
        1 + usize::from(phase[0] % 40)
    }

    fn readings<const LIFTS: usize, const TANKS: usize>(
        &mut self,
        place: &Installation<LIFTS, TANKS>,
        phase: &Phase,
        step: usize,
    ) -> Readings<TANKS> {
        let period = place.settings.period_ms;
        let first = step == 0;
        self.now = match phase[1] {
            0..=169 => self.now.plus(period),
            170..=184 => self.now,
            185..=199 if first => self.now.plus(0_u32.wrapping_sub(period * u32::from(phase[2]))),
            200..=214 if first => self.now.plus(u32::from(phase[2]) << 23),
            215..=229 => self.now.plus(period * u32::from(phase[2] % 11)),
            230..=244 => self.now.plus(u32::from(phase[2])),
            _ => self.now.plus(period),
        };
        let mut readings = Readings {
            now: self.now,
            levels: heapless::Vec::new(),
            manifold: Reading::Missing,
        };
        let count = match phase[3] {
            0..=220 => place.tanks.len(),
            more => usize::from(more) % 13,
        };
        for tank in 0..count {
            let _ = readings.levels.push(self.level(place, tank, phase, step));
        }
        readings.manifold = match phase[4] {
            0..=150 => Reading::Value(10_000.0 + 10.0 * f32::from(phase[5])),
            151..=200 => Reading::Missing,
            odd => Reading::Value(ODD[usize::from(odd) % ODD.len()]),
        };
        readings
    }

    fn level<const LIFTS: usize, const TANKS: usize>(
        &mut self,
        place: &Installation<LIFTS, TANKS>,
        tank: usize,
        phase: &Phase,
        step: usize,
    ) -> Reading {
        let kind = phase[6 + tank % 5];
        let Some(of) = place.tanks.get(tank) else {
            return Reading::Value(ODD[usize::from(kind) % ODD.len()]);
        };
        let raw = |level: f32| {
            let scale = &of.sensor.scale;
            let share = (level - scale.level_low_m) / (scale.level_high_m - scale.level_low_m);
            Reading::Value(scale.raw_low + share * (scale.raw_high - scale.raw_low))
        };
        match kind {
            0..=159 => {
                let drift = (f32::from(kind) - 80.0) * 2.0e-5;
                let level = (self.levels[tank] + drift).clamp(0.0, of.rim_m + 0.2);
                self.levels[tank] = level;
                raw(level)
            }
            160..=189 => Reading::Missing,
            190..=204 => raw(self.levels[tank] + 0.2),
            // To and fro.
            205..=214 => raw(self.levels[tank] + if step.is_multiple_of(2) { 0.15 } else { -0.15 }),
            odd => Reading::Value(ODD[usize::from(odd) % ODD.len()]),
        }
    }

    fn command(phase: &Phase) -> Option<Command> {
        let lift = phase[12] % 6;
        let number = match phase[13] {
            0..=199 => f32::from(phase[13]),
            odd => ODD[usize::from(odd) % ODD.len()],
        };
        match phase[11] {
            0..=89 => None,
            90..=119 => Some(Command::Target {
                lift,
                flow: WaterFlow::from_l_min(number),
            }),
            120..=149 => Some(Command::Manual {
                lift,
                opening: Opening::new(number * 0.01),
            }),
            150..=199 => Some(Command::Automatic { lift }),
            200..=229 => Some(Command::OutOfService { lift }),
            230..=239 => Some(Command::EssentialAir(true)),
            _ => Some(Command::EssentialAir(false)),
        }
    }
}

/// Any byte.
fn byte(dials: &mut Dials<'_>) -> u8 {
    u8::try_from(dials.pick(256)).unwrap_or(0)
}

fn saved(dials: &mut Dials<'_>, lifts: usize) -> Vec<Learned> {
    let count = match dials.pick(8) {
        0 => lifts + 1,
        1 => lifts.saturating_sub(1),
        2 | 3 => lifts,
        _ => 0,
    };
    let odd = dials.one_in(2);
    (0..count)
        .map(|_| Learned {
            factor: if odd {
                ODD[usize::from(dials.pick(16))]
            } else {
                dials.between(0.3, 1.5)
            },
            sigma: if odd {
                ODD[usize::from(dials.pick(16))]
            } else {
                dials.between(0.01, 0.3)
            },
            opening: Opening::new(dials.between(0.0, 1.0)),
            most: byte(dials),
            trend: postcard::from_bytes(&[(); 16].map(|()| byte(dials))).unwrap_or(Trend::NEW),
            blower: postcard::from_bytes(&[(); 3].map(|()| byte(dials))).unwrap_or(Ageing::NEW),
        })
        .collect()
}

/// Every number of a step, for finiteness and for comparing bits.
fn numbers<const LIFTS: usize, const TANKS: usize>(step: &Step<LIFTS, TANKS>) -> Vec<f32> {
    let mut all = vec![step.manifold_pa];
    for lift in &step.lifts {
        all.extend([
            lift.command.share(),
            lift.position.share(),
            lift.air.m3_s,
            lift.wanted_air.m3_s,
            lift.flow.m3_s,
        ]);
        all.extend([
            lift.flow_sigma_m3_s,
            lift.target.m3_s,
            lift.delivery,
            lift.delivery_sigma,
        ]);
    }
    for tank in &step.tanks {
        all.extend([tank.level_m, tank.sigma_m]);
        if let Checked::Level(level) = tank.reading {
            all.push(level);
        }
    }
    all
}

/// What is remembered of a valve from step to step.
#[derive(Clone, Copy)]
struct Before {
    position: f32,
    /// True once the valve has been within the limits and was not shut for service since.
    within: bool,
}

fn check<const LIFTS: usize, const TANKS: usize>(
    place: &Installation<LIFTS, TANKS>,
    step: &Step<LIFTS, TANKS>,
    before: &mut [Before],
) -> Result<(), TestCaseError> {
    prop_assert!(
        numbers(step).iter().all(|number| number.is_finite()),
        "no number in {step:?}"
    );
    prop_assert_eq!(
        (step.lifts.len(), step.tanks.len()),
        (place.lifts.len(), place.tanks.len())
    );
    let (least, most) = (place.settings.least_opening, place.settings.most_opening);
    for ((lift, of), before) in step.lifts.iter().zip(&place.lifts).zip(before) {
        let (command, position) = (lift.command.share(), lift.position.share());
        prop_assert!(
            (least..=most).contains(&command),
            "command {command} outside {least} to {most}: {lift:?}"
        );
        let inside = position >= least - 1.0e-6 && position <= most + 1.0e-6;
        prop_assert!(
            inside || !before.within,
            "position {position} outside {least} to {most}: {lift:?}"
        );
        before.within |= inside;
        if of.valve.stroke_s > 0.0 {
            #[allow(clippy::cast_precision_loss)] // under 2^24 ms
            let reach = step.step_ms as f32 * 0.001 / of.valve.stroke_s;
            let moved = (position - before.position).abs();
            prop_assert!(
                moved <= reach + 1.0e-6,
                "moved {moved} where {reach} is possible: {lift:?}"
            );
        }
        before.position = position;
        prop_assert!(
            lift.air.m3_s >= 0.0 && lift.wanted_air.m3_s >= 0.0 && lift.target.m3_s >= 0.0,
            "{lift:?}"
        );
        prop_assert!(lift.flow_sigma_m3_s >= 0.0 && lift.delivery_sigma >= 0.0, "{lift:?}");
        prop_assert!((FACTOR_LOW..=FACTOR_HIGH).contains(&lift.delivery), "{lift:?}");
    }
    for (tank, of) in step.tanks.iter().zip(&place.tanks) {
        prop_assert!(
            tank.level_m >= 0.0 && tank.level_m <= of.rim_m + 0.26 && tank.sigma_m >= 0.0,
            "{tank:?}"
        );
    }
    prop_assert!(step.manifold_pa >= 0.0);
    Ok(())
}

fn config(cases: u32) -> Config {
    Config {
        cases,
        rng_seed: RngSeed::Fixed(0x7213),
        failure_persistence: None,
        max_global_rejects: cases / 4,
        max_shrink_iters: 3000,
        ..Config::default()
    }
}

/// Numbers of this seed to draw an installation from. Seeds, not the numbers, are what a failing case prints.
fn dials(seed: u64) -> Vec<u16> {
    let mut noise = Noise::new(seed);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let dial = |_| (noise.even() * 65_536.0) as u16;
    (0..250).map(dial).collect()
}

fn phases(seed: u64, count: usize) -> Vec<Phase> {
    let mut noise = Noise::new(seed);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let phase = |_| core::array::from_fn(|_| (noise.even() * 256.0) as u8);
    (0..count).map(phase).collect()
}

proptest! {
    #![proptest_config(config(256))]

    #[test]
    fn any_readings_leave_every_opening_a_number_within_limits_and_slew(
        place in any::<u64>(),
        weather in any::<u64>(),
        count in 1_usize..60,
        start in prop_oneof![Just(0_u32), Just(u32::MAX - 20_000), any::<u32>()],
    ) {
        let (dials, phases) = (dials(place), phases(weather, count));
        let mut dials = Dials::new(&dials);
        let place: Installation<4, 5> = drawn(&mut dials);
        let saved = saved(&mut dials, place.lifts.len());
        let Ok(mut controller) = Controller::new(&place, &saved) else {
            return Err(TestCaseError::reject("not a valid installation"));
        };
        let mut weather = Weather::new(&place, start);
        let mut before: Vec<Before> = controller
            .learned()
            .iter()
            .map(|_| Before { position: place.settings.preset_opening, within: false })
            .collect();
        for phase in &phases {
            if let Some(command) = Weather::command(phase) {
                let _ = controller.command(command);
            }
            for step in 0..Weather::steps(phase) {
                let step = controller.step(&weather.readings(&place, phase, step));
                check(&place, &step, &mut before)?;
            }
        }
        for learned in controller.learned() {
            prop_assert!(learned.factor.is_finite() && learned.sigma.is_finite());
        }
        prop_assert!(Controller::new(&place, &controller.learned()).is_ok(), "starts again from what it has learned");
    }
}

proptest! {
    #![proptest_config(config(48))]

    #[test]
    fn the_outcome_of_a_step_does_not_depend_on_the_capacities(place in any::<u64>(), weather in any::<u64>()) {
        let (dials, phases) = (dials(place), phases(weather, 80));
        let small: Installation<4, 5> = drawn(&mut Dials::new(&dials));
        let large: Installation<8, 9> = drawn(&mut Dials::new(&dials));
        let (Ok(mut in_small), Ok(mut in_large)) = (Controller::new(&small, &[]), Controller::new(&large, &[])) else {
            prop_assert!(Controller::new(&small, &[]).is_err() && Controller::new(&large, &[]).is_err());
            return Err(TestCaseError::reject("not a valid installation"));
        };
        let (mut for_small, mut for_large) = (Weather::new(&small, 0), Weather::new(&large, 0));
        let mut steps = 0;
        for phase in phases.iter().cycle() {
            if steps >= 500 {
                break;
            }
            if let Some(command) = Weather::command(phase) {
                prop_assert_eq!(in_small.command(command), in_large.command(command));
            }
            for step in 0..Weather::steps(phase) {
                steps += 1;
                let a = in_small.step(&for_small.readings(&small, phase, step));
                let b = in_large.step(&for_large.readings(&large, phase, step));
                let bits = |numbers: Vec<f32>| numbers.into_iter().map(f32::to_bits).collect::<Vec<_>>();
                prop_assert_eq!(bits(numbers(&a)), bits(numbers(&b)), "step {}", steps);
                prop_assert_eq!(a.lifts.iter().map(|lift| lift.state).collect::<Vec<_>>(), b.lifts.iter().map(|lift| lift.state).collect::<Vec<_>>());
                prop_assert_eq!(a.alarms.as_slice(), b.alarms.as_slice());
                prop_assert_eq!((a.now, a.step_ms), (b.now, b.step_ms));
            }
        }
    }
}
