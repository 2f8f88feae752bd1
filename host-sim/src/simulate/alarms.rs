//! Which alarms stood from when to when.

use super::outcome::AlarmOutcome;
use crate::names::Names;
use crate::scenario::Scenario;
use risertrim::alarm::{Alarm, Figure, Subject};

/// One alarm that came up, and when it went.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Entry {
    alarm: Alarm,
    /// Its number by now.
    latest: Figure,
    at_s: f64,
    cleared_s: Option<f64>,
}

impl Entry {
    /// As it is told: one that stands with its number of the moment, one that is over with that of when it came up.
    fn told(&self) -> Alarm {
        let mut alarm = self.alarm;
        if self.cleared_s.is_none() {
            alarm.figure = self.latest;
        }
        alarm
    }

    /// The same in words, with the other of its two numbers where that differs.
    fn sentence(&self, names: &Names) -> String {
        let text = names.sentence(&self.told());
        let (first, last) = (self.alarm.figure.words(), self.latest.words());
        let (when, other) = match self.cleared_s {
            None => ("When it came up", first),
            Some(_) => ("When it went", last),
        };
        // What the number counts is told already where both count the same.
        match (other, first.zip(last)) {
            (Some(_), _) if first == last => text,
            (Some((number, what)), Some((first, last))) if first.1 == last.1 => {
                // Its unit is the first word of it.
                let unit = what.split(' ').next().unwrap_or_default();
                format!("{text} {when}: about {number} {unit}.")
            }
            (Some((number, what)), _) => format!("{text} {when}: about {number} {what}."),
            (None, _) => text,
        }
    }
}

/// Keeps every alarm that came up.
#[derive(Clone, Debug, Default)]
pub(super) struct AlarmLog {
    entries: Vec<Entry>,
    standing: Vec<Alarm>,
}

impl AlarmLog {
    /// One step: `now` are the alarms that stand.
    pub fn note(&mut self, now_s: f64, now: &[Alarm]) {
        if self.standing == now {
            return;
        }
        let is_in = |list: &[Alarm], alarm: &Alarm| list.iter().any(|other| other.same_as(alarm) && other.stands());
        for entry in self.entries.iter_mut().filter(|entry| entry.cleared_s.is_none()) {
            match now.iter().find(|alarm| alarm.same_as(&entry.alarm) && alarm.stands()) {
                // The cause may be found later.
                Some(alarm) => (entry.alarm.cause, entry.latest) = (alarm.cause, alarm.figure),
                None => entry.cleared_s = Some(now_s),
            }
        }
        let standing = now.iter().filter(|alarm| alarm.stands());
        for alarm in standing.filter(|alarm| !is_in(&self.standing, alarm)) {
            self.entries.push(Entry {
                alarm: *alarm,
                latest: alarm.figure,
                at_s: now_s,
                cleared_s: None,
            });
        }
        self.standing.clear();
        self.standing.extend_from_slice(now);
    }

    pub fn outcome(&self, scenario: &Scenario) -> Vec<AlarmOutcome> {
        let entries = self.entries.iter();
        entries
            .map(|entry| AlarmOutcome {
                at_s: entry.at_s,
                cleared_s: entry.cleared_s,
                kind: entry.alarm.kind.name().to_owned(),
                subject: subject_name(entry.alarm.subject, scenario),
                text: entry.sentence(&names(scenario)),
                figure_at_onset: entry.alarm.figure.words().map(|(number, _)| number),
                figure_last: entry.latest.words().map(|(number, _)| number),
                figure_of: entry
                    .latest
                    .words()
                    .or(entry.alarm.figure.words())
                    .map(|(_, what)| what.to_owned()),
                urgency: entry.alarm.kind.urgency(),
                what: entry.alarm.kind.text().what.to_owned(),
                means: entry.alarm.kind.text().means.to_owned(),
                act: entry.alarm.kind.text().act.to_owned(),
            })
            .collect()
    }
}

/// What an alarm is about, by the name its scenario gives it: `lift beds`, `fry tank`, `place`.
#[must_use]
pub fn subject_name(subject: Subject, scenario: &Scenario) -> String {
    names(scenario).subject(subject)
}

fn names(scenario: &Scenario) -> Names {
    Names {
        tanks: scenario.tank_names.clone(),
        lifts: scenario.lift_names.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use risertrim::alarm::Kind;

    #[test]
    fn an_alarm_that_comes_back_is_a_second_entry() {
        let high = Alarm::new(Kind::LevelHigh, Subject::Tank(0));
        let low = Alarm::new(Kind::LevelLow, Subject::Tank(1));
        let mut log = AlarmLog::default();
        for (now, standing) in [
            (1.0, vec![]),
            (2.0, vec![high]),
            (3.0, vec![low, high]),
            (4.0, vec![low]),
            (5.0, vec![high, low]),
        ] {
            log.note(now, &standing);
        }
        let times: Vec<_> = log.entries.iter().map(|e| (e.alarm, e.at_s, e.cleared_s)).collect();
        assert_eq!(times, [(high, 2.0, Some(4.0)), (low, 3.0, None), (high, 5.0, None)]);
    }

    #[test]
    fn an_alarm_that_stands_is_told_with_its_number_of_the_moment_and_one_that_is_over_as_it_came_up() {
        let at = |percent| {
            let mut alarm = Alarm::new(Kind::LiftFouling, Subject::Lift(0));
            alarm.figure = Figure::Percent(percent);
            alarm
        };
        let mut log = AlarmLog::default();
        log.note(1.0, &[at(84)]);
        log.note(2.0, &[at(70)]);
        assert_eq!(log.entries[0].told(), at(70));
        log.note(3.0, &[at(86)]);
        log.note(4.0, &[]);
        assert_eq!(log.entries[0].told(), at(84));
    }
}
