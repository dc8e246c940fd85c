//! `practice`: a routine, item by item.

mod handout;

use std::ffi::OsString;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use clap::{Args, FromArgMatches};
use serde_json::json;

use super::answers::Choice;
use super::ending::is_ending_asked;
use super::failure::Failure;
use super::help::command_line;
use super::live::How;
use super::options::number;
use super::piece::utf8;
use super::record::{LogArguments, Record, tell};
use super::shell::in_shell;
use super::steering::{self, SteerArguments, ViewArguments};
use super::{Arguments as Program, Command, Context, dispatch, usage};
use crate::chart::{SourceText, ready_chart};
use crate::diagnostic::counted;
use crate::practice::{Item, READY_ROUTINES, Routine, What, in_turns};
use crate::sound::Font;
use crate::theory::{ScaleFormula, nearest};
use crate::view::shown;

/// The routine for who has none yet.
const FIRST: &str = "first-half-hour";

/// The setting in the log that holds the routine used last.
const LAST: &str = "routine";

/// The largest routine that is read, in bytes: the reader refuses what is larger.
const MOST_BYTES: u64 = 1 << 17;

/// Practice a routine: scales, degrees, changes, roots, rests
#[derive(Args)]
#[command(after_help = "\
Without a name the routine used last is practiced, at first
first-half-hour. Each item goes on where the hands were the
last time. q ends what plays; then n goes to the next item,
a plays it again, q ends the session.

Examples:
  fivefold practice
  fivefold practice open-chords --who Ada
  fivefold practice tuesday.toml --to tuesday-files
  fivefold list routines

A routine is a file:
  title = \"Tuesday\"
  [[items]]
  drill = \"roots --notes natural\"
  minutes = 5
  goal = 80
  [[items]]
  rest = \"shake out both hands\"
  minutes = 1

Turn the volume down before you start, above all in
headphones. If a hand or arm hurts, tingles or goes numb,
stop and rest, and ask a licensed clinician.")]
pub(super) struct Arguments {
    /// A ready routine by name, or a file
    #[arg(value_name = "ROUTINE")]
    routine: Option<String>,
    /// Begin with this item, from 1
    #[arg(
        long,
        value_name = "ITEM",
        allow_hyphen_values = true,
        conflicts_with = "to"
    )]
    from: Option<String>,
    /// Go round the items in turns of at most so many minutes, 1 to 60. For some players that held better, others found no
    /// difference
    #[arg(long, value_name = "MINUTES", allow_hyphen_values = true)]
    turns: Option<String>,
    /// Write each item as MIDI, sound and a sheet into this folder
    #[arg(long, value_name = "FOLDER")]
    to: Option<PathBuf>,
    /// On the sheets of drills: your pace so far, from the log
    #[arg(
        long,
        requires = "to",
        conflicts_with = "no_log",
        help_heading = "What a sheet is like"
    )]
    so_far: bool,
    /// Show the items without playing
    #[arg(long, conflicts_with = "to")]
    show: bool,
    #[command(flatten)]
    log: LogArguments,
    #[command(flatten)]
    passed_on: PassedOn,
}

impl Arguments {
    /// The log whose pace is wished for on the sheets of drills.
    fn so_far(&self) -> Option<&LogArguments> {
        self.so_far.then_some(&self.log)
    }
}

/// What every item that plays is given as well.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How it is played")]
struct PassedOn {
    /// Play to this MIDI port, see `ports`
    #[arg(long, value_name = "PORT", conflicts_with = "to")]
    port: Option<String>,
    /// Play to this audio device
    #[arg(long, value_name = "NAME", conflicts_with = "to")]
    sound: Option<String>,
    /// Play every part but the click through a SoundFont (.sf2)
    #[arg(long, value_name = "FILE")]
    soundfont: Option<String>,
    /// Let pedals and pads on a MIDI input steer it
    #[arg(long, value_name = "PORT", conflicts_with = "to")]
    pedals: Option<String>,
    /// Check the player's timing by the notes of this MIDI input
    #[arg(long, value_name = "PORT", conflicts_with = "to")]
    strokes: Option<String>,
    /// Take the notes of this MIDI input as answers
    #[arg(long, value_name = "PORT", conflicts_with = "to")]
    answers: Option<String>,
    /// Say a line for each bar, instead of showing the stage
    #[arg(long, conflicts_with = "to")]
    lines: bool,
    /// Let no mark move on the stage from beat to beat
    #[arg(long, conflicts_with_all = ["lines", "to"])]
    still: bool,
}

impl PassedOn {
    /// Reads the SoundFont, so that one that cannot be read is told before anything is made.
    fn try_font(&self) -> Result<(), Failure> {
        let font = self.soundfont.as_ref();
        font.map_or(Ok(()), |font| Ok(Font::load(Path::new(font)).map(drop)?))
    }

    /// How it is shown.
    fn view(&self) -> ViewArguments {
        ViewArguments {
            lines: self.lines,
            still: self.still,
        }
    }
}

/// What to do after an item that was stopped.
const AFTER: [Choice; 2] = [('n', "next"), ('a', "again")];

/// What to do in a rest.
const RESTING: [Choice; 1] = [('n', "next")];

/// An item, ready to be played.
struct Ready<'a> {
    item: &'a Item,
    /// The command line it stands for, the program's name first; empty for a rest.
    words: Vec<OsString>,
    /// What that asks; `None` for a rest.
    command: Option<Command>,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let mut record = arguments.log.record(context)?;
    let (name, source) = source(arguments.routine.as_deref(), record.as_ref(), context)?;
    let mut routine = match Routine::read(&source.text) {
        Ok(routine) => routine,
        Err(problems) => return Err(Failure::text(source, problems)),
    };
    if let Some(text) = &arguments.turns {
        let minutes = number("turns", text, 1, 60)?;
        routine.items = in_turns(&routine.items, u32::try_from(minutes).unwrap_or(1));
    }
    let numbered = (1..).zip(&routine.items);
    let ready = numbered.map(|(number, item)| prepared(number, item, arguments, &source));
    let ready = ready.collect::<Result<Vec<_>, _>>()?;
    let count = ready.len();
    let first = match &arguments.from {
        Some(text) => {
            let most = i64::try_from(count).unwrap_or(i64::MAX);
            let number = number("from", text, 1, most)?;
            usize::try_from(number).unwrap_or(1) - 1
        }
        None => 0,
    };
    if let Some(folder) = &arguments.to {
        arguments.passed_on.try_font()?;
        return handout::write(&routine, &ready, (folder, arguments.so_far()), context);
    }
    if arguments.show {
        if context.json {
            writeln!(context.streams.out, "{}", items_json(&routine))?;
        } else {
            context.show(&items_text(&routine))?;
        }
        return Ok(());
    }
    begin(&routine, &name, record.as_mut(), context)?;
    let mut session = Session {
        arguments,
        record,
        below_goal: 0,
    };
    let mut at = first;
    while at < count {
        match session.play(at, count, &ready[at], context)? {
            Then::Next => at += 1,
            Then::Again => {}
            Then::End => break,
        }
    }
    if !context.json {
        let done = if at >= count {
            "that was all"
        } else {
            "stopped"
        };
        context.say_rendered(&format!("{done}; `fivefold log` shows how it went\n"));
    }
    if session.below_goal > 0 {
        return Err(Failure::No);
    }
    Ok(())
}

/// What follows an item.
enum Then {
    Next,
    Again,
    End,
}

/// A session while it lasts.
struct Session<'a> {
    arguments: &'a Arguments,
    record: Option<Record>,
    /// Drills that ended below their goal.
    below_goal: usize,
}

impl Session<'_> {
    fn play(
        &mut self,
        at: usize,
        count: usize,
        ready: &Ready<'_>,
        context: &mut Context<'_, '_>,
    ) -> Result<Then, Failure> {
        let item = ready.item;
        if !context.json {
            let line = item_line(at + 1, item);
            context.say_rendered(&format!("\n{line} ({} of {count})\n", at + 1));
            if let Some(say) = &item.say {
                context.say_rendered(&format!("{}\n", shown(say)));
            }
        } else {
            let line = json!({
                "kind": "item",
                "item": at + 1,
                "what": item.what.kind(),
                "text": item.what.text(),
                "minutes": item.minutes,
            });
            context.say_rendered(&format!("{line}\n"));
        }
        let Some(command) = &ready.command else {
            return self.rest(item, context);
        };
        context.played = None;
        match dispatch(command, context) {
            Err(Failure::No) => self.below_goal += 1,
            other => other?,
        }
        // A drill has written itself down.
        if let (What::Piece(text) | What::Jam(text), Some(record), Some(played)) =
            (&item.what, &mut self.record, context.played.take())
        {
            let name = format!("{} {text}", item.what.kind());
            if let Err(e) = record.add(&name, &played, None, Vec::new()) {
                tell(&e, "this take is not in it", context);
            }
        }
        if is_ending_asked() {
            return Ok(Then::End);
        }
        if context.how != Some(How::Stopped) {
            return Ok(Then::Next);
        }
        let chosen = steering::choose("and now?", &AFTER, None, &self.steering(), context)?;
        Ok(match chosen {
            Some("next") => Then::Next,
            Some("again") => Then::Again,
            _ => Then::End,
        })
    }

    fn rest(&self, item: &Item, context: &mut Context<'_, '_>) -> Result<Then, Failure> {
        let time = Duration::from_secs(60 * u64::from(item.minutes));
        let begun = Instant::now();
        let chosen = steering::choose("rest;", &RESTING, Some(time), &self.steering(), context)?;
        let over = begun.elapsed() >= time && !is_ending_asked();
        Ok(if chosen.is_some() || over {
            Then::Next
        } else {
            Then::End
        })
    }

    fn steering(&self) -> SteerArguments {
        let passed = &self.arguments.passed_on;
        SteerArguments::of_pedals(passed.pedals.clone(), passed.view())
    }
}

/// Shows what comes, with the cautions, and keeps the routine as the one used last.
fn begin(
    routine: &Routine,
    name: &str,
    record: Option<&mut Record>,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    if let Some(record) = record
        && let Err(e) = record.log.set(&record.player, LAST, Some(name))
    {
        tell(&e, "the routine is not kept for the next time", context);
    }
    if context.json {
        return Ok(());
    }
    context.say_rendered(&items_text(routine));
    context.say_rendered(
        "\nTurn the volume down, above all in headphones, and bring it up from there. If a hand or arm hurts, tingles or goes \
         numb, stop and rest, and ask a licensed clinician; this program gives no medical advice.\n",
    );
    Ok(())
}

/// The routine in a few lines.
fn items_text(routine: &Routine) -> String {
    let (title, minutes) = (shown(&routine.title), routine.minutes());
    let mut text = format!("{title}, {}\n", counted(u64::from(minutes), "minute"));
    if !routine.about.is_empty() {
        text += &format!("{}\n", shown(&routine.about));
    }
    for (number, item) in (1..).zip(&routine.items) {
        text += &format!("{}\n", item_line(number, item));
    }
    text
}

/// The routine as JSON, an object for each item.
fn items_json(routine: &Routine) -> serde_json::Value {
    let items: Vec<_> = (1..)
        .zip(&routine.items)
        .map(|(number, item): (usize, &Item)| {
            json!({
                "item": number,
                "what": item.what.kind(),
                "text": item.what.text(),
                "minutes": item.minutes,
                "goal": item.goal,
            })
        })
        .collect();
    json!({
        "title": routine.title,
        "about": routine.about,
        "minutes": routine.minutes(),
        "items": items,
    })
}

fn item_line(number: usize, item: &Item) -> String {
    let (kind, text, minutes) = (item.what.kind(), shown(item.what.text()), item.minutes);
    let goal = item
        .goal
        .map_or(String::new(), |goal| format!(", goal {goal} %"));
    format!("{number:>2}  {minutes:>2} min  {kind} {text}{goal}")
}

/// The routine's name, to find it again, and its text.
fn source(
    asked: Option<&str>,
    record: Option<&Record>,
    context: &mut Context<'_, '_>,
) -> Result<(String, SourceText), Failure> {
    let last = || {
        let record = record?;
        record.log.setting(&record.player, LAST).ok().flatten()
    };
    let name = match asked {
        Some(name) => name.to_owned(),
        None => last().unwrap_or_else(|| FIRST.to_owned()),
    };
    if Path::new(&name).is_file() {
        let text = read_file(&name)?;
        return Ok((name.clone(), SourceText::new(name, text)));
    }
    if let Some(ready) = READY_ROUTINES.iter().find(|ready| ready.name == name) {
        return Ok((name.clone(), SourceText::new(name, ready.text)));
    }
    if asked.is_none() {
        // It was a file that is gone.
        if !context.json {
            let line = format!("the routine {} is gone; this is {FIRST}\n", shown(&name));
            context.say_rendered(&line);
        }
        return source(Some(FIRST), record, context);
    }
    let message = format!("{name} is no file and no ready routine");
    Err(Failure::new("routine-name", message, no_routine(&name)))
}

/// Advice for a name that is no routine: one of a like name, or what plays the thing that is named.
fn no_routine(name: &str) -> String {
    let names = || READY_ROUTINES.iter().map(|ready| ready.name);
    let lower = name.to_lowercase().replace([' ', '_'], "-");
    let mut begun = names().filter(|ready| ready.starts_with(&lower));
    let begun = match (begun.next(), begun.next()) {
        (Some(one), None) => Some(one),
        _ => None,
    };
    if let Some(near) = nearest(&lower, names()).or(begun) {
        return format!("write `fivefold practice {near}`; `fivefold list routines` shows all");
    }
    let stem = Path::new(name).file_stem().and_then(|stem| stem.to_str());
    if let Some(chart) = stem.and_then(ready_chart) {
        format!("write `fivefold play {}`", chart.name)
    } else if ["roots", "changes"].contains(&&*lower) {
        format!("write `fivefold drill {lower}`")
    } else if ScaleFormula::read_rooted(name).is_ok() {
        format!("write `fivefold drill scale {}`", in_shell(name))
    } else {
        "`fivefold list routines` shows what there is".to_owned()
    }
}

/// The text of a file.
fn read_file(name: &str) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    let read = std::fs::File::open(name);
    let read = read.and_then(|file| file.take(MOST_BYTES).read_to_end(&mut bytes));
    read.map_err(|e| Failure::unreadable(name, &e))?;
    utf8(name, bytes)
}

/// An item as a command line, tried before anything plays.
fn prepared<'a>(
    number: usize,
    item: &'a Item,
    arguments: &Arguments,
    source: &SourceText,
) -> Result<Ready<'a>, Failure> {
    let command = match item.what {
        What::Drill(_) => "drill",
        What::Jam(_) => "jam",
        What::Piece(_) => "play",
        What::Rest(_) => {
            return Ok(Ready {
                item,
                words: Vec::new(),
                command: None,
            });
        }
    };
    let wrong = |message: String, help: String| {
        let message = format!("item {number}: {message}");
        let problem =
            crate::chart::Problem::error("routine-item", item.span.clone(), message, help);
        Failure::text(source.clone(), vec![problem])
    };
    let typed = shlex::split(item.what.text()).ok_or_else(|| {
        let message = "a quotation mark is not closed".to_owned();
        wrong(message, "close it".to_owned())
    })?;
    let mut words: Vec<OsString> = ["fivefold", command].map(OsString::from).into();
    words.extend(typed.into_iter().map(OsString::from));
    if arguments.to.is_none() {
        words.extend(added(item, arguments));
    } else if let Some(font) = &arguments.passed_on.soundfont {
        words.push(format!("--soundfont={font}").into());
    }
    let command = parsed(&words).map_err(|e| {
        let (message, help) = match usage::problem(&e, &words, &command_line(None)) {
            Some(problem) => (problem.message, problem.help),
            None => (
                "this shows help, and plays nothing".to_owned(),
                "leave `--help` out".to_owned(),
            ),
        };
        wrong(message, help)
    })?;
    Ok(Ready {
        item,
        words,
        command: Some(command),
    })
}

/// What is added to what the routine says of an item.
fn added(item: &Item, arguments: &Arguments) -> Vec<OsString> {
    let mut words: Vec<OsString> = Vec::new();
    let mut put = |option: &str, value: &str| {
        words.push(format!("{option}={value}").into());
    };
    put("--for", &format!("{}min", item.minutes));
    let drill = matches!(item.what, What::Drill(_));
    let passed = &arguments.passed_on;
    let all = [
        ("--port", &passed.port),
        ("--sound", &passed.sound),
        ("--soundfont", &passed.soundfont),
        ("--pedals", &passed.pedals),
        ("--strokes", &passed.strokes),
    ];
    for (option, value) in all {
        if let Some(value) = value {
            put(option, value);
        }
    }
    if drill {
        if let Some(goal) = item.goal {
            put("--goal", &format!("{goal}%"));
        }
        if let Some(port) = &passed.answers {
            put("--answers", port);
        }
        words.extend(arguments.log.words());
    }
    words.extend(passed.view().options().map(OsString::from));
    words
}

/// The command that words stand for.
fn parsed(words: &[OsString]) -> Result<Command, clap::Error> {
    let matches = command_line(None).try_get_matches_from(words)?;
    Ok(Program::from_arg_matches(&matches)?.command)
}
