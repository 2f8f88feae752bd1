//! What a host asks, and what it is answered.

use super::App;
use super::outputs::Fixed;
use crate::board::{Board, Item};
use crate::board_log::BoardLog;
use crate::put::read_into;
use heapless::Vec;
use risertrim::link::{Answer, Ask, Event, Hello, Not, PART, Reply, Request, Running, VERSION};
use risertrim::record::Began;
use risertrim::time::Held;
use risertrim::{Millis, Opening, Readings};

/// Reads of the line in one poll: a babbling host may not hold up the step.
const READS: usize = 32;
/// Nor may one that asks too much: so many replies in one poll, each of which may take as long as the line needs for it. What was
/// read behind them waits for the next poll.
const REPLIES: usize = 4;

impl<const LIFTS: usize, const TANKS: usize, L: BoardLog<LIFTS, TANKS>> App<LIFTS, TANKS, L> {
    /// Answers what has come from the host; true when a step was made for it.
    pub(super) fn serve<B: Board>(&mut self, board: &mut B, now: Millis) -> bool {
        let mut stepped = false;
        let mut reads = READS;
        self.line.begin_poll();
        while !stepped
            && self.line.sent() < REPLIES
            && let Some(byte) = self.line.next_byte(board, &mut reads)
        {
            if let Some(request) = self.line.take::<B, TANKS>(board, byte) {
                stepped = self.answer(board, now, request);
            }
        }
        stepped
    }

    #[inline(never)]
    fn answer<B: Board>(&mut self, board: &mut B, now: Millis, request: Request<TANKS>) -> bool {
        let mut stepped = false;
        let answer = match request.ask {
            Ask::Hello { version } => {
                self.stranger = version != VERSION;
                Ok(Answer::Hello(self.hello::<B>()))
            }
            // What it asks may mean something else here.
            _ if self.stranger => Err(Not::WrongVersion),
            Ask::Readings(readings) => self.bench_step(board, now, &readings).inspect(|_| stepped = true),
            Ask::StartAfresh => self.start_afresh(board, now),
            Ask::LastStep => self.last_step(),
            Ask::Command(command) => match self.running {
                Running::Trimming | Running::LinkLost => match self.command(command) {
                    Ok(()) => Ok(Answer::Done),
                    Err(refused) => Err(Not::Refused(refused)),
                },
                Running::NoInstallation => Err(Not::NoInstallation),
                Running::Stopped => Err(Not::Stopped),
            },
            Ask::Acknowledge => {
                if self.running == Running::Stopped {
                    self.acknowledge(board, now);
                }
                Ok(Answer::Done)
            }
            Ask::PutBegin { bytes, fingerprint } => self.incoming.begin(bytes, fingerprint).map(|()| Answer::Done),
            Ask::PutPart { offset, part } => self.incoming.part(offset, &part).map(|()| Answer::Done),
            Ask::PutForget => {
                self.incoming.forget();
                Ok(Answer::Done)
            }
            Ask::PutCommit => self.take_over(board, now),
            Ask::Get { offset } => self.part(offset),
            Ask::Log { from } => {
                let (from, entries) = self.journal.from(from);
                Ok(Answer::Log {
                    from,
                    end: self.journal.end(),
                    entries,
                })
            }
            Ask::Records { from } => self.records(from),
            Ask::Counts => Ok(Answer::Counts(self.line.counts())),
        };
        let reply = Reply::<LIFTS, TANKS> {
            number: request.number,
            answer: answer.unwrap_or_else(Answer::Not),
        };
        self.line.reply(board, &reply);
        stepped
    }

    fn hello<B: Board>(&self) -> Hello {
        let runs = self.running != Running::NoInstallation;
        #[allow(clippy::cast_possible_truncation)] // an installation numbers its lifts and tanks in a byte
        let (lifts, tanks) = (LIFTS as u8, TANKS as u8);
        Hello {
            version: VERSION,
            fingerprint: runs.then_some(self.fingerprint),
            bench: B::BENCH,
            lifts,
            tanks,
            running: self.running,
            reset: self.cause,
        }
    }

    /// A step from readings that the host gives: only where the board was built for it.
    fn bench_step<B: Board>(
        &mut self,
        board: &mut B,
        now: Millis,
        readings: &Readings<TANKS>,
    ) -> Result<Answer<LIFTS, TANKS>, Not> {
        if !B::BENCH {
            return Err(Not::BenchMode);
        }
        match self.running {
            Running::NoInstallation => return Err(Not::NoInstallation),
            Running::Stopped => return Err(Not::Stopped),
            Running::LinkLost => {
                self.running = Running::Trimming;
                self.log(board, now, Event::LinkBack);
            }
            Running::Trimming => {}
        }
        self.heard = now;
        self.due = now.plus(self.period_ms);
        self.step(board, readings);
        self.end_round(board, now, Some(self.stepped.step.step_ms));
        self.last_step()
    }

    /// As after a first start, for a trial that is to be the same each time.
    fn start_afresh<B: Board>(&mut self, board: &mut B, now: Millis) -> Result<Answer<LIFTS, TANKS>, Not> {
        if !B::BENCH {
            return Err(Not::BenchMode);
        }
        match self.running {
            Running::NoInstallation => return Err(Not::NoInstallation),
            Running::Stopped => return Err(Not::Stopped),
            Running::Trimming | Running::LinkLost => {}
        }
        self.controller.installation().copy_into(&mut self.candidate);
        #[cfg(feature = "test-wrong-constant")]
        {
            // A hundredth of a percent: what a mistyped digit far down would be.
            self.candidate.settings.trim_s *= 1.0001;
        }
        self.standing.clear();
        self.since_save = Held::NONE;
        self.heard = now;
        match self.controller.begin(&self.candidate, &[]) {
            Ok(()) => {
                let began = Began::Started(self.cause);
                self.board_log.begin(began, self.controller.installation(), &[]);
                Ok(Answer::Done)
            }
            Err(faults) => Err(Not::Faults(self.tell_faults(board, now, &faults))),
        }
    }

    fn last_step(&self) -> Result<Answer<LIFTS, TANKS>, Not> {
        if self.stepped.step.lifts.is_empty() {
            return Err(Not::NoStepYet);
        }
        Ok(Answer::Step(self.stepped.clone()))
    }

    /// The installation that came in parts: checked, kept, then run, or while the valves are held after several resets only kept, to
    /// be run once somebody acknowledges. With an answer of [`Not`] nothing has changed.
    #[inline(never)]
    fn take_over<B: Board>(&mut self, board: &mut B, now: Millis) -> Result<Answer<LIFTS, TANKS>, Not> {
        read_into(self.incoming.whole()?, &mut self.candidate)?;
        let faults = risertrim::validate::to_start(&self.candidate);
        if !faults.can_start() {
            return Err(Not::Faults(self.tell_faults(board, now, &faults)));
        }
        if self.candidate.settings.period_ms > B::LONGEST_PERIOD_MS {
            return Err(Not::PeriodTooLong(B::LONGEST_PERIOD_MS));
        }
        let bytes = self.incoming.whole()?;
        let fingerprint = risertrim::frame::Crc32::of(bytes);
        let saved = board.save(Item::Installation, bytes);
        self.note_store(board, now, saved);
        if saved.is_err() {
            return Err(Not::StoreFailed);
        }
        if self.running == Running::Stopped {
            // It may be what mends the resets; what runs after them is what is kept then.
            self.untried = true;
            self.fingerprint = fingerprint;
            self.incoming.forget();
            self.log(board, now, Event::InstallationTaken { fingerprint });
            return Ok(Answer::Done);
        }
        let fresh = self.running == Running::NoInstallation;
        let taken = if fresh {
            self.controller.begin(&self.candidate, &[])
        } else {
            self.controller.exchange(&self.candidate)
        };
        if let Err(faults) = taken {
            // What was checked a moment ago cannot be refused now; should it be, what is kept must be what runs.
            let _ = self.take_back(board, now);
            return Err(Not::Faults(self.tell_faults(board, now, &faults)));
        }
        self.fingerprint = fingerprint;
        self.period_ms = self.candidate.settings.period_ms;
        self.fixed = Some(Fixed {
            lifts: self.candidate.lifts.len(),
            opening: Opening::new(self.candidate.settings.preset_opening),
        });
        if fresh {
            self.running = Running::Trimming;
            self.heard = now;
        }
        let began = if fresh {
            Began::Started(self.cause)
        } else {
            Began::Exchanged
        };
        self.board_log.begin(began, self.controller.installation(), &[]);
        self.incoming.forget();
        self.resets.new_installation();
        board.retain(self.resets.words());
        self.log(board, now, Event::InstallationTaken { fingerprint });
        if !B::BENCH {
            self.save_learned(board, now);
        }
        Ok(Answer::Done)
    }

    /// A part of the installation that runs. Forgets one that was only half sent, whose room it needs.
    fn part(&mut self, offset: u32) -> Result<Answer<LIFTS, TANKS>, Not> {
        if self.running == Running::NoInstallation {
            return Err(Not::NoInstallation);
        }
        let room = self.incoming.room();
        let bytes = risertrim::frame::to_bytes(self.controller.installation(), room).map_err(|_| Not::TooLarge)?;
        let from = usize::try_from(offset).unwrap_or(usize::MAX);
        let mut part: Vec<u8, PART> = Vec::new();
        for byte in bytes.iter().skip(from).take(PART) {
            // `collect` would keep a panic for want of places.
            let _ = part.push(*byte);
        }
        Ok(Answer::Part {
            bytes: u32::try_from(bytes.len()).unwrap_or(u32::MAX),
            offset,
            part,
        })
    }

    /// A piece of the log that the board keeps.
    fn records(&mut self, from: u64) -> Result<Answer<LIFTS, TANKS>, Not> {
        let mut part: Vec<u8, PART> = Vec::new();
        let _ = part.resize(PART, 0);
        let piece = self.board_log.read_at(from, &mut part).ok_or(Not::NoLog)?;
        part.truncate(piece.bytes);
        Ok(Answer::Records {
            at: piece.at,
            next: piece.next,
            part,
        })
    }
}
