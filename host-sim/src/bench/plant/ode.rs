//! By the `ode_solvers` crate: Dormand and Prince's pair of order 5(4) with its own choice of step.

use super::ours::ROUNDS;
use super::work::{Answer, Work};
use crate::plant::Plant;
use crate::simulate::SimulateError;
use ode_solvers::{Dopri5, OutputType, SVector, System};
use std::cell::RefCell;
use std::time::Instant;

/// Tolerance of the reference, far below what anybody is asked for, and its longest step, s.
const REFERENCE: (f64, f64) = (1e-10, 0.1);
/// Absolute tolerance for a relative one, m3: a cubic metre is the size of the tanks.
pub(super) const ATOL_OF_RTOL_M3: f64 = 1.0;

/// The plant as the crate wants its equations.
struct Equations<'a> {
    plant: &'a RefCell<Plant>,
    openings: &'a [f64],
}

impl<const N: usize> System<f64, SVector<f64, N>> for Equations<'_> {
    fn system(&self, _: f64, volumes: &SVector<f64, N>, rates: &mut SVector<f64, N>) {
        let mut plant = self.plant.borrow_mut();
        plant.rates_m3_s(volumes.as_slice(), self.openings, rates.as_mut_slice());
    }
}

/// The true answer, as near as double precision gives it.
pub(super) fn reference(work: &Work) -> Result<Vec<Vec<f64>>, SimulateError> {
    sized(work, REFERENCE.0, REFERENCE.1).map(|answer| answer.volumes_m3)
}

/// The work at one tolerance; the quickest of several rounds.
pub(super) fn run(work: &Work, tolerance: f64) -> Result<Answer, SimulateError> {
    let mut best = sized(work, tolerance, f64::INFINITY)?;
    for _ in 1..ROUNDS {
        let again = sized(work, tolerance, f64::INFINITY)?;
        if again.took_s < best.took_s {
            best = again;
        }
    }
    Ok(best)
}

/// The crate is quickest with vectors whose length is known beforehand.
fn sized(work: &Work, tolerance: f64, step_s: f64) -> Result<Answer, SimulateError> {
    match work.spec.tanks.len() {
        1 => once::<1>(work, tolerance, step_s),
        2 => once::<2>(work, tolerance, step_s),
        3 => once::<3>(work, tolerance, step_s),
        4 => once::<4>(work, tolerance, step_s),
        5 => once::<5>(work, tolerance, step_s),
        6 => once::<6>(work, tolerance, step_s),
        7 => once::<7>(work, tolerance, step_s),
        8 => once::<8>(work, tolerance, step_s),
        _ => once::<9>(work, tolerance, step_s),
    }
}

fn once<const N: usize>(work: &Work, tolerance: f64, step_s: f64) -> Result<Answer, SimulateError> {
    let plant = RefCell::new(work.plant()?);
    let mut volumes = SVector::<f64, N>::zeros();
    for (volume, tank) in volumes.iter_mut().zip(&plant.borrow().state().tanks) {
        *volume = tank.volume_m3;
    }
    let start = Instant::now();
    let (volumes_m3, solves) = if work.is_still() {
        whole(work, &plant, volumes, tolerance)
    } else {
        by_the_second(work, &plant, volumes, tolerance, step_s.min(1.0))
    };
    let took_s = start.elapsed().as_secs_f64();
    let mut volumes_m3: Vec<Vec<f64>> = volumes_m3.iter().map(|volumes| volumes.as_slice().to_vec()).collect();
    // An integrator that gave up has no answer to the rest.
    volumes_m3.resize_with(work.samples, || vec![f64::NAN; N]);
    Ok(Answer {
        took_s,
        solves,
        volumes_m3,
        setting: format!("tolerance {tolerance:.0e}"),
    })
}

/// One call for all, with its dense output at each sample.
fn whole<const N: usize>(
    work: &Work,
    plant: &RefCell<Plant>,
    volumes: SVector<f64, N>,
    tolerance: f64,
) -> (Vec<SVector<f64, N>>, u64) {
    let equations = Equations {
        plant,
        openings: work.openings(0),
    };
    let every_s = f64::from(work.sample_s);
    // The crate leaves out the end when rounding puts the last sample past it.
    let end_s = work.seconds() + 1e-6;
    let mut solver = Dopri5::new(
        equations,
        0.0,
        end_s,
        every_s,
        volumes,
        tolerance,
        tolerance * ATOL_OF_RTOL_M3,
    );
    let solves = solver.integrate().map_or(0, |stats| u64::from(stats.num_eval));
    let samples = solver.y_out().iter().skip(1).take(work.samples).copied();
    (samples.collect(), solves)
}

/// One call a second, because the controller may move a valve in each; each begins with a step of a second.
fn by_the_second<const N: usize>(
    work: &Work,
    plant: &RefCell<Plant>,
    mut volumes: SVector<f64, N>,
    tolerance: f64,
    step_s: f64,
) -> (Vec<SVector<f64, N>>, u64) {
    let (mut kept, mut solves) = (Vec::with_capacity(work.samples), 0);
    for sample in 0..work.samples {
        let equations = Equations {
            plant,
            openings: work.openings(sample),
        };
        let mut solver = Dopri5::from_param(
            equations,
            0.0,
            1.0,
            1.0,
            volumes,
            tolerance,
            tolerance * ATOL_OF_RTOL_M3,
            0.9,
            0.04,
            0.2,
            10.0,
            step_s,
            step_s,
            100_000,
            1000,
            OutputType::Sparse,
        );
        let Ok(stats) = solver.integrate() else { break };
        solves += u64::from(stats.num_eval);
        let Some(last) = solver.y_out().last() else { break };
        volumes = *last;
        kept.push(volumes);
    }
    (kept, solves)
}
