//! The list of alarms from step to step: what came first, what follows from it, what was seen, silenced, is over.

use super::cause::root;
use super::{Alarm, Figure, Kind, Name, Standing, Subject, Urgency};

/// Alarms that can stand at one time; the most urgent are kept.
pub const ALARMS: usize = 24;

/// Longest silence, minutes: an alarm that still stands is heard again after it.
pub const LONGEST_SILENCE_MIN: u8 = 240;

/// The tanks of each lift, source and receiver: what is needed to see which alarm follows from which.
pub type Ways<'a> = &'a dyn Fn(u8) -> Option<(u8, u8)>;

#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Entry {
    alarm: Alarm,
    /// How long ago it was raised last, tenths of a second; nothing exactly when it is raised in this step.
    idle_ds: u16,
    silent_s: u16,
}

impl Entry {
    /// True while its condition stands, or was there a moment ago and may come again.
    fn lives(&self) -> bool {
        self.idle_ds == 0 || self.idle_ds < self.alarm.kind.lingers_s().saturating_mul(10)
    }
}

/// The alarms of an installation in the order in which they came.
#[derive(Clone, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct List {
    entries: heapless::Vec<Entry, ALARMS>,
    changed: bool,
    /// Time that makes no whole second yet.
    part_ms: u32,
}

impl List {
    /// A list without alarms.
    pub const NONE: Self = Self {
        entries: heapless::Vec::new(),
        changed: false,
        part_ms: 0,
    };

    /// Begins a step: what is not raised before [`List::end`] is over.
    pub fn begin(&mut self) {
        for entry in &mut self.entries {
            if entry.idle_ds == 0 {
                entry.idle_ds = 1;
            }
        }
    }

    /// An alarm that stands in this step, with a number that belongs to it.
    ///
    /// When there is no room, the least urgent of the list gives way, the latest first.
    pub fn raise(&mut self, kind: Kind, subject: Subject, figure: Figure) {
        if let Some(entry) = self.entries.iter_mut().find(|entry| entry.alarm.is(kind, subject)) {
            entry.idle_ds = 0;
            entry.alarm.figure = figure;
            if entry.alarm.standing == Standing::Over {
                entry.alarm.standing = Standing::New;
                self.changed = true;
            }
            return;
        }
        let mut alarm = Alarm::new(kind, subject);
        alarm.figure = figure;
        if self.entries.is_full() {
            let Some(last) = self.least_urgent(kind.urgency()) else {
                return;
            };
            self.take_off(last);
        }
        let _ = self.entries.push(Entry {
            alarm,
            idle_ds: 0,
            silent_s: 0,
        });
        self.changed = true;
    }

    /// Takes an entry off; those after it move up. (The library's own brings a general move of memory into the firmware.)
    fn take_off(&mut self, index: usize) {
        let rest = self.entries.get_mut(index..).unwrap_or(&mut []);
        let mut rest = rest.iter_mut().peekable();
        while let Some(entry) = rest.next() {
            if let Some(next) = rest.peek() {
                *entry = **next;
            }
        }
        let _ = self.entries.pop();
    }

    fn least_urgent(&self, than: Urgency) -> Option<usize> {
        let mut least: Option<(usize, Urgency)> = None;
        for (index, entry) in self.entries.iter().enumerate() {
            let urgency = entry.alarm.kind.urgency();
            if urgency > than && least.is_none_or(|(_, before)| urgency >= before) {
                least = Some((index, urgency));
            }
        }
        least.map(|(index, _)| index)
    }

    /// Ends a step of `step_ms`: alarms that were not raised go, some only after a while ([`Kind::lingers_s`]; the latched stay, marked as over), silences run out, and
    /// what follows from what is seen afresh when anything came or went.
    pub fn end(&mut self, step_ms: u32, ways: Ways<'_>) {
        let before = self.entries.len();
        let narrow = |time: u32| u16::try_from(time).unwrap_or(u16::MAX);
        let before_ds = self.part_ms / 100;
        self.part_ms = self.part_ms.saturating_add(step_ms);
        let (passed_ds, passed_s) = (narrow(self.part_ms / 100 - before_ds), narrow(self.part_ms / 1000));
        self.part_ms %= 1000;
        for entry in &mut self.entries {
            if entry.idle_ds != 0 {
                entry.idle_ds = entry.idle_ds.saturating_add(passed_ds);
            }
        }
        self.entries
            .retain(|entry| entry.lives() || entry.alarm.kind.is_latched());
        self.changed |= self.entries.len() != before;
        for entry in &mut self.entries {
            if !entry.lives() && entry.alarm.standing != Standing::Over {
                entry.alarm.standing = Standing::Over;
                // When it comes again it is another one, and heard.
                entry.silent_s = 0;
                self.changed = true;
            }
            entry.silent_s = entry.silent_s.saturating_sub(passed_s);
            entry.alarm.silent = entry.silent_s > 0;
        }
        if core::mem::take(&mut self.changed) {
            self.group(ways);
        }
    }

    fn group(&mut self, ways: Ways<'_>) {
        for index in 0..self.entries.len() {
            let Some(own) = self.entries.get(index).map(|entry| entry.alarm) else {
                return;
            };
            let standing = self
                .entries
                .iter()
                .filter(|entry| entry.alarm.stands())
                .map(|entry| Name {
                    kind: entry.alarm.kind,
                    subject: entry.alarm.subject,
                });
            let effect = Name {
                kind: own.kind,
                subject: own.subject,
            };
            let cause = root(standing, effect, ways);
            if let Some(entry) = self.entries.get_mut(index) {
                entry.alarm.cause = cause;
            }
        }
    }

    /// Somebody has seen all that stands.
    pub fn acknowledge(&mut self) {
        for entry in &mut self.entries {
            if entry.alarm.standing == Standing::New {
                entry.alarm.standing = Standing::Seen;
            }
        }
    }

    /// Takes the latched alarms off that are over.
    pub fn reset(&mut self) {
        self.entries.retain(|entry| entry.alarm.stands());
    }

    /// Silences what stands now for some minutes. What comes later is heard.
    pub fn silence(&mut self, minutes: u8) {
        let minutes = if minutes < LONGEST_SILENCE_MIN {
            minutes
        } else {
            LONGEST_SILENCE_MIN
        };
        for entry in self.entries.iter_mut().filter(|entry| entry.alarm.stands()) {
            entry.silent_s = u16::from(minutes) * 60;
            entry.alarm.silent = minutes > 0;
        }
    }

    /// True when an alarm of this kind is on the list, or a full one may have had no room for it.
    pub(crate) fn may_hold(&self, kind: Kind) -> bool {
        !self.entries.is_empty()
            && (self.entries.is_full() || self.entries.iter().any(|entry| entry.alarm.kind == kind))
    }

    /// True when this alarm is on the list and stands.
    #[must_use]
    pub fn stands(&self, kind: Kind, subject: Subject) -> bool {
        self.entries
            .iter()
            .any(|entry| entry.alarm.is(kind, subject) && entry.alarm.stands())
    }

    /// The alarms: the most urgent first, of those the causes before what follows from them, then in the order they came;
    /// what is only latched comes last of its urgency.
    #[must_use]
    pub fn sorted(&self) -> heapless::Vec<Alarm, ALARMS> {
        let mut list = heapless::Vec::new();
        self.sort_into(&mut list);
        list
    }

    /// The same, added to a list.
    pub fn sort_into(&self, list: &mut heapless::Vec<Alarm, ALARMS>) {
        if self.entries.is_empty() {
            return;
        }
        for urgency in [Urgency::High, Urgency::Medium, Urgency::Low] {
            for (stands, caused) in [(true, false), (true, true), (false, false), (false, true)] {
                for Entry { alarm, .. } in &self.entries {
                    if alarm.kind.urgency() == urgency && alarm.stands() == stands && alarm.cause.is_some() == caused {
                        let _ = list.push(*alarm);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ways(lift: u8) -> Option<(u8, u8)> {
        (lift < 2).then_some((0, lift + 1))
    }

    fn step(list: &mut List, standing: &[(Kind, Subject)]) -> heapless::Vec<Alarm, ALARMS> {
        list.begin();
        for (kind, subject) in standing {
            list.raise(*kind, *subject, Figure::None);
        }
        list.end(1000, &ways);
        list.sorted()
    }

    const HIGH: (Kind, Subject) = (Kind::PressureHigh, Subject::Tank(1));
    const BLOWER: (Kind, Subject) = (Kind::BlowerStopped, Subject::Place);

    #[test]
    fn an_alarm_goes_when_it_is_over_and_a_latched_one_stays_until_it_is_reset() {
        let mut list = List::NONE;
        assert_eq!(step(&mut list, &[HIGH, BLOWER]).len(), 2);
        let left = step(&mut list, &[]);
        assert_eq!(left.len(), 1);
        assert!(left[0].is(BLOWER.0, BLOWER.1) && !left[0].stands() && !left[0].sounds());
        list.reset();
        assert!(step(&mut list, &[]).is_empty());
    }

    #[test]
    fn a_level_that_swings_about_its_limit_comes_up_once() {
        let mut list = List::NONE;
        let level = (Kind::LevelHigh, Subject::Tank(1));
        let mut came = 0;
        let mut stood = false;
        for second in 0..7200 {
            let beyond = second % 300 < 100 && second < 3600;
            let standing = [level];
            let now = step(&mut list, standing.get(..usize::from(beyond)).unwrap_or(&[]));
            let stands = now.iter().any(Alarm::stands);
            came += u32::from(stands && !stood);
            stood = stands;
        }
        assert_eq!((came, stood), (1, false));
    }

    #[test]
    fn a_reset_takes_nothing_off_that_still_stands() {
        let mut list = List::NONE;
        step(&mut list, &[BLOWER]);
        list.reset();
        assert_eq!(step(&mut list, &[BLOWER]).len(), 1);
    }

    #[test]
    fn the_first_cause_sounds_and_its_consequences_do_not() {
        let mut list = List::NONE;
        let standing = [
            (Kind::LiftStopped, Subject::Lift(0)),
            (Kind::LiftStopped, Subject::Lift(1)),
            BLOWER,
        ];
        let sounding = step(&mut list, &standing)
            .iter()
            .filter(|alarm| alarm.sounds())
            .copied()
            .collect::<heapless::Vec<_, ALARMS>>();
        assert_eq!(sounding.len(), 1);
        assert!(sounding[0].is(BLOWER.0, BLOWER.1));
    }

    #[test]
    fn a_silence_ends_by_itself_and_covers_only_what_stood() {
        let mut list = List::NONE;
        step(&mut list, &[HIGH]);
        list.silence(1);
        let late = (Kind::SensorSilent, Subject::Tank(2));
        let now = step(&mut list, &[HIGH, late]);
        assert!(now.iter().all(|alarm| alarm.sounds() == alarm.is(late.0, late.1)));
        let mut sounds = false;
        for _ in 0..60 {
            sounds = step(&mut list, &[HIGH, late]).iter().all(Alarm::sounds);
        }
        assert!(sounds);
    }

    #[test]
    fn an_alarm_that_comes_again_is_heard_whatever_was_silenced_before() {
        // Silenced when it was over already, and silenced while it stood and over since.
        for over_first in [true, false] {
            let mut list = List::NONE;
            step(&mut list, &[BLOWER]);
            if over_first {
                step(&mut list, &[]);
            }
            list.silence(LONGEST_SILENCE_MIN);
            let over = step(&mut list, &[]);
            assert!(over[0].is(BLOWER.0, BLOWER.1) && !over[0].stands());
            let again = step(&mut list, &[BLOWER])[0];
            assert!(again.stands() && again.sounds(), "over first: {over_first}, {again:?}");
        }
    }

    #[test]
    fn what_was_seen_is_quiet_until_it_comes_again() {
        let mut list = List::NONE;
        step(&mut list, &[BLOWER]);
        list.acknowledge();
        assert!(!step(&mut list, &[BLOWER])[0].sounds());
        step(&mut list, &[]);
        assert!(step(&mut list, &[BLOWER])[0].sounds());
    }

    #[test]
    fn a_full_list_gives_way_to_what_is_more_urgent() {
        let mut list = List::NONE;
        list.begin();
        for lift in 0..30 {
            list.raise(Kind::LiftFouling, Subject::Lift(lift), Figure::None);
        }
        list.raise(BLOWER.0, BLOWER.1, Figure::None);
        list.raise(HIGH.0, HIGH.1, Figure::None);
        list.end(1000, &ways);
        let sorted = list.sorted();
        assert_eq!(sorted.len(), ALARMS);
        assert!(sorted[0].is(BLOWER.0, BLOWER.1) && sorted[1].is(HIGH.0, HIGH.1));
    }
}
