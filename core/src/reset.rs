//! Why a board started.

use serde::{Deserialize, Serialize};

/// Why a board started. The order is that of the log ([`crate::record`]) and is only appended to; the line to a host has numbers
/// of its own ([`crate::link`]).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ResetCause {
    /// The hardware does not tell.
    #[default]
    Unknown,
    /// Power came.
    PowerOn,
    /// The supply dipped.
    BrownOut,
    /// The watchdog was not fed in time.
    Watchdog,
    /// A panic or a fault of the processor, where the two cannot be told apart.
    Fault,
    /// It was asked to: a button, an update, a command.
    Asked,
    /// The modelled installation began: no board.
    Simulated,
    /// The program found itself in an impossible state.
    Panic,
    /// The processor met an instruction or an address it cannot use.
    HardFault,
    /// The reset pin.
    Pin,
}

impl ResetCause {
    /// True where the program itself brought the reset about, by a fault or by hanging.
    #[must_use]
    pub const fn by_the_program(self) -> bool {
        matches!(self, Self::Watchdog | Self::Fault | Self::Panic | Self::HardFault)
    }
}
