//! Guesses at what was meant: a name spelt wrong, a value in another unit.

use std::ops::RangeInclusive;

/// Ways to be wrong by a unit: the ending of the key, what may have been written, what to multiply it by.
const SLIPS: &[(&str, &str, f64)] = &[
    ("_dm3_s_bar", "L/(min bar)", 1.0 / 60.0),
    ("_dm3_s_bar", "m3/(s Pa)", 1.0e8),
    ("_l_min", "L/s", 60.0),
    ("_l_min", "L/h", 1.0 / 60.0),
    ("_l_min", "m3/h", 1000.0 / 60.0),
    ("_l_min", "m3/min", 1000.0),
    ("_l_min", "mL/min", 0.001),
    ("_l_day", "m3/day", 1000.0),
    ("_l", "m3", 1000.0),
    ("_mm", "cm", 10.0),
    ("_mm", "inches", 25.4),
    ("_mm", "m", 1000.0),
    ("_mm", "micrometres", 0.001),
    ("_m2", "cm2", 1.0e-4),
    ("_m2", "mm2", 1.0e-6),
    ("_m", "mm", 0.001),
    ("_m", "cm", 0.01),
    ("_m", "inches", 0.0254),
    ("_m", "km", 1000.0),
    ("_kpa", "Pa", 0.001),
    ("_kpa", "mbar", 0.1),
    ("_kpa", "bar", 100.0),
    ("_kpa", "MPa", 1000.0),
    ("_min", "s", 1.0 / 60.0),
    ("_min", "h", 60.0),
    ("_s", "min", 60.0),
    ("_s", "ms", 0.001),
    ("_s", "h", 3600.0),
    ("_h", "min", 1.0 / 60.0),
    ("_h", "s", 1.0 / 3600.0),
    ("hours", "min", 1.0 / 60.0),
    ("hours", "s", 1.0 / 3600.0),
    ("_percent", "a share of 1", 100.0),
    ("_percent", "per mille", 0.1),
    ("_deg", "radians", 57.295_78),
];

/// A number as a person would write it: four digits that matter.
pub(super) fn plain(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let places = (3.0 - value.abs().log10().floor()).clamp(0.0, 9.0) as usize;
    let text = format!("{value:.places$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// If `value` would be sound in another unit (or with its decimal point moved), says so.
pub(super) fn unit(key: &str, value: f64, sound: &RangeInclusive<f64>) -> Option<String> {
    if !value.is_finite() || value == 0.0 {
        return None;
    }
    let key = key.rsplit('.').next().unwrap_or(key);
    // Only the longest ending counts: `_l_min` is not `_min`.
    let ending = SLIPS
        .iter()
        .map(|slip| slip.0)
        .filter(|end| key.ends_with(end))
        .max_by_key(|end| end.len());
    let mut guesses = Vec::new();
    for (end, written, times) in SLIPS {
        if Some(*end) == ending && sound.contains(&(value * times)) {
            guesses.push(format!("if it is in {written}, write {}", plain(value * times)));
        }
    }
    if key.ends_with("_c") {
        for (written, there) in [("K", value - 273.15), ("F", (value - 32.0) / 1.8)] {
            if sound.contains(&there) {
                guesses.push(format!("if it is in {written}, write {}", plain(there)));
            }
        }
    }
    if guesses.is_empty() {
        for times in [0.1, 10.0] {
            if sound.contains(&(value * times)) {
                guesses.push(format!("did the decimal point slip? {} would do", plain(value * times)));
            }
        }
    }
    (!guesses.is_empty()).then(|| guesses.join("; "))
}

/// Endings of keys that people write, and the unit in [`SLIPS`] that each means.
const WRITTEN: &[(&str, &str)] = &[
    ("_cm2", "cm2"),
    ("_mm2", "mm2"),
    ("_cm", "cm"),
    ("_in", "inches"),
    ("_inch", "inches"),
    ("_m", "m"),
    ("_mm", "mm"),
    ("_l_s", "L/s"),
    ("_l_h", "L/h"),
    ("_m3_h", "m3/h"),
    ("_ml_min", "mL/min"),
    ("_m3_day", "m3/day"),
    ("_m3", "m3"),
    ("_pa", "Pa"),
    ("_mbar", "mbar"),
    ("_hpa", "mbar"),
    ("_bar", "bar"),
    ("_ms", "ms"),
    ("_s", "s"),
    ("_min", "min"),
    ("_h", "h"),
    ("_rad", "radians"),
];

/// What to write for a key whose value stands in the unit that `written` ends with, where the key is `right`.
pub(super) fn converted(written: &str, right: &str, value: f64) -> Option<String> {
    fn longest<'a>(key: &str, endings: impl Iterator<Item = &'a str>) -> Option<&'a str> {
        endings.filter(|end| key.ends_with(end)).max_by_key(|end| end.len())
    }
    let lower = written.to_lowercase();
    let of_written = longest(&lower, WRITTEN.iter().map(|(end, _)| *end))?;
    let of_right = longest(right, SLIPS.iter().map(|slip| slip.0))?;
    if lower.strip_suffix(of_written) != right.strip_suffix(of_right) {
        return None;
    }
    let unit = WRITTEN.iter().find(|(end, _)| *end == of_written)?.1;
    let times = SLIPS.iter().find(|slip| slip.0 == of_right && slip.1 == unit)?.2;
    Some(format!("write {right} = {}", plain(value * times)))
}

/// The one of `known` that `word` most likely meant.
pub(super) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = word.to_lowercase();
    known
        .into_iter()
        .map(|name| {
            let own = name.to_lowercase();
            let same_stem = stem(&lower).len() > 2 && stem(&lower) == stem(&own);
            (if same_stem { 0 } else { distance(&lower, &own) }, name)
        })
        .filter(|(far, name)| *far <= (name.chars().count() / 3).max(1))
        .min_by_key(|(far, _)| *far)
        .map(|(_, name)| name)
}

/// A key without its unit.
fn stem(key: &str) -> &str {
    const UNITS: &[&str] = &[
        "_dm3_s_bar",
        "_m3_s_pa",
        "_l_min",
        "_l_day",
        "_lpm",
        "_l_h",
        "_l_s",
        "_m3_h",
        "_m3_s",
        "_mm",
        "_cm",
        "_m2",
        "_m",
        "_in",
        "_kpa",
        "_pa",
        "_mbar",
        "_bar",
        "_psi",
        "_percent",
        "_min",
        "_s",
        "_ms",
        "_h",
        "_deg",
        "_rad",
        "_c",
        "_k",
        "_f",
        "_l",
        "_m3",
    ];
    UNITS.iter().find_map(|unit| key.strip_suffix(unit)).unwrap_or(key)
}

/// Letters to add, drop, change or swap with the next, to get from one word to the other.
fn distance(from: &str, to: &str) -> usize {
    let to: Vec<char> = to.chars().collect();
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=to.len()).collect();
    let mut previous = None;
    for (i, a) in from.chars().enumerate() {
        let mut row = vec![i + 1];
        for (j, b) in to.iter().enumerate() {
            let mut best = (last[j] + usize::from(a != *b)).min(last[j + 1] + 1).min(row[j] + 1);
            if j > 0 && previous == Some(*b) && to[j - 1] == a {
                best = best.min(before_last[j - 1] + 1);
            }
            row.push(best);
        }
        before_last = std::mem::replace(&mut last, row);
        previous = Some(a);
    }
    last.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_in_another_unit_is_recognised_by_its_factor() {
        let says = |key, value, sound| unit(key, value, &sound).unwrap_or_default();
        assert!(says("riser_bore_mm", 4.64, 15.0..=400.0).contains("in cm, write 46.4"));
        assert!(says("riser_bore_mm", 4.0, 15.0..=400.0).contains("in inches, write 101.6"));
        assert!(says("rim_mm", 1.3, 50.0..=20_000.0).contains("in m, write 1300"));
        assert!(says("target_l_min", 7200.0, 0.5..=500.0).contains("in L/h, write 120"));
        assert!(says("valve.stroke_s", 30_000.0, 0.0..=600.0).contains("in ms, write 30"));
        assert!(says("at_kpa", 13_000.0, 0.0..=300.0).contains("in Pa, write 13"));
        assert!(says("water_c", 295.15, 0.0..=40.0).contains("in K, write 22"));
        assert_eq!(unit("priority", 17.0, &(1.0..=1.5)), None);
    }

    #[test]
    fn a_key_in_another_unit_is_written_in_ours() {
        let says = |written, right, value| converted(written, right, value).unwrap_or_default();
        assert_eq!(says("rim_cm", "rim_mm", 130.0), "write rim_mm = 1300");
        assert_eq!(says("rim_m", "rim_mm", 1.3), "write rim_mm = 1300");
        assert_eq!(
            says("riser_bore_in", "riser_bore_mm", 2.0),
            "write riser_bore_mm = 50.8"
        );
        assert_eq!(says("target_m3_h", "target_l_min", 3.0), "write target_l_min = 50");
        assert_eq!(says("at_mbar", "at_kpa", 130.0), "write at_kpa = 13");
        // Another key, or a unit that cannot be turned into ours.
        assert_eq!(converted("brim_cm", "rim_mm", 1.0), None);
        assert_eq!(converted("rim_l", "rim_mm", 1.0), None);
    }

    #[test]
    fn a_misspelt_name_finds_the_one_it_is_near() {
        let known = ["rim_mm", "start_mm", "target_l_min", "area_m2"];
        assert_eq!(nearest("rimm_mm", known), Some("rim_mm"));
        assert_eq!(nearest("rim_cm", known), Some("rim_mm"));
        assert_eq!(nearest("target_m3_h", known), Some("target_l_min"));
        assert_eq!(nearest("sratt_mm", known), Some("start_mm"));
        assert_eq!(nearest("colour", known), None);
    }
}
