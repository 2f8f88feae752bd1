//! A board that does what a test tells it and writes down everything it is asked, in order; and a small installation.

use risertrim::ResetCause;
use risertrim::air::{AirSupply, BlowerPoint, Characteristic, Diffuser, Line, Valve};
use risertrim::installation::{Installation, Lift, Settings, Site};
use risertrim::level::{Scale, Sensor};
use risertrim::lift::{Calibration, Riser};
use risertrim::outlet::{Drain, Law, Outlet};
use risertrim::step::BlowerStep;
use risertrim::tank::{AreaPoint, LevelLimits, Stock, Tank};
use risertrim::{Command, FreeAir, Millis, Opening, WaterFlow};
use risertrim_firmware::{App, Board, BoardLog, Event, Item, RETAINED, Unkept};
use std::cell::RefCell;
use std::collections::{HashMap, VecDeque};
use std::rc::Rc;

pub const LIFTS: usize = 2;
pub const TANKS: usize = 3;
/// Period of the installation, ms.
pub const PERIOD_MS: u32 = 1000;
/// Longest period that the board's watchdog bears, ms.
pub const LONGEST_PERIOD_MS: u32 = 2000;
/// Levels at which the installation rests, m: each V-notch passes the 20 L/min of its lift (`0.787 h^2.5` m3/s, h 45 mm), so
/// readings that stay there are what the controller expects.
pub const USUAL_M: [f32; TANKS] = [0.80, 0.35, 0.35];

/// A driver that did not answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoAnswer;

/// One thing the application asked of the board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Call {
    Safe,
    Now,
    Level(usize),
    Manifold,
    Drive(usize, Opening),
    Log(Millis, Event),
    Feed,
}

/// A board; `BENCH` for one built in bench mode.
#[derive(Debug)]
pub struct FakeBoard<const BENCH: bool = false> {
    pub now: Millis,
    /// Levels read since it began.
    pub reads: u32,
    pub levels: [Result<f32, NoAnswer>; TANKS],
    pub manifold: Result<Option<f32>, NoAnswer>,
    pub valve_answers: [bool; LIFTS],
    pub blower_answers: bool,
    pub command: Option<Command>,
    pub calls: Vec<Call>,
    /// What was done in a round, in its order; a log of a test writes into it too.
    pub moments: Rc<RefCell<Vec<&'static str>>>,
    pub cause: ResetCause,
    /// What outlives a reset.
    pub words: [u32; RETAINED],
    /// What outlives a power cut: the newest last.
    pub kept: HashMap<u8, Vec<Vec<u8>>>,
    pub store_works: bool,
    /// So many looks into the store fail from now on.
    pub stumbles: u32,
    /// What the blower was last set to.
    pub blower: Option<BlowerStep>,
    /// How often drivers were polled.
    pub polled: u32,
    pub horn: bool,
    pub alarm_contact_held: bool,
    pub heart: Vec<bool>,
    pub acknowledge: bool,
    pub from_host: VecDeque<u8>,
    pub to_host: Vec<u8>,
    /// What sending a reply adds to the clock, and how many were sent.
    pub send_ms: u32,
    pub sent: u32,
    /// What went out on the port of the log, and how much it takes at a time.
    pub logged: Vec<u8>,
    pub log_port: usize,
    /// What `idle` adds to the clock; it panics once the clock has passed `power_off`.
    pub idle_ms: u32,
    pub power_off: Option<Millis>,
}

impl<const BENCH: bool> FakeBoard<BENCH> {
    pub fn at(now: Millis) -> Self {
        Self {
            now,
            levels: USUAL_M.map(Ok),
            reads: 0,
            manifold: Ok(None),
            valve_answers: [true; LIFTS],
            blower_answers: true,
            command: None,
            calls: Vec::new(),
            moments: Rc::default(),
            cause: ResetCause::PowerOn,
            words: [0; RETAINED],
            kept: HashMap::new(),
            store_works: true,
            stumbles: 0,
            blower: None,
            polled: 0,
            horn: false,
            alarm_contact_held: false,
            heart: Vec::new(),
            acknowledge: false,
            from_host: VecDeque::new(),
            to_host: Vec::new(),
            send_ms: 0,
            sent: 0,
            logged: Vec::new(),
            log_port: 0,
            idle_ms: 0,
            power_off: None,
        }
    }

    fn moment(&self, what: &'static str) {
        let mut moments = self.moments.borrow_mut();
        // Several valves are driven in turn.
        if moments.last() != Some(&what) {
            moments.push(what);
        }
    }

    /// The processor starts again, for this reason: hardware and store stay as they are.
    pub fn reset(&mut self, cause: ResetCause) {
        self.cause = cause;
        self.calls.clear();
        self.heart.clear();
        self.blower = None;
        self.alarm_contact_held = false;
        if cause == ResetCause::PowerOn {
            self.words = [0x1234_5678; RETAINED];
        }
    }

    /// The events logged so far, in order, but for that of the start.
    pub fn events(&self) -> Vec<Event> {
        let event = |call: &Call| match call {
            Call::Log(_, Event::Started(_)) => None,
            Call::Log(_, event) => Some(*event),
            _ => None,
        };
        self.calls.iter().filter_map(event).collect()
    }

    pub fn count(&self, wanted: impl Fn(&Call) -> bool) -> usize {
        self.calls.iter().filter(|call| wanted(call)).count()
    }

    /// Lets `steps` periods pass and polls once in each.
    pub fn run<L: BoardLog<LIFTS, TANKS>>(&mut self, app: &mut App<LIFTS, TANKS, L>, steps: u32) {
        for _ in 0..steps {
            assert!(app.poll(self), "a step was due at {:?}", self.now);
            self.now = self.now.plus(PERIOD_MS);
        }
    }
}

impl<const BENCH: bool> Board for FakeBoard<BENCH> {
    type Error = NoAnswer;

    const BENCH: bool = BENCH;

    const LONGEST_PERIOD_MS: u32 = LONGEST_PERIOD_MS;

    fn make_safe(&mut self) {
        self.calls.push(Call::Safe);
    }

    fn now(&mut self) -> Millis {
        self.calls.push(Call::Now);
        self.now
    }

    fn level(&mut self, tank: usize) -> Result<f32, NoAnswer> {
        self.calls.push(Call::Level(tank));
        // Water is never quite still: a reading that never moves is a stuck sensor.
        self.reads += 1;
        let restless = if self.reads.is_multiple_of(2) {
            0.000_5
        } else {
            -0.000_5
        };
        self.levels[tank].map(|level| level + restless)
    }

    fn manifold_pa(&mut self) -> Result<Option<f32>, NoAnswer> {
        self.calls.push(Call::Manifold);
        self.manifold
    }

    fn drive(&mut self, lift: usize, opening: Opening) -> Result<(), NoAnswer> {
        self.calls.push(Call::Drive(lift, opening));
        self.moment("valve");
        if self.valve_answers[lift] {
            Ok(())
        } else {
            Err(NoAnswer)
        }
    }

    fn drive_blower(&mut self, to: &BlowerStep) -> Result<(), NoAnswer> {
        self.blower = Some(*to);
        self.moment("blower");
        if self.blower_answers { Ok(()) } else { Err(NoAnswer) }
    }

    fn between_steps(&mut self, _now: Millis) {
        self.polled += 1;
    }

    fn sound_horn(&mut self, on: bool) {
        self.horn = on;
        self.moment("horn");
    }

    fn log(&mut self, at: Millis, event: Event) {
        self.calls.push(Call::Log(at, event));
    }

    fn feed_watchdog(&mut self) {
        self.calls.push(Call::Feed);
        self.moment("watchdog");
    }

    fn command(&mut self) -> Option<Command> {
        self.command.take()
    }

    fn hold_alarm_contact(&mut self, all_well: bool) {
        self.alarm_contact_held = all_well;
        self.moment("contact");
    }

    fn heartbeat(&mut self, on: bool) {
        self.heart.push(on);
    }

    fn reset_cause(&mut self) -> ResetCause {
        self.cause
    }

    fn retained(&mut self) -> [u32; RETAINED] {
        self.words
    }

    fn retain(&mut self, words: [u32; RETAINED]) {
        self.words = words;
    }

    fn load(&mut self, item: Item, room: &mut [u8]) -> Result<Option<usize>, Unkept> {
        if self.stumbles > 0 {
            self.stumbles -= 1;
            return Err(Unkept::Failed);
        }
        let Some(bytes) = self.kept.get(&(item as u8)).and_then(|all| all.last()) else {
            return Ok(None);
        };
        room[..bytes.len()].copy_from_slice(bytes);
        Ok(Some(bytes.len()))
    }

    fn save(&mut self, item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        self.moment("save");
        if !self.store_works {
            return Err(Unkept::Failed);
        }
        self.kept.entry(item as u8).or_default().push(bytes.to_vec());
        Ok(())
    }

    fn go_back(&mut self, item: Item) -> Result<bool, Unkept> {
        if self.stumbles > 0 {
            self.stumbles -= 1;
            return Err(Unkept::Failed);
        }
        let kept = self.kept.entry(item as u8).or_default();
        kept.pop();
        Ok(!kept.is_empty())
    }

    fn receive(&mut self, room: &mut [u8]) -> usize {
        let count = room.len().min(self.from_host.len());
        for (place, byte) in room.iter_mut().zip(self.from_host.drain(..count)) {
            *place = byte;
        }
        count
    }

    fn send(&mut self, bytes: &[u8]) {
        self.to_host.extend(bytes);
        self.sent += 1;
        self.now = self.now.plus(self.send_ms);
    }

    fn send_log(&mut self, bytes: &[u8]) -> usize {
        let now = bytes.len().min(self.log_port);
        self.logged.extend(&bytes[..now]);
        now
    }

    fn acknowledged(&mut self) -> bool {
        self.acknowledge
    }

    fn idle(&mut self) {
        self.now = self.now.plus(self.idle_ms);
        if let Some(end) = self.power_off {
            let left = end.0.wrapping_sub(self.now.0);
            assert!(left < 1 << 31, "power off");
        }
    }
}

/// An installation for ever, as one built into the firmware is.
pub fn built_in(installation: Installation<LIFTS, TANKS>) -> Option<&'static Installation<LIFTS, TANKS>> {
    Some(Box::leak(Box::new(installation)))
}

/// A sump and two tanks that run back into it over a V-notch, each fed by a lift of its own. Sensors give metres.
pub fn installation() -> Installation<LIFTS, TANKS> {
    let mut tanks = heapless::Vec::new();
    let mut lifts = heapless::Vec::new();
    tanks.push(tank(0.0, 1.5, None)).unwrap();
    for to in [1, 2] {
        tanks.push(tank(0.5, 0.6, Some(0.305))).unwrap();
        lifts.push(lift(to)).unwrap();
    }
    let curve = [(0.0, 25_000.0), (0.002, 20_000.0), (0.004, 8_000.0)]
        .map(|(air_m3_s, pressure_pa)| BlowerPoint { air_m3_s, pressure_pa });
    Installation {
        site: Site {
            altitude_m: 0.0,
            water_c: 22.0,
            salinity_g_kg: 0.0,
        },
        air: AirSupply {
            curve: curve.into_iter().collect(),
            least_air_m3_s: 0.0,
            bleed: None,
            gauge_noise_pa: None,
            ..AirSupply::NONE
        },
        tanks,
        lifts,
        settings: Settings {
            period_ms: PERIOD_MS,
            preset_opening: 0.6,
            ..Settings::default()
        },
    }
}

fn tank(floor_m: f32, area_m2: f32, notch_m: Option<f32>) -> Tank {
    let usual = if notch_m.is_some() { 0.35 } else { 0.80 };
    let notch = notch_m.map(|crest_m| Outlet {
        to: Drain::Tank(0),
        law: Law::VNotch {
            crest_m,
            angle_deg: 60.0,
        },
        coefficient: 1.0,
    });
    Tank {
        floor_m,
        area: [AreaPoint { level_m: 0.0, area_m2 }].into_iter().collect(),
        outlets: notch.into_iter().collect(),
        sensor: Sensor {
            scale: Scale::METRES,
            zero_m: 0.0,
            noise_m: 0.001,
            resolution_m: 0.001,
        },
        rim_m: usual + 0.15,
        limits: LevelLimits {
            high_warn_m: usual + 0.05,
            high_act_m: usual + 0.10,
            low_warn_m: usual - 0.15,
            low_act_m: usual - 0.20,
        },
        fish: notch_m.is_some(),
        stock: Stock::UNTOLD,
    }
}

fn lift(to: u8) -> Lift {
    Lift {
        from: 0,
        to,
        riser: Riser {
            bore_m: 0.045,
            injector_m: 0.05,
            outlet_m: 0.90,
            darcy_friction: 0.022,
            entrance_loss: 0.5,
            outlet_loss: 0.0,
        },
        calibration: Calibration::default(),
        valve: Valve {
            conductance_m3_s_pa: 2.0e-8,
            critical_ratio: 0.3,
            characteristic: Characteristic::Linear,
            stroke_s: 10.0,
            backlash: 0.0,
        },
        line: Line {
            bore_m: 0.012,
            length_m: 3.0,
            minor_loss: 3.0,
        },
        diffuser: Diffuser {
            opening_pa: 200.0,
            loss_pa: 300.0,
            at_air_m3_s: 3.0e-4,
        },
        target: WaterFlow::from_l_min(20.0),
        air_floor: FreeAir::from_l_min(2.0),
        priority: 1,
        may_stop: false,
    }
}
