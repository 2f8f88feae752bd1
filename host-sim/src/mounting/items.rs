//! The mounting sheet in words.

use super::sheet::Sheet;
use crate::oxygen::GAS_WARNING_PERCENT;
use crate::size::{L_MIN, wrapped_to};
use serde_json::{Value, json};

/// What a line of the sheet rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Worked out for this lift.
    Computed,
    /// Common practice of the trade, without a source to cite.
    Practice,
    /// A published source, named in the text.
    Source,
    /// A caution.
    Caution,
}

impl Basis {
    const fn word(self) -> &'static str {
        match self {
            Self::Computed => "computed",
            Self::Practice => "common practice",
            Self::Source => "source named",
            Self::Caution => "caution",
        }
    }
}

/// One line of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Which part.
    pub part: &'static str,
    /// What to do.
    pub text: String,
    /// What it rests on.
    pub basis: Basis,
}

fn mm(metres: f64) -> String {
    format!("{:.0} mm", 1000.0 * metres)
}

/// Every line of the sheet.
#[must_use]
pub fn items(sheet: &Sheet) -> Vec<Item> {
    let mut items = Vec::new();
    let mut say = |part, basis, text: String| items.push(Item { part, text, basis });
    riser(sheet, &mut say);
    air(sheet, &mut say);
    level(&mut say);
    cautions(sheet, &mut say);
    items
}

fn riser(sheet: &Sheet, say: &mut impl FnMut(&'static str, Basis, String)) {
    let (request, candidate) = (&sheet.request, &sheet.candidate);
    say(
        "riser",
        Basis::Computed,
        format!(
            "{}, {}, bore {:.1} mm: {} from foot to outlet invert.",
            candidate.pipe,
            candidate.pipe.series.title(),
            candidate.pipe.bore_mm,
            mm(sheet.riser_m)
        ),
    );
    foot(sheet, say);
    say(
        "air inlet",
        Basis::Practice,
        format!(
            "Air enters {} above the foot, through a ring of holes or a sleeve around the pipe, so that no bubble leaves at the foot.",
            mm(sheet.inlet_m - sheet.clearance_m)
        ),
    );
    let range = if (sheet.high_level_m - sheet.low_level_m).abs() < 5e-4 {
        mm(request.depth_m.low)
    } else {
        format!("{} to {}", mm(request.depth_m.low), mm(request.depth_m.high))
    };
    let levels = if sheet.high_level_m - sheet.low_level_m < 5e-4 {
        mm(sheet.low_level_m)
    } else {
        format!("{} to {}", mm(sheet.low_level_m), mm(sheet.high_level_m))
    };
    say(
        "submergence",
        Basis::Computed,
        format!(
            "Water stands {range} above the air inlet: {levels} above the floor. Below that the lift delivers less than asked."
        ),
    );
    say(
        "outlet",
        Basis::Computed,
        format!(
            "Invert {} above the floor, {} above the lowest level. {}",
            mm(sheet.outlet_m),
            mm(sheet.outlet_m - sheet.low_level_m),
            receiving(sheet)
        ),
    );
    say("outlet", Basis::Practice,
        "Lead the outlet out by a swept bend with an open top, and let it end free: a drowned outlet runs back when the air stops.".to_owned());
    let tilt: Vec<String> = sheet
        .tilt
        .iter()
        .map(|cost| format!("{:.0} % at {:.0} degrees", 100.0 * cost.lost, cost.degrees))
        .collect();
    say(
        "upright",
        Basis::Source,
        format!(
            "Mount it plumb. Leaning costs water at the same air, here about {} (drift by Bendiksen 1984; not measured on lifts).",
            tilt.join(", ")
        ),
    );
    say(
        "guard",
        Basis::Practice,
        format!(
            "Guard the foot against fry and solids: openings narrower than the smallest fish, {:.0} cm2 open area or more ({:.0} L/min at 0.1 m/s), easy to lift out and brush.",
            1e4 * sheet.guard_m2,
            request.water_m3_s.high * L_MIN
        ),
    );
}

/// Where the receiving level stands against the outlet.
fn receiving(sheet: &Sheet) -> String {
    let above_m = sheet.low_level_m + sheet.request.lift_m.high - sheet.outlet_m;
    if above_m > 5e-4 {
        format!(
            "At its high warning the receiving level stands {} above the invert: that counts as lift, and the water runs back when the air stops.",
            mm(above_m)
        )
    } else {
        "The receiving level stays at or below the invert; each 10 mm it stands above it counts as lift.".to_owned()
    }
}

fn foot(sheet: &Sheet, say: &mut impl FnMut(&'static str, Basis, String)) {
    let (clearance, least) = (sheet.clearance_m, sheet.least_clearance_m());
    let usual = if (clearance - 2.0 * least).abs() < 5e-4 {
        "one outside diameter; "
    } else {
        ""
    };
    say(
        "foot",
        Basis::Practice,
        format!(
            "Foot {} above the floor ({usual}never less than half an outside diameter, {}), so that water and solids get in.",
            mm(clearance),
            mm(least)
        ),
    );
    if clearance < least - 5e-4 {
        say(
            "foot",
            Basis::Caution,
            format!(
                "WARNING: the air enters only {} above the floor: the foot below it stands too low, and water and solids get in badly. Let the air enter {} above the floor or higher (injector_mm in the file).",
                mm(sheet.inlet_m),
                mm(2.0 * least)
            ),
        );
    }
}

fn air(sheet: &Sheet, say: &mut impl FnMut(&'static str, Basis, String)) {
    let (request, candidate) = (&sheet.request, &sheet.candidate);
    say(
        "air line",
        Basis::Computed,
        format!(
            "{:.0} mm bore over {} m: {:.2} kPa at {:.1} L/min of free air; {:.1} kPa behind the valve.",
            candidate.air_line.bore_mm,
            request.air_line_m,
            candidate.air_line.loss_pa * 1e-3,
            candidate.air_m3_s.unwrap_or(0.0) * L_MIN,
            candidate.valve_pa * 1e-3
        ),
    );
    say(
        "air line",
        Basis::Practice,
        format!(
            "Blower above the highest water, or the line in a loop up to {} above the floor (300 mm above all water): else water siphons into it when it stops.",
            mm(sheet.loop_m)
        ),
    );
    say("check valve", Basis::Practice,
        "One in each lift's line behind its air valve, high and dry, besides the loop: small ones stick; test them each month.".to_owned());
    say("drain", Basis::Practice,
        "A drain cock at the lowest point of manifold and line: warm moist air leaves water there, which shuts the line like a trap.".to_owned());
    say(
        "first metre",
        Basis::Computed,
        format!(
            "Air leaves the blower about {:.0} K warmer than it came in ({:.1} kPa, efficiency {:.0} %): make the first metre of metal; PVC softens from about 60 C (common practice).",
            sheet.blower_rise_k,
            candidate.blower_pa * 1e-3,
            100.0 * request.blower_efficiency
        ),
    );
    say("air valve", Basis::Practice,
        "The valve stands open without power or signal. Limit it by a stop so that one lift fully open cannot take the others' air.".to_owned());
}

fn level(say: &mut impl FnMut(&'static str, Basis, String)) {
    say("stilling tube", Basis::Source,
        "Level sensor in a 50 mm tube, open at the top, clear of inflow and bubbles, with one hole of 5 mm (1/100 of its area): a step of 10 mm then takes about 8 s to show; 1/1000 of the area stills everything but takes 75 s (USBR Water Measurement Manual, ch. 6).".to_owned());
    say("level sensor", Basis::Practice,
        "A pressure cell must be vented to the air or corrected by a barometer: on a sealed one 1 hPa of weather reads as 10 mm of water. Enter the water's density: in sea water a cell set for fresh reads 2.5 % high. An echo sensor must not look at bubbles or foam.".to_owned());
    say("level sensor", Basis::Practice,
        "Take its zero at the overflow's crest with the air off: one millimetre there is 4 to 11 % of the flow read from it.".to_owned());
}

fn cautions(sheet: &Sheet, say: &mut impl FnMut(&'static str, Basis, String)) {
    let inlet = sheet.gas_at_inlet_percent;
    let text = format!(
        "Total gas pressure: water in balance with bubbles at this depth holds {inlet:.1} % of the air's gas, at a third of the depth {:.1} %.",
        sheet.gas_at_third_percent
    );
    if sheet.gas_warning() {
        say(
            "gas",
            Basis::Caution,
            format!(
                "WARNING. {text} Above {GAS_WARNING_PERCENT:.0} % (usual criterion, from memory; fry bear less) fish get gas bubble disease: measure total gas pressure, put the air less deep, or let the water fall and splash before it meets fish."
            ),
        );
    } else {
        say(
            "gas",
            Basis::Computed,
            format!("{text} Usual criterion {GAS_WARNING_PERCENT:.0} % (from memory); fry bear less."),
        );
    }
    for text in [
        "Electricity beside water kills: blower, controller and sockets on residual-current devices, blower and controller on separate ones so that one wet socket does not stop the air; drip loops; everything above the highest water. A licensed electrician decides.",
        "Fish live on this air: a second blower or a battery air pump that starts by itself, and an alarm on manifold pressure that does not need the controller.",
        "Pressure: a relief valve on every blower that holds more than its pipes stand, and a bleed that no software can shut.",
        "Food for people: use pipe and hose that are approved for it, and oil-free blowers.",
        "Local codes and licensed trades come before this sheet: it is an aid for planning.",
    ] {
        say("caution", Basis::Caution, text.to_owned());
    }
}

/// The sheet as text, at most 110 columns wide.
#[must_use]
pub fn sheet_text(sheet: &Sheet) -> String {
    let mut text = format!(
        "Mounting sheet: {}, heights above the floor of the tank it draws from\n\n",
        sheet.candidate.pipe
    );
    let mut last = "";
    for item in items(sheet) {
        let part = if item.part == last { "" } else { item.part };
        last = item.part;
        let mark = if item.basis == Basis::Practice {
            " (common practice)"
        } else {
            ""
        };
        let body = wrapped_to(&format!("{}{mark}", item.text), 110 - 15);
        for (number, line) in body.lines().enumerate() {
            let head = if number == 0 { part } else { "" };
            text.push_str(format!("{head:<15}{}", line.trim_start()).trim_end());
            text.push('\n');
        }
    }
    text
}

/// The sheet as one JSON object; every key ends in its unit.
#[must_use]
pub fn sheet_json(sheet: &Sheet) -> Value {
    json!({
        "pipe": sheet.candidate.pipe.to_string(),
        "series": sheet.candidate.pipe.series.word(),
        "bore_mm": sheet.candidate.pipe.bore_mm,
        "clearance_mm": 1000.0 * sheet.clearance_m,
        "air_inlet_mm": 1000.0 * sheet.inlet_m,
        "low_level_mm": 1000.0 * sheet.low_level_m,
        "high_level_mm": 1000.0 * sheet.high_level_m,
        "outlet_mm": 1000.0 * sheet.outlet_m,
        "riser_mm": 1000.0 * sheet.riser_m,
        "air_loop_mm": 1000.0 * sheet.loop_m,
        "air_line_bore_mm": sheet.candidate.air_line.bore_mm,
        "guard_cm2": 1e4 * sheet.guard_m2,
        "blower_rise_k": sheet.blower_rise_k,
        "gas_at_inlet_percent": sheet.gas_at_inlet_percent,
        "gas_at_third_percent": sheet.gas_at_third_percent,
        "tilt": sheet.tilt.iter().map(|cost| json!({
            "degrees": cost.degrees, "lost_percent": 100.0 * cost.lost,
        })).collect::<Vec<_>>(),
        "items": items(sheet).iter().map(|item| json!({
            "part": item.part, "text": item.text, "basis": item.basis.word(),
        })).collect::<Vec<_>>(),
    })
}
