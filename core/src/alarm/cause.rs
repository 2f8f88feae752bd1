//! Which alarm follows from which: so that the first cause is named, and not its dozen consequences.

use super::{Kind, Name, Subject};

/// Tanks of a lift: source and receiver.
type Tanks = Option<(u8, u8)>;

/// How near the root an alarm of this kind stands: a cause always ranks before what follows from it, so no two can be each
/// other's.
const fn rank(kind: Kind) -> u8 {
    match kind {
        Kind::PowerOnBackup | Kind::BackupEnding => 0,
        Kind::BlowerStopped => 1,
        Kind::NoLevels => 2,
        Kind::SensorsSwapped => 3,
        Kind::SensorSilent | Kind::SensorOutOfRange | Kind::SensorStuck | Kind::SensorNoisy | Kind::SensorDrifting => 4,
        Kind::PressureLow | Kind::PressureUnsteady => 5,
        Kind::AirWeak => 6,
        Kind::ReturnRestricted | Kind::WaterLost | Kind::WaterGained => 7,
        Kind::LiftStopped => 8,
        Kind::ValveNotFollowing => 9,
        Kind::ReturnSuspect => 10,
        Kind::PressureHigh => 11,
        Kind::LevelTooHigh | Kind::LevelRisingFast => 12,
        Kind::LevelHigh => 13,
        Kind::LevelTooLow | Kind::LevelFallingFast => 14,
        Kind::LevelLow => 15,
        Kind::AirShort => 16,
        Kind::PastPeak => 17,
        _ => 20,
    }
}

const fn is_level(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::LevelTooHigh
            | Kind::LevelHigh
            | Kind::LevelRisingFast
            | Kind::LevelTooLow
            | Kind::LevelLow
            | Kind::LevelFallingFast
    )
}

const fn is_low(kind: Kind) -> bool {
    matches!(kind, Kind::LevelTooLow | Kind::LevelLow | Kind::LevelFallingFast)
}

const fn is_of_lift(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::LiftStopped | Kind::LiftWeak | Kind::OutOfReach | Kind::PastPeak | Kind::ValveNotFollowing
    )
}

const fn is_short_of_air(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::AirShort | Kind::AirBelowFloor | Kind::AirWeak | Kind::PressureLow | Kind::DeadHeaded
    )
}

/// True when `effect` follows from `cause`, both standing; `tanks` are those of the lift that either is about.
pub(super) fn explains(cause: Name, effect: Name, tanks_of: impl Fn(u8) -> Tanks) -> bool {
    if rank(cause.kind) >= rank(effect.kind) {
        return false;
    }
    let tanks = |subject| match subject {
        Subject::Lift(lift) => tanks_of(lift),
        _ => None,
    };
    let touches = |tank: u8, subject: Subject| match subject {
        Subject::Tank(other) => other == tank,
        Subject::Lift(lift) => tanks_of(lift).is_some_and(|(from, to)| from == tank || to == tank),
        Subject::Place => false,
    };
    let of = effect.kind;
    match (cause.kind, cause.subject) {
        (Kind::PowerOnBackup | Kind::BackupEnding, _) => {
            is_short_of_air(of) || is_level(of) || is_of_lift(of) || matches!(of, Kind::RunsBack | Kind::WaterGained)
        }
        (Kind::BlowerStopped, _) => {
            is_short_of_air(of)
                || is_level(of)
                || is_of_lift(of)
                || matches!(of, Kind::RunsBack | Kind::ReturnSuspect | Kind::FishAirLost)
        }
        (Kind::NoLevels, _) => matches!(
            of,
            Kind::SensorSilent | Kind::SensorOutOfRange | Kind::SensorStuck | Kind::LevelJumped
        ),
        (Kind::SensorsSwapped, _) => {
            is_level(of)
                || is_of_lift(of)
                || matches!(
                    of,
                    Kind::LevelJumped | Kind::ReturnSuspect | Kind::WaterLost | Kind::WaterGained
                )
        }
        (
            Kind::SensorSilent | Kind::SensorOutOfRange | Kind::SensorStuck | Kind::SensorNoisy | Kind::SensorDrifting,
            Subject::Tank(tank),
        ) => {
            (is_level(of) || is_of_lift(of) || matches!(of, Kind::LevelJumped | Kind::ReturnSuspect))
                && touches(tank, effect.subject)
        }
        (Kind::PressureLow | Kind::PressureUnsteady, _) => is_short_of_air(of) || is_of_lift(of),
        (Kind::AirWeak, _) => is_short_of_air(of) || is_of_lift(of),
        (Kind::ReturnRestricted, Subject::Tank(tank)) => match effect.subject {
            Subject::Tank(other) if other == tank => is_level(of) || of == Kind::ReturnSuspect,
            Subject::Tank(_) => is_low(of),
            Subject::Lift(_) => is_of_lift(of) && touches(tank, effect.subject),
            Subject::Place => false,
        },
        (Kind::WaterLost, _) => is_low(of) || matches!(of, Kind::OutOfReach | Kind::LiftWeak | Kind::AirShort),
        (Kind::WaterGained, _) => is_level(of) && !is_low(of),
        (Kind::LiftStopped | Kind::ValveNotFollowing, Subject::Lift(lift)) => {
            let own = effect.subject == cause.subject;
            let fed = tanks(cause.subject).is_some_and(|(from, to)| {
                (effect.subject == Subject::Tank(to) && is_low(of))
                    || (effect.subject == Subject::Tank(from) && is_level(of) && !is_low(of))
                    || (cause.kind == Kind::ValveNotFollowing && effect.subject == Subject::Tank(to) && is_level(of))
            });
            (own && is_of_lift(of)) || fed || (of == Kind::PressureHigh && lift < u8::MAX)
        }
        (Kind::LevelTooHigh | Kind::LevelHigh | Kind::LevelRisingFast, Subject::Tank(tank)) => match effect.subject {
            Subject::Tank(other) if other == tank => is_level(of) && !is_low(of),
            Subject::Tank(_) => is_low(of),
            Subject::Lift(_) => of == Kind::CannotBeHeld && touches(tank, effect.subject),
            Subject::Place => false,
        },
        (Kind::LevelTooLow | Kind::LevelLow | Kind::LevelFallingFast, Subject::Tank(tank)) => match effect.subject {
            Subject::Tank(other) if other == tank => is_low(of),
            Subject::Lift(_) => {
                matches!(of, Kind::OutOfReach | Kind::LiftWeak | Kind::CannotBeHeld)
                    && tanks(effect.subject).is_some_and(|(from, _)| from == tank)
            }
            _ => false,
        },
        (Kind::AirShort, _) => matches!(of, Kind::AirBelowFloor | Kind::OutOfReach),
        (Kind::PastPeak, subject) => of == Kind::OutOfReach && effect.subject == subject,
        _ => false,
    }
}

/// The one of `standing` that `effect` follows from: the nearest to the root, the earliest of those.
pub(super) fn root(
    standing: impl Iterator<Item = Name>,
    effect: Name,
    tanks_of: impl Fn(u8) -> Tanks + Copy,
) -> Option<Name> {
    let mut best: Option<Name> = None;
    for cause in standing {
        if explains(cause, effect, tanks_of) && best.is_none_or(|best| rank(cause.kind) < rank(best.kind)) {
            best = Some(cause);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(kind: Kind, subject: Subject) -> Name {
        Name { kind, subject }
    }

    /// Lift 0 from tank 0 to tank 1, lift 1 from tank 0 to tank 2.
    fn tanks(lift: u8) -> Tanks {
        (lift < 2).then_some((0, lift + 1))
    }

    #[test]
    fn no_two_kinds_are_each_others_cause() {
        for a in Kind::ALL {
            for b in Kind::ALL {
                for (x, y) in [
                    (Subject::Place, Subject::Place),
                    (Subject::Tank(1), Subject::Tank(1)),
                    (Subject::Lift(0), Subject::Tank(1)),
                    (Subject::Lift(0), Subject::Lift(0)),
                ] {
                    assert!(!(explains(of(*a, x), of(*b, y), tanks) && explains(of(*b, y), of(*a, x), tanks)));
                }
            }
        }
    }

    #[test]
    fn a_stopped_blower_stands_for_all_that_follows_from_it() {
        let standing = [
            of(Kind::LiftStopped, Subject::Lift(0)),
            of(Kind::LevelLow, Subject::Tank(1)),
            of(Kind::BlowerStopped, Subject::Place),
        ];
        for effect in [
            of(Kind::LiftStopped, Subject::Lift(1)),
            of(Kind::LevelLow, Subject::Tank(2)),
            of(Kind::AirShort, Subject::Place),
        ] {
            let root = root(standing.iter().copied(), effect, tanks);
            assert_eq!(root, Some(of(Kind::BlowerStopped, Subject::Place)));
        }
    }

    #[test]
    fn a_low_tank_is_put_down_to_lost_water_or_to_the_tank_that_holds_it() {
        let low = of(Kind::LevelLow, Subject::Tank(0));
        let lost = of(Kind::WaterLost, Subject::Place);
        let held = of(Kind::LevelHigh, Subject::Tank(2));
        assert_eq!(root([held, lost].into_iter(), low, tanks), Some(lost));
        assert_eq!(root([held].into_iter(), low, tanks), Some(held));
        assert_eq!(root(core::iter::empty(), low, tanks), None);
    }

    #[test]
    fn a_fault_of_one_lift_explains_nothing_of_another() {
        let stopped = of(Kind::LiftStopped, Subject::Lift(0));
        assert!(explains(stopped, of(Kind::LevelLow, Subject::Tank(1)), tanks));
        assert!(!explains(stopped, of(Kind::LevelLow, Subject::Tank(2)), tanks));
        assert!(!explains(stopped, of(Kind::OutOfReach, Subject::Lift(1)), tanks));
    }
}
