//! The line to a host: bytes in, requests out; replies in, bytes out.

use crate::board::Board;
use heapless::Vec;
use risertrim::frame::{FrameReader, Taken, decode, encode, longest_frame};
use risertrim::link::{Arrival, Ask, Counts, Inbox, REPLY_BYTES, REQUEST_BYTES, Reply, Request};

/// Longest frame of a reply.
const REPLY_FRAME: usize = longest_frame(REPLY_BYTES);

/// One line and what it has seen.
#[derive(Clone, Debug)]
pub struct Line {
    reader: FrameReader<REQUEST_BYTES>,
    inbox: Inbox,
    /// The last reply as it went out, to be sent again when its request comes again.
    reply: Vec<u8, REPLY_FRAME>,
}

impl Line {
    /// Nothing seen yet.
    pub const fn new() -> Self {
        Self {
            reader: FrameReader::new(),
            inbox: Inbox::EMPTY,
            reply: Vec::new(),
        }
    }

    /// Takes a byte in; a request that has come for the first time is given out. One that came again is answered as before.
    pub fn take<B: Board, const TANKS: usize>(&mut self, board: &mut B, byte: u8) -> Option<Request<TANKS>> {
        let request: Request<TANKS> = match self.reader.take(byte) {
            Taken::Nothing => return None,
            Taken::Damaged(_) => {
                self.inbox.damaged(1);
                return None;
            }
            Taken::Payload(payload) => match decode(payload) {
                Ok(request) => request,
                Err(_) => {
                    self.inbox.damaged(1);
                    return None;
                }
            },
        };
        let arrival = match request.ask {
            Ask::Hello { .. } => self.inbox.take_hello(request.number),
            _ => self.inbox.take(request.number),
        };
        match arrival {
            Arrival::New => Some(request),
            Arrival::Repeated => {
                board.send(&self.reply);
                None
            }
            Arrival::Late => None,
        }
    }

    /// Sends a reply and keeps it.
    pub fn reply<B: Board, const LIFTS: usize, const TANKS: usize>(
        &mut self,
        board: &mut B,
        reply: &Reply<LIFTS, TANKS>,
    ) {
        self.reply.clear();
        let _ = self.reply.resize(REPLY_FRAME, 0);
        match encode(reply, &mut self.reply) {
            Ok(length) => {
                self.reply.truncate(length);
                board.send(&self.reply);
            }
            // Only a controller for far more lifts than the messages are made for comes here.
            Err(_) => self.reply.clear(),
        }
    }

    /// How the line is.
    pub fn counts(&self) -> Counts {
        self.inbox.counts()
    }
}
