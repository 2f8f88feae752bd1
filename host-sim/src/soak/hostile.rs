//! Random readings, clocks and commands straight into the controller: whatever comes, every answer is sound.

use crate::scenario::{HostInstallation, Scenario, TANKS};
use crate::simulate::{HostController, HostReadings, HostStep};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use rayon::prelude::*;
use risertrim::{Command, Millis, Opening, Reading, WaterFlow};
use serde::Serialize;

/// Steps after which a new controller starts with a new seed.
const STINT: u64 = 20_000;
/// What no sensor should give.
const ODD: [f32; 12] = [
    f32::NAN,
    f32::INFINITY,
    f32::NEG_INFINITY,
    f32::MAX,
    f32::MIN,
    f32::MIN_POSITIVE,
    -0.0,
    -1.0,
    1.0e-30,
    99_999.0,
    4.0,
    21.5,
];

/// What came of the steps.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hostile {
    /// Steps made.
    pub steps: u64,
    /// Controllers started.
    pub starts: u64,
    /// Commands given; about a third name what is not there or ask for absurd values.
    pub commands: u64,
    /// Answers at fault, the first of each stint, in words.
    pub faults: Vec<String>,
    /// Time it took on this machine, s.
    pub wall_s: f64,
}

/// Makes `steps` steps over the places in turn; `progress` is told the share done.
#[must_use]
pub fn hostile(places: &[(String, Scenario)], steps: u64, seed: u64, progress: &(impl Fn(f64) + Sync)) -> Hostile {
    let start = std::time::Instant::now();
    let stints = steps.div_ceil(STINT);
    let done = std::sync::atomic::AtomicU64::new(0);
    let found: Vec<(u64, Option<String>)> = (0..stints)
        .into_par_iter()
        .filter_map(|stint| {
            let places_count = places.len().max(1) as u64;
            #[allow(clippy::cast_possible_truncation)] // below the number of places
            let (name, scenario) = places.get((stint % places_count) as usize)?;
            let count = STINT.min(steps - stint * STINT);
            let result = one(name, &scenario.told, count, seed, stint);
            #[allow(clippy::cast_precision_loss)]
            let share = (done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1) as f64 / stints as f64;
            progress(share);
            Some(result)
        })
        .collect();
    Hostile {
        steps,
        starts: stints,
        commands: found.iter().map(|(commands, _)| commands).sum(),
        faults: found.into_iter().filter_map(|(_, fault)| fault).collect(),
        wall_s: start.elapsed().as_secs_f64(),
    }
}

fn one(name: &str, told: &HostInstallation, steps: u64, seed: u64, stint: u64) -> (u64, Option<String>) {
    let mut weather = Weather {
        random: Pcg32::new(seed ^ stint.wrapping_mul(0x9e37_79b9_7f4a_7c15), stint),
        levels: [0.5; TANKS],
        mood: [0; TANKS],
    };
    let mut controller = match HostController::new(told, &[]) {
        Ok(controller) => controller,
        Err(_) => return (0, Some(format!("{name}: the controller does not start"))),
    };
    let mut readings = HostReadings {
        now: Millis(weather.random.next_u32()),
        ..HostReadings::default()
    };
    for (level, tank) in weather.levels.iter_mut().zip(&told.tanks) {
        *level = 0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m);
    }
    let mut commands = 0;
    for step in 0..steps {
        if let Some(command) = weather.command(told.lifts.len()) {
            commands += 1;
            let _ = controller.command(command);
        }
        weather.read(told, &mut readings);
        let answer = controller.step(&readings);
        if let Some(fault) = fault(&answer, told) {
            return (
                commands,
                Some(format!("{name}, seed {seed}, stint {stint}, step {step}: {fault}")),
            );
        }
    }
    (commands, None)
}

/// What is wrong with an answer.
fn fault(answer: &HostStep, told: &HostInstallation) -> Option<String> {
    if answer.lifts.len() != told.lifts.len() || answer.tanks.len() != told.tanks.len() {
        return Some("not an answer for every lift and tank".to_owned());
    }
    let within = |share: f32| share >= told.settings.least_opening && share <= told.settings.most_opening;
    for (index, lift) in answer.lifts.iter().enumerate() {
        let command = lift.command.share();
        if !within(command) {
            return Some(format!("lift {index} is sent to {command}"));
        }
        let numbers = [
            lift.position.share(),
            lift.air.m3_s,
            lift.wanted_air.m3_s,
            lift.flow.m3_s,
            lift.flow_sigma_m3_s,
            lift.target.m3_s,
            lift.delivery,
            lift.delivery_sigma,
        ];
        if let Some(place) = numbers.iter().position(|number| !number.is_finite()) {
            return Some(format!(
                "lift {index}: number {place} of the answer is {}",
                numbers[place]
            ));
        }
        if lift.air.m3_s < 0.0 || lift.delivery <= 0.0 {
            return Some(format!(
                "lift {index}: air {} m3/s, delivery {}",
                lift.air.m3_s, lift.delivery
            ));
        }
    }
    for (index, tank) in answer.tanks.iter().enumerate() {
        if !(tank.level_m.is_finite() && tank.sigma_m.is_finite() && tank.sigma_m >= 0.0) {
            return Some(format!(
                "tank {index}: level {} m, sigma {} m",
                tank.level_m, tank.sigma_m
            ));
        }
    }
    let blower = &answer.blower;
    let blower_sound = blower.speed.is_finite() && (0.0..=1.0).contains(&blower.speed) && blower.power_w.is_finite();
    (!(answer.manifold_pa.is_finite() && blower_sound)).then(|| {
        format!(
            "manifold {} Pa, blower speed {}, power {} W",
            answer.manifold_pa, blower.speed, blower.power_w
        )
    })
}

/// Makes readings, times and commands.
struct Weather {
    random: Pcg32,
    levels: [f32; TANKS],
    /// What each sensor does for a while.
    mood: [u8; TANKS],
}

impl Weather {
    fn below(&mut self, bound: u32) -> u32 {
        self.random.next_u32() % bound.max(1)
    }

    fn share(&mut self) -> f32 {
        #[allow(clippy::cast_precision_loss)]
        let share = (self.random.next_u32() >> 8) as f32 / 16_777_216.0;
        share
    }

    fn odd(&mut self) -> f32 {
        let pick = self.below(12) as usize;
        ODD.get(pick).copied().unwrap_or(f32::NAN)
    }

    fn read(&mut self, told: &HostInstallation, readings: &mut HostReadings) {
        let period = told.settings.period_ms;
        let leap = match self.below(200) {
            0 => self.random.next_u32(),
            1 => 0,
            2 => period * self.below(12),
            3 => self.below(period),
            _ => period,
        };
        readings.now = readings.now.plus(leap);
        readings.levels.clear();
        let count = if self.below(500) == 0 {
            self.below(13) as usize
        } else {
            told.tanks.len()
        };
        for index in 0..count.min(TANKS) {
            let (change, fresh) = (self.below(300) == 0, self.below(9));
            let walk = (self.share() - 0.5) * 4.0e-3;
            let (Some(mood), Some(level)) = (self.mood.get_mut(index), self.levels.get_mut(index)) else {
                continue;
            };
            if change {
                *mood = u8::try_from(fresh).unwrap_or(0);
            }
            let Some(tank) = told.tanks.get(index) else {
                let value = self.odd();
                let _ = readings.levels.push(Reading::Value(value));
                continue;
            };
            *level += walk;
            *level = if level.is_finite() {
                level.clamp(-0.2, tank.rim_m + 0.3)
            } else {
                0.5
            };
            let (mood, level) = (*mood, *level);
            let scale = &tank.sensor.scale;
            let raw = |level: f32| {
                let share = (level - scale.level_low_m) / (scale.level_high_m - scale.level_low_m);
                Reading::Value(scale.raw_low + share * (scale.raw_high - scale.raw_low))
            };
            let reading = match mood {
                0..=3 => raw(level),
                4 => Reading::Missing,
                5 => Reading::Value(self.odd()),
                6 => raw(level + 0.3 * (self.share() - 0.5)),
                7 => raw(if self.below(2) == 0 { level } else { level + 0.2 }),
                _ => raw(tank.rim_m * self.share()),
            };
            let _ = readings.levels.push(reading);
        }
        readings.manifold = match self.below(10) {
            0 => Reading::Missing,
            1 => Reading::Value(self.odd()),
            2 => Reading::Value(60_000.0 * (self.share() - 0.2)),
            _ => Reading::Value(12_000.0 + 2_000.0 * self.share()),
        };
    }

    fn command(&mut self, lifts: usize) -> Option<Command> {
        if self.below(100) > 0 {
            return None;
        }
        #[allow(clippy::cast_possible_truncation)] // at most a dozen and two
        let lift = self.below(lifts as u32 + 2) as u8;
        let number = if self.below(3) == 0 {
            self.odd()
        } else {
            400.0 * self.share()
        };
        Some(match self.below(14) {
            0..=2 => Command::Target {
                lift,
                flow: WaterFlow::from_l_min(number),
            },
            3 => Command::Manual {
                lift,
                opening: Opening::new(number * 0.01),
            },
            4..=6 => Command::Automatic { lift },
            7 => Command::OutOfService { lift },
            8 => Command::Commission { lift },
            9 => Command::EssentialAir(self.below(2) == 0),
            10 => Command::OnBackup(self.below(2) == 0),
            11 => Command::Acknowledge,
            12 => Command::ResetLatched,
            _ => Command::EssentialAir(false),
        })
    }
}
