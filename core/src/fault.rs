//! What is wrong with an installation: which field, which value, which range.

mod field;
mod why;

pub use field::Field;
pub use why::Why;

use core::fmt;

/// Where a fault stands in the [`crate::Installation`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Place {
    /// The site: water, altitude.
    Site,
    /// The blower, bleed and gauge.
    Air,
    /// The control settings.
    Settings,
    /// A tank, by index.
    Tank(u8),
    /// An outlet of a tank: tank index, outlet index.
    Outlet(u8, u8),
    /// A lift, by index.
    Lift(u8),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Site => f.write_str("site"),
            Self::Air => f.write_str("air"),
            Self::Settings => f.write_str("settings"),
            Self::Tank(tank) => write!(f, "tank {}", u16::from(*tank) + 1),
            Self::Outlet(tank, outlet) => write!(f, "tank {}, outlet {}", u16::from(*tank) + 1, u16::from(*outlet) + 1),
            Self::Lift(lift) => write!(f, "lift {}", u16::from(*lift) + 1),
        }
    }
}

/// Why a value is refused.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reason {
    /// Outside this range (both ends allowed).
    Range {
        /// Lowest value allowed.
        low: f32,
        /// Highest value allowed.
        high: f32,
    },
    /// Impossible or dangerous in this installation; the text says why and what to do.
    Because(Why),
}

/// One fault of an installation.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fault {
    /// Where it stands.
    pub place: Place,
    /// The field.
    pub field: Field,
    /// The value found, in the field's unit (0 when it has none).
    pub value: f32,
    /// What is allowed, or why not.
    pub reason: Reason,
    /// False for a fault that stops the controller from starting, true for one it only warns about.
    pub only_warns: bool,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.reason {
            Reason::Range { low, high } => {
                write!(
                    f,
                    "{}: {} is {}, allowed {} to {}",
                    self.place, self.field, self.value, low, high
                )
            }
            Reason::Because(why) => write!(f, "{}: {} {}: {}", self.place, self.field, self.value, why),
        }
    }
}

/// How many faults a [`Faults`] names one by one; more are counted.
pub const FAULTS_NAMED: usize = 24;

/// All faults found, the first [`FAULTS_NAMED`] of them by name.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Faults {
    named: heapless::Vec<Fault, FAULTS_NAMED>,
    fatal: u16,
    warnings: u16,
}

impl Faults {
    /// Adds one. A fatal fault that finds no room replaces a warning.
    pub fn add(&mut self, fault: Fault) {
        let counter = if fault.only_warns {
            &mut self.warnings
        } else {
            &mut self.fatal
        };
        *counter = counter.saturating_add(1);
        if let Err(left_over) = self.named.push(fault)
            && !left_over.only_warns
            && let Some(place) = self.named.iter_mut().find(|named| named.only_warns)
        {
            *place = left_over;
        }
    }

    /// The faults that are named.
    #[must_use]
    pub fn named(&self) -> &[Fault] {
        &self.named
    }

    /// Faults that stop the controller from starting.
    #[must_use]
    pub fn fatal(&self) -> usize {
        usize::from(self.fatal)
    }

    /// Faults that only warn.
    #[must_use]
    pub fn warnings(&self) -> usize {
        usize::from(self.warnings)
    }

    /// Tanks that run over with every valve open, a bit each; those among the named faults.
    #[must_use]
    pub fn overflows_too_small(&self) -> u32 {
        let mut tanks = 0;
        for fault in &self.named {
            if let (Place::Tank(tank), true) = (fault.place, fault.only_warns && fault.field == Field::RimM) {
                tanks |= 1u32.checked_shl(u32::from(tank)).unwrap_or(0);
            }
        }
        tanks
    }

    /// True when nothing stops the controller from starting.
    #[must_use]
    pub fn can_start(&self) -> bool {
        self.fatal == 0
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.named.iter().enumerate() {
            if index > 0 {
                f.write_str("; ")?;
            }
            fault.fmt(f)?;
        }
        let all = usize::from(self.fatal).saturating_add(self.warnings.into());
        match all.saturating_sub(self.named.len()) {
            0 if all == 0 => f.write_str("no faults"),
            0 => Ok(()),
            more => write!(f, "; and {more} more"),
        }
    }
}

impl core::error::Error for Faults {}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::string::ToString;

    fn of(lift: u8) -> Fault {
        Fault {
            place: Place::Lift(lift),
            field: Field::Target,
            value: 0.5,
            reason: Reason::Range { low: 0.0, high: 0.25 },
            only_warns: false,
        }
    }

    #[test]
    fn all_faults_are_an_error_that_names_each_with_its_unit_and_counts_the_rest() {
        let mut faults = Faults::default();
        for lift in 0..26 {
            faults.add(of(lift));
        }
        let error: &dyn core::error::Error = &faults;
        let said = error.to_string();
        assert!(
            said.starts_with("lift 1: target.m3_s is 0.5, allowed 0 to 0.25; lift 2: "),
            "{said}"
        );
        assert!(said.ends_with("; and 2 more"), "{said}");
        assert_eq!(said.matches("target.m3_s").count(), FAULTS_NAMED);
        assert_eq!(Faults::default().to_string(), "no faults");
    }
}
