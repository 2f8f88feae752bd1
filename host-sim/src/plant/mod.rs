//! The modelled installation: tanks, risers, outlets, blower, manifold, valves and sensors.
//!
//! Everything is `f64` in SI units. Air is always *free air*: the volume it has at 100 kPa and 20 C
//! ([`FREE_AIR_PA`], [`FREE_AIR_K`]). Heights belong to a tank's own floor; floors have a height above one datum.
//!
//! | file | what |
//! | --- | --- |
//! | `place` | water and air properties, pressure at altitude |
//! | `friction` | Darcy factor of smooth and rough pipes |
//! | `riser`, `peak` | one lift's water from its air and the levels |
//! | `outlet`, `weir`, `orifice`, `pipe` | what leaves a tank at a level |
//! | `blower`, `branch`, `air` | the blower, one lift's air path, the manifold that joins them |
//! | `valve` | the actuator: travel, backlash, stiction, sticking |
//! | `seep` | water that creeps up an air line past its check valve |
//! | `tank` | level and volume |
//! | `sensor` | what the controller is told |
//! | `spec`, `check` | description of an installation and the reasons to refuse it |
//! | `run`, `flows` | [`Plant`]: all of it through time |
//! | `rates` | how fast its tanks fill, for whoever integrates by other means |
//! | `change`, `begin`, `moving` | what happens to it: fouling, clogging, a sagging blower, a lost sensor |

mod air;
mod begin;
mod blower;
mod branch;
mod change;
mod check;
mod flows;
mod friction;
mod moving;
mod orifice;
mod outlet;
mod peak;
mod pipe;
mod place;
mod rates;
mod riser;
mod run;
mod seep;
mod sensor;
mod spec;
mod state;
mod tank;
mod valve;
mod weir;

#[cfg(test)]
mod example;
#[cfg(test)]
mod mishaps;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod tests;

pub use air::Manifold;
pub use blower::{Blower, BlowerSpec};
pub use branch::{AirBranch, BleedSpec, Characteristic, DiffuserSpec, LineSpec, ValveSpec};
pub use change::{Change, SensorFault};
pub use check::SpecError;
pub use friction::{Friction, darcy};
pub use outlet::{Outlet, OutletLaw, OutletSpec};
pub use peak::Peak;
pub use place::Place;
pub use riser::{Heads, Riser};
pub use run::Plant;
pub use sensor::{Gauge, GaugeSpec, LevelSensor, Readings, SensorSpec};
pub use spec::{LiftSpec, PlantSpec, TankSpec};
pub use state::{LiftState, PlantState, TankState};
pub use tank::{Area, Basin};
pub use valve::{Actuator, ActuatorSpec};

/// Standard gravity, m/s2.
pub const GRAVITY_M_S2: f64 = 9.806_65;
/// Pressure of free air, Pa absolute (ISO 1217 inlet condition).
pub const FREE_AIR_PA: f64 = 100_000.0;
/// Temperature of free air, K (ISO 1217 inlet condition).
pub const FREE_AIR_K: f64 = 293.15;
/// Gas constant of dry air, J/(kg K).
pub const AIR_J_KG_K: f64 = 287.055;
