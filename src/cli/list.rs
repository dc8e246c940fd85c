//! `list`: what there is to choose from.

use std::io::Write;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::Context;
use super::failure::Failure;
use super::keys::CONTROLS;
use crate::chart::{Part, Parts, Piece, READY_CHARTS};
use crate::groove::ready_grooves;
use crate::midi::{FAMILIES, PROGRAMS};
use crate::neck::Tuning;
use crate::practice::{READY_ROUTINES, Routine};
use crate::theory::ScaleKind;
use crate::view::Folded;

/// List ready charts, sets, grooves, routines, tunings, parts, settings, voices or controls
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold list charts
  fivefold list sets
  fivefold list settings
  fivefold list voices --json")]
pub(super) struct Arguments {
    /// charts (ready to play), sets (notes to solo over), grooves (rhythms of the band), routines, tunings, parts, settings (of parts), voices (General MIDI) or controls (keys and lines while it plays)
    #[arg(value_name = "WHAT", hide_possible_values = true)]
    what: What,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum What {
    /// Charts that come with the program, to play by name
    Charts,
    /// Five-note sets and other scales that have a name
    #[value(alias = "scales")]
    Sets,
    /// Rhythms that kit, bass, strum and pads share
    Grooves,
    /// Routines that come with the program, to practice by name
    Routines,
    /// Tunings that have a name
    Tunings,
    /// Parts of the arrangement
    Parts,
    /// What can be set of each part, with --part
    Settings,
    /// Sounds of General MIDI, by program number
    Voices,
    /// Keys to press and lines to type while it plays
    #[value(alias = "keys")]
    Controls,
}

/// One thing of a list, as JSON has it.
#[derive(Serialize)]
#[serde(untagged)]
enum Listed {
    Chart {
        name: &'static str,
        group: &'static str,
        title: String,
        key: Option<String>,
        meter: String,
        tempo: String,
    },
    Set {
        name: &'static str,
        degrees: Vec<String>,
        home: &'static str,
        other_names: &'static [&'static str],
    },
    Groove {
        name: &'static str,
        meters: String,
        feel: String,
        tempo: Option<[u32; 2]>,
        kick_and_bass: &'static str,
        about: &'static str,
    },
    Routine {
        name: &'static str,
        title: String,
        minutes: u32,
        about: String,
    },
    Tuning {
        name: &'static str,
        strings: Vec<String>,
    },
    Part {
        name: &'static str,
        plays: bool,
        about: &'static str,
    },
    Setting {
        name: String,
        range: String,
        usually: Option<serde_json::Value>,
        about: &'static str,
        /// Whether every part has it.
        #[serde(skip)]
        common: bool,
    },
    Voice {
        program: usize,
        name: &'static str,
        family: &'static str,
    },
    Control {
        key: &'static str,
        line: &'static str,
        about: &'static str,
    },
}

impl What {
    fn listed(self) -> Vec<Listed> {
        match self {
            What::Charts => charts(),
            What::Sets => sets(),
            What::Grooves => grooves(),
            What::Routines => routines(),
            What::Tunings => tunings(),
            What::Parts => parts(),
            What::Settings => settings(),
            What::Voices => voices(),
            What::Controls => controls(),
        }
    }
}

fn charts() -> Vec<Listed> {
    let read = READY_CHARTS.iter().filter_map(|chart| {
        let (piece, _) = Piece::read(chart.text).ok()?;
        Some(Listed::Chart {
            name: chart.name,
            group: chart.group,
            title: piece.title.clone(),
            key: piece.key.map(|key| key.to_string()),
            meter: piece.meter.to_string(),
            tempo: piece.tempo.to_string(),
        })
    });
    read.collect()
}

/// Sets of five notes, then of six, then of seven.
fn sets() -> Vec<Listed> {
    let mut kinds: Vec<ScaleKind> = ScaleKind::all().to_vec();
    kinds.sort_by_key(|kind| kind.degrees().len());
    let listed = kinds.iter().map(|kind| Listed::Set {
        name: kind.name(),
        degrees: kind.degrees().iter().map(ToString::to_string).collect(),
        home: kind.home().name(),
        other_names: kind.aliases(),
    });
    listed.collect()
}

fn grooves() -> Vec<Listed> {
    let listed = ready_grooves().iter().map(|groove| {
        let parts = groove.parts();
        Listed::Groove {
            name: &parts.name,
            meters: parts.meters.to_string(),
            feel: parts.feel.to_string(),
            tempo: parts.tempo.map(|(low, high)| [low, high]),
            kick_and_bass: parts.kick_and_bass.name(),
            about: &parts.about,
        }
    });
    listed.collect()
}

fn routines() -> Vec<Listed> {
    let read = READY_ROUTINES.iter().filter_map(|ready| {
        let routine = Routine::read(ready.text).ok()?;
        Some(Listed::Routine {
            name: ready.name,
            minutes: routine.minutes(),
            title: routine.title,
            about: routine.about,
        })
    });
    read.collect()
}

fn tunings() -> Vec<Listed> {
    let known = Tuning::names().filter_map(|name| Some((name, Tuning::read(name).ok()?)));
    let listed = known.map(|(name, tuning)| Listed::Tuning {
        name,
        strings: tuning.to_string().split(' ').map(str::to_owned).collect(),
    });
    listed.collect()
}

fn parts() -> Vec<Listed> {
    let usual = Parts::default();
    let listed = Part::ALL.map(|part| Listed::Part {
        name: part.name(),
        plays: usual.common(part).on,
        about: part.about(),
    });
    listed.into()
}

fn settings() -> Vec<Listed> {
    let usual = Parts::default();
    let of = |part: Part| {
        let usual = usual.clone();
        part.settings().map(move |setting| Listed::Setting {
            name: format!("{}.{}", part.name(), setting.key),
            range: setting.range(),
            usually: setting
                .value(part, &usual)
                .and_then(|value| serde_json::to_value(value).ok()),
            about: setting.about,
            common: setting.is_common(),
        })
    };
    Part::ALL.into_iter().flat_map(of).collect()
}

fn voices() -> Vec<Listed> {
    let numbered = PROGRAMS.iter().enumerate();
    let listed = numbered.map(|(from_0, name)| Listed::Voice {
        program: from_0 + 1,
        name,
        family: FAMILIES[from_0 / 8],
    });
    listed.collect()
}

fn controls() -> Vec<Listed> {
    let listed = CONTROLS.iter().map(|control| Listed::Control {
        key: control.key,
        line: control.line,
        about: control.about,
    });
    listed.collect()
}

/// How the controls are used, above their list.
const OF_CONTROLS: &str = "While it plays in a terminal, press a key; Enter opens a\n\
     line to type. Without a terminal, lines come from standard\n\
     input. Pedals take the same lines, see `fivefold pedals`.\n";

/// The settings that every part has, in one line; programs are given them part by part.
const OF_ALL: &str = "Every part has: on (true or false), level (0 to 127),\n\
     pan (-100 left to 100 right), channel (1 to 16) and, but\n\
     for click and kit, program (1 to 128, see `fivefold list\n\
     voices`). Write `--part bass.level=80`, or `level = 80`\n\
     below `[parts.bass]`.\n";

impl Listed {
    /// Whether it is a setting that every part has.
    fn is_common(&self) -> bool {
        matches!(self, Listed::Setting { common: true, .. })
    }

    /// What stands above it and those that follow, up to the next of another kind.
    fn heading(&self) -> Option<String> {
        match self {
            Listed::Set { degrees, .. } => Some(format!("{} notes", degrees.len())),
            _ => None,
        }
    }

    /// The columns of its line; the last may be as long as it likes.
    fn columns(&self) -> Vec<String> {
        match self {
            Listed::Chart {
                name,
                group,
                key,
                meter,
                tempo,
                ..
            } => {
                let key = key.as_deref().unwrap_or_default();
                [*name, *group, key, meter, tempo].map(String::from).into()
            }
            Listed::Groove {
                name,
                meters,
                tempo,
                about,
                ..
            } => {
                let tempo = from_to(*tempo);
                [*name, meters, &tempo, *about].map(String::from).into()
            }
            Listed::Set {
                name,
                degrees,
                home,
                ..
            } => {
                let home = format!("heard in {home}");
                vec![(*name).into(), degrees.join(" "), home]
            }
            Listed::Routine {
                name,
                minutes,
                about,
                ..
            } => vec![(*name).into(), format!("{minutes} minutes"), about.clone()],
            Listed::Tuning { name, strings } => vec![(*name).into(), strings.join(" ")],
            Listed::Part { name, plays, about } => {
                vec![(*name).into(), plays_words(*plays).into(), (*about).into()]
            }
            Listed::Setting {
                name,
                range,
                usually,
                about,
                ..
            } => {
                let usually = usually_words(usually.as_ref());
                vec![name.clone(), format!("{about}: {range}{usually}")]
            }
            Listed::Voice {
                program,
                name,
                family,
            } => vec![format!("{program:3}"), (*name).into(), (*family).into()],
            Listed::Control { key, line, about } => {
                vec![(*key).into(), (*line).into(), (*about).into()]
            }
        }
    }
}

/// Whether a part plays in a piece that names none.
fn plays_words(plays: bool) -> &'static str {
    if plays { "plays" } else { "when asked for" }
}

/// `70 to 140`.
fn from_to(tempo: Option<[u32; 2]>) -> String {
    tempo.map_or(String::new(), |[low, high]| format!("{low} to {high}"))
}

/// The usual value of a setting, as it is told behind its range; nothing where there is none.
fn usually_words(value: Option<&serde_json::Value>) -> String {
    match value {
        Some(serde_json::Value::String(text)) => format!(", usually {text}"),
        Some(value) => format!(", usually {value}"),
        None => String::new(),
    }
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let listed = arguments.what.listed();
    if context.json {
        let name = arguments.what.to_possible_value();
        let name = name.as_ref().map_or("", |value| value.get_name());
        let json = serde_json::json!({ name: listed });
        writeln!(context.streams.out, "{json}")?;
        return Ok(());
    }
    let mut out = Folded::new(&mut *context.streams.out, context.columns);
    if arguments.what == What::Settings {
        writeln!(out, "{OF_ALL}")?;
    }
    if arguments.what == What::Controls {
        writeln!(out, "{OF_CONTROLS}")?;
    }
    let listed = listed.iter().filter(|listed| !listed.is_common());
    let lines: Vec<(Option<String>, Vec<String>)> = listed
        .map(|listed| (listed.heading(), listed.columns()))
        .collect();
    let width = |column: usize| {
        let cells = lines.iter().filter_map(|(_, line)| line.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let columns = lines.first().map_or(0, |(_, line)| line.len());
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut above: Option<&String> = None;
    for (heading, line) in &lines {
        if let Some(heading) = heading.as_ref().filter(|heading| above != Some(heading)) {
            writeln!(out, "{heading}")?;
            above = Some(heading);
        }
        let indent = if heading.is_some() { "  " } else { "" };
        let cells = line.iter().zip(&widths);
        let padded: Vec<String> = cells
            .map(|(cell, width)| format!("{cell:width$}"))
            .collect();
        writeln!(out, "{indent}{}", padded.join("  ").trim_end())?;
    }
    Ok(())
}
