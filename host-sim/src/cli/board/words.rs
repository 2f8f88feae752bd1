//! What a board says, in words.

use risertrim::ResetCause;
use risertrim::link::{Event, Hello, LogEntry, Running};
use std::fmt::Write as _;

/// What a board says of itself.
pub fn describe(hello: &Hello) -> String {
    let mut text = format!("board for up to {} lifts and {} tanks", hello.lifts, hello.tanks);
    let _ = match hello.fingerprint {
        Some(mark) => write!(text, ", installation {mark:08x}"),
        None => write!(text, ", no installation"),
    };
    let _ = write!(text, "; {}; started {}", running(hello.running), cause(hello.reset));
    text.push('\n');
    if hello.bench {
        text.push_str("BENCH MODE: its levels come from here, and so do the openings of any valve connected to it.\n");
    }
    text
}

fn running(running: Running) -> &'static str {
    match running {
        Running::NoInstallation => "waits at fixed openings for an installation",
        Running::Trimming => "trims",
        Running::LinkLost => "at fixed openings: its host fell silent",
        Running::Stopped => "STOPPED at fixed openings after several resets: find out why, then --acknowledge",
    }
}

fn cause(cause: ResetCause) -> &'static str {
    match cause {
        ResetCause::PowerOn => "when power came",
        ResetCause::BrownOut => "after the supply dipped",
        ResetCause::Watchdog => "by its watchdog",
        ResetCause::Panic => "after a fault of its program",
        ResetCause::HardFault => "after a fault of its processor",
        ResetCause::Asked => "because it was asked to",
        ResetCause::Pin => "by its reset pin",
        ResetCause::Fault => "after a fault of its program or processor",
        ResetCause::Simulated => "in a simulation",
        ResetCause::Unknown => "for a reason it does not know",
    }
}

/// An event of the board's own log.
pub fn entry_text(entry: &LogEntry) -> String {
    let named = |name: &risertrim::alarm::Name| format!("{}: {}", numbered(name.subject), name.kind.text().what);
    let what = match &entry.event {
        Event::Started(why) => format!("started {}", cause(*why)),
        Event::Raised(name) => format!("ALARM {}", named(name)),
        Event::Cleared(name) => format!("over  {}", named(name)),
        Event::ValveFault { lift } => format!("the valve of lift {} cannot be driven", u16::from(*lift) + 1),
        Event::ValveDriven { lift } => format!("the valve of lift {} can be driven again", u16::from(*lift) + 1),
        Event::BlowerFault => "the blower cannot be set".to_owned(),
        Event::BlowerDriven => "the blower can be set again".to_owned(),
        Event::Refused(why) => format!("a command was refused: {why}"),
        Event::Stopped => "stopped after several resets: fixed openings until acknowledged".to_owned(),
        Event::Acknowledged => "the stop was acknowledged".to_owned(),
        Event::KeptRejected => "what was kept could not be used".to_owned(),
        Event::StoreFailed => "something could not be written to the store".to_owned(),
        Event::InstallationTaken { fingerprint } => format!("installation {fingerprint:08x} taken over"),
        Event::InstallationRefused { faults } => format!("an installation with {faults} faults was refused"),
        Event::InstallationTakenBack => "the new installation was taken back after a reset".to_owned(),
        Event::LinkLost => "the host fell silent: fixed openings".to_owned(),
        Event::LinkBack => "the host speaks again".to_owned(),
    };
    format!("{:>10.1} s  {what}", f64::from(entry.at.0) * 1e-3)
}

fn numbered(subject: risertrim::alarm::Subject) -> String {
    use risertrim::alarm::Subject;
    match subject {
        Subject::Place => "place".to_owned(),
        Subject::Tank(tank) => format!("tank {}", u16::from(tank) + 1),
        Subject::Lift(lift) => format!("lift {}", u16::from(lift) + 1),
    }
}
