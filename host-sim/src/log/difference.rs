//! In what two steps made from the same readings differ.

use super::entry::HostStepRecord;
use risertrim::level::Checked;
use std::fmt;

/// What of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Field {
    /// The time since the step before: readings are missing in between.
    StepTime,
    /// What a level reading was taken for.
    Reading(u8),
    /// A level believed.
    Level(u8),
    /// How sure that is.
    LevelSigma(u8),
    /// Manifold pressure.
    Manifold,
    /// A delivery factor.
    Delivery(u8),
    /// How sure that is.
    DeliverySigma(u8),
    /// A flow believed.
    Flow(u8),
    /// The target of a lift as ramped.
    Target(u8),
    /// What a lift is doing.
    State(u8),
    /// Air a lift is meant to get.
    WantedAir(u8),
    /// Opening commanded.
    Command(u8),
    /// Where a valve is believed to stand.
    Position(u8),
    /// Air a lift is believed to get.
    Air(u8),
    /// The blower: units, speed, air, power.
    Blower,
    /// How long oxygen or backup last.
    Reserve,
    /// The numbers of lifts or tanks.
    Size,
}

impl Field {
    /// Unit of its difference, and how many of it one of the record's unit is.
    #[must_use]
    pub const fn unit(self) -> (&'static str, f64) {
        match self {
            Self::StepTime => ("ms", 1.0),
            Self::Level(_) | Self::LevelSigma(_) => ("mm", 1000.0),
            Self::Manifold => ("kPa", 0.001),
            Self::Flow(_) | Self::Target(_) | Self::WantedAir(_) | Self::Air(_) => ("L/min", 60_000.0),
            Self::Command(_) | Self::Position(_) | Self::Delivery(_) | Self::DeliverySigma(_) => ("%", 100.0),
            Self::Reading(_) | Self::State(_) | Self::Blower | Self::Reserve | Self::Size => ("", 1.0),
        }
    }
}

impl fmt::Display for Field {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (what, whose) = match self {
            Self::StepTime => ("time since the step before", None),
            Self::Reading(tank) => ("worth of the reading", Some(("tank", tank))),
            Self::Level(tank) => ("level believed", Some(("tank", tank))),
            Self::LevelSigma(tank) => ("doubt about the level", Some(("tank", tank))),
            Self::Manifold => ("manifold pressure", None),
            Self::Delivery(lift) => ("delivery factor", Some(("lift", lift))),
            Self::DeliverySigma(lift) => ("doubt about the delivery", Some(("lift", lift))),
            Self::Flow(lift) => ("flow believed", Some(("lift", lift))),
            Self::Target(lift) => ("target as ramped", Some(("lift", lift))),
            Self::State(lift) => ("state", Some(("lift", lift))),
            Self::WantedAir(lift) => ("air wanted", Some(("lift", lift))),
            Self::Command(lift) => ("opening commanded", Some(("lift", lift))),
            Self::Position(lift) => ("opening believed", Some(("lift", lift))),
            Self::Air(lift) => ("air believed", Some(("lift", lift))),
            Self::Blower => ("blower", None),
            Self::Reserve => ("oxygen or backup left", None),
            Self::Size => ("number of lifts or tanks", None),
        };
        match whose {
            Some((who, index)) => write!(f, "{who} {}: {what}", u16::from(*index) + 1),
            None => f.write_str(what),
        }
    }
}

/// One field in which two steps differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// Which.
    pub field: Field,
    /// What was logged, in the record's unit; `None` for what is no number.
    pub logged: Option<f64>,
    /// What is decided now.
    pub now: Option<f64>,
}

impl Difference {
    /// How far apart, in the record's unit; `None` for what is no number.
    #[must_use]
    pub fn apart(&self) -> Option<f64> {
        Some((self.now? - self.logged?).abs())
    }
}

/// Gathers the differences of two records.
struct Found(Vec<Difference>);

impl Found {
    /// Numbers are the same when their bits are.
    fn number(&mut self, field: Field, logged: f32, now: f32) {
        if logged.to_bits() != now.to_bits() {
            self.0.push(Difference {
                field,
                logged: Some(f64::from(logged)),
                now: Some(f64::from(now)),
            });
        }
    }

    fn other(&mut self, field: Field, same: bool) {
        if !same {
            self.0.push(Difference {
                field,
                logged: None,
                now: None,
            });
        }
    }
}

/// Everything in which the two differ, bit by bit, causes before what follows from them.
pub(super) fn differences(logged: &HostStepRecord, now: &HostStepRecord) -> Vec<Difference> {
    let mut found = Found(Vec::new());
    found.other(
        Field::Size,
        logged.lifts.len() == now.lifts.len() && logged.tanks.len() == now.tanks.len(),
    );
    if logged.step_ms != now.step_ms {
        found.0.push(Difference {
            field: Field::StepTime,
            logged: Some(f64::from(logged.step_ms)),
            now: Some(f64::from(now.step_ms)),
        });
    }
    for (tank, (a, b)) in (0u8..).zip(logged.tanks.iter().zip(&now.tanks)) {
        let same = match (a.reading, b.reading) {
            (Checked::Level(a), Checked::Level(b)) => a.to_bits() == b.to_bits(),
            (a, b) => a == b,
        };
        found.other(Field::Reading(tank), same);
        found.number(Field::Level(tank), a.level_m, b.level_m);
        found.number(Field::LevelSigma(tank), a.sigma_m, b.sigma_m);
    }
    match (logged.basis.seen, now.basis.seen) {
        (Some(a), Some(b)) => found.number(Field::Manifold, a.manifold_pa, b.manifold_pa),
        (a, b) => found.other(Field::Manifold, a == b),
    }
    for (lift, (a, b)) in (0u8..).zip(logged.lifts.iter().zip(&now.lifts)) {
        found.number(Field::Air(lift), a.air_m3_s, b.air_m3_s);
        found.number(Field::Delivery(lift), a.delivery, b.delivery);
        found.number(Field::DeliverySigma(lift), a.delivery_sigma, b.delivery_sigma);
        found.number(Field::Flow(lift), a.flow_m3_s, b.flow_m3_s);
        found.number(Field::Target(lift), a.target_m3_s, b.target_m3_s);
        found.other(Field::State(lift), a.state == b.state);
        found.number(Field::WantedAir(lift), a.wanted_air_m3_s, b.wanted_air_m3_s);
        found.number(Field::Command(lift), a.command.share(), b.command.share());
        found.number(Field::Position(lift), a.position.share(), b.position.share());
    }
    found.other(
        Field::Blower,
        logged.blower.units == now.blower.units
            && logged.blower.speed.to_bits() == now.blower.speed.to_bits()
            && logged.blower.air_m3_s.to_bits() == now.blower.air_m3_s.to_bits()
            && logged.blower.power_w.to_bits() == now.blower.power_w.to_bits(),
    );
    let oxygen = |step: &HostStepRecord| step.tanks.iter().map(|tank| tank.oxygen_min).collect::<Vec<_>>();
    found.other(
        Field::Reserve,
        logged.backup_min == now.backup_min && oxygen(logged) == oxygen(now),
    );
    found.0
}
