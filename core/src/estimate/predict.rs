//! Levels, factors and doubts carried on in time.

use super::balance::Balance;
use super::row::{add_at, add_column, add_scaled, get, mirror, set};
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
        self.carry_covariance(&steps, &balance.by_level, &balance.by_factor);
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

    /// `P <- F P F'`, with F the identity and `step` of a row times the flows by levels `f` and by factors `g` (the factors
    /// themselves stay as they are).
    ///
    /// Water runs from few tanks into few: most of the flows are zero and are passed over.
    #[inline(never)]
    fn carry_covariance(&mut self, steps: &[f32; TANKS], f: &[[f32; TANKS]; TANKS], g: &[[f32; LIFTS]; TANKS]) {
        mirror(&mut self.p_hh);
        mirror(&mut self.p_ff);
        // X = F P: the rows of the levels.
        let mut x_h = self.p_hh;
        let mut x_f = self.p_hf;
        let mut found_h = [Found::<TANKS>::NONE; TANKS];
        let mut found_f = [Found::<LIFTS>::NONE; TANKS];
        for (at, step) in steps.iter().enumerate().take(self.tanks) {
            let (Some(f), Some(g), Some(x_h), Some(x_f)) = (f.get(at), g.get(at), x_h.get_mut(at), x_f.get_mut(at))
            else {
                break;
            };
            let found = Found::of(f);
            for index in found.iter() {
                let weight = *step * get(f, index);
                add_scaled(x_h, weight, self.p_hh.get(index).map_or(&[], |row| row));
                add_scaled(x_f, weight, self.p_hf.get(index).map_or(&[], |row| row));
            }
            set(&mut found_h, at, found);
            let found = Found::of(g);
            for index in found.iter() {
                let weight = *step * get(g, index);
                add_column(x_h, weight, &self.p_hf, index);
                add_scaled(x_f, weight, self.p_ff.get(index).map_or(&[], |row| row));
            }
            set(&mut found_f, at, found);
        }
        // X F': column by column, from the top down to the diagonal.
        for (at, step) in steps.iter().enumerate().take(self.tanks) {
            let (Some(f), Some(g), Some(found_h), Some(found_f)) =
                (f.get(at), g.get(at), found_h.get(at), found_f.get(at))
            else {
                break;
            };
            let mut column = [0.0f32; TANKS];
            let upper = column.get_mut(..=at).unwrap_or(&mut []);
            add_column(upper, 1.0, &x_h, at);
            for index in found_h.iter() {
                add_column(upper, *step * get(f, index), &x_h, index);
            }
            for index in found_f.iter() {
                add_column(upper, *step * get(g, index), &x_f, index);
            }
            for (value, row) in upper.iter().zip(&mut self.p_hh) {
                set(row, at, *value);
            }
        }
        self.p_hf = x_f;
    }

    /// A tank that is not read for long: its doubt stops growing where it says "unknown".
    fn hold_level_variance(&mut self, tank: usize) {
        let most = UNKNOWN_LEVEL_M * UNKNOWN_LEVEL_M;
        let variance = self.p_hh.get(tank).map_or(0.0, |row| get(row, tank));
        if !(variance >= 0.0) || variance > most {
            let level = self.level_m(tank);
            let known = self.knows(tank);
            self.restart_level(tank, level, UNKNOWN_LEVEL_M);
            set(&mut self.known, tank, known);
        }
    }
}

/// Where a row is not zero.
#[derive(Clone, Copy)]
struct Found<const N: usize> {
    places: [u8; N],
    count: u8,
}

impl<const N: usize> Found<N> {
    const NONE: Self = Self {
        places: [0; N],
        count: 0,
    };

    fn of(row: &[f32; N]) -> Self {
        let mut found = Self::NONE;
        found.count = find(row, &mut found.places);
        found
    }

    fn iter(&self) -> impl Iterator<Item = usize> {
        self.places
            .iter()
            .take(usize::from(self.count))
            .map(|place| usize::from(*place))
    }
}

/// Notes where a row is not zero, and how often.
#[inline(never)]
fn find(row: &[f32], places: &mut [u8]) -> u8 {
    let mut places = places.iter_mut();
    let mut count = 0;
    for (at, value) in (0u8..).zip(row) {
        if *value != 0.0
            && let Some(place) = places.next()
        {
            *place = at;
            count += 1;
        }
    }
    count
}
