//! The command line: one module for each command.

mod aerate;
mod bench;
mod board;
mod calibrate;
mod check;
mod compare;
mod curve;
mod decode;
mod failure;
mod faults;
mod kept_file;
mod log_plan;
mod mount;
mod new;
mod numbers;
mod outputs;
mod place;
mod progress;
mod replay;
mod shell;
mod simulate;
mod size;
mod soak;
mod sweep;
mod tune;

use clap::{Parser, Subcommand};
use failure::Failure;
use std::io::{self, Write};
use std::process::ExitCode;

/// Tries out the trimming of air-driven water lifts on a modelled place of tanks.
#[derive(Debug, Parser)]
#[command(
    name = "risertrim",
    version,
    max_term_width = 100,
    arg_required_else_help = true,
    disable_help_subcommand = true,
    after_help = "Example:\n  risertrim simulate\n\nExit code: 0 done, 1 something failed, 2 bad input."
)]
struct CommandLine {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Simulate(simulate::Arguments),
    Size(size::Arguments),
    Mount(mount::Arguments),
    Aerate(aerate::Arguments),
    Curve(curve::Arguments),
    Calibrate(calibrate::Arguments),
    Compare(compare::Arguments),
    Sweep(sweep::Arguments),
    Bench(bench::Arguments),
    Faults(faults::Arguments),
    Soak(soak::Arguments),
    Board(board::Arguments),
    Decode(decode::Arguments),
    Replay(replay::Arguments),
    Tune(tune::Arguments),
    New(new::Arguments),
    Check(check::Arguments),
    Complete(shell::Complete),
    Manual(shell::Manual),
}

/// Reads the command line, does what it says and tells how it went.
pub fn main() -> ExitCode {
    let done = match CommandLine::parse().command {
        Command::Simulate(arguments) => simulate::run(&arguments),
        Command::Size(arguments) => size::run(&arguments),
        Command::Mount(arguments) => mount::run(&arguments),
        Command::Aerate(arguments) => aerate::run(&arguments),
        Command::Curve(arguments) => curve::run(&arguments),
        Command::Calibrate(arguments) => calibrate::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Sweep(arguments) => sweep::run(&arguments),
        Command::Bench(arguments) => bench::run(&arguments),
        Command::Faults(arguments) => faults::run(&arguments),
        Command::Soak(arguments) => soak::run(&arguments),
        Command::Board(arguments) => board::run(&arguments),
        Command::Decode(arguments) => decode::run(&arguments),
        Command::Replay(arguments) => replay::run(&arguments),
        Command::Tune(arguments) => tune::run(&arguments),
        Command::New(arguments) => new::run(&arguments),
        Command::Check(arguments) => check::run(&arguments),
        Command::Complete(arguments) => shell::complete(&arguments),
        Command::Manual(arguments) => shell::manual(&arguments),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            let _ = writeln!(io::stderr(), "{failure}");
            failure.exit_code()
        }
    }
}

/// Prints to standard output. A reader that has gone (`| head`) is no failure.
fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::Internal(format!("cannot print: {error}")))
        }
        _ => Ok(()),
    }
}
