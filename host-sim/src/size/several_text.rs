//! Several lifts on one blower, and the pipes of all series, for people.

use super::L_MIN;
use super::layout::{lines, new_table, wrapped};
use super::several::Several;
use crate::pipes::Series;
use std::fmt::Write;

/// Several lifts on one blower, for people.
#[must_use]
pub fn several_text(several: &Several) -> String {
    let mut text = format!(
        "{}: its lifts on one blower, levels at the middle of their bands\n\n",
        several.name
    );
    let mut table = new_table(&[
        "lift",
        "target\nL/min",
        "depth\nmm",
        "lift\nmm",
        "air\nL/min",
        "of\npeak",
        "p valve\nkPa",
        "opening\n%",
        "marched\nL/min",
        "all open\nair L/min",
        "all open\nwater L/min",
    ]);
    let wide = &several.wide_open;
    for (index, lift) in several.lifts.iter().enumerate() {
        let at = |list: &[f64]| {
            list.get(index)
                .map_or_else(|| "-".to_owned(), |value| format!("{:.1}", value * L_MIN))
        };
        table.add_row([
            lift.name.clone(),
            format!("{:.1}", lift.target_m3_s * L_MIN),
            format!("{:.0}", 1000.0 * lift.depth_m),
            format!("{:.0}", 1000.0 * lift.lift_m),
            format!("{:.1}", lift.air_m3_s * L_MIN),
            format!("{:.0} %", 100.0 * lift.share_of_peak),
            format!("{:.1}", lift.valve_pa * 1e-3),
            format!("{:.0}", 100.0 * lift.opening),
            at(&wide.trimmed_m3_s),
            at(&wide.air_m3_s),
            at(&wide.water_m3_s),
        ]);
    }
    text.push_str(&lines(&table));
    text.push('\n');
    for lift in &several.lifts {
        for remark in &lift.remarks {
            text.push_str(&wrapped(&format!("{}: {remark}.", lift.name)));
        }
    }
    let bleed = if several.bleed_m3_s > 0.0 {
        format!(" and {:.0} through the bleed", several.bleed_m3_s * L_MIN)
    } else {
        String::new()
    };
    text.push_str(&wrapped(&format!(
        "Blower's duty point: {:.0} L/min of free air{bleed} at {:.1} kPa, {:.0} W. {:.1} kPa would do: {:.1} kPa are throttled away in the valves.",
        several.air_m3_s * L_MIN,
        several.blower_pa * 1e-3,
        several.power_w,
        several.needed_pa * 1e-3,
        (several.blower_pa - several.needed_pa).max(0.0) * 1e-3,
    )));
    if !several.served {
        text.push_str(&wrapped(
            "WARNING: blower or valves cannot give all lifts the air for their targets at once.",
        ));
    }
    for doubt in &several.floor_doubts {
        text.push_str(&wrapped(&format!("WARNING: {doubt}.")));
    }
    text.push_str(&wrapped(&format!(
        "Marched model at these openings and the levels they lead to: {:.1} kPa, {:.0} L/min of air.",
        wide.trimmed_pa * 1e-3,
        wide.trimmed_air_m3_s * L_MIN
    )));
    if wide.troubles.is_empty() {
        text.push_str(&wrapped(&format!(
            "With every valve open at full blower ({:.1} kPa): every overflow carries its inflow and no source is drawn down to a foot ({:.1} h modelled).",
            wide.manifold_pa * 1e-3,
            wide.run_s / 3600.0
        )));
    }
    for trouble in &wide.troubles {
        text.push_str(&wrapped(&format!(
            "WARNING, with every valve open at full blower: {trouble}"
        )));
    }
    text
}

/// All series with their pipes and bores, for people.
#[must_use]
pub fn series_text() -> String {
    let mut text = String::new();
    for series in Series::ALL {
        let _ = writeln!(
            text,
            "{:<15} {} ({})",
            series.word(),
            series.title(),
            series.provenance()
        );
        let pipes: Vec<String> = series
            .pipes()
            .iter()
            .map(|pipe| format!("{pipe}: {:.1}", pipe.bore_mm))
            .collect();
        for line in wrapped(&format!("bores, mm: {}", pipes.join(", "))).lines() {
            let _ = writeln!(text, "    {line}");
        }
    }
    text
}
