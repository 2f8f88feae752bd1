//! The board: pins to drivers, drivers to what the application asks for.

use super::{flash, last_words};
use core::convert::Infallible;
use embedded_hal::digital::{InputPin, OutputPin, PinState};
use embedded_hal::pwm::SetDutyCycle;
use fugit::{ExtU32, RateExtU32};
use risertrim::ResetCause;
use risertrim::drive::{
    Active, AlarmContact, CurrentLoop, Heartbeat, LevelInput, Proportional, Shunt, Signal, ValveDrive,
};
use risertrim::{Command, Millis, Opening, Reading};
use risertrim_firmware::{Board, INSTALLATION_BYTES, Item, Keeper, RETAINED, Unkept};
use rp2040_hal::adc::AdcPin;
use rp2040_hal::clocks::{Clock, init_clocks_and_plls};
use rp2040_hal::gpio::bank0::{Gpio0, Gpio1, Gpio6, Gpio7, Gpio8, Gpio25, Gpio26, Gpio27, Gpio28};
use rp2040_hal::gpio::{
    FunctionNull, FunctionSio, FunctionUart, Pin, Pins, PullDown, PullNone, PullUp, SioInput, SioOutput,
};
use rp2040_hal::pwm::{A, Channel, FreeRunning, Pwm1, Pwm2, Slice, Slices};
use rp2040_hal::uart::{DataBits, Enabled, StopBits, UartConfig, UartPeripheral};
use rp2040_hal::{Adc, Sio, Timer, Watchdog, pac};

/// Lifts it has valves for.
pub const LIFTS: usize = 2;
/// Tanks it has inputs for.
pub const TANKS: usize = 3;

/// Working memory of the store: the largest installation and what goes around it.
const ROOM: usize = INSTALLATION_BYTES + 32;
/// Crystal of the board, Hz.
const CRYSTAL_HZ: u32 = 12_000_000;
/// What a valve stands at until an installation says otherwise: half open gives air.
const SAFE: f32 = 0.5;
/// The converter of a level loop: 12 bits over 3.3 V, 150 ohm.
const SHUNT: Shunt = Shunt {
    ohm: 150.0,
    reference_v: 3.3,
    full_counts: 4095,
};

type Analogue<P> = AdcPin<Pin<P, FunctionNull, PullNone>>;
type Valve<S> = Proportional<Channel<Slice<S, FreeRunning>, A>>;
type Line =
    UartPeripheral<Enabled, pac::UART0, (Pin<Gpio0, FunctionUart, PullDown>, Pin<Gpio1, FunctionUart, PullDown>)>;

/// The board.
pub struct Pico {
    cause: ResetCause,
    watchdog: Watchdog,
    timer: Timer,
    adc: Adc,
    levels: (Analogue<Gpio26>, Analogue<Gpio27>, Analogue<Gpio28>),
    valves: (Valve<Pwm1>, Valve<Pwm2>),
    contact: AlarmContact<Pin<Gpio6, FunctionSio<SioOutput>, PullDown>>,
    heart: Heartbeat<Pin<Gpio25, FunctionSio<SioOutput>, PullDown>>,
    horn: Pin<Gpio8, FunctionSio<SioOutput>, PullDown>,
    button: Pin<Gpio7, FunctionSio<SioInput>, PullUp>,
    /// The button was down when it was looked at last.
    pressed: bool,
    line: Line,
    kept: Keeper<flash::Flash, ROOM>,
}

impl Pico {
    /// Takes the hardware, once.
    pub fn take() -> Option<Self> {
        let mut all = pac::Peripherals::take()?;
        let cause = last_words::cause(&all.WATCHDOG, &all.VREG_AND_CHIP_RESET);
        let mut watchdog = Watchdog::new(all.WATCHDOG);
        let clocks = init_clocks_and_plls(
            CRYSTAL_HZ,
            all.XOSC,
            all.CLOCKS,
            all.PLL_SYS,
            all.PLL_USB,
            &mut all.RESETS,
            &mut watchdog,
        )
        .ok()?;
        let sio = Sio::new(all.SIO);
        let pins = Pins::new(all.IO_BANK0, all.PADS_BANK0, sio.gpio_bank0, &mut all.RESETS);
        let slices = Slices::new(all.PWM, &mut all.RESETS);
        let (mut first, mut second) = (slices.pwm1, slices.pwm2);
        // No signal first, which is wide open; the pins only when that is set.
        let _ = first.channel_a.set_duty_cycle(0);
        let _ = second.channel_a.set_duty_cycle(0);
        first.enable();
        second.enable();
        first.channel_a.output_to(pins.gpio2);
        second.channel_a.output_to(pins.gpio4);
        let volts = Signal::volts(10.0, 0.0, 10.0);
        let valves = (
            Proportional::new(first.channel_a, volts),
            Proportional::new(second.channel_a, volts),
        );
        let line = UartPeripheral::new(
            all.UART0,
            (pins.gpio0.into_function(), pins.gpio1.into_function()),
            &mut all.RESETS,
        )
        .enable(
            UartConfig::new(115_200.Hz(), DataBits::Eight, None, StopBits::One),
            clocks.peripheral_clock.freq(),
        )
        .ok()?;
        // Three periods of the usual second. What [`Pico::LONGEST_PERIOD_MS`] allows depends on it.
        watchdog.start(3.secs());
        Some(Self {
            cause,
            watchdog,
            timer: Timer::new(all.TIMER, &mut all.RESETS, &clocks),
            adc: Adc::new(all.ADC, &mut all.RESETS),
            levels: (
                AdcPin::new(pins.gpio26.into_floating_disabled()).ok()?,
                AdcPin::new(pins.gpio27.into_floating_disabled()).ok()?,
                AdcPin::new(pins.gpio28.into_floating_disabled()).ok()?,
            ),
            valves,
            contact: AlarmContact::new(pins.gpio6.into_push_pull_output(), Active::High),
            heart: Heartbeat::new(pins.gpio25.into_push_pull_output()),
            horn: pins.gpio8.into_push_pull_output(),
            button: pins.gpio7.into_pull_up_input(),
            // One that is down from the start on, stuck or shorted, was not pressed.
            pressed: true,
            line,
            #[allow(unsafe_code)] // the only value of the flash: the peripherals were taken once
            // SAFETY: as said.
            kept: Keeper::new(unsafe { flash::Flash::take() }),
        })
    }
}

impl Board for Pico {
    type Error = ();

    /// The watchdog's time, less what the flash may be erased for within a round.
    const LONGEST_PERIOD_MS: u32 = 2000;

    fn make_safe(&mut self) {
        let now = self.now();
        let _ = self.valves.0.send(Opening::new(SAFE), now);
        let _ = self.valves.1.send(Opening::new(SAFE), now);
        let _ = self.contact.show(true);
    }

    fn now(&mut self) -> Millis {
        #[allow(clippy::cast_possible_truncation)] // a counter that wraps is what is asked for
        Millis((self.timer.get_counter().ticks() / 1000) as u32)
    }

    fn level(&mut self, tank: usize) -> Result<f32, ()> {
        let counts: Result<u16, _> = match tank {
            0 => self.adc.read(&mut self.levels.0),
            1 => self.adc.read(&mut self.levels.1),
            2 => self.adc.read(&mut self.levels.2),
            _ => return Err(()),
        };
        let counts = counts.map_err(|_| ())?;
        let mut level = CurrentLoop::new(|| Ok::<f32, Infallible>(SHUNT.milliamperes(counts)));
        match level.sample().reading {
            Reading::Value(ma) => Ok(ma),
            Reading::Missing => Err(()),
        }
    }

    fn drive(&mut self, lift: usize, opening: Opening) -> Result<(), ()> {
        let now = self.now();
        match lift {
            0 => self.valves.0.send(opening, now),
            1 => self.valves.1.send(opening, now),
            _ => return Err(()),
        }
        .map_err(|_| ())
    }

    fn feed_watchdog(&mut self) {
        self.watchdog.feed();
    }

    fn hold_alarm_contact(&mut self, all_well: bool) {
        let _ = self.contact.show(!all_well);
    }

    fn sound_horn(&mut self, on: bool) {
        let _ = self.horn.set_state(PinState::from(on));
    }

    fn heartbeat(&mut self, _on: bool) {
        let _ = self.heart.beat();
    }

    fn reset_cause(&mut self) -> ResetCause {
        self.cause
    }

    fn retained(&mut self) -> [u32; RETAINED] {
        last_words::retained(&self.watchdog)
    }

    fn retain(&mut self, words: [u32; RETAINED]) {
        last_words::retain(&mut self.watchdog, words);
    }

    fn load(&mut self, item: Item, room: &mut [u8]) -> Result<Option<usize>, Unkept> {
        self.kept.load(item, room)
    }

    fn save(&mut self, item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        self.kept.save(item, bytes)
    }

    fn go_back(&mut self, item: Item) -> Result<bool, Unkept> {
        self.kept.go_back(item)
    }

    fn receive(&mut self, room: &mut [u8]) -> usize {
        // A byte that came damaged is dropped; its frame's checksum then fails, and the host asks again.
        self.line.read_raw(room).unwrap_or(0)
    }

    fn send(&mut self, bytes: &[u8]) {
        // The longest reply takes 0.12 s at this speed, well within a period.
        self.line.write_full_blocking(bytes);
    }

    fn command(&mut self) -> Option<Command> {
        let before = self.pressed;
        self.pressed = self.button.is_low().unwrap_or(false);
        (self.pressed && !before).then_some(Command::Acknowledge)
    }

    fn acknowledged(&mut self) -> bool {
        self.button.is_low().unwrap_or(false)
    }
}
