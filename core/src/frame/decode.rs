//! From a payload back to its value.

use serde::de::DeserializeOwned;

/// An intact payload that is not the value asked for: written by another version, or for smaller capacities than needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Undecodable;

impl core::fmt::Display for Undecodable {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("the bytes are intact but are no value of this kind")
    }
}

impl core::error::Error for Undecodable {}

/// The value that these bytes are, all of them.
///
/// # Errors
/// [`Undecodable`] when they are another value, too few or too many.
pub fn decode<T: DeserializeOwned>(payload: &[u8]) -> Result<T, Undecodable> {
    match postcard::take_from_bytes(payload) {
        Ok((value, [])) => Ok(value),
        _ => Err(Undecodable),
    }
}
