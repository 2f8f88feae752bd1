//! Tries out risertrim on a laptop; see `risertrim --help`.

#![forbid(unsafe_code)]

mod cli;

fn main() -> std::process::ExitCode {
    cli::main()
}
