//! The manifold: one pressure at which what the blower gives is what the lifts and the bleed take.

use super::blower::Blower;
use super::branch::{AirBranch, BleedSpec};
use super::place::Place;

/// Relative change below which a Newton step is the last one.
const SETTLED: f64 = 1e-5;

/// The manifold's pressure and flows, kept from step to step as the start of the next solve.
#[derive(Clone, Debug)]
pub struct Manifold {
    /// Gauge pressure, Pa.
    pub gauge_pa: f64,
    /// Free air to each lift, m3/s.
    pub air_m3_s: Vec<f64>,
    /// Free air out of the bleed, m3/s.
    pub bleed_m3_s: f64,
    /// Newton steps of all solves so far, and how many solves fell back to bracketing.
    pub(super) work: (u64, u64),
    /// Straight line of each path: flow at the present pressure, and its slope.
    lines: Vec<(f64, f64)>,
}

impl Manifold {
    /// A manifold without pressure.
    #[must_use]
    pub fn new(lifts: usize) -> Self {
        Self {
            gauge_pa: 0.0,
            air_m3_s: vec![0.0; lifts],
            bleed_m3_s: 0.0,
            work: (0, 0),
            lines: vec![(0.0, 0.0); lifts],
        }
    }

    /// Free air of the blower, m3/s.
    #[must_use]
    pub fn total_m3_s(&self) -> f64 {
        self.bleed_m3_s + self.air_m3_s.iter().sum::<f64>()
    }

    /// Solves for pressure and flows; `starts_pa` is each path's absolute starting pressure. Check valves stop any backflow.
    pub fn solve(
        &mut self,
        blower: &Blower,
        bleed: Option<&BleedSpec>,
        paths: &[AirBranch],
        starts_pa: &[f64],
        place: &Place,
    ) {
        if !blower.blows() {
            self.gauge_pa = 0.0;
            self.bleed_m3_s = 0.0;
            self.air_m3_s.fill(0.0);
            return;
        }
        if !self.newton(blower, bleed, paths, starts_pa, place) {
            self.work.1 += 1;
            self.bracket(blower, bleed, paths, starts_pa, place);
        }
        self.bleed_m3_s = bleed.map_or(0.0, |b| b.flow(self.gauge_pa, place).0);
    }

    /// Newton on the pressure and all flows at once: each path is linear about its own flow, so the flows drop out.
    fn newton(
        &mut self,
        blower: &Blower,
        bleed: Option<&BleedSpec>,
        paths: &[AirBranch],
        starts_pa: &[f64],
        place: &Place,
    ) -> bool {
        let top = blower.shut_off_pa();
        if !(self.gauge_pa > 0.0 && self.gauge_pa <= top) {
            self.gauge_pa = 0.7 * top;
        }
        for _ in 0..25 {
            self.work.0 += 1;
            let p = place.p_atm_pa + self.gauge_pa;
            let give = blower.at(self.gauge_pa);
            let (mut take, mut slope) = bleed.map_or((0.0, 0.0), |b| b.flow(self.gauge_pa, place));
            for (((line, path), start), q) in self.lines.iter_mut().zip(paths).zip(starts_pa).zip(&self.air_m3_s) {
                *line = (0.0, 0.0);
                if path.sonic_m3_s_pa > 0.0 && (*q > 0.0 || p > *start) {
                    let need = path.need(*q, *start, place);
                    *line = (*q + (p - need.p_pa) / need.slope, 1.0 / need.slope);
                    if line.0 > 0.0 {
                        take += line.0;
                        slope += line.1;
                    }
                }
            }
            let stiff = slope - give.slope;
            if stiff <= 0.0 {
                return false;
            }
            let step = (give.q_m3_s - take) / stiff;
            let gauge = (self.gauge_pa + step).clamp(0.0, top);
            let step = gauge - self.gauge_pa;
            let mut moved = 0.0_f64;
            let mut total = 1e-9;
            for (line, q) in self.lines.iter().zip(&mut self.air_m3_s) {
                let next = (line.0 + line.1 * step).max(0.0);
                moved = moved.max((next - *q).abs());
                *q = next;
                total += next;
            }
            self.gauge_pa = gauge;
            let settled = step.abs() <= SETTLED * gauge && moved <= SETTLED * total;
            if settled && blower.at(gauge).piece == give.piece {
                return true;
            }
        }
        false
    }

    /// Halves the pressure's bracket, with each path's flow solved at each pressure: slow and sure.
    fn bracket(
        &mut self,
        blower: &Blower,
        bleed: Option<&BleedSpec>,
        paths: &[AirBranch],
        starts_pa: &[f64],
        place: &Place,
    ) {
        let (mut low, mut high) = (0.0, blower.shut_off_pa());
        for _ in 0..48 {
            let gauge = 0.5 * (low + high);
            let mut take = bleed.map_or(0.0, |b| b.flow(gauge, place).0);
            for ((path, start), q) in paths.iter().zip(starts_pa).zip(&mut self.air_m3_s) {
                *q = flow_at(path, *start, place.p_atm_pa + gauge, place);
                take += *q;
            }
            if take > blower.at(gauge).q_m3_s {
                high = gauge;
            } else {
                low = gauge;
            }
        }
        self.gauge_pa = 0.5 * (low + high);
    }
}

/// Flow of one path under a manifold pressure, m3/s: the pressure needed rises with flow, so halve.
fn flow_at(path: &AirBranch, starts_pa: f64, p_pa: f64, place: &Place) -> f64 {
    if path.sonic_m3_s_pa <= 0.0 || p_pa <= starts_pa {
        return 0.0;
    }
    let (mut low, mut high) = (0.0, 1.1 * path.sonic_m3_s_pa * p_pa);
    for _ in 0..52 {
        let q = 0.5 * (low + high);
        if path.need(q, starts_pa, place).p_pa > p_pa {
            high = q;
        } else {
            low = q;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{BlowerSpec, Characteristic, DiffuserSpec, LineSpec, ValveSpec};

    const L_MIN: f64 = 1.0 / 60_000.0;

    /// Three equal-percentage valves (C 4 dm3/(s bar), R 30, b 0.3) over 0.8, 1.0 and 1.2 m, with a square loss of
    /// 2e9 Pa s2/kg2 below each, on a straight blower: solved by a general root finder.
    fn three(openings: [f64; 3]) -> (Vec<AirBranch>, Vec<f64>, Place) {
        let place = Place {
            p_atm_pa: 101_325.0,
            water_kg_m3: 998.2,
            ..Place::new(0.0, 20.0, 0.0)
        };
        let at = 50.0 * L_MIN;
        let paths: Vec<_> = openings
            .iter()
            .map(|x| {
                let mut path = AirBranch::new(
                    ValveSpec {
                        sonic_m3_s_pa: 4e-8,
                        critical_ratio: 0.3,
                        characteristic: Characteristic::EqualPercentage {
                            rangeability: 30.0,
                            dead_travel: 0.0,
                        },
                        multiplier: 1.0,
                    },
                    LineSpec {
                        bore_m: 0.1,
                        length_m: 0.01,
                        minor_loss: 0.0,
                        multiplier: 1.0,
                    },
                    DiffuserSpec {
                        opening_pa: 0.0,
                        loss_pa: 2e9 * (at * 1.185_f64).powi(2),
                        at_m3_s: at,
                    },
                );
                path.set_opening(*x, 0.0);
                path
            })
            .collect();
        let starts = paths
            .iter()
            .zip([0.8, 1.0, 1.2])
            .map(|(p, s)| p.starts_pa(s, &place))
            .collect();
        (paths, starts, place)
    }

    fn straight(q_l_min: f64, p_pa: f64, place: &Place) -> Blower {
        let spec = BlowerSpec {
            points: vec![(0.0, p_pa), (q_l_min * L_MIN, 0.0)],
            curve_at_pa: place.p_atm_pa,
            efficiency: 0.4,
            flow_multiplier: 1.0,
            pressure_multiplier: 1.0,
        };
        Blower::new(&spec, place)
    }

    #[test]
    fn three_lifts_share_the_air_as_a_general_root_finder_says() {
        for (q0, p0, openings, gauge, flows) in [
            (250.0, 30_000.0, [0.6, 0.6, 0.6], 18_661.88, [34.7746, 31.6376, 28.0721]),
            (250.0, 30_000.0, [0.4, 0.6, 0.8], 18_330.08, [17.8858, 31.0260, 48.3376]),
            (120.0, 35_000.0, [0.6, 0.6, 0.6], 14_737.40, [27.6142, 23.4969, 18.3607]),
            (120.0, 35_000.0, [0.7, 0.6, 0.6], 13_935.86, [35.0433, 21.4855, 15.6911]),
            // A blower of nearly fixed flow.
            (72.0, 400_000.0, [0.6, 0.6, 0.6], 14_721.29, [27.5813, 23.4581, 18.3108]),
        ] {
            let (paths, starts, place) = three(openings);
            let mut manifold = Manifold::new(3);
            manifold.solve(&straight(q0, p0, &place), None, &paths, &starts, &place);
            assert!((manifold.gauge_pa / gauge - 1.0).abs() < 5e-4, "{}", manifold.gauge_pa);
            for (got, l_min) in manifold.air_m3_s.iter().zip(flows) {
                assert!((got / L_MIN / l_min - 1.0).abs() < 1e-3, "{} not {l_min}", got / L_MIN);
            }
        }
    }

    #[test]
    fn newton_and_bracketing_agree_for_all_openings() {
        for k in 0..64 {
            let x = |shift: i32| f64::from((k * 7 + shift * 23) % 64) / 63.0;
            let (mut paths, starts, place) = three([x(0), x(1), x(2)]);
            if k % 5 == 0 {
                paths[0].isolate();
            }
            let blower = straight(120.0, 12_000.0, &place);
            let bleed = BleedSpec {
                sonic_m3_s_pa: 1e-8,
                critical_ratio: 0.3,
            };
            let bleed = if k % 2 == 0 { Some(&bleed) } else { None };
            let mut fast = Manifold::new(3);
            fast.solve(&blower, bleed, &paths, &starts, &place);
            let mut sure = Manifold::new(3);
            sure.bracket(&blower, bleed, &paths, &starts, &place);
            assert!((fast.gauge_pa / sure.gauge_pa - 1.0).abs() < 1e-6, "{k}");
            for (a, b) in fast.air_m3_s.iter().zip(&sure.air_m3_s) {
                assert!((a - b).abs() < 1e-6 * 100.0 * L_MIN, "{k}: {a} {b}");
            }
            // What is taken is what is given.
            let given = blower.at(fast.gauge_pa).q_m3_s;
            assert!((fast.total_m3_s() - given).abs() < 1e-6 * 120.0 * L_MIN, "{k}");
        }
    }

    #[test]
    fn all_shut_is_the_blowers_shut_off_and_a_stopped_blower_gives_nothing() {
        let (mut paths, starts, place) = three([0.5; 3]);
        paths.iter_mut().for_each(AirBranch::isolate);
        let mut blower = straight(120.0, 12_000.0, &place);
        let mut manifold = Manifold::new(3);
        manifold.solve(&blower, None, &paths, &starts, &place);
        assert!((manifold.gauge_pa - 12_000.0).abs() < 1.0 && manifold.total_m3_s() == 0.0);
        blower.on = false;
        manifold.solve(&blower, None, &paths, &starts, &place);
        assert!(manifold.gauge_pa == 0.0 && manifold.total_m3_s() == 0.0);
    }
}
