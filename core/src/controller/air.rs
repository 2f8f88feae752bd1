//! What air each lift gets from where its valve stands.

use super::*;
use crate::guard::GaugeView;
use crate::math::seldom;
use crate::possibly::Possibly;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Takes the manifold gauge; where it gives nothing that can be, what it would show by what it usually shows above the blower's
    /// curve.
    #[inline(never)]
    pub(super) fn take_gauge(&mut self, reading: Reading, seconds: f32, step_ms: u32) {
        if self.installation.air.gauge_noise_pa.is_none() {
            return;
        }
        let most = self.installation.air.shut_off_pa();
        let shows = match reading {
            Reading::Value(pa) if pa >= -500.0 && pa <= 1.5 * most => Some(seldom::positive(pa)),
            _ => None,
        };
        let lifts = self.lifts.iter().fold(0.0f32, |sum, run| sum + run.air.m3_s);
        let curve = self.manifold(None).pressure_at_pa(lifts);
        let trusted = shows.filter(|_| !self.place.gauge.is_wrong());
        let pa = trusted.or_else(|| self.place.gauge.usual_pa().map(|usual| seldom::positive(curve + usual)));
        let off = pa
            .zip(self.place.gauge_pa.get())
            .map_or(0.0, |(pa, mean)| (pa - mean).abs());
        let far = off > GAUGE_FAR * most && !self.place.gauge.is_unsteady();
        let follows = self.place.gauge_far.follow(far, 2, step_ms);
        let share = seconds / (seconds + if follows { GAUGE_FOLLOWS_S } else { GAUGE_FILTER_S });
        self.place.gauge_pa = pa.map_or(Possibly::NONE, |pa| {
            let mean = self.place.gauge_pa.get();
            Possibly::some(mean.map_or(pa, |before| before + share * (pa - before)))
        });
        let view = GaugeView {
            shows_pa: shows,
            mean_pa: self.place.gauge_pa.get().unwrap_or(curve),
            curve_pa: curve,
            most_pa: most,
        };
        self.place.gauge.update(&view, seconds, step_ms);
    }

    /// The air supply as it runs.
    pub(super) fn manifold(&self, gauge_pa: Option<f32>) -> Manifold<'_> {
        let air = &self.installation.air;
        Manifold::new(air, self.conditions.atmosphere_pa, gauge_pa).running(self.place.blower.running(&air.drive))
    }

    /// Puts the lifts' places on the manifold into `branches`: given back as a value they would be copied.
    pub(super) fn branches<'a>(&'a self, branches: &mut heapless::Vec<Branch<'a>, LIFTS>) {
        for (lift, run) in self.installation.lifts.iter().zip(&self.lifts) {
            let _ = branches.push(self.installation.branch(lift, run.path));
        }
    }

    /// Works out the air of each lift from where its valve stands, and the variance that its factor gains thereby in this step.
    #[inline(never)]
    pub(super) fn settle_air(&mut self, seconds: f32) -> [f32; LIFTS] {
        let settings = &self.installation.settings;
        let mut openings = [Opening::SHUT; LIFTS];
        for (opening, run) in openings.iter_mut().zip(&self.lifts) {
            *opening = run.valve.position();
        }
        let fresh_stop = self.place.stops.is_fresh() || self.place.proof.is_fresh();
        let near_pa = self.manifold_pa;
        let settled = {
            let mut branches = heapless::Vec::new();
            self.branches(&mut branches);
            let manifold = self.manifold(self.place.gauge_pa.get());
            manifold.settle(&branches, &openings, near_pa)
        };
        self.manifold_pa = settled.pressure_pa;
        // A moved neighbour shows as pressure: what the valve made of the old drop it may not make of the new one.
        let drop = larger(
            settled.pressure_pa
                - self
                    .lifts
                    .iter()
                    .fold(0.0, |most, run| larger(most, run.curve.injector_pa())),
            500.0,
        );
        let pressed = (settled.pressure_pa - self.place.doubted_pa).abs() / (2.0 * drop);
        let pressed = if pressed > DOUBT_STEP {
            self.place.doubted_pa = settled.pressure_pa;
            pressed
        } else {
            0.0
        };
        self.place.above_curve_pa = self.place.gauge_pa.get().map_or(0.0, |gauge| {
            let lifts = settled
                .air
                .iter()
                .take(self.lifts.len())
                .fold(0.0f32, |sum, air| sum + air.m3_s);
            gauge - self.manifold(None).pressure_at_pa(lifts)
        });
        let lifts = settled.air.iter().take(self.lifts.len());
        self.place.passes_m3_s = lifts.fold(settled.bleed.m3_s, |sum, air| sum + air.m3_s);
        let mut doubts = [0.0f32; LIFTS];
        for ((run, air), doubt) in self.lifts.iter_mut().zip(&settled.air).zip(&mut doubts) {
            let air = *air;
            let before = run.air;
            run.air = air;
            if run.mode == Mode::OutOfService {
                continue;
            }
            *doubt = settings.delivery_walk * settings.delivery_walk * seconds;
            let reference = run.doubted_at.m3_s;
            let change = (air.m3_s - reference).abs() / larger(larger(air.m3_s, reference), 1.0e-9);
            let change = if change > DOUBT_STEP {
                run.doubted_at = air;
                larger(change, pressed)
            } else {
                pressed
            };
            if change > 0.0 && before.m3_s > 0.0 && air.m3_s > 0.0 && !fresh_stop {
                *doubt += settings.delivery_shock * settings.delivery_shock * DOUBT_UNIT * change;
            }
        }
        doubts
    }
}
