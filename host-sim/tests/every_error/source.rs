//! Finds every message in the program's source that a person can be told when something is wrong.

use std::fs;
use std::path::{Path, PathBuf};

/// One message as it stands in the source, `{}` for what is filled in.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Message {
    /// File, from the workspace's folder.
    pub file: String,
    /// Its line.
    pub line: usize,
    /// The text.
    pub text: String,
}

/// Where in a file messages stand.
enum Within {
    /// Everywhere: the file is about mistakes.
    Whole,
    /// In the brackets that follow one of these.
    Calls(&'static [&'static str]),
}

/// Every place that messages come from.
const SOURCES: &[(&str, Within)] = &[
    ("core/src/validate", Within::Whole),
    ("core/src/command.rs", Within::Calls(&["Display for "])),
    ("core/src/fault.rs", Within::Calls(&["Display for "])),
    ("core/src/link/message.rs", Within::Calls(&["pub const fn text("])),
    ("host-sim/src/scenario", Within::Whole),
    ("host-sim/src/calibrate/read.rs", Within::Whole),
    ("host-sim/src/calibrate/columns.rs", Within::Whole),
    ("host-sim/src/calibrate/plausible.rs", Within::Whole),
    (
        "host-sim/src/cli",
        Within::Calls(&["Failure::BadInput(", "Failure::Internal("]),
    ),
    ("host-sim/src/board", Within::Calls(&["#[error("])),
    ("host-sim/src", Within::Calls(&DISPLAYS)),
];

/// What says of itself in words why it is not.
const DISPLAYS: [&str; 15] = [
    "Display for FitError",
    "Display for PointReport",
    "Display for Unsound",
    "Display for ReadError",
    "Display for NoFloors",
    "Display for NoSheet",
    "Display for LogError",
    "Display for TuningError",
    "Display for WriteError",
    "Display for SpecError",
    "Display for SimulateError",
    "Display for DesignError",
    "Display for WishFault",
    "Display for Refusal",
    "Display for FileError",
];

/// All messages, in the order of files and lines.
pub fn messages() -> Vec<Message> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut all = Vec::new();
    for (place, within) in SOURCES {
        let mut files = Vec::new();
        collect(&root.join(place), &mut files);
        assert!(!files.is_empty(), "{place} is gone: put right where messages come from");
        for path in files {
            let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            let name = path.strip_prefix(&root).unwrap_or(&path).display().to_string();
            all.extend(of_file(&name, &text, within));
        }
    }
    all.sort();
    all.dedup();
    all
}

fn collect(path: &Path, files: &mut Vec<PathBuf>) {
    if path.is_file() {
        files.push(path.to_owned());
        return;
    }
    let Ok(entries) = fs::read_dir(path) else { return };
    for entry in entries.flatten() {
        let path = entry.path();
        let name = entry.file_name();
        // Tests are no part of the program.
        if name == "tests" || name == "tests.rs" {
            continue;
        }
        if path.is_dir() || path.extension().is_some_and(|ending| ending == "rs") {
            collect(&path, files);
        }
    }
}

fn of_file(name: &str, text: &str, within: &Within) -> Vec<Message> {
    let text = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    let literals = literals(text);
    let spans = match within {
        Within::Whole => vec![(0, text.len())],
        Within::Calls(starts) => starts.iter().flat_map(|start| spans(text, start, &literals)).collect(),
    };
    let told = literals
        .into_iter()
        .filter(|(range, literal)| is_told(literal) && spans.iter().any(|(from, to)| (*from..*to).contains(&range.0)));
    told.map(|(range, literal)| Message {
        file: name.to_owned(),
        line: 1 + text[..range.0].matches('\n').count(),
        text: literal,
    })
    .collect()
}

/// Words for people, not a key or a unit.
fn is_told(literal: &str) -> bool {
    let plain = pieces(literal).join(" ");
    let words = plain
        .split_whitespace()
        .filter(|word| word.chars().filter(|c| c.is_alphabetic()).count() >= 2);
    words.count() >= 2
}

/// A text without what is filled in.
pub fn pieces(literal: &str) -> Vec<String> {
    let (mut pieces, mut depth, mut piece) = (Vec::new(), 0, String::new());
    for c in literal.chars() {
        match c {
            '{' => {
                depth += 1;
                pieces.push(std::mem::take(&mut piece));
            }
            '}' => depth -= 1,
            _ if depth == 0 => piece.push(c),
            _ => {}
        }
    }
    pieces.push(piece);
    pieces
}

type Literal = ((usize, usize), String);

/// Every text in quotation marks, comments left out.
fn literals(text: &str) -> Vec<Literal> {
    let bytes = text.as_bytes();
    let (mut found, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        match bytes[at] {
            b'/' if bytes.get(at + 1) == Some(&b'/') => {
                at += text[at..].find('\n').unwrap_or(text.len() - at);
            }
            // A character, so that '"' opens nothing.
            b'\'' if bytes.get(at + 2) == Some(&b'\'') => at += 3,
            b'\'' if bytes.get(at + 1) == Some(&b'\\') && bytes.get(at + 3) == Some(&b'\'') => at += 4,
            b'"' => {
                let (end, literal) = literal(text, at + 1);
                found.push(((at, end), literal));
                at = end;
            }
            _ => at += 1,
        }
    }
    found
}

/// The text that begins at `from`, and where its closing mark ends.
fn literal(text: &str, from: usize) -> (usize, String) {
    let mut literal = String::new();
    let mut characters = text[from..].char_indices();
    while let Some((at, c)) = characters.next() {
        match c {
            '"' => return (from + at + 1, literal),
            '\\' => match characters.next().map(|(_, c)| c) {
                Some('n') => literal.push('\n'),
                Some('\n') => {
                    // A text that goes on in the next line.
                    let rest = &text[from + at + 2..];
                    let blank = rest.len() - rest.trim_start().len();
                    for _ in 0..blank {
                        characters.next();
                    }
                }
                Some(other) => literal.push(other),
                None => {}
            },
            other => literal.push(other),
        }
    }
    (text.len(), literal)
}

/// From each `start` to the bracket that closes the first one opened in it or after it.
fn spans(text: &str, start: &str, literals: &[Literal]) -> Vec<(usize, usize)> {
    let in_text = |at: usize| literals.iter().any(|((from, to), _)| (*from..*to).contains(&at));
    let (open, close) = if start.ends_with('(') && !start.contains("fn ") {
        ('(', ')')
    } else {
        ('{', '}')
    };
    let ends = |from: usize| {
        let mut depth = 0;
        for (at, c) in text[from..].char_indices() {
            if in_text(from + at) {
                continue;
            }
            depth += i32::from(c == open) - i32::from(c == close);
            if depth == 0 && c == close {
                return from + at;
            }
        }
        text.len()
    };
    text.match_indices(start).map(|(at, _)| (at, ends(at))).collect()
}

#[test]
fn texts_are_found_whole_and_only_where_they_are_told() {
    let source = "fn a() { Failure::BadInput(format!(\"{x} is no \\\n       level (\\\"top\\\")\")) } // \"not this one\"\nlet b = '\"'; c(\"nor this text\")";
    let found = of_file("x.rs", source, &Within::Calls(&["Failure::BadInput("]));
    let texts: Vec<&str> = found.iter().map(|message| message.text.as_str()).collect();
    assert_eq!(texts, ["{x} is no level (\"top\")"]);
    assert_eq!(pieces("{x} is {y:.1} mm"), ["", " is ", " mm"]);
    assert_eq!(of_file("x.rs", source, &Within::Whole).len(), 2);
}
