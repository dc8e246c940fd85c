//! `click`: the click alone.

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::options::{Extent, feel, meter, number, read_plan};
use super::sink::{self, SinkArguments};
use crate::chart::{ClickBeats, Part, Piece, Silence, SourceText, Times};
use crate::time::{Feel, Meter};

/// Play the click alone.
#[derive(Args)]
#[command(next_help_heading = "How it clicks")]
#[command(after_help = "\
Examples:
  fivefold click 92
  fivefold click '60 to 90 by 5 every 8 bars'
  fivefold click 120 --beats 2,4 --for 10min
  fivefold click 84 --meter '7/8 = 2+2+3' --subdivide 2
  fivefold click 84 --silent '3 on 1 off' --bars 64 -o c.mid

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// Tempo plan, such as 92 or '60 to 90 by 5 every 8 bars'
    #[arg(value_name = "PLAN")]
    plan: String,
    /// Meter, such as 3/4 or '7/8 = 2+2+3'
    #[arg(
        long,
        value_name = "METER",
        default_value = "4/4",
        hide_default_value = true
    )]
    meter: String,
    /// Feel between beats: 'swing 2:1'
    #[arg(
        long,
        value_name = "FEEL",
        default_value = "straight",
        hide_default_value = true
    )]
    feel: String,
    /// Clicks to the beat, 1 to 8
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    subdivide: Option<String>,
    /// Beats that click: 2,4
    #[arg(long, value_name = "BEATS", allow_hyphen_values = true)]
    beats: Option<String>,
    /// Bars without click: '3 on 1 off'
    #[arg(long, value_name = "BARS")]
    silent: Option<String>,
    /// No accents
    #[arg(long)]
    no_accents: bool,
    #[command(flatten)]
    extent: Extent,
    #[command(flatten)]
    sink: SinkArguments,
}

impl Arguments {
    /// The beats that click, of those of the meter.
    fn beats(&self, meter: &Meter) -> Result<ClickBeats, Failure> {
        let Some(text) = &self.beats else {
            return Ok(ClickBeats::All);
        };
        let count = meter.beat_count();
        // What was meant by other signs between the numbers.
        let meant: Vec<String> = text
            .split(|c: char| !c.is_ascii_digit())
            .filter(|word| {
                word.parse()
                    .is_ok_and(|beat: u32| (1..=count).contains(&beat))
            })
            .map(str::to_owned)
            .collect();
        let meant = match meant.as_slice() {
            [] if count >= 4 => "2,4".to_owned(),
            [] => count.min(2).to_string(),
            beats => beats.join(","),
        };
        let beat = |word: &str| {
            let beat = word.trim().parse::<u32>().ok();
            beat.filter(|beat| (1..=count).contains(beat))
                .ok_or_else(|| {
                    Failure::new(
                        "click-beats",
                        format!("{meter} has beats 1 to {count}, found `{}`", word.trim()),
                        format!("write beats of the meter: `--beats {meant}`"),
                    )
                })
        };
        let beats = text.split(',').map(beat);
        Ok(ClickBeats::Only(beats.collect::<Result<_, _>>()?))
    }
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let meter = meter(&arguments.meter)?;
    let plan = read_plan("PLAN", &arguments.plan, &meter)?;
    let feel = feel(&arguments.feel, &meter)?;
    let beats = arguments.beats(&meter)?;
    let subdivide = match &arguments.subdivide {
        Some(text) => u32::try_from(number("subdivide", text, 1, 8)?).unwrap_or(1),
        None => 1,
    };
    let mut piece = Piece::click(meter, plan);
    piece.feel = Some(feel).filter(|feel| *feel != Feel::Straight);
    piece.times = Times::Endless;
    let click = &mut piece.parts.click;
    // There is only the click, so no count-in unless asked for.
    click.count_in = 0;
    click.subdivide = subdivide;
    click.beats = beats;
    click.accents = !arguments.no_accents;
    if let Some(text) = &arguments.silent {
        click.silent = Silence::read(text).ok_or_else(|| {
            Failure::new(
                "click-silent",
                format!("silent bars are written like `3 on 1 off`, found `{text}`"),
                "write how many bars click and how many are silent, each 1 to 64",
            )
        })?;
    }
    arguments.extent.refuse_other_parts(Part::Click)?;
    let wanted = arguments.extent.read()?;
    let prepared = wanted
        .apply(piece, SourceText::new("<click>", "| N.C. |").into())?
        .planned_in(SourceText::new("<PLAN>", arguments.plan.clone()));
    sink::send(&prepared, &arguments.sink, context).map(|_| ())
}
