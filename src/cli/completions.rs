//! `completions`: completion scripts for shells.

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::Context;
use super::failure::Failure;

/// Print a completion script for a shell.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold completions bash > ~/.local/share/bash-completion/completions/fivefold")]
pub(super) struct Arguments {
    /// The shell
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let mut script = Vec::new();
    clap_complete::generate(
        arguments.shell,
        &mut super::Arguments::command(),
        "fivefold",
        &mut script,
    );
    Ok(context.streams.out.write_all(&script)?)
}
