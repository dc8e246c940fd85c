//! `ports`: the outputs and inputs there are.

use std::io::Write;

use clap::Args;

use super::Context;
use super::failure::Failure;
use crate::midi::{Direction, ListedPort, PortError, list_inputs, list_outputs};
use crate::sound::{DeviceError, list_devices};
use crate::view::Folded;

/// List the MIDI outputs, audio outputs and MIDI inputs
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold ports
  fivefold play '| Am7 | D9 |' --port 2
  fivefold play '| Am7 | D9 |' --port own
  fivefold play '| Am7 | D9 |' --sound=headphones

`own` in the place of a MIDI port is a port of our own,
called fivefold, that other programs connect to.")]
pub(super) struct Arguments {}

pub(super) fn run(_: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let ports = list_outputs();
    let devices = list_devices();
    let inputs = list_inputs().unwrap_or_default();
    if context.json {
        let midi = |ports: &[ListedPort]| -> Vec<serde_json::Value> {
            ports
                .iter()
                .map(|p| serde_json::json!({ "number": p.number, "name": p.name }))
                .collect()
        };
        let audio: Vec<_> = devices
            .iter()
            .flatten()
            .map(|d| {
                serde_json::json!({
                    "number": d.number, "name": d.name, "id": d.id, "default": d.is_default
                })
            })
            .collect();
        let line = serde_json::json!({
            "midi_outputs": midi(ports.as_deref().unwrap_or_default()),
            "audio_outputs": audio,
            "midi_inputs": midi(&inputs),
        });
        writeln!(context.streams.out, "{line}")?;
        return nothing(ports, devices, &inputs);
    }
    let none = |found: usize| if found == 0 { "  none" } else { "" };
    let mut out = Folded::new(&mut *context.streams.out, context.columns);
    let (midi, audio) = (
        ports.as_deref().unwrap_or_default(),
        devices.as_deref().unwrap_or_default(),
    );
    if midi.is_empty() && audio.is_empty() && inputs.is_empty() {
        return nothing(ports, devices, &inputs);
    }
    writeln!(out, "MIDI outputs (--port){}", none(midi.len()))?;
    for port in midi {
        writeln!(out, "  {port}")?;
    }
    writeln!(out, "audio outputs (--sound){}", none(audio.len()))?;
    for device in audio {
        let usual = if device.is_default {
            ", used where none is named"
        } else {
            ""
        };
        writeln!(out, "  {device}{usual}")?;
    }
    let heading = "MIDI inputs (--follow, --pedals, --strokes)";
    writeln!(out, "{heading}{}", none(inputs.len()))?;
    for port in &inputs {
        writeln!(out, "  {port}")?;
    }
    nothing(ports, devices, &inputs)
}

/// The failure where there is no port and no device.
fn nothing<P, D>(
    ports: Result<Vec<P>, PortError>,
    devices: Result<Vec<D>, DeviceError>,
    inputs: &[ListedPort],
) -> Result<(), Failure> {
    if !inputs.is_empty() {
        return Ok(());
    }
    let midi = match ports {
        Ok(found) if !found.is_empty() => return Ok(()),
        Ok(_) => PortError::NoPorts(Direction::Output).to_string(),
        Err(e) => e.to_string(),
    };
    let audio = match devices {
        Ok(found) if !found.is_empty() => return Ok(()),
        Ok(_) => "there is no audio device".to_owned(),
        Err(e) => e.to_string(),
    };
    Err(Failure::new(
        "outputs-none",
        format!("{midi}; {audio}"),
        "write a file instead: `-o piece.wav` or `-o piece.mid`; or connect a device or start a synthesizer",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Once an input alone was listed and the status said that nothing was found.
    #[test]
    fn an_input_alone_is_no_failure() {
        let input = ListedPort {
            number: 1,
            name: "keys".to_owned(),
        };
        let ports = || Ok(Vec::<ListedPort>::new());
        let devices = || Ok(Vec::<ListedPort>::new());
        assert!(nothing(ports(), devices(), &[input]).is_ok());
        assert!(nothing(ports(), devices(), &[]).is_err());
    }
}
