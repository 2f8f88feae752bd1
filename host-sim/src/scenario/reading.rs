//! Reads a whole file: its parts one after the other, then what they mean together.

use super::happening::Names;
use super::log::{Draft, Log};
use super::report::{Kind, Report};
use super::section::Section;
use super::{LIFTS, Scenario, TANKS, check, control, lift, outlet, site, slip, tank, timeline, truth};
use crate::plant::PlantSpec;
use risertrim::fault::Place;
use risertrim::installation::{Installation, Lift};
use toml::de::DeTable;

/// How a file is read.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Wanted {
    /// The installation alone: starting levels may be missing.
    Installation,
    /// A day to run.
    Day,
    /// A day as its author surely means it: what can run, but tells nothing, is a fault too.
    CheckedDay,
}

/// Reads a file.
pub(super) fn read(name_of_file: &str, text: &str, wanted: Wanted) -> Result<Scenario, Report> {
    let (table, errors) = DeTable::parse_recoverable(text);
    let log = Log::new(text);
    for error in &errors {
        let at = error.span().map_or(text.len(), |bytes| bytes.start);
        if !slip::follows(text, at) || error.message() != "duplicate key" {
            syntax(&log, error, text);
        }
    }
    let scenario = whole(&log, table.get_ref(), wanted != Wanted::Installation);
    let mut findings = log.into_findings();
    if wanted == Wanted::CheckedDay {
        let untold = findings.iter_mut().filter(|finding| finding.kind == Kind::Untold);
        untold.for_each(|finding| finding.only_warns = false);
    }
    if !errors.is_empty() {
        // What the parser made of the rest may be incomplete: keep only what is wrong in itself, on other lines.
        let broken: Vec<usize> = findings
            .iter()
            .filter(|f| f.kind == Kind::Syntax)
            .map(|f| f.line)
            .collect();
        findings.retain(|f| {
            let by_itself = matches!(f.kind, Kind::UnknownKey | Kind::WrongType | Kind::OutOfRange) && !f.only_warns;
            f.kind == Kind::Syntax || (by_itself && !broken.contains(&f.line))
        });
    }
    match scenario {
        Some(mut scenario) if findings.iter().all(|finding| finding.only_warns) => {
            findings.sort_by_key(|finding| finding.line);
            scenario.warnings = findings.iter().map(ToString::to_string).collect();
            Ok(scenario)
        }
        _ => Err(Report::new(name_of_file, text, findings)),
    }
}

fn syntax(log: &Log<'_>, error: &toml::de::Error, text: &str) {
    let bytes = error.span().unwrap_or(text.len()..text.len());
    let hint = slip::hint(text, bytes.start);
    log.fault(
        None,
        Draft {
            kind: Kind::Syntax,
            bytes,
            part: String::new(),
            key: String::new(),
            allowed: "here".to_owned(),
            message: format!("this is not TOML: {}", error.message()),
            hint,
        },
    );
}

fn whole(log: &Log<'_>, table: &DeTable<'_>, start_needed: bool) -> Option<Scenario> {
    let mut top = Section::top(log, table);
    let (hours, seed, period_s) = run(&mut top);
    let (name, site, place) = site::place(&mut top);
    let air = site::air(&mut top, &place);
    let settings = control::read(&mut top, period_s);
    let truth = truth::read(&mut top);

    let tank_sections = top.tables("tank");
    let lift_sections = top.tables("lift");
    counted(&top, "tank", tank_sections.len(), TANKS);
    counted(&top, "lift", lift_sections.len(), LIFTS);
    let tank_names = names(&tank_sections, "tank");
    let lift_names = names(&lift_sections, "lift");

    let mut tanks = heapless::Vec::new();
    let mut tank_specs = Vec::new();
    for (index, section) in (0u8..).zip(tank_sections).take(TANKS) {
        let read = tank::read(section, index, &tank_names, start_needed);
        // The number of tanks was checked above.
        let _ = tanks.push(read.told);
        tank_specs.push(read.plant);
    }
    let mut lifts = heapless::Vec::<Lift, LIFTS>::new();
    let mut lift_specs = Vec::new();
    let mut whole_map = !log.any(|f| f.kind == Kind::UnknownName || f.kind == Kind::Count);
    for ((index, section), name) in (0u8..).zip(lift_sections).zip(&lift_names).take(LIFTS) {
        let read = lift::read(section, index, name, &tank_names, place);
        whole_map &= read.placed;
        let _ = lifts.push(read.told);
        lift_specs.push(read.plant);
    }
    let outlets: Vec<usize> = tank_specs.iter().map(|tank| tank.outlets.len()).collect();
    let known = Names {
        tanks: &tank_names,
        lifts: &lift_names,
        outlets: &outlets,
        has_gauge: air.as_ref().is_none_or(|air| air.gauge.is_some()),
        has_backup: air.as_ref().is_none_or(|air| air.supply.backup.is_some()),
        hours,
    };
    let (timeline, wishes) = timeline::read(&mut top, &known);
    top.end();

    let air = air?;
    let told = Installation {
        site,
        air: air.supply,
        tanks,
        lifts,
        settings,
    };
    if !told.tanks.is_empty() && !told.lifts.is_empty() {
        let names = check::Names {
            tanks: &tank_names,
            lifts: &lift_names,
        };
        check::note(&told, log, &names, whole_map);
        check::note_wishes(&told, log, &names, &wishes);
    }
    let base = PlantSpec {
        place,
        blower: air.blower,
        bleed: air.bleed,
        gauge: air.gauge,
        tanks: tank_specs,
        lifts: lift_specs,
        seed,
        max_step_s: 1.0,
    };
    if !log.any(|finding| !finding.only_warns)
        && let Err(error) = base.check()
    {
        top_fault(log, error.to_string());
    }
    Some(Scenario {
        name,
        tank_names,
        lift_names,
        hours,
        seed,
        told,
        truth,
        timeline,
        warnings: Vec::new(),
        base,
    })
}

fn top_fault(log: &Log<'_>, message: String) {
    let (part, key, allowed) = (String::new(), String::new(), String::new());
    log.fault(
        None,
        Draft {
            kind: Kind::Geometry,
            bytes: 0..0,
            part,
            key,
            allowed,
            message,
            hint: None,
        },
    );
}

/// Hours, seed and control period.
fn run(top: &mut Section<'_>) -> (f64, u64, f64) {
    let Some(mut section) = top.table("run") else {
        return (24.0, 1, 1.0);
    };
    section.belongs_to(Place::Settings);
    let hours = section.number_or("hours", 0.01..=8784.0, 24.0);
    let seed = section.whole_or("seed", 0..=u64::MAX, 1);
    let period_s = section.number_or("control_period_s", 0.1..=10.0, 1.0);
    section.end();
    (hours, seed, period_s)
}

fn counted(top: &Section<'_>, what: &'static str, count: usize, most: usize) {
    if count == 0 {
        let hint = format!("add [[{what}]] with its keys");
        top.fault(
            Kind::Count,
            what,
            format!("there is no {what}: at least one is needed"),
            Some(hint),
        );
    } else if count > most {
        top.fault(
            Kind::Count,
            what,
            format!("{count} {what}s are more than the {most} that can be run"),
            None,
        );
    }
}

/// Names of all parts, taken before anything else, since parts refer to later ones.
fn names(sections: &[Section<'_>], what: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for (number, section) in sections.iter().enumerate() {
        let name = section
            .peek_text("name")
            .map_or_else(|| format!("{what} {}", number + 1), ToOwned::to_owned);
        if let Some(first) = names.iter().position(|known| *known == name) {
            let hint = format!("{what} {} has the same name", first + 1);
            section.fault(
                Kind::DuplicateName,
                "name",
                format!("the name \"{name}\" is taken"),
                Some(hint),
            );
        } else if name == outlet::AWAY || name.trim().is_empty() {
            section.fault(
                Kind::DuplicateName,
                "name",
                format!("\"{name}\" cannot be a name"),
                None,
            );
        }
        names.push(name);
    }
    names
}
