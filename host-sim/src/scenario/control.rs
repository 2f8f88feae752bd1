//! Reads `[control]` and the period of `[run]`.

use super::section::Section;
use super::units::{L_MIN, MM, PERCENT, whole};
use crate::precision::narrow;
use risertrim::fault::Place;
use risertrim::installation::Settings;

/// Reads `[control]`; every key left out keeps the controller's own default.
pub(super) fn read(top: &mut Section<'_>, period_s: f64) -> Settings {
    let mut settings = Settings {
        period_ms: whole(period_s * 1000.0),
        ..Settings::default()
    };
    let Some(mut section) = top.table("control") else {
        return settings;
    };
    section.belongs_to(Place::Settings);
    let mut real = |value: &mut f32, key, low: f64, high: f64, unit: f64| {
        if let Some(number) = section.maybe_number(key, low..=high) {
            *value = narrow(number * unit);
        }
    };
    real(&mut settings.ramp_per_s, "ramp_percent_per_s", 0.001, 100.0, PERCENT);
    real(&mut settings.peak_share, "peak_share_percent", 50.0, 97.0, PERCENT);
    real(&mut settings.trim_s, "trim_s", 0.0, 600.0, 1.0);
    real(
        &mut settings.valve_deadband,
        "valve_deadband_percent",
        0.0,
        5.0,
        PERCENT,
    );
    real(&mut settings.least_opening, "least_opening_percent", 0.0, 50.0, PERCENT);
    real(&mut settings.most_opening, "most_opening_percent", 50.0, 100.0, PERCENT);
    real(
        &mut settings.preset_opening,
        "preset_opening_percent",
        0.0,
        100.0,
        PERCENT,
    );
    real(
        &mut settings.delivery_spread,
        "delivery_spread_percent",
        2.0,
        100.0,
        PERCENT,
    );
    real(
        &mut settings.delivery_walk,
        "delivery_walk_percent_per_root_s",
        0.0,
        1.0,
        PERCENT,
    );
    real(
        &mut settings.delivery_shock,
        "delivery_shock_percent",
        0.0,
        100.0,
        PERCENT,
    );
    real(&mut settings.unseen_flow_m3_s, "unseen_flow_l_min", 0.006, 600.0, L_MIN);
    real(&mut settings.level_deadband_m, "level_deadband_mm", 0.0, 200.0, MM);
    real(
        &mut settings.share_accuracy,
        "share_accuracy_percent",
        0.5,
        50.0,
        PERCENT,
    );
    let mut count = |value: &mut u32, key, low: f64, high: f64, unit: f64| {
        if let Some(number) = section.maybe_number(key, low..=high) {
            *value = whole(number * unit);
        }
    };
    count(&mut settings.move_interval_s, "move_interval_s", 0.0, 600.0, 1.0);
    count(&mut settings.level_delay_s, "level_delay_s", 0.0, 600.0, 1.0);
    count(&mut settings.stop_every_s, "stop_every_min", 0.0, 10_080.0, 60.0);
    count(&mut settings.stop_for_s, "stop_for_min", 1.0, 20.0, 60.0);
    section.end();
    settings
}
