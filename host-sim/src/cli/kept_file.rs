//! A file that takes the place of another only when there is something to put there.

use super::failure::Failure;
use std::fs::{self, File};
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};

/// A new file beside the one of its name, which stays as it is until [`KeptFile::replace`]; without that the new one goes.
#[derive(Debug)]
pub struct KeptFile {
    out: BufWriter<File>,
    beside: Option<PathBuf>,
    path: PathBuf,
}

impl KeptFile {
    /// Makes it, so that a path that cannot be written is told early.
    pub fn create(path: &Path) -> Result<Self, Failure> {
        let cannot = |error| Failure::BadInput(format!("cannot write {}: {error}", path.display()));
        let whole = path.canonicalize().unwrap_or_else(|_| path.to_owned());
        // A terminal or a pipe holds nothing that could be lost, and nothing can stand beside it.
        let about = whole.metadata();
        let beside = match &about {
            Ok(about) if !about.is_file() => None,
            _ => {
                let mut name = whole.file_name().unwrap_or_default().to_owned();
                name.push(format!(".{}.part", std::process::id()));
                Some(whole.with_file_name(name))
            }
        };
        let file = File::create(beside.as_ref().unwrap_or(&whole)).map_err(cannot)?;
        if let (Ok(about), Some(_)) = (about, &beside) {
            let _ = file.set_permissions(about.permissions()); // who may read it stays as it was
        }
        Ok(Self {
            out: BufWriter::new(file),
            beside,
            path: whole,
        })
    }

    /// Takes the old one's place with what was written so far; more can be written to what is given back.
    pub fn replace(mut self) -> Result<File, Failure> {
        let cannot = |error| Failure::BadInput(format!("cannot write {}: {error}", self.path.display()));
        self.out.flush().map_err(cannot)?;
        let file = self.out.get_ref().try_clone().map_err(cannot)?;
        if let Some(beside) = &self.beside {
            fs::rename(beside, &self.path).map_err(cannot)?;
            self.beside = None;
        }
        Ok(file)
    }

    /// What is written to.
    pub fn out(&mut self) -> &mut BufWriter<File> {
        &mut self.out
    }

    /// Puts this text in the old one's place.
    pub fn put(mut self, text: &str) -> Result<(), Failure> {
        let cannot = |error| Failure::BadInput(format!("cannot write {}: {error}", self.path.display()));
        self.out.write_all(text.as_bytes()).map_err(cannot)?;
        self.replace().map(drop)
    }
}

impl Drop for KeptFile {
    fn drop(&mut self) {
        if let Some(beside) = &self.beside {
            let _ = fs::remove_file(beside);
        }
    }
}
