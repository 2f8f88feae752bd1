//! Levels, factors and doubts carried on in time.

use super::balance::Balance;
use super::row::{add_at, add_column, add_rows, add_scaled, add_two, get, mirror, row, set};
use super::{Filter, TankInput, UNKNOWN_LEVEL_M};
use crate::math::{larger, limit};

impl<const LIFTS: usize, const TANKS: usize> Filter<LIFTS, TANKS> {
    /// Carries levels, factors and doubts on by `seconds`.
    ///
    /// The balance is stepped by the linearised implicit rule for each tank's own outflow, `dh = dt net / (A + dt dQ/dh)`, which
    /// stays stable where a small tank empties within a step.
    pub fn predict(&mut self, seconds: f32, balance: &Balance<LIFTS, TANKS>, tanks: &[TankInput]) {
        // F = I + D J with D = dt / (A - dt J_own) for each tank; levels move on the way.
        let mut steps = [0.0f32; TANKS];
        let rows = self.level.iter_mut().zip(&mut self.most_m).zip(&mut steps);
        let flows = balance.net.iter().zip(&balance.by_level);
        for (own, ((((level, most), step), (net, row)), tank)) in rows.zip(flows).zip(tanks).enumerate() {
            let own_slope = larger(-get(row, own), 0.0);
            *step = seconds / (tank.area_m2 + seconds * own_slope);
            *level = limit(*level + *step * net, 0.0, tank.most_m);
            *most = tank.most_m;
        }
        self.carry_covariance(&steps, balance);
        for (index, tank) in tanks.iter().enumerate().take(self.tanks) {
            let sigma = tank.unseen_m3_s / larger(tank.area_m2, 1.0e-4);
            add_at(&mut self.p_hh, index, index, sigma * sigma * seconds);
            self.hold_level_variance(index);
        }
    }

    /// Adds this variance to the doubt about a factor, as far as that is not as good as unknown already.
    pub fn doubt(&mut self, lift: usize, variance: f32) {
        let Some(own) = self.p_ff.get_mut(lift).and_then(|row| row.get_mut(lift)) else {
            return;
        };
        let room = larger(self.most_factor_variance - *own, 0.0);
        *own += limit(variance, 0.0, room);
    }

    /// `P <- F P F'`, with F the identity and `step` of a row times the flows by levels and by factors (the factors themselves stay
    /// as they are). Where a flow does not depend on a level or a factor nothing is done.
    #[inline(never)]
    fn carry_covariance(&mut self, steps: &[f32; TANKS], balance: &Balance<LIFTS, TANKS>) {
        mirror(&mut self.p_hh);
        mirror(&mut self.p_ff);
        // X = F P: the rows of the levels.
        let mut x_h = self.p_hh;
        let x_f = &mut self.p_hf;
        let before_f = *x_f;
        let levels = balance.by_level.iter().zip(&balance.levels);
        let factors = balance.by_factor.iter().zip(&balance.factors);
        let rows = x_h.iter_mut().zip(x_f.iter_mut()).zip(steps);
        for (((x_h, x_f), step), ((f, at_f), (g, at_g))) in rows.zip(levels.zip(factors)).take(self.tanks) {
            let mut places = *at_f;
            while let Some(one) = places.next() {
                let other = places.next().unwrap_or(usize::MAX);
                let (a, b) = (*step * get(f, one), *step * get(f, other));
                if other < TANKS {
                    add_two(x_h, (a, row(&self.p_hh, one)), (b, row(&self.p_hh, other)));
                    add_two(x_f, (a, row(&before_f, one)), (b, row(&before_f, other)));
                } else {
                    add_scaled(x_h, a, row(&self.p_hh, one));
                    add_scaled(x_f, a, row(&before_f, one));
                }
            }
            add_rows(x_f, *step, g, *at_g, &self.p_ff);
            for index in *at_g {
                add_column(x_h, *step * get(g, index), &before_f, index);
            }
        }
        // X F': column by column, from the top down to the diagonal.
        let levels = balance.by_level.iter().zip(&balance.levels);
        let factors = balance.by_factor.iter().zip(&balance.factors);
        let mut column = [0.0f32; TANKS];
        for (at, (step, ((f, at_f), (g, at_g)))) in steps.iter().zip(levels.zip(factors)).enumerate().take(self.tanks) {
            if at >= TANKS {
                break; // said once, it need not be asked in the loops
            }
            let upper = column.get_mut(..=at).unwrap_or(&mut []);
            let own = 1.0 + *step * get(f, at);
            for (value, row) in upper.iter_mut().zip(&x_h) {
                *value = own * get(row, at);
            }
            for index in at_f.without(at) {
                add_column(upper, *step * get(f, index), &x_h, index);
            }
            for index in *at_g {
                add_column(upper, *step * get(g, index), x_f, index);
            }
            for (value, row) in upper.iter().zip(&mut self.p_hh) {
                set(row, at, *value);
            }
        }
    }

    /// A tank that is not read for long: its doubt stops growing where it says "unknown".
    fn hold_level_variance(&mut self, tank: usize) {
        let most = UNKNOWN_LEVEL_M * UNKNOWN_LEVEL_M;
        let variance = self.p_hh.get(tank).map_or(0.0, |row| get(row, tank));
        if !(variance >= 0.0) || variance > most {
            let level = self.level_m(tank);
            let known = self.knows(tank);
            self.restart_level(tank, level, UNKNOWN_LEVEL_M);
            self.note_known(tank, known);
        }
    }
}
