//! Link arguments of the binaries that run on a microcontroller. The library needs none of this.

use std::path::PathBuf;
use std::{env, fs};

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let feature = |name: &str| env::var_os(format!("CARGO_FEATURE_{name}")).is_some();
    if feature("PROOF") {
        // No start-up code: this one is linked and never run.
        for argument in ["-eproof", "--gc-sections"] {
            println!("cargo:rustc-link-arg-bin=no-panic={argument}");
        }
    }
    if feature("EMULATED") {
        memory("boards/mps2/memory.x");
        start_up("emulated-board");
    }
    if feature("PICO") {
        memory("boards/pico/memory.x");
        start_up("pico");
    }
    if feature("FIGURES") {
        start_up("figures");
    }
}

/// Links a binary with the start-up code of `cortex-m-rt`.
fn start_up(bin: &str) {
    println!("cargo:rustc-link-arg-bin={bin}=-Tlink.x");
    if ["EMULATED_DEFMT", "PICO_DEFMT"]
        .iter()
        .any(|logger| env::var_os(format!("CARGO_FEATURE_{logger}")).is_some())
    {
        println!("cargo:rustc-link-arg-bin={bin}=-Tdefmt.x");
    }
    // Sections packed as the flash holds them, not padded to pages.
    println!("cargo:rustc-link-arg-bin={bin}=--nmagic");
}

/// Puts the memory map of a board where the linker looks for it.
fn memory(map: &str) {
    println!("cargo:rerun-if-changed={map}");
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::copy(map, out.join("memory.x")).unwrap_or_else(|error| panic!("cannot copy {map}: {error}"));
    println!("cargo:rustc-link-search={}", out.display());
}
