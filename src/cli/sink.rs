//! Where a piece goes: files, or a port.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Args;

use super::Context;
use super::asking::Asking;
use super::ending;
use super::failure::Failure;
use super::live::{self, How};
use super::options::Prepared;
use super::progress::{Job, told};
use super::replacing::allow;
use super::sheet::{self, SheetArguments, SheetKind};
use super::sound::{self, SoundArguments};
use super::steering::SteerArguments;
use crate::chart::{Form, Piece};
use crate::diagnostic::counted;
use crate::live::PlayerTiming;
use crate::log::{Moment, now};
use crate::midi::{SmfError, SmfFormat, replace_file, target, write_smf, write_smf_file};
use crate::neck::NeckError;
use crate::notation::{WrittenScore, write_musicxml, write_mxl};
use crate::picture::Captioned;
use crate::sound::Container;
use crate::view::{EventLinesError, Folded, clock_time, write_event_lines};

/// Where a piece goes: files, a port or a device.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Where it goes")]
pub(super) struct SinkArguments {
    /// Write .mid .wav .flac .jsonl .toml .mxl .musicxml .pdf .html .svg .png
    #[arg(short = 'o', long = "output", value_name = "FILE")]
    output: Vec<PathBuf>,
    /// Replace files that exist
    #[arg(long)]
    force: bool,
    /// Put all parts of a .mid file on one track (format 0)
    #[arg(long)]
    single_track: bool,
    /// Play to this MIDI port, see `ports`
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    port: Option<String>,
    /// Send the MIDI clock to the port as well: 24 pulses a quarter note, start, stop, song position
    #[arg(long, requires = "port")]
    clock: bool,
    /// Write down how it went: as JSON how late messages were, the tempo map as played, the player's timing; as .svg .png lateness and strokes; as .pdf .html the piece's sheet with these
    #[arg(long, value_name = "FILE", conflicts_with = "output")]
    receipt: Option<PathBuf>,
    #[command(flatten)]
    sheet: SheetArguments,
    #[command(flatten)]
    sound: SoundArguments,
    #[command(flatten)]
    steer: SteerArguments,
}

impl SinkArguments {
    /// The same, taking the notes of a MIDI input as answers.
    pub(super) fn answered_by(&self, port: Option<&str>) -> Self {
        let mut same = self.clone();
        same.steer.answers = port.map(str::to_owned);
        same
    }

    /// The same, with what was measured on its sheet.
    pub(super) fn with_record(mut self, record: Vec<Captioned>) -> Self {
        self.sheet = self.sheet.with_record(record);
        self
    }

    /// With what to steer it.
    pub(super) fn steering(&self) -> &SteerArguments {
        &self.steer
    }

    /// Whether a file goes to the standard output, where nothing else may stand.
    pub(super) fn takes_output(&self) -> bool {
        self.output.iter().any(|path| is_standard_output(path))
    }

    /// Whether files are written, and nothing is played.
    pub(super) fn is_written(&self) -> bool {
        !self.output.is_empty()
    }

    /// The first option given that is for one piece alone.
    pub(super) fn holds_one(&self) -> Option<&'static str> {
        let output = self.is_written().then_some("-o");
        output.or_else(|| self.receipt.as_ref().map(|_| "--receipt"))
    }

    /// The first of the files asked for that holds the piece as written.
    pub(super) fn as_written(&self) -> Option<&Path> {
        let is = |path: &&PathBuf| kind(path).is_ok_and(Kind::is_written);
        self.output.iter().find(is).map(PathBuf::as_path)
    }

    /// The document among the files asked for, if one is.
    pub(super) fn document(&self) -> Option<&Path> {
        let is = |path: &&PathBuf| matches!(kind(path), Ok(Kind::Document));
        self.output.iter().find(is).map(PathBuf::as_path)
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Midi,
    Sound(Container),
    Events,
    Document,
    Sheet(SheetKind),
    /// A score, packed or not.
    Score {
        packed: bool,
    },
}

impl Kind {
    /// Whether it holds the piece as written, however long that is played.
    const fn is_written(self) -> bool {
        matches!(self, Kind::Document | Kind::Score { .. })
    }
}

/// The standard output, to which a MIDI file goes.
fn is_standard_output(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn kind(path: &Path) -> Result<Kind, Failure> {
    if is_standard_output(path) {
        return Ok(Kind::Midi);
    }
    if let Some(kind) = SheetKind::of(path) {
        return Ok(Kind::Sheet(kind));
    }
    let extension = path
        .extension()
        .and_then(|e| e.to_str())
        .map(str::to_ascii_lowercase);
    match extension.as_deref() {
        Some("mid" | "midi") => Ok(Kind::Midi),
        Some("wav") => Ok(Kind::Sound(Container::Wav)),
        Some("flac") => Ok(Kind::Sound(Container::Flac)),
        Some("jsonl") => Ok(Kind::Events),
        Some("toml") => Ok(Kind::Document),
        Some("musicxml") => Ok(Kind::Score { packed: false }),
        Some("mxl") => Ok(Kind::Score { packed: true }),
        other => {
            let found = other.map_or("no ending".to_owned(), |e| format!("`.{e}`"));
            let likely = match other {
                Some("mp3" | "ogg" | "m4a" | "aac" | "aif" | "aiff" | "opus" | "wma") => "wav",
                Some("json" | "txt" | "csv") => "jsonl",
                Some("yaml" | "yml" | "conf") => "toml",
                Some("doc" | "docx" | "odt" | "ps" | "rtf") => "pdf",
                Some("jpg" | "jpeg" | "gif" | "webp") => "png",
                Some("xml") => "musicxml",
                _ => "mid",
            };
            let stem = if path.is_dir() {
                path.join("piece.mid")
            } else {
                path.with_extension(likely)
            };
            Err(Failure::new(
                "output-kind",
                format!(
                    "a file to write ends in .mid .wav .flac .jsonl .toml .musicxml .mxl .pdf .html .svg or .png, found {found}"
                ),
                format!("write `-o {}`", stem.display()),
            ))
        }
    }
}

/// A piece that was played.
pub(super) struct Played {
    pub(super) piece: Piece,
    pub(super) began: Moment,
    /// From the start of the count-in, or a little before it, to the end.
    pub(super) seconds: u32,
}

/// What came of a piece.
pub(super) struct Sent {
    pub(super) how: How,
    /// What it asked, and what became of that, where it was played and asked.
    pub(super) asking: Option<Asking>,
    /// Whether it was played, and not written.
    heard: bool,
    /// How the player's strokes lay, where these were checked.
    pub(super) strokes: Option<PlayerTiming>,
}

impl Sent {
    /// It was written to files.
    fn written() -> Self {
        Sent {
            how: How::ToTheEnd,
            asking: None,
            heard: false,
            strokes: None,
        }
    }

    /// Whether it was played, and not written to files.
    pub(super) fn was_heard(&self) -> bool {
        self.heard
    }

    /// Shows what became of the asks.
    pub(super) fn tell_outcomes(&self, context: &mut Context<'_, '_>) -> Result<(), Failure> {
        let Some(asking) = &self.asking else {
            return Ok(());
        };
        if context.json {
            let line = asking.summary_json();
            writeln!(context.streams.out, "{line}")?;
        } else if let Some(text) = asking.summary() {
            context.show(&text)?;
        }
        Ok(())
    }
}

/// What waits for the player in a piece: what it asks, or what is marked; `None` where it asks nothing.
pub(super) type Waits = fn(&Piece, &Form, bool) -> Result<Option<Asking>, NeckError>;

/// Writes the files asked for, or plays; returns how playing ended.
pub(super) fn send(
    prepared: &Prepared,
    arguments: &SinkArguments,
    context: &mut Context<'_, '_>,
) -> Result<Sent, Failure> {
    send_with(prepared, arguments, Asking::of, context)
}

/// The same; `waits` makes what waits for the player.
pub(super) fn send_with(
    prepared: &Prepared,
    arguments: &SinkArguments,
    waits: Waits,
    context: &mut Context<'_, '_>,
) -> Result<Sent, Failure> {
    let works = || works(prepared, arguments);
    if let Job::Planned(planned) = &mut context.job {
        planned.extend(works());
        return Ok(Sent::written());
    }
    if !arguments.steer.follows() {
        prepared.warn_of_goal(context);
    }
    if !arguments.is_written() {
        return perform(prepared, arguments, waits, context);
    }
    let targets = targets(prepared, arguments, context)?;
    ending::leave_nothing()?;
    context.long_job(works(), |context| {
        for (path, kind) in targets {
            write_and_tell(prepared, path, kind, arguments, context)?;
        }
        Ok(Sent::written())
    })
}

/// The work on each file asked for, in the unit of [`sound::work`].
fn works(prepared: &Prepared, arguments: &SinkArguments) -> Vec<f64> {
    let work = |path: &PathBuf| kind(path).map_or(0.0, |kind| work(prepared, kind, arguments));
    arguments.output.iter().map(work).collect()
}

fn work(prepared: &Prepared, kind: Kind, arguments: &SinkArguments) -> f64 {
    /// The work on a second of a piece, as measured.
    const MIDI: f64 = 0.0005;
    const EVENTS: f64 = 0.0025;
    match kind {
        Kind::Midi => MIDI * sound::seconds(prepared),
        Kind::Sound(container) => sound::work(prepared, container, &arguments.sound),
        Kind::Events => EVENTS * sound::seconds(prepared),
        Kind::Document | Kind::Score { .. } | Kind::Sheet(_) => 0.0,
    }
}

/// Writes a file, and says so.
fn write_and_tell(
    prepared: &Prepared,
    path: &Path,
    kind: Kind,
    arguments: &SinkArguments,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let summary = write(prepared, path, kind, arguments, context)?;
    context.end_file();
    if is_standard_output(path) {
        let mut err = Folded::new(&mut *context.streams.err, context.err_columns);
        writeln!(err, "wrote a MIDI file: {summary}")?;
    } else if context.json {
        let line = serde_json::json!({ "written": path.display().to_string(), "summary": summary });
        writeln!(context.streams.out, "{line}")?;
    } else {
        context.show(&format!("wrote {}: {summary}\n", path.display()))?;
    }
    Ok(())
}

/// The files asked for with their kinds. All are checked before anything is written.
fn targets<'a>(
    prepared: &Prepared,
    arguments: &'a SinkArguments,
    context: &mut Context<'_, '_>,
) -> Result<Vec<(&'a PathBuf, Kind)>, Failure> {
    let mut targets = Vec::new();
    for path in &arguments.output {
        let kind = kind(path)?;
        match kind {
            Kind::Sound(container) => drop(arguments.sound.format(container)?),
            Kind::Sheet(_) => arguments.sheet.check(&prepared.piece)?,
            Kind::Midi | Kind::Events | Kind::Document | Kind::Score { .. } => {}
        }
        targets.push((path, kind));
    }
    let endless = prepared.duration().is_none();
    for (i, (path, kind)) in targets.iter().enumerate() {
        let same = |a: &Path, b: &Path| a == b || target(a).is_ok_and(|a| target(b) == Ok(a));
        if targets[..i].iter().any(|(before, _)| same(before, path)) {
            return Err(Failure::new(
                "output-twice",
                format!("{} is named twice", path.display()),
                "give each file its own name",
            ));
        }
        if let (true, [option, ..]) = (kind.is_written(), prepared.excerpt_options()) {
            let what = match kind {
                Kind::Score { .. } => "score",
                _ => "document",
            };
            return Err(Failure::new(
                "output-excerpt",
                format!("a {what} holds the whole piece, and `{option}` asks for a part of it"),
                format!(
                    "leave `{option}` out, or write {} by itself",
                    path.display()
                ),
            ));
        }
        if endless && !kind.is_written() && !matches!(kind, Kind::Sheet(_)) {
            return Err(SmfError::Endless.into());
        }
        if is_standard_output(path) {
            piped(context)?;
        } else {
            allow(path, arguments.force, context)?;
        }
    }
    Ok(targets)
}

/// Plays the prepared piece live and reports how it went.
fn perform(
    prepared: &Prepared,
    arguments: &SinkArguments,
    waits: Waits,
    context: &mut Context<'_, '_>,
) -> Result<Sent, Failure> {
    let piece = &prepared.piece;
    if let Some(path) = &arguments.receipt {
        allow(path, arguments.force, context)?;
        arguments.sheet.check(piece)?;
    }
    let mut asking = waits(piece, prepared.form(), context.json)?;
    let mut wishes = live::Wishes {
        port: arguments.port.as_deref(),
        clock: arguments.clock,
        receipt: arguments.receipt.as_deref(),
        sheet: &arguments.sheet,
        sound: &arguments.sound,
        steer: &arguments.steer,
        asking: asking.as_mut(),
    };
    let (began, clock) = (now(), Instant::now());
    let (how, strokes) = live::perform(prepared, &mut wishes, context)?;
    context.how = Some(how);
    context.played = Some(Played {
        piece: piece.clone(),
        began,
        seconds: u32::try_from(clock.elapsed().as_secs()).unwrap_or(u32::MAX),
    });
    Ok(Sent {
        how,
        asking,
        heard: true,
        strokes,
    })
}

/// Refuses to write a file to a terminal, or into JSON output.
fn piped(context: &Context<'_, '_>) -> Result<(), Failure> {
    if context.streams.out_is_terminal || context.json {
        return Err(Failure::new(
            "output-terminal",
            "a MIDI file is nothing to read: `-o -` is for a pipe",
            "write `-o piece.mid`",
        ));
    }
    Ok(())
}

fn write(
    prepared: &Prepared,
    path: &Path,
    kind: Kind,
    arguments: &SinkArguments,
    context: &mut Context<'_, '_>,
) -> Result<String, Failure> {
    let mut arrangement = prepared.arrangement();
    let seed = prepared.piece.seed;
    if !matches!(kind, Kind::Sound(_)) {
        let name = if is_standard_output(path) {
            Path::new("a MIDI file")
        } else {
            path
        };
        context.begin_file(name, work(prepared, kind, arguments));
    }
    match kind {
        Kind::Midi => {
            let format = if arguments.single_track {
                SmfFormat::Single
            } else {
                SmfFormat::Parallel
            };
            let mut bytes = Vec::new();
            let written = {
                let mut tell = |part| context.advance(part);
                let mut told = told(&mut arrangement, &mut tell);
                if is_standard_output(path) {
                    write_smf(&mut told, format, &mut bytes)?
                } else {
                    write_smf_file(&mut told, format, path)?
                }
            };
            if is_standard_output(path) {
                context.end_file();
                context.write_bytes(&bytes)?;
            }
            let time = clock_time(prepared.duration().unwrap_or_default());
            Ok(format!(
                "{}, {}, {}, {time}, seed {seed}",
                counted(written.tracks as u64, "track"),
                arrangement.journey().bar_count(),
                counted(written.notes, "note"),
            ))
        }
        Kind::Sound(container) => {
            sound::write(prepared, path, container, &arguments.sound, context)
        }
        Kind::Events => {
            let mut tell = |part| context.advance(part);
            let mut told = told(&mut arrangement, &mut tell);
            replace_file(path, |file| {
                write_event_lines(&mut told, file).map_err(|e| match e {
                    EventLinesError::Write(e) => e,
                    other => io::Error::other(other.to_string()),
                })
            })?;
            Ok(format!("the event stream, seed {seed}"))
        }
        Kind::Document => {
            write_text(path, &prepared.piece.to_document())?;
            Ok(format!("the document, seed {seed}"))
        }
        Kind::Sheet(kind) => sheet::write(prepared, path, kind, &arguments.sheet, context),
        Kind::Score { packed } => score(prepared, path, packed),
    }
}

fn write_text(path: &Path, text: &str) -> Result<(), Failure> {
    replace_file(path, |file| file.write_all(text.as_bytes()))?;
    Ok(())
}

/// Writes the piece as a score.
fn score(prepared: &Prepared, path: &Path, packed: bool) -> Result<String, Failure> {
    let score = WrittenScore::new(&prepared.piece)?;
    let mut bytes = write_musicxml(&score)?;
    if packed {
        bytes = write_mxl(&bytes)?;
    }
    replace_file(path, |file| file.write_all(&bytes))?;
    let measures = counted(score.measures.len() as u64, "measure");
    Ok(format!("the score, {measures}"))
}
