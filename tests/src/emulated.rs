//! Boards in an emulator, where this machine has one.

use risertrim_sim::board::{Client, Emulator, Patience, Processor};
use risertrim_sim::scenario::HostInstallation;
use std::path::{Path, PathBuf};
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

/// The starts of the board in this folder so far, each as the calls it made (see the firmware's `provoke`).
#[must_use]
pub fn starts(folder: &Path) -> Vec<String> {
    let text = std::fs::read_to_string(folder.join("starts")).unwrap_or_default();
    let whole = text.rsplit_once('\n').map_or("", |(whole, _)| whole);
    whole.lines().map(str::to_owned).collect()
}

/// A start makes outputs safe first of all, then asks for the cause, then reads the flash, then sends every valve to the preset.
///
/// # Panics
/// When it did not.
#[track_caller]
pub fn assert_start_in_order(start: &str, told: &HostInstallation) {
    let preset = (told.settings.preset_opening * 100.0).round();
    assert!(start.starts_with("SC"), "safe, then the cause: {start}");
    let loaded = start.find('L').expect("what is kept is loaded");
    for lift in 0..told.lifts.len() {
        let valve = format!("D{lift}={preset:03}");
        let driven = start.find(&valve).unwrap_or_else(|| panic!("no {valve} in {start}"));
        assert!(driven > loaded, "{start}");
        assert!(
            start.matches(&format!("D{lift}=")).count() == 1,
            "and nowhere else until the first step: {start}"
        );
    }
}
