//! What a person tells a board, in words.

use risertrim::units::WaterFlow;
use risertrim::{Command, Opening};
use std::str::FromStr;

/// All that can be told, and what comes of it.
const ALL: &[(&str, &str)] = &[
    ("target LIFT L/MIN", "its target from now on, approached slowly"),
    ("hand LIFT PERCENT", "its valve goes there and stays"),
    ("auto LIFT", "it is trimmed to its target again"),
    ("out LIFT", "out of service: it moves no water"),
    ("in LIFT", "it is back in service and trimmed"),
    ("commission LIFT", "it is measured as soon as its turn comes"),
    (
        "essential on|off",
        "every lift on its air floor, fish first; or no more",
    ),
    ("backup on|off", "the blower runs on its backup; or the mains is back"),
    (
        "seen",
        "the alarms that stand are noted as seen, and what they doubt is believed from\n                     \
         now on: every level sensor that jumped, and every lift that gives more than\n                     \
         it ever did. Look first; to quiet the horn alone: silence",
    ),
    ("reset", "alarms that are over go off the list"),
    (
        "silence MINUTES",
        "quiets the horn and nothing else: the alarms that stand are silent for so long,\n                     \
         0 (ends it) to 240",
    ),
];

/// What can be told, for people.
pub fn help() -> String {
    let mut text = String::from("A board is told --tell \"WORDS\", once or more:\n");
    for (words, comes_of_it) in ALL {
        text.push_str(&format!("  {words:<18} {comes_of_it}\n"));
    }
    text.push_str("LIFT is its name in the place that -i gives, or its number from 1.\n");
    text
}

/// A command whose lift is named as the person named it.
#[derive(Clone, Debug, PartialEq)]
pub struct Telling {
    /// As it was written.
    pub words: String,
    what: What,
}

#[derive(Clone, Debug, PartialEq)]
enum What {
    Help,
    Lift { name: String, does: Does },
    Place(Command),
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Does {
    Target(f32),
    Hand(f32),
    Auto,
    Out,
    Commission,
}

impl FromStr for Telling {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let what = match words.as_slice() {
            ["help"] => What::Help,
            ["target", name @ .., flow] if !name.is_empty() => lift(name, Does::Target(number(flow, "L/min")?)),
            ["hand", name @ .., share] if !name.is_empty() => {
                let percent = number(share, "percent")?;
                if percent > 100.0 {
                    return Err(format!("{share} percent is more than open: give 0 to 100"));
                }
                lift(name, Does::Hand(percent))
            }
            ["auto" | "in", name @ ..] if !name.is_empty() => lift(name, Does::Auto),
            ["out", name @ ..] if !name.is_empty() => lift(name, Does::Out),
            ["commission", name @ ..] if !name.is_empty() => lift(name, Does::Commission),
            ["essential", "on"] => What::Place(Command::EssentialAir(true)),
            ["essential", "off"] => What::Place(Command::EssentialAir(false)),
            ["backup", "on"] => What::Place(Command::OnBackup(true)),
            ["backup", "off"] => What::Place(Command::OnBackup(false)),
            ["seen"] => What::Place(Command::Acknowledge),
            ["reset"] => What::Place(Command::ResetLatched),
            ["silence", minutes] => What::Place(Command::Silence {
                minutes: minutes
                    .parse()
                    .map_err(|_| format!("\"{minutes}\" is no number of minutes: give 0 (ends a silence) to 240"))?,
            }),
            _ => {
                let all: Vec<&str> = ALL.iter().map(|(words, _)| *words).collect();
                return Err(format!("a board can be told: {}", all.join(", ")));
            }
        };
        Ok(Self {
            words: words.join(" "),
            what,
        })
    }
}

fn lift(name: &[&str], does: Does) -> What {
    What::Lift {
        name: name.join(" "),
        does,
    }
}

fn number(text: &str, unit: &str) -> Result<f32, String> {
    match text.parse::<f32>() {
        Ok(number) if number.is_finite() && number >= 0.0 => Ok(number),
        _ => Err(format!(
            "\"{text}\" is no number of {unit}: give 0 or more, with a decimal point, without the unit"
        )),
    }
}

impl Telling {
    /// Somebody asks what can be told.
    pub fn asks_for_help(&self) -> bool {
        self.what == What::Help
    }

    /// The command, and what becomes true once it is taken. Lifts go by the names of their place, or by their numbers.
    ///
    /// # Errors
    /// No lift is called so; in words.
    pub fn command(&self, names: &[String]) -> Result<(Command, String), String> {
        let (name, does) = match &self.what {
            What::Help => return Err(help()),
            What::Place(command) => return Ok((*command, place_words(*command))),
            What::Lift { name, does } => (name, *does),
        };
        let lift = index(name, names)?;
        let about = names.get(usize::from(lift)).unwrap_or(name);
        Ok(match does {
            Does::Target(flow) => (
                Command::Target {
                    lift,
                    flow: WaterFlow::from_l_min(flow),
                },
                format!("the target of lift {about} is {flow} L/min from now on, approached slowly"),
            ),
            Does::Hand(percent) => (
                Command::Manual {
                    lift,
                    opening: Opening::new(percent / 100.0),
                },
                format!("the valve of lift {about} goes to {percent} % and stays there until \"auto {about}\""),
            ),
            Does::Auto => (
                Command::Automatic { lift },
                format!("lift {about} is trimmed to its target again"),
            ),
            Does::Out => (
                Command::OutOfService { lift },
                format!("lift {about} is out of service and moves no water until \"in {about}\""),
            ),
            Does::Commission => (
                Command::Commission { lift },
                format!("lift {about} will be measured as soon as its turn comes; --watch shows it"),
            ),
        })
    }
}

fn place_words(command: Command) -> String {
    match command {
        Command::EssentialAir(true) => "essential air: every lift on its air floor, fish first".to_owned(),
        Command::EssentialAir(false) => "essential air is over".to_owned(),
        Command::OnBackup(true) => "the blower runs on its backup: essential air".to_owned(),
        Command::OnBackup(false) => "the mains is back".to_owned(),
        Command::Acknowledge => {
            "the alarms that stand are noted as seen; every sensor that jumped and every gain of flow is believed from now on".to_owned()
        }
        Command::ResetLatched => "alarms that are over are off the list".to_owned(),
        Command::Silence { minutes: 0 } => "the silence is over".to_owned(),
        Command::Silence { minutes } => format!("the alarms that stand are silent for {minutes} minutes"),
        _ => "done".to_owned(),
    }
}

/// The lift of this name, else of this number, counted from 1.
fn index(name: &str, names: &[String]) -> Result<u8, String> {
    if let Some(place) = names.iter().position(|known| known == name) {
        return u8::try_from(place).map_err(|_| format!("lift \"{name}\" has no number a board knows"));
    }
    match name.parse::<u8>() {
        Ok(number @ 1..) => Ok(number - 1),
        _ if names.is_empty() => Err(format!(
            "lift \"{name}\" has no number: give its place's file by --installation, or the lift's number"
        )),
        _ => Err(format!("there is no lift \"{name}\"; there are: {}", names.join(", "))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names() -> Vec<String> {
        ["fry", "long beds", "3rd"].map(str::to_owned).to_vec()
    }

    fn told(text: &str) -> Result<Command, String> {
        let telling: Telling = text.parse()?;
        telling.command(&names()).map(|(command, _)| command)
    }

    #[test]
    fn help_says_that_seen_is_also_believing_and_what_quiets_the_horn() {
        let help = super::help().split_whitespace().collect::<Vec<_>>().join(" ");
        let of = |word: &str, next: &str| {
            let from = help
                .find(&format!(" {word} "))
                .unwrap_or_else(|| panic!("{word} is not in {help}"));
            help[from..].split(next).next().unwrap_or_default().to_owned()
        };
        let seen = of("seen the", " reset ");
        assert!(
            seen.contains("believed") && seen.contains("sensor") && seen.contains("gives more"),
            "{seen}"
        );
        assert!(of("silence MINUTES", "LIFT is").contains("horn and nothing else"));
        assert!(super::help().lines().all(|line| line.chars().count() <= 102));
    }

    #[test]
    fn every_command_has_its_words() {
        let flow = WaterFlow::from_l_min(55.0);
        let opening = Opening::new(0.4);
        for (text, command) in [
            ("target fry 55", Command::Target { lift: 0, flow }),
            ("target long beds 55.0", Command::Target { lift: 1, flow }),
            ("hand 3 40", Command::Manual { lift: 2, opening }),
            ("auto fry", Command::Automatic { lift: 0 }),
            ("in  fry", Command::Automatic { lift: 0 }),
            ("out 3rd", Command::OutOfService { lift: 2 }),
            ("commission long beds", Command::Commission { lift: 1 }),
            ("essential on", Command::EssentialAir(true)),
            ("essential off", Command::EssentialAir(false)),
            ("backup on", Command::OnBackup(true)),
            ("backup off", Command::OnBackup(false)),
            ("seen", Command::Acknowledge),
            ("reset", Command::ResetLatched),
            ("silence 30", Command::Silence { minutes: 30 }),
        ] {
            assert_eq!(told(text), Ok(command), "{text}");
        }
    }

    #[test]
    fn what_is_not_understood_is_told_with_what_would_be() {
        for (text, says) in [
            ("", "a board can be told: target"),
            ("target fry", "a board can be told: target"),
            ("stop", "a board can be told: target"),
            ("target fry 55,5", "with a decimal point"),
            ("target fry -1", "0 or more"),
            ("target fry nan", "0 or more"),
            ("hand fry 400", "give 0 to 100"),
            ("silence 400", "0 (ends a silence) to 240"),
            ("out pond", "there are: fry, long beds, 3rd"),
            ("out 0", "there are: fry, long beds, 3rd"),
        ] {
            let why = told(text).expect_err(text);
            assert!(why.contains(says), "{text}: {why}");
        }
    }
}
