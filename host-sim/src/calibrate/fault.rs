//! What is wrong with a file of points: every fault in one report.

use std::fmt;

/// What kind of mistake a [`PointFault`] is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointFaultKind {
    /// The file cannot be read at all, or holds no row.
    Unreadable,
    /// A column that means nothing here.
    UnknownColumn,
    /// A column that must be there, or a value missing in a row.
    Missing,
    /// Not a number, or a row with too few or too many values.
    NotANumber,
    /// A number outside its range.
    OutOfRange,
    /// Water that runs backwards.
    NegativeFlow,
    /// A time that does not come after the one before.
    TimeRunsBack,
    /// Values that only make sense in another unit.
    WrongUnit,
    /// A lift that there is not.
    UnknownLift,
    /// Levels that this lift cannot have.
    Levels,
    /// All points at one air.
    OneAir,
    /// Two points at one air and the same levels that cannot both be right.
    Contradiction,
}

/// One mistake, with where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct PointFault {
    /// What kind of mistake.
    pub kind: PointFaultKind,
    /// True when the points can be used all the same.
    pub only_warns: bool,
    /// Line, counted from 1; 0 for the file as a whole.
    pub line: u64,
    /// The column; empty when it is not a matter of one.
    pub field: String,
    /// The value as written; empty when there is none.
    pub value: String,
    /// What is allowed; empty when that is not a matter of a range.
    pub allowed: String,
    /// What is wrong.
    pub message: String,
    /// What to do about it; empty when that is plain.
    pub help: String,
}

impl PointFault {
    pub(super) fn new(kind: PointFaultKind, line: u64, message: impl Into<String>) -> Self {
        Self {
            kind,
            only_warns: false,
            line,
            field: String::new(),
            value: String::new(),
            allowed: String::new(),
            message: message.into(),
            help: String::new(),
        }
    }

    pub(super) fn about(mut self, field: &str, value: impl Into<String>) -> Self {
        self.field = field.to_owned();
        self.value = value.into();
        self
    }

    pub(super) fn allowed(mut self, allowed: impl Into<String>) -> Self {
        self.allowed = allowed.into();
        self
    }

    pub(super) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }

    pub(super) fn warning(mut self) -> Self {
        self.only_warns = true;
        self
    }
}

impl fmt::Display for PointFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line > 0 {
            write!(f, "line {}: ", self.line)?;
        }
        if !self.field.is_empty() {
            write!(f, "{}", self.field)?;
            if !self.value.is_empty() {
                write!(f, " = {}", self.value)?;
            }
            f.write_str(": ")?;
        }
        f.write_str(&self.message)?;
        if !self.allowed.is_empty() {
            write!(f, "; allowed: {}", self.allowed)?;
        }
        if !self.help.is_empty() {
            write!(f, " ({})", self.help)?;
        }
        Ok(())
    }
}

/// Everything found wrong with one file of points.
#[derive(Clone, Debug, PartialEq)]
pub struct PointReport {
    /// Name of the file.
    pub file: String,
    /// Every mistake, in the order of the file; warnings among them.
    pub faults: Vec<PointFault>,
}

impl fmt::Display for PointReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let errors = self.faults.iter().filter(|fault| !fault.only_warns).count();
        write!(
            f,
            "{}: {errors} mistake{}, nothing was calibrated",
            self.file,
            if errors == 1 { "" } else { "s" }
        )?;
        for fault in &self.faults {
            write!(f, "\n  {}{fault}", if fault.only_warns { "warning: " } else { "" })?;
        }
        Ok(())
    }
}

impl std::error::Error for PointReport {}
