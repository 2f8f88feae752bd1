//! From what was read off a bucket, a watch or a level to a flow with its standard deviation (GUM, JCGM 100).

/// How far a bucket's mark may be off, L, anywhere within it alike (common practice for a 10 L bucket, no source).
const MARK_L: f64 = 0.1;
/// Standard deviation of starting, and of stopping, a watch by hand, s (common practice, no source).
const HAND_S: f64 = 0.1;
/// Standard deviation of a tank's area, share: 5 mm of a 1 m diameter.
const AREA: f64 = 0.01;
/// Standard deviation of a level read, mm.
const LEVEL_MM: f64 = 1.0;
/// Standard deviation of the moment at which a level was read, s.
const MOMENT_S: f64 = 0.5;

/// Fills of one bucket at one air: L and s of each. Returns L/min and its standard deviation in L/min.
///
/// The mark is the same for all fills and does not average out; nor does the hand on the watch; the scatter does. One fill
/// cannot show its scatter: it is taken to be 0.1 s.
#[must_use]
#[allow(clippy::cast_precision_loss)]
pub fn bucket(fills: &[(f64, f64)]) -> (f64, f64) {
    let count = fills.len().max(1) as f64;
    let litres = fills.iter().map(|fill| fill.0).sum::<f64>() / count;
    let seconds = fills.iter().map(|fill| fill.1).sum::<f64>() / count;
    let mark = MARK_L / 3.0_f64.sqrt() / litres;
    let hand = std::f64::consts::SQRT_2 * HAND_S / seconds;
    let flow = 60.0 * litres / seconds;
    let scatter = if fills.len() < 2 {
        HAND_S / seconds
    } else {
        let off = |fill: &(f64, f64)| (60.0 * fill.0 / fill.1 / flow - 1.0).powi(2);
        (fills.iter().map(off).sum::<f64>() / (count - 1.0) / count).sqrt()
    };
    (flow, flow * (mark * mark + hand * hand + scatter * scatter).sqrt())
}

/// A rise of level in a tank with its outlet shut: L/min and its standard deviation in L/min.
#[must_use]
pub fn level_rise(area_m2: f64, rise_mm: f64, seconds: f64) -> (f64, f64) {
    let flow = area_m2 * rise_mm / seconds * 60.0;
    let level = std::f64::consts::SQRT_2 * LEVEL_MM / rise_mm.abs().max(0.1);
    let time = std::f64::consts::SQRT_2 * MOMENT_S / seconds;
    (flow, flow.abs() * (AREA * AREA + level * level + time * time).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_fills_of_a_bucket_are_good_for_one_percent() {
        // GUM budget worked out by hand: mark 0.577 %, hand 0.575 %, scatter of the three times 0.62 %: 1.02 % together.
        let (flow, sigma) = bucket(&[(10.0, 24.4), (10.0, 24.9), (10.0, 24.5)]);
        assert!((flow / 60.0 - 0.406_50).abs() < 1.0e-4, "{flow}");
        assert!((sigma / flow - 0.010_24).abs() < 1.0e-4, "{}", sigma / flow);
    }

    #[test]
    fn one_fill_of_six_seconds_is_good_for_three_percent() {
        let (flow, sigma) = bucket(&[(10.0, 6.0)]);
        assert!((flow - 100.0).abs() < 1.0e-9);
        assert!((sigma / flow - 0.029_44).abs() < 1.0e-4, "{}", sigma / flow);
    }

    #[test]
    fn a_rise_of_a_hand_in_three_minutes_is_good_for_two_percent() {
        // 1 m diameter, 100 mm in 196 s: area 1 %, level 1.414 %, time 0.361 %: 1.77 % together.
        let (flow, sigma) = level_rise(std::f64::consts::FRAC_PI_4, 100.0, 196.0);
        assert!((flow / 60.0 - 0.400_71).abs() < 1.0e-4, "{flow}");
        assert!((sigma / flow - 0.017_69).abs() < 1.0e-4, "{}", sigma / flow);
    }
}
