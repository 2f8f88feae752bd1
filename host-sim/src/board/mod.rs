//! A board at the other end of a line: the modelled installation here, the controller there.
//!
//! | file | what |
//! | --- | --- |
//! | `wire` | [`Wire`]: bytes to and from a board; a serial port and a socket |
//! | `emulator` | [`Emulator`]: a board in QEMU, over two named pipes |
//! | `client` | [`Client`]: asks, and asks again when no answer comes |
//! | `transfer` | an installation to the board and back |
//! | `records` | [`RecordsFetch`]: the log that the board keeps |
//! | `control` | [`BoardControl`]: a board as what drives the valves of a simulation |
//! | `beside` | [`BesideCore`]: the same steps by the core on this machine, compared bit by bit |
//! | `logged` | [`LoggedBoard`]: both, everything written to a log |
//! | `error` | [`BoardError`] |

mod beside;
mod client;
mod control;
mod emulator;
mod error;
mod logged;
mod records;
mod transfer;
mod wire;

pub use beside::{BesideCore, Difference};
pub use client::{Client, LineCounts, Patience};
pub use control::BoardControl;
pub use emulator::{Emulator, Processor};
pub use error::BoardError;
pub use logged::LoggedBoard;
pub use records::RecordsFetch;
pub use transfer::{fetch_installation, send_installation};
pub use wire::{Serial, Tcp, Wire};

use crate::scenario::{LIFTS, TANKS};
use risertrim::link;

/// A request at the capacities of this crate.
pub type HostRequest = link::Request<TANKS>;
/// What is asked, at the capacities of this crate.
pub type HostAsk = link::Ask<TANKS>;
/// A reply at the capacities of this crate.
pub type HostReply = link::Reply<LIFTS, TANKS>;
/// What is answered, at the capacities of this crate.
pub type HostAnswer = link::Answer<LIFTS, TANKS>;
