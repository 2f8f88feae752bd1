//! Alarms: what can go wrong, how urgent it is, what to tell people, and how a list of them is kept.
//!
//! In the sense of IEC 62682 and ISA-18.2: every condition has a delay and a deadband before it comes here (see
//! [`crate::guard`]), an alarm asks for something to be done, alarms that follow from another are grouped under it, and
//! whoever has seen one can say so. Alarms that must not pass unseen are latched: they stay on the list, marked as over,
//! until they are reset.

mod cause;
mod kind;
mod list;
mod text;

pub use kind::{Kind, Urgency};
pub use list::{ALARMS, LONGEST_SILENCE_MIN, List, Ways};
pub use text::Text;

use serde::{Deserialize, Serialize};

/// What an alarm is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Subject {
    /// The installation as a whole.
    Place,
    /// A tank, by index.
    Tank(u8),
    /// A lift, by index.
    Lift(u8),
}

/// What names an alarm: its kind and its subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Name {
    /// What it is.
    pub kind: Kind,
    /// What it is about.
    pub subject: Subject,
}

/// A number that belongs to an alarm.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Figure {
    /// None.
    #[default]
    None,
    /// About how long the oxygen in the water lasts if no air comes at all, minutes.
    OxygenMinutes(u16),
    /// About how long a battery lasts as things run now, minutes.
    BatteryMinutes(u16),
    /// Minutes until a limit is reached at the present pace.
    Minutes(u16),
    /// Days until something has to be done.
    Days(u16),
    /// Percent of what it should be.
    Percent(u16),
    /// Litres.
    Litres(u16),
    /// Millimetres, up or down.
    Millimetres(i16),
}

impl Figure {
    /// The number, and what it counts, in words: `about 40` minutes ... `None` when there is none.
    #[must_use]
    pub const fn words(self) -> Option<(i32, &'static str)> {
        match self {
            Self::None => None,
            Self::OxygenMinutes(n) => Some((n as i32, "min of oxygen left in the water if no air comes at all")),
            Self::BatteryMinutes(n) => Some((n as i32, "min of battery left as things run now")),
            Self::Minutes(n) => Some((n as i32, "min until the limit at this pace")),
            Self::Days(n) => Some((n as i32, "days until cleaning is due")),
            Self::Percent(n) => Some((n as i32, "% of what it should be")),
            Self::Litres(n) => Some((n as i32, "L")),
            Self::Millimetres(n) => Some((n as i32, "mm")),
        }
    }
}

/// How an alarm stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Standing {
    /// It stands and nobody has said that they saw it.
    #[default]
    New,
    /// It stands and has been seen.
    Seen,
    /// What caused it is over; it stays until it is reset.
    Over,
}

/// An alarm on the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Alarm {
    /// What it is.
    pub kind: Kind,
    /// What it is about.
    pub subject: Subject,
    /// The alarm it follows from, the first of the chain; `None` when it stands for itself.
    pub cause: Option<Name>,
    /// A number that belongs to it.
    pub figure: Figure,
    /// How it stands.
    pub standing: Standing,
    /// True while it is silenced.
    pub silent: bool,
}

impl Alarm {
    /// A new alarm of its own.
    #[must_use]
    pub const fn new(kind: Kind, subject: Subject) -> Self {
        Self {
            kind,
            subject,
            cause: None,
            figure: Figure::None,
            standing: Standing::New,
            silent: false,
        }
    }

    /// What names it.
    #[must_use]
    pub const fn name(&self) -> Name {
        Name {
            kind: self.kind,
            subject: self.subject,
        }
    }

    /// True when it is this alarm, however it stands.
    #[must_use]
    pub fn is(&self, kind: Kind, subject: Subject) -> bool {
        self.kind == kind && self.subject == subject
    }

    /// True when both are about the same thing, however they stand: what to compare lists of two steps by.
    #[must_use]
    pub fn same_as(&self, other: &Self) -> bool {
        self.is(other.kind, other.subject)
    }

    /// True while its condition stands (not only latched).
    #[must_use]
    pub fn stands(&self) -> bool {
        self.standing != Standing::Over
    }

    /// True when a horn or a message is due: new, not silenced, not the consequence of another, and not only a note for the
    /// next visit.
    #[must_use]
    pub fn sounds(&self) -> bool {
        self.standing == Standing::New && !self.silent && self.cause.is_none() && self.kind.urgency() != Urgency::Low
    }
}
