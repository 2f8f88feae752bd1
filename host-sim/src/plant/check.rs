//! Why a description of an installation is refused.

use super::branch::Characteristic;
use super::outlet::OutletLaw;
use super::spec::{LiftSpec, PlantSpec, TankSpec};
use super::tank::Area;
use std::fmt;

/// A fault in a description. `part` names the tank, lift or blower it belongs to.
#[derive(Clone, Debug, PartialEq)]
pub enum SpecError {
    /// A value is not a number or outside its range (both ends allowed), in the unit its field's name ends in.
    Value {
        /// Part it belongs to.
        part: String,
        /// Field.
        field: &'static str,
        /// Its value.
        value: f64,
        /// Smallest allowed.
        low: f64,
        /// Largest allowed.
        high: f64,
    },
    /// A tank, lift or outlet that does not exist is named.
    NoSuchPart {
        /// Who names it.
        part: String,
        /// What kind of thing is named.
        what: &'static str,
        /// Its number, from 0.
        index: usize,
    },
    /// A lift or outlet leads back to its own tank.
    SameTank {
        /// Lift or tank.
        part: String,
    },
    /// Points of a curve are too few or out of order.
    Points {
        /// Part it belongs to.
        part: String,
        /// Field.
        field: &'static str,
        /// What is asked for.
        wanted: &'static str,
    },
}

impl fmt::Display for SpecError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Value {
                part,
                field,
                value,
                low,
                high,
            } => {
                write!(f, "{part}: {field} is {value}; it must be from {low} to {high}")
            }
            Self::NoSuchPart { part, what, index } => {
                write!(f, "{part}: there is no {what} number {index} (counting from 0)")
            }
            Self::SameTank { part } => write!(f, "{part}: leads back into the tank it leaves"),
            Self::Points { part, field, wanted } => write!(f, "{part}: {field}: {wanted}"),
        }
    }
}

impl std::error::Error for SpecError {}

/// Checks one part's values.
struct Part<'a>(&'a str);

impl Part<'_> {
    fn range(&self, field: &'static str, value: f64, low: f64, high: f64) -> Result<(), SpecError> {
        if value >= low && value <= high {
            return Ok(());
        }
        Err(SpecError::Value {
            part: self.0.to_owned(),
            field,
            value,
            low,
            high,
        })
    }

    fn tank(&self, index: usize, tanks: usize) -> Result<(), SpecError> {
        if index < tanks {
            return Ok(());
        }
        Err(SpecError::NoSuchPart {
            part: self.0.to_owned(),
            what: "tank",
            index,
        })
    }

    fn points(
        &self,
        field: &'static str,
        wanted: &'static str,
        points: &[(f64, f64)],
        least: usize,
        good: impl Fn((f64, f64), (f64, f64)) -> bool,
    ) -> Result<(), SpecError> {
        let finite = points.iter().all(|p| p.0.is_finite() && p.1.is_finite());
        let ordered = points.windows(2).all(|w| good(w[0], w[1]));
        if points.len() >= least && finite && ordered {
            return Ok(());
        }
        Err(SpecError::Points {
            part: self.0.to_owned(),
            field,
            wanted,
        })
    }
}

impl PlantSpec {
    /// Checks every value.
    ///
    /// # Errors
    /// The first fault found.
    pub fn check(&self) -> Result<(), SpecError> {
        let place = Part("place");
        place.range("p_atm_pa", self.place.p_atm_pa, 50_000.0, 120_000.0)?;
        place.range("water_c", self.place.water_c, 0.0, 45.0)?;
        place.range("water_kg_m3", self.place.water_kg_m3, 900.0, 1100.0)?;
        place.range("water_pa_s", self.place.water_pa_s, 1e-4, 1e-2)?;
        place.range("air_pa_s", self.place.air_pa_s, 1e-5, 3e-5)?;
        Part("run").range("max_step_s", self.max_step_s, 1e-3, 10.0)?;
        self.check_air()?;
        for tank in &self.tanks {
            self.check_tank(tank)?;
        }
        for lift in &self.lifts {
            self.check_lift(lift)?;
        }
        Ok(())
    }

    fn check_air(&self) -> Result<(), SpecError> {
        let part = Part("blower");
        let blower = &self.blower;
        part.points(
            "points",
            "at least two points are needed, air rising from 0 or more, pressure falling",
            &blower.points,
            2,
            |a, b| a.0 >= 0.0 && b.0 > a.0 && b.1 < a.1 && a.1 > 0.0,
        )?;
        part.range("curve_at_pa", blower.curve_at_pa, 50_000.0, 120_000.0)?;
        part.range("efficiency", blower.efficiency, 0.01, 1.0)?;
        part.range("flow_multiplier", blower.flow_multiplier, 0.01, 10.0)?;
        part.range("pressure_multiplier", blower.pressure_multiplier, 0.01, 10.0)?;
        if let Some(bleed) = &self.bleed {
            let part = Part("bleed");
            part.range("sonic_m3_s_pa", bleed.sonic_m3_s_pa, 0.0, 1e-4)?;
            part.range("critical_ratio", bleed.critical_ratio, 0.0, 0.9)?;
        }
        if let Some(gauge) = &self.gauge {
            let part = Part("gauge");
            part.range("noise_pa", gauge.noise_pa, 0.0, 1e5)?;
            part.range("resolution_pa", gauge.resolution_pa, 0.0, 1e5)?;
            part.range("zero_pa", gauge.zero_pa, -1e5, 1e5)?;
            part.range("gain", gauge.gain, 0.1, 10.0)?;
        }
        Ok(())
    }

    fn check_tank(&self, tank: &TankSpec) -> Result<(), SpecError> {
        let name = format!("tank \"{}\"", tank.name);
        let part = Part(&name);
        match &tank.area {
            Area::Constant(area) => part.range("area_m2", *area, 0.005, 1e5)?,
            Area::Table(points) => {
                part.points(
                    "area",
                    "at least two points are needed, levels rising from 0, areas above 0",
                    points,
                    2,
                    |a, b| a.0 >= 0.0 && b.0 > a.0 && a.1 > 0.0 && b.1 > 0.0,
                )?;
                part.range("first level of area_m2", points[0].0, 0.0, 0.0)?;
            }
        }
        part.range("floor_m", tank.floor_m, -100.0, 100.0)?;
        part.range("rim_m", tank.rim_m, 0.01, 50.0)?;
        part.range("start_m", tank.start_m, 0.0, tank.rim_m)?;
        part.range("inflow_m3_s", tank.inflow_m3_s, 0.0, 10.0)?;
        part.range("evaporation_m3_s", tank.evaporation_m3_s, 0.0, 1.0)?;
        if let Some(dry) = tank.dry_m {
            part.range("dry_m", dry, 0.0, tank.rim_m)?;
        }
        if let Some(sensor) = &tank.sensor {
            part.range("noise_m", sensor.noise_m, 0.0, 1.0)?;
            part.range("resolution_m", sensor.resolution_m, 0.0, 1.0)?;
            part.range("lag_s", sensor.lag_s, 0.0, 1e5)?;
            part.range("zero_m", sensor.zero_m, -10.0, 10.0)?;
            part.range("drift_m_day", sensor.drift_m_day, -1.0, 1.0)?;
            part.range("gain", sensor.gain, 0.1, 10.0)?;
            part.range("slosh_m", sensor.slosh_m, 0.0, 1.0)?;
            part.range("slosh_s", sensor.slosh_s, 0.05, 1e4)?;
        }
        for outlet in &tank.outlets {
            if let Some(to) = outlet.to {
                part.tank(to, self.tanks.len())?;
                if self.tanks.get(to).is_some_and(|t| std::ptr::eq(t, tank)) {
                    return Err(SpecError::SameTank { part: name });
                }
            }
            part.range("coefficient", outlet.coefficient, 0.0, 10.0)?;
            check_law(&part, &outlet.law)?;
        }
        Ok(())
    }

    fn check_lift(&self, lift: &LiftSpec) -> Result<(), SpecError> {
        let name = format!("lift \"{}\"", lift.name);
        let part = Part(&name);
        part.tank(lift.from, self.tanks.len())?;
        part.tank(lift.to, self.tanks.len())?;
        if lift.from == lift.to {
            return Err(SpecError::SameTank { part: name });
        }
        part.range("injector_m", lift.injector_m, 0.0, 50.0)?;
        part.range(
            "outlet_m",
            lift.outlet_m,
            lift.injector_m + 0.05,
            lift.injector_m + 20.0,
        )?;
        part.range("start_opening", lift.start_opening, 0.0, 1.0)?;
        let riser = &lift.riser;
        part.range("bore_m", riser.bore_m, 0.01, 0.5)?;
        part.range("distribution", riser.distribution, 1.0, 2.0)?;
        part.range("slip_multiplier", riser.slip_multiplier, 0.05, 20.0)?;
        part.range("kin", riser.kin, 0.0, 1e4)?;
        part.range("kout", riser.kout, 0.0, 1e4)?;
        part.range("loss_multiplier", riser.loss_multiplier, 0.0, 1e3)?;
        part.range("friction_multiplier", riser.friction_multiplier, 0.0, 1e3)?;
        part.range("fouling_k", riser.fouling_k, 0.0, 1e6)?;
        part.range("churn_s2_m2", riser.churn_s2_m2, 0.0, 1e6)?;
        let valve = &lift.valve;
        part.range("sonic_m3_s_pa", valve.sonic_m3_s_pa, 1e-12, 1e-4)?;
        part.range("critical_ratio", valve.critical_ratio, 0.0, 0.9)?;
        part.range("valve multiplier", valve.multiplier, 0.01, 100.0)?;
        match &valve.characteristic {
            Characteristic::Linear => {}
            Characteristic::EqualPercentage {
                rangeability,
                dead_travel,
            } => {
                part.range("rangeability", *rangeability, 2.0, 1000.0)?;
                part.range("dead_travel", *dead_travel, 0.0, 0.5)?;
            }
            Characteristic::Table(points) => part.points(
                "characteristic",
                "at least two points are needed, openings rising within 0 to 1, shares not falling",
                points,
                2,
                |a, b| a.0 >= 0.0 && b.0 > a.0 && b.0 <= 1.0 && a.1 >= 0.0 && b.1 >= a.1,
            )?,
        }
        part.range("stroke_s", lift.actuator.stroke_s, 0.0, 3600.0)?;
        part.range("backlash", lift.actuator.backlash, 0.0, 0.5)?;
        part.range("stiction", lift.actuator.stiction, 0.0, 0.5)?;
        part.range("leak", lift.actuator.leak, 0.0, 1.0)?;
        part.range("air line bore_m", lift.line.bore_m, 1e-3, 0.5)?;
        part.range("air line length_m", lift.line.length_m, 0.0, 1e3)?;
        part.range("air line minor_loss", lift.line.minor_loss, 0.0, 1e4)?;
        part.range("air line multiplier", lift.line.multiplier, 0.0, 1e4)?;
        part.range("opening_pa", lift.diffuser.opening_pa, 0.0, 1e5)?;
        part.range("loss_pa", lift.diffuser.loss_pa, 0.0, 1e6)?;
        part.range("at_m3_s", lift.diffuser.at_m3_s, 1e-9, 10.0)
    }
}

fn check_law(part: &Part<'_>, law: &OutletLaw) -> Result<(), SpecError> {
    match law {
        OutletLaw::VNotch { crest_m, angle_deg } => {
            part.range("crest_m", *crest_m, 0.0, 50.0)?;
            part.range("angle_deg", *angle_deg, 25.0, 100.0)
        }
        OutletLaw::Rectangular {
            crest_m,
            width_m,
            channel_m,
        } => {
            part.range("crest_m", *crest_m, 0.0, 50.0)?;
            part.range("width_m", *width_m, 0.005, 100.0)?;
            part.range("channel_m", *channel_m, *width_m, 1000.0)
        }
        OutletLaw::Hole { centre_m, bore_m, cd } => {
            part.range("centre_m", *centre_m, 0.0, 50.0)?;
            part.range("bore_m", *bore_m, 1e-3, 1.0)?;
            part.range("cd", *cd, 0.1, 1.0)
        }
        OutletLaw::Standpipe { crest_m, bore_m } => {
            part.range("crest_m", *crest_m, 0.0, 50.0)?;
            part.range("bore_m", *bore_m, 5e-3, 2.0)
        }
        OutletLaw::Pipe {
            entry_m,
            end_m,
            bore_m,
            length_m,
            minor_loss,
        } => {
            part.range("entry_m", *entry_m, -1.0, 50.0)?;
            part.range("end_m", *end_m, -50.0, 50.0)?;
            part.range("bore_m", *bore_m, 5e-3, 2.0)?;
            part.range("length_m", *length_m, 0.0, 1e4)?;
            part.range("minor_loss", *minor_loss, 0.0, 1e4)
        }
        OutletLaw::Table { crest_m, points } => {
            part.range("crest_m", *crest_m, 0.0, 50.0)?;
            part.points(
                "points",
                "at least two points are needed, heads rising from 0 or more, flows not falling",
                points,
                2,
                |a, b| a.0 >= 0.0 && b.0 > a.0 && a.1 >= 0.0 && b.1 >= a.1,
            )
        }
    }
}
