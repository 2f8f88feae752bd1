//! What more or less depth would change.

use super::candidate::{Task, shaft_w};
use super::request::Request;
use crate::pipes::Pipe;
use crate::plant::GRAVITY_M_S2;

/// Depth past which the trade sees little gain, m (common practice).
pub const LITTLE_GAIN_PAST_M: f64 = 1.7;
/// Depths shown beside the asked one, m.
const SHOWN_M: [f64; 6] = [0.5, 0.75, 1.0, 1.3, LITTLE_GAIN_PAST_M, 2.0];

/// The task done from one depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DepthRow {
    /// Depth of the air inlet, m.
    pub depth_m: f64,
    /// Free air, m3/s; `None` out of reach.
    pub air_m3_s: Option<f64>,
    /// Power at the shaft, W.
    pub shaft_w: Option<f64>,
}

/// The task done from several depths in the same pipe, with the model's own figure beside the trade's advice.
#[derive(Clone, Debug, PartialEq)]
pub struct DepthAdvice {
    /// From shallow to deep, the asked depth among them.
    pub rows: Vec<DepthRow>,
    /// Change of power from 1.7 m to 2.0 m, share (negative: less power).
    pub past_1700_power: Option<f64>,
    /// Change of air from 1.7 m to 2.0 m, share.
    pub past_1700_air: Option<f64>,
}

/// The task in `pipe` from several depths, at the highest lift.
#[must_use]
pub(super) fn depth_advice(request: &Request, pipe: Pipe) -> DepthAdvice {
    let (conditions, place) = (request.conditions(), request.place());
    let asked = request.depth_m.low;
    let mut depths: Vec<f64> = SHOWN_M
        .into_iter()
        .filter(|depth| (depth - asked).abs() > 0.04)
        .collect();
    depths.push(asked);
    depths.sort_by(f64::total_cmp);
    let row = |depth_m: f64| {
        let task = Task {
            request,
            conditions: &conditions,
            bore_m: pipe.bore_m(),
            depth_m,
            lift_m: request.lift_m.high,
        };
        let air_m3_s = task.air_for(request.water_m3_s.high);
        let pressure = place.water_kg_m3 * GRAVITY_M_S2 * depth_m + request.diffuser_pa;
        DepthRow {
            depth_m,
            air_m3_s,
            shaft_w: air_m3_s.map(|air| shaft_w(request, &place, air, pressure)),
        }
    };
    let (shallow, deep) = (row(LITTLE_GAIN_PAST_M), row(2.0));
    let change = |from: Option<f64>, to: Option<f64>| Some(to? / from.filter(|from| *from > 0.0)? - 1.0);
    DepthAdvice {
        rows: depths.into_iter().map(row).collect(),
        past_1700_power: change(shallow.shaft_w, deep.shaft_w),
        past_1700_air: change(shallow.air_m3_s, deep.air_m3_s),
    }
}
