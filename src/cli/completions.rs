//! `completions`: completion scripts for shells.

use clap::Args;
use clap_complete::Shell;

use super::Context;
use super::failure::Failure;
use super::help::command_line;

/// Print a completion script for a shell.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold completions bash > fivefold.bash")]
pub(super) struct Arguments {
    /// The shell
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let mut script = Vec::new();
    clap_complete::generate(
        arguments.shell,
        &mut command_line(None),
        "fivefold",
        &mut script,
    );
    Ok(context.streams.out.write_all(&script)?)
}
