# Sourced by the scripts beside it: how to build for a microcontroller with what this machine has.
#
# The ordinary way is the Rust you have, with the target's core library: installed, or fetched by `rustup target add`.
# Where that cannot be had, Debian's own Rust is used, which carries the library's sources and builds it first:
#
#   apt-get update && apt-get install --no-install-recommends rustc-web cargo-web rust-web-src lld
#
# RUSTC_BOOTSTRAP=1 lets that stable compiler build the core library; the project itself uses stable features only.
#
# The caller sets the array `targets` before anything else here is used.
# shellcheck shell=bash

debian_rustc=/usr/bin/rustc
debian_cargo=/usr/bin/cargo
way=none
# Built piecemeal other functions are inlined, and figures and reachable panics are those of another program.
export CARGO_INCREMENTAL=0

has_core() { # target: does the Rust on the PATH hold its core library?
    local libraries
    libraries="$(rustc --print target-libdir --target "$1" 2>/dev/null)" || return 1
    compgen -G "$libraries/libcore-*.rlib" >/dev/null
}

ordinary_works() {
    command -v cargo >/dev/null || return 1
    local target
    for target in "${targets[@]}"; do
        has_core "$target" && continue
        command -v rustup >/dev/null || return 1
        timeout 300 rustup target add "$target" >&2 </dev/null || return 1
        has_core "$target" || return 1
    done
}

debian_works() {
    [ -x "$debian_rustc" ] && [ -x "$debian_cargo" ] || return 1
    [ -f "$("$debian_rustc" --print sysroot)/lib/rustlib/src/rust/library/core/Cargo.toml" ]
}

which_way() {
    if ordinary_works; then
        echo ordinary
    elif debian_works; then
        echo debian
    else
        echo none
    fi
}

# A linker for the Debian way. Debian's Rust brings none for these targets: take the one of an installed Rust, or its lld.
find_linker() {
    local linker=""
    if command -v rustc >/dev/null; then
        linker="$(find "$(rustc --print sysroot)/lib/rustlib" -name rust-lld -type f 2>/dev/null | head -n 1)"
    fi
    if [ -n "$linker" ]; then
        export PATH="${linker%/*}:$PATH"
    elif command -v ld.lld >/dev/null; then
        local target name
        for target in "${targets[@]}"; do
            name="${target//[-.]/_}"
            export "CARGO_TARGET_${name^^}_LINKER=ld.lld"
        done
    fi
}

# auto, ordinary or debian: sets `way`, says on standard error which it is, and ends the script where there is none.
choose_way() {
    case "$1" in
        auto) way="$(which_way)" ;;
        ordinary) if ordinary_works; then way=ordinary; else way=none; fi ;;
        debian) if debian_works; then way=debian; else way=none; fi ;;
        *)
            echo "--way is auto, ordinary or debian" >&2
            exit 2
            ;;
    esac
    case "$way" in
        ordinary) echo "Taking the ordinary way: $(rustc --version), with the targets' core library installed." >&2 ;;
        debian)
            find_linker
            echo "Taking the Debian way: $("$debian_rustc" --version), building the core library from its sources." >&2
            ;;
        none)
            echo "This machine cannot build for these targets. Either of the following helps:" >&2
            echo "  rustup target add ${targets[*]}" >&2
            echo "  apt-get update && apt-get install --no-install-recommends rustc-web cargo-web rust-web-src lld" >&2
            exit 1
            ;;
    esac
}

# The folder that `build` writes to; one of its own for Debian's compiler, or the two would undo each other's work.
target_folder() {
    if [ "$way" = debian ]; then
        echo "${CARGO_TARGET_DIR:-target}/debian"
    else
        echo "${CARGO_TARGET_DIR:-target}"
    fi
}

build() { # target, cargo arguments
    local target="$1"
    shift
    if [ "$way" = ordinary ]; then
        cargo build --quiet --locked --target "$target" "$@"
    else
        RUSTC_BOOTSTRAP=1 RUSTC="$debian_rustc" CARGO_TARGET_DIR="$(target_folder)" \
            "$debian_cargo" build --quiet --locked -Zbuild-std=core --target "$target" "$@"
    fi
}

# Prints the comment at the head of a script.
print_help() { # script
    sed -n '2,/^set /{/^set /d;s/^# \{0,1\}//p}' "$1"
}
