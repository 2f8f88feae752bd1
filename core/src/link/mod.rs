//! What a board and a host say to each other over a serial line, a socket or a pair of pipes.
//!
//! The host asks, the board answers; the board never speaks unasked. Every request carries a number one higher than the one
//! before, every answer the number of its request. Each travels in a frame of its own ([`crate::frame`]: postcard, CRC-32,
//! COBS), so that a torn or damaged one is lost alone. That is all it takes to live with a bad line:
//!
//! * A request or an answer that is lost: the host asks again, with the same number.
//! * A request that comes twice: the board sends the answer it gave, and does not act a second time ([`Inbox`]).
//! * A request or an answer that comes late, behind a newer one: it is dropped.
//!
//! Each of these is counted ([`Counts`]). A [`Ask::Hello`] starts the numbers anew.
//!
//! The first answer is a [`Hello`]: the version of these messages, the fingerprint of the installation that the board runs, and
//! whether it was built in **bench mode**. Only such a board takes its levels from the host ([`Ask::Readings`]); every other
//! refuses them, so that a modelled level cannot drive real valves by accident.

mod cause;
mod message;
mod order;

pub use crate::ResetCause;
pub use message::{Answer, Ask, Event, Hello, LOG_PART, LogEntry, Not, PART, Reply, Request, Running, Stepped};
pub use order::{Arrival, Counts, Inbox};

/// Version of the messages. Boards and hosts of different versions do not talk to each other: the host looks at the board's in
/// its [`Hello`], and the board answers a host of another version with [`Not::WrongVersion`]. It rises when bytes of messages
/// change that there were before; one that is added at the end of its list changes none.
pub const VERSION: u16 = 2;

/// Largest frame of a request, bytes, before COBS: an installation's part with its head.
pub const REQUEST_BYTES: usize = 320;
/// Largest frame of a reply, bytes, before COBS: a step of twelve lifts and twelve tanks with every alarm standing.
pub const REPLY_BYTES: usize = 1400;
