//! Drivers, store and log with every pin, bus and flash in the hands of the outside.

use core::hint::black_box;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorKind, ErrorType, InputPin, OutputPin};
use embedded_hal::pwm::{self, SetDutyCycle};
use embedded_storage::nor_flash::{self, NorFlash, NorFlashErrorKind, ReadNorFlash};
use risertrim::controller::Learned;
use risertrim::drive::{
    Active, AlarmContact, Averaged, BankTimes, CurrentLoop, CycleTimes, Heartbeat, LevelInput, Mechanics, Proportional,
    Pulses, Ratiometric, RelayBank, Servo, Shunt, Signal, Solenoid, SpeedBlower, Stepper, ValveDrive, from_fn, pulsed,
};
use risertrim::lift::Curve;
use risertrim::{FreeAir, Installation, Millis, Opening, WaterFlow};
use risertrim_firmware::{FlashLog, Item, Keeper, RamLog, Store, erases_a_year, log_erases_a_year, log_hours};

/// Any device: what it answers comes from outside.
pub struct Wire(u16);

impl Wire {
    fn ask(&self) -> Result<u16, ErrorKind> {
        if black_box(self.0) == 0 {
            Err(ErrorKind::Other)
        } else {
            Ok(black_box(self.0))
        }
    }
}

impl ErrorType for Wire {
    type Error = ErrorKind;
}

impl OutputPin for Wire {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        self.ask().map(|_| ())
    }

    fn set_high(&mut self) -> Result<(), ErrorKind> {
        self.ask().map(|_| ())
    }
}

impl InputPin for Wire {
    fn is_high(&mut self) -> Result<bool, ErrorKind> {
        self.ask().map(|answer| answer > 1)
    }

    fn is_low(&mut self) -> Result<bool, ErrorKind> {
        self.ask().map(|answer| answer <= 1)
    }
}

impl DelayNs for Wire {
    fn delay_ns(&mut self, ns: u32) {
        black_box(ns);
    }
}

/// A PWM output.
pub struct Pwm(Wire);

impl pwm::ErrorType for Pwm {
    type Error = pwm::ErrorKind;
}

impl SetDutyCycle for Pwm {
    fn max_duty_cycle(&self) -> u16 {
        black_box(self.0.0)
    }

    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), pwm::ErrorKind> {
        black_box(duty);
        self.0.ask().map(|_| ()).map_err(|_| pwm::ErrorKind::Other)
    }
}

/// A flash.
pub struct Chip(Wire);

impl nor_flash::ErrorType for Chip {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Chip {
    const READ_SIZE: usize = 4;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        black_box(offset);
        for byte in bytes {
            *byte = black_box(0);
        }
        self.0.ask().map(|_| ()).map_err(|_| NorFlashErrorKind::Other)
    }

    fn capacity(&self) -> usize {
        usize::from(black_box(self.0.0))
    }
}

impl NorFlash for Chip {
    const WRITE_SIZE: usize = 8;
    const ERASE_SIZE: usize = 4096;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        black_box((from, to));
        self.0.ask().map(|_| ()).map_err(|_| NorFlashErrorKind::Other)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        black_box((offset, bytes));
        self.0.ask().map(|_| ()).map_err(|_| NorFlashErrorKind::Other)
    }
}

/// What comes from outside.
pub struct Devices {
    answer: u16,
    now: Millis,
    number: f32,
    stepper: Stepper<Wire, Wire, Wire, Wire, Wire>,
    solenoid: Solenoid<Wire>,
    servo: Servo<Pwm>,
    blower: SpeedBlower<Pwm>,
    bank: RelayBank<Wire, 3>,
    times: (CycleTimes, BankTimes, Mechanics, Pulses, Signal),
    curve: Curve,
    store: Store<Chip, 1024>,
    log: FlashLog<Chip>,
    ram: RamLog<300>,
}

impl Devices {
    fn wire(&self) -> Wire {
        Wire(black_box(self.answer))
    }
}

/// Every driver.
#[inline(never)]
pub fn drive(world: &mut Devices) {
    let (now, number) = (black_box(world.now), black_box(world.number));
    let opening = Opening::new(number);
    let (cycle, bank, mechanics, pulses, signal) = black_box(world.times);
    let mut valves: [&mut dyn ValveDrive; 3] = [&mut world.stepper, &mut world.solenoid, &mut world.servo];
    for valve in &mut valves {
        black_box(valve.send(opening, now).is_ok());
        black_box(valve.poll(now).is_ok());
        black_box(valve.position());
    }
    world.stepper.home();
    black_box(world.blower.run(number, now).is_ok());
    black_box(world.blower.stop(now).is_ok());
    world.bank.want(usize::from(black_box(world.answer)));
    black_box((world.bank.poll(now).is_ok(), world.bank.run_ms()));
    let mut valve = Proportional::new(Pwm(world.wire()), Signal::volts(number, number, number));
    black_box(valve.send(opening, now).is_ok());
    black_box(signal.counts(number, black_box(world.answer)));
    world.stepper = Stepper::new(world.wire(), world.wire(), world.wire(), mechanics)
        .with_enable(world.wire())
        .with_end_stop(world.wire());
    world.solenoid = Solenoid::new(world.wire(), Active::Low, cycle);
    world.servo = Servo::new(Pwm(world.wire()), pulses).resting_after_ms(black_box(world.now.0));
    world.blower = SpeedBlower::new(Pwm(world.wire()), signal, number, now.0);
    let pins = [world.wire(), world.wire(), world.wire()];
    world.bank = RelayBank::new(pins, Active::High, bank, black_box([0; 3]));
    black_box(AlarmContact::new(world.wire(), Active::High).show(number > 0.0).is_ok());
    black_box(Heartbeat::new(world.wire()).beat().is_ok());
}

/// Every input, and what pulses make of a curve.
#[inline(never)]
pub fn measure(world: &mut Devices) {
    let number = black_box(world.number);
    let shunt = Shunt {
        ohm: number,
        reference_v: number,
        full_counts: black_box(world.answer),
    };
    let wire = world.wire();
    let mut level = Averaged::new(CurrentLoop::new(|| wire.ask().map(|counts| shunt.milliamperes(counts))));
    level.take();
    black_box(level.sample());
    black_box(Ratiometric::new(|| wire.ask().map(|counts| (number, f32::from(counts)))).sample());
    black_box(from_fn(|| wire.ask().map(f32::from)).sample());
    let (low, high) = (FreeAir::from_m3_s(number), FreeAir::from_m3_s(black_box(number)));
    black_box(pulsed::characteristic(&world.curve, low, high).is_some());
    black_box(pulsed::mean_flow(&world.curve, low, high, number));
    black_box(pulsed::share_for(&world.curve, low, high, WaterFlow::from_m3_s(number)));
    black_box(pulsed::least_bleed(&world.curve, low));
}

/// Store and logs.
#[inline(never)]
pub fn keep(world: &mut Devices, installation: &Installation<8, 9>, learned: &[Learned]) {
    if let Ok(store) = Store::open(Chip(world.wire())) {
        world.store = store;
    }
    let ours = black_box(7);
    black_box(world.store.save_learned(ours, learned).is_ok());
    black_box(world.store.load_learned::<8>(ours).is_ok());
    black_box(world.store.put_installation(installation).is_ok());
    black_box(world.store.commit().is_ok());
    world.store.revert();
    black_box(world.store.load_installation::<8, 9>().is_ok());
    let mut bytes = black_box([0u8; 300]);
    let mut keeper = Keeper::<_, 1024>::new(Chip(world.wire()));
    for item in [Item::Installation, Item::Learned] {
        black_box(keeper.save(item, &bytes).is_ok());
        black_box(keeper.load(item, &mut bytes).is_ok());
        black_box(keeper.go_back(item).is_ok());
        black_box(world.store.save_bytes(item, &bytes).is_ok());
        black_box(world.store.load_bytes(item, &mut bytes).is_ok());
        black_box(world.store.go_back(item).is_ok());
    }
    if let Ok(log) = FlashLog::open(Chip(world.wire())) {
        world.log = log;
    }
    let mut room = black_box([0u8; 100]);
    let mut cursor = black_box(world.log.oldest());
    black_box(world.log.append(&room, &room).is_ok());
    black_box(world.log.read(&mut cursor, &mut room).is_ok());
    world.ram.push(&room);
    black_box(world.ram.take(&mut room));
    black_box(world.ram.bytes().count());
    let number = black_box(world.now.0);
    black_box(erases_a_year(number, number, black_box(number), number));
    black_box((log_hours(number, number, number), log_erases_a_year(number, number)));
}
