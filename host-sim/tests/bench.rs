//! The benchmark: the plant is the same as in Python, everybody answers the same question, and the command prints it all.
//! No time is asserted.

use risertrim_sim::bench::plant;
use risertrim_sim::scenario::Scenario;
use std::process::Command;

/// With `RISERTRIM_NO_SKIP=1` a machine without scipy fails.
fn scipy_may_be_left_out(why: &str) {
    let no_skip = std::env::var("RISERTRIM_NO_SKIP").is_ok_and(|value| value == "1");
    println!("skipped: {why}");
    assert!(!no_skip, "{why}");
}

#[test]
fn every_integrator_answers_the_same_question() {
    let scenario = Scenario::by_name_or_path("default").unwrap_or_else(|report| panic!("{report}"));
    let bench = plant(&scenario, 30).unwrap_or_else(|error| panic!("{error}"));
    // A level sensor scatters by 1 mm; the plant's own step costs less than a tenth of that.
    for time in [&bench.ours.moved, &bench.ours.still] {
        assert!(time.error_mm > 0.0 && time.error_mm < 0.1, "{time:?}");
    }
    let others = [Some(&bench.ode), bench.scipy.as_ref().ok()];
    for row in others.into_iter().flatten() {
        for (time, ours) in [(&row.moved, &bench.ours.moved), (&row.still, &bench.ours.still)] {
            assert!(time.error_mm <= ours.error_mm, "{}: {time:?}, ours {ours:?}", row.who);
        }
    }
    if let Err(why) = &bench.scipy {
        scipy_may_be_left_out(why);
    }
}

#[test]
fn the_command_prints_plant_step_and_estimate() {
    let run = |more: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_risertrim"))
            .args(["bench", "one_lift", "--seconds", "1000", "--plant-seconds", "10"])
            .args(more)
            .output()
            .unwrap_or_else(|error| panic!("{error}"));
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    let text = run(&[]);
    for part in [
        "this program's plant",
        "ode_solvers",
        "scipy",
        "nalgebra",
        "pid crate",
        "V-notch",
    ] {
        assert!(text.contains(part), "{part} is missing:\n{text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    let json: serde_json::Value = serde_json::from_str(&run(&["--json"])).unwrap_or_else(|error| panic!("{error}"));
    assert!(json["plant"]["ours"]["moved"]["us_per_s"].is_number(), "{json}");
}

/// Without python3 the command says so and goes on.
#[test]
fn without_python_scipy_is_left_out_and_the_reason_said() {
    let output = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["bench", "one_lift", "--seconds", "1000", "--plant-seconds", "10"])
        .env("PATH", "")
        .output()
        .unwrap_or_else(|error| panic!("{error}"));
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success() && text.contains("scipy was left out: python3 does not start"),
        "{text}"
    );
}
