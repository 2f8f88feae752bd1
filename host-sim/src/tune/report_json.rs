//! What came of tuning, for programs.

use super::fitted::{Estimate, Fitted};
use super::proposal::Proposal;
use super::report::{L_MIN, Names, test_words};
use super::tests_wanted::wanted;
use super::trial::Trial;
use serde_json::{Value, json};

/// The report as JSON.
#[must_use]
pub fn json(fitted: &Fitted, proposal: &Proposal, trial: Option<&Trial>, names: &Names) -> Value {
    let estimate = |of: &Estimate| json!({"value": of.value, "low": of.low, "high": of.high, "told": of.told});
    let tanks = fitted.tanks.iter().zip(&names.tanks).map(|(tank, name)| {
        json!({
            "name": name,
            "outlets": tank.outlets.iter().map(|outlet| json!({
                "outlet": outlet.outlet + 1,
                "flow_times_told": estimate(&outlet.times_told),
            })).collect::<Vec<_>>(),
            "area_times_told": estimate(&tank.area),
            "reads_high_m": tank.zero_m.as_ref().map(estimate),
            "stood_high_m": tank.stood_high_m,
            "noise_m": tank.noise.map(|noise| json!({"value": noise.sigma_m, "sigma": noise.doubt_m})),
            "differs": tank.differs,
        })
    });
    let lifts = fitted.lifts.iter().zip(&names.lifts).map(|(lift, name)| {
        json!({
            "name": name,
            "delivery": lift.delivery.as_ref().map(estimate),
            "flow_l_min": L_MIN * lift.flow_m3_s,
            "curve_height_told": lift.height_told,
            "curve_shape_told": lift.shape_told,
        })
    });
    json!({
        "readings": fitted.counted.readings,
        "hours": fitted.counted.covered_s / 3600.0,
        "restarts": fitted.counted.restarts,
        "gaps": fitted.counted.gaps,
        "tanks": tanks.collect::<Vec<_>>(),
        "lifts": lifts.collect::<Vec<_>>(),
        "tests_wanted": wanted(fitted).iter().map(|test| test_words(test, names)).collect::<Vec<_>>(),
        "held_back": proposal.held_back.iter().map(|(tank, share)| json!({
            "tank": names.tanks[*tank], "share_of_the_way": share,
        })).collect::<Vec<_>>(),
        "settings": proposal.settings.iter().map(|change| json!({
            "key": change.key, "before": change.before, "after": change.after, "why": change.why,
        })).collect::<Vec<_>>(),
        "trial": trial.map(|trial| json!({
            "before_rms_percent": trial.before.rms_percent,
            "after_rms_percent": trial.after.rms_percent,
            "before_total_percent": trial.before.total_percent(),
            "after_total_percent": trial.after.total_percent(),
        })),
    })
}
