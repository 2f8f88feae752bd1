//! The curve as a page that needs nothing else: drawing, landmarks, table.

use super::draw::{escaped, svg};
use super::table::{CurveRow, CurveTable};
use super::terminal::{heading, two_places};
use std::fmt::Write;

/// A self-contained HTML page with one section a curve.
#[must_use]
pub fn html(tables: &[CurveTable]) -> String {
    let mut out = String::from(HEAD);
    for table in tables {
        section(&mut out, table);
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

const HEAD: &str = r#"<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Lift curves</title>
<style>
body { margin: 0; background: #f4f6f7; color: #1b2a33; font: 15px/1.45 system-ui, sans-serif; }
main { max-width: 800px; margin: 0 auto; padding: 16px; }
section { background: #fff; border: 1px solid #d5dce0; padding: 16px; margin-bottom: 16px; }
.scroll { overflow-x: auto; }
svg { max-width: 100%; min-width: 560px; height: auto; }
h1 { font-size: 20px; }
h2 { font-size: 17px; margin: 0 0 8px; }
p { margin: 4px 0; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; margin-top: 12px; }
th, td { text-align: right; padding: 2px 10px; border-bottom: 1px solid #e3e8eb; font-weight: normal; }
th { color: #44545e; }
td:last-child { text-align: left; color: #7a4900; }
tr.mark td { background: #fdf6ea; }
@media print { section { border: 0; padding: 0; } svg, tr { break-inside: avoid; } h2, p { break-after: avoid; } }
</style>
</head>
<body>
<main>
<h1>Water against air</h1>
"#;

fn section(out: &mut String, table: &CurveTable) {
    // Writing into a String does not fail.
    let _ = writeln!(out, "<section>\n<h2>Lift {}</h2>", escaped(&table.lift));
    for line in heading(table).lines() {
        let _ = writeln!(out, "<p>{}</p>", escaped(line));
    }
    let _ = writeln!(out, "<div class=\"scroll\">{}</div>", svg(table));
    out.push_str(
        "<div class=\"scroll\"><table>\n<tr><th>air<br>L/min</th><th>water<br>L/min</th><th>90 % band<br>L/min</th><th>air per<br>water</th>\
         <th>efficiency<br>%</th><th>more water<br>per more air</th><th></th></tr>\n",
    );
    let mut lines: Vec<(CurveRow, &str)> = table.rows.iter().step_by(4).map(|row| (*row, "")).collect();
    lines.extend(
        table
            .landmarks
            .iter()
            .map(|landmark| (landmark.at, landmark.mark.words())),
    );
    lines.sort_by(|a, b| a.0.air_l_min.total_cmp(&b.0.air_l_min));
    for (row, mark) in lines {
        let band = match (row.low_l_min, row.high_l_min) {
            (Some(low), Some(high)) => format!("{low:.1} to {high:.1}"),
            _ => String::new(),
        };
        let _ = writeln!(
            out,
            "<tr{}><td>{:.1}</td><td>{:.1}</td><td>{band}</td><td>{}</td><td>{}</td><td>{}</td><td>{mark}</td></tr>",
            if mark.is_empty() { "" } else { " class=\"mark\"" },
            row.air_l_min,
            row.water_l_min,
            row.gas_to_water.map_or_else(String::new, |ratio| format!("{ratio:.2}")),
            row.efficiency
                .map_or_else(String::new, |share| format!("{:.0}", 100.0 * share)),
            two_places(row.slope)
        );
    }
    out.push_str("</table></div>\n</section>\n");
}
