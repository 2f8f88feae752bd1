//! The view in the terminal, drawn into a buffer.

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use risertrim_sim::live::{Action, LiveView, Pace, Session, Snapshot, Source, action};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{HostController, Simulation};
use std::time::Duration;

fn session(name: &str) -> Session<HostController> {
    let scenario = Scenario::by_name_or_path(name).unwrap();
    Session::new(Simulation::new(&scenario, 1).unwrap(), 1, 24.0)
}

/// What stands on a screen of this size.
fn screen(view: &LiveView, snapshot: &Snapshot, columns: u16, rows: u16) -> String {
    let mut terminal = Terminal::new(TestBackend::new(columns, rows)).unwrap();
    terminal.draw(|frame| view.draw(frame, snapshot)).unwrap();
    let buffer = terminal.backend().buffer();
    let rows = buffer.content().chunks(usize::from(columns));
    let lines = rows.map(|row| row.iter().map(|cell| cell.symbol()).collect::<String>() + "\n");
    lines.collect()
}

fn minutes(session: &mut Session<HostController>, minutes: u32) {
    for _ in 0..60 * minutes {
        session.step().unwrap();
    }
}

fn key(code: KeyCode) -> Option<Action> {
    action(KeyEvent::new(code, KeyModifiers::NONE))
}

#[test]
fn every_tank_and_lift_has_one_line_in_words() {
    let mut session = session("default");
    minutes(&mut session, 30);
    let snapshot = session.snapshot();
    let text = screen(&LiveView::new(), &snapshot, 100, 40);
    for tank in ["sump", "fry tank", "filter", "plant beds"] {
        let lines = text.lines().filter(|line| line.contains(&format!("  {tank} ")));
        assert_eq!(
            lines.filter(|line| line.contains(" mm, good")).count(),
            1,
            "{tank}\n{text}"
        );
    }
    for (lift, target) in [("fry", "50.0"), ("filter", "120.0"), ("beds", "280.0")] {
        let words = format!(" of {target:>5} L/min");
        let lines = text.lines().filter(|line| line.contains(&words) && line.contains(lift));
        assert_eq!(lines.count(), 1, "{lift}\n{text}");
    }
    assert!(text.contains("Halfmoon Shed   00:30   60 times real time"), "{text}");
    assert!(text.contains("none stands"), "{text}");
}

#[test]
fn it_fits_a_small_screen_and_survives_a_tiny_one() {
    let mut session = session("tight_blower");
    minutes(&mut session, 1);
    let snapshot = session.snapshot();
    let view = LiveView::new();
    let text = screen(&view, &snapshot, 80, 24);
    for lift in &snapshot.lifts {
        assert!(text.contains(&lift.name), "{}\n{text}", lift.name);
    }
    assert!(text.contains("Alarms"), "{text}");
    for (columns, rows) in [(20, 5), (1, 1), (200, 3)] {
        screen(&view, &snapshot, columns, rows);
    }
}

#[test]
fn keys_choose_a_lift_and_change_its_target() {
    let mut session = session("default");
    let mut view = LiveView::new();
    minutes(&mut session, 1);
    view.take(key(KeyCode::Down).unwrap(), 3);
    let said = session.act(key(KeyCode::Char('+')).unwrap(), view.selected());
    assert_eq!(said, "target of lift filter becomes 126.0 L/min");
    minutes(&mut session, 15);
    let snapshot = session.snapshot();
    let lift = &snapshot.lifts[1];
    assert!((lift.target_l_min - 126.0).abs() < 0.1);
    assert!((lift.true_l_min.unwrap() - 126.0).abs() < 0.05 * 126.0, "{lift:?}");
    let text = screen(&view, &snapshot, 100, 40);
    assert!(text.contains(">    filter"), "{text}");
    view.take(Action::PreviousLift, 3);
    view.take(Action::PreviousLift, 3);
    assert_eq!(view.selected(), 2);
}

#[test]
fn a_lift_that_is_shut_moves_no_water_and_says_so_and_runs_again_when_opened() {
    let mut session = session("default");
    minutes(&mut session, 20);
    session.act(Action::Shut, 1);
    minutes(&mut session, 3);
    let lift = session.snapshot().lifts[1].clone();
    assert!(lift.true_l_min.unwrap().abs() < 1.0, "{lift:?}");
    assert_eq!(lift.meddled, "shut by hand");
    let text = screen(&LiveView::new(), &session.snapshot(), 100, 40);
    assert!(text.contains("out of service, shut by hand"), "{text}");
    session.act(Action::Shut, 1);
    minutes(&mut session, 15);
    let lift = session.snapshot().lifts[1].clone();
    assert!((lift.true_l_min.unwrap() - 120.0).abs() < 12.0, "{lift:?}");
}

#[test]
fn a_clogged_return_raises_the_tank_behind_it_and_clears_again() {
    let mut session = session("default");
    minutes(&mut session, 20);
    let before = session.snapshot().tanks[2].true_level_mm.unwrap();
    let said = session.act(key(KeyCode::Char('c')).unwrap(), 1);
    assert!(said.contains("filter is half clogged"), "{said}");
    // At first: a controller that takes the higher level for more flow brings it down again.
    let mut highest = before;
    for _ in 0..5 {
        minutes(&mut session, 1);
        highest = session.snapshot().tanks[2].true_level_mm.unwrap().max(highest);
    }
    assert!(highest > before + 5.0, "{before} {highest}");
    assert_eq!(session.snapshot().lifts[1].meddled, "return clogged");
    session.act(Action::Clog, 1);
    minutes(&mut session, 30);
    let after = session.snapshot().tanks[2].true_level_mm.unwrap();
    assert!((after - before).abs() < 10.0, "{before} {after}");
}

#[test]
fn what_is_urgent_shows_without_colour() {
    let mut session = session("default");
    minutes(&mut session, 1);
    let mut snapshot = session.snapshot();
    snapshot.tanks[1].level_mm = snapshot.tanks[1].limits_mm[3] + 1.0;
    snapshot.lifts[0].state = risertrim::step::LiftState::HeldByLevel;
    let text = screen(&LiveView::new(), &snapshot, 100, 40);
    let line = |what: &str| text.lines().find(|line| line.contains(what)).unwrap().to_owned();
    assert!(line("TOO HIGH").contains("!! fry tank"), "{text}");
    assert!(line("held by level").contains("!! fry"), "{text}");
}

#[test]
fn time_passes_at_the_pace_asked_for_and_not_while_paused() {
    let mut session = session("one_lift");
    session.advance(Duration::from_millis(500)).unwrap();
    assert!((session.simulation().time_s() - 30.0).abs() < 1.01);
    session.act(Action::Pause, 0);
    session.advance(Duration::from_secs(5)).unwrap();
    assert!((session.simulation().time_s() - 30.0).abs() < 1.01);
    assert_eq!(session.snapshot().pace, Pace::Paused);
    session.act(Action::Pause, 0);
    session.act(Action::Slower, 0);
    session.act(Action::Slower, 0);
    session.act(Action::Slower, 0);
    assert_eq!(session.snapshot().pace, Pace::Times(1.0));
}

#[test]
fn the_chart_shows_the_last_hour_of_the_chosen_lift() {
    let mut session = session("default");
    let mut view = LiveView::new();
    for _ in 0..70 {
        minutes(&mut session, 1);
        view.remember(&session.snapshot());
    }
    let text = screen(&view, &session.snapshot(), 100, 45);
    assert!(
        text.contains("Lift fry, the last hour") && text.contains("water, L/min"),
        "{text}"
    );
    assert!(text.chars().any(|c| ('\u{2801}'..='\u{28ff}').contains(&c)), "{text}");
}

#[test]
fn without_a_terminal_it_says_what_to_do_instead() {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["simulate", "--live"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    let text = String::from_utf8(output.stderr).unwrap();
    assert!(text.contains("--live needs a terminal"), "{text}");
}
