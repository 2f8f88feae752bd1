//! Boards in an emulator, where this machine has one.

use risertrim_sim::board::{Client, Emulator, Patience, Processor};
use std::path::PathBuf;
use std::process::Command;

/// A board that runs the firmware of this name (see `scripts/firmware`), or nothing (told aloud) where this machine cannot emulate
/// one.
///
/// # Panics
/// When it cannot and no test may be skipped (`RISERTRIM_NO_SKIP`), or the emulator does not start.
#[must_use]
pub fn board(processor: Processor, name: &str) -> Option<Emulator> {
    let emulates = Command::new("qemu-system-arm").arg("--version").output().is_ok();
    let firmware = firmware(name);
    if emulates && firmware.exists() {
        return Some(Emulator::start(processor, &firmware).expect("emulator and firmware are there"));
    }
    let lacks = if emulates {
        format!("no firmware at {}: scripts/firmware {name}", firmware.display())
    } else {
        "no qemu-system-arm".to_owned()
    };
    assert!(
        std::env::var_os("RISERTRIM_NO_SKIP").is_none(),
        "no test may be skipped here: {lacks}"
    );
    println!("SKIPPED: {lacks}");
    None
}

/// Where the firmware of this name is.
#[must_use]
pub fn firmware(name: &str) -> PathBuf {
    let path = Processor::M4.firmware().with_file_name(name);
    if path.is_absolute() {
        path
    } else {
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..").join(path)
    }
}

/// Greets it.
///
/// # Panics
/// When it does not answer.
#[must_use]
pub fn connect(emulator: Emulator) -> Client<Emulator> {
    Client::connect(emulator, Patience::default())
        .expect("the board answers")
        .0
}
