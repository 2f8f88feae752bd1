//! What the application promises over a restart, shown on a fake board.

#[allow(dead_code)] // each file uses a part of it
mod fake;

use fake::{Call, FakeBoard, LIFTS, TANKS, built_in, installation};
use risertrim::ResetCause;
use risertrim::link::Running;
use risertrim::step::BlowerStep;
use risertrim::{Command, Installation, Millis, Opening, WaterFlow};
use risertrim_firmware::{App, Event, Item};

type Board = FakeBoard<false>;

/// Starts as after a reset for this reason.
fn start(board: &mut Board, cause: ResetCause) -> App<LIFTS, TANKS> {
    board.reset(cause);
    let mut app = App::new();
    app.start(board, built_in(installation()));
    app
}

fn drives(board: &Board, lift: usize) -> Vec<Opening> {
    let to = |call: &Call| match call {
        Call::Drive(number, opening) if *number == lift => Some(*opening),
        _ => None,
    };
    board.calls.iter().filter_map(to).collect()
}

#[test]
fn the_cause_of_every_reset_is_the_first_thing_logged() {
    for cause in [
        ResetCause::PowerOn,
        ResetCause::BrownOut,
        ResetCause::Watchdog,
        ResetCause::Panic,
        ResetCause::HardFault,
        ResetCause::Asked,
        ResetCause::Pin,
        ResetCause::Unknown,
    ] {
        let mut board = Board::at(Millis(0));
        start(&mut board, cause);
        let first = board.calls.iter().find_map(|call| match call {
            Call::Log(_, event) => Some(*event),
            _ => None,
        });
        assert_eq!(first, Some(Event::Started(cause)));
    }
}

#[test]
fn three_watchdog_resets_in_ten_minutes_hold_the_openings_until_somebody_acknowledges() {
    let mut board = Board::at(Millis(0));
    for expected in [Running::Trimming, Running::Trimming, Running::Stopped] {
        let mut app = start(&mut board, ResetCause::Watchdog);
        assert_eq!(app.running(), expected);
        board.run(&mut app, 200);
    }
    // Stopped: preset openings, nothing read, the watchdog fed, the alarm contact released, and it outlives more resets.
    let mut app = start(&mut board, ResetCause::Pin);
    assert_eq!(app.running(), Running::Stopped);
    assert!(board.events().contains(&Event::Stopped));
    board.run(&mut app, 50);
    assert_eq!(board.count(|call| matches!(call, Call::Level(_))), 0);
    assert!(drives(&board, 0).iter().all(|opening| *opening == Opening::new(0.6)));
    assert_eq!(drives(&board, 0).len(), 51);
    assert_eq!(board.count(|call| *call == Call::Feed), 50);
    assert!(!board.alarm_contact_held);
    assert!(board.horn);
    assert_eq!(
        board.blower,
        Some(BlowerStep::FULL),
        "open valves give no air where the blower stands still"
    );

    board.acknowledge = true;
    board.run(&mut app, 30);
    assert_eq!(app.running(), Running::Trimming);
    assert!(board.events().contains(&Event::Acknowledged));
    assert!(board.alarm_contact_held);
    assert_eq!(start(&mut board, ResetCause::Watchdog).running(), Running::Trimming);
}

#[test]
fn three_watchdog_resets_far_apart_do_not_stop_it() {
    let mut board = Board::at(Millis(0));
    for _ in 0..6 {
        let mut app = start(&mut board, ResetCause::Watchdog);
        assert_eq!(app.running(), Running::Trimming);
        board.run(&mut app, 310);
    }
}

#[test]
fn a_brown_out_resumes_where_the_valves_were_after_a_start_at_the_preset() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    // Levels that ask for less air than the preset gives, then levels on target, up to the moment at which what was learned is kept.
    board.levels = [Ok(0.80), Ok(0.352), Ok(0.352)];
    board.run(&mut app, 200);
    board.levels = fake::USUAL_M.map(Ok);
    board.run(&mut app, 1601);
    let before: Vec<Opening> = (0..LIFTS).map(|lift| *drives(&board, lift).last().unwrap()).collect();
    let preset = Opening::new(0.6);
    for opening in &before {
        assert!(
            (opening.share() - 0.6).abs() > 0.02,
            "{before:?} must not be the preset by chance"
        );
    }
    let mut app = start(&mut board, ResetCause::BrownOut);
    assert_eq!(app.running(), Running::Trimming);
    for lift in 0..LIFTS {
        assert_eq!(
            drives(&board, lift),
            [preset],
            "open, so that fish have air, until the first step"
        );
    }
    board.calls.clear();
    board.run(&mut app, 1);
    board.run(&mut app, 29);
    for (lift, before) in before.iter().enumerate() {
        for to in drives(&board, lift) {
            assert!(
                (to.share() - before.share()).abs() < 0.02,
                "lift {lift}: {to:?} after {before:?}"
            );
        }
    }
}

#[test]
fn what_was_learned_elsewhere_or_is_damaged_is_told_and_not_used() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    board.run(&mut app, 700);
    let learned = &board.kept[&(Item::Learned as u8)];
    assert!(!learned.is_empty(), "kept every ten minutes");

    board.reset(ResetCause::PowerOn);
    let mut another = installation();
    another.lifts[0].riser.bore_m = 0.046;
    let mut app = App::<LIFTS, TANKS>::new();
    app.start(&mut board, built_in(another));
    assert_eq!(app.running(), Running::Trimming);
    assert_eq!(board.events(), [Event::KeptRejected]);

    board.kept.get_mut(&(Item::Learned as u8)).unwrap().push(vec![7; 9]);
    start(&mut board, ResetCause::PowerOn);
    assert_eq!(board.events(), [Event::KeptRejected]);
}

#[test]
fn a_store_that_fails_is_told_and_the_loop_goes_on() {
    let mut board = Board::at(Millis(0));
    board.store_works = false;
    let mut app = start(&mut board, ResetCause::PowerOn);
    board.run(&mut app, 1900);
    assert_eq!(
        board.events(),
        [Event::StoreFailed],
        "once, or it would push all else out of the short log"
    );
    assert_eq!(board.count(|call| *call == Call::Feed), 1900);
    assert!(!board.alarm_contact_held, "what it learns would be lost with the power");
    assert!(!board.horn, "that is nothing to run for");
    board.store_works = true;
    board.run(&mut app, 700);
    assert!(board.alarm_contact_held);
    board.store_works = false;
    board.run(&mut app, 700);
    let failed = board
        .events()
        .iter()
        .filter(|event| **event == Event::StoreFailed)
        .count();
    assert_eq!(failed, 2, "it worked in between");
}

#[test]
fn the_alarm_contact_is_let_go_while_an_alarm_stands_and_the_heart_beats_at_every_step() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    assert!(
        !board.alarm_contact_held,
        "before the first step nothing is known to be well"
    );
    board.run(&mut app, 30);
    assert!(board.alarm_contact_held);
    board.levels[1] = Err(fake::NoAnswer);
    board.run(&mut app, 30);
    assert!(!board.alarm_contact_held);
    board.levels[1] = Ok(fake::USUAL_M[1]);
    board.run(&mut app, 60);
    assert!(board.alarm_contact_held);
    assert_eq!(board.heart.len(), 120);
    assert!(board.heart.windows(2).all(|beats| beats[0] != beats[1]));
}

#[test]
fn what_people_asked_for_stands_over_a_restart() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    let flow = WaterFlow::from_l_min(14.0);
    for command in [
        Command::Target { lift: 0, flow },
        Command::OutOfService { lift: 1 },
        Command::EssentialAir(true),
    ] {
        board.command = Some(command);
        board.run(&mut app, 1);
    }
    // Not ten minutes later, when what was learned is kept: somebody may have a hand in that lift.
    let mut app = start(&mut board, ResetCause::Watchdog);
    let stand: Vec<Command> = app.controller().standing_commands().collect();
    assert_eq!(
        stand,
        [
            Command::Target { lift: 0, flow },
            Command::OutOfService { lift: 1 },
            Command::EssentialAir(true)
        ]
    );
    for command in [Command::EssentialAir(false), Command::Automatic { lift: 1 }] {
        board.command = Some(command);
        board.run(&mut app, 1);
    }
    let app = start(&mut board, ResetCause::PowerOn);
    let stand: Vec<Command> = app.controller().standing_commands().collect();
    assert_eq!(
        stand,
        [Command::Target { lift: 0, flow }],
        "what was taken back stays so"
    );
}

#[test]
fn a_target_of_another_installation_is_not_asked_for_again_and_a_lift_out_of_service_stays_so() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    let flow = WaterFlow::from_l_min(14.0);
    for command in [Command::Target { lift: 0, flow }, Command::OutOfService { lift: 1 }] {
        board.command = Some(command);
        board.run(&mut app, 2);
    }
    let mut other = installation();
    other.settings.preset_opening = 0.7;
    let bytes = postcard::to_stdvec(&other).unwrap();
    board.kept.insert(Item::Installation as u8, vec![bytes]);
    let app = start(&mut board, ResetCause::PowerOn);
    assert_eq!(
        app.controller().installation(),
        &other,
        "what is kept comes before what is built in"
    );
    assert_eq!(drives(&board, 0), [Opening::new(0.7)]);
    let stand: Vec<Command> = app.controller().standing_commands().collect();
    assert_eq!(stand, [Command::OutOfService { lift: 1 }]);
    assert!(board.events().contains(&Event::KeptRejected), "and it is told");
    // One of other lifts has none of them.
    let mut smaller = installation();
    smaller.lifts.pop();
    smaller.tanks.pop();
    let bytes = postcard::to_stdvec(&smaller).unwrap();
    board.kept.insert(Item::Installation as u8, vec![bytes]);
    let app = start(&mut board, ResetCause::PowerOn);
    assert_eq!(app.controller().installation(), &smaller);
    assert_eq!(app.controller().standing_commands().count(), 0);
}

#[test]
fn only_lifts_that_are_there_are_driven_also_while_nothing_is_computed() {
    let mut board = Board::at(Millis(0));
    let small = installation();
    let place: &'static Installation<4, 6> = Box::leak(Box::new(Installation {
        site: small.site,
        air: small.air,
        tanks: small.tanks.into_iter().collect(),
        lifts: small.lifts.into_iter().collect(),
        settings: small.settings,
    }));
    for _ in 0..3 {
        board.reset(ResetCause::Watchdog);
        let mut app = App::<4, 6>::new();
        app.start(&mut board, Some(place));
        // The board has two valves and panics when it is asked for a third.
        for _ in 0..20 {
            assert!(app.poll(&mut board));
            board.now = board.now.plus(fake::PERIOD_MS);
        }
    }
    assert_eq!(drives(&board, 1).len(), 21);
}

#[test]
fn the_horn_is_quiet_once_an_alarm_was_seen_and_the_contact_is_not() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    board.run(&mut app, 30);
    assert!(!board.horn);
    board.levels[1] = Err(fake::NoAnswer);
    board.run(&mut app, 30);
    assert!(board.horn && !board.alarm_contact_held);
    board.command = Some(Command::Acknowledge);
    board.run(&mut app, 2);
    assert!(!board.horn, "somebody knows");
    assert!(!board.alarm_contact_held, "it is not mended");
}

#[test]
fn drivers_are_polled_between_steps() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    for _ in 0..40 {
        app.poll(&mut board);
        board.now = board.now.plus(fake::PERIOD_MS / 20);
    }
    assert_eq!(board.polled, 40);
    assert_eq!(board.count(|call| *call == Call::Feed), 2);
}

/// A board of the methods without a body alone.
struct Bare {
    now: Millis,
    events: Vec<Event>,
    contact: bool,
}

impl risertrim_firmware::Board for Bare {
    type Error = ();

    fn make_safe(&mut self) {}

    fn now(&mut self) -> Millis {
        self.now
    }

    fn level(&mut self, tank: usize) -> Result<f32, ()> {
        let restless = if self.now.0.is_multiple_of(2000) { 0.0 } else { 0.001 };
        Ok(fake::USUAL_M[tank] + restless)
    }

    fn drive(&mut self, _: usize, _: Opening) -> Result<(), ()> {
        Ok(())
    }

    fn feed_watchdog(&mut self) {}

    fn log(&mut self, _: Millis, event: Event) {
        self.events.push(event);
    }

    fn hold_alarm_contact(&mut self, all_well: bool) {
        self.contact = all_well;
    }
}

#[test]
fn a_board_without_a_store_has_none_that_fails() {
    let mut board = Bare {
        now: Millis(0),
        events: Vec::new(),
        contact: false,
    };
    let mut app = App::<LIFTS, TANKS>::new();
    app.start(&mut board, built_in(installation()));
    for _ in 0..1300 {
        app.poll(&mut board);
        board.now = board.now.plus(fake::PERIOD_MS);
    }
    assert_eq!(board.events, [Event::Started(ResetCause::Unknown)]);
    assert!(board.contact);
}

#[test]
fn a_store_that_stumbles_at_the_start_is_told_and_tried_again_and_one_that_stays_dumb_calls_somebody() {
    let mut kept = installation();
    kept.settings.preset_opening = 0.7;
    let bytes = postcard::to_stdvec(&kept).unwrap();
    for (stumbles, runs) in [(1, &kept), (2, &kept), (100, &installation())] {
        let mut board = Board::at(Millis(0));
        board.kept.insert(Item::Installation as u8, vec![bytes.clone()]);
        board.stumbles = stumbles;
        let mut app = start(&mut board, ResetCause::PowerOn);
        assert_eq!(app.controller().installation(), runs, "{stumbles}");
        assert_eq!(board.events().first(), Some(&Event::StoreFailed), "{stumbles}");
        // Longer than until what was learned is kept: that this works tells nothing of what could not be read.
        board.run(&mut app, 700);
        assert_eq!(board.alarm_contact_held, stumbles < 3, "{stumbles}");
    }
}

#[test]
fn only_commands_that_change_something_are_written_to_flash_and_a_restless_host_cannot_wear_it_out() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    let saved = |board: &Board| board.kept.get(&(Item::Learned as u8)).map_or(0, Vec::len);
    let target = |l_min| Command::Target {
        lift: 0,
        flow: WaterFlow::from_l_min(l_min),
    };
    board.command = Some(target(14.0));
    board.run(&mut app, 1);
    assert_eq!(saved(&board), 1, "at once");
    for command in [
        target(14.0),
        Command::Acknowledge,
        Command::Silence { minutes: 5 },
        Command::ResetLatched,
        Command::Automatic { lift: 1 },
        Command::EssentialAir(false),
        target(f32::NAN),
    ] {
        board.command = Some(command);
        board.run(&mut app, 20);
    }
    assert_eq!(saved(&board), 1, "nothing changed");
    // Another target at every step for five minutes: four changes that were saved up and one each ten seconds.
    for step in 0..300u16 {
        board.command = Some(target(14.0 + f32::from(step % 20) * 0.1));
        board.run(&mut app, 1);
    }
    assert!((30..=35).contains(&saved(&board)), "{}", saved(&board));
    board.command = Some(target(15.5));
    board.run(&mut app, 11);
    let app = start(&mut board, ResetCause::Watchdog);
    let stand: Vec<Command> = app.controller().standing_commands().collect();
    assert_eq!(stand, [target(15.5)], "the last of them is kept too");
}

#[test]
fn a_change_that_could_not_be_kept_is_kept_a_minute_later() {
    let mut board = Board::at(Millis(0));
    let mut app = start(&mut board, ResetCause::PowerOn);
    board.store_works = false;
    board.command = Some(Command::OutOfService { lift: 1 });
    board.run(&mut app, 5);
    board.store_works = true;
    board.run(&mut app, 62);
    assert!(board.alarm_contact_held);
    let app = start(&mut board, ResetCause::Watchdog);
    assert_eq!(app.controller().standing_commands().count(), 1);
}

#[test]
fn a_button_that_is_down_from_the_start_on_acknowledges_nothing() {
    let mut board = Board::at(Millis(0));
    board.acknowledge = true;
    for _ in 0..5 {
        let mut app = start(&mut board, ResetCause::Watchdog);
        board.run(&mut app, 20);
    }
    let mut app = start(&mut board, ResetCause::Pin);
    board.run(&mut app, 20);
    assert_eq!(app.running(), Running::Stopped, "its wire is shorted");
    board.acknowledge = false;
    board.run(&mut app, 1);
    board.acknowledge = true;
    board.run(&mut app, 1);
    assert_eq!(app.running(), Running::Trimming, "let go and pressed");
}
