//! Finds the installation that a command works on.

use super::failure::Failure;
use super::kept_file::KeptFile;
use risertrim_sim::calibrate::NamedLift;
use risertrim_sim::scenario::{Named, Scenario, parse_installation};
use risertrim_sim::text_file;
use std::path::Path;

/// An installation with the text it was read from.
pub struct Place {
    /// What it is.
    pub named: Named,
    /// The file's text.
    pub text: String,
}

impl Place {
    /// The shipped scenario of this name, or the installation or scenario file at this path.
    pub fn load(name_or_path: &str) -> Result<Self, Failure> {
        let shipped = Scenario::shipped()
            .iter()
            .chain(Scenario::trials())
            .find(|(name, _)| *name == name_or_path);
        let text = match shipped {
            Some((_, text)) => (*text).to_owned(),
            None => text_file::read(Path::new(name_or_path)).map_err(|error| {
                let names: Vec<&str> = Scenario::shipped().iter().map(|(name, _)| *name).collect();
                Failure::BadInput(format!(
                    "{name_or_path} cannot be read: {error}\nGive the path of an installation file, or a shipped scenario: {}",
                    names.join(", ")
                ))
            })?,
        };
        let named = parse_installation(name_or_path, &text).map_err(|report| Failure::BadInput(report.to_string()))?;
        for warning in &named.warnings {
            eprintln!("note: {warning}");
        }
        Ok(Self { named, text })
    }

    /// Its lifts.
    pub fn lifts(&self) -> Vec<NamedLift> {
        NamedLift::all(&self.named.told, &self.named.lift_names)
    }

    /// The place of the lift of this name.
    pub fn lift(&self, name: &str) -> Result<usize, Failure> {
        self.named
            .lift_names
            .iter()
            .position(|known| known == name)
            .ok_or_else(|| {
                let names = self.named.lift_names.join(", ");
                Failure::BadInput(format!("the installation has no lift \"{name}\"; it has: {names}"))
            })
    }
}

/// Writes a file, whole or not at all.
pub fn write(path: &Path, text: &str) -> Result<(), Failure> {
    KeptFile::create(path)?.put(text)
}
