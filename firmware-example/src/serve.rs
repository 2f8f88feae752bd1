//! The line to a host: bytes in, requests out; replies in, bytes out.

use crate::board::Board;
use heapless::Vec;
use risertrim::frame::{FrameReader, Taken, decode, encode, longest_frame};
use risertrim::link::{Arrival, Ask, Counts, Inbox, REPLY_BYTES, REQUEST_BYTES, Reply, Request};

/// Longest frame of a reply.
const REPLY_FRAME: usize = longest_frame(REPLY_BYTES);

/// Bytes read at a time.
const CHUNK: usize = 64;

/// One line and what it has seen.
#[derive(Clone, Debug)]
pub struct Line {
    reader: FrameReader<REQUEST_BYTES>,
    inbox: Inbox,
    /// The last reply as it went out, to be sent again when its request comes again.
    reply: Vec<u8, REPLY_FRAME>,
    /// What was read and not yet taken in.
    chunk: [u8; CHUNK],
    next: usize,
    end: usize,
    /// Replies sent in this poll.
    sent: usize,
}

impl Line {
    /// Nothing seen yet.
    pub const fn new() -> Self {
        Self {
            reader: FrameReader::new(),
            inbox: Inbox::EMPTY,
            reply: Vec::new(),
            chunk: [0; CHUNK],
            next: 0,
            end: 0,
            sent: 0,
        }
    }

    /// A poll begins.
    pub fn begin_poll(&mut self) {
        self.sent = 0;
    }

    /// Replies sent since it began.
    pub fn sent(&self) -> usize {
        self.sent
    }

    /// True while there are bytes that were read and not yet taken in.
    pub fn holds_bytes(&self) -> bool {
        self.next < self.end
    }

    /// The next byte that came, read from the board while `reads` are left.
    pub fn next_byte<B: Board>(&mut self, board: &mut B, reads: &mut usize) -> Option<u8> {
        if !self.holds_bytes() {
            *reads = reads.checked_sub(1)?;
            self.next = 0;
            self.end = board.receive(&mut self.chunk).min(CHUNK);
            if self.end == 0 {
                return None;
            }
        }
        let byte = self.chunk.get(self.next).copied();
        self.next = self.next.saturating_add(1);
        byte
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
                self.send(board);
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
                self.send(board);
            }
            // Only a controller for far more lifts than the messages are made for comes here.
            Err(_) => self.reply.clear(),
        }
    }

    fn send<B: Board>(&mut self, board: &mut B) {
        self.sent = self.sent.saturating_add(1);
        board.send(&self.reply);
    }

    /// How the line is.
    pub fn counts(&self) -> Counts {
        self.inbox.counts()
    }
}
