//! Where findings and the places of values are noted while a file is read.

use super::report::{Finding, Kind};
use risertrim::fault::Place;
use std::cell::RefCell;
use std::collections::HashMap;
use std::ops::Range;

/// A finding before its line and column are worked out.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    pub kind: Kind,
    pub bytes: Range<usize>,
    pub part: String,
    pub key: String,
    pub allowed: String,
    pub message: String,
    pub hint: Option<String>,
}

/// Notes of one reading.
pub(super) struct Log<'t> {
    text: &'t str,
    notes: RefCell<Vec<(Option<Place>, Finding)>>,
    spans: RefCell<HashMap<(Place, String), Range<usize>>>,
}

impl<'t> Log<'t> {
    pub fn new(text: &'t str) -> Self {
        Self {
            text,
            notes: RefCell::default(),
            spans: RefCell::default(),
        }
    }

    /// Notes a fault of a part of the installation, or of the rest of the file.
    pub fn fault(&self, place: Option<Place>, draft: Draft) {
        self.note(place, draft, false);
    }

    /// Notes something that may be meant all the same.
    pub fn warning(&self, place: Option<Place>, draft: Draft) {
        self.note(place, draft, true);
    }

    fn note(&self, place: Option<Place>, draft: Draft, only_warns: bool) {
        let (line, column) = self.position(draft.bytes.start);
        let value = self.text.get(draft.bytes.clone()).unwrap_or_default();
        let value = value.lines().next().unwrap_or_default().to_owned();
        let finding = Finding {
            kind: draft.kind,
            only_warns,
            line,
            column,
            bytes: draft.bytes,
            part: draft.part,
            key: draft.key,
            value,
            allowed: draft.allowed,
            message: draft.message,
            hint: draft.hint,
        };
        self.notes.borrow_mut().push((place, finding));
    }

    /// Line and column of a byte, from 1.
    pub fn position(&self, byte: usize) -> (usize, usize) {
        let before = self.text.get(..byte).unwrap_or(self.text);
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        (
            before.matches('\n').count() + 1,
            before[line_start..].chars().count() + 1,
        )
    }

    /// Remembers where a value of a part stands.
    pub fn remember(&self, place: Place, key: String, bytes: Range<usize>) {
        self.spans.borrow_mut().insert((place, key), bytes);
    }

    /// Where a value of a part stands.
    pub fn recall(&self, place: Place, key: &str) -> Option<Range<usize>> {
        self.spans.borrow().get(&(place, key.to_owned())).cloned()
    }

    /// True when this part has a fault.
    pub fn is_sick(&self, place: Place) -> bool {
        let of_tank =
            |own: Place| matches!((own, place), (Place::Outlet(tank, _), Place::Tank(asked)) if tank == asked);
        self.notes
            .borrow()
            .iter()
            .any(|(own, finding)| !finding.only_warns && own.is_some_and(|own| own == place || of_tank(own)))
    }

    /// True when a fault of one of these kinds was noted.
    pub fn any(&self, wanted: impl Fn(&Finding) -> bool) -> bool {
        self.notes.borrow().iter().any(|(_, finding)| wanted(finding))
    }

    /// All findings.
    pub fn into_findings(self) -> Vec<Finding> {
        self.notes
            .into_inner()
            .into_iter()
            .map(|(_, finding)| finding)
            .collect()
    }
}
