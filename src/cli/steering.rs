//! What steers a piece while it plays: keys, lines and pedals, through one channel.

use std::path::PathBuf;

use clap::Args;
use crossbeam_channel::{Receiver, bounded};

use super::Context;
use super::controls::{self, COMMANDS, Names};
use super::failure::Failure;
use super::keys;
use super::pedals;
use crate::live::Control;
use crate::midi::SystemInput;

/// Commands that may wait.
const WAITING: usize = 16;

/// With what to steer it.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Steering it while it plays")]
pub(super) struct SteerArguments {
    /// Let pedals and pads on a MIDI input steer it, as bound with `fivefold pedals`: a port as for `--port`
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    pedals: Option<String>,
    /// Pedal file to use, instead of the usual one
    #[arg(long, value_name = "FILE", requires = "pedals")]
    pedal_file: Option<PathBuf>,
}

/// What steers a piece, as long as this is kept; then the terminal is as it was before.
pub(super) struct Steering {
    controls: Receiver<Control>,
    _pedals: Option<SystemInput>,
    _keys: Option<keys::Mode>,
}

impl Steering {
    /// What is asked for.
    pub(super) fn controls(&self) -> &Receiver<Control> {
        &self.controls
    }
}

/// Begins to listen to all that can steer a piece. Where `strokes` are judged, the space bar strikes.
pub(super) fn begin(
    names: Names,
    arguments: &SteerArguments,
    strokes: bool,
    context: &mut Context<'_, '_>,
) -> Result<Steering, Failure> {
    let (controls, taken) = bounded(WAITING);
    let pedals = match &arguments.pedals {
        Some(port) => {
            let file = arguments.pedal_file.as_deref();
            Some(pedals::attend(port, file, &names, &controls, context)?)
        }
        None => None,
    };
    let streams = &mut context.streams;
    let seen = streams.input_is_terminal && !context.json;
    let keys = if seen && streams.err_is_terminal {
        keys::begin(&names, strokes, &controls)
    } else {
        None
    };
    match &keys {
        Some(_) => writeln!(streams.err, "{}", keys::first_line(strokes))?,
        None => {
            controls::listen(names, controls);
            if seen {
                writeln!(streams.err, "lines to type meanwhile: {COMMANDS}")?;
            }
        }
    }
    Ok(Steering {
        controls: taken,
        _pedals: pedals,
        _keys: keys,
    })
}
