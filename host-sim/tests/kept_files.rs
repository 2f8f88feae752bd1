//! No slip of the finger costs a file: what a run reads, and what is of another kind than what it writes, is left as it was.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of one test alone, with a place, its measured points and a log.
struct Desk(PathBuf);

const POINTS: &str = "lift,air_l_min,litres,seconds,source_level_mm\nfry,40,12,14.5,900\nfry,55,12,12.5,900\n";

impl Desk {
    fn new(name: &str) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("kept_files").join(name);
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).expect("a folder of ours");
        let desk = Self(folder);
        let place = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/default.toml");
        fs::copy(place, desk.0.join("farm.toml")).expect("a shipped place");
        fs::write(desk.0.join("points.csv"), POINTS).expect("written");
        desk
    }

    fn run(&self, line: &str) -> Output {
        Command::new(env!("CARGO_BIN_EXE_risertrim"))
            .args(line.split_whitespace())
            .current_dir(&self.0)
            .output()
            .expect("the program runs")
    }

    fn bytes(&self, name: &str) -> Vec<u8> {
        fs::read(self.0.join(name)).unwrap_or_default()
    }

    /// The command refuses with these words, and every file is as it was and no other came.
    fn refuses(&self, line: &str, says: &str) {
        let before = self.all();
        let output = self.run(line);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(before == self.all(), "{line} changed files: {said}");
        assert_eq!(output.status.code(), Some(2), "{line}: {said}");
        assert!(said.contains(says), "{line}: {said}");
    }

    fn all(&self) -> Vec<(PathBuf, Vec<u8>)> {
        let entries = fs::read_dir(&self.0).expect("there").flatten();
        let mut all: Vec<_> = entries
            .map(|entry| (entry.path(), fs::read(entry.path()).unwrap_or_default()))
            .collect();
        all.sort();
        all
    }
}

#[test]
fn a_file_that_a_run_reads_is_never_what_it_writes() {
    let desk = Desk::new("read");
    let made = desk.run("simulate farm.toml --hours 0.1 -q --log day.rtlog --log-plan whole");
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    for line in [
        "calibrate points.csv -i farm.toml --write points.csv",
        "calibrate points.csv -i farm.toml --html farm.toml",
        "simulate farm.toml --hours 0.1 -q --log farm.toml",
        "simulate farm.toml --hours 0.1 -q --html ./farm.toml",
        "compare farm.toml --hours 0.1 -q --html farm.toml",
        "curve farm.toml --lift fry --svg farm.toml",
        "curve farm.toml --lift fry --points points.csv --csv points.csv",
        "mount farm.toml --lift fry --sheet farm.toml",
        "tune day.rtlog -i farm.toml --report farm.toml",
        "tune day.rtlog -i farm.toml --out day.rtlog",
        "sweep farm.toml --seeds 1 --hours 0.1 -q --out farm.toml",
        "board farm.toml --tcp 127.0.0.1:9 --log farm.toml",
    ] {
        desk.refuses(line, "is a file that this run reads");
    }
}

#[test]
fn a_file_of_another_kind_is_not_written_over() {
    let desk = Desk::new("kind");
    fs::write(desk.0.join("notes.txt"), "Fed at nine.\n").expect("written");
    for (line, kind) in [
        ("simulate --hours 0.1 -q --log farm.toml", "a log"),
        ("simulate --hours 0.1 -q --html notes.txt", "a page"),
        ("curve --lift fry --svg points.csv", "a drawing"),
        ("curve --lift fry --csv points.csv", "a table of this kind"),
        ("calibrate points.csv -i farm.toml --write notes.txt", "a place"),
        ("board --tcp 127.0.0.1:9 --fetch-log notes.txt", "a log"),
    ] {
        desk.refuses(line, &format!("is there already and is not {kind}"));
    }
    let made = desk.run("sweep one_lift --seeds 1 --hours 0.1 -q --out rows.csv");
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    desk.refuses(
        "sweep one_lift --hours 0.1 --merge rows.csv --out points.csv",
        "is there already and is not a table of this kind",
    );
    desk.refuses("simulate --hours 0.1 -q --log one --html one", "name two files");
}

#[test]
fn a_file_of_the_same_kind_is_written_anew() {
    let desk = Desk::new("anew");
    for line in [
        "simulate --hours 0.1 -q --log day.rtlog --html day.html",
        "curve --lift fry --svg fry.svg --csv fry.csv --html fry.html",
        "calibrate points.csv -i farm.toml --write farm.toml",
        "mount --lift fry --sheet sheet.svg",
    ] {
        for _ in 0..2 {
            let output = desk.run(line);
            assert_eq!(output.status.code(), Some(0), "{line}: {output:?}");
        }
    }
    let left = desk.all();
    let parts = left
        .iter()
        .filter(|(path, _)| path.extension().is_some_and(|ending| ending == "part"));
    assert_eq!(parts.count(), 0, "nothing unfinished is left");
    assert!(desk.bytes("day.html").starts_with(b"<!DOCTYPE html>"));
}

#[test]
fn a_log_fetched_before_is_kept_until_the_board_has_given_another() {
    let desk = Desk::new("fetch");
    let made = desk.run("simulate --hours 0.1 -q --log precious.rtlog");
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    assert!(desk.bytes("precious.rtlog").len() > 1000);
    // Nobody listens there.
    desk.refuses(
        "board --tcp 127.0.0.1:9 --fetch-log precious.rtlog",
        "cannot connect to 127.0.0.1:9",
    );
    desk.refuses(
        "board --tcp 127.0.0.1:9 --log precious.rtlog",
        "cannot connect to 127.0.0.1:9",
    );
}
