//! The choice among the pipes, and its reasons.

use super::L_MIN;
use super::candidate::Candidate;
use super::confirm::{Confirmation, confirm};
use super::depth::{DepthAdvice, depth_advice};
use super::request::{Refusal, Request};
use super::rule::Rule;
use super::rules::MOST_SHARE_OF_PEAK;
use crate::oxygen::{AirFloor, Demand, Stripping, air_floor, stripping};
use crate::pipes::Pipe;

/// Airs within this share count as equal: the narrower pipe is taken, which costs less and keeps solids moving.
const EQUAL_WITHIN: f64 = 0.03;

/// The chosen pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct Pick {
    /// Place in [`Answer::candidates`].
    pub index: usize,
    /// Why this one, a sentence each.
    pub reasons: Vec<String>,
    /// The marched model's word on it.
    pub confirmation: Confirmation,
    /// What other depths would change.
    pub depth: DepthAdvice,
    /// What one pass strips of carbon dioxide at most.
    pub stripping: Stripping,
}

/// Everything `size` has to say.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// What was asked.
    pub request: Request,
    /// All pipes of the series, from narrow to wide.
    pub candidates: Vec<Candidate>,
    /// The choice; `None` when no pipe can be recommended.
    pub pick: Option<Pick>,
    /// Oxygen the fish need, if there are fish.
    pub demand: Option<Demand>,
    /// The air floor for the fish; `None` without fish, or when no air can do it.
    pub floor: Option<AirFloor>,
}

impl Request {
    /// The air floor that the fish ask of these lifts.
    pub(super) fn floor(&self) -> Option<AirFloor> {
        let fish = self.fish?;
        let needed = fish.stock.demand(self.water_c).worst_g_h - fish.other_g_h;
        let depth = self.depth_m.low;
        air_floor(
            &self.place(),
            self.salinity_g_kg,
            depth,
            fish.dissolved_mg_l,
            needed,
            self.lifts,
        )
    }

    pub(super) fn floor_m3_s(&self) -> Option<f64> {
        self.floor().map(|floor| floor.each_m3_s)
    }
}

/// Works out every pipe and chooses.
///
/// # Errors
/// Every value that lies outside its range.
pub fn size(request: &Request) -> Result<Answer, Vec<Refusal>> {
    let refusals = request.refusals();
    if !refusals.is_empty() {
        return Err(refusals);
    }
    let mut pipes: Vec<Pipe> = request.series.iter().flat_map(|series| series.pipes()).collect();
    pipes.sort_by(|a, b| {
        a.bore_mm
            .total_cmp(&b.bore_mm)
            .then(a.outside_mm.total_cmp(&b.outside_mm))
    });
    let mut candidates: Vec<Candidate> = pipes.into_iter().map(|pipe| Candidate::new(request, pipe)).collect();
    let water = request.water_m3_s.high;
    let shamed: Vec<_> = candidates
        .iter()
        .map(|candidate| candidate.shamed_by(&candidates, water))
        .collect();
    for (candidate, rule) in candidates.iter_mut().zip(shamed) {
        candidate.ruled_out.extend(rule);
        candidate.ruled_out.sort_by_key(|rule| !rule.is_hard());
    }
    let index = choose(&candidates);
    if let Some(chosen) = index.and_then(|index| candidates.get(index)).cloned() {
        for (place, candidate) in candidates.iter_mut().enumerate() {
            if Some(place) != index && candidate.ruled_out.is_empty() {
                let ratio = candidate.air_m3_s.unwrap_or(f64::MAX) / chosen.air_m3_s.unwrap_or(f64::MAX);
                candidate.ruled_out.push(Rule::AnotherIsBetter {
                    pipe: chosen.pipe.short(),
                    ratio,
                });
            }
        }
    }
    let pick = index.and_then(|index| pick(request, &candidates, index));
    let demand = request.fish.map(|fish| fish.stock.demand(request.water_c));
    Ok(Answer {
        request: request.clone(),
        candidates,
        pick,
        demand,
        floor: request.floor(),
    })
}

/// Of the pipes that work, those fast enough; of these the one with the least air, narrower before wider when nearly equal.
/// When all are slow, the narrowest that works.
fn choose(candidates: &[Candidate]) -> Option<usize> {
    let air = |index: &usize| candidates.get(*index).and_then(|c| c.air_m3_s).unwrap_or(f64::MAX);
    let works: Vec<usize> = candidates
        .iter()
        .enumerate()
        .filter(|(_, candidate)| candidate.works())
        .map(|(index, _)| index)
        .collect();
    let fast: Vec<usize> = works
        .iter()
        .copied()
        .filter(|index| candidates.get(*index).is_some_and(|c| c.ruled_out.is_empty()))
        .collect();
    if fast.is_empty() {
        return works.first().copied();
    }
    let least = fast.iter().map(air).min_by(f64::total_cmp)?;
    fast.into_iter()
        .find(|index| air(index) <= (1.0 + EQUAL_WITHIN) * least)
}

fn pick(request: &Request, candidates: &[Candidate], index: usize) -> Option<Pick> {
    let chosen = candidates.get(index)?;
    let confirmation = confirm(request, chosen)?;
    Some(Pick {
        index,
        reasons: reasons(request, candidates, index),
        confirmation,
        depth: depth_advice(request, chosen.pipe),
        stripping: stripping(request.water_c, request.salinity_g_kg, chosen.gas_to_water),
    })
}

fn reasons(request: &Request, candidates: &[Candidate], index: usize) -> Vec<String> {
    let Some(chosen) = candidates.get(index) else {
        return Vec::new();
    };
    let mut reasons = vec![format!(
        "It is asked for {:.0} % of its peak of {:.0} L/min; up to {:.0} % there is reserve for dirt and a falling sump.",
        100.0 * chosen.share_of_peak,
        chosen.peak_m3_s * L_MIN,
        100.0 * MOST_SHARE_OF_PEAK
    )];
    match chosen.onset_air_m3_s.filter(|onset| *onset > 0.0) {
        Some(onset) => reasons.push(format!(
            "Its air of {:.1} L/min is {:.1} times that of the onset ({:.1} L/min), so a small loss of air does not stop it.",
            chosen.air_m3_s.unwrap_or(0.0) * L_MIN,
            chosen.air_m3_s.unwrap_or(0.0) / onset,
            onset * L_MIN
        )),
        None => reasons.push("At no lift water moves with the first bubble: there is no onset to stay clear of.".to_owned()),
    }
    let slow = chosen.ruled_out.iter().any(|rule| matches!(rule, Rule::TooSlow { .. }));
    let works = candidates
        .iter()
        .filter(|c| c.ruled_out.iter().all(|r| matches!(r, Rule::AnotherIsBetter { .. })))
        .count();
    reasons.push(if slow {
        format!(
            "No pipe that works moves its water at {:.2} m/s; this is the fastest, {:.2} m/s: solids may settle, flush it now and then.",
            request.least_speed_m_s, chosen.water_m_s
        )
    } else if works > 1 {
        format!(
            "Of the {works} pipes that no rule holds against it needs the least air, or is the narrowest within {:.0} % of it.",
            100.0 * EQUAL_WITHIN
        )
    } else {
        "It is the only pipe that no rule holds against.".to_owned()
    });
    if !slow && request.least_speed_m_s > 0.0 {
        reasons.push(format!(
            "Its water moves at {:.2} m/s; at {:.2} m/s and more solids do not settle in the riser (trade rule).",
            chosen.water_m_s, request.least_speed_m_s
        ));
    }
    reasons
}
