//! Blowers on relays.

use embedded_hal::digital::{ErrorKind, ErrorType, OutputPin};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction};
use proptest::prelude::*;
use risertrim::Millis;
use risertrim::drive::{Active, BankTimes, DriveFault, RelayBank};
use std::cell::Cell;
use std::rc::Rc;

const TIMES: BankTimes = BankTimes {
    stagger_ms: 5_000,
    least_on_ms: 60_000,
    least_off_ms: 30_000,
    rotate_ms: 600_000,
};

/// A relay that can be broken: it then errs and keeps its state.
#[derive(Clone, Default)]
struct Relay {
    on: Rc<Cell<bool>>,
    broken: Rc<Cell<bool>>,
}

impl ErrorType for Relay {
    type Error = ErrorKind;
}

impl OutputPin for Relay {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        self.set(false)
    }

    fn set_high(&mut self) -> Result<(), ErrorKind> {
        self.set(true)
    }
}

impl Relay {
    fn set(&self, on: bool) -> Result<(), ErrorKind> {
        if self.broken.get() {
            return Err(ErrorKind::Other);
        }
        self.on.set(on);
        Ok(())
    }
}

fn bank<const N: usize>(times: BankTimes) -> ([Relay; N], RelayBank<Relay, N>) {
    let relays: [Relay; N] = std::array::from_fn(|_| Relay::default());
    (relays.clone(), RelayBank::new(relays, Active::High, times, [0; N]))
}

fn on<const N: usize>(relays: &[Relay; N]) -> usize {
    relays.iter().filter(|relay| relay.on.get()).count()
}

#[test]
fn blowers_start_one_after_the_other_and_all_of_them_until_told_otherwise() {
    let (relays, mut bank) = bank::<3>(TIMES);
    for second in 0..12u32 {
        bank.poll(Millis(1000 * second)).expect("the relays answer");
        let expected = 1 + usize::try_from(second).expect("small") / 5;
        assert_eq!(on(&relays), expected, "after {second} s");
        assert_eq!(bank.running(), expected);
    }
}

#[test]
fn a_relay_that_errs_is_named_and_the_others_are_set_all_the_same() {
    let error = MockError::Io(std::io::ErrorKind::Other);
    let low = || Transaction::set(State::Low);
    let mut first = Pin::new(&[low().with_error(error.clone()), low()]);
    let mut second = Pin::new(&[Transaction::set(State::High), Transaction::set(State::High)]);
    // Runs at a low level.
    let mut bank = RelayBank::new([first.clone(), second.clone()], Active::Low, TIMES, [0, 0]);
    bank.want(1);
    assert_eq!(bank.poll(Millis(0)), Err(DriveFault::Relay(0)));
    assert_eq!(bank.poll(Millis(1000)), Ok(()));
    first.done();
    second.done();
}

#[test]
fn another_blower_runs_in_place_of_one_whose_relay_broke() {
    let (relays, mut bank) = bank::<3>(TIMES);
    bank.want(1);
    let mut now = Millis(0);
    let mut poll = |bank: &mut RelayBank<Relay, 3>| {
        now = now.plus(1000);
        bank.poll(now)
    };
    poll(&mut bank).expect("the relays answer");
    assert!(relays[0].on.get());
    // The board loses this relay; whether its blower still runs nobody knows.
    relays[0].broken.set(true);
    assert_eq!(poll(&mut bank), Err(DriveFault::Relay(0)));
    for _ in 0..6 {
        let _ = poll(&mut bank);
    }
    assert!(relays[1].on.get(), "the next one took over");
    relays[0].broken.set(false);
    for _ in 0..120 {
        poll(&mut bank).expect("it answers again");
    }
    assert_eq!(on(&relays), 1, "one is enough again");
}

#[test]
fn relays_that_let_go_together_take_hold_one_after_the_other() {
    let (relays, mut bank) = bank::<3>(TIMES);
    let mut now = Millis(0);
    for _ in 0..60 {
        bank.poll(now).expect("the relays answer");
        now = now.plus(1000);
    }
    assert_eq!(on(&relays), 3);
    // What switches them loses its supply for half a minute.
    for relay in &relays {
        relay.broken.set(true);
        relay.on.set(false);
    }
    for _ in 0..30 {
        let _ = bank.poll(now);
        now = now.plus(1000);
    }
    for relay in &relays {
        relay.broken.set(false);
    }
    for second in 0..12usize {
        bank.poll(now).expect("the relays answer");
        now = now.plus(1000);
        assert_eq!(on(&relays), 1 + second / 5, "after {second} s");
    }
}

#[test]
fn wear_is_shared_and_the_air_never_dips_when_places_change() {
    let (relays, mut bank) = bank::<3>(TIMES);
    bank.want(2);
    let mut now = Millis(u32::MAX - 3_600_000); // the counter wraps on the way
    for second in 0..100_000 {
        bank.poll(now).expect("the relays answer");
        assert!(second < 10 || on(&relays) >= 2, "{} run after {second} s", on(&relays));
        now = now.plus(1000);
    }
    let run = bank.run_ms();
    let (least, most) = (run.iter().min().expect("three"), run.iter().max().expect("three"));
    assert!(most - least <= 700_000, "{run:?}");
}

#[test]
fn wear_is_shared_over_a_restart() {
    let relays: [Relay; 2] = std::array::from_fn(|_| Relay::default());
    let mut bank = RelayBank::new(relays.clone(), Active::High, TIMES, [9_000_000, 1_000_000]);
    bank.want(1);
    bank.poll(Millis(0)).expect("the relays answer");
    assert!(
        !relays[0].on.get() && relays[1].on.get(),
        "the one that has run less starts"
    );
    assert_eq!(bank.run_ms(), [9_000_000, 1_000_000]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_blower_is_started_or_stopped_sooner_than_it_may_be(
        wants in prop::collection::vec((0usize..=4, 1u32..400), 1..40), start: u32,
    ) {
        let (relays, mut bank) = bank::<4>(TIMES);
        let mut now = Millis(start);
        let mut since: [Option<(bool, u32)>; 4] = [None; 4];
        let mut clock = 0u32;
        let mut last_start = None;
        for (count, seconds) in wants {
            bank.want(count);
            for _ in 0..seconds {
                bank.poll(now).expect("the relays answer");
                let mut starts = 0;
                for (relay, since) in relays.iter().zip(&mut since) {
                    let is_on = relay.on.get();
                    match *since {
                        None if !is_on => {}
                        Some((was_on, _)) if was_on == is_on => {}
                        earlier => {
                            if let Some((was_on, at)) = earlier {
                                let least = if was_on { TIMES.least_on_ms } else { TIMES.least_off_ms };
                                prop_assert!(clock - at >= least, "after {} ms", clock - at);
                            }
                            starts += u32::from(is_on);
                            *since = Some((is_on, clock));
                        }
                    }
                }
                if starts > 0 {
                    prop_assert_eq!(starts, 1);
                    prop_assert!(last_start.is_none_or(|at| clock - at >= TIMES.stagger_ms));
                    last_start = Some(clock);
                }
                now = now.plus(1000);
                clock += 1000;
            }
            // What is wanted runs once every shortest time and stagger has passed.
            if seconds > 120 {
                prop_assert!(bank.running() >= count);
            }
        }
    }
}
