//! Where a set or a chord lies on the neck.

use std::fmt::Write;

use serde::Serialize;

use super::neck_drawing::{Mark, Sheet, draw, string_name};
use crate::neck::{
    ChordShape, Finger, Fret, Neck, NeckError, Position, ScaleShape, StringNumber, chord_positions,
    scale_positions,
};
use crate::theory::{Chord, Degree, Interval, PitchName, Scale};

/// What is written where a note sounds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NeckLabels {
    /// Degrees of the set or chord.
    #[default]
    Degrees,
    /// Note names, as spelled.
    Notes,
    /// Fingers; open strings are written `o`.
    Fingers,
}

/// How the neck is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NeckStyle {
    /// What is written where a note sounds.
    pub labels: NeckLabels,
    /// Mirrored for a left-handed player.
    pub left: bool,
    /// Characters to a line; a longer neck is drawn in parts. `None` for an octave of frets to a line.
    pub columns: Option<usize>,
}

impl NeckStyle {
    fn sheet(self) -> Sheet {
        Sheet {
            columns: self.columns,
            left: self.left,
        }
    }

    /// What is written on the strings, in words.
    fn legend(self) -> String {
        let what = match self.labels {
            NeckLabels::Degrees => "degrees",
            NeckLabels::Notes => "notes",
            NeckLabels::Fingers => "fingers",
        };
        let hand = if self.left {
            "left-handed: the nut is at the right\n"
        } else {
            ""
        };
        format!("{what} on the strings, the root in brackets\n{hand}")
    }
}

/// One position, for JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PositionView {
    /// 1 is the highest.
    pub string: u8,
    /// Counted from the capo; 0 is the open string.
    pub fret: u8,
    /// As the set or chord spells it.
    pub note: String,
    /// In the set or chord.
    pub degree: String,
    /// The key that sounds.
    pub midi: u8,
}

impl From<&Position> for PositionView {
    fn from(position: &Position) -> Self {
        PositionView {
            string: position.string.value(),
            fret: position.fret.value(),
            note: position.note.to_string(),
            degree: position.degree.to_string(),
            midi: position.midi,
        }
    }
}

/// The lowest note of a shape, for JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LowestView {
    /// 1 is the highest.
    pub string: u8,
    /// In the set or chord.
    pub degree: String,
}

/// A finger laid flat, for JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BarreView {
    /// 1 is the index.
    pub finger: u8,
    /// Counted from the capo.
    pub fret: u8,
    /// The lowest string pressed.
    pub from: u8,
    /// The highest string pressed.
    pub to: u8,
}

/// A shape, for JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(untagged)]
pub enum ShapeView {
    /// Of a set.
    Scale {
        /// By its lowest note.
        name: String,
        /// The string of the lowest note where that is the root.
        root_string: Option<u8>,
        /// The lowest note.
        lowest: Option<LowestView>,
        /// For each string from the lowest to the highest its frets, rising.
        frets: Vec<Vec<u8>>,
        /// For each of these frets the finger; none for an open string.
        fingers: Vec<Vec<Option<u8>>>,
        /// From the lowest note to the highest.
        positions: Vec<PositionView>,
    },
    /// Of a chord.
    Chord {
        /// The frets in writing.
        name: String,
        /// The string of the lowest note where that is the root.
        root_string: Option<u8>,
        /// The lowest note.
        lowest: Option<LowestView>,
        /// For each string from the lowest to the highest its fret; none where it is muted.
        frets: Vec<Option<u8>>,
        /// For each string the finger; none where it is open or muted.
        fingers: Vec<Option<u8>>,
        /// Fingers laid flat.
        barres: Vec<BarreView>,
        /// Chord tones that do not sound.
        left_out: Vec<String>,
        /// Effort in hundredths of one finger put down.
        effort_hundredths: u16,
        /// From the lowest string that sounds to the highest.
        positions: Vec<PositionView>,
    },
}

/// Where a set or a chord lies, for `neck` and its JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NeckView {
    /// The set or the chord.
    pub name: String,
    /// The open strings without capo, from the lowest to the highest.
    pub tuning: Vec<String>,
    /// The fret of the capo counted from the nut, 0 for none.
    pub capo: u8,
    /// Frets counted from the nut.
    pub frets: u8,
    /// Every position, string by string from the lowest.
    pub positions: Vec<PositionView>,
    /// The shapes asked for.
    pub shapes: Vec<ShapeView>,
}

impl NeckView {
    /// A set and these of its shapes.
    pub fn of_scale(scale: &Scale, neck: &Neck, shapes: &[ScaleShape]) -> Self {
        let shapes = shapes
            .iter()
            .map(|shape| scale_shape(shape, neck))
            .collect();
        NeckView::new(scale.name(), neck, &scale_positions(scale, neck), shapes)
    }

    /// A chord and these of its shapes.
    pub fn of_chord(chord: &Chord, neck: &Neck, shapes: &[ChordShape]) -> Self {
        let shapes = shapes.iter().map(chord_shape).collect();
        NeckView::new(
            chord.to_string(),
            neck,
            &chord_positions(chord, neck),
            shapes,
        )
    }

    fn new(name: String, neck: &Neck, positions: &[Position], shapes: Vec<ShapeView>) -> Self {
        NeckView {
            name,
            tuning: neck
                .tuning()
                .pitches()
                .iter()
                .map(ToString::to_string)
                .collect(),
            capo: neck.capo().value(),
            frets: neck.frets().value(),
            positions: positions.iter().map(PositionView::from).collect(),
            shapes,
        }
    }
}

fn lowest(position: Option<&Position>) -> (Option<u8>, Option<LowestView>) {
    let root = position.filter(|p| p.degree == Degree::ROOT);
    let view = position.map(|position| LowestView {
        string: position.string.value(),
        degree: position.degree.to_string(),
    });
    (root.map(|p| p.string.value()), view)
}

fn scale_shape(shape: &ScaleShape, neck: &Neck) -> ShapeView {
    let (root_string, lowest) = lowest(shape.positions().first());
    let on = |string: StringNumber| {
        let pairs = shape.positions().iter().zip(shape.fingers());
        pairs.filter(move |(position, _)| position.string == string)
    };
    ShapeView::Scale {
        name: shape.name(),
        root_string,
        lowest,
        frets: neck
            .strings()
            .map(|string| on(string).map(|(p, _)| p.fret.value()).collect())
            .collect(),
        fingers: neck
            .strings()
            .map(|string| on(string).map(|(_, f)| f.map(Finger::value)).collect())
            .collect(),
        positions: shape.positions().iter().map(PositionView::from).collect(),
    }
}

fn chord_shape(shape: &ChordShape) -> ShapeView {
    let (root_string, lowest) = lowest(shape.positions().first());
    let barres = shape.barres().iter();
    ShapeView::Chord {
        name: shape.frets_text(),
        root_string,
        lowest,
        frets: shape.frets().iter().map(|f| f.map(Fret::value)).collect(),
        fingers: shape
            .fingers()
            .iter()
            .map(|f| f.map(Finger::value))
            .collect(),
        barres: barres
            .map(|barre| BarreView {
                finger: barre.finger.value(),
                fret: barre.fret.value(),
                from: barre.from.value(),
                to: barre.to.value(),
            })
            .collect(),
        left_out: shape.left_out().iter().map(ToString::to_string).collect(),
        effort_hundredths: shape.effort_hundredths(),
        positions: shape.positions().iter().map(PositionView::from).collect(),
    }
}

/// A set and shapes of it as text, each with its frets and drawn.
pub fn scale_on_neck(
    scale: &Scale,
    neck: &Neck,
    shapes: &[ScaleShape],
    style: NeckStyle,
) -> String {
    let notes: Vec<String> = scale.notes().iter().map(ToString::to_string).collect();
    let mut out = format!("{}  {}\n", scale.name(), notes.join(" "));
    let played_as = |down: Interval| scale.with_root(plain_below(scale.root(), down)).name();
    about_neck(&mut out, neck, played_as);
    out.push_str(&style.legend());
    for shape in shapes {
        let used: Vec<StringNumber> = neck
            .strings()
            .filter(|string| !shape.frets_on(*string).is_empty())
            .collect();
        let strings: Vec<String> = used
            .iter()
            .map(|string| {
                let frets = shape.frets_on(*string);
                let frets: Vec<String> = frets.iter().map(ToString::to_string).collect();
                frets.join("-")
            })
            .collect();
        // By its note: in a drawing of fingers or notes a degree would be a number of another kind.
        if let Some(lowest) = shape.lowest() {
            let _ = writeln!(out, "\nfrom {} on string {}", lowest.note, lowest.string);
        }
        let order = order_of(neck, &used);
        let _ = writeln!(out, "frets {}  ({order})", strings.join(" "));
        let fingers = shape.fingers().iter().copied();
        let marks = marks(shape.positions(), fingers, style);
        out.push_str(&draw(
            neck,
            window(neck, shape.positions()),
            &marks,
            &[],
            style.sheet(),
        ));
    }
    out
}

/// A chord and shapes of it as text, each with its frets, fingers and notes and drawn.
pub fn chord_on_neck(
    chord: &Chord,
    neck: &Neck,
    shapes: &[ChordShape],
    style: NeckStyle,
) -> String {
    let notes: Vec<String> = chord.tones().iter().map(ToString::to_string).collect();
    let mut out = format!("{chord}  {}\n", notes.join(" "));
    let played_as = |down: Interval| {
        let root = plain_below(chord.root(), down);
        chord
            .transposed(Interval::between(chord.root(), root))
            .to_string()
    };
    about_neck(&mut out, neck, played_as);
    out.push_str(&style.legend());
    let strings: Vec<StringNumber> = neck.strings().collect();
    let order = order_of(neck, &strings);
    for shape in shapes {
        let notes: Vec<String> = shape
            .positions()
            .iter()
            .map(|p| p.note.to_string())
            .collect();
        let _ = write!(
            out,
            "\nfrets {}  fingers {}  ({order})\nnotes {}",
            shape.frets_text(),
            shape.fingers_text(),
            notes.join(" ")
        );
        if !shape.left_out().is_empty() {
            let left_out: Vec<String> = shape.left_out().iter().map(ToString::to_string).collect();
            let _ = write!(out, "  without {}", left_out.join(" "));
        }
        out.push('\n');
        let strings = neck.strings().zip(shape.frets());
        let muted: Vec<StringNumber> = strings
            .clone()
            .filter(|(_, fret)| fret.is_none())
            .map(|(string, _)| string)
            .collect();
        let sounding = strings
            .zip(shape.fingers())
            .filter(|((_, fret), _)| fret.is_some());
        let marks = marks(
            shape.positions(),
            sounding.map(|(_, finger)| *finger),
            style,
        );
        out.push_str(&draw(
            neck,
            window(neck, shape.positions()),
            &marks,
            &muted,
            style.sheet(),
        ));
    }
    out
}

/// Every position of a set or chord drawn on the whole neck. It has no fingers, which belong to a shape; degrees are
/// written instead if they are asked for.
pub fn positions_on_neck(
    name: &str,
    positions: &[Position],
    neck: &Neck,
    style: NeckStyle,
) -> String {
    let labels = match style.labels {
        NeckLabels::Fingers => NeckLabels::Degrees,
        labels => labels,
    };
    let style = NeckStyle { labels, ..style };
    let mut out = format!("{name}, every position\n{}\n", style.legend());
    let marks = marks(positions, std::iter::repeat(None), style);
    let whole = (Fret::OPEN, neck.last_fret());
    out.push_str(&draw(neck, whole, &marks, &[], style.sheet()));
    out
}

/// The order of text about strings, whichever way the neck is drawn.
fn order_of(neck: &Neck, strings: &[StringNumber]) -> String {
    let name = |string: Option<&StringNumber>| {
        string.map_or(String::new(), |string| string_name(neck, *string))
    };
    format!("{} to {}", name(strings.first()), name(strings.last()))
}

/// The tuning where it is not the standard one, and the capo where there is one.
fn about_neck(out: &mut String, neck: &Neck, played_as: impl Fn(Interval) -> String) {
    if neck.tuning().name() != Some("standard") {
        let _ = write!(out, "tuning {}", neck.tuning());
        if let Some(name) = neck.tuning().name() {
            let _ = write!(out, ", {name}");
        }
        out.push('\n');
    }
    let capo = neck.capo();
    if !capo.is_open() {
        let down = Interval::new(0, -i32::from(capo.value()));
        let _ = writeln!(
            out,
            "capo {capo}, frets count from it; played as {}",
            played_as(down)
        );
    }
}

/// The plain name of the note at this distance from another.
fn plain_below(note: PitchName, by: Interval) -> PitchName {
    PitchName::simplest(note.pitch_class().up(by.semitones()), true)
}

/// The frets to draw: those of the shape, four at least, from the nut where the shape lies near it.
pub(crate) fn window(neck: &Neck, positions: &[Position]) -> (Fret, Fret) {
    let pressed = || {
        positions
            .iter()
            .map(|p| p.fret)
            .filter(|fret| !fret.is_open())
    };
    let last = neck.last_fret();
    let highest = pressed().max().unwrap_or(Fret::OPEN);
    let lowest = match pressed().min() {
        Some(lowest) if highest.value() > 4 => lowest.value(),
        _ => 1,
    };
    let to = highest.value().max(lowest + 3).min(last.value());
    let fret = |value| Fret::new(value).unwrap_or(last);
    (fret(lowest), fret(to))
}

/// What is written at each position, in brackets where it is the root.
fn marks(
    positions: &[Position],
    fingers: impl Iterator<Item = Option<Finger>>,
    style: NeckStyle,
) -> Vec<Mark> {
    positions
        .iter()
        .zip(fingers)
        .map(|(position, finger)| {
            let label = match style.labels {
                NeckLabels::Degrees => position.degree.to_string(),
                NeckLabels::Notes => position.note.to_string(),
                NeckLabels::Fingers => finger.map_or("o".to_owned(), |f| f.to_string()),
            };
            Mark {
                string: position.string,
                fret: position.fret,
                label: if position.degree == Degree::ROOT {
                    format!("[{label}]")
                } else {
                    label
                },
            }
        })
        .collect()
}

/// A note along a string, for JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StringNoteView {
    /// 1 is the highest.
    pub string: u8,
    /// Counted from the capo; 0 is the open string.
    pub fret: u8,
    /// The plain names: one for a natural note, else a sharp and a flat.
    pub names: Vec<String>,
    /// Inlays at this fret, 0 to 2.
    pub markers: u8,
}

/// The notes along some strings, for `neck --roots` and its JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RootsView {
    /// String by string, each rising from the open string.
    pub roots: Vec<StringNoteView>,
}

impl RootsView {
    /// The notes along these strings.
    ///
    /// # Errors
    /// [`NeckError::NoString`] for a string the tuning has not.
    pub fn new(neck: &Neck, strings: &[StringNumber]) -> Result<Self, NeckError> {
        let mut roots = Vec::new();
        for string in strings {
            for note in neck.notes_on(*string)? {
                let mut names = vec![note.sharp.to_string()];
                if !note.is_natural() {
                    names.push(note.flat.to_string());
                }
                roots.push(StringNoteView {
                    string: string.value(),
                    fret: note.fret.value(),
                    names,
                    markers: note.markers,
                });
            }
        }
        Ok(RootsView { roots })
    }

    /// A line for each fret, natural notes bare, others with both names, the fret markers at the end. The strings are in
    /// their order from left to right, for a left-handed player from right to left.
    pub fn text(&self, style: NeckStyle) -> String {
        let mut strings: Vec<u8> = self.roots.iter().map(|note| note.string).collect();
        strings.dedup();
        let mut out = String::new();
        if style.left {
            strings.reverse();
            out += "left-handed: the lower string is at the right\n";
        }
        out += "fret";
        for string in &strings {
            let _ = write!(out, "  string {string}");
        }
        out.push('\n');
        let frets = self.roots.iter().map(|note| note.fret).max().unwrap_or(0);
        for fret in 0..=frets {
            let mut line = format!("{fret:>4}");
            let mut markers = 0;
            let here = |string: &u8| {
                let mut notes = self.roots.iter();
                notes.find(|note| note.fret == fret && note.string == *string)
            };
            for note in strings.iter().filter_map(here) {
                let _ = write!(line, "  {:<8}", note.names.join(" "));
                markers = note.markers;
            }
            let _ = write!(line, "  {}", "*".repeat(usize::from(markers)));
            let _ = writeln!(out, "{}", line.trim_end());
        }
        out
    }
}
