//! Reads `[[lift]]`.

use super::report::Kind;
use super::section::Section;
use super::units::{L_MIN, MM, PA, PERCENT};
use crate::plant;
use crate::precision::narrow;
use risertrim::air::{CHARACTERISTIC_POINTS, Characteristic, Diffuser, Line, Valve, ValvePoint};
use risertrim::fault::Place;
use risertrim::installation::Lift;
use risertrim::lift::{Calibration, Fit, Riser};
use risertrim::units::{FreeAir, WaterFlow};

/// Darcy friction factor of clean plastic at the speeds of a riser.
const CLEAN_PLASTIC: f64 = 0.022;

/// A lift for both sides.
pub(super) struct Read {
    pub told: Lift,
    pub plant: plant::LiftSpec,
    /// False when the tank it draws from or feeds is not known.
    pub placed: bool,
}

/// Reads one lift.
pub(super) fn read(mut section: Section<'_>, index: u8, name: &str, tanks: &[String], place: plant::Place) -> Read {
    section.belongs_to(Place::Lift(index));
    section.text("name");
    section.part = format!("lift \"{name}\"");
    let from = section.name_of("from", tanks, "tank");
    let to = section.name_of("to", tanks, "tank");
    if from.is_some() && from == to {
        section.fault(Kind::Geometry, "to", "a lift must lead from one tank to another", None);
    }
    let bore = section.number("riser_bore_mm", 15.0..=400.0);
    let injector = section.number("injector_mm", 0.0..=10_000.0);
    let outlet = section.number("outlet_mm", 50.0..=12_000.0);
    if injector + 50.0 > outlet {
        section.fault(
            Kind::Geometry,
            "outlet_mm",
            format!("outlet_mm {outlet} must stand at least 50 mm above the air inlet, injector_mm {injector}"),
            Some("both are heights above the floor of the tank it draws from".to_owned()),
        );
    }
    let friction = section.number_or("darcy_friction", 0.005..=0.2, CLEAN_PLASTIC);
    let kin = section.number_or("entrance_loss", 0.0..=100.0, 0.5);
    let kout = section.number_or("outlet_loss", 0.0..=100.0, 0.0);
    let target = section.number("target_l_min", 0.0..=20_000.0);
    let floor = section.number("air_floor_l_min", 0.0..=5000.0);
    let priority = section.whole_or("priority", 1..=9, 1);
    let may_stop = section.flag_or("may_stop", true);
    let start_opening = section.number_or("start_opening_percent", 0.0..=100.0, 50.0) * PERCENT;
    let ((losses, slip, air), calibrated) = calibration(&mut section);
    let valve = valve(&mut section, place.p_atm_pa);
    let line = line(&mut section);
    let diffuser = diffuser(&mut section, target);
    section.end();

    let (conductance, ratio, characteristic, stroke_s, backlash) = valve;
    let tank = |index: Option<usize>| index.and_then(|index| u8::try_from(index).ok()).unwrap_or(0);
    let told = Lift {
        from: tank(from),
        to: tank(to),
        riser: Riser {
            bore_m: narrow(bore * MM),
            injector_m: narrow(injector * MM),
            outlet_m: narrow(outlet * MM),
            darcy_friction: narrow(friction),
            entrance_loss: narrow(kin),
            outlet_loss: narrow(kout),
        },
        calibration: calibrated,
        valve: Valve {
            conductance_m3_s_pa: narrow(conductance),
            critical_ratio: narrow(ratio),
            characteristic: characteristic.told(),
            stroke_s: narrow(stroke_s),
            backlash: narrow(backlash),
        },
        line: Line {
            bore_m: narrow(line.bore_m),
            length_m: narrow(line.length_m),
            minor_loss: narrow(line.minor_loss),
        },
        diffuser: Diffuser {
            opening_pa: narrow(diffuser.opening_pa),
            loss_pa: narrow(diffuser.loss_pa),
            at_air_m3_s: narrow(diffuser.at_m3_s),
        },
        target: WaterFlow::from_m3_s(narrow(target * L_MIN)),
        air_floor: FreeAir::from_m3_s(narrow(floor * L_MIN)),
        priority: u8::try_from(priority).unwrap_or(1),
        may_stop,
    };
    let plant = plant::LiftSpec {
        name: name.to_owned(),
        from: from.unwrap_or(0),
        to: to.unwrap_or(0),
        injector_m: injector * MM,
        outlet_m: outlet * MM,
        riser: plant::Riser {
            kin: kin * losses,
            kout,
            friction_multiplier: friction / CLEAN_PLASTIC,
            slip_multiplier: slip,
            ..plant::Riser::clean(bore * MM, place)
        },
        valve: plant::ValveSpec {
            sonic_m3_s_pa: conductance,
            critical_ratio: ratio,
            characteristic: characteristic.plant(),
            multiplier: air,
        },
        actuator: plant::ActuatorSpec {
            stroke_s,
            backlash,
            stiction: 0.0,
            leak: 0.0,
        },
        start_opening,
        line,
        diffuser,
    };
    Read {
        told,
        plant,
        placed: from.is_some() && to.is_some(),
    }
}

/// Multipliers as the plant takes them, and the whole calibration as the controller keeps it.
fn calibration(lift: &mut Section<'_>) -> ((f64, f64, f64), Calibration) {
    let Some(mut section) = lift.table("calibration") else {
        return ((1.0, 1.0, 1.0), Calibration::default());
    };
    let losses = section.number_or("losses", 0.02..=100.0, 1.0);
    let slip = section.number_or("slip", 0.3..=3.0, 1.0);
    let air = section.number_or("air", 0.3..=3.0, 1.0);
    let covariance = section.numbers("covariance", 6, -100.0..=100.0);
    let low = section.maybe_number("air_low_l_min", 0.0..=100_000.0);
    let high = section.maybe_number("air_high_l_min", 0.0..=100_000.0);
    let fit = match (covariance, low, high) {
        (Some(covariance), Some(low), Some(high)) => {
            let mut upper = [0.0f32; 6];
            for (place, value) in upper.iter_mut().zip(covariance) {
                *place = narrow(value);
            }
            Some(Fit {
                covariance: upper,
                air_low_m3_s: narrow(low * L_MIN),
                air_high_m3_s: narrow(high * L_MIN),
            })
        }
        (None, None, None) => None,
        _ => {
            // A value at fault was noted where it was read.
            let missing = ["covariance", "air_low_l_min", "air_high_l_min"]
                .into_iter()
                .find(|key| !section.has(key));
            if let Some(missing) = missing {
                let message =
                    format!("calibration.{missing} is missing: covariance and the range of airs belong together");
                let hint = "give all three as `risertrim calibrate` writes them, or none".to_owned();
                section.fault(Kind::MissingKey, missing, message, Some(hint));
            }
            None
        }
    };
    section.end();
    (
        (losses, slip, air),
        Calibration {
            losses: narrow(losses),
            slip: narrow(slip),
            air: narrow(air),
            fit,
        },
    )
}

/// How a valve opens, as written.
enum Opens {
    Linear,
    EqualPercentage(f64),
    Points(Vec<(f64, f64)>),
}

impl Opens {
    fn told(&self) -> Characteristic {
        match self {
            Self::Linear => Characteristic::Linear,
            Self::EqualPercentage(rangeability) => Characteristic::EqualPercentage {
                rangeability: narrow(*rangeability),
            },
            Self::Points(points) => Characteristic::Table {
                points: points
                    .iter()
                    .take(CHARACTERISTIC_POINTS)
                    .map(|(opening, share)| ValvePoint {
                        opening: narrow(*opening),
                        share: narrow(*share),
                    })
                    .collect(),
            },
        }
    }

    fn plant(&self) -> plant::Characteristic {
        match self {
            Self::Linear => plant::Characteristic::Linear,
            Self::EqualPercentage(rangeability) => plant::Characteristic::EqualPercentage {
                rangeability: *rangeability,
                dead_travel: super::truth::DEAD_TRAVEL,
            },
            Self::Points(points) => plant::Characteristic::Table(points.clone()),
        }
    }
}

/// Conductance, critical ratio, characteristic, stroke time and backlash.
fn valve(lift: &mut Section<'_>, atmosphere_pa: f64) -> (f64, f64, Opens, f64, f64) {
    const WORDS: [&str; 2] = ["linear", "equal percentage"];
    let Some(mut section) = lift.table("valve") else {
        if !lift.has("valve") {
            let example = "valve = { sonic_conductance_dm3_s_bar = 1.6, characteristic = \"equal percentage\" }";
            lift.fault(
                Kind::MissingKey,
                "valve",
                "valve is missing",
                Some(format!("for example {example}")),
            );
        }
        return (f64::NAN, 0.3, Opens::Linear, 0.0, 0.0);
    };
    let (conductance, ratio) = super::valve::conductance(&mut section, atmosphere_pa);
    let word = section.word("characteristic", &WORDS);
    let points = section.pairs(
        "flow_percent_at_opening_percent",
        2..=CHARACTERISTIC_POINTS,
        0.0..=100.0,
        0.0..=100.0,
    );
    let rangeability = section.maybe_number("rangeability", 5.0..=200.0);
    if word.is_some() && points.is_some() {
        let message = "the characteristic is told twice: by a word and by points";
        section.fault(
            Kind::Count,
            "flow_percent_at_opening_percent",
            message,
            Some("keep one of them".to_owned()),
        );
    }
    if rangeability.is_some() && word == Some(0) {
        section.warning(
            Kind::Event,
            "rangeability",
            "a linear valve has no rangeability: it is not used",
            None,
        );
    }
    let opens = match (points, word) {
        (Some(points), _) => {
            let rising = points
                .windows(2)
                .all(|pair| pair[1].0 > pair[0].0 && pair[1].1 > pair[0].1);
            let whole = points.first() == Some(&(0.0, 0.0)) && points.last() == Some(&(100.0, 100.0));
            if !rising || !whole {
                section.fault(
                    Kind::Geometry,
                    "flow_percent_at_opening_percent",
                    "flow_percent_at_opening_percent must rise from [0, 0] to [100, 100]",
                    Some("each pair is [percent of the stroke, percent of the full conductance]".to_owned()),
                );
            }
            Opens::Points(points.iter().map(|(a, b)| (a * PERCENT, b * PERCENT)).collect())
        }
        (None, Some(0)) => Opens::Linear,
        (None, _) => Opens::EqualPercentage(rangeability.unwrap_or(30.0)),
    };
    let stroke_s = section.number_or("stroke_s", 0.0..=600.0, 30.0);
    let backlash = section.number_or("backlash_percent", 0.0..=10.0, 0.0) * PERCENT;
    section.end();
    (conductance, ratio, opens, stroke_s, backlash)
}

fn line(lift: &mut Section<'_>) -> plant::LineSpec {
    let Some(mut section) = lift.table("air_line") else {
        if !lift.has("air_line") {
            let example = "air_line = { bore_mm = 13, length_m = 4, minor_loss = 3 }";
            lift.fault(
                Kind::MissingKey,
                "air_line",
                "air_line is missing",
                Some(format!("for example {example}")),
            );
        }
        return plant::LineSpec {
            bore_m: f64::NAN,
            length_m: 0.0,
            minor_loss: 0.0,
            multiplier: 1.0,
        };
    };
    let bore_m = section.number("bore_mm", 2.0..=300.0) * MM;
    let length_m = section.number("length_m", 0.0..=200.0);
    let minor_loss = section.number_or("minor_loss", 0.0..=200.0, 1.0);
    section.end();
    plant::LineSpec {
        bore_m,
        length_m,
        minor_loss,
        multiplier: 1.0,
    }
}

/// An open pipe end when there is none.
fn diffuser(lift: &mut Section<'_>, target_l_min: f64) -> plant::DiffuserSpec {
    let usual_l_min = if target_l_min > 0.0 { target_l_min } else { 10.0 };
    let Some(mut section) = lift.table("diffuser") else {
        return plant::DiffuserSpec {
            opening_pa: 0.0,
            loss_pa: 0.0,
            at_m3_s: usual_l_min * L_MIN,
        };
    };
    let opening_pa = section.number_or("opening_kpa", 0.0..=50.0, 0.0) * PA;
    let loss_pa = section.number_or("loss_kpa", 0.0..=50.0, 0.0) * PA;
    let at_m3_s = section.number_or("at_l_min", 0.01..=50_000.0, usual_l_min) * L_MIN;
    if loss_pa > 0.0 && !section.has("at_l_min") {
        let message = "loss_kpa says nothing without the air at which it was measured";
        section.fault(Kind::MissingKey, "loss_kpa", message, Some("add at_l_min".to_owned()));
    }
    section.end();
    plant::DiffuserSpec {
        opening_pa,
        loss_pa,
        at_m3_s,
    }
}
