//! The figures of one pipe for a task.

use super::L_MIN;
use super::request::{Request, Span};
use super::rule::Rule;
use crate::pipes::Pipe;
use crate::plant::{Blower, BlowerSpec, FREE_AIR_K, FREE_AIR_PA, GRAVITY_M_S2, Place, darcy};
use crate::precision::narrow;
use risertrim::air::{Diffuser, Line, Path};
use risertrim::installation::Conditions;
use risertrim::lift::{Curve, Riser};
use risertrim::units::{FreeAir, WaterFlow};

/// Darcy friction factor to begin with: clean plastic at usual speeds. The curve then takes that of its own speed.
const CLEAN_PLASTIC: f64 = 0.022;
/// Rounds in which friction factor and speed are brought together.
const FRICTION_ROUNDS: usize = 3;
/// Bores of hose and small pipe for air lines, mm (trade sizes).
const AIR_LINES_MM: [f64; 11] = [6.0, 8.0, 10.0, 13.0, 16.0, 19.0, 25.0, 32.0, 40.0, 50.0, 63.0];
/// Loss of the air line's fittings: check valve, two bends, a cock (common practice).
const AIR_LINE_FITTINGS: f64 = 5.0;
/// Most that the air line may take of the pressure that the water's depth takes.
const LINE_SHARE: f64 = 0.05;
/// Drop to plan across the air valve at the air needed, so that it can govern: share of the pressure behind it, and least
/// Pa (common practice: a valve that takes less than a tenth of the pressure hardly governs).
const VALVE_DROP: (f64, f64) = (0.15, 1000.0);

/// An air line that takes at most a twentieth of the depth's pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirLine {
    /// Bore, mm.
    pub bore_mm: f64,
    /// Pressure it takes, Pa.
    pub loss_pa: f64,
}

/// One pipe for a task. Figures are for the most water, at the hardest levels: least depth, highest lift.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The pipe.
    pub pipe: Pipe,
    /// Most water it can move, m3/s; zero when it can move none.
    pub peak_m3_s: f64,
    /// Free air at the peak, m3/s.
    pub peak_air_m3_s: f64,
    /// Free air at which water first moves, m3/s; `None` when no air raises it.
    pub onset_air_m3_s: Option<f64>,
    /// Free air needed, m3/s; `None` when out of reach.
    pub air_m3_s: Option<f64>,
    /// Free air for the least water at the easiest levels, m3/s: the other end of the valve's work.
    pub least_air_m3_s: Option<f64>,
    /// That air at the pressure of the inlet, m3/s.
    pub air_at_depth_m3_s: f64,
    /// Air line.
    pub air_line: AirLine,
    /// Pressure behind the valve at the greatest depth, Pa above the atmosphere.
    pub valve_pa: f64,
    /// Pressure to plan for the blower: behind the valve and the valve's own drop, Pa above the atmosphere.
    pub blower_pa: f64,
    /// Water over the most it can move.
    pub share_of_peak: f64,
    /// Volume of air at the surface over volume of water.
    pub gas_to_water: f64,
    /// Hydraulic efficiency by Nicklin (1963), `rho g QL l / (Pa Qa ln(1 + rho g Hs/Pa))`; zero by definition at zero lift.
    pub efficiency: f64,
    /// Power at the blower's shaft, W: isentropic compression over the blower's efficiency.
    pub shaft_w: f64,
    /// Energy for a m3 of water, Wh, at the shaft.
    pub wh_m3: f64,
    /// Air at the peak over air at the onset; `None` where water runs without air or with the first bubble.
    pub turn_down: Option<f64>,
    /// Speed of the water at the riser's foot, m/s.
    pub water_m_s: f64,
    /// What rules it out, the gravest first; empty for one that can do the work.
    pub ruled_out: Vec<Rule>,
}

/// A pipe at a depth and lift, to be asked by the controller's closed form.
///
/// That form takes one friction factor for a lift. Here it is the one of a smooth pipe at the speed in question (one value
/// for the target, another for the peak): in narrow pipes at low speed it is up to twice the usual 0.022.
#[derive(Clone, Copy, Debug)]
pub(super) struct Task<'a> {
    pub request: &'a Request,
    pub conditions: &'a Conditions,
    pub bore_m: f64,
    pub depth_m: f64,
    pub lift_m: f64,
}

/// The most water a pipe can move.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Top {
    pub water_m3_s: f64,
    pub air_m3_s: f64,
    pub onset_m3_s: Option<f64>,
}

impl Task<'_> {
    fn curve(&self, friction: f64) -> Curve {
        let riser = Riser {
            bore_m: narrow(self.bore_m),
            injector_m: 0.0,
            outlet_m: narrow(self.depth_m + self.lift_m),
            darcy_friction: narrow(friction),
            entrance_loss: narrow(self.request.fittings.entrance),
            outlet_loss: narrow(self.request.fittings.outlet),
        };
        Curve::new(
            &riser,
            &self.request.calibration,
            self.conditions,
            narrow(self.depth_m),
            None,
        )
    }

    /// Friction factor of the smooth pipe at the speed of this water and free air together.
    fn friction(&self, water_m3_s: f64, air_m3_s: f64) -> f64 {
        let place = self.request.place();
        let mean_pa = place.p_atm_pa + 0.5 * place.water_kg_m3 * GRAVITY_M_S2 * self.depth_m;
        let both = water_m3_s + air_m3_s * place.free_air_pa_here() / mean_pa;
        let speed = both / (std::f64::consts::FRAC_PI_4 * self.bore_m * self.bore_m);
        darcy(place.water_kg_m3 * speed * self.bore_m / place.water_pa_s, 0.0)
            .factor
            .clamp(0.01, 0.06)
    }

    /// Free air for a flow, m3/s; `None` out of reach.
    pub fn air_for(&self, water_m3_s: f64) -> Option<f64> {
        let flow = WaterFlow::from_m3_s(narrow(water_m3_s));
        let at = |friction: f64| self.curve(friction).air_for(flow).map(|air| f64::from(air.m3_s));
        let mut friction = CLEAN_PLASTIC;
        for _ in 0..FRICTION_ROUNDS {
            friction = self.friction(water_m3_s, at(friction).unwrap_or(water_m3_s));
        }
        at(friction)
    }

    /// The peak and the onset.
    pub fn top(&self) -> Top {
        let mut friction = CLEAN_PLASTIC;
        let mut top = Top::default();
        for _ in 0..=FRICTION_ROUNDS {
            let curve = self.curve(friction);
            let peak = curve.peak();
            top = Top {
                water_m3_s: f64::from(peak.flow.m3_s),
                air_m3_s: f64::from(peak.air.m3_s),
                onset_m3_s: curve.onset().map(|air| f64::from(air.m3_s)),
            };
            friction = self.friction(top.water_m3_s, top.air_m3_s);
        }
        top
    }
}

impl Candidate {
    /// Works out one pipe. Rules that need the other pipes are added later.
    #[must_use]
    pub fn new(request: &Request, pipe: Pipe) -> Self {
        let (conditions, place) = (request.conditions(), request.place());
        let Span {
            low: least_water,
            high: water,
        } = request.water_m3_s;
        let task = |depth_m, lift_m| Task {
            request,
            conditions: &conditions,
            bore_m: pipe.bore_m(),
            depth_m,
            lift_m,
        };
        let hard = task(request.depth_m.low, request.lift_m.high);
        let easy = task(request.depth_m.high, request.lift_m.low);
        let Top {
            water_m3_s: peak_m3_s,
            air_m3_s: peak_air,
            onset_m3_s: onset,
        } = hard.top();
        let air = hard.air_for(water);
        let used = air.unwrap_or(0.0);
        let deep_pa = place.water_kg_m3 * GRAVITY_M_S2 * request.depth_m.high;
        let at_depth = FreeAir::from_m3_s(narrow(used))
            .volume_m3_s(narrow(place.p_atm_pa + deep_pa), narrow(place.temperature_k()));
        let air_line = air_line(request, &place, deep_pa, used);
        let valve_pa = deep_pa + request.diffuser_pa + air_line.loss_pa;
        let blower_pa = valve_pa + (VALVE_DROP.0 * valve_pa).max(VALVE_DROP.1);
        let shaft_w = shaft_w(request, &place, used, blower_pa);
        let surface_air = used * FREE_AIR_PA / place.p_atm_pa * place.temperature_k() / FREE_AIR_K;
        let shallow_pa = place.water_kg_m3 * GRAVITY_M_S2 * request.depth_m.low;
        let expansion_w = place.p_atm_pa * surface_air * (1.0 + shallow_pa / place.p_atm_pa).ln();
        let raised_w = place.water_kg_m3 * GRAVITY_M_S2 * water * request.lift_m.high;
        let mut candidate = Self {
            pipe,
            peak_m3_s,
            peak_air_m3_s: peak_air,
            onset_air_m3_s: onset,
            air_m3_s: air,
            least_air_m3_s: easy.air_for(least_water),
            air_at_depth_m3_s: f64::from(at_depth),
            air_line,
            valve_pa,
            blower_pa,
            share_of_peak: if peak_m3_s > 0.0 {
                water / peak_m3_s
            } else {
                f64::INFINITY
            },
            gas_to_water: surface_air / water,
            efficiency: if expansion_w > 0.0 { raised_w / expansion_w } else { 0.0 },
            shaft_w,
            wh_m3: shaft_w / (3600.0 * water),
            turn_down: onset.filter(|onset| *onset > 0.0).map(|onset| peak_air / onset),
            water_m_s: water / (std::f64::consts::FRAC_PI_4 * pipe.bore_m() * pipe.bore_m()),
            ruled_out: Vec::new(),
        };
        let least_at_hard = hard.air_for(least_water);
        candidate.ruled_out = candidate.alone(request, least_at_hard);
        candidate
    }

    /// Free air needed, L/min.
    #[must_use]
    pub fn air_l_min(&self) -> Option<f64> {
        self.air_m3_s.map(|air| air * L_MIN)
    }

    /// True when nothing rules it out but its own slowness.
    #[must_use]
    pub fn works(&self) -> bool {
        self.ruled_out.iter().all(|rule| !rule.is_hard())
    }
}

/// Power at the shaft of the blower for one lift's air, W.
pub(super) fn shaft_w(request: &Request, place: &Place, air_m3_s: f64, pressure_pa: f64) -> f64 {
    let spec = BlowerSpec {
        points: Vec::new(),
        curve_at_pa: 101_325.0,
        efficiency: request.blower_efficiency,
        flow_multiplier: 1.0,
        pressure_multiplier: 1.0,
    };
    Blower::new(&spec, place).power_w(air_m3_s, pressure_pa, place)
}

/// The narrowest trade size whose loss is a twentieth of the depth's pressure or less; the widest when none is.
fn air_line(request: &Request, place: &Place, deep_pa: f64, air_m3_s: f64) -> AirLine {
    let diffuser = Diffuser {
        opening_pa: 0.0,
        loss_pa: 0.0,
        at_air_m3_s: 1.0,
    };
    let loss_pa = |bore_mm: f64| {
        let line = Line {
            bore_m: narrow(bore_mm * 1e-3),
            length_m: narrow(request.air_line_m),
            minor_loss: narrow(AIR_LINE_FITTINGS),
        };
        let path = Path::new(&line, &diffuser, narrow(deep_pa), narrow(place.p_atm_pa));
        f64::from(path.loss_pa_s2_m6) * air_m3_s * air_m3_s
    };
    let fits = AIR_LINES_MM
        .into_iter()
        .find(|bore| loss_pa(*bore) <= LINE_SHARE * deep_pa);
    let bore_mm = fits.unwrap_or(AIR_LINES_MM[AIR_LINES_MM.len() - 1]);
    AirLine {
        bore_mm,
        loss_pa: loss_pa(bore_mm),
    }
}
