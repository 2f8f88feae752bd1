//! A needle valve on a stepper: step and direction pins, homing, backlash, lost steps.

mod count;
mod mechanics;
mod pins;
mod way;

pub use mechanics::{Home, Mechanics};
pub use pins::NoPin;

use super::{DriveFault, ValveDrive};
use crate::time::{Elapsed, Held, Millis};
use crate::units::Opening;
use count::Count;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};
use pins::Pins;
use way::Way;

/// What the stepper is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// Homing, off the end stop first: so many steps at most.
    BackOff(u32),
    /// Homing, towards the home end: so many steps at most.
    Seek(u32),
    /// At work.
    Follow,
}

/// A needle valve on a stepper.
///
/// Each [`ValveDrive::poll`] makes one step at most, so nothing waits for a move: poll it at least as often as
/// [`Mechanics::step_ms`] for full speed; slower polling only slows the valve.
///
/// * It homes before its first move: to the end stop, or where none is fitted by running a full stroke and
///   [`Mechanics::overrun_steps`] against the mechanical end.
/// * Play of the gears is counted out: after turning round, the motor first takes it up, and the needle is where it was sent
///   from either side. (Leave `backlash` in the installation at zero then.)
/// * With an end stop it sees lost steps: the stop on where it should be off, or off where it should be on. It says how many, and homes again.
///   It also homes after [`Mechanics::rehome_every_ms`] and when it is asked to, and when pin errors may have cost more steps than
///   [`Mechanics::tolerance_steps`].
///
/// **Caution.** Homing takes the valve to its home end: at [`Home::Shut`] this lift has no air for that time.
///
/// ```
/// use embedded_hal::{delay::DelayNs, digital::OutputPin};
/// use risertrim::drive::{Mechanics, Stepper, ValveDrive};
/// use risertrim::{Millis, Opening};
///
/// # fn wire(step: impl OutputPin, direction: impl OutputPin, delay: impl DelayNs, now: Millis) {
/// let mut valve = Stepper::new(step, direction, delay, Mechanics::new(1600));
/// // At every step of the controller:
/// let _ = valve.send(Opening::new(0.3), now);
/// // As often as the main loop comes round:
/// let _ = valve.poll(now);
/// # }
/// ```
#[derive(Debug)]
pub struct Stepper<S, D, T, N = NoPin, E = NoPin> {
    pins: Pins<S, D, T, N>,
    end_stop: Option<E>,
    mechanics: Mechanics,
    count: Count,
    target: u32,
    phase: Phase,
    homed: bool,
    /// False while the end stop has proved wrong.
    stop_trusted: bool,
    /// True once the end stop was seen off since homing: switches let go later than they take hold.
    stop_released: bool,
    /// A broken end stop, told at every call until homing finds it well.
    broken: Option<DriveFault>,
    /// What happened since the last [`ValveDrive::send`].
    unsaid: Option<DriveFault>,
    ask_home: bool,
    /// Steps that pin errors may have cost.
    doubtful: u32,
    since_home: Held,
    last: Option<Millis>,
    waited: Held,
}

impl<S: OutputPin, D: OutputPin, T: DelayNs> Stepper<S, D, T> {
    /// A stepper on these pins. It homes at its first polls; until it is sent elsewhere it then goes wide open.
    #[must_use]
    pub fn new(step: S, direction: D, delay: T, mechanics: Mechanics) -> Self {
        let mechanics = mechanics.sane();
        Self {
            pins: Pins::new(step, direction, delay),
            end_stop: None,
            count: Count::new(&mechanics),
            target: mechanics.stroke_steps,
            phase: Phase::Seek(mechanics.whole_run()),
            homed: false,
            stop_trusted: true,
            stop_released: false,
            broken: None,
            unsaid: None,
            ask_home: false,
            doubtful: 0,
            since_home: Held::NONE,
            last: None,
            waited: Held::LONG,
            mechanics,
        }
    }
}

impl<S, D, T, N, E> Stepper<S, D, T, N, E> {
    /// Adds the enable pin of the motor driver.
    #[must_use]
    pub fn with_enable<N2: OutputPin>(self, enable: N2) -> Stepper<S, D, T, N2, E> {
        Stepper {
            pins: self.pins.with_enable(enable),
            end_stop: self.end_stop,
            mechanics: self.mechanics,
            count: self.count,
            target: self.target,
            phase: self.phase,
            homed: self.homed,
            stop_trusted: self.stop_trusted,
            stop_released: self.stop_released,
            broken: self.broken,
            unsaid: self.unsaid,
            ask_home: self.ask_home,
            doubtful: self.doubtful,
            since_home: self.since_home,
            last: self.last,
            waited: self.waited,
        }
    }

    /// Adds an end stop at the home end.
    #[must_use]
    pub fn with_end_stop<E2: InputPin>(self, end_stop: E2) -> Stepper<S, D, T, N, E2> {
        Stepper {
            phase: Phase::BackOff(self.mechanics.most_back_off()),
            pins: self.pins,
            end_stop: Some(end_stop),
            mechanics: self.mechanics,
            count: self.count,
            target: self.target,
            homed: self.homed,
            stop_trusted: self.stop_trusted,
            stop_released: self.stop_released,
            broken: self.broken,
            unsaid: self.unsaid,
            ask_home: self.ask_home,
            doubtful: self.doubtful,
            since_home: self.since_home,
            last: self.last,
            waited: self.waited,
        }
    }

    /// Asks for homing; it begins at the next poll, and the valve goes back to where it was sent afterwards.
    pub fn home(&mut self) {
        self.ask_home = true;
    }

    /// True once it knows where the valve stands; false while it homes.
    #[must_use]
    pub fn is_homed(&self) -> bool {
        self.homed && self.phase == Phase::Follow
    }

    /// Steps of the needle from shut, as counted.
    #[must_use]
    pub fn counted_steps(&self) -> i64 {
        self.count.needle()
    }

    /// Keeps the first fault for the next [`ValveDrive::send`], but lost steps before any other.
    fn note(&mut self, fault: DriveFault) -> DriveFault {
        if self.unsaid.is_none() || matches!(fault, DriveFault::LostSteps(_)) {
            self.unsaid = Some(fault);
        }
        fault
    }
}

impl<S: OutputPin, D: OutputPin, T: DelayNs, N: OutputPin, E: InputPin> Stepper<S, D, T, N, E> {
    /// The end stop as far as it can be believed: `None` where there is none, or it cannot be read, or has proved wrong.
    fn at_stop(&mut self) -> Result<Option<bool>, DriveFault> {
        let Some(pin) = &mut self.end_stop else { return Ok(None) };
        let active = self.mechanics.end_stop;
        match pin.is_high() {
            Ok(high) => Ok(self.stop_trusted.then(|| active.means(high))),
            Err(_) => Err(DriveFault::EndStopPin),
        }
    }

    fn begin_homing(&mut self) {
        self.ask_home = false;
        self.doubtful = 0;
        // Each homing gives the end stop another chance.
        self.stop_trusted = true;
        self.phase = if self.end_stop.is_some() {
            Phase::BackOff(self.mechanics.most_back_off())
        } else {
            Phase::Seek(self.mechanics.whole_run())
        };
    }

    /// The valve stands at its home end: the count starts afresh from here.
    fn arrive_home(&mut self, by_stop: bool) -> Result<(), DriveFault> {
        let lost = self.count.arrive(&self.mechanics);
        let knew = self.homed;
        self.homed = true;
        self.since_home.clear();
        self.stop_released = false;
        // Where it is, is known now, whatever steps failed on the way.
        self.doubtful = 0;
        self.phase = Phase::Follow;
        if by_stop {
            self.broken = None;
            if knew && lost.unsigned_abs() > u64::from(self.mechanics.tolerance_steps) {
                let steps = i32::try_from(lost).unwrap_or(i32::MAX);
                return Err(self.note(DriveFault::LostSteps(steps)));
            }
        } else if self.end_stop.is_some() && self.broken.is_none() {
            self.stop_trusted = false;
            self.broken = Some(DriveFault::EndStopNotFound);
        }
        Ok(())
    }

    /// Which way the next step goes, if any; moves the phase on.
    fn next_way(&mut self, at_stop: Option<bool>) -> Result<Option<Way>, DriveFault> {
        let home = self.mechanics.home.way();
        if let Phase::BackOff(left) = self.phase {
            if at_stop == Some(true) && left > 0 {
                self.phase = Phase::BackOff(left.saturating_sub(1));
                return Ok(Some(home.back()));
            }
            if at_stop == Some(true) {
                self.stop_trusted = false;
                self.broken = Some(DriveFault::EndStopStuck);
            }
            self.phase = Phase::Seek(self.mechanics.whole_run());
            return Ok(Some(home));
        }
        if let Phase::Seek(left) = self.phase {
            if at_stop == Some(true) || left == 0 {
                self.arrive_home(at_stop == Some(true))?;
            } else {
                self.phase = Phase::Seek(left.saturating_sub(1));
                return Ok(Some(home));
            }
        }
        let way = self.count.way_to(self.target);
        let from_home = self.count.off_home(&self.mechanics);
        self.stop_released |= at_stop == Some(false);
        let lost = match at_stop {
            // On, far from home: homing will tell how far.
            Some(true) => {
                let leeway = if self.stop_released {
                    self.mechanics.tolerance_steps
                } else {
                    self.mechanics.most_back_off()
                };
                from_home > i64::from(leeway)
            }
            // Off, at home with nothing left to go.
            Some(false) => from_home == 0 && way.is_none(),
            None => false,
        };
        let scheduled = self.mechanics.rehome_every_ms > 0
            && self.since_home.ms() >= self.mechanics.rehome_every_ms
            && way.is_none();
        if lost || scheduled || self.ask_home || self.doubtful > self.mechanics.tolerance_steps {
            self.begin_homing();
            return Ok(None);
        }
        Ok(way)
    }

    fn advance(&mut self, now: Millis) -> Result<(), DriveFault> {
        let passed = match self.last.map(|last| now.since(last)) {
            Some(Elapsed::Forward(ms)) => ms,
            None | Some(Elapsed::Backward) => 0,
        };
        self.last = Some(now);
        self.since_home.add(passed);
        self.waited.add(passed);
        self.pins.finish_pulse()?;
        if self.waited.ms() < self.mechanics.step_ms {
            return Ok(());
        }
        let (at_stop, unread) = match self.at_stop() {
            Ok(at_stop) => (at_stop, None),
            Err(fault) => (None, Some(fault)),
        };
        let result = match self.next_way(at_stop)? {
            None => self.pins.rest(&self.mechanics),
            Some(way) => self.step(way),
        };
        // The valve's own fault comes before that of its stop.
        result.and(unread.map_or(Ok(()), Err))
    }

    /// One step, or what must come before it: enable and direction, which need their time before the pulse.
    fn step(&mut self, way: Way) -> Result<(), DriveFault> {
        match self.pins.prepare(way, &self.mechanics) {
            Ok(false) => {}
            Ok(true) => {
                self.give_step_back();
                self.waited.clear();
                return Ok(());
            }
            Err(fault) => {
                self.give_step_back();
                return Err(fault);
            }
        }
        match self.pins.pulse(self.mechanics.pulse_us) {
            Ok(()) => {}
            // The edge went out, only its end did not: the step was made.
            Err(pins::Pulse::Unfinished) => {
                self.made(way);
                return Err(DriveFault::StepPin);
            }
            Err(pins::Pulse::NotBegun) => {
                self.give_step_back();
                self.doubtful = self.doubtful.saturating_add(1);
                return Err(DriveFault::StepPin);
            }
        }
        self.made(way);
        Ok(())
    }

    fn made(&mut self, way: Way) {
        self.count.step(way, &self.mechanics);
        self.waited.clear();
    }

    /// A step of homing that was planned but not made is still to be made.
    fn give_step_back(&mut self) {
        self.phase = match self.phase {
            Phase::BackOff(left) => Phase::BackOff(left.saturating_add(1)),
            Phase::Seek(left) => Phase::Seek(left.saturating_add(1)),
            Phase::Follow => Phase::Follow,
        };
    }
}

impl<S: OutputPin, D: OutputPin, T: DelayNs, N: OutputPin, E: InputPin> ValveDrive for Stepper<S, D, T, N, E> {
    fn send(&mut self, opening: Opening, now: Millis) -> Result<(), DriveFault> {
        self.target = self.mechanics.steps_at(opening);
        let result = self.poll(now);
        match self.unsaid.take() {
            Some(fault) => Err(fault),
            None => result,
        }
    }

    fn poll(&mut self, now: Millis) -> Result<(), DriveFault> {
        match self.advance(now) {
            Err(fault) => Err(self.note(fault)),
            Ok(()) => self.broken.map_or(Ok(()), Err),
        }
    }

    fn position(&self) -> Option<Opening> {
        self.is_homed().then(|| self.count.opening(&self.mechanics))
    }
}
