//! What a chord or a scale is.

use std::fmt::Write;

use serde::Serialize;

use crate::generate::{Fit, Rub, all_chords};
use crate::theory::{Chord, Harmony, Scale};

/// A chord, for `chord` and its JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChordView {
    /// The canonical symbol.
    pub symbol: String,
    /// The root; `null` for N.C.
    pub root: Option<String>,
    /// The bass: the slash bass, or the root.
    pub bass: Option<String>,
    /// The MusicXML 4.0 kind.
    pub kind: String,
    /// Spelled tones, root first.
    pub tones: Vec<String>,
    /// Degrees above the root, counted from the major scale.
    pub degrees: Vec<String>,
    /// Pitch classes from C = 0, rising.
    pub pitch_classes: Vec<u8>,
}

impl ChordView {
    /// A chord, or none.
    pub fn new(harmony: &Harmony) -> Self {
        match harmony {
            Harmony::Chord(chord) => Self::chord(chord),
            _ => ChordView {
                symbol: harmony.to_string(),
                root: None,
                bass: None,
                kind: "none".to_owned(),
                tones: Vec::new(),
                degrees: Vec::new(),
                pitch_classes: Vec::new(),
            },
        }
    }

    fn chord(chord: &Chord) -> Self {
        ChordView {
            symbol: chord.to_string(),
            root: Some(chord.root().to_string()),
            bass: Some(chord.bass().to_string()),
            kind: chord.kind().as_str().to_owned(),
            tones: chord.tones().iter().map(ToString::to_string).collect(),
            degrees: chord.degrees().iter().map(ToString::to_string).collect(),
            pitch_classes: chord.pitch_classes().iter().map(|c| c.value()).collect(),
        }
    }

    /// The chord as text.
    pub fn text(&self) -> String {
        let mut out = format!("{}  {}\n", self.symbol, self.kind);
        if let (Some(root), Some(bass)) = (&self.root, &self.bass) {
            let _ = writeln!(out, "root     {root}");
            if bass != root {
                let _ = writeln!(out, "bass     {bass}");
            }
            rows(&mut out, &self.tones, &self.degrees);
        }
        out
    }
}

/// Notes above degrees, in columns.
fn rows(out: &mut String, notes: &[String], degrees: &[String]) {
    let width = |i: usize| notes[i].chars().count().max(degrees[i].chars().count());
    for (label, cells) in [("notes    ", notes), ("degrees  ", degrees)] {
        let line: Vec<String> = cells
            .iter()
            .enumerate()
            .map(|(i, c)| format!("{c:<w$}", w = width(i)))
            .collect();
        let _ = writeln!(out, "{label}{}", line.join("  ").trim_end());
    }
}

/// A scale, for `scale` and its JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ScaleView {
    /// Root and name.
    pub name: String,
    /// The root, as spelled.
    pub root: String,
    /// Spelled notes, root first.
    pub notes: Vec<String>,
    /// Degrees, counted from the major scale.
    pub degrees: Vec<String>,
    /// Pitch classes from C = 0, in the order of the notes.
    pub pitch_classes: Vec<u8>,
    /// The seven-note scale it is heard in, where it has one of its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub home: Option<String>,
}

impl ScaleView {
    /// A scale.
    /// What is to be said of a scale, heard in `home` where that is not the usual one.
    pub fn new(scale: &Scale, home: Option<&Scale>) -> Self {
        ScaleView {
            name: scale.name(),
            root: scale.root().to_string(),
            notes: scale.notes().iter().map(ToString::to_string).collect(),
            degrees: scale.degrees().iter().map(ToString::to_string).collect(),
            pitch_classes: scale.pitch_classes().iter().map(|c| c.value()).collect(),
            home: home
                .copied()
                .or(scale.home())
                .map(|home| home.name())
                .filter(|home| *home != scale.name()),
        }
    }

    /// The scale as text.
    pub fn text(&self) -> String {
        let mut out = format!("{}\n", self.name);
        rows(&mut out, &self.notes, &self.degrees);
        if let Some(home) = &self.home {
            let _ = writeln!(out, "home     {home}");
        }
        out
    }
}

/// How a chord lies over a set, for JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FitJson {
    /// Every chord tone is in the set.
    pub inside: bool,
    /// Chord tones in the home scale, and no rub.
    pub clear: bool,
    /// Chord tones in the home scale.
    pub home: bool,
    /// The blues convention admits it; `null` over sets it does not speak of.
    pub blues: Option<bool>,
    /// Notes of the set that lie a semitone above a chord tone.
    pub rubs: Vec<RubJson>,
}

/// A note of the set and the chord tone it rubs on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RubJson {
    /// The note of the set.
    pub note: String,
    /// The chord tone a semitone below.
    pub against: String,
}

impl FitJson {
    /// The same as programs read it.
    pub fn new(fit: &Fit) -> Self {
        let rub = |r: &Rub| RubJson {
            note: r.note.to_string(),
            against: r.against.to_string(),
        };
        FitJson {
            inside: fit.inside(),
            clear: fit.clear(),
            home: fit.home(),
            blues: fit.blues,
            rubs: fit.rubs.iter().map(rub).collect(),
        }
    }
}

/// A chord of the vocabulary over a set, for `scale --chords`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ScaleChordView {
    /// The chord symbol, as printed.
    pub symbol: String,
    /// Its root as a degree of the set's tonic.
    pub degree: String,
    /// Its tones, the root first.
    pub tones: Vec<String>,
    /// Its pitch classes from C = 0, rising.
    pub pitch_classes: Vec<u8>,
    /// How it lies.
    #[serde(flatten)]
    pub fit: FitJson,
}

/// Every chord of the vocabulary that some rule admits over a set, chords of equal pitch classes side by side.
pub fn scale_chords(set: &Scale, home: &Scale) -> Vec<ScaleChordView> {
    let mut found: Vec<ScaleChordView> = all_chords(set, home)
        .into_iter()
        .filter(|c| c.fit.inside() || c.fit.home() || c.fit.blues == Some(true))
        .map(|c| {
            let view = ChordView::new(&Harmony::Chord(c.chord));
            ScaleChordView {
                symbol: view.symbol,
                degree: c.degree.to_string(),
                tones: view.tones,
                pitch_classes: view.pitch_classes,
                fit: FitJson::new(&c.fit),
            }
        })
        .collect();
    // Groups come where their first chord does.
    let mut groups: Vec<Vec<u8>> = Vec::new();
    for chord in &found {
        if !groups.contains(&chord.pitch_classes) {
            groups.push(chord.pitch_classes.clone());
        }
    }
    found.sort_by_key(|c| groups.iter().position(|g| *g == c.pitch_classes));
    found
}

/// What a rule is called above its chords, and whether it admits one.
type Rule = (&'static str, fn(&FitJson) -> bool);

/// The rules of fit as the list of chords has them: a chord stands below the first that admits it.
const RULES: [Rule; 4] = [
    ("inside: every chord tone is a note of the set", |fit| {
        fit.inside
    }),
    (
        "clear: tones of the home scale, and no note of the set rubs",
        |fit| fit.clear,
    ),
    (
        "home: tones of the home scale; a note rubs when held",
        |fit| fit.home,
    ),
    ("blues: chords of the blues", |fit| fit.blues == Some(true)),
];

/// The same as text: below each rule the chords that it admits and those above it do not, a line a root. Names of one set of
/// pitch classes are joined; behind them, in brackets, are the notes of the set that rub.
pub fn scale_chords_text(chords: &[ScaleChordView]) -> String {
    let mut out = String::new();
    let mut groups: Vec<&[ScaleChordView]> = Vec::new();
    let mut rest = chords;
    while let Some(first) = rest.first() {
        let same = |c: &&ScaleChordView| c.pitch_classes == first.pitch_classes;
        let (group, behind) = rest.split_at(rest.iter().take_while(same).count());
        groups.push(group);
        rest = behind;
    }
    for (place, (heading, _)) in RULES.iter().enumerate() {
        let admits = |group: &&&[ScaleChordView]| {
            let fit = group.first().map(|chord| &chord.fit);
            fit.and_then(|fit| RULES.iter().position(|(_, admits)| admits(fit))) == Some(place)
        };
        let mut of_root: Vec<(&str, Vec<String>)> = Vec::new();
        for group in groups.iter().filter(admits) {
            let root = group[0].tones.first().map_or("", String::as_str);
            match of_root.iter_mut().find(|(known, _)| *known == root) {
                Some((_, names)) => names.push(joined(group)),
                None => of_root.push((root, vec![joined(group)])),
            }
        }
        if of_root.is_empty() {
            continue;
        }
        let parting = if out.is_empty() { "" } else { "\n" };
        let _ = writeln!(out, "{parting}{heading}");
        for (root, names) in of_root {
            let _ = writeln!(out, "  {root:<2}  {}", names.join(", "));
        }
    }
    let rub = chords.iter().find_map(|chord| chord.fit.rubs.first());
    if let Some(RubJson { note, against }) = rub {
        let _ = writeln!(
            out,
            "\n[{note} on {against}]: {note} of the set rubs on {against} of the chord"
        );
    }
    out
}

/// The names of one set of pitch classes, and the notes of the set that rub: `Asus2 = Esus4 [C on B]`.
fn joined(group: &[ScaleChordView]) -> String {
    let names: Vec<&str> = group.iter().map(|c| c.symbol.as_str()).collect();
    let rubs = group.iter().take(1).flat_map(|chord| &chord.fit.rubs);
    let rubs: Vec<String> = rubs
        .map(|r| format!("{} on {}", r.note, r.against))
        .collect();
    if rubs.is_empty() {
        return names.join(" = ");
    }
    format!("{} [{}]", names.join(" = "), rubs.join(", "))
}
