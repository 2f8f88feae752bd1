//! The application, line to the host included, on hardware of which nothing is known.

use core::hint::black_box;
use risertrim::ResetCause;
use risertrim::{Millis, Opening};
use risertrim_firmware::{
    App, Board, Event, FlashLogKeeper, Item, KeptLog, LogSink, RETAINED, RamLog, SerialLog, Unkept,
};

/// An application whose records go into this.
pub type Logging<S> = App<8, 9, KeptLog<8, 9, 2048, S>>;

/// One application for every kind of log.
#[allow(missing_debug_implementations)] // linked and never run
pub struct Applications {
    without: App<8, 9>,
    memory: Logging<RamLog<4096>>,
    port: Logging<SerialLog<4096>>,
    flash: Logging<FlashLogKeeper<crate::devices::Chip>>,
}

/// All that a board calls.
#[inline(never)]
pub fn run(all: &mut Applications) {
    all.without.start(&mut Unknown, black_box(None));
    black_box(all.without.poll(&mut Unknown));
    logging(&mut all.memory);
    logging(&mut all.port);
    logging(&mut all.flash);
}

#[inline(never)]
fn logging<S: LogSink>(app: &mut Logging<S>) {
    app.start(&mut Unknown, black_box(None));
    black_box(app.poll(&mut Unknown));
}

/// A board that may answer anything.
struct Unknown;

impl Board for Unknown {
    type Error = ();

    const BENCH: bool = true;

    fn make_safe(&mut self) {}

    fn now(&mut self) -> Millis {
        Millis(black_box(0))
    }

    fn level(&mut self, tank: usize) -> Result<f32, ()> {
        black_box(tank);
        black_box(Err(()))
    }

    fn manifold_pa(&mut self) -> Result<Option<f32>, ()> {
        black_box(Ok(None))
    }

    fn drive(&mut self, lift: usize, opening: Opening) -> Result<(), ()> {
        black_box((lift, opening));
        black_box(Ok(()))
    }

    fn feed_watchdog(&mut self) {}

    fn log(&mut self, at: Millis, event: Event) {
        black_box((at, event));
    }

    fn reset_cause(&mut self) -> ResetCause {
        black_box(ResetCause::Unknown)
    }

    fn retained(&mut self) -> [u32; RETAINED] {
        black_box([0; RETAINED])
    }

    fn load(&mut self, _item: Item, room: &mut [u8]) -> Result<Option<usize>, Unkept> {
        black_box(room);
        black_box(Ok(None))
    }

    fn save(&mut self, _item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        black_box(bytes);
        black_box(Ok(()))
    }

    fn go_back(&mut self, _item: Item) -> Result<bool, Unkept> {
        black_box(Ok(true))
    }

    fn receive(&mut self, room: &mut [u8]) -> usize {
        black_box(&mut *room);
        black_box(room.len())
    }

    fn send(&mut self, bytes: &[u8]) {
        black_box(bytes);
    }

    fn send_log(&mut self, bytes: &[u8]) -> usize {
        black_box(bytes);
        black_box(1)
    }

    fn acknowledged(&mut self) -> bool {
        black_box(false)
    }
}
