//! What is wrong with a file: every fault in one report.

use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, MietteSpanContents, NamedSource,
    Severity, SourceCode, SourceSpan, SpanContents,
};
use std::fmt;
use std::ops::Range;

/// What kind of mistake a [`Finding`] is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The file cannot be read at all.
    Unreadable,
    /// Not TOML.
    Syntax,
    /// A key that means nothing here.
    UnknownKey,
    /// A key that must be there.
    MissingKey,
    /// A text where a number is wanted, and the like.
    WrongType,
    /// A number outside its range.
    OutOfRange,
    /// A tank, lift or word that there is not.
    UnknownName,
    /// A name given twice.
    DuplicateName,
    /// Too few or too many of something.
    Count,
    /// Heights, limits or ways for the water that cannot be.
    Geometry,
    /// An event that says nothing, or two things, or comes too late.
    Event,
    /// Something happens of which the installation tells nothing.
    Untold,
}

/// One mistake, with where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What kind of mistake.
    pub kind: Kind,
    /// True when the file is good enough to run all the same.
    pub only_warns: bool,
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
    /// Bytes of the file that are meant.
    pub bytes: Range<usize>,
    /// The part of the file: `tank "sump"`.
    pub part: String,
    /// The key, with the name of its table if it stands in one: `valve.stroke_s`.
    pub key: String,
    /// The value as written; empty when there is none.
    pub value: String,
    /// What is allowed; empty when that is not a matter of a range or a list.
    pub allowed: String,
    /// What is wrong.
    pub message: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}: ", self.line, self.column)?;
        f.write_str(&self.message)?;
        match &self.hint {
            Some(hint) => write!(f, " ({hint})"),
            None => Ok(()),
        }
    }
}

/// Everything found wrong with one file. Its `Display` is the whole report, for people.
#[derive(Clone, Debug)]
pub struct Report {
    source: NamedSource<String>,
    findings: Vec<Finding>,
}

impl Report {
    pub(super) fn new(name: &str, text: &str, mut findings: Vec<Finding>) -> Self {
        findings.sort_by_key(|finding| (finding.bytes.start, finding.bytes.end));
        Self {
            source: NamedSource::new(name, text.to_owned()),
            findings,
        }
    }

    pub(super) fn unreadable(name: &str, message: String, hint: Option<String>) -> Self {
        let finding = Finding {
            kind: Kind::Unreadable,
            only_warns: false,
            line: 0,
            column: 0,
            bytes: 0..0,
            part: String::new(),
            key: String::new(),
            value: name.to_owned(),
            allowed: String::new(),
            message,
            hint,
        };
        Self {
            source: NamedSource::new(name, String::new()),
            findings: vec![finding],
        }
    }

    /// Every mistake, in the order of the file; warnings among them.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// Name of the file.
    #[must_use]
    pub fn file(&self) -> &str {
        self.source.name()
    }

    /// How many mistakes stop the file from being used.
    #[must_use]
    pub fn faults(&self) -> usize {
        self.findings.iter().filter(|finding| !finding.only_warns).count()
    }

    /// The report as text of at most `width` columns, with colours or without.
    #[must_use]
    pub fn text(&self, width: usize, colours: bool) -> String {
        let theme = if colours {
            GraphicalTheme::unicode()
        } else {
            GraphicalTheme::unicode_nocolor()
        };
        let handler = GraphicalReportHandler::new_themed(theme)
            .with_width(width)
            .with_context_lines(1)
            .with_links(false);
        let mut text = self.head();
        text.push('\n');
        for finding in &self.findings {
            let shown = Shown {
                source: &self.source,
                finding,
            };
            // Writing into a String fails only if the diagnostic does; then its plain line serves.
            if handler.render_report(&mut text, &shown).is_err() {
                text.push_str(&format!("{finding}\n"));
            }
        }
        text
    }

    fn head(&self) -> String {
        let faults = self.faults();
        let warnings = self.findings.len() - faults;
        let plural = |count: usize| if count == 1 { "" } else { "s" };
        let mut head = format!("{}: {faults} mistake{}", self.file(), plural(faults));
        if warnings > 0 {
            head.push_str(&format!(", {warnings} warning{}", plural(warnings)));
        }
        head
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text(100, false))
    }
}

impl std::error::Error for Report {}

/// One finding as a diagnostic that shows its line.
#[derive(Debug)]
struct Shown<'a> {
    source: &'a NamedSource<String>,
    finding: &'a Finding,
}

impl fmt::Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.finding.line > 0 {
            write!(f, "line {}: ", self.finding.line)?;
        }
        f.write_str(&self.finding.message)
    }
}

impl std::error::Error for Shown<'_> {}

impl Diagnostic for Shown<'_> {
    fn severity(&self) -> Option<Severity> {
        Some(if self.finding.only_warns {
            Severity::Warning
        } else {
            Severity::Error
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.finding
            .hint
            .as_ref()
            .map(|hint| Box::new(hint) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        (self.finding.line > 0).then_some(self as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        if self.finding.line == 0 {
            return None;
        }
        let label = (!self.finding.allowed.is_empty()).then(|| self.finding.allowed.clone());
        let bytes = &self.finding.bytes;
        let span = LabeledSpan::new(label, bytes.start, bytes.end.saturating_sub(bytes.start));
        Some(Box::new(std::iter::once(span)))
    }
}

impl SourceCode for Shown<'_> {
    /// The whole line of the finding and no other; asked for no context, the bytes alone, which gives line and column.
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        lines_before: usize,
        lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        if lines_before + lines_after == 0 {
            return self.source.read_span(span, 0, 0);
        }
        let text = self.source.inner();
        let (before, rest) = text.split_at_checked(span.offset()).ok_or(MietteError::OutOfBounds)?;
        let start = before.rfind('\n').map_or(0, |at| at + 1);
        let after = rest.get(span.len()..).ok_or(MietteError::OutOfBounds)?;
        let end = after
            .find('\n')
            .map_or(text.len(), |at| span.offset() + span.len() + at);
        let line = text.get(start..end).ok_or(MietteError::OutOfBounds)?;
        let bytes = SourceSpan::from((start, end - start));
        let number = self.finding.line.saturating_sub(1);
        Ok(Box::new(MietteSpanContents::new_named(
            self.source.name().to_owned(),
            line.as_bytes(),
            bytes,
            number,
            0,
            line.matches('\n').count() + 1,
        )))
    }
}
