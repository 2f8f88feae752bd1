//! The water balance of every tank, straightened about the course of the readings: the controller's own curves and outlet laws,
//! because it is those that are fitted.
//!
//! In the logarithms of multipliers a lift's flow is a product, so its logarithm is straightened: the flow is the course's own,
//! times one plus what the logarithm of curve and delivery says beyond it. At the right numbers nothing is left over, wherever the
//! slopes were taken.

use super::doing::Service;
use super::drive::Drive;
use super::layout::{Kind, Layout, Way};
use super::reference::Course;
use crate::calibrate::{Logs, Measured};
use crate::log::HostInstallation;
use crate::precision::narrow;
use crate::scenario::{LIFTS, TANKS};
use risertrim::units::FreeAir;

/// Step of the logarithms in the slopes of a curve: see `calibrate`.
const STEP: f64 = 0.01;
/// Least share of a lift's target that its course is thought to carry while its curve gives water.
const LEAST_SHARE: f64 = 0.05;

/// Share of a lift's target below which its curve counts as standing still.
const LEAST_RUN: f64 = 0.1;

/// How far a course may lie beside the true level while it moves, m.
const COURSE_M: f64 = 0.0005;
/// A level that comes back quicker than this moves too much within a bin for its outlet's bend to be taken at one level of it, 1/s.
const TOO_QUICK_1_S: f64 = 0.1;

/// The straight balance: the change of each level is `constant + slopes . x`.
#[derive(Clone, Debug, Default)]
pub struct Straight {
    /// Constant part, m/s.
    pub constant: Vec<f64>,
    /// Slopes: a row a tank.
    pub slopes: Vec<Vec<f64>>,
    /// Water surface of each tank, m2.
    pub area_m2: Vec<f64>,
    /// Flow of each lift's curve (no delivery), m3/s.
    pub curve_m3_s: Vec<f64>,
    /// Flow of each lift by the course, m3/s.
    pub flow_m3_s: Vec<f64>,
    /// Flow of each outlet by the course, m3/s.
    pub ways_m3_s: Vec<f64>,
    /// How far each outlet's flow may be beside its tangent, m3/s.
    pub bent_m3_s: Vec<f64>,
    /// True where an outlet runs outside the range its law is to be trusted in.
    pub doubtful: Vec<bool>,
}

/// Slopes of a curve's logarithm, kept while nothing has moved much: the curve is dear.
#[derive(Clone, Copy, Debug, Default)]
pub struct Kept {
    air_m3_s: f64,
    levels_m: (f64, f64),
    per_log: [f64; 3],
}

/// A place as the fit sees it.
#[derive(Clone, Debug)]
pub struct Balance<'a> {
    /// The told installation.
    pub place: &'a HostInstallation,
    /// The numbers.
    pub layout: &'a Layout,
    measured: Vec<Measured>,
    told: Vec<Logs>,
    rise_m: Vec<f64>,
    curve_at: Vec<[usize; 3]>,
    area_at: Vec<usize>,
    unseen_at: Vec<Option<usize>>,
}

impl<'a> Balance<'a> {
    /// For an installation.
    #[must_use]
    pub fn new(place: &'a HostInstallation, layout: &'a Layout) -> Self {
        let conditions = place.site.conditions();
        let find = |kind: Kind| layout.at(kind).unwrap_or_default();
        let lifts = place.lifts.iter();
        Self {
            place,
            layout,
            measured: lifts
                .clone()
                .map(|lift| Measured::new(lift.riser, conditions))
                .collect(),
            told: lifts
                .clone()
                .map(|lift| {
                    let of = lift.calibration;
                    Logs::new(f64::from(of.losses), f64::from(of.slip), f64::from(of.air)).map(f64::ln)
                })
                .collect(),
            rise_m: lifts
                .map(|lift| f64::from(place.floor_m(lift.to) - place.floor_m(lift.from)))
                .collect(),
            curve_at: (0..layout.lifts)
                .map(|lift| std::array::from_fn(|which| find(Kind::Curve(lift, which))))
                .collect(),
            area_at: (0..layout.tanks).map(|tank| find(Kind::Area(tank))).collect(),
            unseen_at: (0..layout.tanks).map(|tank| layout.at(Kind::Unseen(tank))).collect(),
        }
    }

    /// Logarithms of the multipliers of a lift's curve, with `x` for what the log adds to those told.
    #[must_use]
    pub fn logs(&self, lift: usize, x: &[f64]) -> Logs {
        let at = self.curve_at[lift];
        self.told[lift] + Logs::new(x[at[0]], x[at[1]], x[at[2]])
    }

    /// Logarithms of a told curve.
    #[must_use]
    pub fn told(&self, lift: usize) -> &Logs {
        &self.told[lift]
    }

    /// Flow of a lift's curve at levels above their own floors, m3/s.
    #[must_use]
    pub fn curve_m3_s(&self, lift: usize, logs: &Logs, levels: (f64, f64), air_m3_s: f64) -> f64 {
        let curve = self.measured[lift].curve(logs, levels.0, Some(levels.1 + self.rise_m[lift]));
        f64::from(curve.flow(air(air_m3_s)).m3_s)
    }

    /// Straightens the balance about a course, the fixed numbers about `about`.
    pub fn straighten(&self, course: &Course, about: &[f64], drive: &Drive, kept: &mut [Kept], out: &mut Straight) {
        let layout = self.layout;
        let tanks = layout.tanks;
        out.resize(layout);
        let mut net = [0.0f64; TANKS];
        let mut level = [0.0f64; TANKS];
        for tank in 0..tanks {
            // The sensor reads too high by its zero.
            level[tank] = course.level_m[tank] - layout.zero_at[tank].map_or(0.0, |at| about[at]);
            let told = f64::from(self.place.tanks[tank].area_m2(narrow(level[tank])));
            out.area_m2[tank] = told * about[self.area_at[tank]].exp();
            if let Some(at) = self.unseen_at[tank] {
                out.slopes[tank][at] += 1.0;
            }
        }
        for (index, way) in layout.ways.iter().enumerate() {
            let outlet = &self.place.tanks[way.from].outlets[way.outlet];
            let down = way.to.map(|to| {
                let rise = self.place.tanks[to].floor_m - self.place.tanks[way.from].floor_m;
                narrow(level[to]) + rise
            });
            let law = outlet.at(narrow(level[way.from]), down);
            let times = times_of(way, about);
            let flow = times * f64::from(law.flow_m3_s);
            out.ways_m3_s[index] = flow;
            out.doubtful[index] = law.doubtful;
            out.bent_m3_s[index] = if way.to.is_some() {
                // How far the law is from its tangent a little beside the course: much only near equal levels.
                let beside = |by: f64| f64::from(outlet.flow_m3_s(narrow(level[way.from] + by), down));
                let off = |by: f64| (beside(by) - f64::from(law.flow_m3_s) - by * f64::from(law.per_level)).abs();
                times_of(way, about) * off(COURSE_M).max(off(-COURSE_M))
            } else {
                0.0
            };
            let mut put = |tank: usize, sign: f64| {
                net[tank] += sign * flow;
                let row = &mut out.slopes[tank];
                let per_level = sign * times * f64::from(law.per_level);
                row[way.from] += per_level;
                let mut constant = sign * flow - per_level * level[way.from];
                if let Some(to) = way.to {
                    let per_down = sign * times * f64::from(law.per_downstream);
                    row[to] += per_down;
                    constant -= per_down * level[to];
                }
                if let Some(at) = way.at {
                    row[at] += sign * flow;
                    constant -= sign * flow * about[at];
                }
                out.constant[tank] += constant;
            };
            put(way.from, -1.0);
            if let Some(to) = way.to {
                put(to, 1.0);
            }
        }
        // What must run into each tank for its level to take its course, shared out among its lifts by their curves.
        let mut wanted = [0.0f64; TANKS];
        let mut shares = [0.0f64; TANKS];
        for tank in 0..tanks {
            wanted[tank] = out.area_m2[tank] * course.level_m_s[tank] - net[tank];
        }
        let mut points = [None; LIFTS];
        for (index, lift) in self.place.lifts.iter().enumerate() {
            out.curve_m3_s[index] = 0.0;
            out.flow_m3_s[index] = 0.0;
            if drive.serves[index] != Service::Serves {
                continue;
            }
            let levels = (level[usize::from(lift.from)], level[usize::from(lift.to)]);
            let logs = self.logs(index, about);
            let curve = self.measured[index].curve(&logs, levels.0, Some(levels.1 + self.rise_m[index]));
            let point = curve.at(air(drive.air_m3_s[index]));
            let curve_m3_s = f64::from(point.flow.m3_s);
            // Near its onset the logarithm of a curve is no straight line.
            if curve_m3_s > LEAST_RUN * f64::from(lift.target.m3_s) {
                out.curve_m3_s[index] = curve_m3_s;
                shares[usize::from(lift.to)] += curve_m3_s;
                points[index] = Some(point);
            }
        }
        for (index, lift) in self.place.lifts.iter().enumerate() {
            let (from, to) = (usize::from(lift.from), usize::from(lift.to));
            let Some(point) = points[index] else {
                // Below its onset a lift should move nothing, but a true onset may be lower than the told one.
                let target = f64::from(lift.target.m3_s);
                for (tank, sign) in [(from, -1.0), (to, 1.0)] {
                    out.slopes[tank][tanks + layout.lifts + index] += sign * target;
                }
                continue;
            };
            let curve = out.curve_m3_s[index];
            let share = wanted[to] * curve / shares[to];
            let flow = share.max(LEAST_SHARE * f64::from(lift.target.m3_s)).max(1.0e-7);
            out.flow_m3_s[index] = flow;
            let per_source = f64::from(point.per_source_m) / curve;
            let per_receiver = f64::from(point.per_receiver_m) / curve;
            let per_log = self.per_log(
                index,
                about,
                (level[from], level[to]),
                drive.air_m3_s[index],
                &mut kept[index],
            );
            // Beyond the course, in shares: ln curve - ln flow + delivery + form + slopes.
            let mut rest = (curve / flow).ln() - per_source * level[from] - per_receiver * level[to];
            for (at, slope) in self.curve_at[index].iter().zip(per_log) {
                rest -= slope * about[*at];
            }
            for (tank, sign) in [(from, -1.0), (to, 1.0)] {
                net[tank] += sign * flow;
                let scale = sign * flow;
                let row = &mut out.slopes[tank];
                row[from] += scale * per_source;
                row[to] += scale * per_receiver;
                row[tanks + index] += scale;
                row[tanks + layout.lifts + index] += scale;
                for (at, slope) in self.curve_at[index].iter().zip(per_log) {
                    row[*at] += scale * slope;
                }
                out.constant[tank] += scale * (1.0 + rest);
            }
        }
        for tank in 0..tanks {
            let area = out.area_m2[tank];
            let at = self.area_at[tank];
            // At rest the course has no net flow at all, and tells nothing of the surface.
            let net = if course.rests[tank] { 0.0 } else { net[tank] };
            out.slopes[tank][at] -= net;
            out.constant[tank] += net * about[at];
            out.constant[tank] /= area;
            for at in &layout.touches[tank] {
                out.slopes[tank][*at] /= area;
            }
        }
    }

    /// Adds to the straight balance what the outlets' laws bend between the course and these levels (m above each floor): along its
    /// tangent a weir near its crest gives too little, a pipe near equal levels too much. Where a tank rests nothing is added.
    pub fn bend(&self, course: &Course, about: &[f64], levels_m: &[f64], out: &mut Straight) {
        let zero = |tank: usize| self.layout.zero_at[tank].map_or(0.0, |at| about[at]);
        for way in &self.layout.ways {
            let Some(at) = way.at.filter(|_| !course.rests[way.from]) else {
                continue;
            };
            let outlet = &self.place.tanks[way.from].outlets[way.outlet];
            let rise = |to: usize| f64::from(self.place.tanks[to].floor_m - self.place.tanks[way.from].floor_m);
            let course_m = |tank: usize| course.level_m[tank] - zero(tank);
            let down = |level: &dyn Fn(usize) -> f64| way.to.map(|to| narrow(level(to) + rise(to)));
            let law = outlet.at(narrow(course_m(way.from)), down(&course_m));
            let mut along = f64::from(law.flow_m3_s);
            along += f64::from(law.per_level) * (levels_m[way.from] - course_m(way.from));
            if let Some(to) = way.to {
                along += f64::from(law.per_downstream) * (levels_m[to] - course_m(to));
            }
            let there = outlet.at(narrow(levels_m[way.from]), down(&|tank| levels_m[tank]));
            let quick = f64::from(there.per_level) / out.area_m2[way.from];
            if quick > TOO_QUICK_1_S {
                continue;
            }
            let more = about[at].exp() * (f64::from(there.flow_m3_s) - along);
            out.constant[way.from] -= more / out.area_m2[way.from];
            if let Some(to) = way.to {
                out.constant[to] += more / out.area_m2[to];
            }
        }
    }

    /// Slopes of the logarithm of a lift's curve with the logarithms of its multipliers.
    fn per_log(&self, lift: usize, about: &[f64], levels: (f64, f64), air_m3_s: f64, kept: &mut Kept) -> [f64; 3] {
        let near = |a: f64, b: f64, by: f64| (a - b).abs() < by;
        if near(kept.air_m3_s, air_m3_s, 0.01 * air_m3_s)
            && near(kept.levels_m.0, levels.0, 0.003)
            && near(kept.levels_m.1, levels.1, 0.003)
        {
            return kept.per_log;
        }
        let logs = self.logs(lift, about);
        let per_log = std::array::from_fn(|which| self.slope(lift, &logs, which, levels, air_m3_s));
        *kept = Kept {
            air_m3_s,
            levels_m: levels,
            per_log,
        };
        per_log
    }

    /// Slope of the logarithm of a lift's curve with the logarithm of one of its multipliers.
    #[must_use]
    pub fn slope(&self, lift: usize, logs: &Logs, which: usize, levels: (f64, f64), air_m3_s: f64) -> f64 {
        let moved = |by: f64| {
            let mut logs = *logs;
            logs[which] += by;
            self.curve_m3_s(lift, &logs, levels, air_m3_s).max(1.0e-7).ln()
        };
        (moved(STEP) - moved(-STEP)) / (2.0 * STEP)
    }
}

impl Straight {
    fn resize(&mut self, layout: &Layout) {
        self.constant.resize(layout.tanks, 0.0);
        self.constant.fill(0.0);
        self.area_m2.resize(layout.tanks, 1.0);
        self.slopes.resize(layout.tanks, Vec::new());
        for row in &mut self.slopes {
            row.resize(layout.count(), 0.0);
            row.fill(0.0);
        }
        self.curve_m3_s.resize(layout.lifts, 0.0);
        self.flow_m3_s.resize(layout.lifts, 0.0);
        self.ways_m3_s.resize(layout.ways.len(), 0.0);
        self.bent_m3_s.resize(layout.ways.len(), 0.0);
        self.doubtful.resize(layout.ways.len(), false);
    }
}

/// What an outlet's told flow is multiplied by.
fn times_of(way: &Way, about: &[f64]) -> f64 {
    way.at.map_or(1.0, |at| about[at].exp())
}

fn air(m3_s: f64) -> FreeAir {
    FreeAir::from_m3_s(narrow(m3_s))
}
