//! `risertrim complete` and `risertrim manual`: the command line's own description, for shells and for `man`.

use super::failure::Failure;
use super::{CommandLine, print};
use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};
use std::path::{Path, PathBuf};

/// Print what a shell needs to complete commands and options
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim complete bash > ~/.local/share/bash-completion/completions/risertrim
  risertrim complete fish > ~/.config/fish/completions/risertrim.fish

Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Complete {
    /// The shell
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

/// Write manual pages, one a command
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  risertrim manual ~/.local/share/man/man1

Then: man risertrim-simulate
Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Manual {
    /// Folder to write them into; it is made if need be
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

/// Prints the completions.
pub fn complete(arguments: &Complete) -> Result<(), Failure> {
    let mut text = Vec::new();
    generate(arguments.shell, &mut CommandLine::command(), "risertrim", &mut text);
    print(&String::from_utf8_lossy(&text))
}

/// Writes the manual pages.
pub fn manual(arguments: &Manual) -> Result<(), Failure> {
    let folder = &arguments.folder;
    let cannot = |error: std::io::Error| Failure::BadInput(format!("cannot write into {}: {error}", folder.display()));
    std::fs::create_dir_all(folder).map_err(cannot)?;
    let mut all = CommandLine::command();
    all.build(); // gives every command its full name: risertrim-simulate
    let pages: Vec<&clap::Command> = std::iter::once(&all).chain(all.get_subcommands()).collect();
    for command in &pages {
        page(folder, command).map_err(cannot)?;
    }
    print(&format!(
        "{} manual pages written into {}\n",
        pages.len(),
        folder.display()
    ))
}

fn page(folder: &Path, command: &clap::Command) -> std::io::Result<()> {
    let name = command.get_display_name().unwrap_or_else(|| command.get_name());
    let mut text = Vec::new();
    let man = clap_mangen::Man::new(command.clone().version(env!("CARGO_PKG_VERSION")));
    man.title(name.to_owned()).render(&mut text)?;
    std::fs::write(folder.join(format!("{name}.1")), text)
}
