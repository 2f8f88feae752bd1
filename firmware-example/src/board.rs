//! What the application needs of a board.

use risertrim::ResetCause;
use risertrim::link::Event;
use risertrim::step::BlowerStep;
use risertrim::{Command, Millis, Opening};

/// The hardware, as the application sees it. Tanks and lifts are numbered from 0 in the order of the installation.
///
/// No call may wait for longer than a small part of the period: a driver that gets no answer gives an error. Three may take as
/// long as an erasure of the flash: [`Board::load`] (which may have to look through all of it), [`Board::save`] and
/// [`Board::go_back`], and so may the sink of a log ([`crate::LogSink`]). In a round they are called when its outputs are set,
/// contact and horn too, and before the watchdog is fed; a command, or an installation that a host sends, also calls them before a
/// round. The watchdog's time must bear a period and the longest of these.
///
/// Everything with a body here may be left out; the application then goes without it.
pub trait Board {
    /// Why a driver failed. The application only asks whether it did; a board that wants the cause logs it itself.
    type Error;

    /// True for a board built in bench mode, which takes its levels from a host and none from sensors. Leave it false on
    /// anything that has water behind its valves.
    const BENCH: bool = false;

    /// The longest period that the board's watchdog bears, ms: it is fed once a period. Installations with a longer one are
    /// refused, whoever sends them and wherever they are kept. The longest that any installation may have is 10 000.
    const LONGEST_PERIOD_MS: u32 = 10_000;

    /// Puts every output where it does no harm: valves at an opening that gives fish air, the blower at full, alarm contact released. Called
    /// before anything else, when nothing is known of the installation yet.
    fn make_safe(&mut self);

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
    fn manifold_pa(&mut self) -> Result<Option<f32>, Self::Error> {
        Ok(None)
    }

    /// Sends the valve of a lift to an opening. Called at every step for every lift, also when nothing changed, so that a
    /// driver which lost its setting gets it back.
    ///
    /// # Errors
    /// When the valve cannot be driven. It is logged once, and driven again at the next step; the third time in a row somebody
    /// is called.
    fn drive(&mut self, lift: usize, opening: Opening) -> Result<(), Self::Error>;

    /// Sets the blower: units on relays, speed. Called at every step, and with [`BlowerStep::FULL`] while nothing is computed. Leave it out where the blower runs by itself.
    ///
    /// # Errors
    /// When it cannot be set. It is logged once, and set again at the next step; the third time in a row somebody is called.
    fn drive_blower(&mut self, _to: &BlowerStep) -> Result<(), Self::Error> {
        Ok(())
    }

    /// Starts the watchdog's time afresh. Called after each completed round and never otherwise: of a step, of outputs at fixed
    /// openings, or in bench mode of waiting for the host.
    fn feed_watchdog(&mut self);

    /// Takes note of an event, besides the short log that the application keeps itself. What cannot be kept is dropped: a
    /// full log may not hold up the loop.
    fn log(&mut self, _at: Millis, _event: Event) {}

    /// The alarm contact: true holds it, false lets it go. It must be wired so that a contact let go means alarm, for that
    /// is what it does when the power or the processor is gone. It stays let go while an alarm stands, also one that was
    /// acknowledged or silenced, while a valve or the blower could not be driven three times in a row and more, and while
    /// the store fails.
    fn hold_alarm_contact(&mut self, _all_well: bool) {}

    /// The horn: sounds while an alarm stands, or a valve or the blower cannot be driven, and nobody has acknowledged or
    /// silenced it.
    fn sound_horn(&mut self, _on: bool) {}

    /// The heartbeat lamp: changes with every completed round, as the watchdog is fed.
    fn heartbeat(&mut self, _on: bool) {}

    /// Why the processor started. Asked once.
    fn reset_cause(&mut self) -> ResetCause {
        ResetCause::Unknown
    }

    /// Words that outlive a reset (backup registers, or memory that start-up code leaves alone). They may hold anything after
    /// power came; the application checks them.
    fn retained(&mut self) -> [u32; RETAINED] {
        [0; RETAINED]
    }

    /// Keeps those words.
    fn retain(&mut self, _words: [u32; RETAINED]) {}

    /// The newest whole bytes kept of this item, put at the start of `room`: how many. Nothing where there are none.
    ///
    /// # Errors
    /// When the store cannot be read, which is something else than nothing kept: it is logged, and tried again a few times.
    fn load(&mut self, _item: Item, _room: &mut [u8]) -> Result<Option<usize>, Unkept> {
        Ok(None)
    }

    /// Keeps these bytes, so that power lost at any moment leaves either them or those before.
    ///
    /// # Errors
    /// When they could not be written, or read back otherwise than written. Those before are then still kept.
    fn save(&mut self, _item: Item, _bytes: &[u8]) -> Result<(), Unkept> {
        Err(Unkept::NoStore)
    }

    /// Goes back to the bytes kept before the newest, if they are still there: true when they are.
    ///
    /// # Errors
    /// When the store failed; it is tried again a few times.
    fn go_back(&mut self, _item: Item) -> Result<bool, Unkept> {
        Ok(false)
    }

    /// Bytes that came from a host since the last call, put at the start of `room`: how many. Must not wait (a bench board in
    /// lockstep may).
    fn receive(&mut self, _room: &mut [u8]) -> usize {
        0
    }

    /// Sends bytes to the host, or drops what does not go out in time: the host asks again. It may wait while they go out where
    /// four of the longest replies (1.4 KiB each) do so within a part of the period: no more are sent in one poll.
    fn send(&mut self, _bytes: &[u8]) {}

    /// Sends bytes of the log on a port of their own (see [`crate::SerialLog`]): how many it took. Must not wait; the rest is offered again.
    fn send_log(&mut self, _bytes: &[u8]) -> usize {
        0
    }

    /// A command from a button or a panel, if one waits. Asked once a period; the others wait for the next. A button that is down
    /// from the start on gives none.
    fn command(&mut self) -> Option<Command> {
        None
    }

    /// True while a person presses the button that acknowledges a stop after several resets. Asked once a period while it is
    /// stopped. It counts only once it was false since the start: a button whose wire is shorted to ground would otherwise let the
    /// board run again after every reset.
    fn acknowledged(&mut self) -> bool {
        false
    }

    /// Called at every [`App::poll`](crate::App::poll), many times a period where `idle` returns soon: for drivers that move by
    /// small steps or switch between periods (a stepper, a solenoid) and inputs that are averaged.
    fn between_steps(&mut self, _now: Millis) {}

    /// Nothing to do before the next period: sleep until an interrupt, or return at once.
    fn idle(&mut self) {}
}

/// Words that must outlive a reset.
pub const RETAINED: usize = 8;

/// What a board keeps over a restart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Item {
    /// The installation.
    Installation,
    /// What each lift has learned.
    Learned,
}

/// Why something could not be kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unkept {
    /// The board has no store.
    NoStore,
    /// The store failed: the alarm contact is let go until it works again.
    Failed,
}
