//! Mistakes in files of measured points: each names file, line, column and what to do.

use super::Said;
use super::commands::Desk;

/// Heading and rows, and what is said of them; measured at the filter's lift of the default place.
const CASES: &[(&str, &str)] = &[
    (
        "air_l_min,water_l_min,source_level_mm\n20,5\n",
        "2 values where the header has 3 columns (leave a value empty",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,12,5,1050\n",
        "a decimal comma splits a value in two",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n",
        "there is not one row of values",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n200,150,1050\n100,90,1050\n200,15,1050\n",
        "15.0 L/min of water, and 150 L/min in line 2, at the same air and levels",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,much,1050\n",
        "line 2: water_l_min = much: this is not a number",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,-5,1050\n",
        "a flow cannot be negative; allowed: 0 and more (leave the row out",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,50,99999\n",
        "this is outside what any lift has; allowed: 0 to 20000",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,50,\n",
        "the value is missing: the level of the tank the lift draws from",
    ),
    (
        "air_l_min,air_l_min,water_l_min,source_level_mm\n20,20,50,1050\n",
        "this column is there twice",
    ),
    (
        "air_l_min,water_l_min,source_level_mm,colour\n20,50,1050,red\n",
        "there is no such column (known are",
    ),
    (
        "air_l_min,water_l_s,source_level_mm\n20,50,1050\n",
        "? The unit stands in the name",
    ),
    (
        "air_l_min,water_l_min\n20,50\n",
        "source_level_mm: the column is missing",
    ),
    (
        "opening_percent,water_l_min,source_level_mm\n20,50,1050\n",
        "an opening tells the air only with the manifold's pressure (or give air_l_min)",
    ),
    (
        "manifold_kpa,water_l_min,source_level_mm\n20,50,1050\n",
        "a pressure tells the air only with the valve's opening",
    ),
    (
        "water_l_min,source_level_mm\n50,1050\n",
        "no column tells the air (give air_l_min, or",
    ),
    ("air_l_min,source_level_mm\n50,1050\n", "no column tells the water"),
    (
        "air_l_min,water_l_min,source_level_mm,time_s\n20,50,1050,60\n40,60,1050,30\n",
        "this does not come after 60 s on line 2 (put the rows in the order",
    ),
    (
        "air_l_min,water_l_min,source_level_mm,lift\n20,50,1050,pond\n",
        "the installation has no such lift; allowed: fry, filter, beds",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,50,2050\n",
        "source_level_mm = 2050: the tank that \"filter\" draws from runs over at 1300 mm: no level stands above its rim (levels are mm",
    ),
    (
        "air_l_min,water_l_min,source_level_mm,receiver_level_mm\n20,50,1050,990\n",
        "receiver_level_mm = 990: the tank that \"filter\" fills runs over at",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,50,20\n",
        "at this level the lift cannot draw, or everything stands under water",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,50,1.05\n",
        "if it is in m, write 1050",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,50,5\n",
        "levels are above the floor of the tank the lift draws from",
    ),
    (
        "air_l_min,opening_percent,manifold_kpa,water_l_min,source_level_mm\n,30,,50,1050\n",
        "nothing tells the air here (or give both opening_percent and manifold_kpa)",
    ),
    (
        "air_l_min,water_l_min,litres,seconds,source_level_mm\n20,,,,1050\n",
        "nothing tells the water here (or litres and seconds, or two levels and seconds)",
    ),
    (
        "air_l_min,litres,seconds,source_level_mm\n20,10,,1050\n",
        "a flow needs the time it took",
    ),
    (
        "air_l_min,level_start_mm,level_end_mm,seconds,source_level_mm\n20,300,,60,1050\n",
        "a rise needs both levels",
    ),
    (
        "air_l_min,level_start_mm,level_end_mm,seconds,source_level_mm\n20,300,200,60,1050\n",
        "the level falls from 300 mm: that is a negative flow (shut the tank's outlets",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,5000,1050\n40,9000,1050\n",
        "the water seems to be in L/h: divide by 60",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,0.8,1050\n60,1.9,1050\n",
        "multiply by 60",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n0,90,1050\n60,140,1050\n",
        "water without any air, though the outlet stands above the source (check the levels",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n2000,80,1050\n4000,120,1050\n",
        "times what this lift's own curve needs for such flows",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n60,900,1050\n80,900,1050\n",
        "check the unit of the water, the lift it is of, and its bore",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n60,50,60\n80,60,60\n",
        "by its heights can give none at these levels (check source_level_mm",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n60,130,1050\n61,131,1050\n",
        "are at about one air",
    ),
    (
        "air_l_min,water_l_min,source_level_mm\n20,0,1050\n",
        "no point gave any water: nothing can be fitted",
    ),
    (
        "air_l_min,water_l_min,source_level_mm,lift\n60,130,1050,fry\n",
        "has no point of this lift",
    ),
    (
        "air_l_min,litres,source_level_mm\n20,10,1050\n",
        "the column is missing: litres or a rise of level tell a flow only with the time they took",
    ),
    (
        "air_l_min,level_start_mm,seconds,source_level_mm\n20,300,60,1050\n",
        "level_end_mm: the column is missing: a rise needs both levels",
    ),
    (
        "air_l_min,level_end_mm,seconds,source_level_mm\n20,300,60,1050\n",
        "level_start_mm: the column is missing: a rise needs both levels",
    ),
    (
        "air_l_min,seconds,source_level_mm\n20,60,1050\n",
        "the column is missing: seconds alone tell no flow (or give level_start_mm and level_end_mm",
    ),
];

/// Makes every mistake.
pub fn provoke(all: &mut Said) {
    let desk = Desk::new("points");
    for (text, says) in CASES {
        let points = desk.put("points.csv", text);
        let said = desk.say(&["calibrate", &points, "--lift", "filter"]);
        all.take(text, &said, &["points.csv", says]);
    }
    let points = desk.put("points.csv", "air_l_min,water_l_min,source_level_mm\n20,50,1050\n");
    desk.refuse(
        all,
        &["calibrate", &points],
        "which lift is this of? (add a column lift, or",
    );
    let points = desk.put(
        "weak.csv",
        "air_l_min,water_l_min,source_level_mm\n20,14,1050\n40,22,1050\n60,26,1050\n90,29,1050\n",
    );
    let written = desk.path("weak.toml");
    desk.refuse(
        all,
        &["calibrate", &points, "--lift", "filter", "--write", &written],
        "times its entrance_loss of 0.5, which no mesh or foot has; nothing was written",
    );
    assert!(!std::path::Path::new(&written).exists());
}
