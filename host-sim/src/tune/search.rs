//! What the filter cannot fit itself, by likelihood: how fast deliveries wander, which lifts stand still, and which stop at once.

use super::balance::Balance;
use super::doing::Service;
use super::drive::Drive;
use super::filter::{Filter, Tuning};
use super::layout::TRICKLES;
use super::reference::Course;
use super::series::Bin;

/// Walks that are tried, share per root second: from a clean lift in clear water to one that clogs within a day.
pub const WALKS: [f64; 3] = [6.0e-4, 1.2e-3, 2.4e-3];
/// Bins the likelihood is taken from, a day of them at most: more would not change the choice.
const MOST_BINS: usize = 17_280;

/// How much likelier (logarithm) it must be that a lift trickles than that it stands still, before it is believed. A pipe's law that is
/// a little off at small heads gives up to a hundred (measured); a lift that truly runs on gives 700 and more.
const TRICKLE_GAIN: f64 = 175.0;
/// And besides for each stop: what is a little off adds up.
const TRICKLE_GAIN_A_STOP: f64 = 25.0;

/// The likeliest walk, and for each lift whether it stands still when it should, and at once; the rest of `tuning` as it is.
#[must_use]
pub fn search(balance: &Balance<'_>, tuning: &Tuning, bins: &[Bin], drives: &[Drive], courses: &[Course]) -> Tuning {
    let from = bins.len().saturating_sub(MOST_BINS);
    let likelihood = |tuning: &Tuning, from: usize| {
        let n = balance.layout.count();
        let mut filter = Filter::new(balance, tuning, vec![false; n], vec![0.0; n]);
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
    let mut best = tuning.clone();
    let mut most = f64::NEG_INFINITY;
    for walk in WALKS {
        let tried = Tuning { walk, ..best.clone() };
        let found = likelihood(&tried, from);
        if found > most {
            (most, best) = (found, tried);
        }
    }
    // A lift may stand still anywhere in the log.
    let mut most = likelihood(&best, 0);
    let stops = |lift: usize, service: Service| {
        let rests = |drive: &Drive| drive.serves[lift] == service;
        let runs = drives.chunk_by(|a, b| rests(a) == rests(b));
        runs.filter(|run| rests(&run[0])).count()
    };
    #[allow(clippy::cast_precision_loss)]
    let gain = |stops: usize| TRICKLE_GAIN + TRICKLE_GAIN_A_STOP * stops as f64;
    for lift in 0..balance.layout.lifts {
        let (measured, shut) = (stops(lift, Service::Measured), stops(lift, Service::Out));
        if measured > 0 {
            let mut tried = best.clone();
            tried.measured_trickle[lift] = TRICKLES;
            let found = likelihood(&tried, 0);
            // An air valve near its seat passes more than it is thought to, and where the lift was shut as well, that tells enough.
            let needed = if shut == 0 { gain(measured) } else { 0.0 };
            if found > most + needed {
                (most, best) = (found, tried);
                if shut == 0 {
                    // Nothing else tells of its tank's outlet.
                    best.trickle[lift] = TRICKLES;
                }
            }
        }
        if shut == 0 {
            continue;
        }
        let mut tried = best.clone();
        tried.trickle[lift] = TRICKLES;
        let found = likelihood(&tried, 0);
        if found > most + gain(shut) {
            (most, best) = (found, tried);
            continue;
        }
        // The first seconds of a stop tell most of a small tank's outlet, if nothing runs on in them.
        let mut tried = best.clone();
        tried.at_once[lift] = true;
        let found = likelihood(&tried, 0);
        if found > most {
            (most, best) = (found, tried);
        }
    }
    best
}
