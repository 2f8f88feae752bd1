//! A number that may be missing, in the memory of a number.

/// A number or none. `Option<f32>` takes twice as much, and there are several for every tank.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct Possibly(f32);

impl Possibly {
    /// None.
    pub const NONE: Self = Self(f32::NAN);

    /// This number; none when it is not a number.
    pub const fn some(number: f32) -> Self {
        Self(number)
    }

    /// The number, if there is one.
    pub fn get(self) -> Option<f32> {
        (!self.0.is_nan()).then_some(self.0)
    }
}

impl Default for Possibly {
    fn default() -> Self {
        Self::NONE
    }
}
