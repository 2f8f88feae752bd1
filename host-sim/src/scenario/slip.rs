//! What was meant where a file is no TOML: the slips of people who write it for the first time.

/// A guess at what is to be written on the line at which the parser gave up; `at` is where it did, in bytes of the text.
pub(super) fn hint(text: &str, at: usize) -> Option<String> {
    let line = line_at(text, at);
    let bare = outside_texts(line);
    if line.contains([
        '\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}', '\u{ab}', '\u{bb}',
    ]) {
        return Some("write straight quotes: \" before and after a text".to_owned());
    }
    if let Some(name) = header(line) {
        return Some(format!("write [[{name}]] above each {name}, with two brackets"));
    }
    let (key, value) = bare.split_once('=')?;
    let (key, value) = (key.trim(), value.split('#').next().unwrap_or_default().trim());
    if let Some(point) = with_point(value) {
        return Some(format!("a decimal point is a point: write {key} = {point}"));
    }
    match value.to_lowercase().as_str() {
        "yes" | "on" => Some(format!("write {key} = true")),
        "no" | "off" => Some(format!("write {key} = false")),
        word if word != value && matches!(word, "true" | "false") => Some(format!("write {key} = {word}")),
        _ if value.starts_with(|c: char| c.is_ascii_digit()) && value.contains(|c: char| c.is_alphabetic()) => {
            Some("write the number alone; its unit is the end of the key".to_owned())
        }
        _ if value.starts_with(char::is_alphabetic) => Some("write a text in quotes: \"like this\"".to_owned()),
        _ => None,
    }
}

/// The part of a place that a line with one bracket begins, of which there can be several.
fn header(line: &str) -> Option<&str> {
    let name = line
        .split('#')
        .next()?
        .trim()
        .strip_prefix('[')?
        .strip_suffix(']')?
        .trim();
    matches!(name, "tank" | "lift" | "event" | "target").then_some(name)
}

/// True where this byte stands below a line with one bracket too few: whatever is there twice is so for that.
pub(super) fn follows(text: &str, at: usize) -> bool {
    if header(line_at(text, at)).is_some() {
        return false;
    }
    let before = text.get(..at).unwrap_or_default();
    let above = before.rfind('\n').and_then(|end| before.get(..end)).unwrap_or_default();
    let nearest = above.lines().rev().find(|line| line.trim_start().starts_with('['));
    nearest.is_some_and(|line| header(line).is_some())
}

/// The line that holds this byte.
fn line_at(text: &str, at: usize) -> &str {
    let at = at.min(text.len());
    let before = text.get(..at).unwrap_or_default();
    let from = before.rfind('\n').map_or(0, |end| end + 1);
    let rest = text.get(from..).unwrap_or_default();
    rest.lines().next().unwrap_or_default()
}

/// A line without what stands in quotes.
fn outside_texts(line: &str) -> String {
    line.split('"').step_by(2).collect()
}

/// A number written with a decimal comma, with a point.
fn with_point(value: &str) -> Option<String> {
    let (whole, part) = value.split_once(',')?;
    let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    (digits(whole.trim_start_matches(['-', '+'])) && digits(part)).then(|| format!("{whole}.{part}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_slips_of_a_first_file_are_told_what_to_write() {
        for (line, says) in [
            ("fish = yes", "write fish = true"),
            ("fish = no  # none", "write fish = false"),
            ("fish = True", "write fish = true"),
            ("area_m2 = 0,5", "write area_m2 = 0.5"),
            ("floor_height_mm = -1,25 # below", "write floor_height_mm = -1.25"),
            ("name = \u{201c}sump\u{201d}", "straight quotes"),
            ("name = sump", "in quotes"),
            ("rim_mm = 1300 mm", "the number alone"),
            ("[lift]", "[[lift]] above each lift"),
        ] {
            let text = format!("[place]\n{line}\nrim_mm = 3\n");
            let told = hint(&text, 8 + line.find('=').unwrap_or(1)).unwrap_or_default();
            assert!(told.contains(says), "{line}: {told}");
        }
        // What is no slip of these says nothing.
        assert_eq!(hint("points = [[1, 2], [3, 4]\n", 24), None);
        assert_eq!(hint("[run\n", 4), None);
    }
}
