//! The course of a trial: the outlet by recessions, then the curve by openings.

use super::Basin;
use super::by_openings::ByOpenings;
use super::by_recession::{ByRecession, Next};
use super::inflow::is_weir;
use super::look::{Look, Move, Phase};
use super::{MOST_TRICKLE, Outcome, Refusal, curve_fit, outlet_fit};
use crate::installation::{Conditions, PooledLift};
use crate::outlet::OutletView;

/// A trial of one lift.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trial {
    /// The lift, by index.
    pub lift: u8,
    outlet: u8,
    stage: Stage,
}

/// What is being found: one after the other, in the same memory.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(clippy::large_enum_variant)] // the trial lies in place, and the larger one comes first
enum Stage {
    Outlet(ByRecession),
    Curve(ByOpenings),
}

impl Trial {
    /// A trial of `lift` through `outlet` of its receiving tank.
    #[must_use]
    pub fn new(lift: u8, outlet: u8) -> Self {
        Self {
            lift,
            outlet,
            stage: Stage::Outlet(ByRecession::new()),
        }
    }

    /// Where it stands.
    #[must_use]
    pub fn phase(&self) -> Phase {
        match &self.stage {
            Stage::Outlet(stage) => stage.phase(),
            Stage::Curve(stage) => stage.phase(),
        }
    }

    /// True while the other lifts must leave their valves alone, so that the manifold's pressure keeps still.
    #[must_use]
    pub fn others_wait(&self) -> bool {
        self.phase() == Phase::Opening
    }

    /// The outlet of its receiving tank that is measured, by index.
    #[must_use]
    pub fn outlet(&self) -> usize {
        usize::from(self.outlet)
    }

    /// One step of the trial; `Err` holds what came of it.
    #[allow(clippy::result_large_err)] // passed on in place
    #[inline(never)] // inlined, what is asked before it takes registers from it
    pub fn advance(
        &mut self,
        look: &Look,
        lift: &PooledLift,
        tank: &Basin<'_>,
        conditions: &Conditions,
        peak_share: f32,
    ) -> Result<Move, Outcome> {
        let stop = match &tank.outlet {
            None => Err(Refusal::OutletUnclear),
            Some(outlet) => look.stop.map_or(Ok(outlet), Err),
        };
        match &mut self.stage {
            Stage::Outlet(stage) => {
                let next = match stop {
                    Ok(outlet) => stage.advance(look, lift, tank, outlet, peak_share),
                    Err(why) => Next::Refused(why),
                };
                match next {
                    Next::Move(wanted) => Ok(wanted),
                    Next::Refused(why) => Err(self.outcome(Err(why), Err(why))),
                    Next::Found { law, .. } if stop.is_ok_and(|outlet| hides_a_trickle(&law, lift, outlet)) => {
                        Err(self.outcome(Ok(law), Err(Refusal::LiftRuns)))
                    }
                    Next::Found { law, fill, doubt } => {
                        self.stage = Stage::Curve(ByOpenings::new(law, fill, doubt, look));
                        Ok(Move::Keep)
                    }
                }
            }
            Stage::Curve(stage) => {
                let law = stage.law();
                let ended = match stop {
                    Ok(outlet) => stage.advance(look, lift, (tank, outlet), conditions, peak_share),
                    Err(why) => Err(Err(why)),
                };
                match ended {
                    Ok(wanted) => Ok(wanted),
                    Err(curve) => Err(self.outcome(Ok(law), curve)),
                }
            }
        }
    }

    fn outcome(
        &self,
        outlet_law: Result<outlet_fit::Found, Refusal>,
        curve: Result<curve_fit::Found, Refusal>,
    ) -> Outcome {
        Outcome {
            lift: self.lift,
            outlet: self.outlet,
            outlet_law,
            curve,
        }
    }
}

/// True when the lift trickled so much while it should have stood still that small flows cannot be read: over a pipe or a hole a
/// trickle stands as a head that a wrong zero explains as well. Of its outlet's law that is a small part, of the curve's lower end not.
fn hides_a_trickle(law: &outlet_fit::Found, lift: &PooledLift, outlet: &OutletView<'_>) -> bool {
    !is_weir(outlet) && -law.leak_m3_s > MOST_TRICKLE * lift.target.m3_s
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trial_takes_about_a_kilobyte() {
        let bytes = size_of::<Trial>();
        assert!(bytes <= 1024, "{bytes} B");
    }
}
