//! Help as it stands on a screen: every command, also one that is added later.

use std::process::Command;

fn help(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{arguments:?}");
    assert!(output.stderr.is_empty(), "{arguments:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// The commands that the program's own help lists.
fn commands() -> Vec<String> {
    let help = help(&["--help"]);
    let list = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let names = list
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.split_whitespace().next());
    names.map(str::to_owned).collect()
}

#[test]
fn help_of_every_command_fits_forty_lines_of_a_hundred_columns() {
    let commands = commands();
    for known in [
        "simulate",
        "size",
        "curve",
        "calibrate",
        "new",
        "check",
        "complete",
        "manual",
    ] {
        assert!(
            commands.iter().any(|name| name == known),
            "{known} is not in {commands:?}"
        );
    }
    let mut asked: Vec<Vec<&str>> = vec![vec!["--help"]];
    for name in &commands {
        asked.extend([vec![name.as_str(), "--help"], vec![name.as_str(), "-h"]]);
    }
    for arguments in asked {
        let text = help(&arguments);
        assert!(
            text.lines().count() <= 40,
            "{arguments:?}: {} lines\n{text}",
            text.lines().count()
        );
        for line in text.lines() {
            let columns = line.chars().count();
            assert!(columns <= 100, "{arguments:?}: {columns} columns: {line}");
        }
    }
}

#[test]
fn help_of_every_command_has_an_example_and_the_exit_codes() {
    for name in commands() {
        let text = help(&[&name, "--help"]);
        assert!(
            text.contains(&format!("\n  risertrim {name}")),
            "{name} has no example:\n{text}"
        );
        assert!(
            text.contains("Exit code: 0"),
            "{name} does not tell its exit codes:\n{text}"
        );
    }
}

#[test]
fn help_of_size_says_where_the_blower_curve_holds() {
    let text = help(&["size", "--help"]);
    assert!(
        text.contains("as it holds at the site") && text.contains("sea level"),
        "{text}"
    );
}
