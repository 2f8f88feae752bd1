//! About how long fish have when all air stops.

use crate::math::seldom::{larger, limit, positive, whole};
use crate::site::Site;
use crate::tank::Stock;
use crate::water::atmosphere_pa;

/// Share of saturation from which the reckoning starts: a stocked tank with running air stands at 80 to 90 % (common practice,
/// no source).
const START_SHARE: f32 = 0.8;

/// Oxygen of water in balance with air, mg/L, within 1 % from 0 to 35 C in fresh water: `468 / (31.6 + T)`, a fit from memory
/// that gives 11.25, 9.07 and 7.60 at 10, 20 and 30 C (tables: 11.28, 9.08, 7.54); less by 0.55 % for each g/kg of salt, and in
/// proportion to the pressure of the air.
#[must_use]
pub fn saturation_mg_l(site: &Site) -> f32 {
    let fresh = 468.0 / (31.6 + limit(site.water_c, 0.0, 40.0));
    let salt = larger(1.0 - 0.0055 * site.salinity_g_kg, 0.5);
    fresh * salt * atmosphere_pa(site.altitude_m) / 101_325.0
}

/// Minutes until the oxygen in this much water is down to what the fish need, if no air comes at all. `None` when their mass
/// is not told. `saturation_mg_l` is the oxygen of water in balance with the air at this site.
///
/// Water that neither gains nor loses oxygen but by the fish: bacteria and sludge use more, the surface gives a little. A
/// figure to hurry by, not to rely on.
#[must_use]
pub fn minutes_left(stock: &Stock, volume_m3: impl FnOnce() -> f32, saturation_mg_l: f32) -> Option<u16> {
    let used_mg_min = stock.fish_kg * stock.oxygen_use_mg_kg_h / 60.0;
    if !(used_mg_min > 0.0) {
        return None;
    }
    let spare_mg_l = positive(START_SHARE * saturation_mg_l - stock.least_oxygen_mg_l);
    let minutes = spare_mg_l * 1000.0 * positive(volume_m3()) / used_mg_min;
    Some(whole(minutes, 60_000.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(water_c: f32) -> Site {
        Site {
            altitude_m: 0.0,
            water_c,
            salinity_g_kg: 0.0,
        }
    }

    #[test]
    fn saturation_is_within_one_percent_of_the_tables() {
        // Saturation of fresh water at sea level, mg/L (Boyd's table).
        for (celsius, table) in [(10.0, 11.277), (20.0, 9.077), (30.0, 7.539)] {
            let at = saturation_mg_l(&site(celsius));
            assert!((at / table - 1.0).abs() < 0.01, "{celsius} C: {at}");
        }
    }

    #[test]
    fn the_time_left_is_spare_oxygen_over_what_the_fish_use() {
        // 40 kg in 1 m3 at 300 mg/kg/h use 200 mg/min of 5000 mg (8 to 3 mg/L): 25 minutes.
        let stock = Stock {
            fish_kg: 40.0,
            oxygen_use_mg_kg_h: 300.0,
            least_oxygen_mg_l: START_SHARE * saturation_mg_l(&site(20.0)) - 5.0,
        };
        let minutes = minutes_left(&stock, || 1.0, saturation_mg_l(&site(20.0))).unwrap();
        assert!((24..=25).contains(&minutes), "{minutes}");
    }

    #[test]
    fn nothing_is_said_where_no_fish_are_told() {
        assert_eq!(minutes_left(&Stock::UNTOLD, || 1.0, saturation_mg_l(&site(20.0))), None);
    }
}
