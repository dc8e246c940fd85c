//! What controls a piece while it plays: keys, lines and pedals, through one channel.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use clap::Args;
use crossbeam_channel::{Receiver, RecvTimeoutError, bounded};
use serde_json::json;

use super::Context;
use super::answers::{self, Answers, Choice};
use super::controls::{self, COMMANDS, Names};
use super::ending::is_ending_asked;
use super::failure::Failure;
use super::hint;
use super::keys;
use super::options::number;
use super::pedals;
use super::screen::{self, Card, Screen};
use super::signals;
use super::sound::decimal;
use super::watcher;
use crate::diagnostic::or;
use crate::drill::Deed;
use crate::live::Control;
use crate::midi::{Heard, SystemInput, find_input, open_input};
use crate::view::{Look, Motion};

/// How often is looked whether the program is to end.
const LOOK: Duration = Duration::from_millis(50);

/// Commands that may wait.
const WAITING: usize = 16;

/// With what to steer it.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Steering it while it plays")]
pub(super) struct SteerArguments {
    #[command(flatten)]
    view: ViewArguments,
    /// Count a bar in after a pause or a suspension, and begin the bar again
    #[arg(long, conflicts_with_all = ["output", "follow"])]
    count_in_after_pause: bool,
    /// Let pedals and pads on a MIDI input steer it, as bound with `fivefold pedals`: a port as for `--port`
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    pedals: Option<String>,
    /// Pedal file to use, instead of the usual one
    #[arg(long, value_name = "FILE", requires = "pedals")]
    pedal_file: Option<PathBuf>,
    /// Follow the MIDI clock of another device on this input: its start, stop, song position and tempo
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    follow: Option<String>,
    /// Check the player's timing by the notes of this MIDI input, or by the space bar (`space`, coarse)
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    strokes: Option<String>,
    /// How late strokes arrive, in milliseconds: the delay of instrument, interface and driver
    #[arg(
        long,
        value_name = "MS",
        requires = "strokes",
        allow_hyphen_values = true
    )]
    stroke_delay: Option<String>,
    /// Strokes that are due in a beat, 1 to 6
    #[arg(long, value_name = "N", requires = "strokes")]
    strokes_per_beat: Option<String>,
    /// The MIDI input whose notes are answers: an option of the commands that ask.
    #[arg(skip)]
    pub(super) answers: Option<String>,
}

/// How it is shown while it plays.
#[derive(Args, Clone, Debug, Default)]
pub(super) struct ViewArguments {
    /// Say a line for each bar, instead of showing the stage
    #[arg(long, conflicts_with = "output")]
    pub(super) lines: bool,
    /// Let no mark move on the stage from beat to beat
    #[arg(long, conflicts_with_all = ["output", "lines"])]
    pub(super) still: bool,
}

impl ViewArguments {
    /// The options that were given.
    pub(super) fn options(&self) -> impl Iterator<Item = &'static str> {
        let all = [("--lines", self.lines), ("--still", self.still)];
        all.into_iter()
            .filter(|(_, given)| *given)
            .map(|(option, _)| option)
    }
}

/// The word for the space bar in place of a port.
const SPACE: &str = "space";

/// Messages of an input that may wait.
const HEARD: usize = 1024;

/// A MIDI input and what comes from it.
pub(super) struct Listening {
    pub(super) heard: Receiver<Heard>,
    input: SystemInput,
}

impl Listening {
    fn to(port: &str) -> Result<Self, Failure> {
        let (sender, heard) = bounded(HEARD);
        Ok(Listening {
            input: open_input(port, sender)?,
            heard,
        })
    }

    /// The name of the input.
    pub(super) fn name(&self) -> &str {
        self.input.name()
    }

    /// Messages that came faster than they were taken.
    pub(super) fn dropped(&self) -> u64 {
        self.input.dropped()
    }
}

/// How the player's timing is checked.
pub(super) struct Check {
    /// `None` for the space bar.
    pub(super) input: Option<Listening>,
    pub(super) each_beat: u32,
    pub(super) delay_ns: i64,
}

impl SteerArguments {
    /// Pedals alone, with how it is shown.
    pub(super) fn of_pedals(pedals: Option<String>, view: ViewArguments) -> Self {
        SteerArguments {
            pedals,
            view,
            ..SteerArguments::default()
        }
    }

    /// Looks for every input asked for, so that one that is missing is told before anything is opened.
    pub(super) fn find_inputs(&self, context: &mut Context<'_, '_>) -> Result<(), Failure> {
        let strokes = self.strokes.as_ref().filter(|port| *port != SPACE);
        let asked = [self.follow.as_ref(), strokes, self.pedals.as_ref()];
        for port in asked.into_iter().flatten() {
            if let Err(e) = find_input(port) {
                pedals::tell_inputs(context);
                return Err(e.into());
            }
        }
        Ok(())
    }

    /// The device that leads, if one was asked for.
    pub(super) fn leader(&self) -> Result<Option<Listening>, Failure> {
        self.follow.as_deref().map(Listening::to).transpose()
    }

    /// Whether the stage is shown, where there is room for it.
    pub(super) fn shows_stage(&self, context: &Context<'_, '_>) -> bool {
        !self.view.lines && !context.json && context.streams.err_is_terminal && screen::has_room()
    }

    /// Whether marks move on the stage.
    pub(super) fn motion(&self) -> Motion {
        if self.view.still {
            Motion::Off
        } else {
            Motion::On
        }
    }

    /// Whether a bar is counted in after a pause.
    pub(super) fn counts_in_after_pause(&self) -> bool {
        self.count_in_after_pause
    }

    /// Whether another device gives the tempo.
    pub(super) fn follows(&self) -> bool {
        self.follow.is_some()
    }

    /// The check of the player's timing, if it was asked for.
    pub(super) fn check(&self) -> Result<Option<Check>, Failure> {
        let Some(strokes) = self.strokes.as_deref() else {
            return Ok(None);
        };
        let each_beat = match &self.strokes_per_beat {
            Some(text) => u32::try_from(number("strokes-per-beat", text, 1, 6)?).unwrap_or(1),
            None => 1,
        };
        let delay_ms = match &self.stroke_delay {
            Some(text) => decimal(
                "stroke-delay",
                text,
                "milliseconds",
                (-1000.0, 1000.0),
                "12",
            )?,
            None => 0.0,
        };
        #[allow(clippy::cast_possible_truncation)] // at most a second
        let delay_ns = (delay_ms * 1e6).round() as i64;
        let input = (strokes != SPACE)
            .then(|| Listening::to(strokes))
            .transpose()?;
        Ok(Some(Check {
            input,
            each_beat,
            delay_ns,
        }))
    }
}

/// The inputs that control a piece, as long as this is kept; then the terminal is restored.
pub(super) struct Steering {
    controls: Receiver<Control>,
    _pedals: Option<SystemInput>,
    _answers: Option<SystemInput>,
    keys: Option<keys::Mode>,
}

impl Steering {
    /// Whether single keys are taken.
    pub(super) fn takes_keys(&self) -> bool {
        self.keys.is_some()
    }

    /// What is asked for.
    pub(super) fn controls(&self) -> &Receiver<Control> {
        &self.controls
    }
}

/// Asks the player to choose, by key, line or pedal, no longer than `patience`; `None` where nothing was chosen: the
/// player does not, nobody can any more, or the program is to end.
pub(super) fn choose(
    question: &str,
    choices: &'static [Choice],
    patience: Option<Duration>,
    arguments: &SteerArguments,
    context: &mut Context<'_, '_>,
) -> Result<Option<&'static str>, Failure> {
    let answers = Arc::new(Answers::choosing(choices));
    let names = Names::named(Vec::new(), Vec::new(), None).answering(Some(Arc::clone(&answers)));
    let (controls, taken) = bounded(WAITING);
    // From here on a signal must not end the process before the terminal is given back.
    let flags = signals::flags();
    signals::listen(&flags)?;
    if arguments.shows_stage(context) {
        watcher::begin();
    }
    let _pedals = match &arguments.pedals {
        Some(port) => {
            let file = arguments.pedal_file.as_deref();
            Some(pedals::attend(port, file, &names, &controls, context)?)
        }
        None => None,
    };
    let streams = &mut context.streams;
    let seen = streams.input_is_terminal && !context.json;
    let keys = if seen && streams.err_is_terminal {
        keys::begin(&names, false, &controls)
    } else {
        None
    };
    // Before the question: an answer may come at once.
    let single = keys.is_some();
    if single {
        drop(controls);
    } else {
        controls::listen(names, controls, context.json);
    }
    writeln!(
        context.streams.err,
        "{}",
        question_line(question, choices, single, context.json)
    )?;
    let until = patience.map(|patience| Instant::now() + patience);
    let _card = if single && arguments.shows_stage(context) {
        let card = Card {
            question: question.trim_end_matches([';', ':']).to_owned(),
            keys: hint::each_key(choices),
            until,
        };
        Screen::of_card(card, Look::of(context.color))
    } else {
        None
    };
    let chosen = wait_for_choice(&taken, &answers, until, &flags.suspended);
    let mut known = choices.iter().map(|(_, word)| *word);
    Ok(chosen.and_then(|chosen| known.find(|word| *word == chosen)))
}

/// A question with what can be typed, in a line.
fn question_line(question: &str, choices: &'static [Choice], single: bool, json: bool) -> String {
    let words: Vec<&str> = choices.iter().map(|(_, word)| *word).collect();
    if json {
        return json!({"kind": "choice", "text": question, "choices": words}).to_string();
    }
    if single {
        return format!("{question} {}", hint::keys_of(choices));
    }
    let words: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    format!("{question} type {}; `stop` leaves it", or(&words))
}

/// The word that is chosen, until a time if there is one.
fn wait_for_choice(
    taken: &Receiver<Control>,
    answers: &Answers,
    until: Option<Instant>,
    suspended: &AtomicBool,
) -> Option<String> {
    while !is_ending_asked() && until.is_none_or(|until| Instant::now() < until) {
        if suspended.swap(false, Ordering::AcqRel) {
            signals::suspend();
        }
        let chosen = match taken.recv_timeout(LOOK) {
            Ok(Control::Respond { id, .. }) => answers.deed(id),
            Ok(Control::Stop) => return None,
            Ok(_) | Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => {
                // Nobody can choose; a time that was to pass still does.
                until?;
                std::thread::sleep(LOOK);
                None
            }
        };
        if let Some(Deed::Word(word)) = chosen {
            return Some(word);
        }
    }
    None
}

/// Starts listening to all inputs that can control a piece. Where `strokes` are judged, the space bar strikes.
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
    let answered = match (&arguments.answers, names.shared_answers()) {
        (Some(port), Some(answers)) => {
            let Listening { heard, input } = Listening::to(port)?;
            answers::listen(heard, answers, controls.clone())?;
            Some(input)
        }
        _ => None,
    };
    let seen = context.streams.input_is_terminal && !context.json;
    let keys = if seen && context.streams.err_is_terminal {
        keys::begin(&names, strokes, &controls)
    } else {
        None
    };
    match &keys {
        Some(_) => writeln!(context.streams.err, "{}", keys::first_line(&names, strokes))?,
        None => {
            controls::listen(names, controls, context.json);
            if seen {
                writeln!(context.streams.err, "lines to type meanwhile: {COMMANDS}")?;
            }
        }
    }
    Ok(Steering {
        controls: taken,
        _pedals: pedals,
        _answers: answered,
        keys,
    })
}
