//! What a run will write, checked before it begins: nobody's file is lost by a slip of the finger.

use super::failure::Failure;
use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// How much of a file is looked at to tell what it is. A board's own log may begin in the middle of a frame.
const LOOK_BYTES: u64 = 64 * 1024;

/// What a file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A place or a scenario.
    Place,
    /// A log.
    Log,
    /// A page for a browser.
    Page,
    /// A drawing.
    Drawing,
    /// A table of rows whose first line begins so.
    Table(&'static str),
    /// A table as Parquet.
    #[cfg(feature = "parquet")]
    Parquet,
    /// Plain text.
    Text,
}

/// A file that a run will write, and the option that names it.
#[derive(Debug)]
struct Wanted<'a> {
    option: &'static str,
    path: &'a Path,
    kind: Kind,
    may_be: Option<PathBuf>,
}

/// The files that a run reads and those that it will write.
#[derive(Debug, Default)]
pub struct Outputs<'a> {
    inputs: Vec<PathBuf>,
    wanted: Vec<Wanted<'a>>,
}

impl<'a> Outputs<'a> {
    /// Of a run that reads these. A name that is no file is left out: shipped scenarios have names too.
    pub fn of<P: AsRef<Path>>(inputs: impl IntoIterator<Item = P>) -> Self {
        Self {
            inputs: inputs.into_iter().map(|path| whole(path.as_ref())).collect(),
            wanted: Vec::new(),
        }
    }

    /// Will write this, where the option is given.
    pub fn and(mut self, option: &'static str, path: Option<&'a Path>, kind: Kind) -> Self {
        self.wanted.extend(path.map(|path| Wanted {
            option,
            path,
            kind,
            may_be: None,
        }));
        self
    }

    /// Will write this, which may be the file that was read as `old`: it holds all that the old one held.
    pub fn anew(mut self, option: &'static str, path: Option<&'a Path>, kind: Kind, old: &str) -> Self {
        self.wanted.extend(path.map(|path| Wanted {
            option,
            path,
            kind,
            may_be: Some(whole(Path::new(old))),
        }));
        self
    }

    /// Refuses what would lose a file.
    pub fn check(&self) -> Result<(), Failure> {
        for (index, wanted) in self.wanted.iter().enumerate() {
            let path = whole(wanted.path);
            if is_special(&path) {
                continue;
            }
            let named = format!("{} {}", wanted.option, wanted.path.display());
            let others = self.wanted.iter().take(index);
            if let Some(other) = others.into_iter().find(|other| whole(other.path) == path) {
                return Err(Failure::BadInput(format!(
                    "{named} is what {} will write too: name two files",
                    other.option
                )));
            }
            if wanted.may_be.as_ref() == Some(&path) {
                continue;
            }
            if self.inputs.contains(&path) {
                return Err(Failure::BadInput(format!(
                    "{named} is a file that this run reads: it would be lost; name another file"
                )));
            }
            if !wanted.kind.may_replace(&path) {
                return Err(Failure::BadInput(format!(
                    "{named} is there already and is not {}: it would be lost; name another file",
                    wanted.kind.words()
                )));
            }
        }
        Ok(())
    }
}

impl Kind {
    fn words(self) -> &'static str {
        match self {
            Self::Place => "a place",
            Self::Log => "a log",
            Self::Page => "a page",
            Self::Drawing => "a drawing",
            Self::Table(_) => "a table of this kind",
            #[cfg(feature = "parquet")]
            Self::Parquet => "a Parquet file",
            Self::Text => "a report",
        }
    }

    /// True where nothing of another kind stands. What cannot be read is left to the writing to complain about.
    fn may_replace(self, path: &Path) -> bool {
        let mut bytes = Vec::new();
        let read = File::open(path).and_then(|file| file.take(LOOK_BYTES).read_to_end(&mut bytes));
        if read.is_err() || bytes.is_empty() {
            return true;
        }
        let holds = |piece: &[u8]| bytes.windows(piece.len()).any(|window| window == piece);
        // The look may end within a letter: what is lost of it does not matter.
        let text = String::from_utf8_lossy(&bytes);
        let begins = text.trim_start_matches('\u{feff}').trim_start();
        let is_log = holds(&risertrim::record::MAGIC);
        let is_page = begins
            .get(..9)
            .is_some_and(|head| head.eq_ignore_ascii_case("<!doctype"));
        let is_drawing = begins.starts_with("<svg") || begins.starts_with("<?xml");
        let is_place = begins.lines().any(|line| line.trim_start().starts_with('['));
        match self {
            Self::Place => is_place && !is_log,
            // A board's ring may hold no header in its first bytes; a file of that ending that is no text is a log all the same.
            Self::Log => is_log || (ends_in(path, &["rtlog"]) && bytes.contains(&0)),
            Self::Page => is_page,
            Self::Drawing => is_drawing,
            Self::Table(columns) => begins.starts_with(columns),
            #[cfg(feature = "parquet")]
            Self::Parquet => bytes.starts_with(b"PAR1"),
            Self::Text => {
                let other = ends_in(path, &["csv", "toml", "rtlog"]);
                !(is_log || is_page || is_drawing || is_place || other || bytes.contains(&0))
            }
        }
    }
}

fn ends_in(path: &Path, endings: &[&str]) -> bool {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    endings.iter().any(|known| ending.eq_ignore_ascii_case(known))
}

/// The one name of a file, there or not.
fn whole(path: &Path) -> PathBuf {
    if let Ok(whole) = path.canonicalize() {
        return whole;
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    match (folder.canonicalize(), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => path.to_owned(),
    }
}

/// A terminal, a pipe or nothing at all: there is nothing to lose.
fn is_special(path: &Path) -> bool {
    path.metadata().is_ok_and(|about| !about.is_file())
}
