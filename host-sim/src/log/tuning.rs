//! Settings of an installation changed by name, to see what another tuning would have decided.

use super::entry::HostInstallation;
use serde_json::Value;
use std::fmt;

/// Why settings could not be changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TuningError {
    /// Not `NAME=VALUE`.
    Shape(String),
    /// There is no such setting.
    Unknown {
        /// The name given.
        name: String,
        /// Those there are.
        known: Vec<String>,
    },
    /// Not a number, or not of the kind this setting is.
    Value {
        /// The name.
        name: String,
        /// The value given.
        value: String,
    },
    /// The installation cannot be run with it: every fault found.
    Refused(Vec<String>),
}

impl fmt::Display for TuningError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Shape(text) => write!(
                f,
                "\"{text}\" is no change of a setting: give NAME=VALUE, like trim_s=30"
            ),
            Self::Unknown { name, known } => {
                write!(f, "there is no setting \"{name}\"; there are: {}", known.join(", "))
            }
            Self::Value { name, value } => write!(f, "setting {name}: \"{value}\" is no value for it"),
            Self::Refused(faults) => write!(f, "the installation cannot be run so:\n{}", faults.join("\n")),
        }
    }
}

impl std::error::Error for TuningError {}

/// The installation with some settings changed, each as `NAME=VALUE` in the names and units of
/// [`risertrim::installation::Settings`].
///
/// # Errors
/// A name or a value is wrong, or what comes out cannot be run.
pub fn tuned(installation: &HostInstallation, changes: &[String]) -> Result<HostInstallation, TuningError> {
    let mut tuned = installation.clone();
    let mut settings = serde_json::to_value(tuned.settings).unwrap_or(Value::Null);
    for change in changes {
        let (name, text) = change
            .split_once('=')
            .ok_or_else(|| TuningError::Shape(change.clone()))?;
        let (name, text) = (name.trim(), text.trim());
        let wrong = || TuningError::Value {
            name: name.to_owned(),
            value: text.to_owned(),
        };
        let known = settings
            .as_object()
            .map(|all| all.keys().cloned().collect())
            .unwrap_or_default();
        let Some(place) = settings.get_mut(name) else {
            let name = name.to_owned();
            return Err(TuningError::Unknown { name, known });
        };
        *place = serde_json::from_str(text).map_err(|_| wrong())?;
        tuned.settings = serde_json::from_value(settings.clone()).map_err(|_| wrong())?;
    }
    let faults = risertrim::validate::validate(&tuned);
    if faults.can_start() {
        Ok(tuned)
    } else {
        let fatal = faults.named().iter().filter(|fault| !fault.only_warns);
        Err(TuningError::Refused(fatal.map(ToString::to_string).collect()))
    }
}
