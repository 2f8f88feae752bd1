//! What the application needs of a board.

use risertrim::alarm::Name;
use risertrim::command::Refused;
use risertrim::{Command, Millis, Opening};

/// The hardware, as the application sees it. Tanks and lifts are numbered from 0 in the order of the installation.
///
/// No call may wait for longer than a small part of the period: a driver that gets no answer gives an error.
pub trait Board {
    /// Why a driver failed. The application only asks whether it did; a board that wants the cause logs it itself.
    type Error;

    /// The board's millisecond counter. It may wrap, and it may start anywhere.
    fn now(&mut self) -> Millis;

    /// The level sensor of a tank, in the unit its scale in the installation starts from (mA, V, counts, m).
    ///
    /// # Errors
    /// When the sensor gives no number. The step then goes on without it.
    fn level(&mut self, tank: usize) -> Result<f32, Self::Error>;

    /// The manifold gauge, Pa above the atmosphere; `None` where none is fitted.
    ///
    /// # Errors
    /// When the gauge gives no number. The step then works the pressure out from the blower's curve.
    fn manifold_pa(&mut self) -> Result<Option<f32>, Self::Error>;

    /// Sends the valve of a lift to an opening. Called at every step for every lift, also when nothing changed, so that a
    /// driver which lost its setting gets it back.
    ///
    /// # Errors
    /// When the valve cannot be driven. It is logged once, and driven again at the next step.
    fn drive(&mut self, lift: usize, opening: Opening) -> Result<(), Self::Error>;

    /// Takes note of an event. What cannot be kept is dropped: a full log may not hold up the loop.
    fn log(&mut self, at: Millis, event: Event);

    /// Starts the watchdog's time afresh.
    fn feed_watchdog(&mut self);

    /// A command from a console or a radio, if one waits. Asked once a period; the others wait for the next.
    fn command(&mut self) -> Option<Command> {
        None
    }

    /// Nothing to do before the next period: sleep until an interrupt, or return at once.
    fn idle(&mut self) {}
}

/// What is worth keeping in the log of a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// An alarm began.
    Raised(Name),
    /// An alarm ended.
    Cleared(Name),
    /// The valve of a lift could not be driven.
    ValveFault {
        /// Lift index.
        lift: usize,
    },
    /// The valve of a lift can be driven again.
    ValveDriven {
        /// Lift index.
        lift: usize,
    },
    /// A command was not taken.
    Refused(Refused),
}
