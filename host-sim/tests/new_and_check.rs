//! A first place of one's own, and files checked and explained.

use proptest::prelude::*;
use risertrim_sim::check_file::check_place;
use risertrim_sim::output::verdict;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::run;
use risertrim_sim::starter::{DesignError, LiftWish, Wish, ask, design, scenario_text};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn risertrim(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// An empty folder of this test alone.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn wish(lifts: &[(&str, f64, bool)]) -> Wish {
    Wish {
        name: "Reed Barn".to_owned(),
        water_c: 22.0,
        altitude_m: 100.0,
        lifts: lifts
            .iter()
            .map(|(name, l_min, fish)| LiftWish {
                name: (*name).to_owned(),
                l_min: *l_min,
                fish: *fish,
            })
            .collect(),
    }
}

/// The file of a wish, which must be sound without a warning.
fn drafted(wish: &Wish) -> Scenario {
    let text = scenario_text(&design(wish).unwrap());
    let sound = check_place("draft.toml", &text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
    assert_eq!(sound.warnings, Vec::<String>::new(), "{wish:?}\n{text}");
    Scenario::parse("draft.toml", &text).unwrap()
}

#[test]
fn a_draft_is_sound_without_a_warning_and_does_its_job_for_a_day() {
    for lifts in [
        vec![("fry", 50.0, true), ("filter", 120.0, false)],
        vec![("trout", 20.0, true)],
        vec![("beds", 500.0, false), ("fry", 40.0, true), ("filter", 200.0, false)],
    ] {
        let outcome = run(&drafted(&wish(&lifts)), None, None).unwrap();
        let verdict = verdict(&outcome);
        assert!(verdict.starts_with("Job done"), "{lifts:?}: {verdict}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_draft_in_the_allowed_ranges_is_sound(
        waters in prop::collection::vec(20.0..800.0_f64, 1..=6),
        water_c in 4.0..35.0_f64,
        altitude_m in -100.0..3000.0_f64,
    ) {
        let mut wish = wish(&[]);
        wish.water_c = water_c.round();
        wish.altitude_m = altitude_m.round();
        for (index, l_min) in waters.iter().enumerate() {
            let fish = index % 2 == 0;
            wish.lifts.push(LiftWish { name: format!("lift {index}"), l_min: l_min.round(), fish });
        }
        drafted(&wish);
    }
}

#[test]
fn questions_take_what_stands_in_brackets_and_ask_again_for_what_cannot_be() {
    let answers = "Reed Barn\n\n\n1\nfry\ntwo\n50\nperhaps\nyes\n";
    let mut asked = Vec::new();
    let wish = ask(&mut answers.as_bytes(), &mut asked).unwrap();
    assert_eq!(wish.name, "Reed Barn");
    assert_eq!((wish.water_c, wish.altitude_m), (22.0, 0.0));
    assert_eq!(wish.lifts.len(), 1);
    assert_eq!((wish.lifts[0].l_min, wish.lifts[0].fish), (50.0, true));
    let asked = String::from_utf8(asked).unwrap();
    assert!(
        asked.contains("the water is \"two\"; allowed: a number from 20 to 800 L/min"),
        "{asked}"
    );
    assert!(asked.contains("the answer is perhaps; allowed: yes or no"), "{asked}");
}

#[test]
fn answers_that_end_too_soon_are_an_error() {
    let error = ask(&mut "Reed Barn\n".as_bytes(), &mut Vec::new()).unwrap_err();
    assert!(error.to_string().contains("Temperature of the water"), "{error}");
}

#[test]
fn faults_of_a_wish_are_told_together() {
    let mut wish = wish(&[("fry", 5.0, true), ("fry", 60.0, false)]);
    wish.water_c = 60.0;
    let Err(DesignError::Wish(faults)) = design(&wish) else {
        panic!()
    };
    let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!(
        fields,
        ["the water temperature", "the water of lift fry", "the name of a lift"]
    );
}

#[test]
fn new_writes_a_file_that_check_and_simulate_take_and_never_over_another() {
    let folder = folder("new");
    let file = folder.join("farm.toml");
    let file = file.to_str().unwrap();
    let arguments = ["new", file, "--lift", "fry:50:fish", "--lift", "beds:200"];
    let output = risertrim(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let output = risertrim(&["check", file]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    assert!(text.contains("farm.toml: a scenario, sound\n"), "{text}");
    assert!(
        text.contains("2 lifts on one blower") && text.contains("Lift beds is to move 200.0 L/min"),
        "{text}"
    );
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    let output = risertrim(&["simulate", file, "--hours", "1", "--quiet"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let before = std::fs::read(file).unwrap();
    let output = risertrim(&arguments);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("--overwrite"), "{}", err(&output));
    assert_eq!(std::fs::read(file).unwrap(), before);
}

#[test]
fn new_takes_answers_from_another_program() {
    let file = folder("new-asked").join("farm.toml");
    let mut child = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .arg("new")
        .arg(&file)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut answers = child.stdin.take().unwrap();
    answers.write_all(b"Reed Barn\n24\n\n1\nfry\n50\nyes\n").unwrap();
    drop(answers);
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(
        text.contains("name = \"Reed Barn\"") && text.contains("water_c = 24"),
        "{text}"
    );
}

#[test]
fn a_lift_that_cannot_be_read_is_told_with_what_is_allowed() {
    for (lift, said) in [
        ("fry", "NAME:L_MIN"),
        ("fry:many", "a number from 20 to 800 L/min"),
        ("fry:50:cats", "NAME:L_MIN:fish"),
        (":50", "1 to 40 letters"),
    ] {
        let output = risertrim(&["new", "never-written.toml", "--lift", lift]);
        assert_eq!(output.status.code(), Some(2));
        assert!(err(&output).contains(said), "{lift}: {}", err(&output));
    }
}

#[test]
fn check_tells_every_fault_of_every_file() {
    let folder = folder("check");
    let path = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let good = include_str!("../scenarios/one_lift.toml");
    let sound = path("sound.toml", good);
    let faulty = path(
        "faulty.toml",
        &good
            .replace("area_m2 = 0.8", "area_m2 = -1")
            .replace("fish = true", "fish = 3"),
    );
    let strange = path("strange.xyz", "");
    let output = risertrim(&["check", &faulty, &strange, &sound]);
    assert_eq!(output.status.code(), Some(2));
    let (out, err) = (out(&output), err(&output));
    assert!(out.contains("sound.toml: a scenario, sound"), "{out}");
    assert!(err.contains("area_m2") && err.contains("fish"), "{err}");
    assert!(
        err.contains("strange.xyz: \"xyz\" is no ending of a file of ours"),
        "{err}"
    );
    let output = risertrim(&["check", "there-is-none.toml"]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn check_takes_a_place_without_a_day_and_every_shipped_scenario() {
    let good = include_str!("../scenarios/one_lift.toml");
    let (place, _) = good.split_once("[truth]").unwrap();
    let run = place.find("[run]").unwrap();
    let air = place.find("[air]").unwrap();
    let place = format!("{}{}", &place[..run], &place[air..]);
    assert_eq!(
        check_place("place.toml", &place).unwrap().kind,
        "a place without a day to simulate"
    );
    for (name, text) in Scenario::shipped().iter().chain(Scenario::trials()) {
        let sound = check_place(name, text).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert_eq!(sound.kind, "a scenario");
    }
}

#[test]
fn measured_points_need_their_place_and_are_told_in_words() {
    let folder = folder("check-points");
    let points = folder.join("points.csv");
    std::fs::write(
        &points,
        "lift,air_l_min,water_l_min,source_level_mm\nfry,15,50,1050\nfry,25,72,1050\nfry,40,90,1050\n",
    )
    .unwrap();
    let points = points.to_str().unwrap();
    let output = risertrim(&["check", points]);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("--installation"), "{}", err(&output));
    let output = risertrim(&["check", points, "--installation", "default"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    assert!(
        text.contains("Lift fry: 3 points from 15.0 to 40.0 L/min of free air, 50.0 to 90.0 L/min of water."),
        "{text}"
    );
}

#[test]
fn completions_know_every_command_and_manual_pages_are_written_for_each() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let output = risertrim(&["complete", shell]);
        assert_eq!(output.status.code(), Some(0));
        let text = out(&output);
        for word in ["simulate", "calibrate", "csv-every"] {
            assert!(text.contains(word), "{shell} lacks {word}");
        }
    }
    let folder = folder("manual");
    let output = risertrim(&["manual", folder.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let page = std::fs::read_to_string(folder.join("risertrim-simulate.1")).unwrap();
    assert!(
        page.contains(".TH risertrim\\-simulate") || page.contains(".TH risertrim-simulate"),
        "{page}"
    );
    assert!(page.contains("\\-\\-html"), "{page}");
    assert!(folder.join("risertrim.1").is_file());
}

#[test]
fn a_log_is_read_to_its_end_and_what_is_no_log_is_told() {
    let folder = folder("check-log");
    let log = folder.join("day.rtlog");
    let log = log.to_str().unwrap();
    let output = risertrim(&["simulate", "one_lift", "--hours", "1", "--quiet", "--log", log]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let output = risertrim(&["check", log]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    assert!(
        text.contains("day.rtlog: a log, sound\n") && text.contains("readings of 3600 moments"),
        "{text}"
    );
    // A byte turned over in the middle costs one frame.
    let mut bytes = std::fs::read(log).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x55;
    std::fs::write(log, bytes).unwrap();
    let output = risertrim(&["check", log]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert!(
        out(&output).contains("day.rtlog: a log, sound, 1 warning\n"),
        "{}",
        out(&output)
    );
    std::fs::write(log, "no log at all").unwrap();
    let output = risertrim(&["check", log]);
    assert_eq!(output.status.code(), Some(2), "{}", out(&output));
}

#[test]
fn a_place_that_leaves_its_fish_untold_or_without_air_is_warned_of() {
    let text = scenario_text(&design(&wish(&[("fry", 50.0, true), ("filter", 120.0, false)])).unwrap());
    let changed = |from: &str, to: &str| {
        let line = text
            .lines()
            .find(|line| line.starts_with(from))
            .unwrap_or_else(|| panic!("{from}\n{text}"));
        check_place("draft.toml", &text.replacen(line, to, 1)).unwrap().warnings
    };
    let untold = changed("fish_kg = ", "");
    assert_eq!(untold.len(), 1, "{untold:?}");
    assert!(
        untold[0].contains("fry tank") && untold[0].contains("fish_kg"),
        "{untold:?}"
    );
    let airless = changed("air_floor_l_min = ", "air_floor_l_min = 0");
    assert_eq!(airless.len(), 1, "{airless:?}");
    assert!(
        airless[0].contains("fry tank") && airless[0].contains("aerate"),
        "{airless:?}"
    );
}

#[test]
fn a_mains_failure_without_a_backup_is_a_mistake_that_says_what_to_write() {
    let (_, text) = Scenario::shipped()[0];
    let event = format!("{text}\n[[event]]\nat_h = 1\nmains = \"fails\"\n");
    let fault = check_place("mine.toml", &event).unwrap_err().to_string();
    assert!(
        fault.contains("power = \"fails\"") && fault.contains("energy_wh"),
        "{fault}"
    );
    let told = event.replacen("[air]\n", "[air]\nbackup = { energy_wh = 500 }\n", 1);
    assert!(told != event && check_place("mine.toml", &told).is_ok());
}

/// What `check` warns of where a shipped place is written otherwise.
fn warned(name: &str, changes: &[(&str, &str)]) -> String {
    let shipped = Scenario::shipped().iter().find(|(shipped, _)| *shipped == name);
    let mut text = shipped.map(|(_, text)| (*text).to_owned()).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "{name} does not hold {from}");
        text = text.replacen(from, to, 1);
    }
    let sound = check_place("mine.toml", &text).unwrap_or_else(|fault| panic!("{changes:?}: {fault}"));
    sound.warnings.join("\n")
}

#[test]
fn figures_of_blower_and_fish_that_nobody_means_are_warned_of() {
    const BLOWER: &str = "[[0, 24], [450, 13], [900, 0]]";
    for (changes, says) in [
        (&[(BLOWER, "[[0, 240], [450, 130], [900, 0]]")][..], "in mbar, divide"),
        (&[(BLOWER, "[[0, 24], [27000, 13], [54000, 0]]")], "in L/h, divide"),
        (&[("fish_kg = 30", "fish_kg = 30000")], "kg/m3"),
        (&[("fish = true\n", "")], "fish_kg 30 and not fish = true"),
    ] {
        let calm = warned("shared_tank", &[]);
        let said = warned("shared_tank", changes);
        assert!(said.contains(says) && !calm.contains(says), "{changes:?}: {said}");
    }
    let last = [("priority = 1", "priority = 4")];
    let said = warned("default", &last);
    assert!(
        said.contains("lift fry") && said.contains("the fish come last"),
        "{said}"
    );
    assert!(!warned("default", &[]).contains("the fish come last"));
}

#[test]
fn outlets_in_a_ring_and_crests_that_drown_are_warned_of() {
    let ring = [
        (
            "{ to = \"sump\", v_notch = { crest_mm = 600",
            "{ to = \"plant beds\", v_notch = { crest_mm = 600",
        ),
        ("{ to = \"sump\", pipe", "{ to = \"filter\", pipe"),
    ];
    assert!(warned("default", &ring).contains("outlets lead in a ring"));
    assert!(!warned("default", &[]).contains("ring"));
    // The filter's floor 300 mm lower: its notch then lies at 800 mm, and the sump stands higher than that.
    let text = Scenario::shipped()[0].1;
    let filter = text.find("name = \"filter\"").unwrap();
    let sunk = format!(
        "{}{}",
        &text[..filter],
        text[filter..].replacen("floor_height_mm = 500", "floor_height_mm = 200", 1)
    );
    let sound = check_place("mine.toml", &sunk).unwrap().warnings.join("\n");
    assert!(
        sound.contains("tank filter (outlet 1): its crest lies 800 mm above the floor of sump"),
        "{sound}"
    );
    assert!(!warned("default", &[]).contains("drowned"));
}

#[test]
fn air_floors_are_reckoned_as_the_controller_holds_them() {
    // Two lifts into one tank: above the onset's 0.45 a lift is never stopped, and told apart from the other by nothing.
    let said = warned("shared_tank", &[("air_floor_l_min = 12", "air_floor_l_min = 40")]);
    assert!(
        said.contains("lift large shares its tank") && said.contains("it is never stopped"),
        "{said}"
    );
    let figure: f64 = said
        .split("With a floor up to ")
        .nth(1)
        .unwrap()
        .split(' ')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    let enough = format!("air_floor_l_min = {figure:.1}");
    let below = format!("air_floor_l_min = {:.1}", figure - 0.1);
    assert!(
        !warned("shared_tank", &[("air_floor_l_min = 12", &below)]).contains("never stopped"),
        "{enough}"
    );
    let above = format!("air_floor_l_min = {:.1}", figure + 0.1);
    assert!(warned("shared_tank", &[("air_floor_l_min = 12", &above)]).contains("never stopped"));
    // Its target needs 105 L/min: 80 is less, and 1.4 times 80 is more.
    let said = warned("shared_tank", &[("air_floor_l_min = 12", "air_floor_l_min = 80")]);
    assert!(
        said.contains("112.0 L/min") && said.contains("too much water"),
        "{said}"
    );
    assert!(!warned("shared_tank", &[("air_floor_l_min = 12", "air_floor_l_min = 70")]).contains("too much water"));
    // 1.4 times 400 and 300 is more than the 900 the blower gives at no pressure.
    let said = warned(
        "shared_tank",
        &[
            ("air_floor_l_min = 12", "air_floor_l_min = 400"),
            ("air_floor_l_min = 4.5", "air_floor_l_min = 300"),
        ],
    );
    assert!(said.contains("the air floors together are 700 L/min"), "{said}");
}

#[test]
fn a_curve_measured_at_one_point_is_not_called_measured_without_more() {
    let fit = |low: f64, high: f64| {
        format!(
            "may_stop = true\ncalibration = {{ losses = 1.1, covariance = [0.1, 0, 0, 0.01, 0, 0.01], air_low_l_min = {low}, air_high_l_min = {high} }}\n\n[truth]"
        )
    };
    for (low, high, says) in [
        (30.0, 30.0, "its curve was measured at one point only"),
        (30.0, 33.0, "its curve was measured at about one air only"),
        (20.0, 60.0, "its curve was measured."),
    ] {
        let text = Scenario::by_name_or_path("one_lift")
            .map(|_| include_str!("../scenarios/one_lift.toml"))
            .unwrap();
        let text = text.replacen("[truth]", &fit(low, high), 1);
        let words = check_place("mine.toml", &text)
            .unwrap_or_else(|fault| panic!("{fault}"))
            .words
            .join("\n");
        assert!(words.contains(says), "{words}");
    }
}
