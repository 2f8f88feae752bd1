//! How much warmer air leaves a blower than it came in.

/// Rise of the air's temperature, K: isentropic compression from `atmosphere_pa` by `gauge_pa`, over the efficiency.
/// `intake_k` is the temperature of the air taken in. All losses are taken to heat the air.
#[must_use]
pub fn blower_rise_k(intake_k: f64, atmosphere_pa: f64, gauge_pa: f64, efficiency: f64) -> f64 {
    let ratio = 1.0 + gauge_pa.max(0.0) / atmosphere_pa;
    intake_k * (ratio.powf(2.0 / 7.0) - 1.0) / efficiency
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn air_leaves_a_poor_blower_hot() {
        // 20 kPa, efficiency 0.3, from 20 C at sea level: 51.6 K (ideal gas, k = 1.4).
        let rise = blower_rise_k(293.15, 101_325.0, 20_000.0, 0.3);
        assert!((rise - 51.6).abs() < 0.2, "{rise}");
        assert_eq!(blower_rise_k(293.15, 101_325.0, 0.0, 0.3), 0.0);
    }
}
