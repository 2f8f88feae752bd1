//! Mistakes in place and scenario files: each names file, line and part.

use super::Said;
use risertrim_sim::scenario::Scenario;

const DEFAULT: &str = "default";
const SHARED: &str = "shared_tank";
const ONE_LIFT: &str = "one_lift";

/// A shipped place, what is written otherwise, and what is said of it.
type Case = (&'static str, &'static [(&'static str, &'static str)], &'static str);

const STANDPIPE: &str = "{ to = \"sump\", standpipe = { crest_mm = 755, bore_mm = 103.6 } }";
const LARGE_VALVE: &str = "valve = { sonic_conductance_dm3_s_bar = 14, critical_ratio = 0.3, characteristic = \"equal percentage\", rangeability = 30, stroke_s = 30, backlash_percent = 0.5 }";
const LARGE_LINE: &str = "air_line = { bore_mm = 32, length_m = 6, minor_loss = 3 }";
const LARGE_DIFFUSER: &str = "diffuser = { opening_kpa = 0.3, loss_kpa = 0.5, at_l_min = 150 }";
const EVENT: &str = "top_up_l = 20";
const CARP_AREA: &str = "area_m2 = 2.0";

/// Slips of people who write such a file for the first time.
const SLIPS: &[Case] = &[
    (
        SHARED,
        &[("[run]", "[run]\nhours = 1\nhours = 2")],
        "this is not TOML: duplicate key",
    ),
    (
        ONE_LIFT,
        &[("[[lift]]", "[lift]")],
        "write [[lift]] above each lift, with two brackets",
    ),
    (
        SHARED,
        &[("[[lift]]", "[lift]"), ("[[lift]]", "[lift]")],
        "write [[lift]] above each lift, with two brackets",
    ),
    (
        SHARED,
        &[("rim_mm = 950", "rim_mm = 950,5")],
        "a decimal point is a point: write rim_mm = 950.5",
    ),
    (
        SHARED,
        &[("rim_mm = 950", "rim_mm = 950 mm")],
        "write the number alone; its unit is the end of the key",
    ),
    (SHARED, &[("fish = true", "fish = yes")], "write fish = true"),
    (
        SHARED,
        &[("[place]", "[place]\nname = Pond")],
        "write a text in quotes: \"like this\"",
    ),
    (
        SHARED,
        &[("[place]", "[place]\nname = \u{201c}Pond\u{201d}")],
        "write straight quotes: \" before and after a text",
    ),
    (SHARED, &[("rim_mm = 950", "rim_cm = 95")], "write rim_mm = 950"),
];

/// Values and keys.
const KEYS: &[Case] = &[
    (SHARED, &[("rim_mm = 950", "rimm_mm = 950")], "did you mean rim_mm?"),
    (
        SHARED,
        &[("rim_mm = 950", "rim_mm = 950\ncolour = 1")],
        "there is no key colour",
    ),
    (
        SHARED,
        &[("rim_mm = 950", "rim_mm = 0.95")],
        "rim_mm is 0.95, allowed: 50 to 20000",
    ),
    (SHARED, &[("outlet_mm = 800", "outlet_mm = 0.8")], "allowed: 50"),
    (
        SHARED,
        &[("start_mm = 650", "start_mm = 0.65")],
        "start_mm is less than a millimetre",
    ),
    (
        SHARED,
        &[("start_mm = 650", "start_mm = \"650\"")],
        "start_mm must be a number, but is a text",
    ),
    (SHARED, &[("seed = 1", "seed = 1.5")], "seed must be a whole number"),
    (
        SHARED,
        &[("fish = true", "fish = \"yes\"")],
        "fish must be true or false",
    ),
    (
        SHARED,
        &[("name = \"large\"", "name = 3")],
        "name must be a text in quotes",
    ),
    (
        SHARED,
        &[("from = \"sump\"", "from = \"sumpp\"")],
        "did you mean \"sump\"?",
    ),
    (SHARED, &[("from = \"sump\"", "from = \"x1y2\"")], "there are: \"sump\""),
    (
        SHARED,
        &[("from = \"sump\"", "from = \"pond\"")],
        "is not the name of a tank",
    ),
    (
        SHARED,
        &[("characteristic = \"equal percentage\"", "characteristic = \"round\"")],
        "is none of the words for it",
    ),
    (SHARED, &[("priority = 1", "priority = 17")], "priority is 17"),
    (
        SHARED,
        &[("riser_bore_mm = 103.6", "riser_bore_mm = 1036")],
        "did the decimal point slip? 103.6 would do",
    ),
    (
        SHARED,
        &[("riser_bore_mm = 103.6", "riser_bore_mm = 4.08")],
        "if it is in inches, write",
    ),
    (SHARED, &[("riser_bore_mm = 103.6", "")], "riser_bore_mm is missing"),
    (
        SHARED,
        &[("[[0, 24], [450, 13], [900, 0]]", "[0, 24]")],
        "blower_l_min_kpa must be a list of pairs of numbers",
    ),
    (
        SHARED,
        &[("[[0, 24], [450, 13], [900, 0]]", "[[0, 24]]")],
        "blower_l_min_kpa has 1 points, allowed: 2",
    ),
    (
        SHARED,
        &[("outlet = [", "outlet = 3 #")],
        "outlet must be a list of tables",
    ),
    (SHARED, &[("[place]", "place = 3\n[placo]")], "place must be a table"),
    (SHARED, &[("[run]", "[run")], "this is not TOML"),
    (
        SHARED,
        &[(
            "may_stop = true\nvalve",
            "calibration = { losses = 1, covariance = [1, 2] }\nvalve",
        )],
        "covariance has 2 numbers, allowed: 6",
    ),
    (
        SHARED,
        &[("may_stop = true\nvalve", "calibration = { covariance = 1 }\nvalve")],
        "covariance must be a list of numbers",
    ),
    (
        SHARED,
        &[(
            "may_stop = true\nvalve",
            "calibration = { air_low_l_min = 1, air_high_l_min = 2 }\nvalve",
        )],
        "calibration.covariance is missing",
    ),
];

/// Values in another unit.
const UNITS: &[Case] = &[
    (
        SHARED,
        &[("efficiency_percent = 35", "efficiency_percent = 0.35")],
        "if it is in a share of 1, write 35",
    ),
    (
        SHARED,
        &[("backlash_percent = 0.5", "backlash_percent = 40")],
        "if it is in per mille, write 4",
    ),
    (
        SHARED,
        &[(
            "sonic_conductance_dm3_s_bar = 14",
            "sonic_conductance_dm3_s_bar = 1.4e-7",
        )],
        "if it is in m3/(s Pa), write 14",
    ),
    (
        SHARED,
        &[("sonic_conductance_dm3_s_bar = 14", "sonic_conductance_dm3_s_bar = 1200")],
        "if it is in L/(min bar), write 20",
    ),
];

/// Parts and how they fit together.
const PARTS: &[Case] = &[
    (SHARED, &[("[air]", "[control2]")], "there is no [air]"),
    (
        SHARED,
        &[("blower_l_min_kpa = [[0, 24], [450, 13], [900, 0]]", "")],
        "blower_l_min_kpa is missing",
    ),
    (SHARED, &[("[450, 13]", "[450, 30]")], "air must rise and pressure fall"),
    (
        SHARED,
        &[("efficiency_percent = 35", "relay_units = 2\nleast_speed_percent = 40")],
        "both say how the blower is set",
    ),
    (
        SHARED,
        &[("efficiency_percent = 35", "relay_units = 2.5")],
        "relay_units 2.5 is not a whole number",
    ),
    (
        SHARED,
        &[(CARP_AREA, "area_m2 = 2.0\narea_m2_at_mm = [[0, 1], [500, 2]]")],
        "both tell the water surface",
    ),
    (
        SHARED,
        &[(CARP_AREA, "area_m2_at_mm = [[100, 1], [50, 2]]")],
        "levels must begin at 0 and rise",
    ),
    (
        SHARED,
        &[("high_warn_mm = 735", "high_warn_mm = 775")],
        "is not below high_act_mm",
    ),
    (
        SHARED,
        &[("start_mm = 674", "start_mm = 900")],
        "start_mm 900 lies above rim_mm 850",
    ),
    (
        SHARED,
        &[("start_mm = 674", "start_mm = 380")],
        "start_mm lies outside the levels that act",
    ),
    (
        SHARED,
        &[(
            STANDPIPE,
            "{ to = \"sump\", standpipe = { crest_mm = 755, bore_mm = 103.6 } }, { to = \"sump\", standpipe = { crest_mm = 756, bore_mm = 103.6 } }, { to = \"sump\", standpipe = { crest_mm = 757, bore_mm = 103.6 } }, { to = \"sump\", standpipe = { crest_mm = 758, bore_mm = 103.6 } }",
        )],
        "outlets, allowed: at most",
    ),
    (
        SHARED,
        &[(
            "sensor = { noise_mm = 1, resolution_mm = 1 }\noutlet",
            "sensor = { level_mm_at_reading = [[4, 0], [4, 1500]] }\noutlet",
        )],
        "the two points must differ",
    ),
    (
        SHARED,
        &[(
            "sensor = { noise_mm = 1, resolution_mm = 1 }\noutlet",
            "sensor = { level_mm_at_reading = [[4, 0], [20, 1.5]] }\noutlet",
        )],
        "if the levels are in m, write [[4, 0], [20, 1500]]",
    ),
    (
        SHARED,
        &[(
            "sensor = { noise_mm = 1, resolution_mm = 1 }\noutlet",
            "sensor = { level_mm_at_reading = [[0, 4], [1500, 20]] }\noutlet",
        )],
        "each pair is [reading, mm]: write [[4, 0], [20, 1500]]",
    ),
    (
        SHARED,
        &[(
            "sensor = { noise_mm = 1, resolution_mm = 1 }\noutlet",
            "sensor = { level_mm_at_reading = [[4, 0], [20, 0.3]] }\noutlet",
        )],
        "each pair is [reading, mm above the floor of the tank]",
    ),
    (
        SHARED,
        &[(
            "sensor = { noise_mm = 1, resolution_mm = 1 }\noutlet",
            "sensor = { level_mm_at_reading = [[4, 0], [20, 700]] }\noutlet",
        )],
        "at 20 it reads 700 mm; the tank acts at 770 (where the sensor ends there the controller never sees that level",
    ),
    (
        SHARED,
        &[(
            "sensor = { noise_mm = 1, resolution_mm = 1 }\noutlet",
            "sensor = { level_mm_at_reading = [[4, 450], [20, 1500]] }\noutlet",
        )],
        "at 4 it reads 450 mm; the tank acts at 400",
    ),
    (
        SHARED,
        &[("name = \"carp tank\"", "name = \"sump\"")],
        "the name \"sump\" is taken",
    ),
    (SHARED, &[("name = \"large\"", "name = \" \"")], "cannot be a name"),
    (
        SHARED,
        &[("from = \"sump\"", "from = \"carp tank\"")],
        "a lift must lead from one tank to another",
    ),
    (
        SHARED,
        &[("outlet_mm = 800", "outlet_mm = 60")],
        "must stand at least 50 mm above the air inlet",
    ),
    (
        SHARED,
        &[("to = \"sump\", v_notch", "to = \"carp tank\", v_notch")],
        "an outlet cannot lead back into its own tank",
    ),
    (
        SHARED,
        &[(STANDPIPE, "{ to = \"sump\" }")],
        "no law tells how much water runs out",
    ),
    (
        SHARED,
        &[(
            STANDPIPE,
            "{ to = \"sump\", standpipe = { crest_mm = 755, bore_mm = 103.6 }, v_notch = { crest_mm = 1 } }",
        )],
        "2 laws at once",
    ),
    (
        SHARED,
        &[(
            STANDPIPE,
            "{ to = \"sump\", rectangular = { crest_mm = 700, width_mm = 300, channel_mm = 200 } }",
        )],
        "is narrower than the opening",
    ),
    (
        SHARED,
        &[(STANDPIPE, "{ to = \"sump\", table_l_min_at_mm = [[600, 5], [500, 9]] }")],
        "levels must rise, flows may not fall",
    ),
    (
        SHARED,
        &[("crest_mm = 755", "crest_mm = -5")],
        "lies below the tank's floor",
    ),
    (
        SHARED,
        &[("crest_mm = 755", "crest_mm = 900")],
        "lies above the tank's rim",
    ),
    (SHARED, &[(LARGE_VALVE, "")], "valve is missing"),
    (SHARED, &[(LARGE_LINE, "")], "air_line is missing"),
    (
        SHARED,
        &[(LARGE_DIFFUSER, "diffuser = { loss_kpa = 0.5 }")],
        "says nothing without the air",
    ),
    (
        SHARED,
        &[(
            "sonic_conductance_dm3_s_bar = 14,",
            "sonic_conductance_dm3_s_bar = 14, kv = 1.0,",
        )],
        "told twice: by",
    ),
    (
        SHARED,
        &[(
            "sonic_conductance_dm3_s_bar = 14, critical_ratio = 0.3",
            "measured_drop_kpa_l_min = [[1, 100], [2, 500], [4, 120]]",
        )],
        "off any valve's law",
    ),
    (
        SHARED,
        &[(
            "characteristic = \"equal percentage\", rangeability = 30, stroke_s = 30",
            "characteristic = \"linear\", flow_percent_at_opening_percent = [[0, 0], [100, 100]], stroke_s = 30",
        )],
        "the characteristic is told twice",
    ),
    (
        SHARED,
        &[(
            "characteristic = \"equal percentage\", rangeability = 30, stroke_s = 30",
            "flow_percent_at_opening_percent = [[0, 10], [100, 100]], stroke_s = 30",
        )],
        "must rise from [0, 0] to [100, 100]",
    ),
    (
        SHARED,
        &[("characteristic = \"equal percentage\"", "characteristic = \"linear\"")],
        "a linear valve has no rangeability",
    ),
];

/// What happens in a run.
const EVENTS: &[Case] = &[
    (SHARED, &[(EVENT, "")], "this event says no action"),
    (
        SHARED,
        &[(EVENT, "top_up_l = 20\nevaporate_l_day = 3")],
        "this event has 2 actions at once",
    ),
    (SHARED, &[(EVENT, "shut = true")], "does not concern a tank"),
    (
        SHARED,
        &[("over_min = 10", "over_min = 10\nover_s = 3")],
        "the time is told twice",
    ),
    (SHARED, &[("at_h = 21", "at_h = 30")], "it never happens"),
    (
        SHARED,
        &[(EVENT, "outlet = 2")],
        "outlet goes with outlet_clogged_percent",
    ),
    (
        SHARED,
        &[(
            "tank = \"sump\"\ntop_up_l = 20\nover_min = 10",
            "tank = \"carp tank\"\noutlet_clogged_percent = 20\noutlet = 3",
        )],
        "has 2 outlets",
    ),
    (
        SHARED,
        &[(EVENT, "sensor_swapped_with = \"sump\"")],
        "cannot be swapped with itself",
    ),
    (
        SHARED,
        &[(
            "foul_percent = 20                   # less water at the same air\nover_h = 20",
            "air_loop_mm = 300\nfoul_percent = 20",
        )],
        "air_loop_mm means something only beside",
    ),
    (
        SHARED,
        &[(
            "foul_percent = 20                   # less water at the same air\nover_h = 20",
            "untold = true\nfoul_percent = 20",
        )],
        "untold means something only beside shut",
    ),
    (
        SHARED,
        &[(
            "foul_percent = 20                   # less water at the same air\nover_h = 20",
            "clean = false",
        )],
        "= false: nothing would happen",
    ),
    (
        SHARED,
        &[("tank = \"sump\"\ntop_up_l = 20\nover_min = 10", "board = \"naps\"")],
        "starts afresh",
    ),
    (
        SHARED,
        &[(
            "tank = \"sump\"\ntop_up_l = 20\nover_min = 10",
            "surge_period_s = 5\nblower_sag_percent = 3",
        )],
        "surge_period_s means something only beside",
    ),
    (
        SHARED,
        &[("tank = \"sump\"\ntop_up_l = 20\nover_min = 10", "clock_wraps = false")],
        "clock_wraps = false: nothing would happen",
    ),
    (
        SHARED,
        &[("tank = \"sump\"\ntop_up_l = 20\nover_min = 10", "mains = \"fails\"")],
        "[air] tells of no backup that the blower could then run on (write power = \"fails\" where blower and board stop then",
    ),
    (
        DEFAULT,
        &[("\nl_min = 150", "\nl_min = 9000")],
        "if it is in L/h, write 150",
    ),
    (
        DEFAULT,
        &[("tank = \"sump\"\ntop_up_l = 30\nover_min = 10", "gauge_shift_kpa = 1")],
        "there is no manifold gauge",
    ),
];

/// What the controller itself refuses or warns of, brought back to the line.
const CONTROLLER: &[Case] = &[
    (
        SHARED,
        &[("target_l_min = 180\nair_floor", "target_l_min = 2000\nair_floor")],
        "at the middle of its source's band it can be asked for",
    ),
    (
        SHARED,
        &[("to = \"sump\", v_notch", "to = \"pond\", v_notch")],
        "is not the name of a tank (or \"away\")",
    ),
];

/// The text with each change made, which must be in it.
fn changed(base: &str, changes: &[(&str, &str)]) -> String {
    let text = Scenario::shipped()
        .iter()
        .find(|(name, _)| *name == base)
        .map(|(_, text)| *text);
    let mut text = text.unwrap_or_else(|| panic!("no place {base}")).to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{base} does not hold {from}");
        text = text.replacen(from, to, 1);
    }
    text
}

/// Makes every mistake.
pub fn provoke(all: &mut Said) {
    for (base, changes, says) in SLIPS
        .iter()
        .chain(KEYS)
        .chain(UNITS)
        .chain(PARTS)
        .chain(EVENTS)
        .chain(CONTROLLER)
    {
        let said = said_of(&changed(base, changes));
        all.take(&format!("{changes:?}"), &said, &["mine.toml", says]);
    }
    let mut many = changed(SHARED, &[]);
    for number in 0..12 {
        many.push_str(&format!("\n[[tank]]\nname = \"spare {number}\"\n"));
    }
    all.take(
        "many tanks",
        &said_of(&many),
        &["14 tanks are more than the 12 that can be run"],
    );
}

/// The whole report on a file, warnings too; nothing for a sound one.
fn said_of(text: &str) -> String {
    match Scenario::parse("mine.toml", text) {
        Ok(scenario) => scenario
            .warnings
            .iter()
            .map(|warning| format!("mine.toml: {warning}\n"))
            .collect(),
        Err(report) => report.to_string(),
    }
}
