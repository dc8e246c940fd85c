//! `jam`: a progression over a set, drawn and played.

use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use clap::Args;

use super::Context;
use super::check::{fit_rule, rules_of_fit};
use super::failure::{Failure, read_value};
use super::options::{Changes, Prepared, choice, feel, meter, number};
use super::scale::read;
use super::sink::{self, SinkArguments};
use crate::arrange::{PassMaker, PassScore};
use crate::chart::{FitRule, Piece, Problem, SourceText, Times, place_of};
use crate::generate::{
    Chance, Flavour, Generator, KeyOrder, Level, Progression, Request, Rhythm, Table, chart_text,
    fit, key_of, key_order,
};
use crate::theory::{Chord, Interval, Key, Scale, nearest, symbol};
use crate::time::{Feel, Meter, Region};
use crate::view::JamReport;

/// Make a progression that fits a set (notes to solo over), and play it
#[derive(Args)]
#[command(next_help_heading = "Wishes about the chords", after_help = concat!(
    "\
Rules of fit, and whom they serve:
",
    rules_of_fit!(),
    "
Levels:
  plain   major, minor and seventh chords; power chords
          where these stand on fewer than three roots
  mild    suspended, added and power chords too, mostly
          triads and sevenths
  rich    sevenths and ninths as often as triads
  bold    colours before plain chords

Examples:
  fivefold jam --set 'A minor pentatonic' --show
  fivefold jam --set 'minor pentatonic' --seed 7 -o jam.toml
  fivefold jam --set 'E blues' --keys fourths -o keys.mid
  fivefold jam --set 'G blues' --endless --for 10min
  fivefold jam --set 'A blues' --part bass.line=walking
  fivefold jam --set 'A blues' --likeliest 5 --why --show

Turn the volume down before you start, above all in
headphones: a click is sharp."
))]
pub(super) struct Arguments {
    /// Set, the notes to solo over
    #[arg(long, value_name = "SET")]
    set: String,
    /// Home, the scale it is heard in
    #[arg(long, value_name = "SCALE")]
    home: Option<String>,
    /// Rule the chords keep, see below
    #[arg(
        long,
        value_name = "RULE",
        default_value = "inside",
        hide_default_value = true
    )]
    fit: String,
    /// Bars, 1 to 64; 8 unless said
    #[arg(long, value_name = "N", default_value = "8", hide_default_value = true)]
    length: String,
    /// How often chords change: 'two bars', bar or 'half bar'
    #[arg(long, value_name = "RHYTHM", default_value = "bar")]
    rhythm: String,
    /// Which chords: any, triads (a third, a fifth and nothing else) or sevenths (with a seventh as well)
    #[arg(long, value_name = "KIND", default_value = "any")]
    chords: String,
    /// plain, mild, rich or bold, see below
    #[arg(
        long,
        value_name = "LEVEL",
        default_value = "plain",
        hide_default_value = true
    )]
    level: String,
    /// What `--level` was called while it was a number
    #[arg(long, value_name = "LEVEL", hide = true)]
    adventure: Option<String>,
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
    /// A pass (once through) in each key: fourths, shuffle, 'Am, Dm'
    #[arg(long, value_name = "KEYS")]
    keys: Option<String>,
    /// A new progression in each pass
    #[arg(long, conflicts_with = "times")]
    endless: bool,
    /// Show it without playing
    #[arg(long, conflicts_with_all = ["output", "port", "pedals"])]
    show: bool,
    /// Tell why: the odds of each choice, and of how many it was made
    #[arg(long)]
    why: bool,
    /// List so many of the likeliest sequences of the same chords
    #[arg(long, value_name = "N", default_value = "0")]
    likeliest: String,
    /// Meter, such as 3/4
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

/// What is to be played over: the set, the scale it is heard in, the rule, the meter and the seed.
struct Ground {
    set: Scale,
    home: Scale,
    rule: FitRule,
    meter: Meter,
    feel: Feel,
    seed: u64,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    contradictions(arguments)?;
    let ground = Ground::new(arguments)?;
    let request = request(arguments)?;
    ground.shares_its_beats(&request)?;
    let table = Table::new(&ground.set, &ground.home, ground.rule);
    let generator = Arc::new(Generator::new(&table, &request)?);
    let Some(progression) = generator.draw(ground.seed, 0) else {
        return Err(Failure::new(
            "jam-empty",
            "no progression was left to draw",
            "drop a wish",
        ));
    };
    let (prepared, keys) = prepared(arguments, &generator, &progression, &ground)?;
    // Whatever the piece asks for is looked at before anything is shown.
    let arrangement = prepared.arrangement()?;
    let likeliest =
        usize::try_from(number("likeliest", &arguments.likeliest, 0, 100)?).unwrap_or(0);
    let report = JamReport {
        table: &table,
        generator: &generator,
        progression: &progression,
        seed: ground.seed,
        likeliest,
        why: arguments.why,
        passes: (0..keys as u64)
            .filter_map(|pass| arrangement.score_of(Region::Pass { pass, bar: 0 }))
            .collect(),
    };
    if context.json {
        writeln!(context.streams.out, "{}", report.json())?;
    } else {
        context.show(&report.text())?;
    }
    if arguments.show {
        return Ok(());
    }
    context.streams.out.flush()?;
    sink::send(&prepared, &arguments.sink, context)
}

impl Ground {
    fn new(arguments: &Arguments) -> Result<Ground, Failure> {
        let seed = match &arguments.changes.extent.seed {
            Some(text) => u64::try_from(number("seed", text, 0, i64::MAX)?).unwrap_or(0),
            None => fresh_seed(),
        };
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
        let meter = meter(&arguments.meter)?;
        let feel = feel(&arguments.feel, &meter)?;
        Ok(Ground {
            set,
            home,
            rule,
            meter,
            feel,
            seed,
        })
    }

    /// Refuses two chords a bar where the beats of the meter cannot be halved.
    fn shares_its_beats(&self, request: &Request) -> Result<(), Failure> {
        let (meter, beats) = (self.meter, self.meter.beat_count());
        if request.rhythm != Rhythm::HalfBar || beats.is_multiple_of(2) {
            return Ok(());
        }
        Err(Failure::new(
            "jam-half-bar",
            format!("two chords do not share the {beats} beats of {meter} evenly"),
            "write `--rhythm bar`",
        ))
    }
}

/// The piece as it will be played, and through how many keys it goes: 0 where `--keys` is not asked for.
fn prepared(
    arguments: &Arguments,
    generator: &Arc<Generator>,
    progression: &Progression,
    ground: &Ground,
) -> Result<(Prepared, usize), Failure> {
    let (mut piece, source) = piece(arguments, generator, progression, ground)?;
    if Scale::read(&arguments.set).is_ok() {
        // A set without a root has taken the key's; one with a root is moved.
        arguments.changes.harmony(&mut piece)?;
    }
    let drawn_in = piece.key;
    let prepared = arguments.changes.apply(piece, &source)?;
    let sounding = prepared.piece.sounding_key();
    let turns = match (&arguments.keys, &sounding) {
        (Some(text), Some(first)) => key_order(&order(text, first)?, first, ground.seed, &|_| 0),
        _ => Vec::new(),
    };
    let count = turns.len();
    if !arguments.endless {
        return Ok((prepared, count));
    }
    let keys = match (&arguments.keys, sounding) {
        (None, Some(key)) => vec![key],
        _ => turns,
    };
    let maker = JamMaker {
        generator: Arc::clone(generator),
        seed: ground.seed,
        set: ground.set,
        meter: ground.meter,
        first: drawn_in,
        keys,
    };
    Ok((prepared.made_by(Arc::new(maker)), count))
}

/// A seed of its own for each call, short enough to type.
fn fresh_seed() -> u64 {
    let now = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |d| d.as_nanos());
    u64::try_from(now / 1000 % 1_000_000).unwrap_or(0)
}

fn order(text: &str, first: &Key) -> Result<KeyOrder, Failure> {
    read_value("--keys", text, |text| {
        KeyOrder::read(text).and_then(|order| order.check(first).map(|()| order))
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
            let problem = Problem::of(&e, 0..text.len());
            let problem = problem.placed(|span| at(span.start)..at(span.end));
            return Err(Failure::option("--set", text, problem));
        }
        _ => return read("--set", text),
    };
    if let Some(key) = &arguments.changes.key {
        let key = read_value("--key", key, Key::read)?;
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
        Err(e) => Err(wrong(Problem::of(&e, 0..text.len()))),
    }
}

/// The level by its name. It was a number once, and `--adventure` its option: both are answered with the name for it.
fn level(arguments: &Arguments) -> Result<Level, Failure> {
    let (option, text) = match &arguments.adventure {
        Some(text) => ("--adventure", text),
        None => ("--level", &arguments.level),
    };
    // The four numbers were 0 to 3, the plainest first.
    let old = text.trim().parse::<i64>().ok();
    let old = old.and_then(|number| Level::NAMES.get(usize::try_from(number.clamp(0, 3)).ok()?));
    let name = match old {
        Some((name, _)) => *name,
        None if option == "--level" => return choice("level", text, &Level::NAMES),
        None => nearest(text, Level::NAMES.iter().map(|n| n.0)).unwrap_or(Level::NAMES[0].0),
    };
    let message = if option == "--level" {
        format!(
            "a level is `plain`, `mild`, `rich` or `bold`, and no longer a number, found `{text}`"
        )
    } else {
        "`--adventure` has become `--level`, which is `plain`, `mild`, `rich` or `bold`".to_owned()
    };
    let help = format!("write `--level {name}`");
    let problem = Problem::error("jam-level", 0..text.len(), message, help);
    Err(Failure::option(option, text, problem))
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
        level: level(arguments)?,
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
fn piece(
    arguments: &Arguments,
    generator: &Generator,
    progression: &Progression,
    ground: &Ground,
) -> Result<(Piece, SourceText), Failure> {
    let (set, home, rule) = (ground.set, ground.home, ground.rule);
    let chords = generator.chords(progression);
    let mut chart = chart_text(&chords, generator.rhythm());
    let key = key_of(&set, &home);
    if let (false, Some(first)) = (arguments.endless, chords.first())
        && !ends_on_tonic(&chords, key.as_ref(), &set, &home, rule)
    {
        chart = format!("[A] {chart}\n[ending] | {first} |");
    }
    let read = Piece::read_inline_in(&chart, ground.meter);
    let source = SourceText::new("<jam>", chart);
    let (mut piece, _) = read.map_err(|problems| Failure::text(source.clone(), problems))?;
    piece.title = format!("Jam {} over {}", ground.seed, set.name());
    piece.feel = ground.feel;
    piece.key = key;
    piece.home = arguments.home.as_ref().map(|_| home);
    piece.set = Some(set);
    piece.fit = Some(rule);
    piece.seed = ground.seed;
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
