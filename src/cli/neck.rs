//! `neck`: where a set or a chord lies on the neck.

mod pictures;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::Context;
use super::failure::{Failure, read_value};
use super::options::number;
use super::picture::PictureArguments;
use super::shell::in_shell;
use crate::chart::Problem;
use crate::diagnostic::Diagnostic;
use crate::generate::key_order;
use crate::neck::{
    self, ChordShape, Fret, HandModel, MAX_FRET, Neck, NeckError, Position, ScaleShape,
    StringNumber, Tuning, chord_shape_near, chord_shapes, linked_shapes, root_shape,
};
use crate::theory::{Chord, Degree, FigureProblem, Key, KeyOrder, Mode, Scale, raised, symbol};
use crate::view::{
    NeckLabels, NeckStyle, NeckView, RootsView, chord_on_neck, positions_on_neck, scale_on_neck,
};

/// Show where a set (notes to solo over) or a chord lies on the neck
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold neck 'A minor pentatonic'
  fivefold neck 'G major pentatonic' --shapes --show fingers
  fivefold neck 'E minor pentatonic' --from-string 6 --open
  fivefold neck C --places 8
  fivefold neck A --capo 2 --show notes
  fivefold neck Dm7 --tuning DADGAD --left
  fivefold neck 'D 1 2 4 5 b7' --map --frets 12
  fivefold neck --roots
  fivefold neck 'A minor pentatonic' -o shapes.svg
  fivefold neck C Am F G -o boxes.png
  fivefold neck 'A minor pentatonic' --from-string 6 --keys fourths -o keys.svg

A single word that is a chord symbol is a chord: Am is the
chord, 'A minor' the scale. Strings count from 1, the
highest; frets count from the capo.")]
pub(super) struct Arguments {
    /// A set by name or degrees, or a chord symbol; several for one after the other
    #[arg(value_name = "SET-or-CHORD", required_unless_present = "roots")]
    what: Vec<String>,
    /// Such as 'drop D' or 'D A D G B E'
    #[arg(
        long,
        value_name = "NAME",
        default_value = "standard",
        hide_default_value = true
    )]
    tuning: String,
    /// Fret of the capo, from the nut
    #[arg(
        long,
        value_name = "FRET",
        default_value = "0",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    capo: String,
    /// Frets of the neck, 22 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "22",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    frets: String,
    /// Draw it for a left-handed player
    #[arg(long)]
    left: bool,
    /// Write degrees, notes or fingers
    #[arg(
        long,
        value_name = "WHAT",
        default_value = "degrees",
        hide_default_value = true,
        hide_possible_values = true
    )]
    show: Show,
    /// Every position on the whole neck
    #[arg(long, conflicts_with_all = ["shapes", "from_string", "places", "roots"])]
    map: bool,
    /// The shape that begins from the root on this string, 6 or 5
    #[arg(long, help_heading = FOR_A_SET, value_name = "N", conflicts_with = "shapes", allow_hyphen_values = true)]
    from_string: Option<String>,
    /// The linked shapes along the neck
    #[arg(long, help_heading = FOR_A_SET)]
    shapes: bool,
    /// The same shapes in several keys: fourths, fifths, semitones, or keys such as 'A, D, E'
    #[arg(long, help_heading = FOR_A_SET, value_name = "ORDER", conflicts_with = "roots")]
    keys: Option<String>,
    /// Allow open strings in the shapes
    #[arg(long, help_heading = FOR_A_SET, conflicts_with = "closed")]
    open: bool,
    /// How many shapes to show, 1 to 50; 5 unless said
    #[arg(long, help_heading = FOR_A_CHORD, value_name = "N", allow_hyphen_values = true)]
    places: Option<String>,
    /// No open strings, so that the shapes move to every key
    #[arg(long, help_heading = FOR_A_CHORD)]
    closed: bool,
    /// The notes on the two lowest strings
    #[arg(long, conflicts_with_all = ["what", "shapes", "from_string", "places"])]
    roots: bool,
    #[command(flatten)]
    picture: PictureArguments,
}

/// `degrees`, `notes` or `fingers`.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Show {
    Degrees,
    Notes,
    Fingers,
}

const FOR_A_SET: &str = "For a set";
const FOR_A_CHORD: &str = "For a chord";

/// What was typed.
enum Asked {
    Set(Scale),
    Chord(Chord),
}

/// How many shapes of a chord are shown by default.
const PLACES: usize = 5;

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let neck = read_neck(arguments)?;
    let style = style(arguments, context.columns)?;
    if arguments.roots {
        let strings: Vec<StringNumber> = neck.strings().take(2).collect();
        let view = RootsView::new(&neck, &strings)?;
        if arguments.picture.wanted() {
            return Err(Failure::new(
                "picture-roots",
                "the notes on the two lowest strings are a table, not a picture",
                "leave `-o` out, or name a set or a chord",
            ));
        }
        return answer(context, &view, || view.text(style));
    }
    let mut found = Vec::new();
    for asked in asked(arguments)? {
        found.push(lying(asked, arguments, &neck, found.last())?);
    }
    if arguments.picture.wanted() {
        return arguments
            .picture
            .write(&pictures::page(&found, &neck, style), context);
    }
    for (number, one) in found.iter().enumerate() {
        if number > 0 && !context.json {
            context.show("\n")?;
        }
        answer(context, &one.view(&neck), || one.text(&neck, style))?;
    }
    Ok(())
}

/// Writes pictures of the easiest shapes of a chord.
pub(super) fn draw_chord(
    chord: &Chord,
    picture: &PictureArguments,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let neck = Neck::standard();
    let shapes = chord_shapes(chord, &neck, &HandModel::default(), PLACES);
    if shapes.is_empty() {
        let chord = chord.to_string();
        return Err(NeckError::NoShape { chord }.into());
    }
    let found = [Lying::Chord(*chord, shapes)];
    picture.write(
        &pictures::page(&found, &neck, NeckStyle::default()),
        context,
    )
}

/// Writes pictures of a scale on the whole neck.
pub(super) fn draw_scale(
    scale: &Scale,
    picture: &PictureArguments,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let neck = Neck::standard();
    let found = [Lying::WholeSet(*scale, neck::scale_positions(scale, &neck))];
    picture.write(
        &pictures::page(&found, &neck, NeckStyle::default()),
        context,
    )
}

/// What was asked for, each set in all its keys.
fn asked(arguments: &Arguments) -> Result<Vec<Asked>, Failure> {
    let joined = arguments.what.join(" ");
    if arguments.what.len() > 1 && Scale::read(&joined).is_ok() {
        return Err(Failure::new(
            "set-in-words",
            format!("a set of several words is typed in quotes, found `{joined}` without"),
            format!("write `fivefold neck {}`", in_shell(&joined)),
        ));
    }
    let keys = arguments.keys.as_ref();
    let keys = keys
        .map(|order| read_value("--keys", order, KeyOrder::read))
        .transpose()?;
    let mut all = Vec::new();
    for text in &arguments.what {
        match (read(text)?, &keys) {
            (Asked::Set(set), Some(order)) => {
                all.extend(in_keys(&set, order).into_iter().map(Asked::Set));
            }
            (Asked::Chord(chord), Some(_)) => {
                return Err(only_for_a("set", "keys", &chord.to_string()));
            }
            (one, None) => all.push(one),
        }
    }
    Ok(all)
}

/// A set on the tonics of an order of keys, spelled as in these keys.
fn in_keys(set: &Scale, order: &KeyOrder) -> Vec<Scale> {
    let minor_third = |degree: &Degree| degree.semitones() == 3;
    let mode = if set.degrees().iter().any(minor_third) {
        Mode::Minor
    } else {
        Mode::Major
    };
    match Key::new(set.root(), mode) {
        Ok(first) => key_order(order, &first, 0, &|_| 0)
            .iter()
            .map(|key| set.with_root(key.tonic()))
            .collect(),
        Err(_) => vec![*set],
    }
}

/// Where something lies, as far as it was asked for.
enum Lying {
    /// A set, and these of its shapes.
    Set(Scale, Vec<ScaleShape>),
    /// A chord, and these of its shapes.
    Chord(Chord, Vec<ChordShape>),
    /// Every position of a set.
    WholeSet(Scale, Vec<Position>),
    /// Every position of a chord.
    WholeChord(Chord, Vec<Position>),
}

impl Lying {
    fn view(&self, neck: &Neck) -> NeckView {
        match self {
            Lying::Set(set, shapes) => NeckView::of_scale(set, neck, shapes),
            Lying::Chord(chord, shapes) => NeckView::of_chord(chord, neck, shapes),
            Lying::WholeSet(set, _) => NeckView::of_scale(set, neck, &[]),
            Lying::WholeChord(chord, _) => NeckView::of_chord(chord, neck, &[]),
        }
    }

    fn text(&self, neck: &Neck, style: NeckStyle) -> String {
        match self {
            Lying::Set(set, shapes) => scale_on_neck(set, neck, shapes, style),
            Lying::Chord(chord, shapes) => chord_on_neck(chord, neck, shapes, style),
            Lying::WholeSet(set, all) => positions_on_neck(&set.name(), all, neck, style),
            Lying::WholeChord(chord, all) => {
                positions_on_neck(&chord.to_string(), all, neck, style)
            }
        }
    }
}

/// Finds what was asked for on the neck. Of several chords each has one shape: the easiest to change to from the one before.
fn lying(
    asked: Asked,
    arguments: &Arguments,
    neck: &Neck,
    before: Option<&Lying>,
) -> Result<Lying, Failure> {
    match asked {
        Asked::Set(set) => {
            only_for(arguments, "chord", &set.name(), &["places", "closed"])?;
            if arguments.map {
                let positions = neck::scale_positions(&set, neck);
                return Ok(Lying::WholeSet(set, positions));
            }
            let shapes = scale_shapes(arguments, &set, neck)?;
            Ok(Lying::Set(set, shapes))
        }
        Asked::Chord(chord) => {
            let name = chord.to_string();
            only_for(arguments, "set", &name, &["from-string", "shapes", "open"])?;
            if arguments.map {
                let positions = neck::chord_positions(&chord, neck);
                return Ok(Lying::WholeChord(chord, positions));
            }
            let hand = HandModel::default().with_open(!arguments.closed);
            let several = arguments.what.len() > 1 && arguments.places.is_none();
            if let (true, Some(Lying::Chord(_, shapes))) = (several, before)
                && let Some(last) = shapes.last()
            {
                let shape = chord_shape_near(&chord, neck, &hand, last)?;
                return Ok(Lying::Chord(chord, vec![shape]));
            }
            let most = match &arguments.places {
                Some(text) => usize::try_from(number("places", text, 1, 50)?).unwrap_or(PLACES),
                None if several => 1,
                None => PLACES,
            };
            let shapes = chord_shapes(&chord, neck, &hand, most);
            if shapes.is_empty() {
                return Err(NeckError::NoShape { chord: name }.into());
            }
            Ok(Lying::Chord(chord, shapes))
        }
    }
}

/// How the neck is drawn, in so many columns.
fn style(arguments: &Arguments, columns: Option<usize>) -> Result<NeckStyle, Failure> {
    if arguments.map && arguments.show == Show::Fingers {
        return Err(Failure::new(
            "map-fingers",
            "a map of the whole neck has no fingers: they belong to a shape",
            "write `--show degrees`, or leave `--map` out",
        ));
    }
    Ok(NeckStyle {
        labels: match arguments.show {
            Show::Degrees => NeckLabels::Degrees,
            Show::Notes => NeckLabels::Notes,
            Show::Fingers => NeckLabels::Fingers,
        },
        left: arguments.left,
        columns,
    })
}

/// Writes the answer as JSON or as text.
fn answer(
    context: &mut Context<'_, '_>,
    view: &impl Serialize,
    text: impl Fn() -> String,
) -> Result<(), Failure> {
    if context.json {
        serde_json::to_writer(&mut *context.streams.out, view).map_err(std::io::Error::from)?;
        writeln!(context.streams.out)?;
    } else {
        context.show(&text())?;
    }
    Ok(())
}

/// The shapes of a set that are asked for. Where none are named they begin from the root on the two lowest strings; one
/// that does not lie on the neck is left out unless both do not.
fn scale_shapes(
    arguments: &Arguments,
    set: &Scale,
    neck: &Neck,
) -> Result<Vec<ScaleShape>, Failure> {
    if arguments.map {
        return Ok(Vec::new());
    }
    if arguments.shapes {
        return Ok(linked_shapes(set, neck, arguments.open)?);
    }
    if let Some(text) = &arguments.from_string {
        let lowest = neck.strings().next().map_or(6, StringNumber::value);
        let string = number("from-string", text, 1, i64::from(lowest))?;
        let string = StringNumber::new(u8::try_from(string).unwrap_or(1))?;
        return Ok(vec![root_shape(set, neck, string, arguments.open)?]);
    }
    let found = neck
        .strings()
        .take(2)
        .map(|string| root_shape(set, neck, string, arguments.open));
    let (shapes, mut errors): (Vec<_>, Vec<_>) = found.partition(Result::is_ok);
    match errors.pop() {
        Some(Err(error)) if shapes.is_empty() => Err(error.into()),
        _ => Ok(shapes.into_iter().flatten().collect()),
    }
}

/// Refuses options that mean something for the other kind only.
fn only_for(
    arguments: &Arguments,
    other: &str,
    found: &str,
    options: &[&str],
) -> Result<(), Failure> {
    let given = |option: &&&str| match **option {
        "places" => arguments.places.is_some(),
        "closed" => arguments.closed,
        "from-string" => arguments.from_string.is_some(),
        "shapes" => arguments.shapes,
        _ => arguments.open,
    };
    match options.iter().find(given) {
        Some(option) => Err(only_for_a(other, option, found)),
        None => Ok(()),
    }
}

/// An option that means something for the other kind only.
fn only_for_a(other: &str, option: &str, found: &str) -> Failure {
    let example = if other == "set" {
        "A minor pentatonic"
    } else {
        "Am"
    };
    Failure::new(
        "option-for-other",
        format!("expected a {other} with --{option}, found `{found}`"),
        format!("leave --{option} out, or write a {other}, such as `{example}`"),
    )
}

fn read_neck(arguments: &Arguments) -> Result<Neck, Failure> {
    let text = &arguments.tuning;
    let tuning = read_value("--tuning", text, Tuning::read)?;
    let fret = |option, text, min, max| -> Result<Fret, Failure> {
        let fret = number(option, text, min, max)?;
        Ok(Fret::new(u8::try_from(fret).unwrap_or(0))?)
    };
    let frets = fret("frets", &arguments.frets, 1, i64::from(MAX_FRET))?;
    let capo = fret("capo", &arguments.capo, 0, i64::from(frets.value()) - 1)?;
    Ok(Neck::new(tuning, frets, capo)?)
}

/// A set or a chord; one word that is a chord symbol is the chord, though `Am` could be the scale.
fn read(text: &str) -> Result<Asked, Failure> {
    let word = text.trim();
    let chord = symbol::read(word);
    let one_word = !word.contains(char::is_whitespace);
    let scale = match Scale::read(text) {
        Ok(set) if !one_word || chord.is_err() => return Ok(Asked::Set(set)),
        other => other,
    };
    let error = match chord {
        Ok(harmony) => match harmony.chord() {
            Some(chord) => return Ok(Asked::Chord(*chord)),
            None => {
                return Err(Failure::option(
                    "SET-or-CHORD",
                    text,
                    Problem::error(
                        "no-chord-to-show",
                        0..text.len(),
                        format!("expected a set or a chord, found no chord, `{word}`"),
                        "write a set, such as `A minor pentatonic`, or a chord, such as `Am`",
                    ),
                ));
            }
        },
        Err(error) => error,
    };
    let set_help = match scale {
        // `Am` alone is the chord.
        Err(_) if one_word && symbol::read(&raised(word)).is_ok() => {
            match Scale::read(&raised(word)) {
                Ok(set) => format!("write `{}`", set.name()),
                Err(e) => e.help(),
            }
        }
        Err(e) => e.help(),
        Ok(_) => String::new(),
    };
    let chord_help = match error.problem() {
        // There is no key here, so numerals have no meaning, and N.C. has no place on the neck.
        FigureProblem::NoRoot { .. } | FigureProblem::Empty => {
            "write a root and a suffix, such as `Am7`".to_owned()
        }
        _ => error.help(),
    };
    Err(Failure::option(
        "SET-or-CHORD",
        text,
        Problem::error(
            "no-set-or-chord",
            0..text.len(),
            match word {
                "" => "expected a set or a chord, found nothing".to_owned(),
                _ => format!("expected a set or a chord, found `{word}`"),
            },
            format!("for a set {set_help}; for a chord {chord_help}"),
        ),
    ))
}
