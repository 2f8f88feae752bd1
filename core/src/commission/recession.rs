//! The record of a recession: levels averaged into bins that widen as the water slows.

use serde::{Deserialize, Serialize};

/// Bins of a record: 40 of 2 s, 40 of 5 s, 48 of 20 s: 20 minutes and 40 seconds.
pub const BINS: usize = 128;

/// Width of a bin, s.
#[must_use]
pub fn width_s(bin: usize) -> f32 {
    if bin < 40 {
        2.0
    } else if bin < 80 {
        5.0
    } else {
        20.0
    }
}

/// One bin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Bin {
    /// Mean reading of the tank that drains, m.
    pub level_m: f32,
    /// Mean level of the tank it drains into, m above the draining tank's floor; a large negative number when it falls free.
    pub below_m: f32,
    /// Mean share of its starting flow that the lift is thought to deliver still.
    pub tail: f32,
    /// Readings averaged.
    pub count: u16,
}

/// A record being filled.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Record {
    bins: heapless::Vec<Bin, BINS>,
    sums: (f32, f32, f32),
    count: u16,
    origin_m: f32,
    into_bin_s: f32,
}

impl Record {
    /// An empty record; `origin_m` is the level at the start (sums are kept relative to it, for their digits).
    #[must_use]
    pub fn new(origin_m: f32) -> Self {
        Self {
            bins: heapless::Vec::new(),
            sums: (0.0, 0.0, 0.0),
            count: 0,
            origin_m,
            into_bin_s: 0.0,
        }
    }

    /// Adds what was read after `seconds` more; `level_m` is `None` when no reading could be used.
    pub fn add(&mut self, seconds: f32, level_m: Option<f32>, below_m: f32, tail: f32) {
        if self.is_full() {
            return;
        }
        self.into_bin_s += seconds;
        if let Some(level) = level_m {
            self.sums.0 += level - self.origin_m;
            self.sums.1 += below_m - self.origin_m;
            self.sums.2 += tail;
            self.count = self.count.saturating_add(1);
        }
        let width = width_s(self.bins.len());
        if self.into_bin_s >= width - 1.0e-3 {
            self.into_bin_s -= width;
            let bin = if self.count == 0 {
                Bin::default()
            } else {
                let n = f32::from(self.count);
                Bin {
                    level_m: self.origin_m + self.sums.0 / n,
                    below_m: self.origin_m + self.sums.1 / n,
                    tail: self.sums.2 / n,
                    count: self.count,
                }
            };
            let _ = self.bins.push(bin);
            self.sums = (0.0, 0.0, 0.0);
            self.count = 0;
        }
    }

    /// True when there is room for no more.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.bins.is_full()
    }

    /// The bins so far.
    #[must_use]
    pub fn bins(&self) -> &[Bin] {
        &self.bins
    }
}
