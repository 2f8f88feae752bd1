//! What the application promises a host on the line, shown on a fake board.

#[allow(dead_code)] // each file uses a part of it
mod fake;

use fake::{Call, FakeBoard, LIFTS, TANKS, built_in, installation};
use risertrim::frame::{FrameReader, Taken, decode, encode, fingerprint};
use risertrim::link::{Answer, Ask, Event, Not, REPLY_BYTES, Reply, Request, ResetCause, Running, VERSION};
use risertrim::{Command, Installation, Millis, Opening, Reading, Readings, WaterFlow};
use risertrim_firmware::{App, Item};

/// A board in bench mode with its application, and the host's end of the line.
struct Bench<const BENCH: bool> {
    board: FakeBoard<BENCH>,
    app: App<LIFTS, TANKS>,
    number: u32,
}

impl<const BENCH: bool> Bench<BENCH> {
    fn new(installation: Option<Installation<LIFTS, TANKS>>) -> Self {
        let mut board = FakeBoard::at(Millis(0));
        let mut app = App::new();
        app.start(&mut board, installation.and_then(built_in));
        let mut bench = Self {
            board,
            app,
            number: 100,
        };
        assert!(matches!(bench.ask(Ask::Hello { version: VERSION }), Answer::Hello(_)));
        bench
    }

    /// A request as it goes over the line.
    fn frame(&self, number: u32, ask: Ask<TANKS>) -> Vec<u8> {
        let mut room = [0; 600];
        let length = encode(&Request { number, ask }, &mut room).unwrap();
        room[..length].to_vec()
    }

    /// Lets the board see bytes, and gives the replies it sends.
    fn pass(&mut self, bytes: &[u8]) -> Vec<Reply<LIFTS, TANKS>> {
        self.board.from_host.extend(bytes);
        while !self.board.from_host.is_empty() {
            self.app.poll(&mut self.board);
        }
        let mut reader = FrameReader::<REPLY_BYTES>::new();
        let mut replies = Vec::new();
        for byte in self.board.to_host.drain(..) {
            match reader.take(byte) {
                Taken::Nothing => {}
                Taken::Payload(payload) => replies.push(decode(payload).expect("a reply")),
                Taken::Damaged(damage) => panic!("{damage:?}"),
            }
        }
        replies
    }

    fn ask(&mut self, ask: Ask<TANKS>) -> Answer<LIFTS, TANKS> {
        self.number += 1;
        let frame = self.frame(self.number, ask);
        let replies = self.pass(&frame);
        assert_eq!(replies.len(), 1);
        assert_eq!(replies[0].number, self.number);
        replies[0].answer.clone()
    }

    fn readings(&self, second: u32) -> Ask<TANKS> {
        Ask::Readings(Readings {
            now: Millis(second * 1000),
            levels: fake::USUAL_M.map(Reading::Value).into_iter().collect(),
            manifold: Reading::Missing,
        })
    }

    fn send(&mut self, installation: &Installation<LIFTS, TANKS>) -> Answer<LIFTS, TANKS> {
        let bytes = postcard::to_stdvec(installation).unwrap();
        let begun = self.ask(Ask::PutBegin {
            bytes: u32::try_from(bytes.len()).unwrap(),
            fingerprint: fingerprint(installation).unwrap(),
        });
        assert_eq!(begun, Answer::Done);
        for (number, part) in bytes.chunks(100).enumerate() {
            let answer = self.ask(Ask::PutPart {
                offset: u32::try_from(number * 100).unwrap(),
                part: part.iter().copied().collect(),
            });
            assert_eq!(answer, Answer::Done);
        }
        self.ask(Ask::PutCommit)
    }
}

#[test]
fn only_a_board_in_bench_mode_takes_levels_from_the_host_and_it_says_so_first() {
    let mut real = Bench::<false>::new(Some(installation()));
    let Answer::Hello(hello) = real.ask(Ask::Hello { version: VERSION }) else {
        panic!("no hello");
    };
    assert!(!hello.bench);
    real.board.calls.clear();
    let before = real.board.count(|call| matches!(call, Call::Drive(..)));
    for ask in [real.readings(1), Ask::StartAfresh] {
        assert_eq!(real.ask(ask), Answer::Not(Not::BenchMode));
    }
    assert_eq!(
        real.board.count(|call| matches!(call, Call::Drive(..))),
        before,
        "no valve moved for it"
    );

    let mut bench = Bench::<true>::new(Some(installation()));
    let Answer::Hello(hello) = bench.ask(Ask::Hello { version: VERSION }) else {
        panic!("no hello");
    };
    assert!(hello.bench);
    assert_eq!(hello.fingerprint, fingerprint(&installation()));
    let ask = bench.readings(1);
    assert!(matches!(bench.ask(ask), Answer::Step(_)));
    assert_eq!(
        bench.board.count(|call| matches!(call, Call::Level(_))),
        0,
        "no sensor is read"
    );
}

#[test]
fn a_host_that_falls_silent_leaves_the_valves_at_fixed_openings_until_it_speaks_again() {
    let mut bench = Bench::<true>::new(Some(installation()));
    for second in 1..60 {
        let ask = bench.readings(second);
        bench.ask(ask);
        bench.board.now = bench.board.now.plus(1000);
    }
    bench.board.calls.clear();
    for _ in 0..30 {
        bench.app.poll(&mut bench.board);
        bench.board.now = bench.board.now.plus(1000);
    }
    assert_eq!(bench.app.running(), Running::LinkLost);
    assert_eq!(bench.board.events(), [Event::LinkLost]);
    let driven: Vec<_> = bench
        .board
        .calls
        .iter()
        .filter(|call| matches!(call, Call::Drive(..)))
        .collect();
    assert!(driven.len() >= 2 * 15, "{}", driven.len());
    assert!(
        driven
            .iter()
            .all(|call| matches!(call, Call::Drive(_, to) if *to == Opening::new(0.6)))
    );
    assert!(!bench.board.alarm_contact_held);
    let ask = bench.readings(60);
    assert!(matches!(bench.ask(ask), Answer::Step(_)));
    assert_eq!(bench.app.running(), Running::Trimming);
    assert_eq!(bench.board.events(), [Event::LinkLost, Event::LinkBack]);
}

#[test]
fn while_it_waits_for_its_host_the_watchdog_is_fed_every_period_and_no_valve_moves() {
    let mut bench = Bench::<true>::new(Some(installation()));
    let ask = bench.readings(1);
    bench.ask(ask);
    bench.board.calls.clear();
    // Ten periods of patience, polled ten times each; a watchdog bites after three.
    for poll in 1..=90u32 {
        bench.board.now = bench.board.now.plus(100);
        bench.app.poll(&mut bench.board);
        let fed = bench.board.count(|call| *call == Call::Feed);
        assert_eq!(fed, (poll / 10) as usize, "after {poll} polls");
    }
    assert_eq!(bench.app.running(), Running::Trimming);
    assert_eq!(bench.board.count(|call| matches!(call, Call::Drive(..))), 0);
}

#[test]
fn a_repeated_request_gets_the_same_answer_and_no_second_step() {
    let mut bench = Bench::<true>::new(Some(installation()));
    let first = bench.frame(102, bench.readings(1));
    let second = bench.frame(103, bench.readings(2));
    let answers = bench.pass(&first);
    let fed = bench.board.count(|call| *call == Call::Feed);
    assert_eq!(bench.pass(&first), answers);
    assert_eq!(bench.board.count(|call| *call == Call::Feed), fed, "no second step");
    let newer = bench.pass(&second);
    assert_eq!(bench.pass(&first), [], "it was overtaken");
    assert_eq!(bench.pass(&second), newer);
    bench.number = 103;
    let Answer::Counts(counts) = bench.ask(Ask::Counts) else {
        panic!("no counts");
    };
    assert_eq!(
        (counts.repeated, counts.late, counts.missed, counts.damaged),
        (2, 1, 0, 0)
    );
}

#[test]
fn a_torn_or_damaged_request_is_counted_and_costs_nothing_else() {
    let mut bench = Bench::<true>::new(Some(installation()));
    let whole = bench.frame(102, bench.readings(1));
    for at in 0..whole.len() - 1 {
        let mut torn = whole[..at].to_vec();
        torn.push(0);
        assert_eq!(bench.pass(&torn), []);
        let mut damaged = whole.clone();
        damaged[at] ^= 0x10;
        assert_eq!(bench.pass(&damaged), []);
        bench.pass(&[0]);
    }
    assert_eq!(bench.pass(&whole).len(), 1);
    bench.number = 104;
    let Answer::Counts(counts) = bench.ask(Ask::Counts) else {
        panic!("no counts");
    };
    assert!(counts.damaged as usize >= 2 * (whole.len() - 2), "{counts:?}");
    assert_eq!(counts.missed, 2, "103 and 104 were never sent");
}

#[test]
fn an_installation_that_is_sent_is_kept_and_taken_over_without_a_bump() {
    let mut bench = Bench::<true>::new(Some(installation()));
    for second in 1..600 {
        let ask = bench.readings(second);
        bench.ask(ask);
    }
    let ask = bench.readings(600);
    let Answer::Step(before) = bench.ask(ask) else {
        panic!("no step")
    };
    let mut other = installation();
    other.lifts[0].calibration.losses = 1.3;
    other.lifts[1].riser.darcy_friction = 0.025;
    assert_eq!(bench.send(&other), Answer::Done);
    assert_eq!(bench.app.controller().installation(), &other);
    assert_eq!(
        bench.board.kept[&(Item::Installation as u8)],
        [postcard::to_stdvec(&other).unwrap()]
    );
    let ask = bench.readings(601);
    let Answer::Step(after) = bench.ask(ask) else {
        panic!("no step")
    };
    for (before, after) in before.step.lifts.iter().zip(&after.step.lifts) {
        let moved = (after.command.share() - before.command.share()).abs();
        assert!(moved < 0.02, "{moved}");
    }
    // And it is what runs after a power cut.
    bench.board.reset(ResetCause::PowerOn);
    let mut app = App::<LIFTS, TANKS>::new();
    app.start(&mut bench.board, built_in(installation()));
    assert_eq!(app.controller().installation(), &other);
}

#[test]
fn an_installation_that_is_faulty_or_cannot_be_kept_or_is_not_what_was_announced_changes_nothing() {
    let mut bench = Bench::<true>::new(Some(installation()));
    let mut faulty = installation();
    faulty.lifts[0].riser.bore_m = -1.0;
    assert!(matches!(bench.send(&faulty), Answer::Not(Not::Faults(1..))));
    let mut sound = installation();
    sound.settings.preset_opening = 0.5;
    bench.board.store_works = false;
    assert_eq!(bench.send(&sound), Answer::Not(Not::StoreFailed));
    bench.board.store_works = true;

    let bytes = postcard::to_stdvec(&sound).unwrap();
    let begin = |fingerprint| Ask::PutBegin {
        bytes: u32::try_from(bytes.len()).unwrap(),
        fingerprint,
    };
    let part = |offset: usize, bytes: &[u8]| Ask::PutPart {
        offset: u32::try_from(offset).unwrap(),
        part: bytes.iter().copied().collect(),
    };
    assert_eq!(bench.ask(begin(1)), Answer::Done);
    assert_eq!(
        bench.ask(Ask::PutCommit),
        Answer::Not(Not::PartsOutOfOrder),
        "nothing came"
    );
    assert_eq!(
        bench.ask(part(100, &bytes[100..200])),
        Answer::Not(Not::PartsOutOfOrder)
    );
    for (number, chunk) in bytes.chunks(200).enumerate() {
        assert_eq!(bench.ask(part(number * 200, chunk)), Answer::Done);
    }
    assert_eq!(
        bench.ask(Ask::PutCommit),
        Answer::Not(Not::NotAnInstallation),
        "another fingerprint"
    );
    let too_many = Ask::PutBegin {
        bytes: 1_000_000,
        fingerprint: 1,
    };
    assert_eq!(bench.ask(too_many), Answer::Not(Not::TooLarge));
    assert_eq!(bench.app.controller().installation(), &installation());
    assert!(!bench.board.kept.contains_key(&(Item::Installation as u8)));
}

#[test]
fn an_installation_followed_by_a_reset_of_the_programs_own_fault_within_a_minute_is_taken_back() {
    // Also where the store cannot be read for a moment.
    for (seconds, taken_back, stumbles) in [(30, true, 0), (30, true, 2), (90, false, 0)] {
        let mut bench = Bench::<false>::new(Some(installation()));
        let mut first = installation();
        first.settings.preset_opening = 0.7;
        let mut second = installation();
        second.settings.preset_opening = 0.8;
        for (sent, wait) in [(&first, 90), (&second, seconds)] {
            assert_eq!(bench.send(sent), Answer::Done);
            bench.board.now = bench.board.now.plus(1000);
            for _ in 0..wait {
                bench.app.poll(&mut bench.board);
                bench.board.now = bench.board.now.plus(1000);
            }
        }
        bench.board.reset(ResetCause::Watchdog);
        bench.board.stumbles = stumbles;
        let mut app = App::<LIFTS, TANKS>::new();
        app.start(&mut bench.board, None);
        let expected = if taken_back { &first } else { &second };
        assert_eq!(app.controller().installation(), expected);
        assert_eq!(bench.board.events().contains(&Event::InstallationTakenBack), taken_back);
    }
}

#[test]
fn a_lift_out_of_service_stays_so_when_an_installation_is_taken_back() {
    let mut bench = Bench::<false>::new(Some(installation()));
    let mut first = installation();
    first.settings.preset_opening = 0.7;
    let mut second = installation();
    second.settings.preset_opening = 0.8;
    assert_eq!(bench.send(&first), Answer::Done);
    bench.board.now = bench.board.now.plus(1000);
    bench.board.run(&mut bench.app, 90);
    assert_eq!(bench.ask(Ask::Command(Command::OutOfService { lift: 1 })), Answer::Done);
    assert_eq!(bench.send(&second), Answer::Done);
    bench.board.now = bench.board.now.plus(1000);
    bench.board.run(&mut bench.app, 20);
    bench.board.reset(ResetCause::Watchdog);
    let mut app = App::<LIFTS, TANKS>::new();
    app.start(&mut bench.board, None);
    assert_eq!(app.controller().installation(), &first, "it was taken back");
    let stand: Vec<Command> = app.controller().standing_commands().collect();
    assert_eq!(stand, [Command::OutOfService { lift: 1 }], "there may be a hand in it");
}

#[test]
fn the_installation_can_be_read_back_in_parts() {
    let mut bench = Bench::<false>::new(Some(installation()));
    let mut whole = Vec::new();
    loop {
        let offset = u32::try_from(whole.len()).unwrap();
        let Answer::Part { bytes, part, .. } = bench.ask(Ask::Get { offset }) else {
            panic!("no part");
        };
        whole.extend(part);
        if whole.len() == bytes as usize {
            break;
        }
    }
    assert_eq!(whole, postcard::to_stdvec(&installation()).unwrap());
}

#[test]
fn commands_of_the_host_are_taken_or_refused_with_the_reason() {
    let mut bench = Bench::<false>::new(Some(installation()));
    let target = |lift| {
        Ask::Command(Command::Target {
            lift,
            flow: WaterFlow::from_l_min(15.0),
        })
    };
    assert_eq!(bench.ask(target(0)), Answer::Done);
    assert!(matches!(bench.ask(target(9)), Answer::Not(Not::Refused(_))));
    let mut empty = Bench::<false>::new(None);
    assert_eq!(empty.ask(target(0)), Answer::Not(Not::NoInstallation));
    assert_eq!(empty.ask(Ask::LastStep), Answer::Not(Not::NoStepYet));
    assert_eq!(empty.send(&installation()), Answer::Done);
    assert_eq!(empty.app.running(), Running::Trimming, "it waited for one");
}

#[test]
fn the_log_can_be_read_from_any_entry_on() {
    let mut bench = Bench::<false>::new(Some(installation()));
    let Answer::Log { from, end, entries } = bench.ask(Ask::Log { from: 0 }) else {
        panic!("no log");
    };
    assert_eq!((from, end), (0, 1));
    assert_eq!(entries[0].event, Event::Started(ResetCause::PowerOn));
    let Answer::Log { entries, .. } = bench.ask(Ask::Log { from: 1 }) else {
        panic!("no log");
    };
    assert!(entries.is_empty());
}

#[test]
fn the_largest_step_and_the_largest_request_fit_into_their_frames() {
    use risertrim::alarm::{Alarm, Kind, Name, Subject};
    use risertrim::level::Checked;
    use risertrim::link::{PART, REQUEST_BYTES, Stepped};
    use risertrim::step::{ALARMS, BlowerStep, LiftStep, Step, TankStep};
    let tank = TankStep {
        level_m: 1.0,
        sigma_m: 1.0,
        reading: Checked::Level(1.0),
        oxygen_min: Some(u16::MAX),
    };
    let name = Name {
        kind: Kind::AirShort,
        subject: Subject::Tank(255),
    };
    let alarm = Alarm {
        cause: Some(name),
        ..Alarm::new(Kind::LevelTooHigh, Subject::Tank(255))
    };
    let step = Step::<12, 12> {
        now: Millis(u32::MAX),
        step_ms: u32::MAX,
        lifts: [LiftStep::default(); 12].into_iter().collect(),
        tanks: [tank; 12].into_iter().collect(),
        manifold_pa: 0.0,
        blower: BlowerStep::default(),
        backup_min: Some(u16::MAX),
        alarms: [alarm; ALARMS].into_iter().collect(),
    };
    let reply = Reply {
        number: u32::MAX,
        answer: Answer::Step(Stepped {
            step,
            commissioned: None,
        }),
    };
    let bytes = postcard::to_stdvec(&reply).unwrap().len();
    // What a trial found and the figures of the alarms may add as much again as is added here.
    assert!(bytes + 4 + 100 + 5 * ALARMS <= REPLY_BYTES, "{bytes} of {REPLY_BYTES}");
    let request = Request::<TANKS> {
        number: u32::MAX,
        ask: Ask::PutPart {
            offset: u32::MAX,
            part: [255; PART].into_iter().collect(),
        },
    };
    let bytes = postcard::to_stdvec(&request).unwrap().len();
    assert!(bytes + 4 <= REQUEST_BYTES, "{bytes} of {REQUEST_BYTES}");
}

#[test]
fn a_period_that_the_watchdog_cannot_bear_is_neither_taken_over_nor_run_from_the_store() {
    let mut bench = Bench::<false>::new(Some(installation()));
    let mut slow = installation();
    slow.settings.period_ms = fake::LONGEST_PERIOD_MS;
    assert_eq!(bench.send(&slow), Answer::Done);
    slow.settings.period_ms += 1;
    let longest = fake::LONGEST_PERIOD_MS;
    assert_eq!(bench.send(&slow), Answer::Not(Not::PeriodTooLong(longest)));
    assert_eq!(
        bench.board.kept[&(Item::Installation as u8)].len(),
        1,
        "it was not kept"
    );
    assert_eq!(bench.app.controller().installation().settings().period_ms, longest);

    // Kept by another program on the same board.
    let bytes = postcard::to_stdvec(&slow).unwrap();
    bench.board.kept.insert(Item::Installation as u8, vec![bytes]);
    bench.board.reset(ResetCause::PowerOn);
    let mut app = App::<LIFTS, TANKS>::new();
    app.start(&mut bench.board, None);
    assert_eq!(app.running(), Running::NoInstallation);
    assert_eq!(bench.board.events(), [Event::InstallationRefused { faults: 1 }]);
    bench.board.reset(ResetCause::PowerOn);
    app.start(&mut bench.board, built_in(installation()));
    assert_eq!(app.running(), Running::Trimming, "what is built in can be run");
}

#[test]
fn a_stopped_board_takes_a_mended_installation_and_runs_it_once_somebody_acknowledges() {
    for reset_after_s in [20, 90] {
        let mut bench = Bench::<false>::new(Some(installation()));
        let mut before = installation();
        before.settings.preset_opening = 0.7;
        assert_eq!(bench.send(&before), Answer::Done);
        bench.board.now = bench.board.now.plus(1000);
        bench.board.run(&mut bench.app, 90);
        for _ in 0..3 {
            bench.board.reset(ResetCause::Watchdog);
            bench.app = App::new();
            bench.app.start(&mut bench.board, None);
            bench.number = 200;
            assert!(matches!(bench.ask(Ask::Hello { version: VERSION }), Answer::Hello(_)));
        }
        assert_eq!(bench.app.running(), Running::Stopped);
        let mut mended = installation();
        mended.settings.preset_opening = 0.8;
        let mut faulty = mended.clone();
        faulty.lifts[0].riser.bore_m = -1.0;
        assert!(
            matches!(bench.send(&faulty), Answer::Not(Not::Faults(1..))),
            "it is checked"
        );
        assert_eq!(bench.send(&mended), Answer::Done);
        let Answer::Hello(hello) = bench.ask(Ask::Hello { version: VERSION }) else {
            panic!("no hello");
        };
        assert_eq!(hello.running, Running::Stopped, "nobody has acknowledged");
        assert_eq!(hello.fingerprint, fingerprint(&mended), "and this would run");
        bench.board.calls.clear();
        bench.board.now = bench.board.now.plus(1000);
        bench.board.run(&mut bench.app, 5);
        assert_eq!(
            bench.board.count(|call| matches!(call, Call::Level(_))),
            0,
            "it does not run"
        );
        assert_eq!(bench.ask(Ask::Acknowledge), Answer::Done);
        assert_eq!(bench.app.running(), Running::Trimming);
        assert_eq!(bench.app.controller().installation(), &mended);
        // It is on trial from then on, as any other.
        bench.board.now = bench.board.now.plus(1000);
        bench.board.run(&mut bench.app, reset_after_s);
        bench.board.reset(ResetCause::Watchdog);
        let mut app = App::<LIFTS, TANKS>::new();
        app.start(&mut bench.board, None);
        let expected = if reset_after_s < 60 { &before } else { &mended };
        assert_eq!(app.controller().installation(), expected);
    }
}

#[test]
fn an_acknowledgement_of_a_stop_that_is_not_there_changes_nothing() {
    let mut bench = Bench::<false>::new(Some(installation()));
    assert_eq!(bench.send(&installation()), Answer::Done);
    let words = bench.board.words;
    let events = bench.board.events();
    assert_eq!(bench.ask(Ask::Acknowledge), Answer::Done);
    assert_eq!(bench.board.events(), events);
    assert_eq!(
        bench.board.words, words,
        "its minute of trial and the resets before still count"
    );
}

#[test]
fn a_host_of_another_version_is_told_so_and_moves_nothing_until_one_of_ours_says_hello() {
    let mut bench = Bench::<true>::new(Some(installation()));
    for version in [VERSION - 1, VERSION + 1, u16::MAX] {
        let Answer::Hello(hello) = bench.ask(Ask::Hello { version }) else {
            panic!("a hello is answered whatever the version");
        };
        assert_eq!(hello.version, VERSION);
        bench.board.calls.clear();
        let target = Command::OutOfService { lift: 0 };
        for ask in [bench.readings(1), Ask::Command(target), Ask::LastStep, Ask::Acknowledge] {
            assert_eq!(bench.ask(ask), Answer::Not(Not::WrongVersion));
        }
        let begin = Ask::PutBegin {
            bytes: 10,
            fingerprint: 1,
        };
        assert_eq!(bench.ask(begin), Answer::Not(Not::WrongVersion));
        assert_eq!(bench.board.count(|call| matches!(call, Call::Drive(..))), 0);
        assert_eq!(bench.app.controller().standing_commands().count(), 0);
    }
    assert!(matches!(bench.ask(Ask::Hello { version: VERSION }), Answer::Hello(_)));
    let ask = bench.readings(1);
    assert!(matches!(bench.ask(ask), Answer::Step(_)));
}

#[test]
fn a_host_that_asks_without_a_pause_holds_up_no_step_and_is_answered_in_full() {
    let mut bench = Bench::<false>::new(Some(installation()));
    bench.app.poll(&mut bench.board);
    // As a line of 115 200 bit/s and replies of its longest.
    bench.board.send_ms = 120;
    bench.board.to_host.clear();
    let asked = 102..=600u32;
    for number in asked.clone() {
        let frame = bench.frame(number, Ask::LastStep);
        bench.board.from_host.extend(&frame);
        if number.is_multiple_of(50) {
            // Some of them come twice.
            bench.board.from_host.extend(&frame);
        }
    }
    let mut fed = bench.board.now;
    let mut steps = 0;
    for _ in 0..2000 {
        let (before, sent) = (bench.board.count(|call| *call == Call::Feed), bench.board.sent);
        bench.app.poll(&mut bench.board);
        assert!(bench.board.sent - sent <= 4, "replies in one poll");
        if bench.board.count(|call| *call == Call::Feed) > before {
            let waited_ms = bench.board.now.0 - fed.0;
            assert!(waited_ms <= fake::PERIOD_MS + 4 * 120, "{waited_ms} ms without a step");
            fed = bench.board.now;
            steps += 1;
        }
        bench.board.now = bench.board.now.plus(10);
    }
    assert!(steps >= 50, "{steps}");
    let mut reader = FrameReader::<REPLY_BYTES>::new();
    let mut numbers = Vec::new();
    for byte in bench.board.to_host.drain(..) {
        if let Taken::Payload(payload) = reader.take(byte) {
            let reply: Reply<LIFTS, TANKS> = decode(payload).expect("a reply");
            numbers.push(reply.number);
        }
    }
    numbers.dedup();
    assert!(numbers.into_iter().eq(asked), "no byte is lost");
}
