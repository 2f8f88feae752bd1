//! What fish, and the bacteria that live on what they leave, use.

/// Oxygen used in the whole system for each kg of feed, kg: fish, nitrification and other bacteria. Common practice for
/// recirculating systems, 0.4 to 0.6 (fish alone 0.20 to 0.35; ponds with their mud 1.25, Boyd).
pub const WHOLE_SYSTEM_KG_KG: f64 = 0.5;
/// Highest hour over the mean of the day: demand can double for one to six hours after a meal (Boyd); spread over several
/// meals that is about 1.4 (common practice).
const WORST_HOUR: f64 = 1.4;
/// Use of fish that are not fed, mg of oxygen for each kg and hour, at 20 C: the low end of 200 to 500 (common practice).
const UNFED_MG_KG_H: f64 = 200.0;
/// Growth of the unfed use for each degree (common practice: it doubles in ten).
const PER_DEGREE: f64 = 1.07;

/// Fish and feed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stock {
    /// Mass of all fish, kg.
    pub fish_kg: f64,
    /// Feed a day, kg.
    pub feed_kg_day: f64,
    /// Oxygen used in the whole system for each kg of feed, kg; see [`WHOLE_SYSTEM_KG_KG`].
    pub oxygen_kg_kg: f64,
}

/// What a stock uses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// By the feed, mean of the day, g/h.
    pub by_feed_g_h: f64,
    /// By the mass of unfed fish, g/h.
    pub by_mass_g_h: f64,
    /// To be provided: the larger of the two at the worst hour, g/h.
    pub worst_g_h: f64,
    /// Carbon dioxide made at the worst hour, g/h: one molecule for each of oxygen, 1.375 g/g.
    pub carbon_dioxide_g_h: f64,
}

impl Stock {
    /// What it uses in water of this temperature.
    #[must_use]
    pub fn demand(&self, water_c: f64) -> Demand {
        let by_feed = self.feed_kg_day * self.oxygen_kg_kg * 1000.0 / 24.0;
        let by_mass = self.fish_kg * UNFED_MG_KG_H * 1e-3 * PER_DEGREE.powf(water_c - 20.0);
        let worst = WORST_HOUR * by_feed.max(by_mass);
        Demand {
            by_feed_g_h: by_feed,
            by_mass_g_h: by_mass,
            worst_g_h: worst,
            carbon_dioxide_g_h: 44.01 / 31.999 * worst,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn feed_or_mass_whichever_asks_for_more_counts() {
        let fed = Stock {
            fish_kg: 50.0,
            feed_kg_day: 2.4,
            oxygen_kg_kg: WHOLE_SYSTEM_KG_KG,
        }
        .demand(20.0);
        // 2.4 kg x 0.5 over 24 h.
        assert!((fed.by_feed_g_h - 50.0).abs() < 1e-9 && (fed.worst_g_h - 70.0).abs() < 1e-9);
        let resting = Stock {
            fish_kg: 400.0,
            feed_kg_day: 0.0,
            oxygen_kg_kg: WHOLE_SYSTEM_KG_KG,
        }
        .demand(20.0);
        assert!((resting.by_mass_g_h - 80.0).abs() < 1e-9 && (resting.worst_g_h - 112.0).abs() < 1e-9);
        // 1.375 g of carbon dioxide for a gram of oxygen.
        assert!((fed.carbon_dioxide_g_h / fed.worst_g_h - 1.375).abs() < 1e-3);
    }

    #[test]
    fn unfed_fish_use_twice_as_much_in_water_ten_degrees_warmer() {
        let stock = Stock {
            fish_kg: 10.0,
            feed_kg_day: 0.0,
            oxygen_kg_kg: WHOLE_SYSTEM_KG_KG,
        };
        let ratio = stock.demand(28.0).by_mass_g_h / stock.demand(18.0).by_mass_g_h;
        assert!((1.9..2.05).contains(&ratio), "{ratio}");
    }
}
