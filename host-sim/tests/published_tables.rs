//! Whole tables of published or separately computed figures: oxygen saturation, water, compression, pipes.
//!
//! `RISERTRIM_REFERENCE` names their folder. Where it is not set the tests say that they were skipped; with
//! `RISERTRIM_NO_SKIP` set as well that is a failure. The handful of figures beside the code run everywhere.

use risertrim::water::surface_tension_n_m;
use risertrim_sim::oxygen::saturation_mg_l;
use risertrim_sim::pipes::Series;
use risertrim_sim::plant::{Blower, BlowerSpec, Place};

type Row = Vec<String>;

/// Column names and lines of a table; `None`, said aloud, where the folder is not named.
fn table(file: &str) -> Option<(Row, Vec<Row>)> {
    let Some(folder) = std::env::var_os("RISERTRIM_REFERENCE") else {
        assert!(
            std::env::var_os("RISERTRIM_NO_SKIP").is_none(),
            "{file}: RISERTRIM_REFERENCE does not name the folder of reference figures, and skipping is forbidden"
        );
        println!("skipped: RISERTRIM_REFERENCE does not name the folder with {file}");
        return None;
    };
    let path = std::path::Path::new(&folder).join(file);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|why| panic!("{}: {why}", path.display()));
    let mut lines = text
        .lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
        .map(|line| line.split(',').map(|cell| cell.trim().to_owned()).collect::<Row>());
    let names = lines.next().expect("column names");
    let rows: Vec<Row> = lines.collect();
    assert!(rows.len() >= 5, "{file} has only {} lines", rows.len());
    Some((names, rows))
}

fn number(names: &Row, row: &Row, column: &str) -> f64 {
    let place = names
        .iter()
        .position(|name| name == column)
        .unwrap_or_else(|| panic!("no column {column}"));
    row[place]
        .parse()
        .unwrap_or_else(|_| panic!("{} in {column} is no figure", row[place]))
}

#[track_caller]
fn close(what: &str, value: f64, truth: f64, tolerance: f64) {
    assert!((value - truth).abs() <= tolerance, "{what}: {value} instead of {truth}");
}

#[test]
fn oxygen_saturation_is_that_of_benson_and_krause_and_near_that_of_garcia_and_gordon() {
    let Some((names, rows)) = table("do_saturation.csv") else {
        return;
    };
    for row in &rows {
        let at = |column| number(&names, row, column);
        let t = at("T_C");
        for (column, salt, atm) in [
            ("bk_S0", 0.0, 1.0),
            ("bk_S10", 10.0, 1.0),
            ("bk_S35", 35.0, 1.0),
            ("bk_S0_P0.9atm", 0.0, 0.9),
        ] {
            close(
                &format!("{column} at {t} C"),
                saturation_mg_l(t, salt, atm * 101_325.0),
                at(column),
                1.0e-3,
            );
        }
        // Another fit to the same physics (library `gsw`), and the trade's rounded table.
        close(
            "Garcia & Gordon",
            saturation_mg_l(t, 0.0, 101_325.0),
            at("gsw_S0_mgL"),
            4.0e-3,
        );
        close(
            "Boyd",
            saturation_mg_l(t, 0.0, 101_325.0),
            at("published_Boyd_S0"),
            0.03,
        );
    }
}

#[test]
fn water_has_the_density_viscosity_and_surface_tension_of_iapws() {
    let Some((names, rows)) = table("water_props.csv") else {
        return;
    };
    for row in &rows {
        let at = |column| number(&names, row, column);
        let t = at("T_C");
        let place = Place::new(0.0, t, 0.0);
        close(
            &format!("density at {t} C"),
            place.water_kg_m3,
            at("rho_IAPWS95"),
            5.0e-3,
        );
        let viscosity = at("mu_IAPWS_Pa_s");
        close(
            &format!("viscosity at {t} C"),
            place.water_pa_s,
            viscosity,
            1.0e-3 * viscosity,
        );
        #[allow(clippy::cast_possible_truncation)] // the core reckons in f32
        let tension = f64::from(surface_tension_n_m(t as f32));
        close(&format!("surface tension at {t} C"), tension, at("sigma_iapws"), 2.0e-6);
        // A straight line in salt, within a thousandth of TEOS-10 up to 35 C.
        let sea = at("rho_seawater35_gsw");
        close(
            &format!("sea water at {t} C"),
            Place::new(0.0, t, 35.0).water_kg_m3,
            sea,
            2.0e-3 * sea,
        );
    }
}

#[test]
fn compressing_air_takes_the_isentropic_power() {
    let Some((names, rows)) = table("compression_power.csv") else {
        return;
    };
    let place = Place {
        p_atm_pa: 101_325.0,
        ..Place::new(0.0, 20.0, 0.0)
    };
    let spec = BlowerSpec {
        points: vec![(0.0, 1.0), (1.0, 0.0)],
        curve_at_pa: 101_325.0,
        efficiency: 1.0,
        flow_multiplier: 1.0,
        pressure_multiplier: 1.0,
    };
    let blower = Blower::new(&spec, &place);
    for row in &rows {
        let ratio = number(&names, row, "r");
        // 1 L/s at 101325 Pa is 1.01325 L/s of free air (100 kPa, 20 C).
        let power = blower.power_w(1.013_25e-3, (ratio - 1.0) * 101_325.0, &place);
        let truth = number(&names, row, "P_isentropic_W");
        close(&format!("to {ratio}"), power, truth, 1.0e-4 * truth);
    }
}

#[test]
fn pipe_bores_are_those_of_the_table() {
    let Some((_, rows)) = table("pipes.csv") else { return };
    let all: Vec<_> = Series::ALL.into_iter().flat_map(|series| series.pipes()).collect();
    let mut found = 0;
    for row in &rows {
        let (standard, kind) = (&row[0], &row[1]);
        let series = match (standard.as_str(), kind.as_str()) {
            ("EN 1401-1", "SN4 SDR41") => Series::DrainSn4,
            ("EN 1401-1", "SN8 SDR34") => Series::DrainSn8,
            (s, _) if s.starts_with("EN 1329-1") => Series::SoilPvc,
            (s, _) if s.starts_with("EN 1451-1") => Series::SoilPp,
            (s, k) if s.starts_with("EN ISO 1452-2") && k.ends_with("PN10") => Series::PressurePn10,
            (s, k) if s.starts_with("EN ISO 1452-2") && k.ends_with("PN16") => Series::PressurePn16,
            (s, _) if s.starts_with("NPS") => Series::Schedule40,
            // SN 2 is a thin series that stands upright badly: not offered.
            _ => continue,
        };
        // A comma within the text of some lines: the figures are counted from the end.
        let figure = |from_end: usize| row[row.len() - from_end].parse::<f64>().expect("a figure");
        let (outside, bore) = (figure(4), figure(2));
        let pipe = all
            .iter()
            .find(|pipe| pipe.series == series && (pipe.outside_mm - outside).abs() < 0.01);
        let pipe = pipe.unwrap_or_else(|| panic!("{standard} {kind} OD {outside} is missing"));
        close(&format!("{standard} OD {outside}"), pipe.bore_mm, bore, 0.011);
        found += 1;
    }
    assert_eq!(found, all.len(), "every pipe is in the table");
}
