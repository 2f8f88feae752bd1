//! Commands asked for what they cannot do.

use super::Said;
use risertrim_sim::scenario::Scenario;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A folder of one test alone.
pub struct Desk {
    folder: PathBuf,
}

impl Desk {
    pub fn new(name: &str) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("every_error").join(name);
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap_or_else(|error| panic!("{error}"));
        Self { folder }
    }

    pub fn path(&self, name: &str) -> String {
        self.folder.join(name).display().to_string()
    }

    pub fn put(&self, name: &str, text: impl AsRef<[u8]>) -> String {
        fs::write(self.folder.join(name), text).unwrap_or_else(|error| panic!("{error}"));
        self.path(name)
    }

    /// A shipped place with changes, as a file of the person's own.
    fn place(&self, name: &str, base: &str, changes: &[(&str, &str)]) -> String {
        let text = Scenario::shipped()
            .iter()
            .find(|(name, _)| *name == base)
            .map(|(_, text)| *text);
        let mut text = text.unwrap_or_else(|| panic!("no place {base}")).to_owned();
        for (from, to) in changes {
            assert!(text.contains(from), "{base} does not hold {from}");
            text = text.replacen(from, to, 1);
        }
        self.put(name, text)
    }

    /// What a command says to standard error.
    pub fn say(&self, arguments: &[&str]) -> String {
        let output = self
            .command(arguments)
            .output()
            .unwrap_or_else(|error| panic!("{error}"));
        String::from_utf8_lossy(&output.stderr).into_owned()
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_risertrim"));
        command.args(arguments).current_dir(&self.folder).stdin(Stdio::null());
        command
    }

    /// The command must fail, by its exit code too, and say this.
    pub fn refuse(&self, all: &mut Said, arguments: &[&str], says: &str) {
        let output = self
            .command(arguments)
            .output()
            .unwrap_or_else(|error| panic!("{error}"));
        take(all, arguments, &output, says);
    }
}

fn take(all: &mut Said, arguments: &[&str], output: &std::process::Output, says: &str) {
    let who = arguments.join(" ");
    if !matches!(output.status.code(), Some(1 | 2)) {
        all.wrong.push(format!("{who} ended with {:?}", output.status.code()));
    }
    all.take(&who, &String::from_utf8_lossy(&output.stderr), &[says]);
}

/// Asks every command for what it cannot do.
pub fn provoke(all: &mut Said) {
    let desk = Desk::new("commands");
    for (line, says) in PLAIN {
        desk.refuse(all, &line.split_whitespace().collect::<Vec<_>>(), says);
    }
    places(&desk, all);
    logs(&desk, all);
    sweeps(&desk, all);
    full(&desk, all);
}

/// Nothing but the command line.
const PLAIN: &[(&str, &str)] = &[
    ("simulate nowhere.toml", "nowhere.toml"),
    ("simulate --hours 0", "give a number of hours from 0.01 to 87600"),
    ("simulate --live", "--live needs a terminal; use --csv or --html"),
    ("simulate --hours 0.1 --html none/x.html", "cannot write none/x.html"),
    ("simulate --hours 0.1 --log none/x.rtlog", "cannot write none/x.rtlog"),
    (
        "simulate --hours 0.1 --csv /dev/null/x",
        "cannot write CSV into /dev/null/x",
    ),
    (
        "curve nowhere.toml",
        "Give the path of an installation file, or a shipped scenario",
    ),
    (
        "curve --lift pond",
        "the installation has no lift \"pond\"; it has: fry, filter, beds",
    ),
    ("curve --svg x.svg", "--svg and --csv hold one lift"),
    (
        "curve --source-mm -5",
        "is no level of a tank: 0 to 20000 mm above its floor",
    ),
    ("curve --points none.csv", "none.csv cannot be read"),
    ("calibrate none.csv", "none.csv cannot be read"),
    (
        "mount",
        "a sheet is for one lift: name it by --lift; default has: fry, filter, beds",
    ),
    ("mount --lift fry --outside-mm 5", "--outside-mm is 5, allowed:"),
    (
        "aerate --fish-kg 5 --feed-kg-day 0.1 --oxygen-mg-l 15",
        "the most that air of this depth gives",
    ),
    (
        "aerate --fish-kg 90 --feed-kg-day 2 --write x.toml",
        "bring part of the oxygen by other means",
    ),
    ("size --flow-l-min 60 --depth-mm 1000 --lift-mm 900000", "allowed"),
    (
        "size --flow-l-min 4000 --depth-mm 300 --lift-mm 250 --sheet x.svg",
        "no pipe can be recommended",
    ),
    (
        "size --flow-l-min 60 --depth-mm 1000 --lift-mm 100 --sheet x.svg --sheet-outside-mm 7",
        "--sheet-outside-mm is 7, allowed:",
    ),
    (
        "size --flow-l-min 4000 --depth-mm 300 --lift-mm 250 --sheet x.svg --sheet-outside-mm 50",
        "cannot do this task at any air",
    ),
    ("new x.toml --lift fry", "NAME:L_MIN"),
    (
        "new x.toml --lift fry:20 --lift fry:20",
        "a name of its own, other than sump",
    ),
    ("new x.toml", "nothing was written"),
    ("new none/x.toml --lift fry:50", "cannot write none/x.toml"),
    ("check none.toml", "cannot be read"),
    ("check none.txt", "is no ending of a file of ours"),
    (
        "faults --only comet",
        "no fault's name holds \"comet\": --list shows all",
    ),
    ("manual /dev/null/x", "cannot write into /dev/null/x"),
    ("decode none.rtlog", "none.rtlog"),
    ("replay none.rtlog", "none.rtlog cannot be read"),
    ("replay .", "is a folder, not a log"),
    ("board --tcp 127.0.0.1:9", "cannot connect to 127.0.0.1:9"),
    (
        "board --live",
        "--live needs a terminal; use --log to keep what happens",
    ),
    ("decode /dev/null", "is a device, not a file: add --follow"),
    ("board --port none", "cannot open serial port none"),
    (
        "board --firmware none.elf",
        "there is no firmware at none.elf: build it with scripts/firmware",
    ),
];

/// Places that are sound in every line and cannot be all the same.
fn places(desk: &Desk, all: &mut Said) {
    let dry = desk.place("dry.toml", "one_lift", &[("fish = true", "fish = false")]);
    let odd = desk.place("odd.toml", "one_lift", &[("riser_bore_mm = ", "riser_bore_mm = 1")]);
    let low = [
        ("target_l_min = 75", "target_l_min = 150"),
        ("low_warn_mm = 820", "low_warn_mm = 420"),
        ("low_act_mm = 740", "low_act_mm = 400"),
    ];
    let low = desk.place("low.toml", "one_lift", &low);
    let twice = desk.put("twice.toml", "[place]\n");
    let mut refuse = |arguments: &[&str], says: &str| desk.refuse(all, arguments, says);
    refuse(
        &["aerate", &dry, "--fish-kg", "5", "--feed-kg-day", "0.1"],
        "no lift draws from or fills a tank with fish",
    );
    refuse(&["mount", &odd], "no pipe of our series has that bore");
    refuse(&["mount", &low, "--outside-mm", "63"], "so there is no sheet to draw");
    refuse(
        &["new", &twice, "--lift", "fry:50"],
        "is there already: name another file, or say --overwrite",
    );
    refuse(&["simulate", &twice], "mistake");
    refuse(
        &["curve", &dry, "--html", &dry],
        "is a file that this run reads: it would be lost",
    );
    refuse(&["curve", "--html", &dry], "is there already and is not a page");
    refuse(
        &["simulate", "--log", "one", "--html", "one"],
        "is what --log will write too: name two files",
    );
}

fn logs(desk: &Desk, all: &mut Said) {
    let simulate = "simulate one_lift --hours 0.1 -q --log one.rtlog --log-plan whole";
    let made = desk.say(&simulate.split_whitespace().collect::<Vec<_>>());
    let log = desk.path("one.rtlog");
    let bytes = fs::read(&log).unwrap_or_else(|error| panic!("{error}: {made}"));
    let empty = desk.put("empty.rtlog", "");
    let none = desk.put("none.rtlog", vec![b'x'; 5000]);
    // A log that begins in the middle tells no installation.
    let late = desk.put("late.rtlog", &bytes[bytes.len() / 2..]);
    let mut refuse = |arguments: &[&str], says: &str| desk.refuse(all, arguments, says);
    refuse(&["decode", "."], "is a folder, not a log Give the log itself, like");
    refuse(&["decode", &empty], "is empty: nothing was logged");
    refuse(&["decode", &none], "is no log of risertrim");
    refuse(
        &["decode", &log, "--csv", "/dev/null/x"],
        "cannot write into /dev/null/x",
    );
    refuse(&["tune", &late], "the log does not hold its installation");
    for (set, says) in [
        ("trim_s", "is no change of a setting: give NAME=VALUE"),
        ("trimm=3", "there is no setting \"trimm\"; there are:"),
        ("trim_s=soon", "setting trim_s: \"soon\" is no value for it"),
        ("trim_s=-5", "the installation cannot be run so"),
    ] {
        refuse(&["replay", &log, "--set", set], says);
    }
    refuse(
        &["replay", &log, "--set", "trim_s=90", "--exact"],
        "not exact: not every logged decision was made again",
    );
    let simulate = "simulate one_lift --hours 0.2 -q --log sparing.rtlog --log-plan sparing";
    desk.say(&simulate.split_whitespace().collect::<Vec<_>>());
    let mut refuse = |arguments: &[&str], says: &str| desk.refuse(all, arguments, says);
    refuse(
        &["replay", "sparing.rtlog", "--exact"],
        "logged steps could not be compared (told above)",
    );
    let points = desk.put("points.csv", "air_l_min\n1\n");
    refuse(&["check", &points], "name its file with --installation");
}

fn sweeps(desk: &Desk, all: &mut Said) {
    let rows = desk.path("rows.csv");
    let made = desk.say(&[
        "sweep", "one_lift", "--seeds", "1", "--hours", "0.1", "-q", "--out", &rows,
    ]);
    let text = fs::read_to_string(&rows).unwrap_or_else(|error| panic!("{error}: {made}"));
    let (head, row) = text.trim_end().split_once('\n').unwrap_or_else(|| panic!("{text}"));
    let (but_last, _) = row.rsplit_once(',').unwrap_or_else(|| panic!("{text}"));
    let other = desk.put("other.csv", "a,b\n1,2\n");
    let torn = desk.put("torn.csv", format!("{head}\n1,2\n"));
    let word = desk.put("word.csv", format!("{head}\n{but_last},much\n"));
    let differs = desk.put("differs.csv", format!("{head}\n{row}\n{but_last},99\n"));
    let mut refuse = |arguments: &[&str], says: &str| desk.refuse(all, arguments, says);
    for (file, says) in [
        (other.as_str(), "has other columns than a sweep of this scenario writes"),
        (&torn, "cannot be read as CSV"),
        (&word, "is no number"),
        (&differs, "is there twice with other figures"),
        ("none.csv", "none.csv"),
    ] {
        refuse(&["sweep", "one_lift", "--hours", "0.1", "--merge", file], says);
    }
    refuse(
        &[
            "sweep", "one_lift", "--seeds", "1", "--hours", "0.2", "-q", "--out", &rows,
        ],
        "holds runs of another place, day or length",
    );
}

/// A disk that is full: what was made cannot be kept or printed; and a machine without the emulator.
fn full(desk: &Desk, all: &mut Said) {
    let elf = desk.put("board.elf", "no firmware");
    let arguments = ["board", "--firmware", &elf];
    let output = desk.command(&arguments).env("PATH", "").output();
    let output = output.unwrap_or_else(|error| panic!("{error}"));
    take(all, &arguments, &output, "the emulated board cannot be started");
    let Ok(device) = File::create("/dev/full") else {
        return;
    };
    let arguments = ["simulate", "--list"];
    let output = desk.command(&arguments).stdout(device).stderr(Stdio::piped()).output();
    let output = output.unwrap_or_else(|error| panic!("{error}"));
    take(all, &arguments, &output, "cannot print");
    #[cfg(unix)]
    for (folder, file) in [("sheets", "lifts.csv"), ("tables", "readings.csv")] {
        fs::create_dir_all(desk.path(folder)).unwrap_or_else(|error| panic!("{error}"));
        let file = Path::new(&desk.path(folder)).join(file);
        std::os::unix::fs::symlink("/dev/full", file).unwrap_or_else(|error| panic!("{error}"));
    }
    let line = |line: &'static str| line.split_whitespace().collect::<Vec<_>>();
    let full = [
        (
            "simulate one_lift --hours 0.1 -q --log /dev/full",
            "the log cannot be written",
        ),
        (
            "simulate one_lift --hours 0.1 -q --html /dev/full",
            "cannot write /dev/full",
        ),
        (
            "simulate one_lift --hours 24 -q --csv sheets --csv-every 1",
            "cannot write what was recorded",
        ),
        ("simulate one_lift --hours 0.1 -q --csv sheets", "cannot write CSV"),
        ("decode one.rtlog --csv tables", "the tables cannot be written"),
    ];
    for (arguments, says) in full {
        desk.refuse(all, &line(arguments), says);
    }
}
