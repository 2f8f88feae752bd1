//! Description of an installation as it truly is.

use super::air::Manifold;
use super::blower::BlowerSpec;
use super::branch::{BleedSpec, DiffuserSpec, LineSpec, ValveSpec};
use super::outlet::OutletSpec;
use super::place::Place;
use super::riser::Riser;
use super::sensor::{GaugeSpec, SensorSpec};
use super::tank::Area;
use super::valve::ActuatorSpec;

/// A tank.
#[derive(Clone, Debug, PartialEq)]
pub struct TankSpec {
    /// Its name, for messages.
    pub name: String,
    /// Water surface.
    pub area: Area,
    /// Floor above the site's datum, m.
    pub floor_m: f64,
    /// Rim above the floor, m: water above it is spilled out of the system.
    pub rim_m: f64,
    /// Level at the start above the floor, m.
    pub start_m: f64,
    /// Level below which it counts as dry, m; `None`: the lowest injector drawing from it, or 20 mm.
    pub dry_m: Option<f64>,
    /// Its outlets.
    pub outlets: Vec<OutletSpec>,
    /// Water from outside, m3/s.
    pub inflow_m3_s: f64,
    /// Evaporation, m3/s.
    pub evaporation_m3_s: f64,
    /// Its level sensor.
    pub sensor: Option<SensorSpec>,
}

/// A lift.
#[derive(Clone, Debug, PartialEq)]
pub struct LiftSpec {
    /// Its name, for messages.
    pub name: String,
    /// Tank it draws from.
    pub from: usize,
    /// Tank it delivers to.
    pub to: usize,
    /// Injector above the source tank's floor, m.
    pub injector_m: f64,
    /// Invert of the outlet above the source tank's floor, m.
    pub outlet_m: f64,
    /// The riser; its `place` is overwritten by the plant's.
    pub riser: Riser,
    /// Air valve.
    pub valve: ValveSpec,
    /// What moves it.
    pub actuator: ActuatorSpec,
    /// Opening at the start, 0 to 1.
    pub start_opening: f64,
    /// Air line.
    pub line: LineSpec,
    /// Diffuser or injector.
    pub diffuser: DiffuserSpec,
}

/// A whole installation.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantSpec {
    /// Water and air.
    pub place: Place,
    /// The blower.
    pub blower: BlowerSpec,
    /// An always open bleed.
    pub bleed: Option<BleedSpec>,
    /// A gauge on the manifold.
    pub gauge: Option<GaugeSpec>,
    /// Tanks.
    pub tanks: Vec<TankSpec>,
    /// Lifts.
    pub lifts: Vec<LiftSpec>,
    /// Seed of all noise.
    pub seed: u64,
    /// Longest step of the integration, s (1 is a good value).
    pub max_step_s: f64,
}

impl PlantSpec {
    /// Level below which tank `tank` counts as dry, m above its floor.
    #[must_use]
    pub fn dry_m(&self, tank: usize) -> f64 {
        let foot = self
            .lifts
            .iter()
            .filter(|lift| lift.from == tank)
            .map(|lift| lift.injector_m)
            .reduce(f64::min);
        self.tanks.get(tank).and_then(|t| t.dry_m).or(foot).unwrap_or(0.02)
    }

    pub(super) fn manifold(&self) -> Manifold {
        Manifold::new(self.lifts.len())
    }
}
