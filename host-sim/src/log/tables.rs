//! A log as tables: what stands in each, with its unit, once for every kind of file.

use super::entry::{Entry, HostReadingsRecord, HostRecord, HostStepRecord, What};
use super::words::{change_word, command_words, event_words};
use crate::names::Names;
use crate::output::lift_state;
use risertrim::alarm::Name;
use risertrim::controller::Learned;
use risertrim::level::Checked;
use risertrim::record::{AlarmRecord, Logged};

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Seconds, to the millisecond.
    Seconds,
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// Words.
    Words,
}

/// One value; what is absent is [`Cell::Nothing`].
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Cell {
    /// Milliseconds, shown as seconds.
    Ms(u64),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f32),
    /// Words.
    Words(String),
    /// Absent.
    Nothing,
}

/// A table: its name and its columns.
pub(super) struct Table {
    pub name: &'static str,
    pub columns: &'static [(&'static str, Kind)],
}

const TIME: (&str, Kind) = ("time_s", Kind::Seconds);
const SESSION: (&str, Kind) = ("session", Kind::Whole);

/// All tables; [`rows`] names them by their place here.
pub(super) const TABLES: [Table; 7] = [
    Table {
        name: "readings",
        columns: &[
            TIME,
            SESSION,
            ("over_steps", Kind::Whole),
            ("sensor", Kind::Words),
            ("raw", Kind::Number),
            ("state", Kind::Words),
        ],
    },
    Table {
        name: "lifts",
        columns: &[
            TIME,
            SESSION,
            ("lift", Kind::Whole),
            ("state", Kind::Words),
            ("target_l_min", Kind::Number),
            ("flow_l_min", Kind::Number),
            ("flow_sigma_l_min", Kind::Number),
            ("air_l_min", Kind::Number),
            ("wanted_air_l_min", Kind::Number),
            ("commanded_percent", Kind::Number),
            ("position_percent", Kind::Number),
            ("delivery", Kind::Number),
            ("delivery_sigma", Kind::Number),
        ],
    },
    Table {
        name: "tanks",
        columns: &[
            TIME,
            SESSION,
            ("tank", Kind::Whole),
            ("level_mm", Kind::Number),
            ("level_sigma_mm", Kind::Number),
            ("read_level_mm", Kind::Number),
            ("reading", Kind::Words),
            ("oxygen_min", Kind::Whole),
        ],
    },
    Table {
        name: "air",
        columns: &[
            TIME,
            SESSION,
            ("manifold_kpa", Kind::Number),
            ("sump_level_mm", Kind::Number),
            ("curves", Kind::Words),
            ("blower_units", Kind::Whole),
            ("blower_speed_percent", Kind::Number),
            ("blower_air_l_min", Kind::Number),
            ("blower_w", Kind::Number),
            ("backup_min", Kind::Whole),
        ],
    },
    Table {
        name: "alarms",
        columns: &[
            TIME,
            SESSION,
            ("change", Kind::Words),
            ("alarm", Kind::Words),
            ("subject", Kind::Words),
            ("follows_from", Kind::Words),
            ("figure", Kind::Whole),
            ("figure_counts", Kind::Words),
        ],
    },
    Table {
        name: "learned",
        columns: &[
            TIME,
            SESSION,
            ("lift", Kind::Whole),
            ("delivery", Kind::Number),
            ("delivery_sigma", Kind::Number),
            ("opening_percent", Kind::Number),
            ("most_water_percent", Kind::Number),
            ("percent_of_clean", Kind::Whole),
            ("cleaning_days", Kind::Whole),
        ],
    },
    Table {
        name: "events",
        columns: &[TIME, SESSION, ("byte", Kind::Whole), ("event", Kind::Words)],
    },
];

const READINGS: usize = 0;
const LIFTS: usize = 1;
const TANKS: usize = 2;
const AIR: usize = 3;
const ALARMS: usize = 4;
const LEARNED: usize = 5;
const EVENTS: usize = 6;

/// Litres a minute in one m3/s.
const L_MIN: f32 = 60_000.0;

/// Gives the rows of an entry to `put`, each with the place of its table.
pub(super) fn rows<E>(entry: &Entry, mut put: impl FnMut(usize, &[Cell]) -> Result<(), E>) -> Result<(), E> {
    let time = [Cell::Ms(entry.time_ms), Cell::Whole(i64::from(entry.session))];
    let mut row = |table: usize, rest: Vec<Cell>| {
        let cells: Vec<Cell> = time.iter().cloned().chain(rest).collect();
        put(table, &cells)
    };
    match &entry.what {
        What::Record(HostRecord::Readings(readings)) => readings_rows(readings, &mut row),
        What::Record(HostRecord::Step(step)) => step_rows(step, &mut row),
        What::Record(HostRecord::Alarm(alarm)) => row(ALARMS, alarm_cells(alarm)),
        What::Record(HostRecord::Learned(learned)) => learned_rows(&learned.lifts, &mut row),
        What::Record(HostRecord::Command(command)) => {
            let byte = byte(entry.offset);
            row(
                EVENTS,
                vec![byte, Cell::Words(command_words(command, &Names::default()))],
            )
        }
        what => row(
            EVENTS,
            vec![byte(entry.offset), Cell::Words(event_words(what, &Names::default()))],
        ),
    }
}

fn byte(offset: u64) -> Cell {
    i64::try_from(offset).map_or(Cell::Nothing, Cell::Whole)
}

fn number(index: usize) -> Cell {
    i64::try_from(index + 1).map_or(Cell::Nothing, Cell::Whole)
}

fn whole(value: Option<u16>) -> Cell {
    value.map_or(Cell::Nothing, |value| Cell::Whole(i64::from(value)))
}

fn readings_rows<E>(
    readings: &HostReadingsRecord,
    row: &mut impl FnMut(usize, Vec<Cell>) -> Result<(), E>,
) -> Result<(), E> {
    let tanks = (1..)
        .zip(&readings.levels)
        .map(|(tank, level)| (format!("tank {tank}"), *level));
    for (sensor, logged) in tanks.chain([("manifold gauge".to_owned(), readings.manifold)]) {
        let (raw, state) = match logged {
            Logged::Number(raw) => (Cell::Number(raw), "number"),
            Logged::Missing => (Cell::Nothing, "missing"),
            Logged::NotANumber => (Cell::Nothing, "not_a_number"),
        };
        let over = Cell::Whole(i64::from(readings.over));
        row(
            READINGS,
            vec![over, Cell::Words(sensor), raw, Cell::Words(state.to_owned())],
        )?;
    }
    Ok(())
}

fn step_rows<E>(step: &HostStepRecord, row: &mut impl FnMut(usize, Vec<Cell>) -> Result<(), E>) -> Result<(), E> {
    for (index, lift) in step.lifts.iter().enumerate() {
        row(
            LIFTS,
            vec![
                number(index),
                Cell::Words(lift_state(lift.state).to_owned()),
                Cell::Number(L_MIN * lift.target_m3_s),
                Cell::Number(L_MIN * lift.flow_m3_s),
                Cell::Number(L_MIN * lift.flow_sigma_m3_s),
                Cell::Number(L_MIN * lift.air_m3_s),
                Cell::Number(L_MIN * lift.wanted_air_m3_s),
                Cell::Number(100.0 * lift.command.share()),
                Cell::Number(100.0 * lift.position.share()),
                Cell::Number(lift.delivery),
                Cell::Number(lift.delivery_sigma),
            ],
        )?;
    }
    for (index, tank) in step.tanks.iter().enumerate() {
        let (read, word) = match tank.reading {
            Checked::Level(level) => (Cell::Number(1000.0 * level), "believed"),
            Checked::Missing => (Cell::Nothing, "missing"),
            Checked::OutOfRange => (Cell::Nothing, "out_of_range"),
            Checked::Implausible => (Cell::Nothing, "implausible"),
        };
        row(
            TANKS,
            vec![
                number(index),
                Cell::Number(1000.0 * tank.level_m),
                Cell::Number(1000.0 * tank.sigma_m),
                read,
                Cell::Words(word.to_owned()),
                whole(tank.oxygen_min),
            ],
        )?;
    }
    let seen = step.basis.seen;
    row(
        AIR,
        vec![
            seen.map_or(Cell::Nothing, |seen| Cell::Number(0.001 * seen.manifold_pa)),
            seen.map_or(Cell::Nothing, |seen| Cell::Number(1000.0 * seen.sump_m)),
            Cell::Words(format!("{:04X}", step.basis.curves)),
            Cell::Whole(i64::from(step.blower.units)),
            Cell::Number(100.0 * step.blower.speed),
            Cell::Number(L_MIN * step.blower.air_m3_s),
            Cell::Number(step.blower.power_w),
            whole(step.backup_min),
        ],
    )
}

fn alarm_cells(alarm: &AlarmRecord) -> Vec<Cell> {
    let name = |name: &Name| {
        Cell::Words(format!(
            "{} {}",
            name.kind.name(),
            Names::default().subject(name.subject)
        ))
    };
    let (figure, counts) = match alarm.figure.words() {
        Some((figure, counts)) => (Cell::Whole(i64::from(figure)), Cell::Words(counts.to_owned())),
        None => (Cell::Nothing, Cell::Nothing),
    };
    vec![
        Cell::Words(change_word(alarm.change).to_owned()),
        Cell::Words(alarm.name.kind.name().to_owned()),
        Cell::Words(Names::default().subject(alarm.name.subject)),
        alarm.cause.as_ref().map_or(Cell::Nothing, name),
        figure,
        counts,
    ]
}

fn learned_rows<E>(lifts: &[Learned], row: &mut impl FnMut(usize, Vec<Cell>) -> Result<(), E>) -> Result<(), E> {
    for (index, learned) in lifts.iter().enumerate() {
        row(
            LEARNED,
            vec![
                number(index),
                Cell::Number(learned.factor),
                Cell::Number(learned.sigma),
                Cell::Number(100.0 * learned.opening.share()),
                Cell::Number(f32::from(learned.most) * 0.5),
                whole(learned.trend.percent_of_clean().map(u16::from)),
                whole(learned.trend.due_days().map(u16::from)),
            ],
        )?;
    }
    Ok(())
}
