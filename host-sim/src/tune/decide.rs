//! What is proposed in the end: only what a trial on the fitted place does not speak against.

use super::fitted::Fitted;
use super::proposal::{Proposal, propose};
use super::trial::{Trial, trial};
use crate::scenario::Scenario;
use crate::simulate::SimulateError;

/// A lift that got worse by less than this in the trial did not get worse, % of its target.
const NO_WORSE: f64 = 0.1;

/// What came of a proposal and its trials.
#[derive(Clone, Debug)]
pub struct Decision {
    /// What is proposed.
    pub proposal: Proposal,
    /// Its trial.
    pub trial: Trial,
    /// What was given up and why; empty when nothing was.
    pub note: &'static str,
}

/// The whole proposal, else without the settings, else none; `scenario` is the place as its file tells it.
///
/// # Errors
/// The fitted place cannot be modelled.
pub fn decide(scenario: &Scenario, fitted: &Fitted, settings: bool) -> Result<Decision, SimulateError> {
    let mut proposal = propose(fitted, settings);
    let mut result = trial(scenario, fitted, &proposal.installation)?;
    let mut note = "";
    if !result.no_lift_worse(NO_WORSE) && !proposal.settings.is_empty() {
        proposal = propose(fitted, false);
        result = trial(scenario, fitted, &proposal.installation)?;
        note = "\nOther settings made a lift worse on the fitted place: they are left as they are.\n";
    }
    if !result.no_lift_worse(NO_WORSE) {
        proposal = Proposal {
            installation: fitted.place.clone(),
            tanks: Vec::new(),
            noises: Vec::new(),
            curves: Vec::new(),
            settings: Vec::new(),
            ..proposal
        };
        result = trial(scenario, fitted, &proposal.installation)?;
        note = "\nWhat would be told anew made a lift worse on the fitted place: nothing is proposed.\n";
    }
    Ok(Decision {
        proposal,
        trial: result,
        note,
    })
}
