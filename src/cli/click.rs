//! `click`: the click alone.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::options::{Extent, feel, meter, number, read_plan};
use super::sink::{self, SinkArguments};
use crate::chart::{ClickBeats, Part, Piece, Problem, Section, Silence, SourceText, Times};
use crate::diagnostic::Diagnostic;
use crate::midi::{ClickMap, MOST_MAP_BYTES, read_click_map};
use crate::theory::Harmony;
use crate::time::{Feel, Meter, PlanRepeat, TempoPlan};
use crate::view::render_plain;

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
  fivefold click song.mid --beats 2,4 -o two-and-four.mid

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// Tempo plan, such as 92 or '60 to 90 by 5 every 8 bars', or a MIDI file whose tempi and meters to click
    #[arg(value_name = "PLAN")]
    plan: String,
    /// Meter, such as 3/4 or '7/8 = 2+2+3'
    #[arg(long, value_name = "METER")]
    meter: Option<String>,
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
    let map = map_of(arguments)?;
    let (meter, plan) = match &map {
        Some(map) => {
            tell(&map.warnings, arguments, context);
            let first = map.bars.first().map_or(Meter::COMMON, |bar| bar.meter);
            let steps = map.tempi.iter().map(|(tick, tempo)| (tick.get(), *tempo));
            (first, TempoPlan::of_steps(&steps.collect::<Vec<_>>()))
        }
        None => {
            let meter = meter(arguments.meter.as_deref().unwrap_or("4/4"))?;
            (meter, read_plan("PLAN", &arguments.plan, &meter)?)
        }
    };
    let feel = feel(&arguments.feel, &meter)?;
    let beats = arguments.beats(&meter)?;
    let subdivide = match &arguments.subdivide {
        Some(text) => u32::try_from(number("subdivide", text, 1, 8)?).unwrap_or(1),
        None => 1,
    };
    let mut piece = Piece::click(meter, plan);
    piece.feel = Some(feel).filter(|feel| *feel != Feel::Straight);
    piece.times = Times::Endless;
    if let Some(map) = &map {
        follow(map, &mut piece);
    }
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

/// The map of the MIDI file that is named in place of a plan; `None` where it is a plan.
fn map_of(arguments: &Arguments) -> Result<Option<ClickMap>, Failure> {
    let name = arguments.plan.as_str();
    let ending = Path::new(name).extension().and_then(|e| e.to_str());
    if !ending.is_some_and(|e| e.eq_ignore_ascii_case("mid") || e.eq_ignore_ascii_case("midi")) {
        return Ok(None);
    }
    if arguments.meter.is_some() {
        let message = format!("{name} is a MIDI file, and says its meters itself");
        return Err(Failure::new("option-meter", message, "leave `--meter` out"));
    }
    if let Some(path) = arguments.sink.as_written() {
        let message = format!(
            "a document or a score holds a tempo plan, and the tempi of a MIDI file are finer: {}",
            path.display()
        );
        let help = "write a .mid, .wav, .flac or .jsonl file";
        return Err(Failure::new("click-map-written", message, help));
    }
    let mut bytes = Vec::new();
    let file = File::open(name).map_err(|e| Failure::unreadable(name, &e))?;
    let most = MOST_MAP_BYTES as u64 + 1;
    let read = file.take(most).read_to_end(&mut bytes);
    read.map_err(|e| Failure::unreadable(name, &e))?;
    let map = read_click_map(&bytes);
    map.map(Some)
        .map_err(|e| Failure::new(e.code(), format!("{name}: {e}"), e.help()))
}

/// Says what is not as the file has it.
fn tell(warnings: &[String], arguments: &Arguments, context: &mut Context<'_, '_>) {
    for message in warnings {
        let message = format!("{}: {message}", arguments.plan);
        let help = "write the meter at a bar line to have it there";
        let problem = Problem::warning("map-meter", 0..0, message, help);
        let text = render_plain(&problem, context.color);
        context.say_rendered(&text);
    }
}

/// The bars of a map in place of those of the piece, played once; markers are sections.
fn follow(map: &ClickMap, piece: &mut Piece) {
    piece.times = Times::Count(1);
    piece.plan = PlanRepeat::EachPass;
    piece.sections.clear();
    piece.form.clear();
    for bar in &map.bars {
        if bar.marker.is_some() || piece.sections.is_empty() {
            let wanted = bar.marker.as_deref().unwrap_or("A").replace(' ', "-");
            let free = |name: &String| {
                let reserved = ["intro", "ending"].contains(&name.as_str());
                !reserved && piece.sections.iter().all(|(known, ..)| known != name)
            };
            let numbered = (2u64..).map(|number| format!("{wanted}{number}"));
            let mut names = std::iter::once(wanted.clone()).chain(numbered);
            let name = names.find(free).unwrap_or_default();
            piece.form.push(name.clone());
            piece
                .sections
                .push((name, String::new(), Section::default()));
        }
        let Some((_, _, section)) = piece.sections.last_mut() else {
            continue;
        };
        let one = Section::of_bars(bar.meter, [vec![Harmony::NoChord]]);
        section.order.push(section.bars.len());
        section.bars.extend(one.bars);
    }
}
