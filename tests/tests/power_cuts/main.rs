//! Power taken from an emulated Cortex-M4F without warning: the emulator is killed, and started again on the flash that it left in a
//! file.
//!
//! Some cuts fall right after a chosen word of the flash (the board stands still there and is killed), some when a clock on the wall
//! says so. A chip that is caught with half the bits of a word is tried on the host alone (`firmware-example/tests/store.rs`).
//!
//! An emulator has no supply whose voltage could sink: a brown-out and power that was away for an hour look alike, and both are told as
//! a power-on. Its memory is all zeros after a cut, where that of a chip holds anything (`firmware-example/src/resets.rs` tries that).

mod beside;
mod mains;

use beside::CutBoard;
use mains::Moment;
use risertrim::link::Running;
use risertrim::{Command, WaterFlow};
use risertrim_sim::board::Processor;
use risertrim_sim::log::{LogReader, Replay, Start, What};
use risertrim_sim::scenario::{BoardEvent, Happening, Scenario};
use risertrim_sim::simulate::{Control, Simulation};
use risertrim_tests::emulated::board;
use std::time::Duration;

/// How far the openings may be from where they were: what `firmware-example/tests/restarts.rs` holds a restart to.
const BUMP: f32 = 0.02;
/// Steps after a dip over which they are looked at, as there.
const DIP_LOOKED_AT: usize = 30;
/// Steps until levels that have run down or up are back.
const AT_REST_AGAIN: usize = 900;
/// How far a lift may be from its target at a moment at rest, share: the closed loop is held to 4 % over time, and this is one second.
const ON_TARGET: f64 = 0.06;
/// Most steps until a cut that was asked for comes.
const SOON: usize = 700;
/// Less than a period without power, s.
const DIP: usize = 0;

/// Numbers for the moments of cuts: the same at every run.
struct Seeded(u64);

impl Seeded {
    /// From 1 to this.
    fn up_to(&mut self, most: u32) -> u32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        1 + u32::try_from((self.0 >> 33) % u64::from(most)).expect("below a u32")
    }
}

/// The default place, driven by a board whose power goes.
struct Run {
    simulation: Simulation<CutBoard>,
}

impl Run {
    fn step(&mut self) -> Result<(), String> {
        self.simulation.step().map(|_| ()).map_err(|why| why.to_string())
    }

    fn steps(&mut self, steps: usize) {
        for _ in 0..steps {
            self.step().unwrap_or_else(|why| panic!("{why}"));
            self.assert_levels();
        }
    }

    fn openings(&self) -> Vec<f32> {
        let lifts = &self.simulation.moment().step.lifts;
        lifts.iter().map(|lift| lift.command.share()).collect()
    }

    fn let_happen(&mut self, event: BoardEvent) {
        let happened = self.simulation.let_happen(Happening::Board(event));
        happened.unwrap_or_else(|why| panic!("{why}"));
    }

    /// Lets it run until the power goes, for so many steps at most; true when it went.
    fn runs_into_cut(&mut self, moment: Moment, steps: usize) -> bool {
        self.simulation.control_mut().mains().arm(moment);
        for _ in 0..steps {
            if let Err(why) = self.step() {
                assert!(self.simulation.control_mut().mains().is_dark(), "{why}");
                return true;
            }
        }
        false
    }

    /// The power is gone for a while, and back until the place is at rest again.
    fn outage(&mut self, moment: Moment, outage_s: usize) {
        let before = self.openings();
        self.let_happen(BoardEvent::PowerFails);
        self.steps(outage_s);
        self.let_happen(BoardEvent::PowerBack);
        let mut moved = 0.0f32;
        for step in 0..if outage_s == DIP { DIP_LOOKED_AT } else { AT_REST_AGAIN } {
            self.steps(1);
            for (now, before) in self.openings().iter().zip(&before).filter(|_| step < DIP_LOOKED_AT) {
                moved = moved.max((now - before).abs());
            }
        }
        let done = self.simulation.control_mut().mains().done().to_owned();
        let shares: Vec<f64> = self.shares_of_target().collect();
        println!(
            "{moment:?} {done}, {outage_s} s without power: openings moved by {moved:.3}, now {shares:.3?} of target"
        );
        // After a longer one nothing is as before: without power the valves stood open, and the levels went to where the outlets hold
        // them. Of a cut by the clock on the wall no run is like another, and a valve may just be on its way.
        if outage_s == DIP && !matches!(moment, Moment::Wall(_)) {
            assert!(moved < BUMP, "{moved} after {moment:?}");
        }
        for share in shares {
            assert!((share - 1.0).abs() < ON_TARGET, "{share} after {moment:?}");
        }
    }

    /// What each lift truly gives of what it is asked for.
    fn shares_of_target(&self) -> impl Iterator<Item = f64> {
        let moment = self.simulation.moment();
        let lifts = moment.truth.lifts.iter().zip(&moment.jobs.lifts);
        lifts.map(|(lift, job)| lift.water_m3_s / job.target_m3_s)
    }

    fn assert_levels(&self) {
        let moment = self.simulation.moment();
        for (tank, told) in moment.truth.tanks.iter().zip(&self.simulation.scenario().told.tanks) {
            let within = f64::from(told.limits.low_warn_m)..f64::from(told.limits.high_warn_m);
            assert!(within.contains(&tank.level_m), "{tank:?} of {within:?}");
        }
    }
}

#[test]
fn whenever_the_power_goes_the_board_resumes_from_what_it_kept() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-resets") else {
        return;
    };
    let scenario = Scenario::by_name_or_path("default").unwrap_or_else(|report| panic!("{report}"));
    let control = CutBoard::new(emulator, &scenario.told);
    let simulation = Simulation::driven_by(&scenario, scenario.seed, control).unwrap_or_else(|error| panic!("{error}"));
    let mut run = Run { simulation };
    let mut seeded = Seeded(20_261_127);
    run.steps(1250);
    // In the save that comes every ten minutes.
    let in_save = Moment::Store(5);
    assert!(run.runs_into_cut(in_save, SOON));
    run.outage(in_save, DIP);
    // In saves that a command brings about: halving, to the last word of a save.
    let usual = scenario.told.lifts[0].target;
    let mut asked = 0u16;
    let mut ask = |run: &mut Run| {
        // Another target each time: what changes nothing is not saved.
        asked += 1;
        let flow = WaterFlow::from_l_min(usual.l_min() * (1.0 - 1.0e-4 * f32::from(asked)));
        let ask = Command::Target { lift: 0, flow };
        run.simulation.control_mut().command(ask).expect("it is there");
    };
    let (mut cut, mut whole) = (5, 64u32);
    while whole - cut > 1 {
        let words = cut.midpoint(whole);
        // A save that is not disturbed, so that the next need not erase what was torn; and time until that may be made.
        ask(&mut run);
        run.steps(30);
        ask(&mut run);
        if run.runs_into_cut(Moment::Store(words), 1) {
            run.outage(Moment::Store(words), DIP);
            cut = words;
        } else {
            run.simulation.control_mut().mains().disarm();
            whole = words;
        }
    }
    let moments = [
        Moment::Log(seeded.up_to(1500)),
        Moment::Log(seeded.up_to(1500)),
        Moment::Log(seeded.up_to(1500)),
        Moment::Log(seeded.up_to(1500)),
        Moment::Erasing(1),
        Moment::Erasing(seeded.up_to(63)),
    ];
    for (moment, outage_s) in moments.into_iter().zip([DIP, 20, 120].into_iter().cycle()) {
        assert!(run.runs_into_cut(moment, SOON), "{moment:?}");
        run.outage(moment, outage_s);
    }
    let starts_too = [Moment::Log(3), Moment::Log(40), Moment::Wall(Duration::from_millis(20))];
    for (again, outage_s) in starts_too.into_iter().zip([DIP, 20, DIP]) {
        let moment = Moment::Wall(Duration::from_micros(seeded.up_to(40_000).into()));
        assert!(run.runs_into_cut(moment, usize::MAX));
        run.simulation.control_mut().flicker = Some(again);
        run.outage(moment, outage_s);
    }
    let control = run.simulation.control_mut();
    let counts = control.counts;
    assert!(
        counts.older > 0 && counts.newer > 0,
        "a save was caught before its last word and behind it"
    );
    assert!(counts.flickered >= 2, "starts were cut off");
    assert_log(control);
    // All of it came from the file.
    let mains = control.mains();
    mains.take();
    std::fs::remove_file(mains.emulator().folder().join("flash")).expect("the flash is there");
    mains.give();
    assert_eq!(control.greet().running, Running::NoInstallation);
}

/// Every step that was answered stands in the log that the board kept, and follows from what stands there before.
fn assert_log(board: &mut CutBoard) {
    board.fetch_log().expect("the board keeps a log");
    assert_eq!(board.fetch.lost, 0);
    let counts = board.counts;
    let mut replay = Replay::new(Start::Logged);
    let mut torn = 0;
    for entry in LogReader::open(board.log.as_slice()).expect("a log") {
        let entry = entry.expect("readable to its end");
        torn += u64::from(matches!(entry.what, What::Damaged(_)));
        replay.take(&entry).expect("nothing is set");
    }
    let outcome = replay.finish().0;
    println!("{counts:?}");
    println!(
        "its log: {} bytes, {torn} frames torn, {} steps replayed bit by bit",
        board.log.len(),
        outcome.equal
    );
    assert!(outcome.is_equal() && outcome.inexact.is_empty(), "{outcome:?}");
    assert!(outcome.compared >= counts.equal, "what was answered is written down");
    let cuts = counts.unanswered + u64::from(counts.flickered);
    assert!(outcome.compared <= counts.equal + cuts, "{outcome:?}");
    assert!((1..=cuts).contains(&torn), "a cut tears one frame at most: {torn}");
}

#[test]
fn power_that_goes_while_an_installation_is_taken_over_leaves_the_one_before_or_the_new_one() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-resets") else {
        return;
    };
    let scenario = Scenario::by_name_or_path("default").unwrap_or_else(|report| panic!("{report}"));
    let before = scenario.told;
    let mut new = before.clone();
    new.settings.trim_s *= 2.0;
    let mut board = CutBoard::new(emulator, &before);
    // The first two in the erasure, which comes before all; then halving, to the last word of the commitment.
    for pieces in [1, 40] {
        assert!(!board.takes(&new, Moment::Store(pieces)));
        assert_eq!(board.after_power(), before);
    }
    let (mut cut, mut whole) = (40, 1024u32);
    while whole - cut > 1 {
        let steps = cut.midpoint(whole);
        let found = if board.takes(&new, Moment::Store(steps)) {
            whole = steps;
            let runs = board.runs();
            assert_eq!(runs, new, "{steps} steps were too many for a cut");
            runs
        } else {
            cut = steps;
            board.after_power()
        };
        if found != before {
            assert_eq!(found, new, "cut after {steps} steps");
            assert!(board.takes(&before, Moment::Store(0)));
        }
    }
    println!("{cut} words and erased pieces");
    for (steps, left) in [(cut - 1, &before), (cut, &new)] {
        assert!(!board.takes(&new, Moment::Store(steps)));
        assert_eq!(
            &board.after_power(),
            left,
            "the last word, and no other, makes it the new one"
        );
    }
}
