//! The scenarios that come with the program.

/// Name and text of each shipped scenario; the first is the default.
const SHIPPED: &[(&str, &str)] = &[
    ("default", include_str!("../../scenarios/default.toml")),
    ("one_lift", include_str!("../../scenarios/one_lift.toml")),
    ("shared_tank", include_str!("../../scenarios/shared_tank.toml")),
    ("tight_blower", include_str!("../../scenarios/tight_blower.toml")),
];

/// Trials: scenarios meant to stress or to commission, not to show an ordinary day.
const TRIALS: &[(&str, &str)] = &[
    (
        "trials/shared_tank_no_stops",
        include_str!("../../scenarios/trials/shared_tank_no_stops.toml"),
    ),
    (
        "trials/commission",
        include_str!("../../scenarios/trials/commission.toml"),
    ),
];

pub(super) const fn shipped() -> &'static [(&'static str, &'static str)] {
    SHIPPED
}

pub(super) const fn trials() -> &'static [(&'static str, &'static str)] {
    TRIALS
}
