//! The questions.

use super::wish::{ALTITUDE_M, L_MIN, LiftWish, MOST_LIFTS, WATER_C, Wish, WishFault, name, number};
use std::io::{self, BufRead, Write};

/// Asks for a place. An empty answer takes what stands in brackets; an answer that cannot be is asked for again.
///
/// # Errors
/// The answers ended before the questions did, or cannot be read.
pub fn ask(answers: &mut dyn BufRead, questions: &mut dyn Write) -> io::Result<Wish> {
    let mut asking = Asking { answers, questions };
    let place = asking.until("Name of the place", "My place", |text| name("the name", text))?;
    let water_c = asking.until("Temperature of the water, C", "22", |text| {
        number("the temperature", text, WATER_C, "C")
    })?;
    let altitude_m = asking.until("Height above the sea, m", "0", |text| {
        number("the height", text, ALTITUDE_M, "m")
    })?;
    #[allow(clippy::cast_precision_loss)] // a dozen
    let most = MOST_LIFTS as f64;
    let count = asking.until("How many lifts, all out of one sump", "2", |text| {
        let count = number("the number", text, (1.0, most), "lifts")?;
        if count.fract() == 0.0 {
            Ok(count)
        } else {
            Err(WishFault {
                field: "the number of lifts".to_owned(),
                value: text.trim().to_owned(),
                allowed: "a whole number".to_owned(),
            })
        }
    })?;
    let mut lifts: Vec<LiftWish> = Vec::new();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 1 to a dozen
    for index in 1..=count as usize {
        let usual = format!("lift {index}");
        let taken: Vec<String> = lifts.iter().map(|lift| lift.name.clone()).collect();
        let called = asking.until(&format!("Name of lift {index}"), &usual, |text| {
            let text = name("the name", text)?;
            if text == "sump" || taken.contains(&text) {
                return Err(WishFault {
                    field: "the name".to_owned(),
                    value: text,
                    allowed: "a name of its own, other than sump".to_owned(),
                });
            }
            Ok(text)
        })?;
        let l_min = asking.until(&format!("Water that {called} is to deliver, L/min"), "60", |text| {
            number("the water", text, L_MIN, "L/min")
        })?;
        let fish = asking.until("Do fish live in the tank it fills (yes or no)", "no", yes)?;
        lifts.push(LiftWish {
            name: called,
            l_min,
            fish,
        });
    }
    Ok(Wish {
        name: place,
        water_c,
        altitude_m,
        lifts,
    })
}

fn yes(text: &str) -> Result<bool, WishFault> {
    match text.trim().to_lowercase().as_str() {
        "yes" | "y" => Ok(true),
        "no" | "n" => Ok(false),
        _ => Err(WishFault {
            field: "the answer".to_owned(),
            value: text.trim().to_owned(),
            allowed: "yes or no".to_owned(),
        }),
    }
}

struct Asking<'a> {
    answers: &'a mut dyn BufRead,
    questions: &'a mut dyn Write,
}

impl Asking<'_> {
    fn until<T>(
        &mut self,
        question: &str,
        usual: &str,
        mut take: impl FnMut(&str) -> Result<T, WishFault>,
    ) -> io::Result<T> {
        loop {
            write!(self.questions, "{question} [{usual}]: ")?;
            self.questions.flush()?;
            let mut answer = String::new();
            if self.answers.read_line(&mut answer)? == 0 {
                return Err(io::Error::new(
                    io::ErrorKind::UnexpectedEof,
                    format!("no answer to \"{question}\""),
                ));
            }
            let answer = answer.trim();
            match take(if answer.is_empty() { usual } else { answer }) {
                Ok(value) => return Ok(value),
                Err(fault) => writeln!(self.questions, "  {fault}")?,
            }
        }
    }
}
