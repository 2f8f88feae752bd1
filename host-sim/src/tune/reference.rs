//! The course that the fit is straightened about: smoothed levels and the flows that go with them.
//!
//! A Kalman filter that takes its slopes from its own estimates reads its own noise as information: on a place at rest it slowly
//! talks itself into another scale of all flows, which levels at rest cannot tell. Here every slope comes from the readings,
//! averaged over minutes where the place is at rest, and there what runs into a tank equals what runs out of it, exactly.

use super::drive::Drive;
use super::drive::level_m;
use super::series::Bin;
use crate::log::HostInstallation;
use crate::scenario::TANKS;

/// Bins on either side that a level is averaged over at most: five minutes.
const WIDE: usize = 60;
/// A level whose mean over so many bins after differs by more than this from that over as many before moves, m.
const MOVES_M: f64 = 0.001;
/// A level whose mean differs from that of the inner half of the same bins by more than this, and more than chance, bends, m.
const BENDS_M: f64 = 0.0001;
/// Bins of those means: a minute.
const APART: usize = 12;
/// Bins for which a tank counts as moving after it was moved: ten minutes, five times the slowest of usual tanks.
const MOVED_FOR: usize = 120;
/// Change of a lift's air from one bin to the next that moves its tanks, share.
const AIR_MOVES: f64 = 0.05;

/// The course at one bin.
#[derive(Clone, Copy, Debug)]
pub struct Course {
    /// Smoothed level of each tank above its floor, as its sensor reads it, m.
    pub level_m: [f64; TANKS],
    /// How fast it moves, m/s; exactly 0 at rest.
    pub level_m_s: [f64; TANKS],
    /// True for a tank in which nothing has moved for some minutes.
    pub rests: [bool; TANKS],
}

/// The course of a whole series; `noise_m` is that of one bin of each tank.
#[must_use]
pub fn courses(place: &HostInstallation, bins: &[Bin], drives: &[Drive], noise_m: &[f64]) -> Vec<Course> {
    let tanks = place.tanks.len();
    // Stretches, from and to.
    let mut stretches: Vec<(usize, usize)> = Vec::new();
    for (at, bin) in bins.iter().enumerate() {
        if bin.since_s.is_none() || stretches.is_empty() {
            stretches.push((at, at));
        }
        if let Some(stretch) = stretches.last_mut() {
            stretch.1 = at + 1;
        }
    }
    let mut out = vec![
        Course {
            level_m: [0.0; TANKS],
            level_m_s: [0.0; TANKS],
            rests: [false; TANKS],
        };
        bins.len()
    ];
    let mut last = [f64::NAN; TANKS];
    for (from, to) in stretches {
        let sums = Sums::of(place, &bins[from..to], &mut last);
        let many = to - from;
        for (tank, noise_m) in noise_m.iter().enumerate().take(tanks) {
            let moving = moving(place, tank, &sums, &drives[from..to]);
            let (since, until) = distances(&moving);
            for at in 0..many {
                let course = &mut out[from + at];
                course.rests[tank] = since[at] > MOVED_FOR && until[at] > 1;
                let wide = sums.wide(tank, at, since[at].min(until[at]), *noise_m);
                course.level_m[tank] = sums.mean(tank, at, wide);
                if !course.rests[tank] {
                    let wide = wide.max(1).min(at).min(many - 1 - at);
                    let apart_s: f64 = bins[from + at - wide + 1..=from + at + wide]
                        .iter()
                        .filter_map(|bin| bin.since_s)
                        .sum();
                    if apart_s > 0.0 {
                        // Means of each half are half the window apart.
                        let half = wide.div_ceil(2);
                        let (late, early) = (
                            sums.between(tank, at + wide + 1 - half, at + wide + 1),
                            sums.between(tank, at - wide, at - wide + half),
                        );
                        #[allow(clippy::cast_precision_loss)]
                        let share = (2 * wide + 1 - half) as f64 / (2 * wide) as f64;
                        course.level_m_s[tank] = (late - early) / (share * apart_s);
                    }
                }
            }
        }
    }
    out
}

/// Running sums of the levels of a stretch, missing ones filled with the last.
struct Sums(Vec<Vec<f64>>);

impl Sums {
    fn of(place: &HostInstallation, bins: &[Bin], last: &mut [f64; TANKS]) -> Self {
        let sums = place.tanks.iter().enumerate().map(|(tank, of)| {
            let middle = 0.5 * f64::from(of.limits.low_warn_m + of.limits.high_warn_m);
            let mut sum = 0.0;
            let mut sums = vec![0.0];
            for bin in bins {
                if bin.counts[tank] > 0 {
                    last[tank] = level_m(&of.sensor, bin.raw[tank]);
                } else if last[tank].is_nan() {
                    last[tank] = middle;
                }
                sum += last[tank];
                sums.push(sum);
            }
            sums
        });
        Self(sums.collect())
    }

    /// Mean over so many bins on either side, as far as there are any.
    fn mean(&self, tank: usize, at: usize, wide: usize) -> f64 {
        let sums = &self.0[tank];
        // As many on either side, so that a slope does not shift it.
        let wide = wide.min(at).min(sums.len() - 2 - at);
        #[allow(clippy::cast_precision_loss)]
        let many = (2 * wide + 1) as f64;
        (sums[at + wide + 1] - sums[at - wide]) / many
    }

    /// How many bins on either side may be averaged: at rest as many as there are to the next that moves, otherwise as many as the
    /// level bends little over. In the middle of a stop what came before and what comes after are alike, and neither is like it:
    /// so the mean of the inner half has to be that of the whole. `noise_m` is that of one bin.
    fn wide(&self, tank: usize, at: usize, free: usize, noise_m: f64) -> usize {
        let room = WIDE.min(at).min(self.0[tank].len() - 2 - at);
        let mut wide = room;
        while wide > free && wide > 1 {
            let (after, before) = (
                self.between(tank, at, at + wide + 1),
                self.between(tank, at - wide, at + 1),
            );
            let bend = (self.mean(tank, at, wide) - self.mean(tank, at, wide / 2)).abs();
            #[allow(clippy::cast_precision_loss)]
            let chance = 1.5 * noise_m / ((2 * wide + 1) as f64).sqrt();
            if (after - before).abs() < 2.0 * MOVES_M && bend < BENDS_M + chance {
                break;
            }
            wide /= 2;
        }
        wide
    }

    /// Mean of the bins from one to another, the other not included.
    fn between(&self, tank: usize, from: usize, to: usize) -> f64 {
        #[allow(clippy::cast_precision_loss)]
        let many = (to - from) as f64;
        (self.0[tank][to] - self.0[tank][from]) / many
    }
}

/// Bins in which something moves a tank: air or service of its lifts (of those it feeds, if it is fed itself), or its level.
fn moving(place: &HostInstallation, tank: usize, sums: &Sums, drives: &[Drive]) -> Vec<bool> {
    let many = drives.len();
    let mut moving = vec![false; many];
    let own: Vec<usize> = (0..place.lifts.len())
        .filter(|lift| usize::from(place.lifts[*lift].to) == tank)
        .collect();
    for at in 0..many {
        let Some(before) = at.checked_sub(1).map(|before| &drives[before]) else {
            moving[at] = true;
            continue;
        };
        let now = &drives[at];
        moving[at] = own.iter().any(|lift| {
            let (a, b) = (before.air_m3_s[*lift], now.air_m3_s[*lift]);
            before.serves[*lift] != now.serves[*lift] || (a - b).abs() > AIR_MOVES * a.max(b)
        });
        if at >= APART && at + APART <= many {
            let (after, before) = (sums.between(tank, at, at + APART), sums.between(tank, at - APART, at));
            moving[at] |= (after - before).abs() > MOVES_M;
        }
    }
    moving
}

/// How many bins it is from the last that moved, and to the next.
fn distances(moving: &[bool]) -> (Vec<usize>, Vec<usize>) {
    let mut since = vec![0; moving.len()];
    let mut until = vec![0; moving.len()];
    let mut count = 0;
    for (since, moving) in since.iter_mut().zip(moving) {
        count = if *moving { 0 } else { count + 1 };
        *since = count;
    }
    count = WIDE;
    for (until, moving) in until.iter_mut().zip(moving).rev() {
        count = if *moving { 0 } else { count + 1 };
        *until = count;
    }
    (since, until)
}
