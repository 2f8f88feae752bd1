//! Numbers on the command line: within their range, or a word on what to give.

use std::ops::RangeInclusive;

/// A number within a range, of what `of` names.
fn number(text: &str, of: &str, range: &RangeInclusive<f64>) -> Result<f64, String> {
    if let Ok(number) = text.parse::<f64>()
        && range.contains(&number)
    {
        return Ok(number);
    }
    let pointed = text.replace(',', ".");
    let comma = if pointed != text && pointed.parse::<f64>().is_ok() {
        format!("; a decimal point is a point: {pointed}")
    } else {
        String::new()
    };
    Err(format!(
        "give a number of {of} from {} to {}{comma}",
        range.start(),
        range.end()
    ))
}

/// Simulated hours: ten years at most.
pub(super) fn hours(text: &str) -> Result<f64, String> {
    number(text, "hours", &(0.01..=87_600.0))
}

/// Seconds: a day at most.
pub(super) fn seconds(text: &str) -> Result<f64, String> {
    number(text, "seconds", &(0.1..=86_400.0))
}

/// Years.
pub(super) fn years(text: &str) -> Result<f64, String> {
    number(text, "years", &(0.01..=30.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_out_of_range_or_with_a_comma_is_told_what_to_give() {
        assert_eq!(hours("1.5"), Ok(1.5));
        for wrong in ["0", "-1", "1e300", "nan", "inf", "long", ""] {
            let said = hours(wrong).expect_err(wrong);
            assert_eq!(said, "give a number of hours from 0.01 to 87600");
        }
        let said = seconds("1,5").expect_err("a comma");
        assert!(
            said.contains("from 0.1 to 86400; a decimal point is a point: 1.5"),
            "{said}"
        );
        assert!(years("31").is_err());
    }
}
