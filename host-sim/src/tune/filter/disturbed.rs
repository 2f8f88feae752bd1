//! What disturbs the balance for a while: lifts that are switched or moved, outlets that bend.

use super::super::balance::Straight;
use super::super::doing::{Doing, Service};
use super::super::drive::Drive;
use super::super::layout::FORM;
use super::super::reference::Course;
use super::{Filter, UNTRUSTED_S};

/// Time for which the others are not trusted either: the pressure that they share has jumped, and not by as much as was believed, s.
const DISTURBED_S: f64 = 180.0;
/// Time for which the water of a lift that was switched may still run on or lag behind, s.
const TAIL_S: f64 = 15.0;
/// How long a course stays beside the true level by as much, s: some bins.
const BENT_FOR_S: f64 = 15.0;
/// Doubt added to a delivery while its curve is not trusted: standard deviation gained in 10 s.
const UNTRUSTED_DOUBT: f64 = 0.1;
/// Relative change of a curve's flow below which no doubt is added: noise must not add up.
const DOUBT_STEP: f64 = 0.02;
/// Relative change that counts once as the unit of doubt, as in the controller.
const DOUBT_UNIT: f64 = 0.25;

impl Filter<'_> {
    /// When within a bin the air changed is not known: half the change of flow may have come at its beginning or at its end.
    pub(super) fn note_jumps(&mut self, since_s: f64, before: (&Drive, &Course), now: (&Drive, &Course)) {
        for (index, lift) in self.balance.place.lifts.iter().enumerate() {
            let logs = self.balance.logs(index, &self.about);
            let (from, to) = (usize::from(lift.from), usize::from(lift.to));
            let (a, b) = (before.0.air_m3_s[index], now.0.air_m3_s[index]);
            self.jumps[index] = 0.0;
            // What a shut hand valve keeps back moves no water, however its air valve still closes.
            let shut = now.0.serves[index] == Service::Out && self.tuning.at_once[index];
            if shut || before.0.serves[index] != now.0.serves[index] || (a - b).abs() < 0.005 * a.max(b) {
                continue;
            }
            let levels = (now.1.level_m[from], now.1.level_m[to]);
            let flow = |air_m3_s: f64| self.balance.curve_m3_s(index, &logs, levels, air_m3_s);
            self.jumps[index] = 0.5 * (flow(b) - flow(a)).abs() * since_s.sqrt();
        }
    }

    /// Flow that comes and goes unseen in a tank, m3/s in one second.
    pub(super) fn unseen_m3_s(&self, tank: usize, straight: &Straight, drive: &Drive) -> f64 {
        let layout = self.layout();
        let mut unseen = self.tuning.unseen_m3_s;
        for (index, way) in layout.ways.iter().enumerate() {
            if way.from == tank || way.to == Some(tank) {
                unseen += BENT_FOR_S.sqrt() * straight.bent_m3_s[index];
                if straight.doubtful[index] {
                    unseen += 0.02 * straight.ways_m3_s[index].abs();
                }
            }
        }
        for (index, lift) in self.balance.place.lifts.iter().enumerate() {
            let (from, to) = (usize::from(lift.from), usize::from(lift.to));
            if from != tank && to != tank {
                continue;
            }
            unseen += self.jumps[index];
            let target = f64::from(lift.target.m3_s);
            let doing = Doing::of(drive.serves[index], straight.curve_m3_s[index]);
            let switches = doing != self.doing[index];
            // The moment is known to a second or so, which the step of the switch itself (some seconds) allows for.
            let at_once = doing == Doing::Out && self.tuning.at_once[index];
            if switches || (self.switched_s[index] < TAIL_S && !at_once) {
                unseen += 0.5 * self.last_flow[index].max(0.3 * target);
            }
        }
        unseen
    }

    /// What a change of each lift does to the trust in its curve.
    pub(super) fn watch_lifts(&mut self, seconds: f64, drive: &Drive) {
        let switches = (0..self.layout().lifts)
            .any(|lift| Doing::of(drive.serves[lift], self.straight.curve_m3_s[lift]) != self.doing[lift]);
        self.disturbed_s = if switches { 0.0 } else { self.disturbed_s + seconds };
        for lift in 0..self.layout().lifts {
            let curve_m3_s = self.straight.curve_m3_s[lift];
            let doing = Doing::of(drive.serves[lift], curve_m3_s);
            let runs = doing == Doing::Runs;
            if doing != self.doing[lift] {
                self.doing[lift] = doing;
                self.switched_s[lift] = 0.0;
                let form = self.delivery_at(lift) + self.layout().lifts;
                let sigma = doing.first(self.tuning.still(lift));
                self.x[form] = 0.0;
                self.forget(form, sigma * sigma);
            } else {
                self.switched_s[lift] += seconds;
            }
            if runs {
                self.last_flow[lift] = self.straight.flow_m3_s[lift];
            }
            let at = self.delivery_at(lift);
            self.doubt(at, self.tuning.walk * self.tuning.walk * seconds);
            if !runs {
                continue;
            }
            if self.switched_s[lift] < UNTRUSTED_S {
                let form = at + self.layout().lifts;
                self.doubt(form, UNTRUSTED_DOUBT * UNTRUSTED_DOUBT * seconds / 10.0);
                self.doubted_at[lift] = curve_m3_s;
                continue;
            }
            if self.disturbed_s < DISTURBED_S {
                let form = at + self.layout().lifts;
                self.doubt(form, UNTRUSTED_DOUBT * UNTRUSTED_DOUBT * seconds / 10.0);
            }
            let (now, then) = (curve_m3_s, self.doubted_at[lift]);
            let change = (now - then).abs() / now.max(then);
            if change > DOUBT_STEP {
                self.doubted_at[lift] = now;
                self.doubt(at, FORM * FORM * DOUBT_UNIT * change);
            }
        }
    }
}
