//! What lifts and tanks of a place are called, and its alarms in words.

use risertrim::alarm::{Alarm, Kind, Subject, Urgency};

/// The names of a place; without any, numbers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Names {
    /// Tanks, in order.
    pub tanks: Vec<String>,
    /// Lifts, in order.
    pub lifts: Vec<String>,
}

impl Names {
    /// `lift fry`, or `lift 1`.
    #[must_use]
    pub fn lift(&self, index: u8) -> String {
        of("lift", &self.lifts, index)
    }

    /// `tank fry`, `fry tank`, or `tank 1`.
    #[must_use]
    pub fn tank(&self, index: u8) -> String {
        of("tank", &self.tanks, index)
    }

    /// What an alarm is about: `lift beds`, `fry tank`, `place`.
    #[must_use]
    pub fn subject(&self, subject: Subject) -> String {
        match subject {
            Subject::Place => "place".to_owned(),
            Subject::Tank(tank) => self.tank(tank),
            Subject::Lift(lift) => self.lift(lift),
        }
    }

    /// Subject, what happened, what it means and what to do, as sentences.
    #[must_use]
    pub fn sentence(&self, alarm: &Alarm) -> String {
        let text = alarm.kind.text();
        let first = match alarm.subject {
            Subject::Place => capital(text.what),
            subject => capital(&format!("{}: {}", self.subject(subject), text.what)),
        };
        let mut sentence = format!("{first}. {}", meaning(alarm.kind));
        if let Some((number, what)) = alarm.figure.words() {
            sentence = format!("{sentence} About {number} {what}.");
        }
        if let Some(cause) = alarm.cause {
            let name = self.subject(cause.subject);
            sentence = format!("{sentence} It follows from: {name}: {}.", cause.kind.text().what);
        }
        sentence
    }
}

/// What an alarm means and what to do, as sentences.
#[must_use]
pub fn meaning(kind: Kind) -> String {
    let text = kind.text();
    format!("{}. {}.", capital(text.means), capital(text.act))
}

/// How soon somebody must come.
#[must_use]
pub const fn when_to_come(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::High => "now",
        Urgency::Medium => "today",
        Urgency::Low => "next visit",
    }
}

fn of(noun: &str, names: &[String], index: u8) -> String {
    match names.get(usize::from(index)) {
        Some(name) if name.split_whitespace().any(|word| word.eq_ignore_ascii_case(noun)) => name.clone(),
        Some(name) => format!("{noun} {name}"),
        None => format!("{noun} {}", u16::from(index) + 1),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
