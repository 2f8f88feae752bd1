//! Every message about something wrong is provoked once, says where and what, and none is left that nobody has seen.
//!
//! | file | what |
//! | --- | --- |
//! | `source` | every message there is, from the source |
//! | `files` | mistakes in place and scenario files |
//! | `points` | mistakes in files of measured points |
//! | `commands` | commands asked for what they cannot do |
//! | `installations` | places built without a file, commands to a running controller |
//! | `boards` | a board that is silent, old, small or says no |

mod boards;
mod commands;
mod files;
mod installations;
mod points;
mod source;

use source::{messages, pieces};

/// Messages that no test here provokes, each by a part of it, with the reason or the test that does.
///
/// A reason that is a test names its file and its function; both must be there.
const NOT_HERE: &[(&str, &str)] = &[
    (
        "no faults",
        "for users of the core alone; this program tells each fault by itself",
    ),
    (
        "; and {more} more",
        "for users of the core alone; this program tells each fault by itself",
    ),
    (
        "cannot simulate {hours} hours",
        "the command line and files take no such number",
    ),
    ("cannot write JSON", "writing into memory does not fail"),
    ("cannot make the page", "writing into memory does not fail"),
    (
        "promises were not kept",
        "the end of a run of minutes that found a promise broken",
    ),
    (
        "--depth-mm and --lift-mm are needed",
        "the command line asks for them first",
    ),
    (
        "this is no CSV",
        "only bytes that are no text; those cannot be read in the first place",
    ),
    (
        "what was found cannot be an installation",
        "no log is known that ends so",
    ),
    (
        "no pipe of the usual series delivers",
        "every flow that is taken has a pipe",
    ),
    (
        "is gone ({error}): plug it in and follow it again",
        "host-sim/tests/follow_command.rs::a_serial_port_is_followed_from_the_middle_of_a_frame_until_it_is_unplugged",
    ),
    (
        "lifts and {tanks} tanks; this program holds",
        "no board has room for more than this program",
    ),
    (
        "no curve passes near these points",
        "points that pass the checks of levels and airs have a curve",
    ),
    ("a place without a name", "a name, no fault"),
    (
        "the board was told",
        "host-sim/tests/board_command/told.rs::what_a_board_does_not_take_is_told_in_words_and_nothing_else_moves",
    ),
    (
        "the board runs another place than this file",
        "host-sim/tests/board_command/told.rs::what_a_board_does_not_take_is_told_in_words_and_nothing_else_moves",
    ),
];

/// A text without line breaks and without the frames around a line of a file.
fn plain(text: &str) -> String {
    let text = text.replace(['│', '╰', '─', '▶', '×', '·', '╭', '┬', '├', '⚠'], " ");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What was said, and what should have been and was not.
#[derive(Default)]
struct Said {
    said: Vec<String>,
    wrong: Vec<String>,
}

impl Said {
    /// Takes what `who` was told, which must hold all of `parts`.
    fn take(&mut self, who: &str, said: &str, parts: &[&str]) {
        let said = plain(said);
        for part in parts {
            if !said.contains(part) {
                self.wrong.push(format!("{who:?}: \"{part}\" is not in: {said}"));
            }
        }
        self.said.push(said);
    }
}

#[test]
fn every_message_is_provoked_and_says_what_it_should() {
    let mut all = Said::default();
    files::provoke(&mut all);
    points::provoke(&mut all);
    commands::provoke(&mut all);
    installations::provoke(&mut all);
    boards::provoke(&mut all);
    let Said { said, wrong } = all;
    let mut unseen = Vec::new();
    for message in messages() {
        let longest = pieces(&message.text)
            .iter()
            .map(|piece| plain(piece))
            .max_by_key(String::len);
        let Some(longest) = longest else { continue };
        let seen = said.iter().any(|said| said.contains(&longest));
        let excused = NOT_HERE.iter().any(|(part, _)| message.text.contains(part));
        match (seen, excused) {
            (false, false) => unseen.push(format!("{}:{}: {}", message.file, message.line, message.text)),
            (true, true) => unseen.push(format!("excused, but provoked: {}", message.text)),
            _ => {}
        }
    }
    assert!(
        wrong.is_empty() && unseen.is_empty(),
        "{} wrong:\n{}\n{} not provoked by any case:\n{}",
        wrong.len(),
        wrong.join("\n"),
        unseen.len(),
        unseen.join("\n")
    );
}

#[test]
fn what_is_provoked_elsewhere_is_there() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let all = messages();
    for (part, reason) in NOT_HERE {
        assert!(
            all.iter().any(|message| message.text.contains(part)),
            "no message holds \"{part}\" any more"
        );
        let Some((file, function)) = reason.split_once("::") else {
            continue;
        };
        let text = std::fs::read_to_string(root.join(file)).unwrap_or_else(|error| panic!("{file}: {error}"));
        assert!(
            text.contains(&format!("fn {function}(")),
            "{file} has no test {function}"
        );
    }
}
