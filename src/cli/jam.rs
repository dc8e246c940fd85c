//! `jam`: a progression over a set, drawn and played.

use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use clap::Args;

use super::Context;
use super::check::fit_rule;
use super::failure::Failure;
use super::options::{Changes, choice, number};
use super::scale::read;
use super::sink::{self, SinkArguments};
use crate::arrange::{PassMaker, PassScore};
use crate::chart::{FitRule, Piece, Problem, SourceText, Times, place_of};
use crate::generate::{
    Chance, Flavour, Generator, KeyOrder, Request, Rhythm, Table, chart_text, fit, key_of,
    key_order,
};
use crate::theory::{Chord, Interval, Key, Scale, symbol};
use crate::time::{Feel, Meter};
use crate::view::JamReport;

/// Make a progression that fits a set, and play it.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold jam --set 'A minor pentatonic' --show
  fivefold jam --set 'minor pentatonic' --seed 7 -o jam.mid -o jam.toml
  fivefold jam --set 'E minor pentatonic' --fit clear --keys fourths -o keys.mid
  fivefold jam --set 'G major pentatonic' --endless --for 10min -o long.mid
  fivefold jam --set 'A minor pentatonic' --part bass.line=walking -o walk.mid
  fivefold jam --set 'A minor pentatonic' --start Am7 --likeliest 5 --show

Turn the volume down before you start, above all in headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// Set to play over: root and name, or a name alone and the root is drawn
    #[arg(long, value_name = "SET")]
    set: String,
    /// Scale the set is heard in, where it is not the usual one
    #[arg(long, value_name = "SCALE")]
    home: Option<String>,
    /// Rule the chords keep: inside, clear, home or blues
    #[arg(long, value_name = "RULE", default_value = "inside")]
    fit: String,
    /// Bars of the progression, 1 to 64
    #[arg(long, value_name = "BARS", default_value = "8")]
    length: String,
    /// How often chords change: 'two bars', bar or 'half bar'
    #[arg(long, value_name = "RHYTHM", default_value = "bar")]
    rhythm: String,
    /// Which chords: any, triads or sevenths
    #[arg(long, value_name = "KIND", default_value = "any")]
    chords: String,
    /// From plain (0) to colourful (3)
    #[arg(long, value_name = "LEVEL", default_value = "1")]
    adventure: String,
    /// First chord
    #[arg(long, value_name = "CHORD")]
    start: Option<String>,
    /// Last chord
    #[arg(long, value_name = "CHORD")]
    end: Option<String>,
    /// Chords to use, such as C,Dsus4
    #[arg(long, value_name = "CHORDS")]
    with: Option<String>,
    /// Chords to leave out
    #[arg(long, value_name = "CHORDS")]
    without: Option<String>,
    /// How many different chords, 1 to 6
    #[arg(long, value_name = "N")]
    different: Option<String>,
    /// A pass in each key: fourths, fifths, semitones, shuffle, or keys such as 'A minor, D minor'
    #[arg(long, value_name = "KEYS")]
    keys: Option<String>,
    /// A new progression in each pass, until stopped
    #[arg(long, conflicts_with = "times")]
    endless: bool,
    /// Show it without playing
    #[arg(long, conflicts_with_all = ["output", "port", "pedals"])]
    show: bool,
    /// List so many of the likeliest sequences over the same plan and palette
    #[arg(long, value_name = "N", default_value = "0")]
    likeliest: String,
    /// Meter
    #[arg(long, value_name = "METER", default_value = "4/4")]
    meter: String,
    /// Feel, such as 'swing 2:1'
    #[arg(long, value_name = "FEEL", default_value = "straight")]
    feel: String,
    #[command(flatten)]
    changes: Changes,
    #[command(flatten)]
    sink: SinkArguments,
}

/// Draws every pass of an endless jam.
struct JamMaker {
    generator: Arc<Generator>,
    seed: u64,
    set: Scale,
    meter: Meter,
    first: Option<Key>,
    keys: Vec<Key>,
}

impl PassMaker for JamMaker {
    fn pass(&self, index: u64) -> PassScore {
        let drawn = self.generator.draw(self.seed, index);
        let section = format!("jam {}", index + 1);
        let mut bars = drawn
            .map(|p| self.generator.form_bars(&p, self.meter, &section))
            .unwrap_or_default();
        let count = self.keys.len() as u64;
        let turn = index
            .checked_rem(count)
            .and_then(|at| self.keys.get(usize::try_from(at).ok()?))
            .copied();
        let by: Option<Interval> = turn.zip(self.first).map(|(to, from)| from.interval_to(&to));
        if let Some(by) = by {
            for chord in bars.iter_mut().flat_map(|bar| &mut bar.chords) {
                chord.harmony = chord.harmony.transposed(by);
            }
        }
        let moved = |by: Interval| self.set.with_root(self.set.root().up(by).simplified());
        PassScore {
            bars: Arc::new(bars),
            key: turn.or(self.first),
            set: Some(by.map_or(self.set, moved)),
        }
    }
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let seed = match &arguments.changes.extent.seed {
        Some(text) => u64::try_from(number("seed", text, 0, i64::MAX)?).unwrap_or(0),
        None => fresh_seed(),
    };
    contradictions(arguments)?;
    let set = set(arguments, seed)?;
    let home = match &arguments.home {
        Some(text) => read("--home", text)?,
        None => set.home().unwrap_or(set),
    };
    let rule = fit_rule(&arguments.fit)?;
    if rule == FitRule::Blues && !set.kind().is_some_and(|kind| kind.is_blues()) {
        return Err(Failure::new(
            "fit-blues",
            "the blues rule is for minor and major pentatonic and blues sets",
            "choose `--fit inside`, `--fit clear` or `--fit home`",
        ));
    }
    let request = request(arguments)?;
    let meter = Meter::read(&arguments.meter).map_err(|e| {
        let problem = Problem::error(e.code(), 0..arguments.meter.len(), e.to_string(), e.help());
        Failure::option("--meter", &arguments.meter, problem)
    })?;
    if request.rhythm == Rhythm::HalfBar && !meter.beat_count().is_multiple_of(2) {
        return Err(Failure::new(
            "jam-half-bar",
            format!(
                "two chords do not share the {} beats of {meter} evenly",
                meter.beat_count()
            ),
            "write `--rhythm bar`",
        ));
    }
    let table = Table::new(&set, &home, rule);
    let wish = |e: crate::generate::WishError| Failure::new(e.code(), e.to_string(), e.help());
    let generator = Generator::new(&table, &request).map_err(wish)?;
    let Some(progression) = generator.draw(seed, 0) else {
        return Err(Failure::new(
            "jam-empty",
            "no progression was left to draw",
            "drop a wish",
        ));
    };
    let (mut piece, source) = piece(
        arguments,
        &generator,
        &progression,
        set,
        home,
        rule,
        meter,
        seed,
    )?;
    if Scale::read(&arguments.set).is_ok() {
        // A set without a root has taken the key's; one with a root is moved.
        arguments.changes.harmony(&mut piece)?;
    }
    let drawn_in = piece.key;
    let mut prepared = arguments.changes.apply(piece, &source)?;
    let generator = Arc::new(generator);
    if arguments.endless {
        let sounding = prepared.piece.sounding_key();
        let keys = match (&arguments.keys, &sounding) {
            (Some(text), Some(first)) => key_order(&order(text, first)?, first, seed, &|_| 0),
            (None, Some(key)) => vec![*key],
            _ => Vec::new(),
        };
        prepared = prepared.made_by(Arc::new(JamMaker {
            generator: Arc::clone(&generator),
            seed,
            set,
            meter,
            first: drawn_in,
            keys,
        }));
    }
    // Whatever the piece asks for is looked at before anything is shown.
    prepared.arrangement()?;
    let likeliest =
        usize::try_from(number("likeliest", &arguments.likeliest, 0, 100)?).unwrap_or(0);
    let report = JamReport {
        table: &table,
        generator: &generator,
        progression: &progression,
        seed,
        likeliest,
    };
    if context.json {
        writeln!(context.streams.out, "{}", report.json())?;
    } else {
        write!(context.streams.out, "{}", report.text())?;
    }
    if arguments.show {
        return Ok(());
    }
    context.streams.out.flush()?;
    sink::send(&prepared, &arguments.sink, context)
}

/// A seed of its own for each call, short enough to type.
fn fresh_seed() -> u64 {
    let now = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |d| d.as_nanos());
    u64::try_from(now / 1000 % 1_000_000).unwrap_or(0)
}

fn order(text: &str, first: &Key) -> Result<KeyOrder, Failure> {
    KeyOrder::read(text)
        .and_then(|order| order.check(first).map(|()| order))
        .map_err(|e| {
            let problem = Problem::error(e.code(), 0..text.len(), e.to_string(), e.help());
            Failure::option("--keys", text, problem)
        })
}

/// Wishes that do not go together.
fn contradictions(arguments: &Arguments) -> Result<(), Failure> {
    if arguments.endless
        && let Some(path) = arguments.sink.document()
    {
        return Err(Failure::new(
            "jam-endless-document",
            format!(
                "a document holds one progression, and `--endless` draws a new one for each pass: {}",
                path.display()
            ),
            "leave `--endless` out, or write a .mid or .jsonl file",
        ));
    }
    Ok(())
}

/// The set, on the root it names, on the tonic of `--key`, or on one that is drawn.
fn set(arguments: &Arguments, seed: u64) -> Result<Scale, Failure> {
    let text = &arguments.set;
    let rooted = Scale::read(text);
    let name = text.trim();
    let plain = match (rooted, Scale::read(&format!("A {name}"))) {
        (Ok(set), _) => return Ok(set),
        (_, Ok(plain)) => plain,
        // A name alone that is none is no missing root.
        (Err(_), Err(e))
            if name
                .chars()
                .take(3)
                .filter(char::is_ascii_lowercase)
                .count()
                == 3
                || name.starts_with('1') =>
        {
            let from = text.len() - text.trim_start().len();
            let at = |place: usize| (place.saturating_sub(2) + from).min(text.len());
            let span = at(e.span().start)..at(e.span().end);
            let problem = Problem::error(e.code(), span, e.to_string(), e.help());
            return Err(Failure::option("--set", text, problem));
        }
        _ => return read("--set", text),
    };
    if let Some(key) = &arguments.changes.key {
        let key = Key::read(key).map_err(|e| {
            let problem = Problem::error(e.code(), e.span(), e.to_string(), e.help());
            Failure::option("--key", key, problem)
        })?;
        return Ok(plain.with_root(key.tonic()));
    }
    let home = plain.home().unwrap_or(plain);
    let up = Chance::new(seed, "key", "jam", 0, 0).below(12);
    let root = key_of(&plain, &home).map_or(plain.root(), |key| {
        key.transposed(i32::try_from(up).unwrap_or(0)).tonic()
    });
    Ok(plain.with_root(root))
}

/// The chord in a part of what an option was given.
fn chord(option: &str, given: &str, part: &str) -> Result<Chord, Failure> {
    let text = part.trim();
    let from = place_of(text, given).start;
    let wrong = |problem: Problem| {
        let problem = problem.placed(|s| s.start + from..s.end + from);
        Failure::option(&format!("--{option}"), given, problem)
    };
    match symbol::read(text) {
        Ok(harmony) => harmony.chord().copied().ok_or_else(|| {
            wrong(Problem::error(
                "jam-no-chord",
                0..text.len(),
                "silence is no chord",
                "name a chord, such as Am7",
            ))
        }),
        Err(e) => Err(wrong(Problem::error(
            e.code(),
            e.span(),
            e.to_string(),
            e.help(),
        ))),
    }
}

fn request(arguments: &Arguments) -> Result<Request, Failure> {
    let one = |option: &str, text: &Option<String>| {
        text.as_ref()
            .map(|text| chord(option, text, text))
            .transpose()
    };
    let list = |option: &str, text: &Option<String>| -> Result<Vec<Chord>, Failure> {
        let Some(text) = text else {
            return Ok(Vec::new());
        };
        text.split(',')
            .map(|part| chord(option, text, part))
            .collect()
    };
    let small = |option: &str, text: &str, min, max| -> Result<u8, Failure> {
        Ok(u8::try_from(number(option, text, min, max)?).unwrap_or(0))
    };
    Ok(Request {
        bars: u32::from(small("length", &arguments.length, 1, 64)?),
        rhythm: choice("rhythm", &arguments.rhythm, &Rhythm::NAMES)?,
        flavour: choice("chords", &arguments.chords, &Flavour::NAMES)?,
        adventure: small("adventure", &arguments.adventure, 0, 3)?,
        start: one("start", &arguments.start)?,
        end: one("end", &arguments.end)?,
        with: list("with", &arguments.with)?,
        without: list("without", &arguments.without)?,
        different: arguments
            .different
            .as_ref()
            .map(|text| small("different", text, 1, 6))
            .transpose()?,
    })
}

/// Whether the tonic chord a piece ends on keeps the rule: over some sets none does, and the jam ends on its first chord.
fn ends_on_tonic(
    chords: &[Chord],
    key: Option<&Key>,
    set: &Scale,
    home: &Scale,
    rule: FitRule,
) -> bool {
    let Some(key) = key else { return true };
    let there = |c: &Chord| c.root() == key.tonic() && c.slash().is_none();
    let triad = format!("{}{}", key.tonic(), if key.is_minor() { "m" } else { "" });
    chords.iter().any(there)
        || symbol::read(&triad).is_ok_and(|t| fit(&t, set, home).admits(rule) == Some(true))
}

/// What was drawn as a piece, with the chart it was read from.
#[allow(clippy::too_many_arguments)] // each is a line of the document
fn piece(
    arguments: &Arguments,
    generator: &Generator,
    progression: &crate::generate::Progression,
    set: Scale,
    home: Scale,
    rule: FitRule,
    meter: Meter,
    seed: u64,
) -> Result<(Piece, SourceText), Failure> {
    let feel = Feel::read(&arguments.feel)
        .and_then(|feel| feel.check(&meter).map(|()| feel))
        .map_err(|e| {
            let problem =
                Problem::error(e.code(), 0..arguments.feel.len(), e.to_string(), e.help());
            Failure::option("--feel", &arguments.feel, problem)
        })?;
    let chords = generator.chords(progression);
    let mut chart = chart_text(&chords, generator.rhythm());
    let key = key_of(&set, &home);
    if let (false, Some(first)) = (arguments.endless, chords.first())
        && !ends_on_tonic(&chords, key.as_ref(), &set, &home, rule)
    {
        chart = format!("[A] {chart}\n[ending] | {first} |");
    }
    let read = Piece::read_inline_in(&chart, meter);
    let source = SourceText::new("<jam>", chart);
    let (mut piece, _) = read.map_err(|problems| Failure::text(source.clone(), problems))?;
    piece.title = format!("Jam {seed} over {}", set.name());
    piece.feel = feel;
    piece.key = key;
    piece.home = arguments.home.as_ref().map(|_| home);
    piece.set = Some(set);
    piece.fit = Some(rule);
    piece.seed = seed;
    piece.times = if arguments.endless {
        Times::Endless
    } else {
        Times::Count(if arguments.keys.is_some() { 1 } else { 4 })
    };
    if let Some(text) = &arguments.keys {
        if let Some(first) = &piece.key {
            order(text, first)?;
        }
        piece.keys = Some(text.clone());
    }
    Ok((piece, source))
}
