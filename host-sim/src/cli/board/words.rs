//! What a board says, in words.

use risertrim::ResetCause;
use risertrim::link::{Event, Hello, LogEntry, Running};
use risertrim_sim::names::{Names, meaning};
use risertrim_sim::output::wrapped;
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
        Running::Stopped => "STOPPED at fixed openings after several resets: find out why, then --run-again",
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

/// An event of the board's own log; below an alarm what it means and what to do.
pub fn entry_text(entry: &LogEntry, names: &Names) -> String {
    let named = |name: &risertrim::alarm::Name| format!("{}: {}", names.subject(name.subject), name.kind.text().what);
    let what = match &entry.event {
        Event::Started(why) => format!("started {}", cause(*why)),
        Event::Raised(name) => format!("ALARM {}", named(name)),
        Event::Cleared(name) => format!("over  {}", named(name)),
        Event::ValveFault { lift } => format!("the valve of {} cannot be driven", names.lift(*lift)),
        Event::ValveDriven { lift } => format!("the valve of {} can be driven again", names.lift(*lift)),
        Event::BlowerFault => "the blower cannot be set".to_owned(),
        Event::BlowerDriven => "the blower can be set again".to_owned(),
        Event::Refused(why) => format!("a command was refused: {why}"),
        Event::Stopped => "stopped after several resets: fixed openings until --run-again".to_owned(),
        Event::Acknowledged => "the stop was acknowledged".to_owned(),
        Event::KeptRejected => "what was kept could not be used".to_owned(),
        Event::StoreFailed => "something could not be written to the store".to_owned(),
        Event::InstallationTaken { fingerprint } => format!("installation {fingerprint:08x} taken over"),
        Event::InstallationRefused { faults } => format!("an installation with {faults} faults was refused"),
        Event::InstallationTakenBack => "the new installation was taken back after a reset".to_owned(),
        Event::LinkLost => "the host fell silent: fixed openings".to_owned(),
        Event::LinkBack => "the host speaks again".to_owned(),
    };
    let mut text = format!("{:>10.1} s  {what}\n", f64::from(entry.at.0) * 1e-3);
    if let Event::Raised(name) = &entry.event {
        text.push_str(&wrapped(&format!("                    {}", meaning(name.kind)), 20));
    }
    text
}
