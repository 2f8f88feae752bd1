//! Values on their way: what a change began and time carries on.

/// A value that can move over time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Knob {
    Fouling(usize),
    Churn(usize),
    ValveLeak(usize),
    Slow(usize),
    Diffuser(usize),
    Line(usize),
    Clog(usize),
    Sag,
    Evaporation(usize),
    Inflow(usize),
    Leak(usize),
    Jump(usize),
    Noise(usize),
    Play(usize),
    Gauge,
    WaterC,
}

/// A value on its way.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ramp {
    pub knob: Knob,
    pub from: f64,
    pub to: f64,
    pub start_s: f64,
    pub over_s: f64,
}

/// Water being poured in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pour {
    pub tank: usize,
    pub m3_s: f64,
    pub left_m3: f64,
}

/// A surging blower.
#[derive(Clone, Copy, Debug)]
pub(super) struct Surge {
    pub depth: f64,
    pub period_s: f64,
    pub start_s: f64,
}

impl Surge {
    /// Share of pressure and flow left at a moment.
    pub fn left(&self, now_s: f64) -> f64 {
        let turn = (now_s - self.start_s) / self.period_s;
        1.0 - self.depth * 0.5 * (1.0 - (std::f64::consts::TAU * turn.fract()).cos())
    }
}
