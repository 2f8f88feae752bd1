//! One riser: the water that a given air lifts.
//!
//! Steady, one-dimensional, isothermal, compressible. From the outlet down, the pressure rises by
//!
//! `dp/dz = (rho (1-a) + rho_g a) g + f/(2D) rho jl j`, `a = jg/(C0 (jl+jg) + vd)`, `jg = c/p`
//!
//! (Nicklin 1963, Zuber & Findlay 1965 for the void `a`; Stenning & Martin 1968 for wall friction at the mixture's speed).
//! The right side knows the height only through `p`, so the march is made in equal steps of *pressure*, each cell
//! giving the length it takes up: `dz = dp / F(p)` by two Gauss-Legendre points. Lengths add up from the outlet's pressure
//! to the injector's, which the supply side sets:
//!
//! `p_inj = p_atm + rho g Hs - rho jl^2/2 (1 + Kin) - rho jl jg_top`
//!
//! where the last term is the momentum given to the water along the riser and at the injector together. The water
//! flow is the one at which the marched length is the riser's own.

use super::friction::darcy;
use super::place::Place;
use super::{AIR_J_KG_K, GRAVITY_M_S2 as G};

/// Largest drift velocity, m/s: Taylor bubbles do not survive in wide risers (Kataoka & Ishii 1987 give 0.43 m/s).
const DRIFT_CAP_M_S: f64 = 0.43;
/// Half distance of the two Gauss-Legendre points.
const GAUSS: f64 = 0.577_350_269_189_625_8;

/// A riser and the water and air in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Riser {
    /// Bore, m (0.015 to 0.3).
    pub bore_m: f64,
    /// Water and air.
    pub place: Place,
    /// Distribution coefficient C0 (1 to 1.5; 1.2 by Nicklin).
    pub distribution: f64,
    /// Multiplier of the bubbles' drift velocity 0.35 sqrt(g D).
    pub slip_multiplier: f64,
    /// Entrance loss, velocity heads of the water (0.5 for a square end).
    pub kin: f64,
    /// Outlet loss, as `kout rho jl j / 2` (0 for an open end).
    pub kout: f64,
    /// Multiplier of `kin` and `kout`.
    pub loss_multiplier: f64,
    /// Multiplier of wall friction.
    pub friction_multiplier: f64,
    /// Further entrance loss by dirt, velocity heads of the water.
    pub fouling_k: f64,
    /// How much faster bubbles slip through at high air, (s/m)2: their drift velocity grows by `churn jg2`, `jg` the free air's speed. A
    /// bad injector or a rough riser makes them merge; little air does not feel it, and the most water comes with less air and is less.
    pub churn_s2_m2: f64,
    /// Cells of the march; two are within 0.001 % of two hundred, one within 0.02 %.
    pub cells: usize,
}

/// The levels that a riser sees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heads {
    /// Source level above the injector, m; not positive: the foot is dry.
    pub submergence_m: f64,
    /// max(outlet, receiving level) above the source level, m; negative: water runs without air.
    pub lift_m: f64,
    /// Receiving level above the outlet's invert, m; positive: the outlet is drowned.
    pub drowned_m: f64,
}

impl Heads {
    /// Levels and a free outlet.
    #[must_use]
    pub fn free(submergence_m: f64, lift_m: f64) -> Self {
        Self {
            submergence_m,
            lift_m,
            drowned_m: -1.0,
        }
    }
}

/// What one march says at one water speed.
struct March {
    /// Length marched less the riser's own, m.
    spare_m: f64,
    /// Its slope, m per m/s.
    slope: f64,
}

/// A riser with a given air and given levels.
struct Column<'a> {
    riser: &'a Riser,
    /// jg p, Pa m/s.
    gas: f64,
    drift_m_s: f64,
    length_m: f64,
    supply_pa: f64,
    entrance_k: f64,
    outlet_k: f64,
    gas_top_m_s: f64,
}

impl Riser {
    /// A clean riser of `bore_m` with textbook coefficients and two cells.
    #[must_use]
    pub fn clean(bore_m: f64, place: Place) -> Self {
        Self {
            bore_m,
            place,
            distribution: 1.2,
            slip_multiplier: 1.0,
            kin: 0.5,
            kout: 0.0,
            loss_multiplier: 1.0,
            friction_multiplier: 1.0,
            fouling_k: 0.0,
            churn_s2_m2: 0.0,
            cells: 2,
        }
    }

    /// Cross-section, m2.
    #[must_use]
    pub fn bore_m2(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.bore_m * self.bore_m
    }

    fn column(&self, heads: Heads, air_m3_s: f64) -> Column<'_> {
        let gas = air_m3_s.max(0.0) * self.place.free_air_pa_here() / self.bore_m2();
        let drift = (0.35 * (G * self.bore_m).sqrt()).min(DRIFT_CAP_M_S);
        let below = heads.submergence_m.max(0.0);
        let gas_top = gas / self.place.p_atm_pa;
        Column {
            riser: self,
            gas,
            drift_m_s: drift * self.slip_multiplier * (1.0 + self.churn_s2_m2 * gas_top * gas_top),
            length_m: (heads.submergence_m + heads.lift_m).max(1e-3),
            supply_pa: self.place.p_atm_pa + self.place.water_kg_m3 * G * below,
            entrance_k: self.kin * self.loss_multiplier + self.fouling_k,
            outlet_k: self.kout * self.loss_multiplier,
            gas_top_m_s: gas_top,
        }
    }

    /// Water delivered, m3/s, from `air_m3_s` of free air; negative when a drowned outlet lets water run back.
    ///
    /// `last_m_s` is the water speed of the last call (0 to begin with): near it the answer takes one march or two.
    /// Accuracy of the solve 1e-6 relative.
    pub fn water_m3_s(&self, heads: Heads, air_m3_s: f64, last_m_s: &mut f64) -> f64 {
        let column = self.column(heads, air_m3_s);
        if heads.submergence_m <= 0.0 {
            *last_m_s = 0.0;
            return -self.back_m3_s(heads, column.length_m, column.length_m);
        }
        let speed = column.speed_m_s(*last_m_s);
        *last_m_s = speed;
        if speed > 0.0 {
            return speed * self.bore_m2();
        }
        if heads.drowned_m <= 0.0 {
            return 0.0;
        }
        // The air still holds up part of the column; only the rest drives the water back.
        let held = column.march(0.0).spare_m + column.length_m;
        let missing = heads.submergence_m * (column.length_m / held - 1.0);
        -self.back_m3_s(heads, column.length_m, missing)
    }

    /// Water running back through a drowned outlet, m3/s: the pipe's loss, or at most what gets over the outlet's lip.
    fn back_m3_s(&self, heads: Heads, length_m: f64, head_m: f64) -> f64 {
        if heads.drowned_m <= 0.0 || head_m <= 0.0 {
            return 0.0;
        }
        let minor = 1.0 + (self.kin + self.kout) * self.loss_multiplier + self.fouling_k;
        let mut speed = (2.0 * G * head_m / (minor + 1.0)).sqrt();
        for _ in 0..4 {
            let re = self.place.water_kg_m3 * speed * self.bore_m / self.place.water_pa_s;
            let wall = darcy(re, 0.0).factor * self.friction_multiplier * length_m / self.bore_m;
            speed = (2.0 * G * head_m / (minor + wall)).sqrt();
        }
        // 1.84 m^0.5/s: broad figure for a sharp round lip (USBR).
        let lip = 1.84 * std::f64::consts::PI * self.bore_m * heads.drowned_m * heads.drowned_m.sqrt();
        (speed * self.bore_m2()).min(lip)
    }

    /// The extra entrance loss at which this riser, clean, would lose `fraction` (0 to 0.95) of its water at the same air.
    ///
    /// `None` when no water runs at that air and those levels, so that nothing can be lost.
    #[must_use]
    pub fn fouling_for_loss(&self, heads: Heads, air_m3_s: f64, fraction: f64) -> Option<f64> {
        let mut riser = Self {
            fouling_k: 0.0,
            ..*self
        };
        let clean = riser.water_m3_s(heads, air_m3_s, &mut 0.0);
        if clean <= 0.0 {
            return None;
        }
        let wanted = clean * (1.0 - fraction.clamp(0.0, 0.95));
        let (mut low, mut high) = (0.0, 1e5);
        // In steps of ratio above 1e-3: forty halvings of [0, 1e5] by (1+k).
        for _ in 0..60 {
            let middle = ((1.0 + low) * (1.0_f64 + high)).sqrt() - 1.0;
            riser.fouling_k = middle;
            if riser.water_m3_s(heads, air_m3_s, &mut 0.0) > wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(0.5 * (low + high))
    }

    /// The churn at which this riser's most water is `most_m3_s`; 0 where it is less without any.
    #[must_use]
    pub fn churn_for_peak(&self, heads: Heads, most_m3_s: f64) -> f64 {
        let mut riser = Self {
            churn_s2_m2: 0.0,
            ..*self
        };
        if riser.peak(heads).water_m3_s <= most_m3_s {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, 1e4);
        for _ in 0..40 {
            let middle = ((1.0 + low) * (1.0_f64 + high)).sqrt() - 1.0;
            riser.churn_s2_m2 = middle;
            if riser.peak(heads).water_m3_s > most_m3_s {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }
}

impl Column<'_> {
    /// The water speed at which the march fits the riser; 0 when no water gets up.
    fn speed_m_s(&self, last_m_s: f64) -> f64 {
        let mut low = 0.0;
        let mut high = self.fastest_m_s();
        let mut still_checked = false;
        let mut speed = last_m_s;
        if !(speed > 0.0 && speed < high) {
            if self.march(0.0).spare_m <= 0.0 {
                return 0.0;
            }
            still_checked = true;
            speed = 0.4 * high;
        }
        for _ in 0..60 {
            let march = self.march(speed);
            if march.spare_m > 0.0 {
                low = speed;
            } else {
                high = speed;
            }
            let mut next = speed - march.spare_m / march.slope;
            if (next - speed).abs() <= 1e-4 * speed && next > 0.0 {
                return next;
            }
            if !(next > low && next < high) {
                if !still_checked && low == 0.0 {
                    if self.march(0.0).spare_m <= 0.0 {
                        return 0.0;
                    }
                    still_checked = true;
                }
                next = 0.5 * (low + high);
            }
            if next < 1e-9 {
                return 0.0;
            }
            speed = next;
        }
        speed
    }

    /// Speed at which the supply side has no pressure left to give, m/s: above any solution.
    fn fastest_m_s(&self) -> f64 {
        let rho = self.riser.place.water_kg_m3;
        let drive = (self.supply_pa - self.riser.place.p_atm_pa) / rho;
        let square = 0.5 * (1.0 + self.entrance_k + self.outlet_k);
        let linear = self.gas_top_m_s * (1.0 + 0.5 * self.outlet_k);
        2.0 * drive / (linear + (linear * linear + 4.0 * square * drive).sqrt())
    }

    /// Marches from the outlet's pressure to the injector's at water speed `jl`.
    fn march(&self, jl: f64) -> March {
        let riser = self.riser;
        let place = &riser.place;
        let rho = place.water_kg_m3;
        let top = place.p_atm_pa + 0.5 * self.outlet_k * rho * jl * (jl + self.gas_top_m_s);
        let top_slope = 0.5 * self.outlet_k * rho * (2.0 * jl + self.gas_top_m_s);
        let base = self.supply_pa - 0.5 * rho * jl * jl * (1.0 + self.entrance_k) - rho * jl * self.gas_top_m_s;
        let base_slope = -rho * (jl * (1.0 + self.entrance_k) + self.gas_top_m_s);
        let cells = riser.cells.max(1);
        let each = 1.0 / cells as f64;
        let step = (base - top) * each;
        let gas_kg_m3_pa = 1.0 / (AIR_J_KG_K * place.temperature_k());
        let re_of = rho * riser.bore_m / place.water_pa_s;
        let wall_of = riser.friction_multiplier * rho / (2.0 * riser.bore_m);
        let (mut sum, mut sum_slope) = (0.0, 0.0);
        for cell in 0..cells {
            for side in [-GAUSS, GAUSS] {
                // Fraction of the way from outlet to injector.
                let way = (cell as f64 + 0.5 + 0.5 * side) * each;
                let p = top + (base - top) * way;
                let p_slope = top_slope + (base_slope - top_slope) * way;
                let jg = self.gas / p;
                let j = jl + jg;
                let under = riser.distribution * j + self.drift_m_s;
                let void = jg / under;
                let lighter = rho - p * gas_kg_m3_pa;
                let friction = darcy(re_of * j, 0.0);
                let wall = wall_of * friction.factor;
                let fall = G * (rho - lighter * void) + wall * jl * j;
                // Slopes with speed at fixed pressure, and with pressure at fixed speed.
                let bend = wall * jl * friction.slope;
                let by_speed = G * lighter * void * riser.distribution / under + wall * (jl + j) + bend;
                let jg_by_p = -jg / p;
                let void_by_p = jg_by_p * (riser.distribution * jl + self.drift_m_s) / (under * under);
                let by_p = G * (gas_kg_m3_pa * void - lighter * void_by_p) + (wall * jl + bend) * jg_by_p;
                let inverse = 1.0 / fall;
                sum += inverse;
                sum_slope -= inverse * inverse * (by_speed + by_p * p_slope);
            }
        }
        let marched = 0.5 * step * sum;
        March {
            spare_m: marched - self.length_m,
            slope: 0.5 * (step * sum_slope + (base_slope - top_slope) * each * sum),
        }
    }
}

#[cfg(test)]
mod tests;
