//! When a level has come to rest.

use crate::time::Held;

/// Longest wait for a level to come to rest, s.
pub const REST_AT_MOST_S: u32 = 1200;
/// Time over which a resting level is compared, s.
const OVER_S: u32 = 60;
/// A level that moved less than this over [`OVER_S`] rests, m.
const AT_REST_M: f32 = 0.000_8;

/// Watches one level.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Rest {
    since: Held,
    from_m: f32,
}

impl Rest {
    /// Notes a level; true once it has moved less than 0.8 mm over a minute.
    pub fn note(&mut self, level_m: f32, step_ms: u32) -> bool {
        if self.since.ms() == 0 {
            self.from_m = level_m;
        }
        self.since.add(step_ms);
        if !self.since.reached_s(OVER_S) {
            return false;
        }
        self.since.clear();
        (level_m - self.from_m).abs() < AT_REST_M
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_that_still_moves_does_not_rest() {
        let mut rest = Rest::default();
        assert!((0..600u16).all(|second| !rest.note(0.7 - 2.0e-5 * f32::from(second), 1000)));
        let mut rest = Rest::default();
        assert!((0..120u16).any(|second| rest.note(0.7 - 1.0e-5 * f32::from(second), 1000)));
    }
}
