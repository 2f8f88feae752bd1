//! What a grower takes from it, before the tables.

use super::contender::Contender;
use super::figures::Figures;
use super::run::{Comparison, Row};

/// Less than this over the rims counts as nothing, L.
const NOTHING_L: f64 = 0.05;

/// How well each hand kept the lifts on target, and at what price, one thing a sentence.
#[must_use]
pub fn in_short(comparison: &Comparison) -> Vec<String> {
    let rows = |contender| comparison.row(contender);
    let (Some(own), Some(once), Some(weekly), Some(pi)) = (
        rows(Contender::Risertrim),
        rows(Contender::HandOnce),
        rows(Contender::HandWeekly),
        rows(Contender::Pi),
    ) else {
        return Vec::new();
    };
    let band = |row: &Row| format!("{:.1} %", row.mean(Figures::in_band_percent));
    let mut lines = vec![format!(
        "The lifts gave within 5 % of what was asked of them for {} of the time under risertrim; for {} trimmed by hand once, {} by hand \
         every week, {} under plain PI controllers.",
        band(own),
        band(once),
        band(weekly),
        band(pi)
    )];
    let worst = |row: &Row| row.worst(Figures::worst_mean_percent);
    if let (Some(off), Some(by_hand)) = (worst(own), worst(once)) {
        lines.push(format!(
            "Over the whole time no lift was further off than {off:.1} % in the mean; trimmed by hand once, {by_hand:.1} %."
        ));
    }
    lines.push(format!(
        "A litre of water took {:.2} L of air, by hand once {:.2} L; the valves moved by {:.1} strokes, under PI by {:.1}.",
        own.mean(Figures::air_per_water),
        once.mean(Figures::air_per_water),
        own.mean(Figures::travel_strokes),
        pi.mean(Figures::travel_strokes)
    ));
    let harmed: Vec<String> = comparison.rows.iter().filter_map(harm).collect();
    lines.push(if harmed.is_empty() {
        "No water ran over and no tank ran dry under anybody.".to_owned()
    } else {
        format!("Ran over or dry: {}.", harmed.join("; "))
    });
    lines
}

/// What ran over or dry under one of them.
fn harm(row: &Row) -> Option<String> {
    let (spilled_l, dry_s) = (row.mean(|run| run.spilled_l), row.mean(|run| run.dry_s));
    let mut parts = Vec::new();
    if spilled_l > NOTHING_L {
        parts.push(format!("{spilled_l:.1} L over the rims"));
    }
    if dry_s > 1.0 {
        parts.push(format!("{:.0} min dry", (dry_s / 60.0).ceil()));
    }
    (!parts.is_empty()).then(|| format!("{} {}", row.contender.name(), parts.join(" and ")))
}
