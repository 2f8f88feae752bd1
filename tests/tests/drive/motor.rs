//! A needle valve with motor, play, end walls and end stop, moved by what its pins do: the mechanism that the stepper driver counts.

use embedded_hal::digital::{ErrorKind, ErrorType, InputPin, OutputPin};
use std::cell::RefCell;
use std::rc::Rc;

/// The mechanism.
#[derive(Debug)]
pub struct Motor {
    /// Stroke of the needle, steps; walls at both ends.
    pub stroke: i64,
    pub backlash: i64,
    /// Needle from shut.
    pub needle: i64,
    /// Motor within its play: 0 pushes open, `backlash` pushes shut.
    pub play: i64,
    pub opening: bool,
    pub high: bool,
    pub powered: bool,
    /// Pulses seen.
    pub pulses: u64,
    /// Pulses seen while the motor had no power: a real motor would have lost them.
    pub pulses_without_power: u64,
    /// Every n-th pulse is lost (0: none).
    pub slips_every: u64,
    /// The end stop is on at and below this distance from the home end.
    pub stop_width: i64,
    pub home_open: bool,
    pub stop_stuck: Option<bool>,
    /// The next pin calls that err: true errs.
    pub errs: std::collections::VecDeque<bool>,
    pub stop_errs: bool,
}

impl Motor {
    pub fn new(stroke: i64, backlash: i64, needle: i64) -> Rc<RefCell<Self>> {
        Rc::new(RefCell::new(Self {
            stroke,
            backlash,
            needle,
            play: backlash / 2,
            opening: false,
            high: false,
            powered: false,
            pulses: 0,
            pulses_without_power: 0,
            slips_every: 0,
            stop_width: 0,
            home_open: true,
            stop_stuck: None,
            errs: std::collections::VecDeque::new(),
            stop_errs: false,
        }))
    }

    fn turn(&mut self) {
        self.pulses += 1;
        if !self.powered {
            self.pulses_without_power += 1;
        }
        if self.slips_every > 0 && self.pulses.is_multiple_of(self.slips_every) {
            return;
        }
        if self.opening {
            if self.play > 0 {
                self.play -= 1;
            } else if self.needle < self.stroke {
                self.needle += 1;
            }
        } else if self.play < self.backlash {
            self.play += 1;
        } else if self.needle > 0 {
            self.needle -= 1;
        }
    }

    fn at_stop(&self) -> bool {
        let from_home = if self.home_open {
            self.stroke - self.needle
        } else {
            self.needle
        };
        self.stop_stuck.unwrap_or(from_home <= self.stop_width)
    }
}

/// Which pin of the motor this is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Role {
    Step,
    Direction,
    /// On when low.
    Enable,
    Stop,
}

/// A pin of the motor.
#[derive(Clone, Debug)]
pub struct Pin(pub Role, pub Rc<RefCell<Motor>>);

impl ErrorType for Pin {
    type Error = ErrorKind;
}

impl Pin {
    fn set(&self, high: bool) -> Result<(), ErrorKind> {
        let mut motor = self.1.borrow_mut();
        if motor.errs.pop_front().unwrap_or(false) {
            return Err(ErrorKind::Other);
        }
        match self.0 {
            Role::Step => {
                if high && !motor.high {
                    motor.turn();
                }
                motor.high = high;
            }
            Role::Direction => motor.opening = high,
            Role::Enable => motor.powered = !high,
            Role::Stop => {}
        }
        Ok(())
    }
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        self.set(false)
    }

    fn set_high(&mut self) -> Result<(), ErrorKind> {
        self.set(true)
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, ErrorKind> {
        let motor = self.1.borrow();
        if motor.stop_errs {
            return Err(ErrorKind::Other);
        }
        Ok(motor.at_stop())
    }

    fn is_low(&mut self) -> Result<bool, ErrorKind> {
        self.is_high().map(|high| !high)
    }
}
