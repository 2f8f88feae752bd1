//! Which numbers the fit estimates, and what is thought of them beforehand.

use crate::log::HostInstallation;
use risertrim::outlet::{Drain, Law};

/// What a number is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The level of a tank, m above its floor.
    Level(usize),
    /// Logarithm of what a lift delivers over its fitted curve, now; it wanders.
    Delivery(usize),
    /// Logarithm of what a lift's curve is off for now, besides: it comes and goes within minutes. For a lift that should stand still,
    /// what it moves all the same, as a share of its target.
    Form(usize),
    /// Water that comes into a tank unseen (top-up less evaporation), now, m3/s; for tanks that no lift feeds.
    Unseen(usize),
    /// Logarithm of an outlet's flow over what it is told: tank, outlet.
    Outlet(usize, usize),
    /// Logarithm of a tank's water surface over what is told.
    Area(usize),
    /// What a level sensor reads too high, m.
    Zero(usize),
    /// Logarithm of a multiplier of a lift's curve over what it is told: lift; 0 losses, 1 slip, 2 air.
    Curve(usize, usize),
}

impl Kind {
    /// True for numbers that do not change with time.
    #[must_use]
    pub fn is_fixed(self) -> bool {
        !matches!(
            self,
            Self::Level(_) | Self::Delivery(_) | Self::Form(_) | Self::Unseen(_)
        )
    }
}

/// Standard deviation of a tank's told water surface, share: a tank measured with a tape (common practice, no source).
pub const AREA_SIGMA: f64 = 0.02;
/// Standard deviation of a level sensor's told zero against the crest of the outlet, m (common practice, no source).
pub const ZERO_SIGMA_M: f64 = 0.0015;
/// How far the crest that a law fits best may lie beside the true one, m: laws bend at small heads.
pub const CREST_FORM_M: f64 = 0.0003;
/// How far a lift's true curve may lie beside any of the fitted form, share of the flow: the closed form is 10 to 50 % off on
/// published rigs before it is fitted, 4 to 8 % after.
pub const FORM: f64 = 0.1;
/// How far a lift's flow may be beside its curve for some minutes: valves that do not stand where they are believed to, slopes that
/// differ from the curve's (the closed form differs by so much from one air to another).
pub const FORM_NOW: f64 = 0.05;
/// How long that lasts, s.
pub const FORM_FOR_S: f64 = 300.0;
/// Standard deviation of what a lift moves that should stand still, share of its target: of one that does (its hand valve is shut, or
/// its air lies well below the onset), and of one that does not, because its air floor lies above its true onset.
pub const STILL: f64 = 0.003;
/// The other: see [`STILL`].
pub const TRICKLES: f64 = 0.4;
/// How long a trickle stays as it is, s.
pub const TRICKLE_FOR_S: f64 = 3600.0;
/// Standard deviation of water that comes in unseen, m3/s: 2 L/min, a hose left running a little.
pub const UNSEEN_SIGMA_M3_S: f64 = 2.0 / 60_000.0;

/// Standard deviation of an outlet's told flow, share, by its kind: a well-made thin plate or hole in the field, a pipe whose
/// bends are guessed, a standpipe (its law is within 20 % until it is measured: see `risertrim::outlet`), and any that was
/// measured (common practice, no source).
#[must_use]
pub fn outlet_sigma(law: &Law, coefficient: f32) -> f64 {
    #[allow(clippy::float_cmp)] // 1 exactly stands for "as published"
    if coefficient != 1.0 {
        return 0.1;
    }
    match law {
        Law::VNotch { .. } | Law::Rectangular { .. } | Law::Orifice { .. } | Law::Table { .. } => 0.1,
        Law::Pipe { .. } => 0.15,
        Law::Standpipe { .. } => 0.2,
    }
}

/// Standard deviations of the logarithms of a curve's multipliers: those of `calibrate`, or of a curve that was fitted before,
/// twice as wide as its fit says and at least 5 %, because lifts age.
fn curve_sigmas(calibration: &risertrim::lift::Calibration) -> [f64; 3] {
    let usual = [0.5, 0.25, 0.3];
    let Some(fit) = calibration.fit else { return usual };
    let [losses, _, _, slip, _, air] = fit.covariance.map(f64::from);
    let after = |variance: f64, usual: f64| (2.0 * variance.max(0.0).sqrt()).clamp(0.05, usual);
    [after(losses, usual[0]), after(slip, usual[1]), after(air, usual[2])]
}

/// An outlet as the fit sees it.
#[derive(Clone, Copy, Debug)]
pub struct Way {
    /// Its tank.
    pub from: usize,
    /// Which of its tank.
    pub outlet: usize,
    /// Where it leads; `None` out of the system.
    pub to: Option<usize>,
    /// Place of its coefficient among the numbers; `None` when it is dry over the whole log.
    pub at: Option<usize>,
}

/// The numbers in a row: levels first.
#[derive(Clone, Debug)]
pub struct Layout {
    /// What each is.
    pub kinds: Vec<Kind>,
    /// Standard deviation of each beforehand.
    pub prior: Vec<f64>,
    /// Tanks.
    pub tanks: usize,
    /// Lifts.
    pub lifts: usize,
    /// All outlets.
    pub ways: Vec<Way>,
    /// For each tank, the numbers that its level's change depends on.
    pub touches: Vec<Vec<usize>>,
    /// Where each tank's zero stands among the numbers.
    pub zero_at: Vec<Option<usize>>,
}

impl Layout {
    /// For an installation; `highest_m` is the highest level read in each tank.
    #[must_use]
    pub fn new(place: &HostInstallation, highest_m: &[f64]) -> Self {
        let (tanks, lifts) = (place.tanks.len(), place.lifts.len());
        let mut layout = Self {
            kinds: Vec::new(),
            prior: Vec::new(),
            tanks,
            lifts,
            ways: Vec::new(),
            touches: vec![Vec::new(); tanks],
            zero_at: vec![None; tanks],
        };
        for tank in 0..tanks {
            layout.add(Kind::Level(tank), 0.005);
        }
        for lift in 0..lifts {
            layout.add(Kind::Delivery(lift), FORM);
        }
        for lift in 0..lifts {
            layout.add(Kind::Form(lift), FORM_NOW);
        }
        let fed = |tank: usize| place.lifts.iter().any(|lift| usize::from(lift.to) == tank);
        for tank in (0..tanks).filter(|tank| !fed(*tank)) {
            layout.add(Kind::Unseen(tank), UNSEEN_SIGMA_M3_S);
        }
        for (index, tank) in place.tanks.iter().enumerate() {
            let mut runs = false;
            for (number, outlet) in tank.outlets.iter().enumerate() {
                let wet = highest_m[index] > f64::from(outlet.law.dry_below_m()) + 0.002;
                runs |= wet;
                let at = wet.then(|| {
                    let sigma = outlet_sigma(&outlet.law, outlet.coefficient);
                    layout.add(Kind::Outlet(index, number), sigma)
                });
                layout.ways.push(Way {
                    from: index,
                    outlet: number,
                    to: match outlet.to {
                        Drain::Tank(to) => Some(usize::from(to)),
                        Drain::Away => None,
                    },
                    at,
                });
            }
            layout.add(Kind::Area(index), AREA_SIGMA);
            if runs {
                layout.zero_at[index] = Some(layout.add(Kind::Zero(index), ZERO_SIGMA_M));
            }
        }
        for (index, lift) in place.lifts.iter().enumerate() {
            for (which, sigma) in curve_sigmas(&lift.calibration).into_iter().enumerate() {
                layout.add(Kind::Curve(index, which), sigma);
            }
        }
        layout.note_touches(place);
        layout
    }

    fn add(&mut self, kind: Kind, prior: f64) -> usize {
        self.kinds.push(kind);
        self.prior.push(prior);
        self.kinds.len() - 1
    }

    fn note_touches(&mut self, place: &HostInstallation) {
        for tank in 0..self.tanks {
            let mut all = vec![tank];
            all.extend(self.at(Kind::Area(tank)));
            all.extend(self.at(Kind::Unseen(tank)));
            for (index, lift) in place.lifts.iter().enumerate() {
                let (from, to) = (usize::from(lift.from), usize::from(lift.to));
                if from == tank || to == tank {
                    all.extend([from, to]);
                    all.extend(self.at(Kind::Delivery(index)));
                    all.extend(self.at(Kind::Form(index)));
                    all.extend((0..3).filter_map(|which| self.at(Kind::Curve(index, which))));
                }
            }
            for way in &self.ways {
                if way.from == tank || way.to == Some(tank) {
                    all.push(way.from);
                    all.extend(way.to);
                    all.extend(way.at);
                }
            }
            all.sort_unstable();
            all.dedup();
            self.touches[tank] = all;
        }
    }

    /// Where a number stands.
    #[must_use]
    pub fn at(&self, kind: Kind) -> Option<usize> {
        self.kinds.iter().position(|known| *known == kind)
    }

    /// How many numbers.
    #[must_use]
    pub fn count(&self) -> usize {
        self.kinds.len()
    }
}
