//! The comparison: everybody who watches reaches the target, nobody is handicapped, and the same seed gives the same figures.

mod browser;

use browser::{tried_out, with_browser};
use risertrim_sim::compare::{Comparison, Contender, Figures, LiftFigures, compare, page, text};
use risertrim_sim::scenario::Scenario;
use std::process::Command;
use std::sync::OnceLock;

/// One lift, two hours, a new target after an hour and a quarter.
fn scenario() -> Scenario {
    let mut scenario = Scenario::by_name_or_path("one_lift").unwrap_or_else(|report| panic!("{report}"));
    scenario
        .timeline
        .retain(|timed| matches!(timed.what, risertrim_sim::scenario::Happening::Command(_)));
    scenario.timeline.truncate(1);
    scenario.timeline[0].at_s = 4500.0;
    scenario
}

fn compared() -> &'static Comparison {
    static ONCE: OnceLock<Comparison> = OnceLock::new();
    ONCE.get_or_init(|| compare(&scenario(), 2.0, &[1, 2], &|_| {}).unwrap_or_else(|error| panic!("{error}")))
}

fn rest_mean_percent(run: &Figures) -> Option<f64> {
    run.lifts
        .first()
        .and_then(|lift| lift.rest.mean_percent())
        .map(f64::abs)
}

#[test]
fn whoever_watches_the_level_is_on_target_within_what_the_outlet_was_told_wrongly() {
    for contender in [Contender::Pi, Contender::PiOnFilter, Contender::Risertrim] {
        let worst = compared().row(contender).and_then(|row| row.worst(rest_mean_percent));
        // Outlets and areas of the scenario are told up to 2 % wrongly, and plant and core have their own outlet laws.
        assert!(worst.is_some_and(|worst| worst < 4.0), "{contender:?}: {worst:?} %");
    }
}

#[test]
fn whoever_is_told_all_is_on_target() {
    let worst = compared()
        .row(Contender::Knowing)
        .and_then(|row| row.worst(rest_mean_percent));
    assert!(worst.is_some_and(|worst| worst < 1.0), "{worst:?} %");
}

#[test]
fn the_hand_trims_to_what_its_bucket_can_tell_and_is_not_handicapped() {
    // The bucket reads up to 4 % wrong and 4 % off is let be: 8 % together, and a little for the sump that still settles.
    let worst = compared()
        .row(Contender::HandWeekly)
        .and_then(|row| row.worst(rest_mean_percent));
    assert!(worst.is_some_and(|worst| worst < 10.0), "{worst:?} %");
}

#[test]
fn a_new_target_is_followed_by_those_who_follow_and_by_nobody_else() {
    let after = |contender| {
        let row = compared().row(contender)?;
        row.rms(|run| run.over_lifts(|lift: &LiftFigures| lift.after_change.rms_percent()))
    };
    let (left, followed) = (after(Contender::HandOnce), after(Contender::Risertrim));
    // The target rises from 75 to 88 L/min: 15 % of the new one, ramped over 150 of the 1800 seconds.
    assert!(left.is_some_and(|rms| rms > 8.0), "{left:?}");
    assert!(followed.is_some_and(|rms| rms < 5.0), "{followed:?}");
}

#[test]
fn the_same_seeds_give_the_same_figures() {
    let again = compare(&scenario(), 2.0, &[1, 2], &|_| {}).unwrap_or_else(|error| panic!("{error}"));
    let json = |comparison: &Comparison| serde_json::to_string(comparison).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(json(compared()), json(&again));
}

#[test]
fn table_and_page_show_everybody() {
    let text = text(compared());
    let page = page(compared(), &scenario()).unwrap_or_else(|error| panic!("{error}"));
    for contender in Contender::ALL {
        assert!(text.contains(contender.name()) && text.contains(contender.about().split(',').next().unwrap_or("")));
        assert!(
            page.contains(&format!("\"name\":\"{}\"", contender.name())),
            "{contender:?} is not drawn"
        );
    }
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    // First what a grower takes from it, and the goals of this project last.
    let at = |part: &str| text.find(part).unwrap_or_else(|| panic!("no \"{part}\" in {text}"));
    assert!(at("was asked of them") < at("after   own") && at("after   own") < at("Against the goals"));
    let of_own = |of: fn(&Figures) -> f64| compared().row(Contender::Risertrim).map_or(0.0, |row| row.mean(of));
    let said = format!("{:.1} % of the time under risertrim", of_own(Figures::in_band_percent));
    let plain = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(plain.contains(&said) && page.contains(&said), "{said}: {plain}");
    // Alone in its file: nothing is fetched from anywhere.
    assert!(!page.contains("src=\"") && !page.contains("href=\"http"));
    assert!(page.contains("default-src 'none'"));
}

#[test]
fn a_browser_draws_every_chart_of_the_page_and_cuts_nothing_off_on_desk_and_phone() {
    let page = page(compared(), &scenario()).unwrap_or_else(|error| panic!("{error}"));
    with_browser(|browser| {
        for width in [1280, 390] {
            let (title, console) = tried_out(browser, "compare", &page, width);
            assert!(title.starts_with("selftest passed"), "{width}: {title}");
            assert_eq!(console, "", "{width}");
        }
    });
}

#[test]
fn the_air_of_a_lift_on_target_is_what_its_riser_needs() {
    for contender in [Contender::Risertrim, Contender::Knowing, Contender::Pi] {
        let row = compared().row(contender);
        for run in row.into_iter().flat_map(|row| &row.runs) {
            // Within the error of the flow, times how steeply air rises with it (up to 3).
            let over = run.air_over_need.unwrap_or(f64::NAN);
            assert!((over - 1.0).abs() < 0.1, "{contender:?}: {over}");
        }
    }
}

#[test]
fn without_stops_to_measure_the_time_between_stops_is_all_of_it() {
    for row in &compared().rows {
        for lift in row.runs.iter().flat_map(|run| &run.lifts) {
            assert_eq!(lift.after_change_between, lift.after_change);
            assert_eq!(lift.rest_between, lift.rest);
        }
    }
}

#[test]
fn the_command_prints_a_table_and_writes_a_page() {
    let folder = std::env::temp_dir().join(format!("risertrim-compare-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap_or_else(|error| panic!("{error}"));
    let page = folder.join("compared.html");
    let run = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["compare", "one_lift", "--hours", "1", "--seeds", "1", "--html"])
        .arg(&page)
        .output()
        .unwrap_or_else(|error| panic!("{error}"));
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    assert!(String::from_utf8_lossy(&run.stdout).contains("knowing all"));
    let html = std::fs::read_to_string(&page).unwrap_or_else(|error| panic!("{error}"));
    let _ = std::fs::remove_dir_all(&folder);
    assert!(html.starts_with("<!DOCTYPE html>") && html.ends_with("</html>\n"));
    let bad = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["compare", "one_lift", "--hours", "0"])
        .output()
        .unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(bad.status.code(), Some(2));
}
