//! For the tests of resets alone: brings one about when a file says so, and writes down what a start asks of the board.

use crate::host_file::{HostFile, READ, READ_WRITE, WRITE, remove};
use crate::power_cut::{self, Counted};
use crate::{last_words, watchdog};
use core::sync::atomic::{AtomicBool, Ordering};

/// True until the first look for bytes of the host ends the start.
static STARTING: AtomicBool = AtomicBool::new(true);

/// Does what the file `provoke` asks for, once: one letter, and behind that of a power cut the steps of the flash until then.
pub fn look() {
    let Some(file) = HostFile::open(c"provoke", READ) else {
        return;
    };
    let mut room = [0; 8];
    let read = file.read(&mut room);
    file.close();
    let Some((what, number)) = room.get(..read).and_then(<[u8]>::split_first) else {
        return; // made, and not written yet
    };
    remove(c"provoke");
    match what {
        b'p' => panic!("provoked"),
        b'f' => cortex_m::asm::udf(),
        b'h' => {
            watchdog::hurry();
            loop {
                cortex_m::asm::nop();
            }
        }
        b'a' => last_words::reset(),
        b's' => tell_stack(),
        b'k' => power_cut::after(decimal(number), Counted::Store),
        b'l' => power_cut::after(decimal(number), Counted::Log),
        b'e' => power_cut::after(decimal(number), Counted::Erasures),
        _ => {}
    }
}

fn decimal(digits: &[u8]) -> u32 {
    let digits = digits.iter().filter(|digit| digit.is_ascii_digit());
    digits.fold(0, |number: u32, digit| {
        number.wrapping_mul(10).wrapping_add(u32::from(*digit & 0xF))
    })
}

/// Writes a step of the start to the file `starts`: one letter, and for a valve its number and opening in percent.
pub fn note(step: &[u8]) {
    if STARTING.load(Ordering::Relaxed) {
        append(step);
    }
}

/// The same for a valve.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most 100, and digits
pub fn note_valve(lift: usize, share: f32) {
    let percent = (share * 100.0 + 0.5) as u32;
    let digit = |value: u32| b'0'.saturating_add((value % 10) as u8);
    note(&[
        b'D',
        digit(lift as u32),
        b'=',
        digit(percent / 100),
        digit(percent / 10),
        digit(percent),
    ]);
}

/// The start is over; one line of the file a start.
pub fn started() {
    if STARTING.swap(false, Ordering::Relaxed) {
        append(b"\n");
    }
}

fn append(bytes: &[u8]) {
    if let Some(file) = HostFile::open(c"starts", READ_WRITE).or_else(|| HostFile::open(c"starts", WRITE)) {
        file.go_to_end();
        file.write(bytes);
        file.close();
    }
}

/// The most stack used since the start, bytes, as text in the file `stack`.
#[allow(unsafe_code)] // the painted memory lies beyond Rust's own
fn tell_stack() {
    unsafe extern "C" {
        static mut _stack_start: u32;
        static mut _stack_end: u32;
    }
    /// What the start-up code paints the stack with.
    const PAINT: u32 = 0xCCCC_CCCC;
    let (top, bottom) = (&raw const _stack_start as usize, &raw const _stack_end as usize);
    let mut at = bottom;
    // SAFETY: whole aligned words of the stack's own memory, which is there.
    while at < top && unsafe { core::ptr::read_volatile(at as *const u32) } == PAINT {
        at += size_of::<u32>();
    }
    let mut used = top - at;
    let mut text = [b'0'; 8];
    for place in text.iter_mut().rev() {
        #[allow(clippy::cast_possible_truncation)] // a digit
        let digit = (used % 10) as u8;
        *place = b'0' + digit;
        used /= 10;
    }
    if let Some(file) = HostFile::open(c"stack", WRITE) {
        file.write(&text);
        file.close();
    }
}
