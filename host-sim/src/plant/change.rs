//! What happens to an installation: at once, or moving in a straight line over a time.
//!
//! To add one: a variant of [`Change`], and its arm in `Plant::begin` (file `begin`). What moves over time is a `Knob`
//! there, with its one line in `Plant::knob`.

/// Something that happens. Parts are numbered from 0 as in the description.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// Dirt at a lift's entrance: the clean lift's water less this share, at the air and levels of the moment (a usual air
    /// when none runs).
    FoulLift {
        /// Lift.
        lift: usize,
        /// Share lost, 0 to 0.95.
        lost: f64,
    },
    /// A lift's entrance is clean again.
    CleanLift {
        /// Lift.
        lift: usize,
    },
    /// The most water a lift can move, and the air for it, sink: more air then gives less water sooner. Little air feels nothing.
    LowerPeak {
        /// Lift.
        lift: usize,
        /// The most water left at the levels of the moment, m3/s (1e-6 to 10); as without a fault where that is less.
        most_m3_s: f64,
    },
    /// A lift's air is shut by hand, or opened again.
    ShutLift {
        /// Lift.
        lift: usize,
        /// Shut?
        shut: bool,
    },
    /// An outlet passes only this share of its flow.
    ClogOutlet {
        /// Tank.
        tank: usize,
        /// Outlet of that tank.
        outlet: usize,
        /// Share left, 0 to 1.
        left: f64,
    },
    /// The blower gives this share of its pressure and flow.
    SagBlower {
        /// Share left, 0 to 1.5.
        left: f64,
    },
    /// The blower stops or starts.
    RunBlower {
        /// Runs?
        on: bool,
    },
    /// Water and air warm or cool to this, C (0 to 40).
    Warm {
        /// C.
        water_c: f64,
    },
    /// Evaporation from a tank.
    Evaporate {
        /// Tank.
        tank: usize,
        /// m3/s.
        m3_s: f64,
    },
    /// A steady inflow from outside.
    Inflow {
        /// Tank.
        tank: usize,
        /// m3/s.
        m3_s: f64,
    },
    /// Water poured in, evenly over the time.
    TopUp {
        /// Tank.
        tank: usize,
        /// m3 in all.
        m3: f64,
    },
    /// Water taken out at once (at most what is there).
    Scoop {
        /// Tank.
        tank: usize,
        /// m3.
        m3: f64,
    },
    /// A leak out of the system.
    Leak {
        /// Tank.
        tank: usize,
        /// m3/s.
        m3_s: f64,
    },
    /// An air valve sticks where it is, or comes free (also of a jam).
    StickValve {
        /// Lift.
        lift: usize,
        /// Stuck?
        stuck: bool,
    },
    /// An air valve goes to this opening and stays there whatever it is told; `None`: it is free again.
    JamValve {
        /// Lift.
        lift: usize,
        /// Opening, 0 to 1.
        at: Option<f64>,
    },
    /// An air valve passes this share of its conductance when shut.
    LeakValve {
        /// Lift.
        lift: usize,
        /// Share, 0 to 1.
        share: f64,
    },
    /// An air valve takes this many times its stroke time.
    SlowValve {
        /// Lift.
        lift: usize,
        /// Multiplier, 0.1 or more.
        times: f64,
    },
    /// A diffuser's loss and opening pressure are this many times the clean one's.
    FoulDiffuser {
        /// Lift.
        lift: usize,
        /// Multiplier, 0 or more.
        times: f64,
    },
    /// An air line's loss is this many times the straight one's.
    KinkLine {
        /// Lift.
        lift: usize,
        /// Multiplier, 0 or more.
        times: f64,
    },
    /// An air valve runs the wrong way: told to open, it shuts (mounted or wired the wrong way; without power it shuts too).
    ReverseValve {
        /// Lift.
        lift: usize,
        /// Reversed?
        reversed: bool,
    },
    /// An air valve's play is this many times its usual one (worn gears).
    WidenBacklash {
        /// Lift.
        lift: usize,
        /// Multiplier, 0 to 20.
        times: f64,
    },
    /// A lift's air line comes off below its valve, or is put back: its air blows into the room.
    AirLineOff {
        /// Lift.
        lift: usize,
        /// Off?
        off: bool,
    },
    /// A lift's check valve lets water up the air line when the manifold's pressure is below that of the water: the line
    /// fills, and where it nowhere rises above the water (no air loop) the source runs out through it.
    LeakCheckValve {
        /// Lift.
        lift: usize,
        /// Water at 1 m of head, m3/s; 0: tight.
        m3_s: f64,
        /// Highest point of the air line above the source's floor, m.
        loop_m: f64,
    },
    /// The blower surges: pressure and flow swing between all and this share less (a stalling impeller).
    SurgeBlower {
        /// Share lost at the bottom of a swing, 0 (steady) to 1.
        depth: f64,
        /// Period, s (0.1 to 3600).
        period_s: f64,
    },
    /// The blower's intake is blocked: a loss with the square of the flow.
    BlockIntake {
        /// Share of the blower's pressure lost at half its largest flow, 0 to 0.95.
        lost: f64,
    },
    /// The readings of two tanks change places (plugs swapped), or are put right.
    SwapSensors {
        /// Tank.
        tank: usize,
        /// The other.
        other: usize,
        /// Swapped?
        swapped: bool,
    },
    /// The manifold gauge reads this much too high, Pa.
    ShiftGauge {
        /// Pa.
        pa: f64,
    },
    /// A level sensor fails or is mended.
    Sensor {
        /// Tank.
        tank: usize,
        /// What is wrong.
        fault: SensorFault,
    },
    /// The manifold gauge stops or starts answering.
    LoseGauge {
        /// Lost?
        lost: bool,
    },
}

/// What is wrong with a level sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SensorFault {
    /// Nothing: it is mended, any jump is taken back, its noise is its own and its plug in its place.
    Mended,
    /// It does not answer.
    Missing,
    /// It repeats its last reading.
    Stuck,
    /// Its readings move by this much, m: at once, or creeping over the time.
    Jump(f64),
    /// Its noise is this many times its own, 0 to 1000.
    Noise(f64),
    /// It reads this whatever the level, m: for readings outside its range.
    Reads(f64),
}
