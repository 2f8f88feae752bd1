//! The record of a recession: levels averaged into bins that widen as the water slows.
//!
//! Levels are kept as differences from the first ones, in 20 um: a fiftieth of a millimetre of noise, of which a bin averages
//! at most a few dozen readings.

use crate::math::seldom::{limit, whole};

/// Bins of a record: 30 of 2 s, 30 of 5 s, 36 of 30 s: 21 minutes and a half.
pub const BINS: usize = 96;
/// Bins in which the lift may still deliver what it did before: three and a half minutes.
const TAIL_BINS: usize = 60;
/// What a kept level counts in, m; 16 bits of it reach 0.65 m up and down.
const UNIT_M: f32 = 2.0e-5;
/// Fall of a level at which a record ends, so that it can be kept, m.
const MOST_FALL_M: f32 = 0.6;

/// Width of a bin, s.
#[must_use]
pub fn width_s(bin: usize) -> f32 {
    if bin < 30 {
        2.0
    } else if bin < TAIL_BINS {
        5.0
    } else {
        30.0
    }
}

/// One bin.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bin {
    /// Mean reading of the tank that drains, m.
    pub level_m: f32,
    /// Mean level of the tank it drains into, m above the draining tank's floor; a large negative number when it falls free.
    pub below_m: f32,
    /// Mean share of its starting flow that the lift is thought to deliver still.
    pub tail: f32,
    /// Readings averaged, at most 255.
    pub count: u8,
}

/// A bin as kept.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Kept {
    level: i16,
    below: i16,
}

/// A record being filled.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Record {
    kept: heapless::Vec<Kept, BINS>,
    counts: heapless::Vec<u8, BINS>,
    tails: heapless::Vec<u8, TAIL_BINS>,
    sums: (f32, f32, f32),
    count: u8,
    origin_m: f32,
    below_origin_m: f32,
    into_bin_s: f32,
    fell_far: bool,
}

impl Record {
    /// An empty record; `origin_m` is the level at the start, `below_m` that of the tank it drains into.
    #[must_use]
    pub fn new(origin_m: f32, below_m: f32) -> Self {
        Self {
            kept: heapless::Vec::new(),
            counts: heapless::Vec::new(),
            tails: heapless::Vec::new(),
            sums: (0.0, 0.0, 0.0),
            count: 0,
            origin_m,
            below_origin_m: below_m,
            into_bin_s: 0.0,
            fell_far: false,
        }
    }

    /// Adds what was read after `seconds` more; `level_m` is `None` when no reading could be used.
    pub fn add(&mut self, seconds: f32, level_m: Option<f32>, below_m: f32, tail: f32) {
        if self.is_full() {
            return;
        }
        self.into_bin_s += seconds;
        if let Some(level) = level_m.filter(|_| self.count < u8::MAX) {
            self.sums.0 += level - self.origin_m;
            self.sums.1 += below_m - self.below_origin_m;
            self.sums.2 += tail;
            self.count += 1;
        }
        let width = width_s(self.len());
        if self.into_bin_s >= width - 1.0e-3 {
            self.into_bin_s -= width;
            self.close_bin();
        }
    }

    fn close_bin(&mut self) {
        let n = if self.count == 0 { 1.0 } else { f32::from(self.count) };
        let (level, below, tail) = self.sums;
        let _ = self.kept.push(Kept {
            level: packed(level / n),
            below: packed(below / n),
        });
        self.fell_far |= level / n < -MOST_FALL_M;
        let _ = self.counts.push(self.count);
        let _ = self.tails.push(byte(tail / n));
        self.sums = (0.0, 0.0, 0.0);
        self.count = 0;
    }

    /// True when no more can be kept.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.kept.is_full() || self.fell_far
    }

    /// Bins so far.
    #[must_use]
    pub fn len(&self) -> usize {
        self.kept.len()
    }

    /// A bin; `None` past the last.
    #[must_use]
    pub fn bin(&self, index: usize) -> Option<Bin> {
        let kept = self.kept.get(index)?;
        Some(Bin {
            level_m: self.origin_m + UNIT_M * f32::from(kept.level),
            below_m: self.below_origin_m + UNIT_M * f32::from(kept.below),
            tail: self.tails.get(index).map_or(0.0, |tail| f32::from(*tail) / 255.0),
            count: self.counts.get(index).copied().unwrap_or(0),
        })
    }
}

/// A difference of levels in units, to the nearest.
#[allow(clippy::cast_possible_truncation)] // limited before
fn packed(difference_m: f32) -> i16 {
    let units = limit(difference_m / UNIT_M, -32_000.0, 32_000.0);
    (if units < 0.0 { units - 0.5 } else { units + 0.5 }) as i16
}

/// A share in 255ths, to the nearest.
#[allow(clippy::cast_possible_truncation)] // 255 at most
fn byte(share: f32) -> u8 {
    whole(limit(share, 0.0, 1.0) * 255.0 + 0.5, 255.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_record_gives_back_the_means_it_was_given() {
        let mut record = Record::new(0.7, 0.65);
        let level = |second: u16| 0.7 - 0.000_37 * f32::from(second);
        let mut second = 0;
        while !record.is_full() {
            record.add(
                1.0,
                Some(level(second)),
                level(second) - 0.05,
                1.0 / f32::from(second + 1),
            );
            second += 1;
        }
        assert_eq!((record.len(), second), (96, 1290));
        let first = record.bin(0).unwrap();
        assert!(
            (first.level_m - 0.5 * (level(0) + level(1))).abs() < 1.1e-5,
            "{first:?}"
        );
        assert!((first.tail - 0.75).abs() < 0.003 && first.count == 2);
        let last = record.bin(95).unwrap();
        let mean = 0.5 * (level(1260) + level(1289));
        assert!((last.level_m - mean).abs() < 1.2e-5, "{last:?} {mean}");
        assert!((last.below_m - mean + 0.05).abs() < 1.2e-5 && last.tail == 0.0 && last.count == 30);
        assert_eq!(record.bin(96), None);
    }

    #[test]
    fn what_cannot_be_kept_is_marked_or_held_at_the_end_of_the_range() {
        let mut record = Record::new(0.7, -100.0);
        record.add(2.0, Some(f32::INFINITY), -100.0, f32::NAN);
        record.add(2.0, None, -100.0, 0.5);
        let odd = record.bin(0).unwrap();
        assert!(odd.level_m.is_finite() && odd.below_m == -100.0 && odd.tail.is_finite());
        assert_eq!(record.bin(1).unwrap().count, 0);
        record.add(2.0, Some(-0.2), -100.0, 0.0);
        assert!(record.is_full(), "further down than can be kept");
    }
}
