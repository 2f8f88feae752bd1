//! A line with something at its other end that is no board of ours, and one with nothing.

use super::Said;
use risertrim::frame::{FrameReader, Taken, decode, encode, longest_frame};
use risertrim::link::{Answer, Ask, Hello, Not, REPLY_BYTES, REQUEST_BYTES, ResetCause, Running, VERSION};
use risertrim_sim::board::{
    BoardError, Client, HostAnswer, HostReply, HostRequest, Patience, RecordsFetch, Wire, fetch_installation,
    send_installation,
};
use risertrim_sim::scenario::Scenario;
use std::io;
use std::time::Duration;

/// Answers every request as it is told to; `None`: says nothing.
struct Odd {
    answer: fn(&HostRequest) -> Option<HostAnswer>,
    heard: FrameReader<REQUEST_BYTES>,
    says: Vec<u8>,
    torn: bool,
}

impl std::fmt::Debug for Odd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("an odd board")
    }
}

/// Nothing can be written to it.
struct FullDisk;

impl io::Write for FullDisk {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(io::Error::from(io::ErrorKind::StorageFull))
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Wire for Odd {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        if self.torn {
            return Err(io::Error::from(io::ErrorKind::BrokenPipe));
        }
        for byte in bytes {
            let Taken::Payload(payload) = self.heard.take(*byte) else {
                continue;
            };
            let Ok(request) = decode::<HostRequest>(payload) else {
                continue;
            };
            let Some(answer) = (self.answer)(&request) else {
                continue;
            };
            let mut room = [0; longest_frame(REPLY_BYTES)];
            let reply = HostReply {
                number: request.number,
                answer,
            };
            let length = encode(&reply, &mut room).map_err(|error| io::Error::other(format!("{error:?}")))?;
            self.says.extend(room.iter().take(length));
        }
        Ok(())
    }

    fn receive(&mut self, room: &mut [u8], _: Duration) -> io::Result<usize> {
        let count = room.len().min(self.says.len());
        for (slot, byte) in room.iter_mut().zip(self.says.drain(..count)) {
            *slot = byte;
        }
        Ok(count)
    }
}

const QUICK: Patience = Patience {
    wait: Duration::from_millis(20),
    times: 2,
};

fn hello(version: u16, lifts: u8) -> HostAnswer {
    Answer::Hello(Hello {
        version,
        fingerprint: None,
        bench: true,
        lifts,
        tanks: 9,
        running: Running::NoInstallation,
        reset: ResetCause::default(),
    })
}

fn odd(answer: fn(&HostRequest) -> Option<HostAnswer>) -> Odd {
    Odd {
        answer,
        heard: FrameReader::new(),
        says: Vec::new(),
        torn: false,
    }
}

/// Greets, then does what `then` does; the error's words.
fn failing(wire: Odd, then: impl Fn(&mut Client<Odd>, &Hello) -> Result<(), BoardError>) -> String {
    match Client::connect(wire, QUICK).and_then(|(mut client, hello)| then(&mut client, &hello)) {
        Ok(()) => "it went well".to_owned(),
        Err(error) => error.to_string(),
    }
}

/// Talks to all of them.
pub fn provoke(all: &mut Said) {
    let torn = Odd {
        torn: true,
        ..odd(|_| None)
    };
    let greet = |_: &mut Client<Odd>, _: &Hello| Ok(());
    all.take("torn", &failing(torn, greet), &["the line to the board broke"]);
    all.take(
        "silent",
        &failing(odd(|_| None), greet),
        &["the board does not answer (asked 2 times)"],
    );
    all.take(
        "old",
        &failing(odd(|_| Some(hello(VERSION + 1, 8))), greet),
        &["take firmware and program of one release"],
    );
    all.take(
        "confused",
        &failing(odd(|_| Some(Answer::Done)), greet),
        &["does not belong to the question"],
    );
    let told = Scenario::by_name_or_path("tight_blower")
        .unwrap_or_else(|report| panic!("{report}"))
        .told;
    let small = odd(|_| Some(hello(VERSION, 2)));
    all.take(
        "small",
        &failing(small, |client, hello| send_installation(client, hello, &told).map(drop)),
        &["the installation has 8 lifts and 6 tanks; this board has room for 2 and 9"],
    );
    let forgetful = odd(|request| match request.ask {
        Ask::Hello { .. } => Some(hello(VERSION, 8)),
        _ => Some(Answer::Part {
            offset: 0,
            bytes: 3,
            part: [1, 2, 3].into_iter().collect(),
        }),
    });
    all.take(
        "forgetful",
        &failing(forgetful, |client, _| fetch_installation(client).map(drop)),
        &["what the board sent is not an installation this program knows"],
    );
    let keeper = odd(|request| match request.ask {
        Ask::Hello { .. } => Some(hello(VERSION, 8)),
        _ => Some(Answer::Records {
            at: 0,
            next: 1,
            part: [0].into_iter().collect(),
        }),
    });
    let full = |client: &mut Client<Odd>, _: &Hello| RecordsFetch::default().fetch(client, &mut FullDisk);
    all.take("full", &failing(keeper, full), &["the log cannot be written"]);
    for (answer, says) in [
        (odd(|_| Some(Answer::Not(Not::BenchMode))), "built without bench mode"),
        (odd(|_| Some(Answer::Not(Not::NoInstallation))), "send one with --send"),
        (
            odd(|_| Some(Answer::Not(Not::Stopped))),
            "let it run again with --run-again",
        ),
        (odd(|_| Some(Answer::Not(Not::NoStepYet))), "has made no step yet"),
        (odd(|_| Some(Answer::Not(Not::PartsOutOfOrder))), "send it again"),
        (
            odd(|_| Some(Answer::Not(Not::NotAnInstallation))),
            "is not the installation that was announced",
        ),
        (
            odd(|_| Some(Answer::Not(Not::TooLarge))),
            "larger than this board has room for",
        ),
        (
            odd(|_| Some(Answer::Not(Not::Faults(3)))),
            "`risertrim check` names them",
        ),
        (
            odd(|_| Some(Answer::Not(Not::NoLog))),
            "keeps no log that can be fetched",
        ),
        (
            odd(|_| Some(Answer::Not(Not::PeriodTooLong(2000)))),
            "make `control_period_s` shorter and send it again (at most 2000 ms)",
        ),
        (
            odd(|_| Some(Answer::Not(Not::WrongVersion))),
            "build both from one version",
        ),
        (
            odd(|_| Some(Answer::Not(Not::StoreFailed))),
            "the one before still runs",
        ),
        (
            odd(|_| Some(Answer::Not(Not::Refused(risertrim::command::Refused::NoSuchLift)))),
            "the controller did not take the command: there is no lift",
        ),
    ] {
        all.take(says, &failing(answer, greet), &[says]);
    }
}
