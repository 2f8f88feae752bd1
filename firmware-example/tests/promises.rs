//! What the application promises a board, shown on a fake one.

#[allow(dead_code)] // each file uses a part of it
mod fake;

use fake::{Call, FakeBoard, LIFTS, PERIOD_MS, TANKS, built_in, installation};
use risertrim::alarm::{Kind, Name, Subject};
use risertrim::command::Refused;
use risertrim::installation::Settings;
use risertrim::link::Running;
use risertrim::record::{Plan, Sink, SinkFull};
use risertrim::{Command, Millis, Opening, WaterFlow};
use risertrim_firmware::{App, Event, KeptLog, LogSink, Piece};
use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::rc::Rc;

/// Seconds after which a silent sensor is an alarm.
const SILENT_AFTER_S: u32 = 10;

fn start(board: &mut FakeBoard) -> App<LIFTS, TANKS> {
    let mut app = App::new();
    app.start(board, built_in(installation()));
    assert_eq!(app.running(), Running::Trimming, "the installation is sound");
    app
}

fn alarm(kind: Kind, subject: Subject) -> Name {
    Name { kind, subject }
}

#[test]
fn outputs_are_made_safe_before_anything_else_and_valves_go_to_the_preset_before_anything_is_read() {
    let mut board = FakeBoard::at(Millis(0));
    let mut app = start(&mut board);
    app.poll(&mut board);
    assert_eq!(board.calls[0], Call::Safe);
    let at = |wanted: Call| board.calls.iter().position(|call| *call == wanted);
    let preset = Opening::new(0.6);
    for lift in 0..LIFTS {
        assert!(at(Call::Drive(lift, preset)) < at(Call::Level(0)), "lift {lift}");
    }
}

#[test]
fn a_refused_installation_leaves_the_valves_at_the_preset_and_the_alarm_contact_released() {
    let mut wrong = installation();
    wrong.lifts[1].riser.bore_m = f32::NAN;
    let mut board = FakeBoard::<false>::at(Millis(0));
    let mut app = App::<LIFTS, TANKS>::new();
    app.start(&mut board, built_in(wrong));
    assert_eq!(app.running(), Running::NoInstallation);
    assert!(matches!(
        board.events()[..],
        [Event::InstallationRefused { faults: 1.. }]
    ));
    board.run(&mut app, 5);
    let preset = Opening::new(0.6);
    for lift in 0..LIFTS {
        assert_eq!(board.count(|call| *call == Call::Drive(lift, preset)), 6);
    }
    assert_eq!(
        board.count(|call| matches!(call, Call::Drive(_, to) if *to != preset)),
        0
    );
    assert!(!board.alarm_contact_held);
}

#[test]
fn a_refused_installations_preset_is_driven_only_where_it_is_a_sound_one() {
    let usual = installation().settings;
    for (preset_opening, least_opening, most_opening) in [
        (f32::NAN, 0.0, 1.0),
        (f32::INFINITY, 0.0, f32::INFINITY),
        (0.0, 0.2, 1.0),
        (1.0, 0.0, 0.9),
        (-0.5, -1.0, 1.0),
        (0.6, f32::NAN, 1.0),
        (0.6, 0.0, f32::NAN),
        (0.6, 0.0, 7.0),
    ] {
        let mut wrong = installation();
        wrong.settings = Settings {
            preset_opening,
            least_opening,
            most_opening,
            ..usual
        };
        let mut board = FakeBoard::<false>::at(Millis(0));
        let mut app = App::<LIFTS, TANKS>::new();
        app.start(&mut board, built_in(wrong));
        assert_eq!(app.running(), Running::NoInstallation);
        board.run(&mut app, 5);
        assert_eq!(
            board.count(|call| matches!(call, Call::Drive(..))),
            0,
            "{preset_opening} of {least_opening} to {most_opening}"
        );
        assert_eq!(
            board.count(|call| *call == Call::Safe),
            7,
            "the board knows what is safe"
        );
    }
}

#[test]
fn without_any_installation_the_outputs_are_made_safe_again_and_again() {
    let mut board = FakeBoard::<false>::at(Millis(0));
    let mut app = App::<LIFTS, TANKS>::new();
    app.start(&mut board, None);
    board.run(&mut app, 5);
    assert_eq!(board.count(|call| *call == Call::Safe), 6);
    assert_eq!(board.count(|call| matches!(call, Call::Drive(..))), 0);
    assert!(!board.alarm_contact_held);
}

#[test]
fn the_watchdog_is_fed_once_after_each_completed_step_and_never_otherwise() {
    let mut board = FakeBoard::at(Millis(7));
    let mut app = start(&mut board);
    assert_eq!(board.count(|call| *call == Call::Feed), 0, "the start is not a step");
    let mut steps = 0;
    for _ in 0..100 {
        board.calls.clear();
        let stepped = app.poll(&mut board);
        steps += u32::from(stepped);
        if stepped {
            let read = (0..TANKS).map(Call::Level).chain([Call::Manifold]);
            let at = |wanted: Call| board.calls.iter().position(|call| *call == wanted);
            let last_read = read.map(|call| at(call).expect("every sensor is read")).max();
            let driven: Vec<_> = (0..board.calls.len())
                .filter(|i| matches!(board.calls[*i], Call::Drive(..)))
                .collect();
            assert_eq!(driven.len(), LIFTS, "every valve is driven once");
            assert!(driven.first().copied() > last_read, "read before driven");
            assert_eq!(board.count(|call| *call == Call::Feed), 1);
            assert_eq!(board.calls.last(), Some(&Call::Feed), "fed last");
        } else {
            assert_eq!(board.calls, [Call::Now]);
        }
        board.now = board.now.plus(PERIOD_MS / 4);
    }
    assert_eq!(steps, 25);
}

#[test]
fn a_sensor_that_errs_is_a_missing_reading_and_the_loop_goes_on() {
    let mut board = FakeBoard::at(Millis(0));
    let mut app = start(&mut board);
    board.run(&mut app, 30);
    board.levels[1] = Err(fake::NoAnswer);
    board.manifold = Err(fake::NoAnswer);
    board.calls.clear();
    board.run(&mut app, SILENT_AFTER_S + 5);
    assert_eq!(board.count(|call| *call == Call::Feed), SILENT_AFTER_S as usize + 5);
    assert_eq!(
        board.count(|call| matches!(call, Call::Drive(..))),
        LIFTS * (SILENT_AFTER_S as usize + 5)
    );
    let silent = alarm(Kind::SensorSilent, Subject::Tank(1));
    assert_eq!(
        board.events(),
        [Event::Raised(silent)],
        "silent, not out of range, and only this one"
    );
}

#[test]
fn with_every_sensor_gone_valves_are_still_driven_and_the_watchdog_fed() {
    let mut board = FakeBoard::at(Millis(0));
    board.levels = [Err(fake::NoAnswer); TANKS];
    board.manifold = Err(fake::NoAnswer);
    let mut app = start(&mut board);
    board.run(&mut app, 200);
    assert!(
        board
            .events()
            .contains(&Event::Raised(alarm(Kind::NoLevels, Subject::Place)))
    );
    board.calls.clear();
    board.run(&mut app, 1);
    for lift in 0..LIFTS {
        assert_eq!(
            board.count(|call| *call == Call::Drive(lift, Opening::new(0.6))),
            1,
            "at the preset: nothing was ever read"
        );
    }
    assert_eq!(board.count(|call| *call == Call::Feed), 1);
}

#[test]
fn a_valve_that_errs_is_logged_once_at_its_begin_and_once_at_its_end_and_driven_all_the_while() {
    let mut board = FakeBoard::at(Millis(0));
    board.valve_answers[1] = false;
    let mut app = start(&mut board);
    board.run(&mut app, 20);
    assert_eq!(board.events(), [Event::ValveFault { lift: 1 }]);
    assert_eq!(board.count(|call| matches!(call, Call::Drive(1, _))), 21);
    assert_eq!(board.count(|call| *call == Call::Feed), 20);
    board.valve_answers[1] = true;
    board.run(&mut app, 20);
    assert_eq!(
        board.events(),
        [Event::ValveFault { lift: 1 }, Event::ValveDriven { lift: 1 }]
    );
}

#[test]
fn every_alarm_is_logged_once_when_it_begins_and_once_when_it_ends() {
    let mut board = FakeBoard::at(Millis(0));
    let mut app = start(&mut board);
    let mut expected = Vec::new();
    // Two silences of one sensor, one of another in between, as seen by the person who reads the log.
    for tank in [1u8, 2, 1] {
        let silent = alarm(Kind::SensorSilent, Subject::Tank(tank));
        board.run(&mut app, 30);
        board.levels[usize::from(tank)] = Err(fake::NoAnswer);
        board.run(&mut app, 40);
        board.levels[usize::from(tank)] = Ok(fake::USUAL_M[usize::from(tank)]);
        board.run(&mut app, 40);
        expected.extend([Event::Raised(silent), Event::Cleared(silent)]);
    }
    assert_eq!(board.events(), expected);
}

#[test]
fn no_alarm_begins_twice_or_ends_unbegun_whatever_the_sensors_do() {
    let mut board = FakeBoard::at(Millis(0));
    let mut app = start(&mut board);
    let mut standing: Vec<Name> = Vec::new();
    let mut seen = 0usize;
    for second in 0..4000u32 {
        // Levels that rise over every limit and fall again, one of them cut out and one absurd at times.
        let swing = 0.12 * ((second % 900) as f32 / 450.0 - 1.0).abs();
        board.levels = fake::USUAL_M.map(|usual| Ok(usual - 0.02 + swing));
        if second % 500 > 400 {
            board.levels[2] = Err(fake::NoAnswer);
        }
        if second % 700 > 600 {
            board.levels[0] = Ok(f32::NAN);
        }
        board.calls.clear();
        board.run(&mut app, 1);
        for event in board.events() {
            match event {
                Event::Raised(alarm) => {
                    assert!(!standing.contains(&alarm), "{alarm:?} began twice");
                    standing.push(alarm);
                    seen += 1;
                }
                Event::Cleared(alarm) => {
                    assert!(standing.contains(&alarm), "{alarm:?} ended without having begun");
                    standing.retain(|one| *one != alarm);
                }
                other => panic!("{other:?}"),
            }
        }
    }
    assert!(seen > 10, "the trial must raise alarms to mean anything: {seen}");
}

#[test]
fn a_wrap_of_the_clock_leaves_no_trace() {
    let mut before = FakeBoard::at(Millis(1_000_000));
    let mut through = FakeBoard::at(Millis(u32::MAX - 20_499));
    for board in [&mut before, &mut through] {
        let mut app = start(board);
        for _ in 0..400 {
            app.poll(board);
            board.now = board.now.plus(PERIOD_MS / 10);
        }
    }
    assert!(through.now.0 < 1_000_000, "it wrapped");
    let without_times = |board: &FakeBoard| -> Vec<Call> {
        let strip = |call: &Call| {
            if let Call::Log(_, event) = call {
                Call::Log(Millis(0), *event)
            } else {
                *call
            }
        };
        board.calls.iter().map(strip).collect()
    };
    assert_eq!(through.count(|call| *call == Call::Feed), 40);
    assert_eq!(without_times(&through), without_times(&before));
    assert!(through.events().is_empty(), "{:?}", through.events());
}

#[test]
fn a_clock_set_back_does_not_hold_up_the_loop() {
    let mut board = FakeBoard::at(Millis(5_000_000));
    let mut app = start(&mut board);
    board.run(&mut app, 10);
    board.now = Millis(3);
    board.run(&mut app, 10);
    assert_eq!(board.count(|call| *call == Call::Feed), 20);
    assert_eq!(
        board.events(),
        [Event::Raised(alarm(Kind::ClockJumped, Subject::Place))]
    );
}

#[test]
fn a_clock_that_leapt_ahead_makes_one_step_and_keeps_its_period() {
    let mut board = FakeBoard::at(Millis(0));
    let mut app = start(&mut board);
    board.run(&mut app, 10);
    board.now = board.now.plus(3_000_000_000);
    assert!(app.poll(&mut board));
    assert!(!app.poll(&mut board), "steps that were missed are not made up for");
    board.now = board.now.plus(PERIOD_MS - 1);
    assert!(!app.poll(&mut board));
    board.now = board.now.plus(1);
    assert!(app.poll(&mut board));
}

#[test]
fn late_polls_do_not_shift_the_beat() {
    let mut board = FakeBoard::at(Millis(0));
    let mut app = start(&mut board);
    let mut steps = Vec::new();
    for now in (0..10_000).step_by(7) {
        board.now = Millis(now);
        if app.poll(&mut board) {
            steps.push(now);
        }
    }
    assert_eq!(steps.len(), 10);
    assert!(
        (0u32..)
            .zip(&steps)
            .all(|(n, at)| (n * PERIOD_MS..n * PERIOD_MS + 7).contains(at)),
        "{steps:?}"
    );
}

#[test]
fn commands_reach_the_valves_and_refused_ones_reach_the_log() {
    let mut board = FakeBoard::at(Millis(0));
    let mut app = start(&mut board);
    board.run(&mut app, 5);
    board.command = Some(Command::Manual {
        lift: 0,
        opening: Opening::new(0.25),
    });
    board.calls.clear();
    // A valve set by hand moves at a pace that leaves its neighbours time: a full stroke in 200 s.
    board.run(&mut app, 200);
    assert!(board.count(|call| *call == Call::Drive(0, Opening::new(0.25))) >= 1);
    board.command = Some(Command::Target {
        lift: 9,
        flow: WaterFlow::from_l_min(5.0),
    });
    board.run(&mut app, 1);
    assert_eq!(board.events(), [Event::Refused(Refused::NoSuchLift)]);
}

#[test]
fn run_goes_on_for_as_long_as_there_is_power() {
    let mut board = FakeBoard::<false>::at(Millis(u32::MAX - 30_000));
    board.idle_ms = 50;
    board.power_off = Some(Millis(u32::MAX - 30_000).plus(60_000));
    let ended = catch_unwind(AssertUnwindSafe(|| {
        let mut app = App::<LIFTS, TANKS>::new();
        risertrim_firmware::run(&mut app, &mut board, built_in(installation()))
    }));
    assert!(ended.is_err(), "it came back by itself");
    assert_eq!(board.count(|call| *call == Call::Feed), 61);
}

#[test]
fn a_valve_or_blower_that_cannot_be_driven_calls_somebody_until_it_can_be_driven_again() {
    let mut board = FakeBoard::<false>::at(Millis(0));
    let mut app = start(&mut board);
    board.run(&mut app, 30);
    let show = |board: &FakeBoard<false>| (board.alarm_contact_held, board.horn);
    board.valve_answers[1] = false;
    board.run(&mut app, 2);
    assert_eq!(show(&board), (true, false), "a bus may stumble");
    board.run(&mut app, 1);
    assert_eq!(show(&board), (false, true));
    board.command = Some(Command::Acknowledge);
    board.run(&mut app, 300);
    assert_eq!(show(&board), (false, false), "somebody knows; it is not mended");
    board.blower_answers = false;
    board.run(&mut app, 3);
    assert_eq!(show(&board), (false, true), "another one, of which nobody knows");
    board.command = Some(Command::Silence { minutes: 1 });
    board.run(&mut app, 55);
    assert_eq!(show(&board), (false, false));
    board.run(&mut app, 10);
    assert_eq!(show(&board), (false, true), "the minute is over");
    board.blower_answers = true;
    board.run(&mut app, 1);
    assert_eq!(show(&board), (false, false), "the valve still stands where it was");
    board.valve_answers[1] = true;
    board.run(&mut app, 1);
    assert_eq!(show(&board), (true, false));
    board.valve_answers[1] = false;
    board.run(&mut app, 3);
    assert_eq!(show(&board), (false, true), "it was seen before it was mended");
}

/// A log that takes as long as an erasure, as far as anybody can tell.
struct Slow(Rc<RefCell<Vec<&'static str>>>);

impl Sink for Slow {
    fn put(&mut self, _: &[u8]) -> Result<(), SinkFull> {
        let mut moments = self.0.borrow_mut();
        if moments.last() != Some(&"log") {
            moments.push("log");
        }
        Ok(())
    }
}

impl LogSink for Slow {
    fn read_at(&mut self, _: u64, _: &mut [u8]) -> Option<Piece> {
        None
    }
}

#[test]
fn outputs_contact_and_horn_come_before_anything_that_may_erase_flash_and_the_watchdog_last() {
    let mut board = FakeBoard::<false>::at(Millis(0));
    let moments = board.moments.clone();
    let log = KeptLog::<LIFTS, TANKS, 1024, _>::new(Plan::WHOLE, "test", Slow(moments.clone()));
    let mut app = App::with_log(log);
    app.start(&mut board, built_in(installation()));
    let (mut saves, mut faults) = (0, 0);
    for round in 0..1300 {
        board.valve_answers[1] = round % 100 < 50;
        moments.borrow_mut().clear();
        board.run(&mut app, 1);
        let seen = moments.borrow().clone();
        saves += usize::from(seen.contains(&"save"));
        faults += usize::from(round % 50 == 0);
        let all = ["valve", "blower", "contact", "horn", "log", "save", "watchdog"];
        let expected: Vec<&str> = all.into_iter().filter(|what| seen.contains(what)).collect();
        assert_eq!(seen, expected, "round {round}");
        assert!(expected.len() >= all.len() - 1, "{seen:?}");
    }
    assert!(saves >= 2 && faults > 20, "{saves} savings");
}
