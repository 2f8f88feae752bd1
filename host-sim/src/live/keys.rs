//! What a key asks for.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Action {
    /// The next lift is the one that keys are about.
    NextLift,
    /// The lift before.
    PreviousLift,
    /// Change the target of the lift by this share of it.
    Target(f64),
    /// Shut the lift by hand and tell the controller; open it again.
    Shut,
    /// Clog the first outlet of the tank that the lift fills by half, without telling; clear it again.
    Clog,
    /// Somebody has seen every alarm.
    Seen,
    /// Takes alarms off the list that are over.
    Reset,
    /// Time stands still, or goes on.
    Pause,
    /// Time passes faster.
    Faster,
    /// Time passes slower.
    Slower,
    /// Leave.
    Quit,
}

/// The keys, for the foot of the view.
pub(super) const HELP: &str = "up/down lift  +/- target  s shut  c clog return  a seen, and what alarms doubt believed  r reset  space pause  >/< pace  q quit";

/// What this key asks for, if anything.
#[must_use]
pub fn action(key: KeyEvent) -> Option<Action> {
    if key.kind == KeyEventKind::Release {
        return None;
    }
    if key.modifiers.contains(KeyModifiers::CONTROL) {
        return (key.code == KeyCode::Char('c')).then_some(Action::Quit);
    }
    Some(match key.code {
        KeyCode::Down | KeyCode::Tab => Action::NextLift,
        KeyCode::Up | KeyCode::BackTab => Action::PreviousLift,
        KeyCode::Char('+' | '=') => Action::Target(0.05),
        KeyCode::Char('-') => Action::Target(-0.05),
        KeyCode::Char('s') => Action::Shut,
        KeyCode::Char('c') => Action::Clog,
        KeyCode::Char('a') => Action::Seen,
        KeyCode::Char('r') => Action::Reset,
        KeyCode::Char(' ') => Action::Pause,
        KeyCode::Char('>' | '.') | KeyCode::Right => Action::Faster,
        KeyCode::Char('<' | ',') | KeyCode::Left => Action::Slower,
        KeyCode::Char('q') | KeyCode::Esc => Action::Quit,
        _ => return None,
    })
}
