//! Reads the keys of one table: takes them one by one, checks them, notes every fault and goes on.

use super::hint;
use super::log::{Draft, Log};
use super::report::Kind;
use risertrim::fault::Place;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One table of the file. A value at fault reads as NaN (or as its default), so that reading goes on.
pub(super) struct Section<'t> {
    log: &'t Log<'t>,
    table: &'t DeTable<'t>,
    /// How people call it: `tank "sump"`.
    pub part: String,
    place: Option<Place>,
    prefix: String,
    head: Range<usize>,
    known: Vec<&'static str>,
}

impl<'t> Section<'t> {
    /// The file's own top table.
    pub fn top(log: &'t Log<'t>, table: &'t DeTable<'t>) -> Self {
        Self {
            log,
            table,
            part: "the file".to_owned(),
            place: None,
            prefix: String::new(),
            head: 0..0,
            known: Vec::new(),
        }
    }

    fn value(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.known.push(key);
        let value = self.table.get(key)?;
        if let Some(place) = self.place {
            self.log.remember(place, self.full(key), value.span());
        }
        Some(value)
    }

    fn full(&self, key: &str) -> String {
        format!("{}{key}", self.prefix)
    }

    /// Says to which part of the installation the values belong, so that later faults find their lines.
    pub fn belongs_to(&mut self, place: Place) {
        self.place = Some(place);
        self.log.remember(place, String::new(), self.head.clone());
    }

    /// True when the key is there.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Bytes of a key's value; those of the heading when there is none.
    pub fn bytes(&self, key: &str) -> Range<usize> {
        self.table.get(key).map_or(self.head.clone(), Spanned::span)
    }

    /// A text, without taking the key.
    pub fn peek_text(&self, key: &str) -> Option<&'t str> {
        self.table.get(key)?.get_ref().as_str()
    }

    /// Line of the heading.
    pub fn line(&self) -> usize {
        self.log.position(self.head.start).0
    }

    fn draft(&self, kind: Kind, key: &str, message: String, allowed: String, hint: Option<String>) -> Draft {
        Draft {
            kind,
            bytes: self.bytes(key),
            part: self.part.clone(),
            key: self.full(key),
            allowed,
            message: format!("{}: {message}", self.part),
            hint,
        }
    }

    /// Notes a fault at a key (or at the heading when the key is not there).
    pub fn fault(&self, kind: Kind, key: &str, message: impl Into<String>, hint: Option<String>) {
        self.log
            .fault(self.place, self.draft(kind, key, message.into(), String::new(), hint));
    }

    /// Notes a warning at a key.
    pub fn warning(&self, kind: Kind, key: &str, message: impl Into<String>, hint: Option<String>) {
        self.log
            .warning(self.place, self.draft(kind, key, message.into(), String::new(), hint));
    }

    fn missing(&self, key: &str, wanted: String) {
        let message = format!("{} is missing", self.full(key));
        self.log.fault(
            self.place,
            self.draft(Kind::MissingKey, key, message, wanted, Some(format!("add {key} = ..."))),
        );
    }

    fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) {
        let hint = match (wanted, value.get_ref()) {
            ("a number", DeValue::String(_)) => {
                Some("write the number alone; its unit is the end of the key".to_owned())
            }
            ("a list of tables", DeValue::Table(_)) => {
                Some(format!("write [[{key}]] above each {key}, with two brackets"))
            }
            _ => None,
        };
        let found = match value.get_ref() {
            DeValue::String(_) => "a text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        let message = format!("{} must be {wanted}, but is {found}", self.full(key));
        self.log.fault(
            self.place,
            self.draft(Kind::WrongType, key, message, format!("must be {wanted}"), hint),
        );
    }

    /// A number that must be there, within `range`.
    pub fn number(&mut self, key: &'static str, range: RangeInclusive<f64>) -> f64 {
        if !self.has(key) {
            self.known.push(key);
            self.missing(key, format!("a number from {}", spell(&range)));
            return f64::NAN;
        }
        self.maybe_number(key, range).unwrap_or(f64::NAN)
    }

    /// A number within `range`, or its default.
    pub fn number_or(&mut self, key: &'static str, range: RangeInclusive<f64>, default: f64) -> f64 {
        if self.has(key) {
            self.number(key, range)
        } else {
            self.maybe_number(key, range).unwrap_or(default)
        }
    }

    /// A number within `range`, if there is one; NaN when it is at fault.
    pub fn maybe_number(&mut self, key: &'static str, range: RangeInclusive<f64>) -> Option<f64> {
        let value = self.value(key)?;
        let Some(number) = as_number(value.get_ref()) else {
            self.wrong_type(key, value, "a number");
            return Some(f64::NAN);
        };
        if range.contains(&number) {
            if number != 0.0 && number.abs() < 1.0 && key.ends_with("_mm") && *range.end() >= 1000.0 {
                let hint = hint::unit(key, number, &(1.0..=*range.end()));
                self.warning(
                    Kind::OutOfRange,
                    key,
                    format!("{} is less than a millimetre", self.full(key)),
                    hint,
                );
            }
            return Some(number);
        }
        self.out_of_range(key, number, &range);
        Some(f64::NAN)
    }

    /// Notes that a value lies outside `range`.
    pub fn out_of_range(&self, key: &str, number: f64, range: &RangeInclusive<f64>) {
        let full = self.full(key);
        let allowed = format!("allowed: {}", spell(range));
        let message = format!("{full} is {}, {allowed}", hint::plain(number));
        let hint = hint::unit(key, number, range);
        self.log
            .fault(self.place, self.draft(Kind::OutOfRange, key, message, allowed, hint));
    }

    /// A whole number within `range`, or its default.
    pub fn whole_or(&mut self, key: &'static str, range: RangeInclusive<u64>, default: u64) -> u64 {
        let Some(value) = self.value(key) else { return default };
        let whole = match value.get_ref() {
            DeValue::Integer(digits) => i128::from_str_radix(digits.as_str(), digits.radix()).ok(),
            _ => None,
        };
        match whole {
            None => self.wrong_type(key, value, "a whole number"),
            Some(whole) => match u64::try_from(whole) {
                Ok(whole) if range.contains(&whole) => return whole,
                _ => self.out_of_range(key, whole as f64, &(*range.start() as f64..=*range.end() as f64)),
            },
        }
        default
    }

    /// A text that must be there.
    pub fn text(&mut self, key: &'static str) -> Option<&'t str> {
        if !self.has(key) {
            self.missing(key, "a text in quotes".to_owned());
        }
        self.maybe_text(key)
    }

    /// A text, if there is one.
    pub fn maybe_text(&mut self, key: &'static str) -> Option<&'t str> {
        let value = self.value(key)?;
        if value.get_ref().as_str().is_none() {
            self.wrong_type(key, value, "a text in quotes");
        }
        value.get_ref().as_str()
    }

    /// One of a few words, by index.
    pub fn word(&mut self, key: &'static str, words: &[&str]) -> Option<usize> {
        let text = self.maybe_text(key)?;
        let found = words.iter().position(|word| word.eq_ignore_ascii_case(text));
        if found.is_none() {
            self.unknown_name(key, text, words, "is none of the words for it");
        }
        found
    }

    /// The index of a name in `names`; the name must be there.
    pub fn name_of(&mut self, key: &'static str, names: &[String], what: &str) -> Option<usize> {
        let text = self.text(key)?;
        let found = names.iter().position(|name| name == text);
        if found.is_none() {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            self.unknown_name(key, text, &names, &format!("is not the name of a {what}"));
        }
        found
    }

    fn unknown_name(&self, key: &str, text: &str, names: &[&str], why: &str) {
        let hint = match hint::nearest(text, names.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => "look at the spelling, capitals too".to_owned(),
        };
        let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
        let allowed = format!("there are: {}", quoted.join(", "));
        let message = format!("{} = \"{text}\" {why}", self.full(key));
        self.log.fault(
            self.place,
            self.draft(Kind::UnknownName, key, message, allowed, Some(hint)),
        );
    }

    /// True or false, or its default.
    pub fn flag_or(&mut self, key: &'static str, default: bool) -> bool {
        self.maybe_flag(key).unwrap_or(default)
    }

    /// True or false, if it is there.
    pub fn maybe_flag(&mut self, key: &'static str) -> Option<bool> {
        let value = self.value(key)?;
        if value.get_ref().as_bool().is_none() {
            self.wrong_type(key, value, "true or false");
        }
        value.get_ref().as_bool()
    }

    /// A list of pairs of numbers, between `count` of them, each number within its range; `None` when not there or at fault.
    pub fn pairs(
        &mut self,
        key: &'static str,
        count: RangeInclusive<usize>,
        first: RangeInclusive<f64>,
        second: RangeInclusive<f64>,
    ) -> Option<Vec<(f64, f64)>> {
        let value = self.value(key)?;
        let pair = |item: &Spanned<DeValue<'_>>| match item.get_ref().as_array()?.iter().collect::<Vec<_>>()[..] {
            [a, b] => Some((as_number(a.get_ref())?, as_number(b.get_ref())?)),
            _ => None,
        };
        let points: Option<Vec<(f64, f64)>> = value
            .get_ref()
            .as_array()
            .and_then(|list| list.iter().map(pair).collect());
        let Some(points) = points else {
            self.wrong_type(key, value, "a list of pairs of numbers");
            return None;
        };
        if !count.contains(&points.len()) {
            let message = format!(
                "{} has {} points, allowed: {} to {}",
                self.full(key),
                points.len(),
                count.start(),
                count.end()
            );
            self.fault(Kind::Count, key, message, None);
            return None;
        }
        for &(a, b) in &points {
            for (number, range) in [(a, &first), (b, &second)] {
                if !range.contains(&number) {
                    self.out_of_range(key, number, range);
                    return None;
                }
            }
        }
        Some(points)
    }

    /// A list of exactly `count` numbers, each within its range; `None` when not there or at fault.
    pub fn numbers(&mut self, key: &'static str, count: usize, range: RangeInclusive<f64>) -> Option<Vec<f64>> {
        let value = self.value(key)?;
        let list = value
            .get_ref()
            .as_array()
            .map(|list| list.iter().map(|item| as_number(item.get_ref())).collect());
        let Some(Some(numbers)) = list.map(|list: Option<Vec<f64>>| list) else {
            self.wrong_type(key, value, "a list of numbers");
            return None;
        };
        if numbers.len() != count {
            let message = format!("{} has {} numbers, allowed: {count}", self.full(key), numbers.len());
            self.fault(Kind::Count, key, message, None);
            return None;
        }
        if let Some(number) = numbers.iter().find(|number| !range.contains(number)) {
            self.out_of_range(key, *number, &range);
            return None;
        }
        Some(numbers)
    }

    /// A table within this one, if it is there.
    pub fn table(&mut self, key: &'static str) -> Option<Section<'t>> {
        let value = self.value(key)?;
        let Some(table) = value.get_ref().as_table() else {
            self.wrong_type(key, value, "a table");
            return None;
        };
        let at_top = self.head.is_empty();
        Some(Section {
            log: self.log,
            table,
            part: if at_top { format!("[{key}]") } else { self.part.clone() },
            place: self.place,
            prefix: if at_top {
                String::new()
            } else {
                format!("{}{key}.", self.prefix)
            },
            head: value.span(),
            known: Vec::new(),
        })
    }

    /// The tables of a list; none when it is not there.
    pub fn tables(&mut self, key: &'static str) -> Vec<Section<'t>> {
        let Some(value) = self.value(key) else {
            return Vec::new();
        };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong_type(key, value, "a list of tables");
            return Vec::new();
        };
        let of = if self.head.is_empty() {
            String::new()
        } else {
            format!("{}, ", self.part)
        };
        let mut sections = Vec::new();
        for (number, item) in list.iter().enumerate() {
            let Some(table) = item.get_ref().as_table() else {
                self.wrong_type(key, item, "a list of tables");
                continue;
            };
            sections.push(Section {
                log: self.log,
                table,
                part: format!("{of}{key} {}", number + 1),
                place: None,
                prefix: String::new(),
                head: item.span(),
                known: Vec::new(),
            });
        }
        sections
    }

    /// Ends the reading: every key that nobody asked for is unknown.
    pub fn end(self) {
        for (key, value) in self.table {
            let name: &str = key.get_ref();
            if self.known.contains(&name) {
                continue;
            }
            let free = self.known.iter().copied().filter(|known| !self.has(known));
            let near = hint::nearest(name, free).or_else(|| hint::nearest(name, self.known.iter().copied()));
            let number = as_number(value.get_ref());
            let hint = match near {
                Some(near) => number
                    .and_then(|number| hint::converted(name, near, number))
                    .unwrap_or_else(|| format!("did you mean {near}?")),
                None => format!("known here: {}", self.known.join(", ")),
            };
            let mut draft = self.draft(
                Kind::UnknownKey,
                name,
                format!("there is no key {}", self.full(name)),
                "unknown key".to_owned(),
                Some(hint),
            );
            draft.bytes = key.span();
            self.log.fault(self.place, draft);
        }
    }
}

fn as_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Float(digits) => digits.as_str().parse().ok(),
        DeValue::Integer(digits) if digits.radix() == 10 => digits.as_str().parse().ok(),
        DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix())
            .ok()
            .map(|whole| whole as f64),
        _ => None,
    }
}

fn spell(range: &RangeInclusive<f64>) -> String {
    format!("{} to {}", hint::plain(*range.start()), hint::plain(*range.end()))
}
