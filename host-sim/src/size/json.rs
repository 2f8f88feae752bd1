//! The answer of `size` for programs. Every key ends in its unit.

use super::L_MIN;
use super::candidate::Candidate;
use super::pick::{Answer, Pick};
use super::request::Span;
use super::several::Several;
use super::text::words;
use serde_json::{Value, json};

fn span(span: Span, unit: f64) -> Value {
    json!([span.low * unit, span.high * unit])
}

/// The whole answer as one object.
#[must_use]
pub fn answer_json(answer: &Answer) -> Value {
    let request = &answer.request;
    let place = request.place();
    json!({
        "asked": {
            "flow_l_min": span(request.water_m3_s, L_MIN),
            "depth_mm": span(request.depth_m, 1000.0),
            "lift_mm": span(request.lift_m, 1000.0),
            "series": request.series.iter().map(|series| series.word()).collect::<Vec<_>>(),
            "water_c": request.water_c,
            "salinity_g_kg": request.salinity_g_kg,
            "altitude_m": request.altitude_m,
            "water_kg_m3": place.water_kg_m3,
            "atmosphere_kpa": place.p_atm_pa * 1e-3,
            "lifts": request.lifts,
        },
        "candidates": answer.candidates.iter().map(candidate).collect::<Vec<_>>(),
        "recommended": answer.pick.as_ref().map(|pick| picked(answer, pick)),
        "oxygen": answer.demand.map(|demand| json!({
            "demand_g_h": demand.worst_g_h,
            "by_feed_g_h": demand.by_feed_g_h,
            "by_mass_g_h": demand.by_mass_g_h,
            "carbon_dioxide_g_h": demand.carbon_dioxide_g_h,
            "saturation_mg_l": answer.floor.map(|floor| floor.transfer.surface_mg_l),
            "transfer_g_h_per_l_min": answer.floor.map(|floor| floor.transfer.g_h_per_l_min),
            "air_floor_each_l_min": answer.floor.map(|floor| floor.each_m3_s * L_MIN),
        })),
    })
}

fn candidate(candidate: &Candidate) -> Value {
    json!({
        "series": candidate.pipe.series.word(),
        "outside_mm": candidate.pipe.outside_mm,
        "bore_mm": candidate.pipe.bore_mm,
        "peak_l_min": candidate.peak_m3_s * L_MIN,
        "peak_air_l_min": candidate.peak_air_m3_s * L_MIN,
        "onset_air_l_min": candidate.onset_air_m3_s.map(|air| air * L_MIN),
        "air_l_min": candidate.air_l_min(),
        "least_air_l_min": candidate.least_air_m3_s.map(|air| air * L_MIN),
        "air_at_depth_l_min": candidate.air_m3_s.map(|_| candidate.air_at_depth_m3_s * L_MIN),
        "valve_kpa": candidate.valve_pa * 1e-3,
        "blower_kpa": candidate.blower_pa * 1e-3,
        "share_of_peak": candidate.air_m3_s.map(|_| candidate.share_of_peak),
        "gas_to_water": candidate.air_m3_s.map(|_| candidate.gas_to_water),
        "efficiency": candidate.air_m3_s.map(|_| candidate.efficiency),
        "shaft_w": candidate.air_m3_s.map(|_| candidate.shaft_w),
        "energy_wh_m3": candidate.air_m3_s.map(|_| candidate.wh_m3),
        "turn_down": candidate.turn_down,
        "water_m_s": candidate.water_m_s,
        "air_line_bore_mm": candidate.air_line.bore_mm,
        "ruled_out": words(&candidate.ruled_out),
    })
}

fn picked(answer: &Answer, pick: &Pick) -> Value {
    let confirmed = &pick.confirmation;
    json!({
        "candidate": pick.index,
        "pipe": answer.candidates.get(pick.index).map(|chosen| chosen.pipe.to_string()),
        "reasons": pick.reasons,
        "closed_form_l_min": confirmed.closed_form_m3_s * L_MIN,
        "marched_l_min": confirmed.marched_m3_s * L_MIN,
        "marched_peak_l_min": confirmed.marched_peak_m3_s * L_MIN,
        "depths": pick.depth.rows.iter().map(|row| json!({
            "depth_mm": row.depth_m * 1000.0,
            "air_l_min": row.air_m3_s.map(|air| air * L_MIN),
            "shaft_w": row.shaft_w,
        })).collect::<Vec<_>>(),
        "carbon_dioxide_most_share": pick.stripping.most_share,
    })
}

/// Several lifts on one blower as one object.
#[must_use]
pub fn several_json(several: &Several) -> Value {
    let wide = &several.wide_open;
    let lifts = several.lifts.iter().enumerate().map(|(index, lift)| {
        let at = |list: &[f64]| list.get(index).map(|value| value * L_MIN);
        json!({
            "name": lift.name,
            "target_l_min": lift.target_m3_s * L_MIN,
            "depth_mm": lift.depth_m * 1000.0,
            "lift_mm": lift.lift_m * 1000.0,
            "air_l_min": lift.air_m3_s * L_MIN,
            "share_of_peak": lift.share_of_peak,
            "valve_kpa": lift.valve_pa * 1e-3,
            "opening_percent": lift.opening * 100.0,
            "remarks": lift.remarks,
            "marched_l_min": at(&wide.trimmed_m3_s),
            "all_open_air_l_min": at(&wide.air_m3_s),
            "all_open_l_min": at(&wide.water_m3_s),
        })
    });
    json!({
        "place": several.name,
        "lifts": lifts.collect::<Vec<_>>(),
        "air_floor_warnings": several.floor_doubts,
        "blower": {
            "air_l_min": several.air_m3_s * L_MIN,
            "bleed_l_min": several.bleed_m3_s * L_MIN,
            "pressure_kpa": several.blower_pa * 1e-3,
            "needed_kpa": several.needed_pa * 1e-3,
            "power_w": several.power_w,
            "serves_all": several.served,
        },
        "all_open": {
            "pressure_kpa": wide.manifold_pa * 1e-3,
            "lowest_levels_mm": wide.lowest_m.iter().map(|level| level * 1000.0).collect::<Vec<_>>(),
            "highest_levels_mm": wide.highest_m.iter().map(|level| level * 1000.0).collect::<Vec<_>>(),
            "troubles": wide.troubles.iter().map(ToString::to_string).collect::<Vec<_>>(),
        },
    })
}
