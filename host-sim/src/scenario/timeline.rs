//! Reads `[[target]]` and `[[event]]`: what happens when.

use super::report::Kind;
use super::section::Section;
use super::units::{L, L_DAY, L_MIN, MM, PERCENT, narrow};
use crate::plant::{Change, SensorFault};
use risertrim::{Command, Opening, WaterFlow};

const HOUR_S: f64 = 3600.0;
const DAY_S: f64 = 24.0 * HOUR_S;
/// A year: longer runs are made of days that repeat.
const LATEST_H: f64 = 8784.0;

/// Something that happens at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Timed {
    /// When it first happens, s after the start.
    pub at_s: f64,
    /// True when it happens again every 24 h.
    pub repeats_daily: bool,
    /// What happens.
    pub what: Happening,
    /// Line of the file that says so.
    pub line: usize,
}

/// What happens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Happening {
    /// The controller is told something.
    Command(Command),
    /// Something happens to the installation and nobody tells the controller.
    Plant {
        /// What happens.
        change: Change,
        /// Over what time, s; 0: at once.
        over_s: f64,
    },
    /// Somebody does something to the installation and tells the controller.
    Both {
        /// What the controller is told.
        command: Command,
        /// What happens, at once.
        change: Change,
    },
}

/// Names that the timeline may use.
pub(super) struct Names<'a> {
    pub tanks: &'a [String],
    pub lifts: &'a [String],
    /// Outlets of each tank.
    pub outlets: &'a [usize],
    pub has_gauge: bool,
    pub hours: f64,
}

/// Reads targets and events, in the order of time.
pub(super) fn read(top: &mut Section<'_>, names: &Names<'_>) -> Vec<Timed> {
    let mut timeline = Vec::new();
    for section in top.tables("target") {
        timeline.extend(target(section, names));
    }
    for section in top.tables("event") {
        timeline.extend(event(section, names));
    }
    timeline.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    timeline
}

fn when(section: &mut Section<'_>, names: &Names<'_>) -> (f64, bool) {
    let at_h = section.number("at_h", 0.0..=LATEST_H);
    if at_h >= names.hours {
        let message = format!(
            "at_h {at_h} is not before the end of the run, {} h: it never happens",
            names.hours
        );
        section.warning(Kind::Event, "at_h", message, None);
    }
    (at_h * HOUR_S, section.flag_or("every_day", false))
}

fn lift_index(section: &mut Section<'_>, names: &Names<'_>) -> Option<u8> {
    section
        .name_of("lift", names.lifts, "lift")
        .and_then(|index| u8::try_from(index).ok())
}

fn target(mut section: Section<'_>, names: &Names<'_>) -> Option<Timed> {
    let line = section.line();
    let (at_s, repeats_daily) = when(&mut section, names);
    let lift = lift_index(&mut section, names);
    let l_min = section.number("l_min", 0.0..=20_000.0);
    section.end();
    let command = Command::Target {
        lift: lift?,
        flow: WaterFlow::from_m3_s(narrow(l_min * L_MIN)),
    };
    Some(Timed {
        at_s,
        repeats_daily,
        what: Happening::Command(command),
        line,
    })
}

/// Actions on a lift, on a tank and on the whole, with what they mean to people.
const OF_LIFT: [&str; 10] = [
    "shut",
    "foul_percent",
    "clean",
    "valve_stuck",
    "valve_leak_percent",
    "valve_slow_times",
    "diffuser_loss_times",
    "air_line_loss_times",
    "manual_opening_percent",
    "commission",
];
const OF_TANK: [&str; 9] = [
    "evaporate_l_day",
    "inflow_l_min",
    "top_up_l",
    "scoop_l",
    "leak_l_min",
    "outlet_clogged_percent",
    "sensor",
    "sensor_jump_mm",
    "sensor_reads_mm",
];
const OF_ALL: [&str; 5] = ["automatic", "blower_left_percent", "blower", "gauge", "essential_air"];

fn event(mut section: Section<'_>, names: &Names<'_>) -> Option<Timed> {
    let line = section.line();
    let (at_s, repeats_daily) = when(&mut section, names);
    let over_s = over(&mut section);
    let actions: Vec<&'static str> = OF_LIFT
        .into_iter()
        .chain(OF_TANK)
        .chain(OF_ALL)
        .filter(|action| section.has(action))
        .collect();
    match actions[..] {
        [action] => {
            let wants_lift = OF_LIFT.contains(&action) || action == "automatic";
            for (subject, wanted) in [("lift", wants_lift), ("tank", OF_TANK.contains(&action))] {
                if section.has(subject) && !wanted {
                    section.fault(
                        Kind::Event,
                        subject,
                        format!("{action} does not concern a {subject}"),
                        None,
                    );
                }
            }
        }
        [] => section.fault(
            Kind::Event,
            "",
            "this event says no action: nothing would happen",
            Some(format!(
                "of a lift: {}, automatic; of a tank: {}; or {}",
                OF_LIFT.join(", "),
                OF_TANK.join(", "),
                OF_ALL[1..].join(", ")
            )),
        ),
        [.., last] => section.fault(
            Kind::Event,
            last,
            format!(
                "this event has {} actions at once: {}",
                actions.len(),
                actions.join(", ")
            ),
            Some("write an [[event]] for each, with the same at_h".to_owned()),
        ),
    }
    let of_lift = lift_action(&mut section, names, over_s);
    let of_tank = tank_action(&mut section, names, over_s);
    let of_all = common_action(&mut section, names, over_s);
    // Known everywhere; missing ones were noted with their action.
    section.maybe_text("lift");
    section.maybe_text("tank");
    section.end();
    let what = of_lift.or(of_tank).or(of_all)?;
    Some(Timed {
        at_s,
        repeats_daily,
        what,
        line,
    })
}

/// The time over which it happens, s; 0 when it is not told.
fn over(section: &mut Section<'_>) -> f64 {
    let told: Vec<&str> = ["over_h", "over_min", "over_s"]
        .into_iter()
        .filter(|key| section.has(key))
        .collect();
    if let [.., last] = told[..]
        && told.len() > 1
    {
        section.fault(
            Kind::Event,
            last,
            format!("the time is told twice: {}", told.join(", ")),
            None,
        );
    }
    let hours = section.number_or("over_h", 0.0..=LATEST_H, 0.0);
    let minutes = section.number_or("over_min", 0.0..=LATEST_H * 60.0, 0.0);
    let seconds = section.number_or("over_s", 0.0..=LATEST_H * HOUR_S, 0.0);
    hours * HOUR_S + minutes * 60.0 + seconds
}

fn lift_action(section: &mut Section<'_>, names: &Names<'_>, over_s: f64) -> Option<Happening> {
    let shut = section.maybe_flag("shut");
    let untold = section.flag_or("untold", false);
    let foul = section.maybe_number("foul_percent", 0.0..=95.0);
    let clean = section.maybe_flag("clean");
    let stuck = section.maybe_flag("valve_stuck");
    let leak = section.maybe_number("valve_leak_percent", 0.0..=100.0);
    let slow = section.maybe_number("valve_slow_times", 0.1..=1000.0);
    let diffuser = section.maybe_number("diffuser_loss_times", 0.0..=10_000.0);
    let line = section.maybe_number("air_line_loss_times", 0.0..=1.0e6);
    let opening = section.maybe_number("manual_opening_percent", 0.0..=100.0);
    let automatic = section.maybe_flag("automatic");
    let commission = section.maybe_flag("commission");
    if !OF_LIFT.iter().any(|action| section.has(action)) && !section.has("automatic") {
        return None;
    }
    let index = lift_index(section, names)?;
    let lift = usize::from(index);
    if untold && shut.is_none() {
        section.warning(Kind::Event, "untold", "untold means something only beside shut", None);
    }
    for (key, flag) in [("clean", clean), ("automatic", automatic), ("commission", commission)] {
        if flag == Some(false) {
            section.fault(Kind::Event, key, format!("{key} = false: nothing would happen"), None);
        }
    }
    let plant = |change| Some(Happening::Plant { change, over_s });
    if let Some(shut) = shut {
        let change = Change::ShutLift { lift, shut };
        let command = if shut {
            Command::OutOfService { lift: index }
        } else {
            Command::Automatic { lift: index }
        };
        return if untold {
            plant(change)
        } else {
            Some(Happening::Both { command, change })
        };
    }
    if let Some(percent) = foul {
        return plant(Change::FoulLift {
            lift,
            lost: percent * PERCENT,
        });
    }
    if clean.is_some() {
        return plant(Change::CleanLift { lift });
    }
    if let Some(stuck) = stuck {
        return plant(Change::StickValve { lift, stuck });
    }
    if let Some(percent) = leak {
        return plant(Change::LeakValve {
            lift,
            share: percent * PERCENT,
        });
    }
    if let Some(times) = slow {
        return plant(Change::SlowValve { lift, times });
    }
    if let Some(times) = diffuser {
        return plant(Change::FoulDiffuser { lift, times });
    }
    if let Some(times) = line {
        return plant(Change::KinkLine { lift, times });
    }
    if let Some(percent) = opening {
        let opening = Opening::new(narrow(percent * PERCENT));
        return Some(Happening::Command(Command::Manual { lift: index, opening }));
    }
    if commission.is_some() {
        return Some(Happening::Command(Command::Commission { lift: index }));
    }
    Some(Happening::Command(Command::Automatic { lift: index }))
}

fn tank_action(section: &mut Section<'_>, names: &Names<'_>, over_s: f64) -> Option<Happening> {
    const SENSOR: [&str; 3] = ["missing", "stuck", "mended"];
    let evaporation = section.maybe_number("evaporate_l_day", 0.0..=1.0e6);
    let inflow = section.maybe_number("inflow_l_min", 0.0..=100_000.0);
    let top_up = section.maybe_number("top_up_l", 0.0..=1.0e6);
    let scoop = section.maybe_number("scoop_l", 0.0..=1.0e6);
    let leak = section.maybe_number("leak_l_min", 0.0..=100_000.0);
    let clogged = section.maybe_number("outlet_clogged_percent", 0.0..=100.0);
    let number = section.whole_or("outlet", 1..=3, 1);
    let sensor = section.word("sensor", &SENSOR);
    let jump = section.maybe_number("sensor_jump_mm", -20_000.0..=20_000.0);
    let reads = section.maybe_number("sensor_reads_mm", -1.0e6..=1.0e6);
    if !OF_TANK.iter().any(|action| section.has(action)) {
        if section.has("outlet") {
            section.fault(Kind::Event, "outlet", "outlet goes with outlet_clogged_percent", None);
        }
        return None;
    }
    let tank = section.name_of("tank", names.tanks, "tank")?;
    let change = if let Some(rate) = evaporation {
        Change::Evaporate {
            tank,
            m3_s: rate * L_DAY,
        }
    } else if let Some(rate) = inflow {
        Change::Inflow {
            tank,
            m3_s: rate * L_MIN,
        }
    } else if let Some(litres) = top_up {
        Change::TopUp { tank, m3: litres * L }
    } else if let Some(litres) = scoop {
        Change::Scoop { tank, m3: litres * L }
    } else if let Some(rate) = leak {
        Change::Leak {
            tank,
            m3_s: rate * L_MIN,
        }
    } else if let Some(percent) = clogged {
        let outlets = names.outlets.get(tank).copied().unwrap_or(0);
        let outlet = usize::try_from(number).unwrap_or(1) - 1;
        if outlet >= outlets {
            let at = if section.has("outlet") {
                "outlet"
            } else {
                "outlet_clogged_percent"
            };
            section.fault(
                Kind::UnknownName,
                at,
                format!("tank \"{}\" has {outlets} outlets", names.tanks[tank]),
                None,
            );
        }
        Change::ClogOutlet {
            tank,
            outlet,
            left: 1.0 - percent * PERCENT,
        }
    } else {
        let fault = match (sensor, jump, reads) {
            (_, Some(mm), _) => SensorFault::Jump(mm * MM),
            (_, _, Some(mm)) => SensorFault::Reads(mm * MM),
            (Some(0), ..) => SensorFault::Missing,
            (Some(1), ..) => SensorFault::Stuck,
            (Some(_), ..) => SensorFault::Mended,
            (None, ..) => return None,
        };
        Change::Sensor { tank, fault }
    };
    Some(Happening::Plant { change, over_s })
}

fn common_action(section: &mut Section<'_>, names: &Names<'_>, over_s: f64) -> Option<Happening> {
    let left = section.maybe_number("blower_left_percent", 0.0..=150.0);
    let blower = section.word("blower", &["stops", "runs"]);
    let gauge = section.word("gauge", &["missing", "mended"]);
    let essential = section.maybe_flag("essential_air");
    if gauge.is_some() && !names.has_gauge {
        section.fault(
            Kind::Event,
            "gauge",
            "there is no manifold gauge",
            Some("gauge_noise_kpa in [air] says that there is one".to_owned()),
        );
    }
    if let Some(on) = essential {
        return Some(Happening::Command(Command::EssentialAir(on)));
    }
    let change = if let Some(percent) = left {
        Change::SagBlower {
            left: percent * PERCENT,
        }
    } else if let Some(word) = blower {
        Change::RunBlower { on: word == 1 }
    } else {
        Change::LoseGauge { lost: gauge? == 0 }
    };
    Some(Happening::Plant { change, over_s })
}

/// Every happening up to `until_s`, in order, the daily ones unfolded, with its time.
pub(super) fn unfolded(timeline: &[Timed], until_s: f64) -> Vec<(f64, &Timed)> {
    let mut all = Vec::new();
    for timed in timeline {
        let mut at_s = timed.at_s;
        while at_s < until_s {
            all.push((at_s, timed));
            if !timed.repeats_daily {
                break;
            }
            at_s += DAY_S;
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}
