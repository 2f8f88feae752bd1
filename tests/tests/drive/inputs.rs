//! Level inputs.

use embedded_hal::i2c::I2c as _;
use embedded_hal_mock::eh1::i2c::{Mock as Bus, Transaction};
use risertrim::Reading;
use risertrim::drive::{Averaged, CurrentLoop, InputFault, LevelInput, Quality, Ratiometric, Sample, Shunt, from_fn};

fn current(ma: f32) -> Sample {
    CurrentLoop::new(|| Ok::<f32, ()>(ma)).sample()
}

#[test]
fn a_current_loop_is_judged_by_the_signal_levels_of_namur_ne_43() {
    let missing = |fault| (Reading::Missing, Quality::Failed(fault));
    let (low, high) = (missing(InputFault::SignalTooLow), missing(InputFault::SignalTooHigh));
    let at_low = (Reading::Value(3.8), Quality::AtLowEnd);
    let at_high = (Reading::Value(20.5), Quality::AtHighEnd);
    let measured = |ma| (Reading::Value(ma), Quality::Good);
    // NAMUR NE 43: failed at 3.6 mA and below and at 21 mA and above; 3.8 to 20.5 mA measures; between is saturated.
    for (ma, (reading, quality)) in [
        (-1.0, low),
        (0.0, low),
        (3.6, low),
        (3.61, at_low),
        (3.79, at_low),
        (3.8, measured(3.8)),
        (4.0, measured(4.0)),
        (12.0, measured(12.0)),
        (20.5, measured(20.5)),
        (20.51, at_high),
        (20.99, at_high),
        (21.0, high),
        (25.0, high),
        (f32::NAN, missing(InputFault::NotANumber)),
        (f32::INFINITY, missing(InputFault::NotANumber)),
    ] {
        assert_eq!(current(ma), Sample { reading, quality }, "{ma} mA");
    }
}

#[test]
fn a_converter_in_error_is_a_missing_reading_and_is_asked_again() {
    let mut calls = 0;
    let mut level = CurrentLoop::new(|| {
        calls += 1;
        if calls == 1 { Err("no conversion") } else { Ok(12.0) }
    });
    assert_eq!(level.sample(), Sample::failed(InputFault::NoAnswer));
    assert_eq!(level.sample(), Sample::good(12.0));
}

#[test]
fn a_shunt_turns_counts_into_milliamperes_by_ohms_law() {
    // 12 mA through 150 ohm are 1.8 V: 1.8 / 3.3 of 4096 counts.
    let shunt = Shunt {
        ohm: 150.0,
        reference_v: 3.3,
        full_counts: 4096,
    };
    assert!((shunt.milliamperes(2234) - 12.0).abs() < 0.003);
    let none = Shunt { ohm: 0.0, ..shunt };
    assert_eq!(
        CurrentLoop::new(|| Ok::<f32, ()>(none.milliamperes(100))).sample(),
        Sample::failed(InputFault::NotANumber)
    );
}

#[test]
fn a_ratiometric_sensor_reads_the_same_on_a_sagging_supply() {
    let at = |signal, supply| Ratiometric::new(|| Ok::<(f32, f32), ()>((signal, supply))).sample();
    for supply in [4.6f32, 5.0, 5.4] {
        let Reading::Value(share) = at(0.42 * supply, supply).reading else {
            panic!("measured at {supply} V")
        };
        assert!((share - 0.42).abs() < 1.0e-6);
    }
    assert_eq!(at(0.1, 5.0), Sample::failed(InputFault::SignalTooLow));
    assert_eq!(at(4.9, 5.0), Sample::failed(InputFault::SignalTooHigh));
    assert_eq!(at(0.4, 5.0).quality, Quality::AtLowEnd);
    assert_eq!(at(4.6, 5.0).quality, Quality::AtHighEnd);
    for supply in [0.0, -5.0, 4.4, 5.6] {
        assert_eq!(at(2.0, supply), Sample::failed(InputFault::Supply), "{supply} V");
    }
    assert_eq!(at(f32::NAN, 5.0), Sample::failed(InputFault::NotANumber));
    assert_eq!(
        Ratiometric::new(|| Err(())).sample(),
        Sample::failed(InputFault::NoAnswer)
    );
}

#[test]
fn a_pressure_cell_on_i2c_survives_a_bus_that_errs() {
    let ask = || Transaction::write_read(0x28, vec![0x06], vec![0x12, 0x34]);
    let mut bus = Bus::new(&[ask(), ask().with_error(embedded_hal::i2c::ErrorKind::Bus), ask()]);
    let mut wire = bus.clone();
    let mut cell = from_fn(move || {
        let mut word = [0u8; 2];
        wire.write_read(0x28, &[0x06], &mut word)?;
        Ok::<f32, embedded_hal::i2c::ErrorKind>(f32::from(u16::from_be_bytes(word)))
    });
    assert_eq!(cell.sample(), Sample::good(4660.0));
    assert_eq!(cell.sample(), Sample::failed(InputFault::NoAnswer));
    assert_eq!(cell.sample(), Sample::good(4660.0));
    bus.done();
}

#[test]
fn ten_samples_a_second_take_out_a_slosh_that_one_a_second_would_show() {
    // 10 mm of slosh at 0.95 Hz, sampled at 10 Hz and averaged over a second.
    let mut tenths = 0i16;
    let mut level = Averaged::new(from_fn(move || {
        let wave = (std::f32::consts::TAU * 0.95 * f32::from(tenths) / 10.0).sin();
        tenths += 1;
        Ok::<f32, ()>(0.5 + 0.01 * wave)
    }));
    for _ in 0..60 {
        for _ in 0..10 {
            level.take();
        }
        let Reading::Value(mean) = level.sample().reading else {
            panic!("all samples were good")
        };
        // A sine of f Hz averaged over 1 s keeps sin(pi f)/(pi f): 5 % at 0.95 Hz.
        assert!((mean - 0.5).abs() < 0.0007, "{mean}");
    }
}

#[test]
fn a_mean_of_mostly_bad_samples_is_missing_and_of_mostly_good_ones_is_theirs() {
    let script = |good: usize, bad: usize| {
        let mut left = good + bad;
        let mut level = Averaged::new(from_fn(move || {
            left -= 1;
            if left < good { Ok(2.0) } else { Err(()) }
        }));
        for _ in 0..good + bad {
            level.take();
        }
        level.sample()
    };
    assert_eq!(script(6, 4), Sample::good(2.0));
    assert_eq!(script(4, 6), Sample::failed(InputFault::TooFewSamples));
    assert_eq!(script(0, 3), Sample::failed(InputFault::NoAnswer));
}

#[test]
fn a_mean_forgets_the_step_before_and_huge_numbers_are_no_level() {
    let mut values = [1.0f32, 3.0, 10.0].into_iter();
    let mut level = Averaged::new(from_fn(move || values.next().ok_or(())));
    level.take();
    level.take();
    assert_eq!(level.sample(), Sample::good(2.0));
    level.take();
    assert_eq!(level.sample(), Sample::good(10.0));
    assert_eq!(
        level.sample(),
        Sample::failed(InputFault::NoAnswer),
        "no sample was taken, so one is"
    );

    let mut huge = [f32::MAX, -f32::MAX].into_iter().cycle();
    let mut level = Averaged::new(from_fn(move || huge.next().ok_or(())));
    level.take();
    level.take();
    assert_eq!(level.sample(), Sample::failed(InputFault::NotANumber));
}
