//! Events of a scenario in words.

use crate::plant::{Change, SensorFault};
use crate::scenario::{BoardEvent, Happening, Scenario};
use crate::simulate::{L_MIN_PER_M3_S, LITRES_PER_M3};
use risertrim::Command;

/// Seconds in a day.
const DAY_S: f64 = 86_400.0;

/// What happens, as a sentence without its full stop.
pub(super) fn sentence(what: &Happening, scenario: &Scenario) -> String {
    let names = Names(scenario);
    match what {
        Happening::Command(command) => names.command(command),
        Happening::Plant { change, over_s } if *over_s > 0.0 => {
            format!("{}, over {}", names.change(change), crate::output::duration(*over_s))
        }
        Happening::Plant { change, .. } => names.change(change),
        Happening::Board(event) => board(event),
        Happening::Both { command, .. } => match command {
            Command::OutOfService { lift } => format!("{} is shut by hand, and the controller told", names.lift(*lift)),
            Command::Automatic { lift } => format!("{} is opened again, and the controller told", names.lift(*lift)),
            other => names.command(other),
        },
    }
}

fn board(event: &BoardEvent) -> String {
    match event {
        BoardEvent::PowerFails => "the power fails: blower and board stop".to_owned(),
        BoardEvent::PowerBack => "the power is back".to_owned(),
        BoardEvent::Stops => "the board stops; the blower runs on, every valve opens".to_owned(),
        BoardEvent::Starts { remembers: true } => "the board starts again with what it had saved".to_owned(),
        BoardEvent::Starts { remembers: false } => "the board starts afresh".to_owned(),
        BoardEvent::ClockLeaps(s) => format!("the board's clock leaps by {s:+.0} s"),
        BoardEvent::ClockWraps => "the board's counter nears its wrap".to_owned(),
    }
}

struct Names<'a>(&'a Scenario);

impl Names<'_> {
    fn lift(&self, index: impl Into<usize>) -> String {
        let index = index.into();
        let name = self.0.lift_names.get(index);
        name.map_or_else(|| format!("lift {}", index + 1), |name| format!("lift {name}"))
    }

    fn tank(&self, index: usize) -> String {
        let name = self.0.tank_names.get(index);
        name.cloned().unwrap_or_else(|| format!("tank {}", index + 1))
    }

    fn command(&self, command: &Command) -> String {
        match *command {
            Command::Target { lift, flow } => {
                format!("target of {} becomes {:.0} L/min", self.lift(lift), flow.l_min())
            }
            Command::Manual { lift, opening } => {
                format!(
                    "valve of {} is set by hand to {:.0} %",
                    self.lift(lift),
                    100.0 * opening.share()
                )
            }
            Command::Automatic { lift } => format!("{} goes back to automatic", self.lift(lift)),
            Command::OutOfService { lift } => format!("{} is taken out of service", self.lift(lift)),
            Command::Commission { lift } => format!("{} is to be commissioned", self.lift(lift)),
            Command::EssentialAir(true) => "essential air is asked for: air to the fish first".to_owned(),
            Command::EssentialAir(false) => "essential air ends".to_owned(),
            Command::OnBackup(true) => "the mains is gone: the blower runs on its backup".to_owned(),
            Command::OnBackup(false) => "the mains is back".to_owned(),
            Command::Acknowledge => "somebody has seen the alarms".to_owned(),
            Command::ResetLatched => "alarms that are over are reset".to_owned(),
            Command::Silence { minutes } => format!("alarms are silenced for {minutes} min"),
        }
    }

    fn change(&self, change: &Change) -> String {
        let percent = |share: f64| 100.0 * share;
        match *change {
            Change::FoulLift { lift, lost } => {
                format!("{} fouls by {:.0} % (nobody tells)", self.lift(lift), percent(lost))
            }
            Change::LowerPeak { lift, most_m3_s } => {
                let most = L_MIN_PER_M3_S * most_m3_s;
                format!("{} can move at most {most:.0} L/min", self.lift(lift))
            }
            Change::CleanLift { lift } => format!("{} is cleaned", self.lift(lift)),
            Change::ShutLift { lift, shut: true } => {
                format!("air of {} is shut by hand (nobody tells)", self.lift(lift))
            }
            Change::ShutLift { lift, shut: false } => format!("air of {} is opened by hand", self.lift(lift)),
            Change::ClogOutlet { tank, outlet, left } => format!(
                "outlet {} of {} passes {:.0} % of its flow",
                outlet + 1,
                self.tank(tank),
                percent(left)
            ),
            Change::SagBlower { left } => format!("the blower gives {:.0} % of its curve", percent(left)),
            Change::RunBlower { on: true } => "the blower runs again".to_owned(),
            Change::RunBlower { on: false } => "the blower stops".to_owned(),
            Change::Evaporate { tank, m3_s } => format!(
                "{} evaporates {:.0} L a day",
                self.tank(tank),
                LITRES_PER_M3 * DAY_S * m3_s
            ),
            Change::Inflow { tank, m3_s } => {
                format!("{:.1} L/min flow into {}", L_MIN_PER_M3_S * m3_s, self.tank(tank))
            }
            Change::TopUp { tank, m3 } => format!("{:.0} L are poured into {}", LITRES_PER_M3 * m3, self.tank(tank)),
            Change::Scoop { tank, m3 } => format!("{:.0} L are taken from {}", LITRES_PER_M3 * m3, self.tank(tank)),
            Change::Leak { tank, m3_s } => format!("{} leaks {:.1} L/min", self.tank(tank), L_MIN_PER_M3_S * m3_s),
            Change::StickValve { lift, stuck: true } => format!("air valve of {} sticks", self.lift(lift)),
            Change::StickValve { lift, stuck: false } => format!("air valve of {} comes free", self.lift(lift)),
            Change::LeakValve { lift, share } => {
                format!("air valve of {} leaks {:.0} %", self.lift(lift), percent(share))
            }
            Change::SlowValve { lift, times } => {
                format!("air valve of {} takes {times:.1} times its time", self.lift(lift))
            }
            Change::FoulDiffuser { lift, times } => {
                format!("air stone of {} resists {times:.1} times as much", self.lift(lift))
            }
            Change::KinkLine { lift, times } => {
                format!("air line of {} resists {times:.1} times as much", self.lift(lift))
            }
            Change::Warm { water_c } => format!("water and air go to {water_c:.0} C"),
            Change::JamValve { lift, at: Some(at) } => {
                format!("air valve of {} jams at {:.0} %", self.lift(lift), percent(at))
            }
            Change::JamValve { lift, at: None } => format!("air valve of {} is free again", self.lift(lift)),
            Change::ReverseValve { lift, reversed: true } => {
                format!("air valve of {} runs the wrong way", self.lift(lift))
            }
            Change::ReverseValve { lift, reversed: false } => {
                format!("air valve of {} runs the right way again", self.lift(lift))
            }
            Change::WidenBacklash { lift, times } => {
                format!("air valve of {} has {times:.1} times its play", self.lift(lift))
            }
            Change::AirLineOff { lift, off: true } => format!("air line of {} comes off", self.lift(lift)),
            Change::AirLineOff { lift, off: false } => format!("air line of {} is put back", self.lift(lift)),
            Change::LeakCheckValve { lift, m3_s, .. } => format!(
                "check valve of {} lets {:.1} L/min of water up the air line",
                self.lift(lift),
                L_MIN_PER_M3_S * m3_s
            ),
            Change::SurgeBlower { depth, period_s } => {
                format!("the blower surges by {:.0} % every {period_s:.0} s", percent(depth))
            }
            Change::BlockIntake { lost } => {
                format!(
                    "the blower's intake is blocked: {:.0} % of its pressure is lost",
                    percent(lost)
                )
            }
            Change::SwapSensors { tank, other, swapped } => format!(
                "the level sensors of {} and {} {}",
                self.tank(tank),
                self.tank(other),
                if swapped { "change places" } else { "are put right" }
            ),
            Change::ShiftGauge { pa } => format!("the manifold gauge reads {:+.2} kPa off", 1e-3 * pa),
            Change::Sensor { tank, fault } => {
                let sensor = format!("level sensor of {}", self.tank(tank));
                match fault {
                    SensorFault::Mended => format!("{sensor} is mended"),
                    SensorFault::Missing => format!("{sensor} falls silent"),
                    SensorFault::Stuck => format!("{sensor} sticks at its reading"),
                    SensorFault::Jump(m) => format!("{sensor} is off by {:+.0} mm", 1_000.0 * m),
                    SensorFault::Noise(times) => format!("{sensor} has {times:.0} times its noise"),
                    SensorFault::Reads(m) => format!("{sensor} reads {:.0} mm whatever the level", 1_000.0 * m),
                }
            }
            Change::LoseGauge { lost: true } => "the manifold gauge falls silent".to_owned(),
            Change::LoseGauge { lost: false } => "the manifold gauge answers again".to_owned(),
        }
    }
}
