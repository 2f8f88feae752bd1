//! The time-proportioned solenoid.

use embedded_hal::digital::{ErrorType, OutputPin};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction};
use proptest::prelude::*;
use risertrim::drive::{Active, CycleTimes, DriveFault, Solenoid, ValveDrive};
use risertrim::{Millis, Opening};
use std::cell::Cell;
use std::rc::Rc;

const TIMES: CycleTimes = CycleTimes {
    cycle_ms: 10_000,
    least_open_ms: 1_000,
    least_shut_ms: 1_000,
};

/// A pin that shows its state to the test.
#[derive(Clone, Default)]
struct Shown(Rc<Cell<bool>>);

impl ErrorType for Shown {
    type Error = std::convert::Infallible;
}

impl OutputPin for Shown {
    fn set_low(&mut self) -> Result<(), Self::Error> {
        self.0.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Self::Error> {
        self.0.set(true);
        Ok(())
    }
}

#[test]
fn thirty_percent_is_three_seconds_in_ten() {
    let pattern = "HHHLLLLLLLHHHLLLLLLLHHHLLLLLLL";
    let expected: Vec<Transaction> = pattern
        .chars()
        .map(|level| Transaction::set(if level == 'H' { State::High } else { State::Low }))
        .collect();
    let mut pin = Pin::new(&expected);
    let mut valve = Solenoid::new(pin.clone(), Active::High, TIMES);
    for second in 0..30 {
        valve
            .send(Opening::new(0.3), Millis(1000 * second))
            .expect("the pin answers");
    }
    pin.done();
}

#[test]
fn a_share_too_short_for_one_cycle_is_saved_up_for_a_later_one() {
    let shown = Shown::default();
    let mut valve = Solenoid::new(shown.clone(), Active::High, TIMES);
    let mut opened = Vec::new();
    let mut before = false;
    for tick in 0..6000u32 {
        valve
            .send(Opening::new(0.04), Millis(100 * tick))
            .expect("the pin answers");
        let open = shown.0.get();
        if open && !before {
            opened.push(tick / 100);
        }
        before = open;
    }
    // 4 % of 10 s is 0.4 s: a second and more is owed in every third cycle, once in a while in the second.
    let gaps: Vec<u32> = opened.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert!(
        !gaps.is_empty() && gaps.iter().all(|gap| (2..=3).contains(gap)),
        "{opened:?}"
    );
}

#[test]
fn a_valve_sent_wide_open_is_open_within_its_shortest_time_whatever_it_owes() {
    // A pin that stood open without answering: the valve had far more air than it was sent, and its fish need more now.
    let error = || MockError::Io(std::io::ErrorKind::Other);
    let mut expected = vec![Transaction::set(State::High)];
    expected.extend((0..40).map(|_| Transaction::set(State::Low).with_error(error())));
    expected.extend((0..30).map(|_| Transaction::set(State::High)));
    let mut pin = Pin::new(&expected);
    let mut valve = Solenoid::new(pin.clone(), Active::High, TIMES);
    assert_eq!(valve.send(Opening::new(1.0), Millis(0)), Ok(()));
    for second in 1..=40 {
        assert!(valve.send(Opening::SHUT, Millis(1000 * second)).is_err());
    }
    for second in 41..=70 {
        assert_eq!(
            valve.send(Opening::new(1.0), Millis(1000 * second)),
            Ok(()),
            "at {second} s"
        );
    }
    pin.done();
}

#[test]
fn a_pin_in_error_is_a_fault_and_the_time_it_cost_is_made_up_for() {
    let error = || MockError::Io(std::io::ErrorKind::Other);
    let mut expected = vec![
        Transaction::set(State::Low),
        Transaction::set(State::High).with_error(error()),
        Transaction::set(State::High).with_error(error()),
    ];
    // Half of the time from then on: 5 s open in ten from the first answer.
    expected.extend((0..5).map(|_| Transaction::set(State::High)));
    expected.extend((0..3).map(|_| Transaction::set(State::Low)));
    let mut pin = Pin::new(&expected);
    let mut valve = Solenoid::new(
        pin.clone(),
        Active::High,
        CycleTimes {
            least_open_ms: 0,
            least_shut_ms: 0,
            ..TIMES
        },
    );
    assert_eq!(valve.send(Opening::SHUT, Millis(0)), Ok(()));
    // A new cycle begins at 10 s.
    for second in 10..12 {
        assert_eq!(
            valve.send(Opening::new(0.5), Millis(1000 * second)),
            Err(DriveFault::SolenoidPin)
        );
    }
    for second in 12..20 {
        assert_eq!(
            valve.send(Opening::new(0.5), Millis(1000 * second)),
            Ok(()),
            "at {second} s"
        );
    }
    pin.done();
}

#[test]
fn a_valve_that_is_open_without_current_is_left_without_it() {
    let shown = Shown::default();
    let mut valve = Solenoid::new(shown.clone(), Active::Low, TIMES);
    for second in 0..40 {
        valve
            .send(Opening::WIDE, Millis(1000 * second))
            .expect("the pin answers");
        assert!(!shown.0.get() && valve.is_open());
    }
}

/// Runs a solenoid under a schedule of shares and call intervals; gives open time, time asked for, and the runs of each state, ms.
struct Ran {
    open_ms: f64,
    asked_ms: f64,
    runs: Vec<(bool, u32)>,
}

fn run(times: CycleTimes, start: u32, calls: impl Iterator<Item = (f32, u32)>) -> Ran {
    let shown = Shown::default();
    let mut valve = Solenoid::new(shown.clone(), Active::High, times);
    let mut now = Millis(start);
    let mut ran = Ran {
        open_ms: 0.0,
        asked_ms: 0.0,
        runs: Vec::new(),
    };
    for (share, wait_ms) in calls {
        valve.send(Opening::new(share), now).expect("the pin answers");
        let open = shown.0.get();
        if open {
            ran.open_ms += f64::from(wait_ms);
        }
        ran.asked_ms += f64::from(Opening::new(share).share()) * f64::from(wait_ms);
        match ran.runs.last_mut() {
            Some((state, ms)) if *state == open => *ms += wait_ms,
            _ => ran.runs.push((open, wait_ms)),
        }
        now = now.plus(wait_ms);
    }
    ran
}

fn times() -> impl Strategy<Value = CycleTimes> {
    (1_000u32..60_000, 0u32..100, 0u32..100).prop_map(|(cycle_ms, open, shut)| CycleTimes {
        cycle_ms,
        least_open_ms: cycle_ms * open / 100,
        least_shut_ms: cycle_ms * shut / 100,
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn the_mean_is_the_share_whatever_the_times_and_the_calls(
        times in times(), share in 0.0f32..=1.0, start: u32, waits in prop::collection::vec(1u32..900, 50..60),
    ) {
        let calls = waits.iter().copied().cycle().take(8000).map(|wait| (share, wait));
        let ran = run(times, start, calls);
        // Never further off than a cycle and a call, however long it runs: nothing adds up.
        let off = (ran.open_ms - ran.asked_ms).abs();
        prop_assert!(off <= f64::from(times.cycle_ms) + 900.0 + 0.00001 * ran.asked_ms, "{} ms off", off);
    }

    #[test]
    fn neither_state_is_shorter_than_its_shortest_time(
        times in times(), shares in prop::collection::vec(0.0f32..=1.0, 5), waits in prop::collection::vec(1u32..900, 50..60),
    ) {
        let calls = waits.iter().copied().cycle().take(8000).enumerate().map(|(n, wait)| (shares[n / 1600], wait));
        let ran = run(times, 0, calls);
        let inner = ran.runs.iter().skip(1).take(ran.runs.len().saturating_sub(2));
        for (open, ms) in inner {
            let least = if *open { times.least_open_ms } else { times.least_shut_ms };
            prop_assert!(*ms >= least, "{} for {} ms", if *open { "open" } else { "shut" }, ms);
        }
    }

    #[test]
    fn a_changed_share_shows_within_one_cycle(times in times(), before in 0.0f32..=1.0, to_wide: bool) {
        let shown = Shown::default();
        let mut valve = Solenoid::new(shown.clone(), Active::High, times);
        let mut now = Millis(0);
        for _ in 0..3000 {
            valve.send(Opening::new(before), now).expect("the pin answers");
            now = now.plus(100);
        }
        let end = if to_wide { Opening::WIDE } else { Opening::SHUT };
        // What was owed is settled first: at most one more pulse or pause.
        let mut waited = 0;
        while waited <= 3 * times.cycle_ms {
            valve.send(end, now).expect("the pin answers");
            now = now.plus(100);
            waited += 100;
        }
        prop_assert_eq!(shown.0.get(), to_wide);
    }
}

#[test]
fn a_clock_that_leaps_or_goes_back_leaves_the_valve_at_work() {
    let shown = Shown::default();
    let mut valve = Solenoid::new(shown.clone(), Active::High, TIMES);
    let mut clock = 0u32;
    for leap in [3_000_000_000u32, 1, 4_000_000_000, 2_147_483_648, 86_400_000] {
        clock = clock.wrapping_add(leap);
        valve.send(Opening::new(0.5), Millis(clock)).expect("the pin answers");
        let mut open = 0;
        // Two cycles to settle what the leap left owed, then it is 50 % again.
        for tick in 0..600 {
            clock = clock.wrapping_add(100);
            valve.send(Opening::new(0.5), Millis(clock)).expect("the pin answers");
            open += u32::from(shown.0.get() && tick >= 400);
        }
        assert!((95..=105).contains(&open), "{open} of 200 after a leap of {leap} ms");
    }
}
