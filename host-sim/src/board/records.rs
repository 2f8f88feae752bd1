//! The log that a board keeps, fetched over the line.

use super::client::Client;
use super::error::BoardError;
use super::wire::Wire;
use risertrim::frame::DELIMITER;
use risertrim::link::{Answer, Ask};
use std::io::Write;

/// Fetches what a board keeps of its own log, from the oldest on, or from where it ended last time.
#[derive(Clone, Copy, Debug, Default)]
pub struct RecordsFetch {
    next: Option<u64>,
    /// Bytes fetched so far.
    pub bytes: u64,
    /// Places where the board had written over what was to be fetched.
    pub lost: u32,
}

impl RecordsFetch {
    /// Fetches all that is there now, and writes it to `out`.
    ///
    /// # Errors
    /// The board keeps no log, the line fails, or `out` cannot be written.
    pub fn fetch<W: Wire>(&mut self, client: &mut Client<W>, out: &mut impl Write) -> Result<(), BoardError> {
        loop {
            let from = self.next.unwrap_or(0);
            let Answer::Records { at, next, part } = client.ask(Ask::Records { from })? else {
                return Err(BoardError::WrongAnswer);
            };
            if at != from && self.next.is_some() {
                // A frame that was cut short must not run into the next.
                out.write_all(&[DELIMITER]).map_err(BoardError::LogFile)?;
                self.lost += 1;
            }
            self.next = Some(next);
            if part.is_empty() {
                return Ok(());
            }
            out.write_all(&part).map_err(BoardError::LogFile)?;
            self.bytes += part.len() as u64;
        }
    }
}
