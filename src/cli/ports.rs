//! `ports`: the outputs there are.

use clap::Args;

use super::Context;
use super::failure::Failure;
use crate::midi::{PortError, list_outputs};
use crate::sound::{DeviceError, list_devices};

/// List the MIDI outputs and audio outputs there are.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold ports
  fivefold play '| Am7 | D9 |' --port 2
  fivefold play '| Am7 | D9 |' --sound=headphones")]
pub(super) struct Arguments {}

pub(super) fn run(_: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let ports = list_outputs();
    let devices = list_devices();
    if context.json {
        let mut line = serde_json::json!({});
        if let Some(fields) = line.as_object_mut() {
            let found: Vec<_> = ports
                .iter()
                .flatten()
                .map(|p| serde_json::json!({ "number": p.number, "name": p.name }))
                .collect();
            fields.insert("midi_outputs".to_owned(), found.into());
            let found: Vec<_> = devices
                .iter()
                .flatten()
                .map(|d| {
                    serde_json::json!({
                        "number": d.number, "name": d.name, "id": d.id, "default": d.is_default
                    })
                })
                .collect();
            fields.insert("audio_outputs".to_owned(), found.into());
        }
        writeln!(context.streams.out, "{line}")?;
        return neither(ports, devices);
    }
    let none = |found: usize| if found == 0 { "  none" } else { "" };
    let out = &mut context.streams.out;
    let (midi, audio) = (
        ports.as_deref().unwrap_or_default(),
        devices.as_deref().unwrap_or_default(),
    );
    if midi.is_empty() && audio.is_empty() {
        return neither(ports, devices);
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
    Ok(())
}

/// The failure where there is no output of either kind.
fn neither<P, D>(
    ports: Result<Vec<P>, PortError>,
    devices: Result<Vec<D>, DeviceError>,
) -> Result<(), Failure> {
    let midi = match ports {
        Ok(found) if !found.is_empty() => return Ok(()),
        Ok(_) => PortError::NoPorts.to_string(),
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
