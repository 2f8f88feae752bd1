//! What is asked of `size`.

use crate::oxygen::Stock;
use crate::pipes::Series;
use crate::plant::Place;
use crate::precision::narrow;
use risertrim::installation::{Conditions, Site};
use risertrim::lift::Calibration;
use std::fmt;

/// From a least to a most; both the same for a single value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Least.
    pub low: f64,
    /// Most.
    pub high: f64,
}

impl Span {
    /// A single value.
    #[must_use]
    pub const fn at(value: f64) -> Self {
        Self {
            low: value,
            high: value,
        }
    }

    /// Both ends multiplied.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            low: self.low * factor,
            high: self.high * factor,
        }
    }
}

/// Losses at the ends of the riser, in velocity heads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fittings {
    /// Entrance with mesh or guard; 0.5 for a square pipe end.
    pub entrance: f64,
    /// Outlet elbow; 0 for an open end, about 1.2 for a sharp elbow, 0.4 for a swept one.
    pub outlet: f64,
}

/// Fish to be kept in oxygen by the lifts' air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fish {
    /// Fish and feed.
    pub stock: Stock,
    /// Oxygen to be kept in the water, mg/L.
    pub dissolved_mg_l: f64,
    /// Oxygen that comes from elsewhere (air stones, falling water), g/h.
    pub other_g_h: f64,
}

impl Fish {
    /// Every value that lies outside its range; none when all is well.
    #[must_use]
    pub fn refusals(&self) -> Vec<Refusal> {
        let mut found = Vec::new();
        let mut value = |field, value, low, high| check_span(&mut found, field, Span::at(value), low, high);
        value("fish in kg", self.stock.fish_kg, 0.0, 1e6);
        value("feed in kg a day", self.stock.feed_kg_day, 0.0, 1e5);
        value("oxygen for feed in kg/kg", self.stock.oxygen_kg_kg, 0.1, 2.0);
        value("oxygen to be kept in mg/L", self.dissolved_mg_l, 0.0, 20.0);
        value("oxygen from elsewhere in g/h", self.other_g_h, 0.0, 1e6);
        found
    }
}

/// A task for a lift. Where a value is a span, the lift must do its work over all of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// Water that each lift is to deliver, m3/s.
    pub water_m3_s: Span,
    /// Depth of the air inlet below the level it draws from, m.
    pub depth_m: Span,
    /// Height of the outlet (or of the receiving level, if higher) above the level it draws from, m.
    pub lift_m: Span,
    /// Pipe series to choose from.
    pub series: Vec<Series>,
    /// Water temperature, C.
    pub water_c: f64,
    /// Salt, g/kg.
    pub salinity_g_kg: f64,
    /// Height above the sea, m.
    pub altitude_m: f64,
    /// Losses at the riser's ends.
    pub fittings: Fittings,
    /// What was fitted on site, for a lift that stands already; the plain curve for one to be planned.
    pub calibration: Calibration,
    /// Length of the air line from valve to air inlet, m.
    pub air_line_m: f64,
    /// Pressure the diffuser takes at the air needed, Pa; 0 for an open or drilled pipe.
    pub diffuser_pa: f64,
    /// Least speed of the water in the riser that keeps solids moving, m/s; 0 where they do not matter.
    pub least_speed_m_s: f64,
    /// Blower curve as it holds at this altitude, like the one of a scenario: (free air m3/s, pressure Pa), air rising. `None`:
    /// not chosen yet.
    pub blower: Option<Vec<(f64, f64)>>,
    /// Isentropic efficiency of the blower, from shaft to air.
    pub blower_efficiency: f64,
    /// Equal lifts on the blower.
    pub lifts: u32,
    /// Fish that live on the lifts' air.
    pub fish: Option<Fish>,
}

/// A value that cannot be worked with.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    /// What it is of, with its unit.
    pub field: &'static str,
    /// As given.
    pub value: String,
    /// What is allowed, or what is wrong.
    pub allowed: String,
    /// What may have been meant.
    pub hint: Option<String>,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is {}, allowed: {}", self.field, self.value, self.allowed)?;
        self.hint.as_ref().map_or(Ok(()), |hint| write!(f, "\n  {hint}"))
    }
}

impl Default for Request {
    /// 60 L/min, 1 m deep, 0.1 m up, in PVC soil pipe and fresh water of 20 C at the sea.
    fn default() -> Self {
        Self {
            water_m3_s: Span::at(60.0 / super::L_MIN),
            depth_m: Span::at(1.0),
            lift_m: Span::at(0.1),
            series: vec![Series::SoilPvc],
            water_c: 20.0,
            salinity_g_kg: 0.0,
            altitude_m: 0.0,
            fittings: Fittings {
                entrance: 0.5,
                outlet: 0.0,
            },
            calibration: Calibration::default(),
            air_line_m: 5.0,
            diffuser_pa: 500.0,
            least_speed_m_s: 0.3,
            blower: None,
            blower_efficiency: 0.35,
            lifts: 1,
            fish: None,
        }
    }
}

impl Request {
    /// Every value that lies outside its range; none when all is well.
    #[must_use]
    pub fn refusals(&self) -> Vec<Refusal> {
        let mut found = Vec::new();
        let mut span = |field, value: Span, unit: f64, low: f64, high: f64| {
            check_span(&mut found, field, value.times(unit), low, high);
        };
        span("flow in L/min", self.water_m3_s, super::L_MIN, 0.5, 5000.0);
        span("depth in mm", self.depth_m, 1000.0, 150.0, 5000.0);
        span("lift in mm", self.lift_m, 1000.0, 0.0, 1500.0);
        span("water temperature in C", Span::at(self.water_c), 1.0, 0.0, 40.0);
        span("salt in g/kg", Span::at(self.salinity_g_kg), 1.0, 0.0, 40.0);
        span("altitude in m", Span::at(self.altitude_m), 1.0, -400.0, 5000.0);
        span("entrance loss", Span::at(self.fittings.entrance), 1.0, 0.0, 100.0);
        span("outlet loss", Span::at(self.fittings.outlet), 1.0, 0.0, 100.0);
        span("air line in m", Span::at(self.air_line_m), 1.0, 0.0, 200.0);
        span("diffuser loss in kPa", Span::at(self.diffuser_pa), 1e-3, 0.0, 50.0);
        span(
            "least water speed in m/s",
            Span::at(self.least_speed_m_s),
            1.0,
            0.0,
            1.0,
        );
        span(
            "blower efficiency in percent",
            Span::at(self.blower_efficiency),
            100.0,
            5.0,
            100.0,
        );
        span("number of lifts", Span::at(f64::from(self.lifts)), 1.0, 1.0, 100.0);
        found.extend(self.fish.iter().flat_map(Fish::refusals));
        if found.is_empty() {
            self.together(&mut found);
        }
        found
    }

    /// What the values mean together.
    fn together(&self, found: &mut Vec<Refusal>) {
        let mut refuse = |field, value: String, allowed: &str, hint: Option<String>| {
            found.push(Refusal {
                field,
                value,
                allowed: allowed.to_owned(),
                hint,
            });
        };
        let ratio = self.depth_m.low / (self.depth_m.low + self.lift_m.high);
        if ratio < 0.5 {
            refuse(
                "lift in mm",
                format!(
                    "{:.0} from a depth of {:.0}",
                    1000.0 * self.lift_m.high,
                    1000.0 * self.depth_m.low
                ),
                "no more than the depth",
                Some(
                    "the formulas hold for a depth of at least half the riser's length: put the air deeper".to_owned(),
                ),
            );
        }
        if self.series.is_empty() {
            refuse("pipe series", "empty".to_owned(), "one or more", None);
        }
        if let Some(curve) = &self.blower {
            let rising = curve
                .windows(2)
                .all(|pair| pair[1].0 > pair[0].0 && pair[1].1 < pair[0].1);
            let sound = curve
                .iter()
                .all(|(air, pressure)| *air >= 0.0 && (0.0..=200_000.0).contains(pressure));
            if !(2..=8).contains(&curve.len()) || !rising || !sound {
                refuse(
                    "blower curve",
                    format!("{} points", curve.len()),
                    "2 to 8 points of free air in L/min and pressure in kPa (0 to 200), air rising and pressure falling",
                    None,
                );
            }
        }
    }

    /// Water and air for the plant's model.
    #[must_use]
    pub fn place(&self) -> Place {
        Place::new(self.altitude_m, self.water_c, self.salinity_g_kg)
    }

    /// Water and air for the controller's curve.
    #[must_use]
    pub fn conditions(&self) -> Conditions {
        Site {
            altitude_m: narrow(self.altitude_m),
            water_c: narrow(self.water_c),
            salinity_g_kg: narrow(self.salinity_g_kg),
        }
        .conditions()
    }
}

fn check_span(found: &mut Vec<Refusal>, field: &'static str, value: Span, low: f64, high: f64) {
    let inside = |x: f64| x >= low * (1.0 - 1e-9) - 1e-12 && x <= high * (1.0 + 1e-9);
    let shown = if value.low == value.high {
        plain(value.low)
    } else {
        format!("{}..{}", plain(value.low), plain(value.high))
    };
    let allowed = format!("{} to {}", plain(low), plain(high));
    if value.low > value.high {
        let allowed = format!("the smaller value first, within {allowed}");
        found.push(Refusal {
            field,
            value: shown,
            allowed,
            hint: None,
        });
    } else if !(inside(value.low) && inside(value.high)) {
        let would_fit = |factor: f64| value.low > 0.0 && inside(value.low * factor) && inside(value.high * factor);
        let unit = match field {
            "depth in mm" | "lift in mm" if would_fit(1000.0) => Some("lengths are in mm: given in m?"),
            "flow in L/min" if would_fit(60.0) => Some("flows are in L/min: given in L/s?"),
            "flow in L/min" if would_fit(1.0 / 60.0) => Some("flows are in L/min: given in L/h?"),
            "diffuser loss in kPa" if would_fit(1e-3) => Some("pressures are in kPa: given in Pa?"),
            _ => None,
        };
        found.push(Refusal {
            field,
            value: shown,
            allowed,
            hint: unit.map(ToOwned::to_owned),
        });
    }
}

/// At most four figures behind the point, no trailing zeros.
fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    text.to_owned()
}
