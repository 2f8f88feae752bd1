//! What a board shows of itself: what it does now, and what happened on it.

use super::super::failure::Failure;
use super::super::print;
use super::picture::{Picture, lines};
use super::words::entry_text;
use risertrim::link::{Answer, Ask};
use risertrim_sim::board::{BoardError, Client, Wire};
use risertrim_sim::names::Names;
use std::thread;
use std::time::Duration;

/// Shows what the board does of itself: drawn over itself on a terminal, otherwise a few lines for every step seen.
pub fn watch(client: &mut Client<Box<dyn Wire>>, names: &Names) -> Result<(), Failure> {
    let mut picture = Picture::new(false, names.clone());
    let mut shown = None;
    loop {
        match client.ask(Ask::LastStep) {
            Ok(Answer::Step(stepped)) => {
                let step = stepped.step;
                let time_s = f64::from(step.now.0) * 1e-3;
                if picture.wanted() {
                    picture.show(time_s, &step);
                } else if shown != Some(step.now) {
                    shown = Some(step.now);
                    print(&lines(names, time_s, &step))?;
                }
            }
            Ok(_) => return Err(BoardError::WrongAnswer.into()),
            Err(BoardError::Not(not)) => eprintln!("{not}"),
            Err(error) => return Err(error.into()),
        }
        thread::sleep(Duration::from_secs(1));
    }
}

/// What happened on the board, a line each; below an alarm what it means and what to do.
pub fn events(client: &mut Client<Box<dyn Wire>>, names: &Names) -> Result<String, Failure> {
    let mut text = String::new();
    let mut next = 0;
    loop {
        let Answer::Log { from, end, entries } = client.ask(Ask::Log { from: next })? else {
            return Err(BoardError::WrongAnswer.into());
        };
        for entry in &entries {
            text.push_str(&entry_text(entry, names));
        }
        next = from.wrapping_add(u32::try_from(entries.len()).unwrap_or(0));
        if entries.is_empty() || next == end {
            return Ok(text);
        }
    }
}
