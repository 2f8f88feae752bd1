//! The page of a run: what is in it, and that a browser draws it.

mod browser;

use browser::{tried_out, with_browser};
use risertrim_sim::report::ReportRecorder;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Moment, Outcome, Recorder, Run, Watch};
use serde_json::Value;
use std::io;

/// Two megabytes: what a phone loads without a wait.
const MOST_BYTES: usize = 2_000_000;

/// Keeps the page, and the extremes of everything by itself.
struct Both {
    page: ReportRecorder,
    delivered: Vec<(f64, f64)>,
    levels: Vec<(f64, f64)>,
}

impl Recorder for Both {
    fn record(&mut self, moment: &Moment<'_>) -> io::Result<()> {
        for (ends, lift) in self.delivered.iter_mut().zip(&moment.truth.lifts) {
            *ends = widened(*ends, 60_000.0 * lift.water_m3_s);
        }
        for (ends, tank) in self.levels.iter_mut().zip(&moment.truth.tanks) {
            *ends = widened(*ends, 1_000.0 * tank.level_m);
        }
        self.page.record(moment)
    }
}

fn widened((low, high): (f64, f64), value: f64) -> (f64, f64) {
    (low.min(value), high.max(value))
}

fn run(scenario: &Scenario, hours: f64) -> (String, Outcome, Both) {
    let nothing = (f64::INFINITY, f64::NEG_INFINITY);
    let mut both = Both {
        page: ReportRecorder::new(scenario, hours),
        delivered: vec![nothing; scenario.lift_names.len()],
        levels: vec![nothing; scenario.tank_names.len()],
    };
    let outcome = Run::new(scenario, Some(hours), None)
        .unwrap()
        .finish(&mut Watch {
            progress: None,
            recorder: Some(&mut both),
        })
        .unwrap();
    let page = both.page.clone().page(&outcome).unwrap();
    (page, outcome, both)
}

fn shipped(name: &str) -> Scenario {
    Scenario::by_name_or_path(name).unwrap()
}

/// What the page's script is given.
fn data(page: &str) -> Value {
    let (_, rest) = page
        .split_once("<script id=\"data\" type=\"application/json\">")
        .unwrap();
    serde_json::from_str(rest.split_once("</script>").unwrap().0).unwrap()
}

fn values(series: &Value) -> Vec<f64> {
    let scale = series["scale"].as_f64().unwrap();
    let mut sum = 0;
    let differences = series["d"].as_array().unwrap().iter().filter_map(Value::as_i64);
    differences
        .map(|difference| {
            sum += difference;
            sum as f64 * scale
        })
        .collect()
}

fn ends(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |ends, value| widened(ends, *value))
}

#[test]
fn thinning_keeps_the_highest_and_lowest_of_every_flow_and_level() {
    let (page, _, both) = run(&shipped("tight_blower"), 24.0);
    let data = data(&page);
    let charts = data["charts"].as_array().unwrap();
    let of = |section: &str| -> Vec<(f64, f64)> {
        let charts = charts.iter().filter(|chart| chart["section"] == section);
        charts
            .map(|chart| ends(&values(&chart["series"][0]["values"])))
            .collect()
    };
    for (kept, whole) in [(of("flows"), &both.delivered), (of("levels"), &both.levels)] {
        assert_eq!(kept.len(), whole.len());
        for (kept, whole) in kept.iter().zip(whole) {
            // Rounded to a tenth of a unit.
            assert!((kept.0 - whole.0).abs() < 0.051, "{kept:?} {whole:?}");
            assert!((kept.1 - whole.1).abs() < 0.051, "{kept:?} {whole:?}");
        }
    }
}

#[test]
fn a_page_of_a_day_or_a_week_is_small_and_asks_for_no_network() {
    for (name, hours) in [("default", 24.0), ("tight_blower", 24.0), ("one_lift", 168.0)] {
        let (page, ..) = run(&shipped(name), hours);
        assert!(page.len() < MOST_BYTES, "{name}: {} bytes", page.len());
        assert!(page.contains("default-src 'none'"));
        for asks in ["src=\"", "<link rel=\"stylesheet\"", "@import", "url("] {
            assert!(!page.contains(asks), "{name}: {asks}");
        }
    }
}

#[test]
fn the_page_says_in_words_and_tables_what_the_charts_show() {
    let (page, outcome, _) = run(&shipped("default"), 24.0);
    assert!(page.contains(&risertrim_sim::output::verdict(&outcome)));
    for lift in &outcome.lifts {
        let delivered = lift.delivered_mean_l_min.unwrap();
        assert!(page.contains(&format!("<th scope=\"row\">{}</th>", lift.name)));
        assert!(page.contains(&format!("<td>{delivered:.1}</td>")));
        assert!(page.contains(&format!("<caption>Lift {}, means</caption>", lift.name)));
    }
    assert!(page.contains("Lift filter is shut by hand, and the controller told"));
    // A row an hour.
    let (_, table) = page.split_once("<caption>Air side, means</caption>").unwrap();
    let (table, _) = table.split_once("</table>").unwrap();
    assert_eq!(table.matches("<tr>").count(), 1 + 24);
}

#[test]
fn a_name_of_the_scenario_cannot_break_out_of_the_page() {
    let text = include_str!("../scenarios/one_lift.toml");
    let name = text.lines().find(|line| line.starts_with("name = ")).unwrap();
    let text = text.replacen(name, "name = \"</script><b>&\"", 1);
    let scenario = Scenario::parse("odd.toml", &text).unwrap();
    let (page, ..) = run(&scenario, 1.0);
    assert!(!page.contains("</script><b>"));
    assert!(page.contains("<h1>&lt;/script&gt;&lt;b&gt;&amp;</h1>"));
}

#[test]
fn a_browser_draws_every_chart_zooms_and_cuts_nothing_off_on_desk_and_phone() {
    with_browser(|browser| {
        for (name, hours) in [("default", 24.0), ("tight_blower", 24.0), ("one_lift", 168.0)] {
            let (page, ..) = run(&shipped(name), hours);
            for width in [1280, 390] {
                let (title, console) = tried_out(browser, name, &page, width);
                assert!(
                    title.starts_with("selftest passed") && title.ends_with(&format!("at {width} px")),
                    "{name} at {width}: {title}"
                );
                assert_eq!(console, "", "{name} at {width}");
            }
        }
    });
}

#[test]
fn the_pages_trial_of_itself_finds_what_is_too_wide_and_what_fails() {
    with_browser(|browser| {
        let (page, ..) = run(&shipped("one_lift"), 1.0);
        let wide = page.replacen("<main>", "<main><p style=\"width:3000px\">wide</p>", 1);
        let (title, _) = tried_out(browser, "wide", &wide, 390);
        assert!(
            title.starts_with("selftest failed") && title.contains("cut off"),
            "{title}"
        );
        let broken = page.replacen("function events(u) {", "function events(u) { nothing();", 1);
        let (title, console) = tried_out(browser, "broken", &broken, 1280);
        assert!(!title.starts_with("selftest passed"), "{title}");
        assert!(console.contains("nothing"), "{console}");
    });
}

#[test]
fn what_to_do_about_a_call_is_read_without_a_click_and_a_lift_that_strayed_is_not_praised() {
    let (_, text) = Scenario::shipped()
        .iter()
        .find(|(name, _)| *name == "one_lift")
        .unwrap();
    let (place, _) = text.split_once("[[target]]").unwrap_or((text, ""));
    let off = "\n[[event]]\nat_h = 1\nlift = \"trout\"\nair_line_off = true\n";
    let scenario = Scenario::parse("mine.toml", &format!("{place}{off}")).unwrap();
    let (page, outcome, _) = run(&scenario, 4.0);
    let calls: Vec<_> = outcome
        .alarms
        .iter()
        .filter(|alarm| alarm.urgency_name() == "now")
        .collect();
    assert!(!calls.is_empty(), "nothing to come for: {:?}", outcome.alarms);
    let open = page.split("<details").next().unwrap();
    for alarm in calls {
        assert!(open.contains(&alarm.act[1..]), "{}: {}", alarm.kind, alarm.act);
    }
    assert!(
        !open.contains("was at its target within"),
        "{}",
        &open[open.len() - 3000..]
    );
}
