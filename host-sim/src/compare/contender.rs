//! Who sets the valves.

use serde::Serialize;

/// Who sets the valves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Contender {
    /// Trimmed once by hand with bucket and stopwatch, then left: new targets are not followed.
    HandOnce,
    /// Trimmed by hand every week, and the one lift whose target changes when it changes.
    HandWeekly,
    /// One PI controller a lift on the flow from outlet law and level slope.
    Pi,
    /// The same PI controllers on the flow that risertrim's filter believes.
    PiOnFilter,
    /// risertrim.
    Risertrim,
    /// risertrim, told the installation as it truly is.
    Knowing,
}

impl Contender {
    /// All of them, in the order of the table.
    pub const ALL: [Self; 6] = [
        Self::HandOnce,
        Self::HandWeekly,
        Self::Pi,
        Self::PiOnFilter,
        Self::Risertrim,
        Self::Knowing,
    ];

    /// A short name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::HandOnce => "hand, once",
            Self::HandWeekly => "hand, weekly",
            Self::Pi => "PI",
            Self::PiOnFilter => "PI on filter",
            Self::Risertrim => "risertrim",
            Self::Knowing => "knowing all",
        }
    }

    /// Who it is, in a sentence.
    #[must_use]
    pub const fn about(self) -> &'static str {
        match self {
            Self::HandOnce => "trimmed by hand with bucket and stopwatch before the first day, then left",
            Self::HandWeekly => "the same, again every week, and the lift whose target changes when it changes",
            Self::Pi => "one PI controller a lift on the flow from outlet law and level slope, SIMC tuning",
            Self::PiOnFilter => "the same PI controllers on the flow that risertrim's filter believes",
            Self::Risertrim => "this project, told what the scenario tells it",
            Self::Knowing => "this project, told the place as it truly is: what is left is noise",
        }
    }
}
