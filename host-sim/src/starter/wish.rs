//! What somebody wants.

use crate::scenario::{LIFTS, TANKS};
use std::fmt;
use std::str::FromStr;

/// One lift and the tank it fills.
#[derive(Clone, Debug, PartialEq)]
pub struct LiftWish {
    /// Name of the lift; its tank is called the same with "tank" behind it.
    pub name: String,
    /// Water it is to deliver, L/min; 20 to 800.
    pub l_min: f64,
    /// Fish live in the tank it fills.
    pub fish: bool,
}

/// A place in a few words.
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// Name of the place.
    pub name: String,
    /// Water temperature, C; 4 to 35.
    pub water_c: f64,
    /// Height above the sea, m; -100 to 3000.
    pub altitude_m: f64,
    /// The lifts, all out of one sump.
    pub lifts: Vec<LiftWish>,
}

/// Why a wish cannot be taken.
#[derive(Clone, Debug, PartialEq)]
pub struct WishFault {
    /// What it is about.
    pub field: String,
    /// As given.
    pub value: String,
    /// What is allowed.
    pub allowed: String,
}

impl fmt::Display for WishFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is {}; allowed: {}", self.field, self.value, self.allowed)
    }
}

impl std::error::Error for WishFault {}

/// Least and most of each number asked for.
pub(super) const L_MIN: (f64, f64) = (20.0, 800.0);
pub(super) const WATER_C: (f64, f64) = (4.0, 35.0);
pub(super) const ALTITUDE_M: (f64, f64) = (-100.0, 3_000.0);
/// One tank of the host's is the sump.
pub(super) const MOST_LIFTS: usize = if LIFTS < TANKS { LIFTS } else { TANKS - 1 };
/// Longest name.
const MOST_LETTERS: usize = 40;

/// A number in a range.
pub(super) fn number(field: &str, text: &str, (low, high): (f64, f64), unit: &str) -> Result<f64, WishFault> {
    let text = text.trim();
    match text.parse::<f64>() {
        Ok(value) if (low..=high).contains(&value) => Ok(value),
        _ => Err(WishFault {
            field: field.to_owned(),
            value: format!("\"{text}\""),
            allowed: format!("a number from {low} to {high} {unit}"),
        }),
    }
}

/// A name that can stand in the file.
pub(super) fn name(field: &str, text: &str) -> Result<String, WishFault> {
    let text = text.trim();
    let sound = !text.is_empty()
        && text.chars().count() <= MOST_LETTERS
        && !text.chars().any(|c| c.is_control() || c == '"' || c == '\\');
    if sound {
        Ok(text.to_owned())
    } else {
        Err(WishFault {
            field: field.to_owned(),
            value: format!("\"{text}\""),
            allowed: format!("1 to {MOST_LETTERS} letters, no quotation marks"),
        })
    }
}

impl FromStr for LiftWish {
    type Err = WishFault;

    /// `NAME:L_MIN`, and `:fish` behind it where fish live.
    fn from_str(text: &str) -> Result<Self, WishFault> {
        let fault = || WishFault {
            field: "a lift".to_owned(),
            value: format!("\"{text}\""),
            allowed: "NAME:L_MIN or NAME:L_MIN:fish, for example fry:50:fish".to_owned(),
        };
        let parts: Vec<&str> = text.split(':').collect();
        let (lift, l_min, fish) = match parts[..] {
            [lift, l_min] => (lift, l_min, false),
            [lift, l_min, "fish"] => (lift, l_min, true),
            _ => return Err(fault()),
        };
        Ok(Self {
            name: name("the name of a lift", lift)?,
            l_min: number(&format!("the water of lift {lift}"), l_min, L_MIN, "L/min")?,
            fish,
        })
    }
}

impl Wish {
    /// Every fault of the wish as a whole and in its numbers.
    #[must_use]
    pub fn faults(&self) -> Vec<WishFault> {
        let mut faults = Vec::new();
        let mut check = |done: Result<(), WishFault>| faults.extend(done.err());
        check(name("the name of the place", &self.name).map(drop));
        let range = |field: &str, value: f64, range, unit| number(field, &value.to_string(), range, unit).map(drop);
        check(range("the water temperature", self.water_c, WATER_C, "C"));
        check(range("the altitude", self.altitude_m, ALTITUDE_M, "m"));
        let count = self.lifts.len();
        if count == 0 || count > MOST_LIFTS {
            check(Err(WishFault {
                field: "the number of lifts".to_owned(),
                value: count.to_string(),
                allowed: format!("1 to {MOST_LIFTS}"),
            }));
        }
        for (index, lift) in self.lifts.iter().enumerate() {
            check(name("the name of a lift", &lift.name).map(drop));
            check(range(
                &format!("the water of lift {}", lift.name),
                lift.l_min,
                L_MIN,
                "L/min",
            ));
            let twice = self.lifts.iter().take(index).any(|other| other.name == lift.name);
            if twice || lift.name == "sump" {
                check(Err(WishFault {
                    field: "the name of a lift".to_owned(),
                    value: format!("\"{}\"", lift.name),
                    allowed: "a name of its own, other than sump".to_owned(),
                }));
            }
        }
        faults
    }
}
