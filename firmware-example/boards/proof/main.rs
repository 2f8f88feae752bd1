//! Linked and never run: calls everything of core and of the application that a board calls, drivers, store and log included, with
//! a panic handler that cannot be linked. The linker takes it only when no panic can be reached. `scripts/no-panic` builds it.
#![no_std]
#![no_main]
// `no_mangle` keeps the entry from being thrown away, and only the linker can be asked for a symbol that is not there.
#![allow(unsafe_code)]

mod application;
mod devices;

use core::hint::black_box;
use core::panic::PanicInfo;
use risertrim::controller::Learned;
use risertrim::frame::{FrameReader, Taken, decode, encode, encode_bytes, fingerprint};
use risertrim::record::{Began, Plan, Recorder, ResetCause, Sink, SinkFull, read, read_installation};
use risertrim::{Command, Controller, Installation, Readings, Step};

/// Lifts and tanks of the budget.
type Trim = Controller<8, 9>;

/// What comes from outside: nothing in it is known to the compiler.
#[repr(C)]
pub struct World {
    controller: Trim,
    installation: Installation<8, 9>,
    readings: Readings<9>,
    command: Command,
    learned: [Learned; 8],
    index: usize,
    room: [u8; 1024],
    reader: FrameReader<1024>,
    recorder: Recorder<8, 9, 2048>,
    plan: Plan,
    devices: devices::Devices,
    applications: application::Applications,
}

/// The entry: everything in turn.
#[unsafe(no_mangle)]
pub extern "C" fn proof(world: &mut World) {
    begin(world);
    run(world);
    if !cfg!(feature = "proof-core-only") {
        black_box(risertrim::validate::validate(&world.installation).can_start());
        frames(world);
        records(world);
        devices::drive(&mut world.devices);
        devices::measure(&mut world.devices);
        devices::keep(&mut world.devices, &world.installation, &world.learned);
        application::run(&mut world.applications);
    }
    #[cfg(feature = "test-panicking-index")]
    deliberate(world);
}

#[inline(never)]
fn begin(world: &mut World) {
    let learned = world.learned.get(..black_box(world.index)).unwrap_or(&[]);
    black_box(Trim::new(black_box(&world.installation), learned).is_ok());
    world.controller = Trim::idle();
    black_box(world.controller.begin(&world.installation, learned).is_ok());
    black_box(world.controller.exchange(black_box(&world.installation)).is_ok());
    black_box(risertrim::validate::to_start(&world.installation).can_start());
}

#[inline(never)]
fn run(world: &mut World) {
    black_box(world.controller.command(black_box(world.command)).is_ok());
    black_box(world.controller.step(black_box(&world.readings)));
    black_box(world.controller.learned());
    black_box(world.controller.take_outcome());
    black_box(world.controller.installation());
}

#[inline(never)]
fn frames(world: &mut World) {
    let step = world.controller.step(&world.readings);
    let room = world.room.get_mut(..black_box(world.index)).unwrap_or(&mut []);
    black_box(encode(&step, room).is_ok());
    black_box(encode(&world.readings, room).is_ok());
    black_box(encode(&world.command, room).is_ok());
    black_box(encode(&world.learned, room).is_ok());
    black_box(encode(&world.installation, room).is_ok());
    black_box(encode_bytes(&black_box([0; 300]), room).is_ok());
    black_box(fingerprint(&world.installation));
    black_box(world.reader.finish());
    if let Taken::Payload(payload) = world.reader.take(black_box(0)) {
        black_box(decode::<Step<8, 9>>(payload).is_ok());
        black_box(decode::<Readings<9>>(payload).is_ok());
        black_box(decode::<Command>(payload).is_ok());
        black_box(decode::<[Learned; 8]>(payload).is_ok());
        black_box(decode::<Installation<8, 9>>(payload).is_ok());
    }
}

struct Nowhere;

impl Sink for Nowhere {
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
        black_box(frame).first().map(|_| ()).ok_or(SinkFull)
    }
}

#[inline(never)]
fn records(world: &mut World) {
    let step = world.controller.step(&world.readings);
    world.recorder = Recorder::new(world.plan, "proof");
    let began = Began::Started(black_box(ResetCause::Watchdog));
    world
        .recorder
        .begin(began, world.controller.installation(), &world.learned, &mut Nowhere);
    world
        .recorder
        .step(&world.readings, &step, &world.controller, &mut Nowhere);
    world.recorder.command(world.command, black_box(Ok(())), &mut Nowhere);
    world.recorder.valve(black_box(1), black_box(true), &mut Nowhere);
    world.recorder.clock(step.now, black_box(1), &mut Nowhere);
    if let Some(outcome) = world.controller.take_outcome() {
        world
            .recorder
            .commissioned(&outcome, world.controller.installation(), &mut Nowhere);
    }
    if let Ok((_, record, rest)) = read::<8, 9>(black_box(&world.room)) {
        if let risertrim::record::Record::Installation(mark) = record {
            black_box(read_installation::<8, 9>(mark, rest).is_ok());
        }
        black_box(&record);
    }
}

/// What the proof must catch.
#[cfg(feature = "test-panicking-index")]
#[inline(never)]
fn deliberate(world: &World) {
    black_box(world.learned[black_box(world.index)].factor);
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    unsafe extern "C" {
        fn a_panic_can_be_reached() -> !;
    }
    // SAFETY: never linked, so never called.
    unsafe { a_panic_can_be_reached() }
}
