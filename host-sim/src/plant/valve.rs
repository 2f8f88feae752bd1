//! What moves an air valve: it takes time, has play, sticks.

/// An actuator.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ActuatorSpec {
    /// Time for full travel, s; 0: at once.
    pub stroke_s: f64,
    /// Play between motor and stem, as a share of full travel (0 to 0.2).
    pub backlash: f64,
    /// Smallest change of command that moves it, as a share of full travel (0 to 0.2).
    pub stiction: f64,
    /// Share of the conductance that passes when shut (0 to 0.5).
    pub leak: f64,
}

/// An actuator in use.
#[derive(Clone, Copy, Debug)]
pub struct Actuator {
    spec: ActuatorSpec,
    motor: f64,
    stem: f64,
    moving: bool,
    /// Does not move at all.
    pub stuck: bool,
    /// Goes to this opening whatever it is told (a broken stem).
    pub jammed: Option<f64>,
    /// Multiplier of the stroke time.
    pub slow: f64,
    /// Multiplier of the play.
    pub play: f64,
    /// Runs the wrong way.
    pub reversed: bool,
    /// Share of the conductance that passes when shut.
    pub leak: f64,
}

impl Actuator {
    /// An actuator standing at `opening` (0 to 1).
    #[must_use]
    pub fn new(spec: ActuatorSpec, opening: f64) -> Self {
        let at = opening.clamp(0.0, 1.0);
        Self {
            spec,
            motor: at,
            stem: at,
            moving: false,
            stuck: false,
            jammed: None,
            slow: 1.0,
            play: 1.0,
            reversed: false,
            leak: spec.leak,
        }
    }

    /// True opening, 0 to 1.
    #[must_use]
    pub fn opening(&self) -> f64 {
        self.stem
    }

    /// Runs for `dt_s` towards `command` (0 to 1; NaN leaves it where it is). Returns whether the opening changed.
    pub fn advance(&mut self, dt_s: f64, command: f64) -> bool {
        if self.stuck || command.is_nan() {
            return false;
        }
        let told = command.clamp(0.0, 1.0);
        let target = match self.jammed {
            Some(opening) => opening,
            None if self.reversed => 1.0 - told,
            None => told,
        };
        let miss = target - self.motor;
        if miss == 0.0 || (!self.moving && miss.abs() <= self.spec.stiction) {
            self.moving = false;
            return false;
        }
        let reach = if self.spec.stroke_s > 0.0 {
            dt_s / (self.spec.stroke_s * self.slow)
        } else {
            1.0
        };
        self.moving = miss.abs() > reach;
        self.motor = if self.moving {
            self.motor + reach.copysign(miss)
        } else {
            target
        };
        let before = self.stem;
        let play = 0.5 * self.spec.backlash * self.play;
        // At the end stops the motor takes up the play.
        self.stem = if self.motor <= 0.0 || self.motor >= 1.0 {
            self.motor
        } else {
            self.stem.clamp(self.motor - play, self.motor + play).clamp(0.0, 1.0)
        };
        self.stem != before
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: ActuatorSpec = ActuatorSpec {
        stroke_s: 30.0,
        backlash: 0.0,
        stiction: 0.0,
        leak: 0.0,
    };

    #[test]
    fn it_takes_its_stroke_time() {
        let mut valve = Actuator::new(PLAIN, 0.0);
        for _ in 0..15 {
            valve.advance(1.0, 1.0);
        }
        assert!((valve.opening() - 0.5).abs() < 1e-12);
        valve.slow = 2.0;
        for _ in 0..15 {
            valve.advance(1.0, 1.0);
        }
        assert!((valve.opening() - 0.75).abs() < 1e-12);
    }

    #[test]
    fn play_is_lost_on_turning_round_and_taken_up_at_the_stops() {
        let mut valve = Actuator::new(
            ActuatorSpec {
                stroke_s: 0.0,
                backlash: 0.02,
                ..PLAIN
            },
            0.2,
        );
        valve.advance(1.0, 0.5);
        assert!((valve.opening() - 0.49).abs() < 1e-12);
        assert!(!valve.advance(1.0, 0.485), "within the play nothing moves");
        valve.advance(1.0, 0.4);
        assert!((valve.opening() - 0.41).abs() < 1e-12);
        valve.advance(1.0, 0.0);
        assert_eq!(valve.opening(), 0.0);
    }

    #[test]
    fn small_commands_do_not_move_a_sticky_valve_and_a_stuck_one_never_moves() {
        let mut valve = Actuator::new(
            ActuatorSpec {
                stiction: 0.01,
                ..PLAIN
            },
            0.5,
        );
        assert!(!valve.advance(1.0, 0.509));
        assert!(valve.advance(1.0, 0.52));
        assert!((valve.opening() - 0.52).abs() < 1e-12);
        valve.stuck = true;
        assert!(!valve.advance(10.0, 0.0));
        valve.stuck = false;
        assert!(!valve.advance(1.0, f64::NAN));
    }

    #[test]
    fn a_reversed_valve_shuts_when_told_to_open_and_worn_gears_lose_more() {
        let spec = ActuatorSpec {
            stroke_s: 0.0,
            backlash: 0.01,
            ..PLAIN
        };
        let mut valve = Actuator::new(spec, 0.5);
        valve.reversed = true;
        valve.advance(1.0, 1.0);
        assert_eq!(valve.opening(), 0.0);
        valve.jammed = Some(0.7);
        valve.advance(1.0, 1.0);
        assert!((valve.opening() - 0.695).abs() < 1e-12);
        let mut worn = Actuator::new(spec, 0.2);
        worn.play = 5.0;
        worn.advance(1.0, 0.6);
        assert!((worn.opening() - 0.575).abs() < 1e-12);
    }
}
