//! `drill`: pieces that ask, judged while they play.

mod asks;
mod changes;
mod common;
mod degrees;
mod free;
mod pace;
mod roots;
mod scale;
mod strokes;

use clap::{Args, Subcommand};

use super::Context;
use super::failure::Failure;

/// Play an exercise, and see how it went
#[derive(Args)]
#[command(subcommand_required = true, arg_required_else_help = true)]
#[command(after_help = "\
Examples:
  fivefold drill changes
  fivefold drill changes Am C --free
  fivefold drill roots
  fivefold drill roots --notes natural --strings 5
  fivefold drill roots --shape 'minor pentatonic'
  fivefold drill scale 'A minor pentatonic'
  fivefold drill degrees 'A minor pentatonic'

Turn the volume down before you start, above all in
headphones. If a hand or arm hurts, tingles or goes numb,
stop and rest, and ask a licensed clinician.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    drill: Drill,
}

#[derive(Subcommand)]
enum Drill {
    /// Change from chord to chord, in time or freely
    Changes(Box<changes::Arguments>),
    /// Find notes on the low strings, on the beat
    Roots(Box<roots::Arguments>),
    /// Run through the shape of a set of notes, in one key or several
    Scale(Box<scale::Arguments>),
    /// Find degrees in the shape of a set of notes, or name them
    Degrees(Box<degrees::Arguments>),
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    match &arguments.drill {
        Drill::Changes(arguments) => changes::run(arguments, context),
        Drill::Roots(arguments) => roots::run(arguments, context),
        Drill::Scale(arguments) => scale::run(arguments, context),
        Drill::Degrees(arguments) => degrees::run(arguments, context),
    }
}
