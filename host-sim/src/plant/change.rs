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
    /// An air valve sticks where it is, or comes free.
    StickValve {
        /// Lift.
        lift: usize,
        /// Stuck?
        stuck: bool,
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
    /// Nothing: it is mended, and any jump is taken back.
    Mended,
    /// It does not answer.
    Missing,
    /// It repeats its last reading.
    Stuck,
    /// Its readings move by this much, m: at once, or creeping over the time.
    Jump(f64),
    /// It reads this whatever the level, m: for readings outside its range.
    Reads(f64),
}
