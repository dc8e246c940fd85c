//! `jam`: a progression over a set, drawn and played.

use std::sync::Arc;

use clap::Args;

use super::Context;
use super::failure::{Failure, read_value};
use super::fit::{fit_rule, rules_of_fit, speaks_of};
use super::options::{
    BandArguments, Changes, Prepared, Wanted, choice, feel, fresh_seed, meter, number,
};
use super::scale::{not_a_set, read};
use super::shell::in_shell;
use super::sink::{self, SinkArguments};
use crate::arrange::JamPasses;
use crate::chart::{FitRule, Piece, Problem, SourceText, Times, place_of};
use crate::generate::{
    BluesWish, Chance, Flavor, Ground, Jam, Level, Progression, Request, Rhythm, WishError,
    WishKind, mode_of,
};
use crate::theory::{
    Chord, Key, KeyOrder, Letter, PitchName, Scale, ScaleFormula, nearest, symbol,
};
use crate::time::Region;
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
  bold    colors before plain chords

Forms of the blues, drawn under the rule blues where the
length is theirs; one asked for by `--blues` has 12 bars
unless `--length` says otherwise. I, IV and V are the
chords on the first, fourth and fifth note of the scale:
  plain         I; IV in bar 5, V in bar 9; 8, 12, 16 bars
  quick-change  the same, IV in bar 2 too; 12 or 16 bars
  minor         minor I and IV; bVI7 (on the flat sixth) and
                V in bars 9 and 10; 8, 12 or 16 bars
  jazz          #IVdim7 (on the sharp fourth) in bar 6, VI7
                in bar 8, ii7 (a minor 7 on the second) and
                V in bars 9 and 10; 8 or 12 bars
  any, none     whichever fits; no form, but phrases

Examples:
  fivefold jam --set 'A minor pentatonic' --show
  fivefold jam --set 'minor pentatonic' --seed 7 -o jam.toml
  fivefold jam --set 'E blues' --keys fourths -o keys.mid
  fivefold jam --set 'G blues' --endless --for 10min
  fivefold jam --set 'A blues' --part bass.line=walking
  fivefold jam --set 'A blues' --blues jazz --show
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
    #[arg(long, value_name = "RULE")]
    fit: Option<String>,
    /// Bars, 1 to 64; 8 unless said
    #[arg(long, value_name = "N")]
    length: Option<String>,
    /// Form of the blues to fill, see below
    #[arg(
        long,
        value_name = "FORM",
        default_value = "any",
        hide_default_value = true
    )]
    blues: String,
    /// How often chords change: mixed (by the bar, at times twice in the last bar of a phrase), 'two bars', bar or 'half bar'
    #[arg(long, value_name = "RHYTHM", default_value = "mixed")]
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
    #[arg(long, conflicts_with_all = ["output", "port", "pedals", "lines"])]
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
    #[arg(long, value_name = "FEEL")]
    feel: Option<String>,
    #[command(flatten)]
    band: BandArguments,
    #[command(flatten)]
    changes: Changes,
    #[command(flatten)]
    sink: SinkArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    contradictions(arguments)?;
    let wanted = arguments.changes.read()?;
    let (ground, rooted) = ground(arguments, &wanted)?;
    let request = request(arguments)?;
    let jam = Jam::new(ground, &request).map_err(|e| unmet(arguments, &e))?;
    let jam = Arc::new(jam);
    let Some(progression) = jam.draw(0) else {
        return Err(Failure::new(
            "jam-empty",
            "no progression was left to draw",
            "drop a wish",
        ));
    };
    let (prepared, keys) = prepared(arguments, &wanted, &jam, &progression, rooted)?;
    // Everything the piece asks for is checked before anything is shown.
    let arrangement = prepared.arrangement();
    let likeliest =
        usize::try_from(number("likeliest", &arguments.likeliest, 0, 100)?).unwrap_or(0);
    let report = JamReport {
        table: jam.table(),
        generator: jam.generator(),
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
    } else if !arguments.sink.takes_output() {
        context.show(&report.text())?;
    }
    if arguments.show {
        return Ok(());
    }
    context.streams.out.flush()?;
    sink::send(&prepared, &arguments.sink, context).map(|_| ())
}

/// What is to be played over, and whether the set names its root.
fn ground(arguments: &Arguments, wanted: &Wanted) -> Result<(Ground, bool), Failure> {
    let seed = wanted.seed().unwrap_or_else(fresh_seed);
    let (set, rooted) = set(arguments, wanted.key(), seed)?;
    let home = arguments
        .home
        .as_ref()
        .map(|text| read("--home", text))
        .transpose()?;
    let rule = match (&arguments.fit, blues(arguments)?) {
        (Some(text), _) => fit_rule(text)?,
        (None, BluesWish::Form(_)) => FitRule::Blues,
        (None, _) => FitRule::Inside,
    };
    speaks_of(rule, &set)?;
    let meter = meter(&arguments.meter)?;
    let ground = Ground {
        home,
        rule,
        meter,
        feel: arguments
            .feel
            .as_ref()
            .map(|text| feel(text, &meter))
            .transpose()?,
        ..Ground::new(set, seed)
    };
    Ok((ground, rooted))
}

/// A wish that cannot be met, at the option it was made with.
fn unmet(arguments: &Arguments, error: &WishError) -> Failure {
    let (option, value) = match error.wish {
        WishKind::Rule => ("--fit", arguments.fit.as_ref()),
        WishKind::Blues => ("--blues", Some(&arguments.blues)),
        WishKind::Flavor => ("--chords", Some(&arguments.chords)),
        WishKind::Bars => ("--length", arguments.length.as_ref()),
        WishKind::Rhythm => ("--rhythm", Some(&arguments.rhythm)),
        WishKind::Start => ("--start", arguments.start.as_ref()),
        WishKind::End => ("--end", arguments.end.as_ref()),
        WishKind::With => ("--with", arguments.with.as_ref()),
        WishKind::Without => ("--without", arguments.without.as_ref()),
        WishKind::Different => ("--different", arguments.different.as_ref()),
    };
    let value = value.map_or("", String::as_str);
    let problem = Problem::of(error, 0..value.len());
    let form = arguments.blues != "any";
    let usual = if form { "blues" } else { "inside" };
    let rule = arguments.fit.as_deref().unwrap_or(usual);
    let help = match (error.wish, rule) {
        (WishKind::Rhythm, _) => "write `--rhythm bar`",
        (WishKind::Flavor, "inside" | "clear") if !form => {
            "write `--chords any`, or admit more with `--fit home`"
        }
        (WishKind::Flavor, _) => "write `--chords any`",
        (WishKind::Blues, "blues") => "choose another form, or write `--blues none`",
        (WishKind::Blues, _) => "write `--fit blues`, or `--blues none`",
        (WishKind::Without, _) if error.in_form => {
            "leave out fewer chords, or write `--blues none`"
        }
        _ if error.in_form => "wish for another, or write `--blues none`",
        _ => return Failure::option(option, value, problem),
    };
    Failure::option(option, value, problem.advising(help))
}

/// The piece as it will be played, and how many passes there are to show: one for each key of `--keys`, one where it was moved,
/// else none.
fn prepared(
    arguments: &Arguments,
    wanted: &Wanted,
    jam: &Arc<Jam>,
    progression: &Progression,
    rooted: bool,
) -> Result<(Prepared, usize), Failure> {
    let mut piece = piece(arguments, jam, progression)?;
    arguments.band.apply(&mut piece)?;
    let source = SourceText::new("<jam>", chart(&piece));
    if rooted {
        // A set without a root has taken the key's; one with a root is moved.
        wanted.harmony(&mut piece)?;
    }
    let drawn = |piece: &Piece| JamPasses::new(Arc::clone(jam), piece);
    let prepared = wanted.apply_over(piece, source.into(), |piece| {
        arguments.endless.then(|| drawn(piece))
    })?;
    let count = match &arguments.keys {
        Some(_) => drawn(&prepared.piece).keys().len(),
        // What was moved is shown as it sounds.
        None => usize::from(prepared.piece.key_interval().is_some()),
    };
    Ok((prepared, count))
}

/// The keys of `--keys`, to which a piece in `first` can move.
pub(super) fn order(text: &str, first: Option<&Key>) -> Result<KeyOrder, Failure> {
    let check = |order: KeyOrder| match first {
        Some(first) => order.check(first).map(|()| order),
        None => Ok(order),
    };
    read_value("--keys", text, |text| KeyOrder::read(text).and_then(check))
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

/// The set, on the root it names, on the tonic of `--key`, or on one that is drawn; and whether it names one.
fn set(arguments: &Arguments, key: Option<Key>, seed: u64) -> Result<(Scale, bool), Failure> {
    let text = &arguments.set;
    let read = ScaleFormula::read_rooted(text);
    let (root, set) = read.map_err(|e| not_a_set("--set", text, &e))?;
    let other = || key.map_or_else(|| drawn_root(&set, seed), |key| key.tonic());
    Ok((set.on(root.unwrap_or_else(other)), root.is_some()))
}

/// A root for a set without one: any of the twelve, spelled as the key of the set's mode there has it.
pub(super) fn drawn_root(set: &ScaleFormula, seed: u64) -> PitchName {
    let mode = mode_of(&set.home().unwrap_or(*set));
    let up = Chance::new(seed, "key", "jam", 0, 0).below(12);
    // The keys are counted in semitones up from A; counting from another note would change what each seed draws.
    let lowest = PitchName::natural(Letter::A);
    Key::new(lowest, mode).map_or(lowest, |key| {
        key.transposed(i32::try_from(up).unwrap_or(0)).tonic()
    })
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

/// The chords of a list, with commas or spaces between, outside brackets.
fn parts(text: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    for part in outside_brackets(text, |c| c == ',') {
        let words = outside_brackets(part, char::is_whitespace);
        let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
        // Nothing between two commas is a mistake.
        if words.is_empty() {
            parts.push(part);
        }
        parts.extend(words);
    }
    parts
}

/// The pieces of a text between signs that stand outside brackets.
fn outside_brackets(text: &str, parts: fn(char) -> bool) -> Vec<&str> {
    let mut depth = 0_u32;
    text.split(|c: char| {
        match c {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            _ => {}
        }
        depth == 0 && parts(c)
    })
    .collect()
}

/// The kind of `--chords`; chords by their names belong to another option.
fn flavor(text: &str) -> Result<Flavor, Failure> {
    let kind = choice("chords", text, &Flavor::NAMES);
    let named = || parts(text).iter().all(|part| symbol::read(part).is_ok());
    match kind {
        Err(Failure::Plain { code, message, .. }) if named() => {
            let help = format!(
                "write `--with {}` for chords by their names",
                in_shell(text)
            );
            Err(Failure::new(code, message, help))
        }
        kind => kind,
    }
}

/// The form of the blues that is asked for.
fn blues(arguments: &Arguments) -> Result<BluesWish, Failure> {
    choice("blues", &arguments.blues, &BluesWish::NAMES)
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
        parts(text)
            .into_iter()
            .map(|part| chord(option, text, part))
            .collect()
    };
    let small = |option: &str, text: &str, min, max| -> Result<u8, Failure> {
        Ok(u8::try_from(number(option, text, min, max)?).unwrap_or(0))
    };
    Ok(Request {
        bars: match (&arguments.length, blues(arguments)?) {
            (Some(text), _) => u32::from(small("length", text, 1, 64)?),
            (None, BluesWish::Form(_)) => 12,
            (None, _) => 8,
        },
        blues: blues(arguments)?,
        rhythm: choice("rhythm", &arguments.rhythm, &Rhythm::NAMES)?,
        flavor: flavor(&arguments.chords)?,
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

/// What was drawn as a piece.
fn piece(arguments: &Arguments, jam: &Jam, progression: &Progression) -> Result<Piece, Failure> {
    let times = match (arguments.endless, &arguments.keys) {
        (true, _) => Times::Endless,
        (false, Some(_)) => Times::Count(1),
        (false, None) => Times::Count(4),
    };
    let mut piece = jam.piece(progression, times);
    if let Some(text) = &arguments.keys {
        piece.keys = Some(order(text, piece.key.as_ref())?);
    }
    Ok(piece)
}

/// The chart of a piece as it is typed.
fn chart(piece: &Piece) -> String {
    match piece.sections.as_slice() {
        [(_, text, _)] => text.clone(),
        sections => {
            let named = sections
                .iter()
                .map(|(name, text, _)| format!("[{name}] {text}"));
            named.collect::<Vec<_>>().join("\n")
        }
    }
}
