//! `ports`: the MIDI outputs there are.

use clap::Args;

use super::Context;
use super::failure::Failure;
use crate::midi::list_outputs;

/// List the MIDI outputs there are.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold ports
  fivefold play '| Am7 | D9 |' --port 2")]
pub(super) struct Arguments {}

pub(super) fn run(_: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let ports = list_outputs()?;
    if context.json {
        let ports: Vec<_> = ports
            .iter()
            .map(|p| serde_json::json!({ "number": p.number, "name": p.name }))
            .collect();
        writeln!(
            context.streams.out,
            "{}",
            serde_json::json!({ "midi_outputs": ports })
        )?;
    } else if ports.is_empty() {
        return Err(crate::midi::PortError::NoPorts.into());
    } else {
        for port in ports {
            writeln!(context.streams.out, "{port}")?;
        }
    }
    Ok(())
}
