//! The run as CSV files: one row for each lift or tank every few seconds. Units are in the headers.

use super::words::lift_state;
use crate::scenario::Scenario;
use crate::simulate::{L_MIN_PER_M3_S, LITRES_PER_M3, Moment, Outcome, Recorder};
use risertrim::level::Checked;
use std::fs::File;
use std::io;
use std::path::Path;

const LIFTS_HEADER: [&str; 13] = [
    "time_s",
    "lift",
    "state",
    "target_l_min",
    "delivered_l_min",
    "estimated_l_min",
    "estimate_sigma_l_min",
    "air_l_min",
    "estimated_air_l_min",
    "opening_percent",
    "commanded_opening_percent",
    "delivery_factor",
    "past_peak",
];
const TANKS_HEADER: [&str; 7] = [
    "time_s",
    "tank",
    "level_mm",
    "estimated_level_mm",
    "estimate_sigma_mm",
    "reading",
    "spilled_l",
];
const AIR_HEADER: [&str; 6] = [
    "time_s",
    "manifold_kpa",
    "estimated_manifold_kpa",
    "free_air_l_min",
    "blower_w",
    "blower_energy_kwh",
];
const ALARMS_HEADER: [&str; 12] = [
    "at_s",
    "cleared_s",
    "kind",
    "subject",
    "text",
    "urgency",
    "what",
    "means",
    "act",
    "figure_at_onset",
    "figure_last",
    "figure_of",
];

type Writer = csv::Writer<File>;

/// Writes `lifts.csv`, `tanks.csv` and `air.csv` as the run goes on, and `alarms.csv` at its end.
#[derive(Debug)]
pub struct CsvRecorder {
    lift_names: Vec<String>,
    tank_names: Vec<String>,
    every_s: f64,
    next_s: f64,
    lifts: Writer,
    tanks: Writer,
    air: Writer,
    alarms: Writer,
}

impl CsvRecorder {
    /// Opens the files in `folder`, which is made if need be, for one row every `every_s` seconds.
    ///
    /// # Errors
    /// The folder or a file in it cannot be made.
    pub fn create(folder: &Path, scenario: &Scenario, every_s: f64) -> io::Result<Self> {
        std::fs::create_dir_all(folder)?;
        Ok(Self {
            lift_names: scenario.lift_names.clone(),
            tank_names: scenario.tank_names.clone(),
            every_s,
            next_s: every_s,
            lifts: open(folder, "lifts.csv", &LIFTS_HEADER)?,
            tanks: open(folder, "tanks.csv", &TANKS_HEADER)?,
            air: open(folder, "air.csv", &AIR_HEADER)?,
            alarms: open(folder, "alarms.csv", &ALARMS_HEADER)?,
        })
    }

    /// Writes the alarms and closes all files.
    ///
    /// # Errors
    /// They cannot be written.
    pub fn finish(mut self, outcome: &Outcome) -> io::Result<()> {
        for alarm in &outcome.alarms {
            let cleared = alarm
                .cleared_s
                .map_or_else(String::new, |time_s| format!("{time_s:.1}"));
            let at = format!("{:.1}", alarm.at_s);
            let number = |figure: Option<i32>| figure.map_or_else(String::new, |figure| figure.to_string());
            self.alarms.write_record([
                at.as_str(),
                &cleared,
                &alarm.kind,
                &alarm.subject,
                &alarm.text,
                alarm.urgency_name(),
                &alarm.what,
                &alarm.means,
                &alarm.act,
                &number(alarm.figure_at_onset),
                &number(alarm.figure_last),
                alarm.figure_of.as_deref().unwrap_or_default(),
            ])?;
        }
        for mut writer in [self.lifts, self.tanks, self.air, self.alarms] {
            writer.flush()?;
        }
        Ok(())
    }

    fn write_lifts(&mut self, time: &str, moment: &Moment<'_>) -> io::Result<()> {
        let lifts = self
            .lift_names
            .iter()
            .zip(&moment.truth.lifts)
            .zip(&moment.step.lifts)
            .zip(&moment.jobs.lifts);
        for (((name, truth), step), job) in lifts {
            let percent = |share: f64| format!("{:.3}", 100.0 * share);
            let l_min = |m3_s: f64| format!("{:.3}", L_MIN_PER_M3_S * m3_s);
            self.lifts.write_record([
                time,
                name,
                lift_state(step.state),
                &l_min(job.target_m3_s),
                &l_min(truth.water_m3_s),
                &l_min(f64::from(step.flow.m3_s)),
                &l_min(f64::from(step.flow_sigma_m3_s)),
                &l_min(truth.air_m3_s),
                &l_min(f64::from(step.air.m3_s)),
                &percent(truth.opening),
                &percent(f64::from(step.command.share())),
                &format!("{:.4}", step.delivery),
                if truth.past_peak { "yes" } else { "no" },
            ])?;
        }
        Ok(())
    }

    fn write_tanks(&mut self, time: &str, moment: &Moment<'_>) -> io::Result<()> {
        let tanks = self.tank_names.iter().zip(&moment.truth.tanks).zip(&moment.step.tanks);
        for ((name, truth), step) in tanks {
            let mm = |metres: f64| format!("{:.2}", 1000.0 * metres);
            self.tanks.write_record([
                time,
                name,
                &mm(truth.level_m),
                &mm(f64::from(step.level_m)),
                &mm(f64::from(step.sigma_m)),
                match step.reading {
                    Checked::Level(_) => "used",
                    Checked::Missing => "missing",
                    _ => "not used",
                },
                &format!("{:.3}", LITRES_PER_M3 * truth.spilled_m3),
            ])?;
        }
        Ok(())
    }

    fn write_air(&mut self, time: &str, moment: &Moment<'_>) -> io::Result<()> {
        let kpa = |pa: f64| format!("{:.4}", 1e-3 * pa);
        self.air.write_record([
            time,
            &kpa(moment.truth.manifold_pa),
            &kpa(f64::from(moment.step.manifold_pa)),
            &format!("{:.3}", L_MIN_PER_M3_S * moment.truth.air_m3_s),
            &format!("{:.2}", moment.truth.power_w),
            &format!("{:.5}", moment.truth.energy_j / 3.6e6),
        ])?;
        Ok(())
    }
}

impl Recorder for CsvRecorder {
    fn record(&mut self, moment: &Moment<'_>) -> io::Result<()> {
        if moment.time_s + 1e-6 < self.next_s {
            return Ok(());
        }
        while self.next_s <= moment.time_s + 1e-6 {
            self.next_s += self.every_s;
        }
        let time = format!("{:.1}", moment.time_s);
        self.write_lifts(&time, moment)?;
        self.write_tanks(&time, moment)?;
        self.write_air(&time, moment)
    }
}

fn open(folder: &Path, name: &str, header: &[&str]) -> io::Result<Writer> {
    let path = folder.join(name);
    let mut writer =
        csv::Writer::from_path(&path).map_err(|error| io::Error::other(format!("{}: {error}", path.display())))?;
    writer.write_record(header)?;
    Ok(writer)
}
