//! Noise from a fixed seed, without a library whose next version might draw other numbers.

/// A stream of numbers: SplitMix64 (Steele, Lea & Flood 2014).
#[derive(Clone, Debug)]
pub struct Noise(u64);

impl Noise {
    /// The stream of this seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Even between 0 and 1.
    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        #[allow(clippy::cast_precision_loss)] // 53 bits fit
        let share = (z >> 11) as f64;
        share / 9_007_199_254_740_992.0
    }

    /// Normal, mean 0, standard deviation 1 (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (core::f64::consts::TAU * self.even()).cos()
    }
}
