//! What people tell a board, and what its alarms tell them.

use super::{default, on_tcp, out, risertrim, said};
use risertrim::alarm::Standing;
use risertrim::link::{Answer, Ask};
use risertrim::step::LiftState;
use risertrim_sim::board::{Client, HostAnswer, Patience, Tcp};
use risertrim_sim::simulate::HostStep;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The board's newest step for which this holds; it makes one a second.
fn step_where(address: &str, holds: impl Fn(&HostStep) -> bool) -> HostStep {
    let tcp = Tcp::connect(address, Duration::from_secs(5)).expect("it listens");
    let (mut client, _) = Client::connect(tcp, Patience::default()).expect("it answers");
    let begin = Instant::now();
    loop {
        let answer: Result<HostAnswer, _> = client.ask(Ask::LastStep);
        match answer {
            Ok(Answer::Step(stepped)) if holds(&stepped.step) => return stepped.step,
            Ok(Answer::Step(stepped)) => assert!(begin.elapsed().as_secs() < 120, "{:?}", stepped.step),
            _ => assert!(begin.elapsed().as_secs() < 120, "no step"),
        }
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// Levels of the default place, all half way but one sensor that gives nothing.
fn one_sensor_dead() -> Vec<f32> {
    let scenario = default();
    let tanks = scenario.told.tanks.len();
    (0..tanks - 1).map(|tank| scenario.raw_reading(tank, 0.5)).collect()
}

#[test]
fn a_board_takes_what_people_tell_it_by_name_and_says_what_it_did() {
    let (_board, address) = on_tcp::<false>(one_sensor_dead());
    let sent = risertrim(&["board", "--tcp", &address, "--send", "default", "--quiet"]);
    assert_eq!(sent.status.code(), Some(0), "{}", said(&sent));
    step_where(&address, |step| {
        step.alarms.iter().any(|alarm| alarm.standing == Standing::New)
    });
    let told = risertrim(&[
        "board",
        "--tcp",
        &address,
        "-i",
        "default",
        "--tell",
        "out beds",
        "--tell",
        "hand 2 40",
        "--tell",
        "seen",
    ]);
    assert_eq!(told.status.code(), Some(0), "{}", said(&told));
    for says in [
        "lift beds is out of service",
        "the valve of lift filter goes to 40 %",
        "noted as seen",
    ] {
        assert!(said(&told).contains(says), "{says}: {}", said(&told));
    }
    // (A low level holds the lift that is set by hand: that guard stands above what people ask for.)
    let step = step_where(&address, |step| {
        step.lifts
            .get(2)
            .is_some_and(|lift| lift.state == LiftState::OutOfService)
    });
    assert!(
        step.alarms.iter().any(|alarm| alarm.standing == Standing::Seen),
        "{step:?}"
    );
    let told = risertrim(&["board", "--tcp", &address, "--tell", "in 3"]);
    assert_eq!(told.status.code(), Some(0), "{}", said(&told));
    step_where(&address, |step| {
        step.lifts
            .get(2)
            .is_some_and(|lift| lift.state != LiftState::OutOfService)
    });
}

#[test]
fn what_a_board_does_not_take_is_told_in_words_and_nothing_else_moves() {
    let (_board, address) = on_tcp::<false>(one_sensor_dead());
    let none = risertrim(&["board", "--tcp", &address, "--tell", "seen"]);
    assert_eq!(none.status.code(), Some(1), "{}", said(&none));
    assert!(said(&none).contains("send one with --send"), "{}", said(&none));
    let sent = risertrim(&["board", "--tcp", &address, "--send", "default", "--quiet"]);
    assert_eq!(sent.status.code(), Some(0), "{}", said(&sent));
    for (words, says) in [
        ("target 1 9000", "this lift cannot move half of that target"),
        ("out 8", "there is no lift with this number"),
        ("silence 250", "at most 240 minutes"),
    ] {
        let refused = risertrim(&["board", "--tcp", &address, "--tell", words]);
        assert_eq!(refused.status.code(), Some(1), "{words}: {}", said(&refused));
        assert!(said(&refused).contains(says), "{words}: {}", said(&refused));
        assert!(said(&refused).contains(words), "{words}: {}", said(&refused));
    }
    // The second lift of another place is not the second lift of this one.
    let other = risertrim(&["board", "--tcp", &address, "-i", "tight_blower", "--tell", "out 2"]);
    assert_eq!(other.status.code(), Some(2), "{}", said(&other));
    assert!(
        said(&other).contains("runs another place than this file"),
        "{}",
        said(&other)
    );
    // Found before the board is spoken to: nobody is at this address.
    for words in ["out pond", "target fry", "target fry 55,5"] {
        let refused = risertrim(&["board", "--tcp", "127.0.0.1:9", "-i", "default", "--tell", words]);
        assert_eq!(refused.status.code(), Some(2), "{words}: {}", said(&refused));
        assert!(
            !said(&refused).contains("cannot connect"),
            "{words}: {}",
            said(&refused)
        );
    }
}

#[test]
fn a_boards_alarms_come_with_names_what_they_mean_and_what_to_do() {
    let (_board, address) = on_tcp::<false>(one_sensor_dead());
    let sent = risertrim(&["board", "--tcp", &address, "--send", "default", "--quiet"]);
    assert_eq!(sent.status.code(), Some(0), "{}", said(&sent));
    let tanks = default().tank_names;
    let dead = tanks.last().expect("it has tanks");
    let step = step_where(&address, |step| step.alarms.iter().any(risertrim::alarm::Alarm::stands));
    let first = step.alarms.first().expect("one stands").kind.text();
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let events = risertrim(&["board", "--tcp", &address, "-i", "default", "--events", "--quiet"]);
    let events = plain(&out(&events));
    for part in [first.what, first.means, first.act, dead.as_str()] {
        assert!(events.contains(&plain(part)), "{part}: {events}");
    }
    let mut watch = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["board", "--tcp", &address, "-i", "default", "--watch"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program runs");
    let mut text = String::new();
    let lines = BufReader::new(watch.stdout.take().expect("piped")).lines();
    let mut times = 0;
    for line in lines.map_while(Result::ok) {
        times += u32::from(line.starts_with("lift fry"));
        text.push_str(&line);
        text.push('\n');
        if times == 2 {
            break;
        }
    }
    watch.kill().expect("it still watches");
    let _ = watch.wait();
    let text = plain(&text);
    for part in [first.what, first.means, first.act, dead.as_str()] {
        assert!(text.contains(&plain(part)), "{part}: {text}");
    }
}
