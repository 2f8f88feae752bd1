//! What the filter cannot fit itself, by likelihood: how fast deliveries wander.

use super::balance::{Balance, Drive};
use super::filter::{Filter, Tuning};
use super::reference::Course;
use super::series::Bin;

/// Walks that are tried, share per root second: from a clean lift in clear water to one that clogs within a day.
pub const WALKS: [f64; 3] = [6.0e-4, 1.2e-3, 2.4e-3];
/// Bins the likelihood is taken from, a day of them at most: more would not change the choice.
const MOST_BINS: usize = 17_280;

/// The likeliest walk, with `tuning` for everything else.
#[must_use]
pub fn walk(balance: &Balance<'_>, tuning: &Tuning, bins: &[Bin], drives: &[Drive], courses: &[Course]) -> f64 {
    let from = bins.len().saturating_sub(MOST_BINS);
    let likelihood = |walk: f64| {
        let tuning = Tuning { walk, ..tuning.clone() };
        let mut filter = Filter::new(
            balance,
            &tuning,
            vec![false; balance.layout.count()],
            vec![0.0; balance.layout.count()],
        );
        let rows = bins[from..].iter().zip(&drives[from..]).zip(&courses[from..]);
        for (number, ((bin, drive), course)) in rows.enumerate() {
            let mut bin = *bin;
            if number == 0 {
                bin.since_s = None;
            }
            filter.take(&bin, drive, course);
        }
        filter.log_likelihood
    };
    let mut best = (f64::NEG_INFINITY, WALKS[0]);
    for walk in WALKS {
        let found = likelihood(walk);
        if found > best.0 {
            best = (found, walk);
        }
    }
    best.1
}
