//! What is proposed in the end: only what a trial on the fitted place does not speak against.

use super::allowed::Allowed;
use super::fitted::Fitted;
use super::proposal::{Proposal, propose};
use super::trial::{Place, Trial};
use crate::scenario::Scenario;
use crate::simulate::SimulateError;

/// A lift that got worse by less than this in a trial did not get worse, % of its target.
const NO_WORSE: f64 = 0.1;

/// What came of a proposal and its trials.
#[derive(Clone, Debug)]
pub struct Decision {
    /// What is proposed.
    pub proposal: Proposal,
    /// Its trial on the fitted place.
    pub trial: Trial,
    /// What was given up and why; empty when nothing was.
    pub note: &'static str,
}

/// The whole proposal, else without the settings, else without what is told anew of the lifts that it makes worse, else none.
/// `scenario` is the place as its file tells it.
///
/// That an outlet may not be as fitted is allowed for by how far it is told anew ([`super::Working::sure_share`]).
///
/// # Errors
/// The fitted place cannot be modelled.
pub fn decide(scenario: &Scenario, fitted: &Fitted, settings: bool) -> Result<Decision, SimulateError> {
    let place = Place::new(scenario, fitted)?;
    let tried = |proposal: &Proposal| -> Result<(Trial, Vec<usize>), SimulateError> {
        let trial = place.trial(&proposal.installation)?;
        let worse = (0..fitted.lifts.len()).filter(|lift| trial.worse(*lift, NO_WORSE));
        let worse = worse.collect();
        Ok((trial, worse))
    };
    let whole = Allowed::all(fitted, settings);
    let proposal = propose(fitted, &whole);
    let (trial, worse) = tried(&proposal)?;
    if worse.is_empty() {
        return Ok(Decision {
            proposal,
            trial,
            note: "",
        });
    }
    let left = [
        (
            Allowed::all(fitted, false),
            "\nChanged settings made a lift worse on that model: settings stay as they are.\n",
        ),
        (
            whole.clone().without(fitted, &worse),
            "\nChanging some outlets or curves made their lift worse on that model: these stay as entered.\n",
        ),
        (
            Allowed::all(fitted, false).without(fitted, &worse),
            "\nChanged settings, and changing some outlets or curves, made a lift worse on that model: these stay as entered.\n",
        ),
    ];
    for (allowed, note) in left {
        let proposal = propose(fitted, &allowed);
        let (trial, worse) = tried(&proposal)?;
        if worse.is_empty() {
            return Ok(Decision { proposal, trial, note });
        }
    }
    let nothing = Proposal::of(fitted, fitted.place.clone());
    let (trial, _) = tried(&nothing)?;
    Ok(Decision {
        proposal: nothing,
        trial,
        note: "\nEvery change that was tried made a lift worse on that model: nothing is proposed.\n",
    })
}
