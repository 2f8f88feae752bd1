//! The terminal itself.

use super::keys::{Action, action};
use super::session::Source;
use super::view::LiveView;
use crate::simulate::SimulateError;
use ratatui::DefaultTerminal;
use ratatui::crossterm::event::{self, Event};
use std::io;
use std::time::{Duration, Instant};

/// Time between two pictures.
const FRAME: Duration = Duration::from_millis(100);

/// Gives the terminal back as it was, whichever way the view ends.
struct Restored;

impl Drop for Restored {
    fn drop(&mut self) {
        ratatui::restore();
    }
}

/// Shows a source until somebody quits. The terminal is left as it was found, also after a failure or a panic.
///
/// # Errors
/// There is no terminal, or the source cannot go on.
pub fn watch(source: &mut dyn Source) -> Result<(), SimulateError> {
    // Sets a panic hook that gives the terminal back before the message is printed.
    let mut terminal = ratatui::try_init()?;
    let restored = Restored;
    let done = run(&mut terminal, source);
    drop(restored);
    done
}

fn run(terminal: &mut DefaultTerminal, source: &mut dyn Source) -> Result<(), SimulateError> {
    let mut view = LiveView::new();
    let mut last = Instant::now();
    loop {
        let now = Instant::now();
        source.advance(now - last)?;
        last = now;
        let snapshot = source.snapshot();
        view.remember(&snapshot);
        terminal.draw(|frame| view.draw(frame, &snapshot))?;
        if let Some(action) = next_action(FRAME.saturating_sub(now.elapsed()))? {
            if action == Action::Quit {
                return Ok(());
            }
            view.take(action, snapshot.lifts.len());
            view.say(source.act(action, view.selected()));
        }
    }
}

/// What the next key asks for, if one comes in time.
fn next_action(wait: Duration) -> io::Result<Option<Action>> {
    if !event::poll(wait)? {
        return Ok(None);
    }
    Ok(match event::read()? {
        Event::Key(key) => action(key),
        _ => None,
    })
}
