//! The answer of `size` for people, at most 110 columns wide.

use super::L_MIN;
use super::candidate::Candidate;
use super::depth::LITTLE_GAIN_PAST_M;
use super::layout::{lines, new_table, wrapped};
use super::pick::{Answer, Pick};
use super::request::Span;
use super::rule::Rule;
use crate::oxygen::GAS_WARNING_PERCENT;
use crate::oxygen::total_gas_percent;
use comfy_table::{CellAlignment, Table};
use std::fmt::Write;

/// Rows shown of a long list: those that could do, and this many beside them.
const BESIDE: usize = 2;

/// The whole answer.
#[must_use]
pub fn answer_text(answer: &Answer) -> String {
    let mut text = asked(answer);
    text.push_str(&lines(&table(answer)));
    text.push_str("\nair: free air, 100 kPa and 20 C; at depth: its volume at the inlet; p valve: behind the valve; eff.: Nicklin\n");
    text.push_str(
        "(0 at no lift, by definition); shaft: blower shaft; turn-down: air at the peak over air at the onset.\n\n",
    );
    match &answer.pick {
        Some(pick) => picked(&mut text, answer, pick),
        None => text.push_str(&wrapped(
            "No pipe of these series can be recommended; the table says why for each.",
        )),
    }
    oxygen(&mut text, answer);
    text.push_str(&wrapped(
        "These figures are from a formula that was not calibrated on your lift: published rigs lie 10 to 50 % off such \
         formulas. Plan the blower for 1.3 times the air, and measure the lift once it runs.",
    ));
    text
}

fn span(span: Span, unit: f64, name: &str) -> String {
    if span.low == span.high {
        format!("{:.4} {name}", span.low * unit).replace(".0000", "")
    } else {
        format!("{} to {} {name}", trim(span.low * unit), trim(span.high * unit))
    }
}

fn trim(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn asked(answer: &Answer) -> String {
    let request = &answer.request;
    let place = request.place();
    let mut text = wrapped(&format!(
        "{} from {} deep, lifted {}. Water {} C, {} g/kg salt, {:.1} kg/m3; {} m above the sea, {:.1} kPa.",
        span(request.water_m3_s, L_MIN, "L/min"),
        span(request.depth_m, 1000.0, "mm"),
        span(request.lift_m, 1000.0, "mm"),
        trim(request.water_c),
        trim(request.salinity_g_kg),
        place.water_kg_m3,
        trim(request.altitude_m),
        place.p_atm_pa * 1e-3,
    ));
    for series in &request.series {
        let _ = writeln!(text, "Pipe: {} ({}).", series.title(), series.provenance());
    }
    text.push('\n');
    text
}

fn table(answer: &Answer) -> Table {
    let many = answer.request.series.len() > 1;
    let pipe = if many { "pipe and series" } else { "pipe" };
    let mut table = new_table(&[
        pipe,
        "bore\nmm",
        "air\nL/min",
        "at depth\nL/min",
        "p valve\nkPa",
        "of\npeak",
        "gas :\nwater",
        "eff.\n%",
        "shaft\nW",
        "turn-\ndown",
        "verdict",
    ]);
    let shown = shown(answer);
    for (index, candidate) in answer
        .candidates
        .iter()
        .enumerate()
        .filter(|(index, _)| shown.contains(index))
    {
        let chosen = answer.pick.as_ref().is_some_and(|pick| pick.index == index);
        table.add_row(row(candidate, chosen, many));
    }
    if let Some(column) = table.column_mut(10) {
        column.set_cell_alignment(CellAlignment::Left);
    }
    table
}

/// All rows of a short list; of a long one those that nothing hard rules out, and two on either side.
fn shown(answer: &Answer) -> Vec<usize> {
    let all = answer.candidates.len();
    if all <= 12 {
        return (0..all).collect();
    }
    let good: Vec<usize> = (0..all)
        .filter(|index| answer.candidates.get(*index).is_some_and(Candidate::works))
        .collect();
    let (first, last) = match (good.first(), good.last()) {
        (Some(first), Some(last)) => (*first, *last),
        _ => return (0..all).collect(),
    };
    (first.saturating_sub(BESIDE)..=(last + BESIDE).min(all - 1)).collect()
}

fn row(candidate: &Candidate, chosen: bool, many: bool) -> Vec<String> {
    let mut verdict = if chosen {
        "RECOMMENDED".to_owned()
    } else {
        candidate
            .ruled_out
            .first()
            .map_or_else(String::new, ToString::to_string)
    };
    if chosen && let Some(rule) = candidate.ruled_out.first() {
        let _ = write!(verdict, " ({rule})");
    }
    let mut name = if many {
        candidate.pipe.short()
    } else {
        candidate.pipe.to_string()
    };
    if many {
        let _ = write!(name, " {}", candidate.pipe.series.word());
    }
    let figures = candidate.air_m3_s.map(|air| {
        vec![
            figure(air * L_MIN),
            figure(candidate.air_at_depth_m3_s * L_MIN),
            format!("{:.1}", candidate.valve_pa * 1e-3),
            format!("{:.0} %", 100.0 * candidate.share_of_peak),
            format!("{:.2}", candidate.gas_to_water),
            format!("{:.0}", 100.0 * candidate.efficiency),
            figure(candidate.shaft_w),
            candidate
                .turn_down
                .map_or_else(|| "-".to_owned(), |ratio| format!("{ratio:.0}")),
        ]
    });
    let mut cells = vec![name, format!("{:.1}", candidate.pipe.bore_mm)];
    cells.extend(figures.unwrap_or_else(|| vec!["-".to_owned(); 8]));
    cells.push(verdict);
    cells
}

/// Three figures or so.
fn figure(value: f64) -> String {
    if value.abs() < 10.0 {
        format!("{value:.2}")
    } else if value.abs() < 100.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    }
}

fn picked(text: &mut String, answer: &Answer, pick: &Pick) {
    let Some(chosen) = answer.candidates.get(pick.index) else {
        return;
    };
    let request = &answer.request;
    let air = chosen.air_m3_s.unwrap_or(0.0);
    let mut say = |line: String| text.push_str(&wrapped(&line));
    say(format!(
        "Recommended: {}, {}, bore {:.1} mm.",
        chosen.pipe,
        chosen.pipe.series.title(),
        chosen.pipe.bore_mm
    ));
    for reason in &pick.reasons {
        say(format!("  {reason}"));
    }
    let confirmed = &pick.confirmation;
    say(format!(
        "Checked with the marched riser model at the same air: {:.1} L/min against {:.1} by the controller's formula ({:+.1} %); peak {:.0} against {:.0} L/min.",
        confirmed.marched_m3_s * L_MIN,
        confirmed.closed_form_m3_s * L_MIN,
        100.0 * (confirmed.marched_m3_s / confirmed.closed_form_m3_s - 1.0),
        confirmed.marched_peak_m3_s * L_MIN,
        chosen.peak_m3_s * L_MIN,
    ));
    let lifts = f64::from(request.lifts);
    let place = request.place();
    let inlet = air * crate::plant::FREE_AIR_PA / place.p_atm_pa * place.temperature_k() / crate::plant::FREE_AIR_K;
    say(format!(
        "Blower: {:.0} L/min of free air ({:.0} L/min as it is taken in here) at {:.1} kPa, {} W at the shaft for {}; of the pressure {:.1} kPa are left for the valve to govern with (common practice).",
        air * L_MIN * lifts,
        inlet * L_MIN * lifts,
        chosen.blower_pa * 1e-3,
        figure(chosen.shaft_w * lifts),
        if request.lifts == 1 {
            "this lift".to_owned()
        } else {
            format!("all {} lifts", request.lifts)
        },
        (chosen.blower_pa - chosen.valve_pa) * 1e-3,
    ));
    if let Some(least) = chosen.least_air_m3_s.filter(|least| (least / air - 1.0).abs() > 0.01) {
        say(format!(
            "The valve must turn down to {:.2} L/min of air for the least flow at the easiest levels.",
            least * L_MIN
        ));
    }
    let unit = crate::valve_data::Conductance {
        c_dm3_s_bar: 1.0,
        critical_ratio: crate::valve_data::USUAL_CRITICAL_RATIO,
        misfit: 0.0,
    };
    let (before, behind) = (place.p_atm_pa + chosen.blower_pa, place.p_atm_pa + chosen.valve_pa);
    let c = air / crate::valve_data::air_by_conductance_m3_s(&unit, before, behind);
    let kv = air / crate::valve_data::air_by_kv_m3_s(1.0, before, behind);
    say(format!(
        "Valve: at least C {c:.2} dm3/(s bar) or Kv {kv:.2} wide open; take about twice that. Air line of {} m: bore {:.0} mm ({:.2} kPa).",
        trim(request.air_line_m),
        chosen.air_line.bore_mm,
        chosen.air_line.loss_pa * 1e-3
    ));
    depth(text, answer, pick);
    text.push_str(&wrapped(&format!(
        "Carbon dioxide: at {:.2} volumes of air to one of water a pass takes out at most {:.0} % of what is above the air's own; strippers work at 5 to 10 (common practice).",
        pick.stripping.gas_to_water,
        100.0 * pick.stripping.most_share
    )));
    text.push('\n');
}

fn depth(text: &mut String, answer: &Answer, pick: &Pick) {
    let asked = answer.request.depth_m.low;
    let rows = pick.depth.rows.iter().map(|row| {
        let mark = if (row.depth_m - asked).abs() < 1e-9 { "*" } else { "" };
        match (row.air_m3_s, row.shaft_w) {
            (Some(air), Some(watts)) => {
                format!(
                    "{}{mark} m: {} L/min {} W",
                    trim(row.depth_m),
                    figure(air * L_MIN),
                    figure(watts)
                )
            }
            _ => format!("{}{mark} m: out of reach", trim(row.depth_m)),
        }
    });
    let rows: Vec<String> = rows.collect();
    text.push_str(&wrapped(&format!(
        "Depth, this pipe and task (air, and shaft power without the valve's drop; * asked): {}.",
        rows.join("; ")
    )));
    if let (Some(power), Some(air)) = (pick.depth.past_1700_power, pick.depth.past_1700_air) {
        text.push_str(&wrapped(&format!(
            "Common practice sees little gain past about {LITTLE_GAIN_PAST_M} m. The model's own figure for this task, from {LITTLE_GAIN_PAST_M} to 2 m: air {:+.0} %, power {:+.0} %.",
            100.0 * air,
            100.0 * power
        )));
    }
    let gas = total_gas_percent(&answer.request.place(), answer.request.depth_m.high);
    if gas > GAS_WARNING_PERCENT {
        text.push_str(&wrapped(&format!(
            "WARNING. So deep, bubbles can bring the water to {gas:.0} % of the air's gas; above {GAS_WARNING_PERCENT:.0} % (usual criterion, from memory; fry bear less) fish get gas bubble disease: measure total gas pressure, put the air less deep, or let the water fall and splash before it meets fish."
        )));
    }
}

fn oxygen(text: &mut String, answer: &Answer) {
    let (Some(demand), Some(fish)) = (answer.demand, answer.request.fish) else {
        return;
    };
    let mut say = |line: String| text.push_str(&wrapped(&line));
    say(format!(
        "Oxygen: {:.0} g/h at the worst hour ({:.0} by feed, {:.0} by the mass of unfed fish, times 1.4), less {:.0} from elsewhere; carbon dioxide {:.0} g/h (common practice: expect a third either way).",
        demand.worst_g_h, demand.by_feed_g_h, demand.by_mass_g_h, fish.other_g_h, demand.carbon_dioxide_g_h
    ));
    match answer.floor {
        Some(floor) => {
            say(format!(
                "Saturation {:.2} mg/L at the surface (Benson & Krause 1984), {:.2} at a third of the depth; to keep {} mg/L a litre of air a minute brings {:.3} g/h ({:.2} % of its oxygen; 2 % a metre, alpha 0.8: common practice).",
                floor.transfer.surface_mg_l,
                floor.transfer.bubble_mg_l,
                trim(fish.dissolved_mg_l),
                floor.transfer.g_h_per_l_min,
                100.0 * floor.transfer.share
            ));
            let air = answer
                .pick
                .as_ref()
                .and_then(|pick| answer.candidates.get(pick.index))
                .and_then(|c| c.air_m3_s);
            let beside = match air {
                Some(air) if floor.each_m3_s > air => format!(
                    ", more than the {:.1} L/min that its water needs: either the lift moves more water than wanted or air stones must help",
                    air * L_MIN
                ),
                Some(air) => format!(", within the {:.1} L/min that its water needs", air * L_MIN),
                None => String::new(),
            };
            say(format!(
                "Air floor of each lift: {:.1} L/min{beside}. Check with an oxygen meter at the worst hour.",
                floor.each_m3_s * L_MIN
            ));
        }
        None => say(format!(
            "No amount of this air keeps {} mg/L: the water can hold no more than its bubbles give. Lower the wish, or use pure oxygen.",
            trim(fish.dissolved_mg_l)
        )),
    }
    text.push('\n');
}

/// Rules in words, for the answer as JSON.
pub(super) fn words(rules: &[Rule]) -> Vec<String> {
    rules.iter().map(ToString::to_string).collect()
}
