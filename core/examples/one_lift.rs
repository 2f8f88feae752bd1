//! One lift from a sump to a fish tank: described, checked, started, stepped, its valve sent, what it learned saved.

use risertrim::air::{AirSupply, BlowerPoint, Characteristic, Diffuser, Line, Valve};
use risertrim::alarm::{ALARMS, Alarm, Name};
use risertrim::controller::Learned;
use risertrim::drive::{Proportional, Signal, ValveDrive};
use risertrim::heapless::Vec;
use risertrim::installation::{Lift, Settings, Site};
use risertrim::level::{Scale, Sensor};
use risertrim::lift::{Calibration, Riser};
use risertrim::outlet::{Drain, Law, Outlet};
use risertrim::tank::{AreaPoint, LevelLimits, Stock, Tank};
use risertrim::validate::validate;
use risertrim::{Command, Controller, FreeAir, Installation, Millis, Reading, Readings, WaterFlow};
use std::error::Error;

/// A tank of one surface, its sensor in metres, that is to stand between these levels.
fn tank(floor_m: f32, area_m2: f32, rim_m: f32, (low_m, high_m): (f32, f32), outlet: Option<Outlet>) -> Tank {
    Tank {
        floor_m,
        area: [AreaPoint { level_m: 0.0, area_m2 }].into_iter().collect(),
        outlets: outlet.into_iter().collect(),
        sensor: Sensor {
            scale: Scale::METRES,
            zero_m: 0.0,
            noise_m: 0.001,
            resolution_m: 0.001,
        },
        rim_m,
        limits: LevelLimits {
            high_warn_m: high_m,
            high_act_m: high_m + 0.05,
            low_warn_m: low_m,
            low_act_m: low_m - 0.1,
        },
        fish: true,
        stock: Stock::UNTOLD,
    }
}

/// The whole place: all that the controller knows before it has seen a level.
fn place() -> Installation<1, 2> {
    let notch = Outlet {
        to: Drain::Tank(0),
        law: Law::VNotch {
            crest_m: 0.4,
            angle_deg: 60.0,
        },
        coefficient: 1.0,
    };
    let lift = Lift {
        from: 0,
        to: 1,
        riser: Riser {
            bore_m: 0.0464,
            injector_m: 0.1,
            outlet_m: 1.2,
            darcy_friction: 0.022,
            entrance_loss: 0.5,
            outlet_loss: 0.5,
        },
        calibration: Calibration::default(),
        valve: Valve {
            conductance_m3_s_pa: 3.0e-8,
            critical_ratio: 0.3,
            characteristic: Characteristic::EqualPercentage { rangeability: 30.0 },
            stroke_s: 20.0,
            backlash: 0.0,
        },
        line: Line {
            bore_m: 0.01,
            length_m: 4.0,
            minor_loss: 3.0,
        },
        diffuser: Diffuser {
            opening_pa: 300.0,
            loss_pa: 500.0,
            at_air_m3_s: 5.0e-4,
        },
        target: WaterFlow::from_l_min(30.0),
        air_floor: FreeAir::from_l_min(0.5),
        priority: 1,
        may_stop: false,
    };
    let blower = [(0.0, 22_000.0), (1.5e-3, 14_000.0), (2.5e-3, 0.0)];
    Installation {
        site: Site {
            altitude_m: 0.0,
            water_c: 20.0,
            salinity_g_kg: 0.0,
        },
        air: AirSupply {
            curve: blower
                .into_iter()
                .map(|(air_m3_s, pressure_pa)| BlowerPoint { air_m3_s, pressure_pa })
                .collect(),
            ..AirSupply::NONE
        },
        tanks: [
            tank(0.0, 2.0, 1.3, (0.8, 1.1), None),
            tank(0.7, 1.0, 0.7, (0.25, 0.55), Some(notch)),
        ]
        .into_iter()
        .collect(),
        lifts: [lift].into_iter().collect(),
        settings: Settings::default(),
    }
}

/// Stands for the board: the levels read now, m. A sensor that gives the same number for minutes would not be believed.
fn read(second: u32) -> Readings<2> {
    Readings {
        now: Millis(second * 1000),
        levels: [1.0, 0.452]
            .map(|level_m| Reading::Value(level_m + if second.is_multiple_of(2) { 0.0005 } else { -0.0005 }))
            .into_iter()
            .collect(),
        manifold: Reading::Missing,
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let place = place();
    // Faults and what only warns, each with place, field, value and range.
    println!("{}", validate(&place));
    // What was saved at the last run; nothing at the first.
    let mut saved = Vec::<Learned, 1>::new();
    let mut controller = Controller::<1, 2>::new(&place, &saved)?;
    let mut valve = Proportional::new(Output(0), Signal::FULL);
    controller.command(Command::Target {
        lift: 0,
        flow: WaterFlow::from_l_min(29.0),
    })?;
    let mut told = Vec::<Name, ALARMS>::new();
    for second in 0..300 {
        let readings = read(second);
        let step = controller.step(&readings);
        for lift in &step.lifts {
            // One that fails is sent again at the next step.
            let _ = valve.send(lift.command, readings.now);
        }
        for alarm in step
            .alarms
            .iter()
            .filter(|alarm| alarm.sounds() && !told.contains(&alarm.name()))
        {
            println!("{}", alarm.kind.text().what);
        }
        told = step
            .alarms
            .iter()
            .filter(|alarm| alarm.sounds())
            .map(Alarm::name)
            .collect();
        // After every step: the next trial that begins puts its own in the place of one that was not taken.
        if let Some(outcome) = controller.take_outcome() {
            println!("lift {} was measured: {:?}", outcome.lift, outcome.curve);
        }
        if second % 60 == 59 {
            saved = controller.learned();
        }
    }
    println!("saved: {saved:?}; the valve has {} of 1000", valve.release().0);
    Ok(())
}

/// Stands for a PWM output of 1000 steps.
struct Output(u16);

impl embedded_hal::pwm::ErrorType for Output {
    type Error = core::convert::Infallible;
}

impl embedded_hal::pwm::SetDutyCycle for Output {
    fn max_duty_cycle(&self) -> u16 {
        1000
    }

    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Self::Error> {
        self.0 = duty;
        Ok(())
    }
}
