//! Keeps what the page shows while a run goes on.

use super::hourly::{Column, row_s};
use super::series::Series;
use crate::scenario::Scenario;
use crate::simulate::{L_MIN_PER_M3_S, Moment, Recorder};
use std::io;

/// Values that all series together may hold: about a megabyte and a quarter as text.
const MOST_VALUES: f64 = 420_000.0;
/// Most stretches of a series: on no screen are there more points across.
const MOST_STRETCHES: f64 = 2_880.0;
/// Points of a lift drawn into its curve.
const OPERATING_POINTS: f64 = 240.0;

/// What is kept of a lift.
#[derive(Clone, Debug)]
pub(super) struct LiftTrace {
    pub target: Series,
    pub delivered: Series,
    pub believed: Series,
    pub opening: Series,
    pub air: Series,
    pub factor: Series,
    /// Free air and water now and then, L/min.
    pub points: Vec<(f64, f64)>,
    pub target_rows: Column,
    pub delivered_rows: Column,
    pub believed_rows: Column,
    pub opening_rows: Column,
    pub air_rows: Column,
    pub factor_rows: Column,
}

/// What is kept of a tank.
#[derive(Clone, Debug)]
pub(super) struct TankTrace {
    pub level: Series,
    pub believed: Series,
    pub level_rows: Column,
}

/// What is kept of the air side.
#[derive(Clone, Debug)]
pub(super) struct AirTrace {
    pub manifold: Series,
    pub believed: Series,
    pub blower: Series,
    pub power: Series,
    pub manifold_rows: Column,
    pub blower_rows: Column,
    pub power_rows: Column,
}

/// Keeps what the page shows of a run; [`page`](Self::page) makes it at the end.
///
/// Memory does not grow with the length of the run: the longer it is, the longer are the stretches of which lowest and highest
/// are kept.
#[derive(Clone, Debug)]
pub struct ReportRecorder {
    pub(super) scenario: Scenario,
    pub(super) end_s: f64,
    pub(super) stretch: u32,
    pub(super) period_s: f64,
    pub(super) row_s: f64,
    pub(super) lifts: Vec<LiftTrace>,
    pub(super) tanks: Vec<TankTrace>,
    pub(super) air: AirTrace,
    place: u32,
    point_every_s: f64,
    next_point_s: f64,
}

impl ReportRecorder {
    /// For a run of this many hours.
    #[must_use]
    #[allow(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss
    )]
    pub fn new(scenario: &Scenario, hours: f64) -> Self {
        let told = &scenario.told;
        let period_s = f64::from(told.settings.period_ms) * 1e-3;
        let end_s = hours * 3_600.0;
        let series = (6 * told.lifts.len() + 2 * told.tanks.len() + 4) as f64;
        let stretches = (MOST_VALUES / (2.0 * series)).min(MOST_STRETCHES);
        let stretch = (end_s / period_s / stretches).ceil().max(1.0) as u32;
        Self {
            scenario: scenario.clone(),
            end_s,
            stretch,
            period_s,
            row_s: row_s(end_s),
            lifts: told.lifts.iter().map(|lift| lift_trace(lift.target.l_min())).collect(),
            tanks: told.tanks.iter().map(|_| tank_trace()).collect(),
            air: AirTrace {
                manifold: Series::new(2),
                believed: Series::new(2),
                blower: Series::new(1),
                power: Series::new(1),
                manifold_rows: Column::default(),
                blower_rows: Column::default(),
                power_rows: Column::default(),
            },
            place: 0,
            point_every_s: end_s / OPERATING_POINTS,
            next_point_s: 0.0,
        }
    }

    /// Time of the first value of a series and time between two, s.
    pub(super) fn times_s(&self) -> (f64, f64) {
        let stretch_s = f64::from(self.stretch) * self.period_s;
        if self.stretch == 1 {
            (self.period_s, self.period_s)
        } else {
            (0.25 * stretch_s, 0.5 * stretch_s)
        }
    }

    fn all_series(&mut self) -> impl Iterator<Item = &mut Series> {
        let lifts = self.lifts.iter_mut().flat_map(|lift| {
            [
                &mut lift.target,
                &mut lift.delivered,
                &mut lift.believed,
                &mut lift.opening,
                &mut lift.air,
                &mut lift.factor,
            ]
        });
        let tanks = self
            .tanks
            .iter_mut()
            .flat_map(|tank| [&mut tank.level, &mut tank.believed]);
        let air = &mut self.air;
        let air = [&mut air.manifold, &mut air.believed, &mut air.blower, &mut air.power];
        lifts.chain(tanks).chain(air)
    }

    /// The run has ended: what has gathered since the last value counts too.
    pub(super) fn end(&mut self) {
        if self.place > 0 {
            self.close();
        }
    }

    fn close(&mut self) {
        let single = self.stretch == 1;
        self.all_series().for_each(|series| series.close(single));
        self.place = 0;
    }

    fn note_lifts(&mut self, moment: &Moment<'_>, row: usize) {
        let place = self.place;
        let with_point = moment.time_s >= self.next_point_s;
        let lifts = self.lifts.iter_mut().zip(&moment.truth.lifts).zip(&moment.step.lifts);
        for (index, ((trace, truth), step)) in lifts.enumerate() {
            let asked = moment.jobs.is_on_target(index);
            let job = moment.jobs.lifts.get(index).filter(|_| asked);
            let target = job.map_or(f64::NAN, |job| L_MIN_PER_M3_S * job.target_m3_s);
            let (water, air) = (L_MIN_PER_M3_S * truth.water_m3_s, L_MIN_PER_M3_S * truth.air_m3_s);
            for (series, column, value) in [
                (&mut trace.target, &mut trace.target_rows, target),
                (&mut trace.delivered, &mut trace.delivered_rows, water),
                (
                    &mut trace.believed,
                    &mut trace.believed_rows,
                    f64::from(step.flow.l_min()),
                ),
                (&mut trace.opening, &mut trace.opening_rows, 100.0 * truth.opening),
                (&mut trace.air, &mut trace.air_rows, air),
                (&mut trace.factor, &mut trace.factor_rows, f64::from(step.delivery)),
            ] {
                series.note(place, value);
                column.note(row, value);
            }
            if with_point {
                trace.points.push((air, water));
            }
        }
        if with_point {
            self.next_point_s = moment.time_s + self.point_every_s;
        }
    }
}

impl Recorder for ReportRecorder {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // time since the start
    fn record(&mut self, moment: &Moment<'_>) -> io::Result<()> {
        let row = ((moment.time_s - 0.5 * moment.period_s) / self.row_s) as usize;
        let place = self.place;
        self.note_lifts(moment, row);
        let tanks = self.tanks.iter_mut().zip(&moment.truth.tanks).zip(&moment.step.tanks);
        for ((trace, truth), step) in tanks {
            let level = 1_000.0 * truth.level_m;
            trace.level.note(place, level);
            trace.level_rows.note(row, level);
            trace.believed.note(place, 1_000.0 * f64::from(step.level_m));
        }
        let (truth, air) = (moment.truth, &mut self.air);
        let (manifold, blower) = (1e-3 * truth.manifold_pa, L_MIN_PER_M3_S * truth.air_m3_s);
        air.manifold.note(place, manifold);
        air.manifold_rows.note(row, manifold);
        air.believed.note(place, 1e-3 * f64::from(moment.step.manifold_pa));
        air.blower.note(place, blower);
        air.blower_rows.note(row, blower);
        air.power.note(place, truth.power_w);
        air.power_rows.note(row, truth.power_w);
        self.place += 1;
        if self.place >= self.stretch {
            self.close();
        }
        Ok(())
    }
}

fn lift_trace(target_l_min: f32) -> LiftTrace {
    let decimals = if target_l_min < 20.0 { 2 } else { 1 };
    let flow = || Series::new(decimals);
    LiftTrace {
        target: flow(),
        delivered: flow(),
        believed: flow(),
        opening: Series::new(1),
        air: flow(),
        factor: Series::new(3),
        points: Vec::new(),
        target_rows: Column::default(),
        delivered_rows: Column::default(),
        believed_rows: Column::default(),
        opening_rows: Column::default(),
        air_rows: Column::default(),
        factor_rows: Column::default(),
    }
}

fn tank_trace() -> TankTrace {
    TankTrace {
        level: Series::new(1),
        believed: Series::new(1),
        level_rows: Column::default(),
    }
}
