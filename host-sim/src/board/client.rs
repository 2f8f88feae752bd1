//! Asks a board, and asks again when no answer comes.

use super::error::BoardError;
use super::wire::Wire;
use super::{HostAnswer, HostAsk, HostReply, HostRequest};
use risertrim::frame::{FrameReader, Taken, decode, encode, longest_frame};
use risertrim::link::{Answer, Ask, Hello, REPLY_BYTES, REQUEST_BYTES, VERSION};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// How long it waits for an answer and how often it asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// Wait for one answer.
    pub wait: Duration,
    /// Times a question is asked.
    pub times: u32,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            wait: Duration::from_secs(1),
            times: 20,
        }
    }
}

/// What was seen of the line from here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LineCounts {
    /// Questions answered.
    pub answered: u64,
    /// Questions asked again because no answer came in time.
    pub asked_again: u64,
    /// Frames that arrived torn or damaged.
    pub damaged: u64,
    /// Answers to questions that had been answered already.
    pub late: u64,
}

/// One end of a conversation with a board.
#[derive(Debug)]
pub struct Client<W> {
    wire: W,
    patience: Patience,
    reader: Box<FrameReader<REPLY_BYTES>>,
    number: u32,
    counts: LineCounts,
    hello: Option<Hello>,
}

impl<W: Wire> Client<W> {
    /// Greets the board.
    ///
    /// # Errors
    /// It does not answer, or is of another version.
    pub fn connect(wire: W, patience: Patience) -> Result<(Self, Hello), BoardError> {
        // Any number will do, as long as it is hardly that of the conversation before.
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let mut client = Self {
            wire,
            patience,
            reader: Box::new(FrameReader::new()),
            number: since.subsec_nanos(),
            counts: LineCounts::default(),
            hello: None,
        };
        // A delimiter ends whatever stood on the line before.
        client.wire.send(&[0])?;
        let hello = client.greet()?;
        Ok((client, hello))
    }

    /// Greets again: what the board is doing now.
    ///
    /// # Errors
    /// It does not answer, or is of another version.
    pub fn greet(&mut self) -> Result<Hello, BoardError> {
        match self.ask(Ask::Hello { version: VERSION })? {
            Answer::Hello(hello) if hello.version == VERSION => {
                self.hello = Some(hello);
                Ok(hello)
            }
            Answer::Hello(hello) => Err(BoardError::Version {
                board: hello.version,
                host: VERSION,
            }),
            _ => Err(BoardError::WrongAnswer),
        }
    }

    /// Asks until an answer comes.
    ///
    /// # Errors
    /// No answer comes, the line is gone, or the board says no.
    pub fn ask(&mut self, ask: HostAsk) -> Result<HostAnswer, BoardError> {
        self.number = self.number.wrapping_add(1);
        let request = HostRequest {
            number: self.number,
            ask,
        };
        let mut room = [0; longest_frame(REQUEST_BYTES)];
        let length = encode(&request, &mut room).map_err(|_| BoardError::WrongAnswer)?;
        let frame = room.get(..length).unwrap_or_default();
        for time in 0..self.patience.times {
            if time > 0 {
                self.counts.asked_again += 1;
            }
            self.wire.send(frame)?;
            if let Some(answer) = self.await_answer(request.number)? {
                self.counts.answered += 1;
                return match answer {
                    Answer::Not(not) => Err(not.into()),
                    answer => Ok(answer),
                };
            }
        }
        Err(BoardError::Silent {
            times: self.patience.times,
        })
    }

    /// Asks for something that is only done.
    ///
    /// # Errors
    /// As [`Client::ask`].
    pub fn tell(&mut self, ask: HostAsk) -> Result<(), BoardError> {
        match self.ask(ask)? {
            Answer::Done => Ok(()),
            _ => Err(BoardError::WrongAnswer),
        }
    }

    /// What was seen of the line.
    #[must_use]
    pub fn counts(&self) -> LineCounts {
        self.counts
    }

    /// The line itself.
    pub fn wire_mut(&mut self) -> &mut W {
        &mut self.wire
    }

    fn await_answer(&mut self, number: u32) -> Result<Option<HostAnswer>, BoardError> {
        let begin = Instant::now();
        let mut room = [0; 2048];
        let mut found = None;
        while found.is_none() {
            let Some(left) = self
                .patience
                .wait
                .checked_sub(begin.elapsed())
                .filter(|left| !left.is_zero())
            else {
                break;
            };
            let count = self.wire.receive(&mut room, left)?;
            for byte in room.iter().take(count) {
                match self.reader.take(*byte) {
                    Taken::Nothing => {}
                    Taken::Damaged(_) => self.counts.damaged += 1,
                    Taken::Payload(payload) => match decode::<HostReply>(payload) {
                        Ok(reply) if reply.number == number && found.is_none() => found = Some(reply.answer),
                        Ok(_) => self.counts.late += 1,
                        Err(_) => self.counts.damaged += 1,
                    },
                }
            }
        }
        Ok(found)
    }
}
