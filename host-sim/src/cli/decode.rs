//! `risertrim decode`: what is in a log.

use super::failure::Failure;
use super::place::Place;
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim_sim::log::{CsvLog, Entry, LogError, LogReader, Summary, What, json_line, line, open_log, summary_text};
use risertrim_sim::names::Names;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Time between two looks at a file that grows.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// Speed of a serial port when none is given, bits a second.
const BAUD: u32 = 115_200;
/// Entries between two reports of progress.
const PROGRESS_EVERY: u64 = 20_000;

/// Show what a log of a board or simulation holds: time, restarts, gaps, alarms, damage
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim decode board.rtlog
  risertrim decode board.rtlog -i my-farm.toml
  risertrim decode board.rtlog --csv tables
  risertrim decode board.rtlog --follow
  risertrim decode /dev/ttyACM0 --follow --baud 115200
  risertrim decode board.rtlog --json-lines | head

What is damaged is skipped, and the summary says where; everything else is read. LOG may be `-`
for standard input, and with --follow the name of a serial port (COM3 with --baud).
Exit code: 0 done (also with damage), 1 something failed, 2 not a log, empty, or too new.")]
pub struct Arguments {
    /// The log
    #[arg(value_name = "LOG")]
    log: PathBuf,
    /// The place it is of, for the names of lifts and tanks: a log knows only their numbers. A shipped
    /// scenario or a file
    #[arg(long, short, value_name = "FILE")]
    installation: Option<String>,
    /// Write tables as CSV into DIR: readings, lifts, tanks, air, alarms, what was learned, events
    #[arg(long, value_name = "DIR")]
    csv: Option<PathBuf>,
    /// The same tables as Parquet into DIR
    #[cfg(feature = "parquet")]
    #[arg(long, value_name = "DIR", conflicts_with = "follow")]
    parquet: Option<PathBuf>,
    /// Print every entry as a line of JSON instead of the summary
    #[arg(long, conflicts_with = "json")]
    json_lines: bool,
    /// Print every entry as a line of text before the summary
    #[arg(long, conflicts_with_all = ["json", "json_lines"])]
    lines: bool,
    /// Print the summary as one JSON object
    #[arg(long)]
    json: bool,
    /// Print entries as they come, and wait for more until stopped (Ctrl-C)
    #[arg(long, conflicts_with = "json")]
    follow: bool,
    /// LOG is a serial port of this speed, bits a second; a device file is read at 115200 without it
    #[arg(long, value_name = "N", requires = "follow")]
    baud: Option<u32>,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let path = &arguments.log;
    let length = path.metadata().map_or(0, |metadata| metadata.len());
    let names = names(arguments)?;
    if arguments.follow {
        return follow(arguments, &names);
    }
    let input = open(path)?;
    let mut reader = LogReader::open(input).map_err(|error| bad(path, &error))?;
    let mut tables = Tables::create(arguments)?;
    let mut summary = Summary::named(names.clone());
    let mut progress = Progress::of("reading", false);
    let mut out = BufWriter::new(io::stdout().lock());
    let mut failed = None;
    let mut count = 0u64;
    while let Some(entry) = reader.next() {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                failed = Some(bad(path, &error));
                break;
            }
        };
        summary.take(&entry);
        tables.write(&entry)?;
        if !tell(arguments, &entry, &names, &mut out)? {
            return Ok(());
        }
        count += 1;
        if count.is_multiple_of(PROGRESS_EVERY) && length > 0 {
            #[allow(clippy::cast_precision_loss)]
            progress.show(reader.bytes() as f64 / length as f64);
        }
    }
    drop(progress);
    drop(out);
    tables.finish()?;
    summary.finish(reader.bytes());
    let counted = (summary.lifts.len(), summary.tanks.len());
    let named = (names.lifts.len(), names.tanks.len());
    if arguments.installation.is_some() && summary.steps > 0 && counted != named {
        eprintln!(
            "note: the log is of {} lifts and {} tanks, the place of {} and {}: the names may be of others",
            counted.0, counted.1, named.0, named.1
        );
    }
    // What was read before a log turns unreadable is told all the same.
    if arguments.json {
        let json = serde_json::to_string_pretty(&summary);
        print(&(json.map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"))?;
    } else if !arguments.json_lines {
        print(&summary_text(&summary))?;
    }
    failed.map_or(Ok(()), Err)
}

/// What lifts and tanks are called in the place that is told; numbers without one.
fn names(arguments: &Arguments) -> Result<Names, Failure> {
    let Some(installation) = &arguments.installation else {
        return Ok(Names::default());
    };
    let named = Place::load(installation)?.named;
    Ok(Names {
        tanks: named.tank_names,
        lifts: named.lift_names,
    })
}

/// Opens a log; `-` is standard input.
fn open(path: &Path) -> Result<Box<dyn Read>, Failure> {
    if path == Path::new("-") {
        return Ok(Box::new(io::stdin().lock()));
    }
    if is_device(path) {
        return Err(Failure::BadInput(format!(
            "{} is a device, not a file: add --follow to read what comes from it",
            path.display()
        )));
    }
    let file = open_log(path).map_err(|error| bad(path, &error))?;
    Ok(Box::new(file))
}

/// Opens a serial port.
fn open_port(arguments: &Arguments) -> Result<Box<dyn Read>, Failure> {
    let path = &arguments.log;
    let name = path.display().to_string();
    let port = serialport::new(&name, arguments.baud.unwrap_or(BAUD))
        .timeout(LOOK_EVERY)
        .open();
    let cannot = |error| Failure::BadInput(format!("cannot open serial port {name}: {error}"));
    Ok(Box::new(port.map_err(cannot)?))
}

#[cfg(unix)]
fn is_device(path: &Path) -> bool {
    use std::os::unix::fs::FileTypeExt;
    path.metadata()
        .is_ok_and(|metadata| metadata.file_type().is_char_device())
}

/// Elsewhere ports have names, not files: `--baud` says that it is one.
#[cfg(not(unix))]
fn is_device(_: &Path) -> bool {
    false
}

/// Prints entries as they come. A file that is cut or replaced under its reader ends it.
fn follow(arguments: &Arguments, names: &Names) -> Result<(), Failure> {
    let path = &arguments.log;
    // Asked now: unplugged, the device is no file any more.
    let port = arguments.baud.is_some() || is_device(path);
    let mut reader = LogReader::following(if port { open_port(arguments)? } else { open(path)? });
    let mut tables = Tables::create(arguments)?;
    let mut out = BufWriter::new(io::stdout().lock());
    let done = follow_into(arguments, names, &mut reader, &mut tables, &mut out);
    // What came before it ended is kept.
    let written = gone(out.flush()).and(tables.finish());
    done.map_err(|ended| match ended {
        Ended::Unread(LogError::Io(error)) if port => Failure::Internal(format!(
            "serial port {} is gone ({error}): plug it in and follow it again",
            path.display()
        )),
        Ended::Unread(error) => bad(path, &error),
        Ended::Failed(failure) => failure,
    })
    .and(written)
}

/// Why following ended, other than that nobody reads any more.
enum Ended {
    Unread(LogError),
    Failed(Failure),
}

impl From<Failure> for Ended {
    fn from(failure: Failure) -> Self {
        Self::Failed(failure)
    }
}

fn follow_into(
    arguments: &Arguments,
    names: &Names,
    reader: &mut LogReader<Box<dyn Read>>,
    tables: &mut Tables,
    out: &mut impl Write,
) -> Result<(), Ended> {
    let path = &arguments.log;
    let (mut seen, mut any, mut warned) = (0, false, false);
    loop {
        for entry in reader.by_ref() {
            let entry = entry.map_err(Ended::Unread)?;
            any |= !matches!(entry.what, What::Damaged(_));
            tables.write(&entry)?;
            let text = if arguments.json_lines {
                json_line(&entry)
            } else {
                line(&entry, names)
            };
            if !gone(writeln!(out, "{text}"))? {
                return Ok(());
            }
        }
        if !gone(out.flush())? {
            return Ok(());
        }
        tables.flush()?;
        if reader.bytes() > seen {
            seen = reader.bytes();
        } else if path
            .metadata()
            .is_ok_and(|metadata| metadata.is_file() && metadata.len() < seen)
        {
            let why = format!("{} became shorter: it was begun anew; follow it again", path.display());
            return Err(Failure::Internal(why).into());
        }
        if seen > 0 && !any && !warned {
            eprintln!(
                "note: no record in the first {seen} bytes; if none comes, this is no log of risertrim, or the speed of the port is another"
            );
            warned = true;
        }
        std::thread::sleep(LOOK_EVERY);
    }
}

/// Prints an entry as asked; false when nobody reads any more.
fn tell(arguments: &Arguments, entry: &Entry, names: &Names, out: &mut impl Write) -> Result<bool, Failure> {
    let text = if arguments.json_lines {
        json_line(entry)
    } else if arguments.lines {
        line(entry, names)
    } else {
        return Ok(true);
    };
    gone(writeln!(out, "{text}"))
}

/// False for a reader that has gone (`| head`), which is no failure.
fn gone(done: io::Result<()>) -> Result<bool, Failure> {
    match done {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(false),
        Err(error) => Err(Failure::Internal(format!("cannot print: {error}"))),
    }
}

/// Why a log cannot be read, with its name.
pub(super) fn bad(path: &Path, error: &LogError) -> Failure {
    let text = format!("{} {error}", path.display());
    match error {
        LogError::Io(_) => Failure::Internal(text),
        _ => Failure::BadInput(text),
    }
}

/// The tables that are asked for.
struct Tables {
    csv: Option<CsvLog>,
    #[cfg(feature = "parquet")]
    parquet: Option<risertrim_sim::log::ParquetLog>,
}

impl Tables {
    fn create(arguments: &Arguments) -> Result<Self, Failure> {
        let cannot =
            |folder: &Path, error| Failure::BadInput(format!("cannot write into {}: {error}", folder.display()));
        Ok(Self {
            csv: match &arguments.csv {
                Some(folder) => Some(CsvLog::create(folder).map_err(|error| cannot(folder, error))?),
                None => None,
            },
            #[cfg(feature = "parquet")]
            parquet: match &arguments.parquet {
                Some(folder) => {
                    Some(risertrim_sim::log::ParquetLog::create(folder).map_err(|error| cannot(folder, error))?)
                }
                None => None,
            },
        })
    }

    fn write(&mut self, entry: &Entry) -> Result<(), Failure> {
        if let Some(csv) = &mut self.csv {
            csv.write(entry).map_err(tables_failed)?;
        }
        #[cfg(feature = "parquet")]
        if let Some(parquet) = &mut self.parquet {
            parquet.write(entry).map_err(tables_failed)?;
        }
        Ok(())
    }

    fn flush(&mut self) -> Result<(), Failure> {
        self.csv.as_mut().map_or(Ok(()), CsvLog::flush).map_err(tables_failed)
    }

    fn finish(self) -> Result<(), Failure> {
        if let Some(csv) = self.csv {
            csv.finish().map_err(tables_failed)?;
        }
        #[cfg(feature = "parquet")]
        if let Some(parquet) = self.parquet {
            parquet.finish().map_err(tables_failed)?;
        }
        Ok(())
    }
}

#[allow(clippy::needless_pass_by_value)] // as map_err hands it over
fn tables_failed(error: io::Error) -> Failure {
    Failure::Internal(format!("the tables cannot be written: {error}"))
}
